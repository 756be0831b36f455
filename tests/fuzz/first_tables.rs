//! Writes the first inputs of the Parquet corpus anew: small invented tables.
//!
//! `cargo run -p sealspan-tests --example first_tables`, after a change of how tables are written.

use sealspan_records::write::{Values, parquet_bytes};
use std::path::Path;

fn text(name: &str, cells: &[&str]) -> (String, Values) {
    let cells = cells.iter().map(ToString::to_string).collect();
    (name.to_owned(), Values::Text(cells))
}

fn numbers(name: &str, cells: &[Option<f64>]) -> (String, Values) {
    (name.to_owned(), Values::Numbers(cells.to_vec()))
}

fn main() {
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
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/corpus/parquet");
    for (name, columns) in tables {
        let bytes = parquet_bytes(columns).expect("a table");
        std::fs::write(corpus.join(name), bytes).expect("a file");
    }
}
