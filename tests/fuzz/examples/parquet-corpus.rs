//! Writes the Parquet corpus, from invented tables: cargo run --example parquet-corpus -- FOLDER

use sealspan_records::write::{Values, parquet_bytes};
use std::path::Path;

fn text(name: &str, cells: &[&str]) -> (String, Values) {
    (name.to_owned(), Values::Text(cells.iter().map(ToString::to_string).collect()))
}

fn numbers(name: &str, cells: &[Option<f64>]) -> (String, Values) {
    (name.to_owned(), Values::Numbers(cells.to_vec()))
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).ok_or("name a folder")?;
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
        std::fs::write(Path::new(&folder).join(name), parquet_bytes(columns)?)?;
    }
    Ok(())
}
