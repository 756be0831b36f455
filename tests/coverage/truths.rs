//! How often are the truths planted in the demo's scenario found with default settings, and how often is
//! something said that is not so?
//!
//! `cargo run --example truths -- [FLEETS] [screen|batches|crude|positions]...` prints the tables that stand in
//! `tests/coverage/truths.md`. Seeds 1 to FLEETS; the fleets are invented.
#![allow(clippy::print_stdout)]

use sealspan_care::scenario::{Format, Scenario, simulate, write};
use sealspan_life::laws::by_name;
use sealspan_records::{Clock, LoadOptions, Question, Records, load};
use sealspan_report::analysis::positions::{PositionsOptions, answer};
use sealspan_report::analysis::screen::{Screened, screen};
use sealspan_report::wire::batches::{BatchesOptions, ColumnResult, batches};
use std::collections::BTreeMap;
use std::error::Error;
use std::path::{Path, PathBuf};

/// What is so, in the words of the screen: the short-lived batch, and the medium that attacks one material.
const BATCH: &str = "batch EPDM-222";
const ATTACKED: &str = "EPDM with product dry hopped";
/// The level of each column of `batches` that is truly different.
const DIFFERENT: [&str; 2] = ["EPDM-222", "2022-Q2"];
/// The site that replaces far too early.
const EARLY: &str = "Copper Yard";

/// Sums over fleets.
#[derive(Default)]
struct Tally {
    fleets: f64,
    sums: BTreeMap<String, f64>,
    said: BTreeMap<String, u32>,
}

impl Tally {
    fn add(&mut self, what: &str, amount: f64) {
        *self.sums.entry(what.to_owned()).or_default() += amount;
    }

    fn yes(&mut self, what: &str, is: bool) {
        self.add(what, f64::from(u8::from(is)));
    }

    fn print(&self, title: &str) {
        println!("\n| {title}: {} fleets | a fleet |\n|---|---|", self.fleets);
        for (what, sum) in &self.sums {
            println!("| {what} | {:.3} |", sum / self.fleets);
        }
        let mut said: Vec<_> = self.said.iter().collect();
        said.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
        for (what, times) in said.iter().take(12) {
            println!("| said and not planted: {what} | {times} times |");
        }
    }

    /// Books claims: `false_ones` of all.
    fn claims(&mut self, column: &str, all: usize, false_ones: Vec<String>) {
        self.yes(
            &format!("{column}: any false finding"),
            !false_ones.is_empty(),
        );
        self.add(
            &format!("{column}: false findings"),
            false_ones.len() as f64,
        );
        let share = false_ones.len() as f64 / all.max(1) as f64;
        self.add(&format!("{column}: false share of findings"), share);
        for name in false_ones {
            *self.said.entry(name).or_default() += 1;
        }
    }
}

/// Simulates a fleet, writes its books as its sites do, and reads them back.
fn records(scenario: &Scenario, study: &str, seed: u64) -> Result<Records, Box<dyn Error>> {
    let folder = std::env::temp_dir().join(format!("sealspan-truth-{}-{seed}", std::process::id()));
    write(&simulate(scenario, seed), &folder, Format::Csv)?;
    let path = folder.join("study.toml");
    std::fs::write(&path, study)?;
    let records = load(&path, &LoadOptions::default());
    std::fs::remove_dir_all(&folder)?;
    Ok(records?)
}

fn words(s: &Screened) -> String {
    let own = format!("{} {}", s.column.replace('_', " "), s.level);
    match &s.within {
        Some((_, group)) => format!("{group} with {own}"),
        None => own,
    }
}

fn screened(records: &Records, tally: &mut Tally) -> Result<(), Box<dyn Error>> {
    let family = by_name("weibull").ok_or("no Weibull")?;
    let question = Question {
        by: vec!["material".to_owned()],
        clock: Clock::Days,
        mode: None,
    };
    let (screen, _) = screen(records, &question, family, 0.9).ok_or("no screen")?;
    let names =
        |s: &Screened, what: &str| words(s) == what || s.same_seals.iter().any(|w| w == what);
    let has = |what: &str| screen.found.iter().any(|s| names(s, what));
    tally.yes(&format!("found: {BATCH}"), has(BATCH));
    tally.yes(
        &format!("found: {ATTACKED} (or named as the same seals)"),
        has(ATTACKED),
    );
    let false_ones = screen
        .found
        .iter()
        .filter(|s| !names(s, BATCH) && !names(s, ATTACKED));
    tally.claims(
        "screen",
        screen.found.len(),
        false_ones.map(words).collect(),
    );
    tally.add("looks", screen.looks as f64);
    Ok(())
}

