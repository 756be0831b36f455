//! Runs at once on one folder.

use super::support::{PROGRAM, Scene, compare, names, tree};
use std::process::{Command, Stdio};

#[test]
fn of_runs_at_once_each_succeeds_and_one_is_there_whole() {
    let scene = Scene::set();
    let first = scene.folder.0.join("first.csv");
    for _ in 0..3 {
        let children: Vec<_> = [&scene.fresh, &first, &scene.fresh]
            .into_iter()
            .map(|file| {
                Command::new(PROGRAM)
                    .args(compare(file, &scene.out))
                    .stdout(Stdio::null())
                    .stderr(Stdio::piped())
                    .spawn()
                    .unwrap()
            })
            .collect();
        for child in children {
            let output = child.wait_with_output().unwrap();
            let words = String::from_utf8_lossy(&output.stderr);
            assert!(output.status.success(), "{words}");
        }
        scene.is_whole();
        assert_eq!(names(&scene.folder.0), ["first.csv", "fresh.csv", "out"]);
    }
}

#[test]
fn simulations_at_once_leave_tables_that_belong_together() {
    let scene = super::support::Folder::new();
    let top = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .unwrap();
    let scenario = top.join("datasets/harrow-lane/scenario.toml");
    let run = |seed: &str, out: &str| {
        Command::new(PROGRAM)
            .args([
                "simulate",
                scenario.to_str().unwrap(),
                "--seed",
                seed,
                "--out",
            ])
            .arg(scene.0.join(out))
            .stdout(Stdio::null())
            .spawn()
            .unwrap()
    };
    let mut children = vec![
        run("1", "one"),
        run("2", "two"),
        run("1", "both"),
        run("2", "both"),
    ];
    for child in &mut children {
        assert!(child.wait().unwrap().success());
    }
    let both = tree(&scene.0.join("both"));
    assert!(both == tree(&scene.0.join("one")) || both == tree(&scene.0.join("two")));
}
