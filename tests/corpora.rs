//! The committed corpora of the fuzzer, and what it once found, put through its targets again: no panic, rows
//! counted to the last, no number that is none. Needs nothing but cargo; `tests/fuzz/run` looks for more.

#[path = "fuzz/src/lib.rs"]
mod targets;

use sealspan_records::write::{Values, parquet_bytes};
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

fn text(name: &str, cells: &[&str]) -> (String, Values) {
    let cells = cells.iter().map(ToString::to_string).collect();
    (name.to_owned(), Values::Text(cells))
}

fn numbers(name: &str, cells: &[Option<f64>]) -> (String, Values) {
    (name.to_owned(), Values::Numbers(cells.to_vec()))
}

#[test]
#[ignore = "writes the first inputs of the Parquet corpus, invented tables, anew"]
fn parquet_corpus() {
    let tables = [
        (
            "lives",
            vec![
                numbers("time", &[Some(120.0), Some(300.0), Some(45.5)]),
                text("status", &["failed", "running", "failed"]),
            ],
        ),
        (
            "intervals",
            vec![
                numbers("lower", &[None, Some(100.0), Some(200.0)]),
                numbers("upper", &[Some(50.0), Some(150.0), None]),
            ],
        ),
        (
            "seals",
            vec![
                text("seal", &["S1", "S2"]),
                text("fitted", &["2023-01-10", "2023-11-02"]),
                text("removed", &["2023-11-02", ""]),
                text("outcome", &["failed", "in_service"]),
            ],
        ),
    ];
    for (name, columns) in tables {
        let bytes = parquet_bytes(columns).expect("a table");
        std::fs::write(corpus("parquet").join(name), bytes).expect("a file");
    }
}
