//! How often do the intervals hold the truth? Simulated samples of known laws, every method, both tails.
//!
//! `cargo run --release -p sealspan-tests --example coverage -- [SAMPLES] [METHOD,..] [SEALS,..] [WATCHED,..] [LAW,..] [FAILURES] [MOST]`
//! prints the rows of the table that stands in `tests/coverage/table.md`, of designs with at least so many failures, and at
//! most so many, to be expected. The seed is fixed; the samples are invented.
#![allow(clippy::print_stdout)]

mod design;
mod estimate;

use design::{Design, Watch};
use estimate::{Cheap, Misses};
use sealspan_life::bounds::Method;

/// Samples whose signed roots are found, for each one of which intervals may be made.
const CHEAP: u64 = 40;

fn method(name: &str) -> Option<Method> {
    Some(match name {
        "calibrated" => Method::Calibrated,
        "profile" => Method::Profile,
        "wald" => Method::Wald,
        "bootstrap" => Method::Bootstrap,
        "posterior" => Method::Posterior,
        _ => return None,
    })
}

/// One row of the table.
fn row(design: &Design, name: &str, cheap: &Cheap, samples: u64) -> Option<String> {
    let (misses, made) = cheap.misses(design, method(name)?, samples);
    let cell = |m: Misses| format!("{:.1}, {:.1}", m.below.value, m.above.value);
    let held = misses.map(|m| format!("{:.1}", m.held())).join(", ");
    let errors = misses.iter().flat_map(|m| [m.below.error, m.above.error]);
    let error = errors.fold(0.0, f64::max);
    let [shape, b10, survival] = misses.map(cell);
    Some(format!(
        "| {} | {} | {} | {:.0} % | {:.0} | {name} | {shape} | {b10} | {survival} | {held} | {error:.2} | {:.1} | {made} |",
        design.life.family(),
        design.watch.word(),
        design.seals,
        100.0 * design.censored,
        design.failures(),
        cheap.without_estimate(),
    ))
}

fn main() {
    let mut args = std::env::args().skip(1);
    let mut next = |usual: &str| args.next().unwrap_or_else(|| usual.into());
    let samples: u64 = next("2500").parse().unwrap_or(2500);
    let methods = next("wald,profile,calibrated,bootstrap,posterior");
    let sizes = next("5,10,20,50,100");
    let watches = next("one-end,staggered,looks");
    let families = next("weibull,lognormal");
    let fewest: f64 = next("4").parse().unwrap_or(4.0);
    let most: f64 = next("inf").parse().unwrap_or(f64::INFINITY);
    let wanted = |d: &Design| (fewest - 0.5..most + 0.5).contains(&d.failures());
    println!(
        "| law | watched | seals | censored | failures expected | method | shape: below, above | B10: below, above | survival: below, above | coverage of the three | error of a tail, at most | without estimate, % | intervals made |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|---|---|");
    for watch in Watch::ALL {
        if !watches.split(',').any(|w| w == watch.word()) {
            continue;
        }
        for family in families.split(',') {
            for seals in sizes.split(',').filter_map(|s| s.parse().ok()) {
                for censored in [0.0, 0.3, 0.6, 0.8] {
                    let design = Design::new(family, seals, censored, watch);
                    let Some(design) = design.filter(wanted) else {
                        continue;
                    };
                    let Some(cheap) = Cheap::of(&design, CHEAP * samples) else {
                        continue;
                    };
                    for name in methods.split(',') {
                        if let Some(row) = row(&design, name, &cheap, samples) {
                            println!("{row}");
                        }
                    }
                }
            }
        }
    }
}
