//! Which tests reach which mutants, and how long each takes.

use crate::child::{Ended, run};
use crate::compile::Binary;
use crate::examples;
use crate::{Outcome, Places, append, workers};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, OpenOptions};
use std::process::Command;
use std::sync::Mutex;

/// A test and what it reaches.
#[derive(Debug, Clone)]
pub struct Test {
    /// Index of its program.
    pub binary: usize,
    /// Its name in the program.
    pub name: String,
    /// Seconds of processor that it took.
    pub seconds: f64,
    /// Mutants that it reaches.
    pub reached: BTreeSet<u32>,
}

/// Runs every test once of the programs whose names hold `only`, and writes what it reaches beside what is known of
/// the others. Tests that take more than `longest` seconds of processor are left out.
pub fn record(places: &Places, binaries: &[Binary], only: &str, longest: f64) -> Outcome<()> {
    let path = places.scratch.join("reach.tsv");
    let held = fs::read_to_string(&path).unwrap_or_default();
    let other = |line: &&str| !line.split('\t').next().is_some_and(|b| b.contains(only));
    let kept: String = held
        .lines()
        .filter(other)
        .map(|l| format!("{l}\n"))
        .collect();
    fs::write(&path, kept)?;
    let mut wanted = vec![];
    for (index, binary) in binaries.iter().enumerate() {
        if !binary.name.contains(only) {
            continue;
        }
        if examples::holds(binary) {
            wanted.extend(
                examples::list(&binary.path)?
                    .into_iter()
                    .map(|t| (index, t)),
            );
            continue;
        }
        let list = |more: &[&str]| -> Outcome<BTreeSet<String>> {
            let out = Command::new(&binary.path)
                .args(["--list", "--format", "terse"])
                .args(more)
                .output()?;
            let out = String::from_utf8(out.stdout)?;
            Ok(out
                .lines()
                .filter_map(|l| Some(l.strip_suffix(": test")?.to_string()))
                .collect())
        };
        let ignored = list(&["--ignored"])?;
        wanted.extend(
            list(&[])?
                .into_iter()
                .filter(|t| !ignored.contains(t))
                .map(|t| (index, t)),
        );
    }
    println!("{} tests; running each once", wanted.len());
    let file = Mutex::new(OpenOptions::new().append(true).open(&path)?);
    workers(&wanted, |worker, (index, name)| {
        let binary = &binaries[*index];
        let note = places.scratch.join(format!("reached-{worker}"));
        fs::write(&note, "")?;
        let out = places.scratch.join(format!("out-{worker}"));
        let with = ("MUTANTS_REACHED", note.to_str().unwrap_or_default());
        let (ended, seconds) = run(binary, &[name], with, longest, &out)?;
        if ended != Ended::Passed {
            println!("left out: {} {name}: {ended:?}", binary.name);
            return Ok(());
        }
        let ids = fs::read_to_string(&note)?;
        let ids = ids.split_whitespace().collect::<Vec<_>>().join(" ");
        let line = format!("{}\t{name}\t{seconds}\t{ids}\n", binary.name);
        append(&file, &line)
    })?;
    Ok(())
}

/// What [`record`] wrote.
pub fn read(places: &Places, binaries: &[Binary]) -> Outcome<Vec<Test>> {
    let by_name: BTreeMap<&str, usize> = binaries
        .iter()
        .enumerate()
        .map(|(i, b)| (b.name.as_str(), i))
        .collect();
    let text = fs::read_to_string(places.scratch.join("reach.tsv"))?;
    let one = |line: &str| -> Option<Test> {
        let mut parts = line.split('\t');
        let binary = *by_name.get(parts.next()?)?;
        let (name, seconds) = (parts.next()?.to_string(), parts.next()?.parse().ok()?);
        let reached = parts
            .next()?
            .split_whitespace()
            .filter_map(|id| id.parse().ok())
            .collect();
        Some(Test {
            binary,
            name,
            seconds,
            reached,
        })
    };
    Ok(text.lines().filter_map(one).collect())
}
