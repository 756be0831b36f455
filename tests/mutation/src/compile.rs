//! Builds the copy, leaving out the mutants that do not compile.

use crate::copy::{CRATES, copy};
use crate::examples;
use crate::rewrite::Mutant;
use crate::{Outcome, Places};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Tests of the whole and of the reports; the crates' own are found in their folders.
const SHARED: [&str; 9] = [
    "published",
    "laws",
    "properties",
    "cli",
    "end_to_end",
    "html",
    "pdf",
    "units",
    "xlsx",
];
/// An error whose text holds more mutants than this is laid on the one before it.
const NAMED: usize = 12;

/// A test program.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Binary {
    /// `PACKAGE/TARGET`.
    pub name: String,
    /// The program.
    pub path: PathBuf,
    /// Folder that it runs in.
    pub folder: PathBuf,
}

/// Copies and builds until every mutant left compiles; gives those and the test programs.
pub fn compile(places: &Places) -> Outcome<(Vec<Mutant>, Vec<Binary>)> {
    let list = places.scratch.join("dropped.txt");
    let held = fs::read_to_string(&list).unwrap_or_default();
    let mut dropped: BTreeSet<String> = held.lines().map(String::from).collect();
    loop {
        let made = copy(&places.top, &places.copy(), &dropped)?;
        println!(
            "{} mutants, {} left out; building",
            made.len(),
            dropped.len()
        );
        let (errors, binaries) = build(places)?;
        if errors.is_empty() {
            let all = binaries.into_iter().chain(examples::build(places)?);
            return Ok((made, all.collect()));
        }
        let keys: BTreeMap<u32, &str> = made.iter().map(|m| (m.id, m.key.as_str())).collect();
        let before = dropped.len();
        for error in &errors {
            let found = blamed(&places.copy(), error, &keys)?;
            if found.is_empty() {
                println!(
                    "no mutant in: {}",
                    error["rendered"].as_str().unwrap_or_default()
                );
            }
            dropped.extend(found.iter().map(|id| keys[id].to_string()));
        }
        println!("{} errors", errors.len());
        if dropped.len() == before {
            return Err("the copy does not compile, and no mutant is to blame".into());
        }
        let lines: Vec<&str> = dropped.iter().map(String::as_str).collect();
        fs::write(&list, lines.join("\n") + "\n")?;
    }
}

/// The compiler's errors, or the test programs.
fn build(places: &Places) -> Outcome<(Vec<Value>, Vec<Binary>)> {
    let mut names: Vec<String> = SHARED.map(String::from).to_vec();
    for folder in CRATES.map(|c| places.top.join(c).join("tests")) {
        for entry in fs::read_dir(folder)? {
            let path = entry?.path();
            if path.extension().is_some_and(|e| e == "rs") {
                names.extend(path.file_stem().and_then(|s| s.to_str()).map(String::from));
            }
        }
    }
    let output = Command::new("cargo")
        .args([
            "test",
            "--workspace",
            "--no-run",
            "--message-format=json",
            "--lib",
        ])
        .args(names.iter().flat_map(|n| ["--test", n]))
        .current_dir(places.copy())
        .env("CARGO_TARGET_DIR", &places.target)
        .stderr(Stdio::inherit())
        .output()?;
    let mut errors = vec![];
    let mut binaries = vec![];
    for line in String::from_utf8(output.stdout)?.lines() {
        let Ok(message) = serde_json::from_str::<Value>(line) else {
            continue;
        };
        if message["message"]["level"] == "error" && message["message"]["spans"][0].is_object() {
            errors.push(message["message"].clone());
        }
        if let (Some(path), Some(manifest)) = (
            message["executable"].as_str(),
            message["manifest_path"].as_str(),
        ) && message["profile"]["test"] == true
        {
            let folder = Path::new(manifest).parent().unwrap_or(Path::new("."));
            let package = folder
                .file_name()
                .and_then(|f| f.to_str())
                .unwrap_or_default();
            let target = message["target"]["name"].as_str().unwrap_or_default();
            let name = format!("{package}/{target}");
            binaries.push(Binary {
                name,
                path: path.into(),
                folder: folder.into(),
            });
        }
    }
    if errors.is_empty() && !output.status.success() {
        return Err("cargo did not build the tests".into());
    }
    binaries.sort();
    Ok((errors, binaries))
}

/// The mutants that an error names, or the last one before it.
fn blamed(copy: &Path, error: &Value, keys: &BTreeMap<u32, &str>) -> Outcome<BTreeSet<u32>> {
    let mut found = BTreeSet::new();
    for span in error["spans"].as_array().into_iter().flatten() {
        let file = span["file_name"].as_str().unwrap_or_default();
        if span["is_primary"] != true || !CRATES.iter().any(|c| file.starts_with(c)) {
            continue;
        }
        let text = fs::read_to_string(copy.join(file))?;
        let place = |name: &str| span[name].as_u64().unwrap_or(0) as usize;
        let (start, end) = (place("byte_start"), place("byte_end"));
        let all = |text: &str| -> Vec<u32> {
            ids(text)
                .into_iter()
                .filter(|id| keys.contains_key(id))
                .collect()
        };
        let inside: BTreeSet<u32> = text
            .get(start..end)
            .map(all)
            .unwrap_or_default()
            .into_iter()
            .collect();
        if inside.is_empty() || inside.len() > NAMED {
            found.extend(text.get(..start).map(all).unwrap_or_default().last());
        } else {
            found.extend(inside);
        }
    }
    Ok(found)
}

/// Numbers of mutants in generated text, in order.
fn ids(text: &str) -> Vec<u32> {
    let words = text.split(|c: char| !c.is_ascii_alphanumeric() && c != '_');
    words
        .filter_map(|word| {
            let digits = word
                .strip_prefix("ml")
                .or(word.strip_prefix("mr"))
                .or(word.strip_suffix("u32"))?;
            digits.parse().ok()
        })
        .collect()
}
