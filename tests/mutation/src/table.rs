//! Figures of a run, a line a file.

use crate::reach::Test;
use crate::rewrite::Mutant;
use crate::run::Verdict;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

#[derive(Default, Clone)]
struct Row {
    made: usize,
    dropped: usize,
    reached: usize,
    tried: usize,
    killed: usize,
    timed_out: usize,
    survived: usize,
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
    }

    fn line(&self, name: &str) -> String {
        let Self {
            made,
            dropped,
            reached,
            tried,
            killed,
            timed_out,
            survived,
        } = self;
        let compiled = made - dropped;
        format!(
            "| {name} | {made} | {compiled} | {reached} | {tried} | {killed} | {timed_out} | {survived} |\n"
        )
    }
}

/// The table, and the keys of the survivors.
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
    let mut rows: BTreeMap<String, Row> = BTreeMap::new();
    let mut survivors = vec![];
    for key in dropped {
        let row = rows.entry(file(key)).or_default();
        row.made += 1;
        row.dropped += 1;
    }
    for mutant in mutants {
        let row = rows.entry(file(&mutant.key)).or_default();
        row.made += 1;
        row.reached += usize::from(reached.contains(&mutant.id));
        let Some(verdict) = verdicts.get(&mutant.key) else {
            continue;
        };
        row.tried += 1;
        match verdict.word.as_str() {
            "killed" => row.killed += 1,
            "timed out" => row.timed_out += 1,
            _ => {
                row.survived += 1;
                survivors.push(format!(
                    "{} ({} of {} tests)",
                    mutant.key, verdict.run, verdict.reaching
                ));
            }
        }
    }
    let mut text = String::from(
        "| file | made | compiled | reached | tried | killed | timed out | survived |\n|---|---|---|---|---|---|---|---|\n",
    );
    for name in crate::copy::CRATES {
        let mut sum = Row::default();
        for (_, row) in rows
            .iter()
            .filter(|(f, _)| f.starts_with(&format!("{name}/")))
        {
            sum.add(row);
        }
        let _ = write!(text, "{}", sum.line(&format!("**{name}**")));
    }
    for (name, row) in &rows {
        let _ = write!(text, "{}", row.line(name));
    }
    (text, survivors)
}

fn file(key: &str) -> String {
    key.split(':').next().unwrap_or_default().to_string()
}
