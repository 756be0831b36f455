//! How often are the truths planted in the demo's scenario found with default settings, and how often is
//! something said that is not so?
//!
//! `cargo run -p sealspan-tests --example truths -- [FLEETS] [screen|batches|crude|positions]...` prints the tables that stand in
//! `tests/coverage/truths.md`. Seeds 1 to FLEETS, or FROM-TO for a part; the fleets are invented.
#![allow(clippy::print_stdout)]

mod books;

use books::records;
use sealspan_care::scenario::Scenario;
use sealspan_life::laws::by_name;
use sealspan_records::{Clock, Question, Records};
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
const DIFFERENT: [Option<&str>; 2] = [Some("EPDM-222"), None];
/// The doors out of line, which use up seals.
const DOORS: [&str; 2] = ["HL1-T17", "HL3-T34"];
/// The site that replaces far too early.
const EARLY: &str = "Copper Yard";
/// The sites that never look: the one planted, and the one that replaces early.
const UNSEEN: [&str; 2] = ["Tern Quay", EARLY];

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

fn column(c: &ColumnResult, truth: Option<&str>, tally: &mut Tally) {
    let name = &c.column;
    let is_truth = |level: &String| Some(level.as_str()) == truth;
    if let Some(truth) = truth {
        tally.yes(
            &format!("{name}: {truth} listed"),
            c.differing.iter().any(is_truth),
        );
    }
    let others = c.differing.iter().filter(|l| !is_truth(l));
    tally.claims(name, c.differing.len(), others.cloned().collect());
    let alarms = &c.watch.alarms;
    if let Some(truth) = truth {
        tally.yes(
            &format!("{name}: alarm of {truth}"),
            alarms.iter().any(|a| is_truth(&a.level)),
        );
    }
    let false_alarms = alarms.iter().filter(|a| !is_truth(&a.level)).count();
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
        false_alarms_per_year: 0.1,
        tuned_to: 2.0,
        runs: 1000,
        seed,
    };
    let document = batches(records, &Question::default(), &options)?;
    for (c, truth) in document.columns.iter().zip(DIFFERENT) {
        column(c, truth, tally);
    }
    let alarms = &document.strata.alarms;
    tally.add("material as a whole: alarms", alarms.len() as f64);
    tally.yes("material as a whole: any alarm", !alarms.is_empty());
    let stated = document.strata.false_alarms_per_year;
    let stated = stated
        .zip(document.strata.years)
        .map_or(0.0, |(r, y)| r * y);
    tally.add("material as a whole: false alarms stated", stated);
    Ok(())
}

fn placed(records: &Records, seed: u64, tally: &mut Tally) -> Result<(), Box<dyn Error>> {
    let options = PositionsOptions {
        seed,
        ..PositionsOptions::default()
    };
    let answer = answer(records, &options)?;
    let hungry: Vec<_> = answer.positions.iter().filter(|p| p.hungry).collect();
    for door in DOORS {
        let found = hungry.iter().any(|p| p.asset == door);
        tally.yes(&format!("hungry: {door} found"), found);
    }
    let others = hungry.iter().filter(|p| !DOORS.contains(&&*p.asset));
    let names = others.map(|p| p.asset.clone()).collect();
    tally.claims("hungry", hungry.len(), names);
    let habits = &answer.habits;
    let early: Vec<_> = habits.replaced.iter().filter(|r| r.too_early).collect();
    let is_early = |site: &Option<String>| site.as_deref() == Some(EARLY);
    tally.yes(
        "too early: the site found",
        early.iter().any(|r| is_early(&r.site)),
    );
    let groups = habits.replaced.iter().filter(|r| is_early(&r.site));
    tally.add("too early: its groups judged", groups.count() as f64);
    let of_it = early.iter().filter(|r| is_early(&r.site));
    tally.add("too early: its groups found", of_it.count() as f64);
    let others = early.iter().filter(|r| !is_early(&r.site));
    let words =
        others.map(|r| format!("{} {}", r.site.clone().unwrap_or_default(), r.group.words()));
    tally.claims("too early", early.len(), words.collect());
    for row in habits.replaced.iter().filter(|r| is_early(&r.site)) {
        let thrown = row.thrown_away.estimate.unwrap_or(0.0);
        tally.add(
            &format!("too early: thrown away there, {}", row.group.words()),
            thrown,
        );
        let cost = row.yearly_cost.estimate.unwrap_or(0.0);
        tally.add(
            &format!("too early: yearly cost there, {}", row.group.words()),
            cost,
        );
    }
    let unseen: Vec<_> = habits.looks.iter().filter(|l| l.never_inspects).collect();
    for site in UNSEEN {
        let found = unseen.iter().any(|l| l.site == site);
        tally.yes(&format!("never inspects: {site} found"), found);
    }
    let others = unseen.iter().filter(|l| !UNSEEN.contains(&&*l.site));
    tally.claims(
        "never inspects",
        unseen.len(),
        others.map(|l| l.site.clone()).collect(),
    );
    let named = answer.sentences.iter().any(|s| s.contains(EARLY));
    tally.yes("a sentence names the early site", named);
    Ok(())
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let seeds = args.next().unwrap_or_else(|| "200".to_owned());
    let (first, last) = seeds.split_once('-').unwrap_or(("1", &seeds));
    let (first, last): (u64, u64) = (first.parse()?, last.parse()?);
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
        for seed in first..=last {
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
