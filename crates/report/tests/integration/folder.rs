//! The output folder: whole or not at all, and never over somebody else's files.

use sealspan_report::document::{Cell, DataTable};
use sealspan_report::folder::{Entry, Stamp, write};
use sealspan_report::render::csv::csv;
use std::fs;
use std::path::{Path, PathBuf};

/// A fresh folder for one test.
fn place(name: &str) -> PathBuf {
    let place = std::env::temp_dir().join(format!("sealspan-{name}-{}", std::process::id()));
    let _ = fs::remove_dir_all(&place);
    fs::create_dir_all(&place).unwrap();
    place
}

fn stamp() -> Stamp {
    Stamp::new("sealspan report study.toml".into(), 7, vec![])
}

fn entries(text: &str) -> Vec<Entry> {
    vec![
        ("report.html".into(), text.into()),
        ("figures/life.svg".into(), text.into()),
        ("tables/life.csv".into(), text.into()),
    ]
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

#[test]
fn a_folder_is_written_whole_and_replaced_whole() {
    let root = place("whole");
    let out = root.join("out");
    write(&out, &stamp(), &entries("first")).unwrap();
    assert_eq!(
        names(&out),
        ["figures", "report.html", "stamp.json", "tables"]
    );
    let stamped = fs::read(out.join("stamp.json")).unwrap();
    write(
        &out,
        &stamp(),
        &[("report.html".into(), b"second".to_vec())],
    )
    .unwrap();
    assert_eq!(
        names(&out),
        ["report.html", "stamp.json"],
        "nothing of the older one stays"
    );
    assert_eq!(fs::read(out.join("stamp.json")).unwrap(), stamped);
    assert_eq!(names(&root), ["out"], "nothing is left beside it");
    fs::remove_dir_all(root).unwrap();
}

#[test]
fn what_is_not_ours_is_left_alone() {
    let root = place("foreign");
    fs::write(root.join("thesis.txt"), "years of work").unwrap();
    let refusal = write(&root, &stamp(), &entries("x")).unwrap_err();
    assert!(refusal.is_not_ours(), "{refusal}");
    fs::write(root.join("stamp.json"), "{\"schema\":\"another\"}").unwrap();
    assert!(
        write(&root, &stamp(), &entries("x"))
            .unwrap_err()
            .is_not_ours()
    );
    assert_eq!(
        fs::read_to_string(root.join("thesis.txt")).unwrap(),
        "years of work"
    );
    assert_eq!(names(&root), ["stamp.json", "thesis.txt"]);
    let file = root.join("thesis.txt");
    assert!(
        write(&file, &stamp(), &entries("x"))
            .unwrap_err()
            .is_not_ours()
    );
    fs::remove_dir_all(root).unwrap();
}

#[test]
fn a_failure_leaves_the_old_folder_and_no_rest() {
    let root = place("failure");
    let out = root.join("out");
    write(&out, &stamp(), &entries("good")).unwrap();
    // A file where a folder is needed cannot be written: the second entry fails.
    let broken: Vec<Entry> = vec![
        ("figures".into(), b"a file".to_vec()),
        ("figures/life.svg".into(), vec![]),
    ];
    assert!(write(&out, &stamp(), &broken).unwrap_err().is_io());
    assert_eq!(fs::read_to_string(out.join("report.html")).unwrap(), "good");
    assert_eq!(names(&root), ["out"]);
    fs::remove_dir_all(root).unwrap();
}

#[test]
fn files_outside_the_folder_are_refused() {
    let root = place("outside");
    let out = root.join("out");
    for name in [
        "../escaped.txt",
        "/tmp/sealspan-escaped.txt",
        "a/../../b",
        "",
    ] {
        assert!(
            write(&out, &stamp(), &[(name.into(), b"x".to_vec())]).is_err(),
            "{name}"
        );
    }
    assert!(names(&root).is_empty(), "{:?}", names(&root));
    fs::remove_dir_all(root).unwrap();
}

#[test]
fn what_a_killed_run_left_is_put_right() {
    let root = place("killed");
    let out = root.join("out");
    write(&out, &stamp(), &entries("old")).unwrap();
    // Killed while writing: part of a folder. Killed between two renames, where there is no exchange:
    // the old folder is aside.
    fs::create_dir_all(root.join(".out.part-77/figures")).unwrap();
    fs::rename(&out, root.join(".out.old-77")).unwrap();
    fs::create_dir(root.join(".out.old-notes")).unwrap();
    let broken: Vec<Entry> = vec![("a".into(), vec![]), ("a/b".into(), vec![])];
    assert!(write(&out, &stamp(), &broken).unwrap_err().is_io());
    assert_eq!(fs::read_to_string(out.join("report.html")).unwrap(), "old");
    assert_eq!(
        names(&root),
        [".out.old-notes", "out"],
        "what is not ours stays"
    );
    fs::remove_dir_all(root).unwrap();
}

#[test]
fn writers_at_once_take_turns() {
    let root = place("turns");
    let out = root.join("out");
    std::thread::scope(|scope| {
        for text in ["one", "two", "three", "four"] {
            let out = &out;
            scope.spawn(move || {
                for _ in 0..20 {
                    write(out, &stamp(), &entries(text)).unwrap();
                }
            });
        }
    });
    let last = fs::read_to_string(out.join("report.html")).unwrap();
    for name in ["figures/life.svg", "tables/life.csv"] {
        assert_eq!(fs::read_to_string(out.join(name)).unwrap(), last, "{name}");
    }
    assert_eq!(names(&root), ["out"]);
    fs::remove_dir_all(root).unwrap();
}

#[test]
fn tables_keep_digits_and_disarm_formulas() {
    let row = |text: &str| vec![Cell::from(text), Cell::from(-0.1), Cell::Number(None)];
    let mut table = DataTable {
        name: "lives".into(),
        columns: vec!["material".into(), "change".into(), "=age".into()],
        rows: ["=1+1", "+1", "-1", "@x", "a, \"b\"\nc"].map(row).to_vec(),
    };
    let text = String::from_utf8(csv(&table).unwrap()).unwrap();
    assert_eq!(
        text,
        "material,change,'=age\n'=1+1,-0.1,\n'+1,-0.1,\n'-1,-0.1,\n'@x,-0.1,\n\"a, \"\"b\"\"\nc\",-0.1,\n"
    );
    table.rows.push(vec![Cell::from(f64::NAN)]);
    let refusal = csv(&table).unwrap_err().to_string();
    assert!(
        refusal.contains("row 6") && refusal.contains("3 columns"),
        "{refusal}"
    );
}
