//! Places that cannot be written to.

use super::support::{Folder, compare, is_root, lives, names, refused, run, run_as_nobody};
use std::fs;
use std::os::unix::fs::PermissionsExt as _;

#[test]
fn a_folder_that_may_not_be_written_is_named() {
    let folder = Folder::new();
    let file = folder.put("lives.csv", lives(0));
    let closed = folder.0.join("closed");
    fs::create_dir(&closed).unwrap();
    fs::set_permissions(&closed, fs::Permissions::from_mode(0o555)).unwrap();
    for out in [closed.join("out"), closed.join("new/out")] {
        let output = run_as_nobody(&compare(&file, &out));
        refused(&output, &["closed", "ermission denied", "--out"]);
    }
    assert!(names(&closed).is_empty());
    // An administrator may write all the same: the refusal above was the system's, not the program's.
    assert_eq!(
        run(&compare(&file, &closed.join("out"))).status.success(),
        is_root()
    );
}

#[test]
fn a_table_that_may_not_be_read_is_named() {
    let folder = Folder::new();
    let file = folder.put("lives.csv", lives(0));
    fs::set_permissions(&file, fs::Permissions::from_mode(0o000)).unwrap();
    let args = ["fit".to_owned(), file.to_str().unwrap().to_owned()];
    let output = run_as_nobody(&args);
    refused(
        &output,
        &["cannot be read", "ermission denied", "lives.csv"],
    );
}

#[test]
fn a_file_in_the_way_is_left_alone() {
    let folder = Folder::new();
    let file = folder.put("lives.csv", lives(0));
    for out in [file.join("out"), file.join("deeper/out"), file.clone()] {
        let output = run(&compare(&file, &out));
        refused(&output, &["lives.csv", "--out"]);
    }
    assert_eq!(fs::read_to_string(&file).unwrap(), lives(0));
    assert_eq!(names(&folder.0), ["lives.csv"]);
}
