//! The examples of the docs as programs: one a crate, whose tests are called by number.

use crate::compile::Binary;
use crate::copy::CRATES;
use crate::{Outcome, Places};
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Command, Stdio};

/// What names the example that such a program runs.
pub const NUMBER: &str = "RUSTDOC_DOCTEST_RUN_NB_TEST";
/// What the names of these programs begin with.
const PREFIX: &str = "docs/";

/// Builds and runs the examples of the copy once, and keeps them.
pub fn build(places: &Places) -> Outcome<Vec<Binary>> {
    let kept = places.scratch.join("docs");
    let wrapper = places.scratch.join("rustdoc");
    // To keep them is an unstable option of rustdoc's: it alone is allowed it.
    let script = format!(
        "#!/bin/sh\nfor word; do\n  [ \"$before\" = --crate-name ] && name=$word\n  before=$word\ndone\n\
         [ -n \"$name\" ] || exec rustdoc \"$@\"\n\
         RUSTC_BOOTSTRAP=1 exec rustdoc -Zunstable-options --persist-doctests '{}'/\"$name\" \"$@\"\n",
        kept.display()
    );
    fs::write(&wrapper, script)?;
    fs::set_permissions(&wrapper, fs::Permissions::from_mode(0o755))?;
    let status = Command::new("cargo")
        .args(["test", "--workspace", "--doc"])
        .current_dir(places.copy())
        .env("CARGO_TARGET_DIR", &places.target)
        .env("RUSTDOC", &wrapper)
        .stdout(Stdio::null())
        .status()?;
    if !status.success() {
        return Err("the examples of the copy do not run".into());
    }
    let binary = |krate: &&str| {
        let name = krate.rsplit('/').next().unwrap_or_default();
        Binary {
            name: format!("{PREFIX}{name}"),
            path: kept.join(format!("sealspan_{name}/merged_doctest_2024_0/rust_out")),
            folder: places.copy().join(krate),
        }
    };
    Ok(CRATES.iter().map(binary).collect())
}

/// Whether a program holds examples.
pub fn holds(binary: &Binary) -> bool {
    binary.name.starts_with(PREFIX)
}

/// Names of the examples in the order of their numbers, each with its number first.
pub fn list(binary: &Path) -> Outcome<Vec<String>> {
    let source = fs::read_to_string(binary.with_file_name("doctest_runner_2024.rs"))?;
    let names = source.split("new_doctest(").skip(1);
    let names = names.filter_map(|rest| rest.split('"').nth(1));
    Ok(names
        .enumerate()
        .map(|(i, name)| format!("{i} {name}"))
        .collect())
}
