//! The command line as a process: exit status, standard output and standard error together.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod ageing;
mod answers;
mod bad_input;
mod blurred;
mod care_options;
mod condition;
mod contract;
mod diagnostics;
mod due;
mod effects;
mod fit_text;
mod folder;
mod formats;
mod hostile;
mod interval_answers;
mod materials;
mod missing_ends;
mod nulls;
mod order;
mod own_prices;
mod pages;
mod positions;
mod regression;
mod sameness;
mod spares;
mod trial;

use std::path::{Path, PathBuf};
use std::process::Command;

/// What a run of the program gave.
pub struct Run {
    pub status: i32,
    pub out: String,
    pub err: String,
}

impl Run {
    /// Standard output as one JSON document.
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out)
            .unwrap_or_else(|e| panic!("{e}: {}\n{}", self.out, self.err))
    }
}

/// Runs the program from the workspace's top folder.
pub fn sealspan(args: &[&str]) -> Run {
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_sealspan-under-test"))
        .args(args)
        .current_dir(top)
        .output()
        .unwrap();
    let run = Run {
        status: output
            .status
            .code()
            .expect("the program must end by itself"),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    };
    assert!(!run.err.contains("panicked"), "{}", run.err);
    run
}

/// A file in a folder of this test run's own.
pub fn file(name: &str, content: &[u8]) -> PathBuf {
    let folder = std::env::temp_dir().join(format!("sealspan-cli-{}", std::process::id()));
    let path = folder.join(name);
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(&path, content).unwrap();
    path
}
