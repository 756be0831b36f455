//! Writes a fleet's lives as a folder of Parquet files by site: Weibull lives (shape 1.8, scale 1000 days; by site
//! up to a fifth longer), censored uniformly over 0 to 2000 days, in whole days, or in PARTS of a day (1440: to the
//! minute). Invented numbers, seeded.
//!
//! `cargo run --release --example fleet_data -- FOLDER ROWS [PARTS]`

use polars::prelude::*;
use rayon::prelude::*;
use sealspan_numeric::random::Stream;
use sealspan_records::write::write_parquet;
use std::path::Path;

const SHAPE: f64 = 1.8;
const SCALE: f64 = 1000.0;
const LONGEST: f64 = 2.0 * SCALE;
const SITES: [&str; 8] = [
    "Alder", "Beck", "Cairn", "Dene", "Ember", "Fell", "Garth", "Holm",
];
/// Rows of one file.
const PART: usize = 2_500_000;

fn lives(rows: usize, site: usize, seed: u64, parts: f64) -> PolarsResult<DataFrame> {
    let scale = SCALE * (1.0 + 0.2 * site as f64 / SITES.len() as f64);
    let mut stream = Stream::new(42, seed);
    let (mut time, mut status) = (Vec::with_capacity(rows), Vec::with_capacity(rows));
    let (mut mode, mut batch) = (Vec::with_capacity(rows), Vec::with_capacity(rows));
    for _ in 0..rows {
        let life = scale * stream.exponential().powf(1.0 / SHAPE);
        let censored = LONGEST * stream.uniform();
        let failed = life <= censored;
        time.push((life.min(censored) * parts).ceil().max(1.0) / parts);
        status.push(if failed { "failed" } else { "running" });
        let leak = stream.uniform() < 0.7;
        mode.push(failed.then_some(if leak { "leak" } else { "extruded" }));
        batch.push(i32::from(stream.uniform() < 0.5) + 10 * site as i32);
    }
    // Whole days as whole numbers.
    let time = if parts == 1.0 {
        Column::new(
            "time".into(),
            time.iter().map(|t| *t as i32).collect::<Vec<i32>>(),
        )
    } else {
        Column::new("time".into(), time)
    };
    let columns = vec![
        time,
        Column::new("status".into(), status),
        Column::new("mode".into(), mode),
        Column::new("batch".into(), batch),
    ];
    DataFrame::new(rows, columns)
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut args = std::env::args().skip(1);
    let folder = args.next().ok_or("name a folder to write to")?;
    let rows: usize = args.next().ok_or("how many rows?")?.parse()?;
    let parts: f64 = args.next().map_or(Ok(1.0), |p| p.parse())?;
    let site = |n: usize| rows * (n + 1) / SITES.len() - rows * n / SITES.len();
    let files = (0..SITES.len()).flat_map(|n| {
        let all = site(n);
        (0..all.div_ceil(PART)).map(move |part| (n, part, PART.min(all - part * PART)))
    });
    let files: Vec<_> = files.collect();
    files.into_par_iter().try_for_each(|(n, part, rows)| {
        let below = Path::new(&folder).join(format!("site={}", SITES[n]));
        std::fs::create_dir_all(&below).map_err(|e| e.to_string())?;
        let mut frame =
            lives(rows, n, (n * 1000 + part) as u64, parts).map_err(|e| e.to_string())?;
        write_parquet(&mut frame, &below.join(format!("part-{part}.parquet")))
            .map_err(|e| e.to_string())
    })?;
    Ok(())
}
