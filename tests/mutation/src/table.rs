//! Figures of a run: by crate, by kind of change and by file.

use crate::copy::CRATES;
use crate::reach::Test;
use crate::rewrite::Mutant;
use crate::run::Verdict;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

const HEAD: &str =
    "made | compiled | reached | tried | killed | timed out | survived | of these, tests left\n";
const RULE: &str = "|---|---|---|---|---|---|---|---|---|\n";

#[derive(Default, Clone)]
struct Row {
    made: usize,
    dropped: usize,
    reached: usize,
    tried: usize,
    killed: usize,
    timed_out: usize,
    survived: usize,
    cut: usize,
}

impl Row {
    fn add(&mut self, other: &Self) {
        self.made += other.made;
        self.dropped += other.dropped;
        self.reached += other.reached;
        self.tried += other.tried;
        self.killed += other.killed;
        self.timed_out += other.timed_out;
        self.survived += other.survived;
        self.cut += other.cut;
    }

    fn line(&self, name: &str) -> String {
        let Self {
            made,
            reached,
            tried,
            killed,
            timed_out,
            survived,
            cut,
            ..
        } = self;
        let compiled = made - self.dropped;
        format!(
            "| {name} | {made} | {compiled} | {reached} | {tried} | {killed} | {timed_out} | {survived} | {cut} |\n"
        )
    }
}

/// The tables, and the survivors.
pub fn table(
    mutants: &[Mutant],
    dropped: &BTreeSet<String>,
    tests: &[Test],
    verdicts: &BTreeMap<String, Verdict>,
) -> (String, Vec<String>) {
    let reached: BTreeSet<u32> = tests
        .iter()
        .flat_map(|t| t.reached.iter().copied())
        .collect();
    let mut each: Vec<(&str, Row)> = vec![];
    let mut survivors = vec![];
    for key in dropped {
        let row = Row {
            made: 1,
            dropped: 1,
            ..Row::default()
        };
        each.push((key, row));
    }
    for mutant in mutants {
        let mut row = Row {
            made: 1,
            reached: usize::from(reached.contains(&mutant.id)),
            ..Row::default()
        };
        if let Some(verdict) = verdicts.get(&mutant.key) {
            row.tried = 1;
            match verdict.word.as_str() {
                "killed" => row.killed = 1,
                "timed out" => row.timed_out = 1,
                _ => {
                    row.survived = 1;
                    row.cut = usize::from(verdict.run < verdict.reaching);
                    survivors.push(format!(
                        "{} ({} of {} tests)",
                        mutant.key, verdict.run, verdict.reaching
                    ));
                }
            }
        }
        each.push((&mutant.key, row));
    }
    let text = [
        grouped("crate", &each, &|key| {
            CRATES
                .iter()
                .find(|c| key.starts_with(*c))
                .map_or("", |c| *c)
                .into()
        }),
        grouped("change", &each, &kind),
        grouped("file", &each, &|key| {
            key.split(':').next().unwrap_or_default().into()
        }),
    ];
    (text.join("\n"), survivors)
}

fn grouped(what: &str, each: &[(&str, Row)], of: &dyn Fn(&str) -> String) -> String {
    let mut rows: BTreeMap<String, Row> = BTreeMap::new();
    for (key, row) in each {
        rows.entry(of(key)).or_default().add(row);
    }
    let mut text = format!("| {what} | {HEAD}").replace("left\n", "left |\n") + RULE;
    for (name, row) in &rows {
        let _ = write!(text, "{}", row.line(name));
    }
    text
}

fn kind(key: &str) -> String {
    let change = key.split_once(' ').map_or("", |k| k.1);
    if change.contains("` gives ") {
        "gives a plain value at once".into()
    } else {
        change.replace('|', "\\|")
    }
}
