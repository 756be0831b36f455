//! Runs tests of one program with a limit of time and memory.

use crate::Outcome;
use crate::compile::Binary;
use crate::examples;
use std::fs::{self, File};
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Address space of a test in KiB: more is a failure.
const MEMORY: u32 = 4_000_000;

/// A program that waits is ended after so many times its limit by the clock.
const STUCK: f64 = 30.0;

/// How tests ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ended {
    /// All passed.
    Passed,
    /// The first that failed, or what else went wrong.
    Failed(String),
    /// Over the limit of time.
    TimedOut,
}

/// Seconds of processor that a running program and those it waited for have had, so that other work does not count
/// (Linux: hundredths).
fn processor(id: u32) -> Option<f64> {
    let text = fs::read_to_string(format!("/proc/{id}/stat")).ok()?;
    let mut fields = text.rsplit_once(')')?.1.split_whitespace().skip(11);
    let mut next = || fields.next()?.parse::<f64>().ok();
    Some((next()? + next()? + next()? + next()?) / 100.0)
}

/// Runs tests one after the other, of examples the first alone; `out` takes what they print. Each program that they start has the
/// limit too, in whole seconds and one more.
pub fn run(
    binary: &Binary,
    tests: &[&str],
    with: (&str, &str),
    limit: f64,
    out: &Path,
) -> Outcome<(Ended, f64)> {
    let began = Instant::now();
    let mut spent = 0.0;
    let whole = limit.ceil() + 1.0;
    let limits = format!("ulimit -v {MEMORY}; ulimit -t {whole}; exec \"$0\" \"$@\"");
    let mut command = Command::new("sh");
    command.args(["-c", &limits]).arg(&binary.path);
    if examples::holds(binary) {
        let number = tests.first().and_then(|t| t.split(' ').next());
        command.env(examples::NUMBER, number.unwrap_or_default());
    } else {
        command.args(["--exact", "--test-threads=1"]).args(tests);
    }
    let mut child = command
        .current_dir(&binary.folder)
        .env("CARGO_MANIFEST_DIR", &binary.folder)
        .env("RAYON_NUM_THREADS", "1")
        .env("RUST_BACKTRACE", "0")
        .env(with.0, with.1)
        .stdin(Stdio::null())
        .stdout(File::create(out)?)
        .stderr(Stdio::null())
        .spawn()?;
    let status = loop {
        if let Some(status) = child.try_wait()? {
            break status;
        }
        spent = processor(child.id()).unwrap_or(spent);
        if spent > limit || began.elapsed().as_secs_f64() > STUCK * limit {
            child.kill()?;
            child.wait()?;
            return Ok((Ended::TimedOut, spent));
        }
        sleep(Duration::from_millis(3));
    };
    if status.success() {
        return Ok((Ended::Passed, spent));
    }
    let said = String::from_utf8_lossy(&fs::read(out)?).into_owned();
    let failed = said.lines().find_map(|l| {
        l.strip_prefix("test ")?
            .strip_suffix(" ... FAILED")
            .map(String::from)
    });
    // A program that was aborted names the test it was in last.
    let last = || {
        said.lines().rev().find_map(|l| {
            l.strip_prefix("test ")?
                .split_once(" ... ")
                .map(|t| t.0.to_string())
        })
    };
    // An example prints no name of its own.
    let own = || tests.first().filter(|_| examples::holds(binary));
    let failed = failed
        .or_else(last)
        .or_else(|| own().map(|t| t.to_string()));
    let failed = failed.unwrap_or_else(|| status.to_string());
    Ok((Ended::Failed(failed), spent))
}
