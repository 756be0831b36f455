//! Files that somebody writes to while they are read: the hash is of the bytes that were used, and a file
//! that is half old and half new is refused.

use crate::common::Folder;
use sealspan_records::{Error, LoadOptions, Progress, Records, load};
use sha2::{Digest, Sha256};
use std::fs::{self, File};
use std::io::Write as _;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Invented lives, larger than the first look at a file takes.
fn lives(first: u32) -> String {
    let mut text = "time,status\n".to_owned();
    for age in first..first + 2_000 {
        text.push_str(&format!("{age},failed\n"));
    }
    text
}

/// Reads `path`, with `change` made once its first bytes are in.
fn read_while(path: &Path, change: impl Fn() + Send + Sync + 'static) -> Result<Records, Error> {
    let done = AtomicBool::new(false);
    let hook = move |progress: Progress| {
        if progress.stage == "reading" && !done.swap(true, Ordering::SeqCst) {
            change();
        }
    };
    let options = LoadOptions {
        progress: Some(Arc::new(hook)),
        ..LoadOptions::default()
    };
    load(path, &options)
}

fn hash(bytes: &[u8]) -> String {
    let digest = Sha256::digest(bytes);
    digest.iter().map(|b| format!("{b:02x}")).collect()
}

#[test]
fn a_source_is_known_by_the_hash_of_its_bytes() {
    let folder = Folder::new();
    let path = folder.put("lives.csv", lives(1));
    let records = load(&path, &LoadOptions::default()).unwrap();
    assert_eq!(records.sources[0].sha256, hash(lives(1).as_bytes()));
    assert_eq!(records.sources[0].bytes, lives(1).len() as u64);
    // FIPS 180-4 example: SHA-256 of "abc".
    let known = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(hash(b"abc"), known);
}

#[test]
fn a_file_that_grows_or_shrinks_is_refused() {
    let folder = Folder::new();
    let path = folder.put("lives.csv", lives(1));
    let grown = path.clone();
    let error = read_while(&path, move || {
        let mut file = File::options().append(true).open(&grown).unwrap();
        file.write_all(b"9999,failed\n").unwrap();
    })
    .unwrap_err();
    assert_eq!(error.kind(), "file_changed");
    assert!(error.mend().contains("wait until"), "{error}");

    let path = folder.put("shrunk.csv", lives(1));
    let shrunk = path.clone();
    let error = read_while(&path, move || {
        let file = File::options().write(true).open(&shrunk).unwrap();
        file.set_len(5_000).unwrap();
    })
    .unwrap_err();
    assert_eq!(error.kind(), "file_changed");
}

#[test]
fn a_file_replaced_by_another_is_read_as_it_was() {
    let folder = Folder::new();
    let path = folder.put("lives.csv", lives(1));
    let fresh = folder.put("fresh.csv", lives(5_000));
    let to = path.clone();
    let records = read_while(&path, move || fs::rename(&fresh, &to).unwrap()).unwrap();
    assert_eq!(records.sources[0].sha256, hash(lives(1).as_bytes()));
    assert_eq!(records.rows_read, 2_000);
    assert_ne!(fs::read(&path).unwrap(), lives(1).as_bytes());
}

#[test]
fn bytes_changed_without_a_trace_are_hashed_as_they_were_used() {
    let folder = Folder::new();
    let path = folder.put("lives.csv", lives(1_000));
    let target = path.clone();
    let time = fs::metadata(&path).unwrap().modified().unwrap();
    // The same size and the same time of change: nothing to be seen from outside.
    let records = read_while(&path, move || {
        let mut file = File::options().write(true).open(&target).unwrap();
        file.write_all(lives(4_000).as_bytes()).unwrap();
        file.set_modified(time).unwrap();
    })
    .unwrap();
    let used = records.sources[0].sha256.clone();
    let (old, new) = (lives(1_000), lives(4_000));
    let mixed = format!("{}{}", &old[..4_096], &new[4_096..]);
    assert_eq!(used, hash(mixed.as_bytes()));
    assert_ne!(used, hash(&fs::read(&path).unwrap()));
}
