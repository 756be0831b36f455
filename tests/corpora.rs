//! The committed corpora of the fuzzer, and what it once found, put through its targets again: no panic, rows
//! counted to the last, no number that is none. Needs nothing but cargo; `tests/fuzz/run` looks for more.

#[path = "fuzz/src/lib.rs"]
mod targets;

use std::path::{Path, PathBuf};

/// What arbitrary bytes are put through.
type Target = fn(&[u8]);

fn corpus(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fuzz/corpus")
        .join(name)
}

/// Puts every file of a corpus through a target; gives the number of files.
fn replay(name: &str, target: Target) -> usize {
    let mut files: Vec<_> = std::fs::read_dir(corpus(name))
        .expect("the corpus is committed")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    files.sort();
    for file in &files {
        println!("{}", file.display());
        target(&std::fs::read(file).expect("a file"));
    }
    files.len()
}

#[test]
fn every_input_kept_is_answered_or_refused() {
    let targets: [(&str, Target); 6] = [
        ("csv", targets::csv),
        ("parquet", targets::parquet),
        ("xlsx", targets::xlsx),
        ("study", targets::study),
        ("scenario", targets::scenario),
        ("fit", targets::fit),
    ];
    for (name, target) in targets {
        assert!(replay(name, target) >= 2, "{name}");
    }
}