fn column(c: &ColumnResult, truth: &str, tally: &mut Tally) {
    let name = &c.column;
    tally.yes(
        &format!("{name}: {truth} listed"),
        c.differing.iter().any(|l| l == truth),
    );
    let others = c.differing.iter().filter(|l| *l != truth);
    tally.claims(name, c.differing.len(), others.cloned().collect());
    let alarms = &c.watch.alarms;
    tally.yes(
        &format!("{name}: alarm of {truth}"),
        alarms.iter().any(|a| a.level == truth),
    );
    let false_alarms = alarms.iter().filter(|a| a.level != truth).count();
    tally.add(&format!("{name}: alarms of others"), false_alarms as f64);
    let stated = c.watch.false_alarms_per_year.zip(c.watch.years);
    tally.add(
        &format!("{name}: false alarms stated"),
        stated.map_or(0.0, |(r, y)| r * y),
    );
    tally.add(
        &format!("{name}: spread between levels, ln life"),
        c.spread.as_ref().map_or(0.0, |s| s.estimate),
    );
}

fn weighed(
    records: &Records,
    adjust: bool,
    seed: u64,
    tally: &mut Tally,
) -> Result<(), Box<dyn Error>> {
    let options = BatchesOptions {
        given: None,
        adjust,
        family: by_name("weibull").ok_or("no Weibull")?,
        confidence: 0.9,
        false_discoveries: 0.1,
        false_alarms_per_year: 0.5,
        tuned_to: 2.0,
        runs: 1000,
        seed,
    };
    let document = batches(records, &Question::default(), &options)?;
    for (c, truth) in document.columns.iter().zip(DIFFERENT) {
        column(c, truth, tally);
    }
    tally.add(
        "material as a whole: alarms",
        document.strata.alarms.len() as f64,
    );
    Ok(())
}

fn placed(records: &Records, seed: u64, tally: &mut Tally) -> Result<(), Box<dyn Error>> {
    let options = PositionsOptions {
        seed,
        ..PositionsOptions::default()
    };
    let answer = answer(records, &options)?;
    let hungry = answer.positions.iter().filter(|p| p.hungry);
    let (mut all, mut early) = (0.0, 0.0);
    for position in hungry {
        all += 1.0;
        early += f64::from(u8::from(position.asset.starts_with("HL2")));
    }
    tally.add("hungry positions", all);
    tally.add("hungry positions at the early site", early);
    let named = answer.sentences.iter().any(|s| s.contains(EARLY));
    tally.yes("a sentence names the early site", named);
    Ok(())
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let number: u64 = args.next().map_or(Ok(200), |n| n.parse())?;
    let wanted: Vec<String> = args.collect();
    let wants = |what: &str| wanted.is_empty() || wanted.iter().any(|w| w == what);
    let demo: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("../datasets/harrow-lane");
    let scenario = Scenario::from_toml(&std::fs::read_to_string(demo.join("scenario.toml"))?)?;
    let study = std::fs::read_to_string(demo.join("study.toml"))?;
    for what in ["screen", "batches", "crude", "positions"] {
        if !wants(what) {
            continue;
        }
        let mut tally = Tally::default();
        for seed in 1..=number {
            let records = records(&scenario, &study, seed)?;
            let done = match what {
                "screen" => screened(&records, &mut tally),
                "positions" => placed(&records, seed, &mut tally),
                _ => weighed(&records, what == "batches", seed, &mut tally),
            };
            done.map_err(|e| format!("seed {seed}: {e}"))?;
            tally.fleets += 1.0;
        }
        tally.print(what);
    }
    Ok(())
}
