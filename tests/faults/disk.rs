//! A disk that fills up, by a limit on the size of files and by the device that is always full.

use super::support::{Folder, Scene, answered, lives, names, refused, run, run_after, tree, words};
use super::support::{PROGRAM, compare};
use sealspan_records::write::write_bytes;
use std::fs::{self, File};
use std::path::Path;
use std::process::Command;

/// KiB that a file may have before the disk counts as full: nothing, part of the first, most of the largest.
const ROOM: [u32; 4] = [0, 1, 16, 64];

#[test]
fn a_full_disk_leaves_the_old_folder_whole() {
    let scene = Scene::set();
    let largest = scene.new.values().map(Vec::len).max().unwrap();
    let mut failed = 0;
    for room in ROOM.into_iter().filter(|k| *k as usize * 1024 < largest) {
        // Without its signal the limit is an error of the write, as a full disk is.
        let limit = format!("trap '' XFSZ; ulimit -f {room}");
        let output = run_after(&limit, &compare(&scene.fresh, &scene.out));
        refused(&output, &["cannot be written", "room for"]);
        assert!(tree(&scene.out) == scene.old, "{room} KiB");
        assert_eq!(
            names(&scene.folder.0),
            ["first.csv", "fresh.csv", "out"],
            "nothing half-written stays"
        );
        failed += 1;
    }
    assert!(failed >= 3);
    scene.mends_itself();
}

#[test]
fn a_full_disk_leaves_the_old_tables_of_a_simulation_whole() {
    let folder = Folder::new();
    let top = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .unwrap();
    let scenario = top.join("datasets/harrow-lane/scenario.toml");
    let out = folder.0.join("records");
    let args = |seed: &str| {
        [
            "simulate",
            scenario.to_str().unwrap(),
            "--seed",
            seed,
            "--out",
            out.to_str().unwrap(),
        ]
        .map(str::to_owned)
    };
    answered(&run(&args("1")));
    let old = tree(&out);
    let output = run_after("trap '' XFSZ; ulimit -f 8", &args("2"));
    refused(&output, &["cannot be written"]);
    assert!(tree(&out) == old);
}

#[test]
fn an_answer_that_cannot_be_printed_is_not_a_success() {
    let folder = Folder::new();
    let file = folder.put("lives.csv", lives(0));
    for format in ["text", "json", "csv", "markdown"] {
        let full = File::options().write(true).open("/dev/full").unwrap();
        let output = Command::new(PROGRAM)
            .args(["fit", "--format", format])
            .arg(&file)
            .stdout(full)
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(2), "{format}");
        let text = words(&output);
        assert!(text.contains("standard output cannot be written"), "{text}");
    }
}

#[test]
fn a_device_is_written_into_and_not_replaced() {
    use std::os::unix::fs::FileTypeExt as _;
    let into = |device: &str| write_bytes(b"a workbook", Path::new(device));
    let full = into("/dev/full").unwrap_err();
    assert_eq!(full.kind(), "unwritable_file");
    into("/dev/null").unwrap();
    for device in ["/dev/full", "/dev/null"] {
        let kind = fs::metadata(device).unwrap().file_type();
        assert!(kind.is_char_device(), "{device}");
    }
}

#[test]
fn a_link_stays_a_link() {
    let folder = Folder::new();
    let target = folder.put("target", "old");
    let link = folder.0.join("link");
    std::os::unix::fs::symlink(&target, &link).unwrap();
    write_bytes(b"new", &link).unwrap();
    assert_eq!(fs::read(&target).unwrap(), b"new");
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert_eq!(names(&folder.0), ["link", "target"]);
}
