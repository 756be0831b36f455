//! A folder of Parquet files through the command line: every number as from one CSV of the same rows. Invented lives.

use super::sealspan;
use polars::prelude::*;
use sealspan_numeric::random::Stream;
use std::path::{Path, PathBuf};

const SITES: [&str; 3] = ["Alder", "Beck", "Cairn"];

/// Times in whole days and endings of one site.
fn lives(site: u64) -> Vec<(i32, &'static str)> {
    let mut stream = Stream::new(11, site);
    let mut life = || {
        let life = (300.0 + 40.0 * site as f64) * stream.exponential().powf(0.5);
        let censored = 600.0 * stream.uniform();
        let status = if life <= censored {
            "failed"
        } else {
            "running"
        };
        (life.min(censored).ceil().max(1.0) as i32, status)
    };
    (0..400).map(|_| life()).collect()
}

/// The lives as a folder by site and as one CSV.
fn both(name: &str) -> (PathBuf, PathBuf, PathBuf) {
    let top = std::env::temp_dir().join(format!("sealspan-folder-{name}-{}", std::process::id()));
    let mut csv = "time,status,site\n".to_owned();
    for (n, site) in (0..).zip(SITES) {
        let below = top.join("lives").join(format!("site={site}"));
        std::fs::create_dir_all(&below).unwrap();
        let rows = lives(n);
        for (part, rows) in rows.chunks(250).enumerate() {
            let columns = vec![
                Column::new("time".into(), rows.iter().map(|r| r.0).collect::<Vec<_>>()),
                Column::new(
                    "status".into(),
                    rows.iter().map(|r| r.1).collect::<Vec<_>>(),
                ),
            ];
            let mut frame = DataFrame::new(rows.len(), columns).unwrap();
            let file = std::fs::File::create(below.join(format!("part-{part}.parquet"))).unwrap();
            ParquetWriter::new(file).finish(&mut frame).unwrap();
        }
        for (time, status) in rows {
            csv.push_str(&format!("{time},{status},{site}\n"));
        }
    }
    let one = top.join("lives.csv");
    std::fs::write(&one, csv).unwrap();
    (top.join("lives"), one, top)
}

fn said(command: &[&str], path: &Path) -> String {
    let args = [
        &command[..1],
        &[path.to_str().unwrap()],
        &command[1..],
        &["--format", "json"],
    ]
    .concat();
    let run = sealspan(&args);
    assert_eq!(run.status, 0, "{args:?}: {}", run.err);
    run.out
}

#[test]
fn answers_are_those_of_one_file_to_the_last_bit() {
    let (folder, csv, top) = both("answers");
    let commands: [&[&str]; 6] = [
        &["fit", "--family", "weibull,gamma", "--at", "200", "--curve"],
        &["fit", "--by", "site"],
        &["compare", "--by", "site"],
        &["intervals", "--by", "site"],
        &["forecast", "--by", "site", "--horizon", "90"],
        &[
            "fit",
            "--by",
            "site",
            "--bounds",
            "bootstrap",
            "--seed",
            "4",
        ],
    ];
    for command in commands {
        let (whole, one) = (said(command, &folder), said(command, &csv));
        assert!(whole == one, "{command:?}\n{whole:.2000}\n{one:.2000}");
    }
    std::fs::remove_dir_all(top).unwrap();
}

#[test]
fn what_cannot_be_read_from_a_folder_is_refused_in_words() {
    let (folder, _, top) = both("refused");
    let path = folder.to_str().unwrap();
    let run = sealspan(&["check", path]);
    assert_eq!(run.status, 2);
    assert!(
        run.err.contains("this is a folder") && run.err.contains("fit, compare"),
        "{}",
        run.err
    );
    let run = sealspan(&["fit", path, "--by", "sitte"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("did you mean \"site\"?"), "{}", run.err);
    std::fs::remove_dir_all(top).unwrap();
}

#[test]
fn a_bad_row_of_a_folder_is_named_with_its_file() {
    let (folder, _, top) = both("bad");
    let part = folder.join("site=Beck").join("part-9.parquet");
    let columns = vec![
        Column::new("time".into(), vec![3, -4]),
        Column::new("status".into(), vec!["failed", "failed"]),
    ];
    let mut frame = DataFrame::new(2, columns).unwrap();
    ParquetWriter::new(std::fs::File::create(&part).unwrap())
        .finish(&mut frame)
        .unwrap();
    let run = sealspan(&["fit", folder.to_str().unwrap()]);
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(
        run.out.contains("1,202 rows read, 1 set aside"),
        "{}",
        run.out
    );
    assert!(
        run.out.contains("part-9.parquet, row 2: time is -4"),
        "{}",
        run.out
    );
    std::fs::remove_dir_all(top).unwrap();
}
