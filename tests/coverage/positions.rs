//! How often are doors that are out of line found, and how often are sound ones blamed? Simulated fleets of the
//! demo's scenario (two doors planted), and of fleets in which every position is alike.
//!
//! `cargo run -p sealspan-tests --example positions -- [FLEETS]` prints the table that stands in
//! `tests/coverage/positions.md`. Seeds 1 to FLEETS; the fleets are invented.
#![allow(clippy::print_stdout)]

mod books;

use books::records;
use sealspan_care::scenario::Scenario;
use sealspan_report::analysis::positions::{PositionsOptions, answer};
use std::error::Error;
use std::path::{Path, PathBuf};

/// The two doors planted in the demo's scenario.
const PLANTED: [&str; 2] = ["HL1-T17", "HL3-T34"];

/// Every position alike: one site, one material, one duty, doors in line; seals are never turned.
const ALIKE: &str = include_str!("alike.toml");

/// What one fleet showed.
#[derive(Default, Clone)]
struct Shown {
    found: [bool; 2],
    failures: [u32; 2],
    false_doors: usize,
    doors: usize,
    tested: usize,
    hungry: usize,
}

fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn show(scenario: &Scenario, study: &str, seed: u64) -> Result<Shown, Box<dyn Error>> {
    let records = records(scenario, study, seed)?;
    let answer = answer(
        &records,
        &PositionsOptions {
            seed,
            ..PositionsOptions::default()
        },
    )?;
    let mut shown = Shown {
        tested: answer.wear.tested,
        ..Shown::default()
    };
    for row in &answer.positions {
        shown.hungry += usize::from(row.hungry);
        shown.doors += usize::from(row.out_of_line);
        match PLANTED.iter().position(|p| *p == row.asset) {
            Some(i) => {
                if let (Some(found), Some(failures)) =
                    (shown.found.get_mut(i), shown.failures.get_mut(i))
                {
                    *found = row.out_of_line;
                    *failures = row.sectors.iter().sum();
                }
            }
            None => shown.false_doors += usize::from(row.out_of_line),
        }
    }
    Ok(shown)
}

fn fleets(text: &str, study: &str, number: u64) -> Result<Vec<Shown>, Box<dyn Error>> {
    let scenario = Scenario::from_toml(text)?;
    // One after another: each fleet is simulated and read in parallel already.
    let one = |seed| show(&scenario, study, seed).map_err(|e| format!("seed {seed}: {e}"));
    let all: Result<Vec<Shown>, String> = (1..=number).map(one).collect();
    Ok(all?)
}

fn mean(all: &[Shown], of: impl Fn(&Shown) -> f64) -> f64 {
    all.iter().map(of).sum::<f64>() / all.len() as f64
}

fn yes(is: bool) -> f64 {
    f64::from(u8::from(is))
}

/// The table of the demo's fleets.
fn planted(all: &[Shown]) {
    let number = all.len();
    println!("| fleets of the demo's scenario: {number} | |\n|---|---|");
    for (i, name) in PLANTED.iter().enumerate() {
        let at = |s: &Shown| (s.found.get(i).copied(), s.failures.get(i).copied());
        let failures = mean(all, |s| f64::from(at(s).1.unwrap_or(0)));
        let found = mean(all, |s| yes(at(s).0 == Some(true)));
        println!(
            "| {name} found; failures with a known place there, mean | {:.1} %; {failures:.1} |",
            100.0 * found
        );
        for (low, high) in [(0, 3), (4, 6), (7, 9), (10, 99)] {
            let some: Vec<Shown> = all
                .iter()
                .filter(|s| at(s).1.is_some_and(|n| (low..=high).contains(&n)))
                .cloned()
                .collect();
            if !some.is_empty() {
                let found = mean(&some, |s| yes(at(s).0 == Some(true)));
                println!(
                    "| ... with {low} to {high} failures ({} fleets) | {:.1} % |",
                    some.len(),
                    100.0 * found
                );
            }
        }
    }
    println!(
        "| doors tested, mean | {:.1} |",
        mean(all, |s| s.tested as f64)
    );
    println!(
        "| sound doors flagged in all, a fleet | {:.3} |",
        mean(all, |s| s.false_doors as f64)
    );
    println!(
        "| fleets with a sound door flagged | {:.1} % |",
        100.0 * mean(all, |s| yes(s.false_doors > 0))
    );
    let part = |s: &Shown| s.false_doors as f64 / s.doors.max(1) as f64;
    println!(
        "| false share of the doors flagged, mean (stated: 10 %) | {:.1} % |",
        100.0 * mean(all, part)
    );
}

fn main() -> Result<(), Box<dyn Error>> {
    let number = std::env::args().nth(1).map_or(Ok(200), |n| n.parse())?;
    let demo = top().join("datasets/harrow-lane");
    let scenario = std::fs::read_to_string(demo.join("scenario.toml"))?;
    let study = std::fs::read_to_string(demo.join("study.toml"))?;
    planted(&fleets(&scenario, &study, number)?);
    let alike = "[files]\nseals = \"seals.csv\"\ninspections = \"inspections.csv\"\nassets = \"assets.csv\"\n";
    let all = fleets(ALIKE, alike, number)?;
    println!("\n| fleets of 120 positions all alike: {number} | |\n|---|---|");
    println!(
        "| fleets with a door flagged (stated: 10 %) | {:.1} % |",
        100.0 * mean(&all, |s| yes(s.doors > 0))
    );
    println!(
        "| fleets with a hungry position flagged (stated: 10 %) | {:.1} % |",
        100.0 * mean(&all, |s| yes(s.hungry > 0))
    );
    Ok(())
}
