//! A copy of the workspace whose crates hold their mutants.

use crate::Outcome;
use crate::rewrite::{Mutant, Rewriter, is_test};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Crates that are mutated.
pub const CRATES: [&str; 2] = ["crates/life", "crates/care"];
/// Crates whose own tests tell nothing of them.
const QUIET: [&str; 4] = [
    "crates/numeric",
    "crates/records",
    "crates/report",
    "crates/cli",
];
const SWITCH: &str = include_str!("switch.rs.in");

/// Copies what git knows of from `top` to `to`, with the mutants that are not `dropped`; gives them.
pub fn copy(top: &Path, to: &Path, dropped: &BTreeSet<String>) -> Outcome<Vec<Mutant>> {
    let listed = Command::new("git")
        .args([
            "ls-files",
            "-z",
            "--cached",
            "--others",
            "--exclude-standard",
        ])
        .current_dir(top)
        .output()?;
    let listed = String::from_utf8(listed.stdout)?;
    let mut files: Vec<&str> = listed.split('\0').filter(|f| !f.is_empty()).collect();
    files.retain(|f| !f.starts_with("notebooks-out/") && !f.starts_with("tests/mutation/"));
    files.sort_unstable();
    let sources: Vec<&str> = files.iter().copied().filter(|f| is_source(f)).collect();
    let tests = test_files(top, &sources)?;
    let mut rewriter = Rewriter::new(dropped);
    for file in files {
        let from = top.join(file);
        let Ok(bytes) = fs::read(&from) else { continue };
        let bytes = if sources.contains(&file) && !tests.contains(Path::new(file)) {
            mutated(&mut rewriter, file, &String::from_utf8(bytes)?)?.into_bytes()
        } else if QUIET.iter().any(|c| file == format!("{c}/Cargo.toml")) {
            untested(&String::from_utf8(bytes)?).into_bytes()
        } else if file == "Cargo.toml" {
            // Half the time of the compiler for tests that are little slower.
            let text = String::from_utf8(bytes)?;
            text.replace(
                "sealspan-life = { opt-level = 2 }",
                "sealspan-life = { opt-level = 1 }",
            )
            .into_bytes()
        } else {
            bytes
        };
        write(&to.join(file), &bytes)?;
    }
    let count = rewriter.made.last().map_or(1, |m| m.id + 1);
    for name in CRATES {
        let text = SWITCH.replace("@COUNT@", &count.to_string());
        write(&to.join(name).join("src/switch.rs"), text.as_bytes())?;
    }
    Ok(rewriter.made)
}

fn is_source(file: &str) -> bool {
    file.ends_with(".rs")
        && CRATES
            .iter()
            .any(|c| file.starts_with(&format!("{c}/src/")))
}

/// A manifest whose library has no tests and no examples that are run.
fn untested(manifest: &str) -> String {
    let quiet = "[lib]\ntest = false\ndoctest = false";
    if manifest.contains("[lib]") {
        manifest.replace("[lib]", quiet)
    } else {
        format!("{manifest}\n{quiet}\n")
    }
}

fn mutated(rewriter: &mut Rewriter, file: &str, text: &str) -> Outcome<String> {
    let text = rewriter.file(file, text)?;
    let root = CRATES.iter().any(|c| file == format!("{c}/src/lib.rs"));
    Ok(if root {
        format!("#![allow(warnings)]\n{text}\npub mod switch;\n")
    } else {
        text
    })
}

/// Files that are modules of tests: `#[cfg(test)] mod NAME;` beside them.
fn test_files(top: &Path, sources: &[&str]) -> Outcome<BTreeSet<PathBuf>> {
    let mut found = BTreeSet::new();
    for source in sources {
        let path = Path::new(source);
        let stem = path
            .file_stem()
            .and_then(|s| s.to_str())
            .unwrap_or_default();
        let parent = path.parent().unwrap_or(path);
        let folder = if ["lib", "mod"].contains(&stem) {
            parent.to_path_buf()
        } else {
            parent.join(stem)
        };
        for item in syn::parse_file(&fs::read_to_string(top.join(source))?)?.items {
            if let syn::Item::Mod(item) = item
                && item.content.is_none()
                && is_test(&item.attrs)
            {
                found.insert(folder.join(format!("{}.rs", item.ident)));
                let inner = folder.join(item.ident.to_string());
                found.extend(
                    sources
                        .iter()
                        .map(PathBuf::from)
                        .filter(|s| s.starts_with(&inner)),
                );
            }
        }
    }
    Ok(found)
}

/// Leaves a file alone that holds these bytes, so that nothing is compiled again for it.
fn write(path: &Path, bytes: &[u8]) -> Outcome<()> {
    if fs::read(path).is_ok_and(|held| held == bytes) {
        return Ok(());
    }
    if let Some(parent) = path.parent() {
        fs::create_dir_all(parent)?;
    }
    Ok(fs::write(path, bytes)?)
}
