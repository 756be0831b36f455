//! Writes the data that whole commands are timed on: right-censored Weibull lives (shape 1.8, scale
//! 1000, censored uniformly over 0 to 2000), seed 42, times to 1e-4. Invented numbers.
//!
//! `cargo run --release -p sealspan-records --example speed_data -- FOLDER`

use polars::prelude::*;
use sealspan_numeric::random::Stream;
use sealspan_records::write::{write_csv, write_parquet};
use std::path::Path;

const SHAPE: f64 = 1.8;
const SCALE: f64 = 1000.0;
const LONGEST: f64 = 2.0 * SCALE;

fn lives(rows: usize) -> PolarsResult<DataFrame> {
    let mut stream = Stream::new(42, 0);
    let (mut time, mut status) = (Vec::with_capacity(rows), Vec::with_capacity(rows));
    for _ in 0..rows {
        let life = SCALE * stream.exponential().powf(1.0 / SHAPE);
        let censored = LONGEST * stream.uniform();
        time.push(((life.min(censored) * 1e4).round() / 1e4).max(1e-4));
        status.push(i32::from(life <= censored));
    }
    let columns = vec![
        Column::new("time".into(), time),
        Column::new("status".into(), status),
    ];
    DataFrame::new(rows, columns)
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).ok_or("name a folder to write to")?;
    let folder = Path::new(&folder);
    std::fs::create_dir_all(folder)?;
    write_csv(&mut lives(1_000_000)?, &folder.join("million.csv"))?;
    write_parquet(&mut lives(10_000_000)?, &folder.join("ten-million.parquet"))?;
    Ok(())
}
