//! One sum of the library at one size, in a process of its own, so that its peak memory can be told:
//! `sizes SUM SIZE` prints seconds by the clock, seconds of processor and peak megabytes; `sizes` lists the sums.
//! `tests/bench/table` makes a table of them.
#![allow(clippy::unwrap_used)]

mod gasket;
mod lives;
mod months;
mod sums;

use std::process::ExitCode;
use std::time::Instant;

/// Quick sums are repeated for at least so many seconds.
const LEAST: f64 = 0.5;

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [name, size] = args.as_slice() else {
        for (name, _) in sums::ALL {
            println!("{name}");
        }
        return ExitCode::SUCCESS;
    };
    let known = sums::ALL.iter().find(|(known, _)| known == name);
    let (Some((_, ready)), Ok(size)) = (known, size.parse()) else {
        eprintln!("no sum of that name, or no size: {args:?}");
        return ExitCode::FAILURE;
    };
    let sum = ready(size);
    // Peak memory from here on, the data included.
    std::fs::write("/proc/self/clear_refs", "5").unwrap();
    let (start, used) = (Instant::now(), processor());
    let mut times = 0.0;
    while times == 0.0 || start.elapsed().as_secs_f64() < LEAST {
        sum();
        times += 1.0;
    }
    let (clock, used) = (
        start.elapsed().as_secs_f64() / times,
        (processor() - used) / times,
    );
    println!("{clock:.6} {used:.6} {:.0}", peak() / 1024.0);
    ExitCode::SUCCESS
}

/// Seconds of processor of this process so far; Linux counts hundredths.
fn processor() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    let after = stat.rsplit(')').next().unwrap();
    let fields: Vec<&str> = after.split_whitespace().collect();
    let ticks = |at: usize| fields.get(at).unwrap().parse::<f64>().unwrap();
    (ticks(11) + ticks(12)) / 100.0
}

/// The most memory this process held since it was last reset, in kB.
fn peak() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status
        .lines()
        .find_map(|l| l.strip_prefix("VmHWM:"))
        .unwrap();
    line.trim().trim_end_matches("kB").trim().parse().unwrap()
}
