//! How often do intervals of laws with three and more parameters hold the truth? Plain counting: a fit of these is dear,
//! and its signed root no sure guide to its ends.
//!
//! `cargo run -p sealspan-tests --example plain_coverage -- SAMPLES LAW SEALS CENSORED METHOD,..` prints rows of the second table in
//! `tests/coverage/table.md`. The seed is fixed; the samples are invented.
#![allow(clippy::print_stdout)]

#[allow(dead_code)]
pub mod design;

use design::{Design, Watch};
use rayon::prelude::*;
use sealspan_life::bounds::Method;
use sealspan_life::fit::fit;
use sealspan_life::intervals::Intervals;
use sealspan_life::laws::by_name;

const LEVEL: f64 = 0.9;

/// What one sample's intervals did.
struct Seen {
    /// Missed below, missed above, and open ends, of each quantity.
    ends: [[bool; 3]; 3],
    /// Whether the method asked for was had.
    had: bool,
    /// Share of refits without an estimate.
    lost: f64,
}

fn one(design: &Design, method: Method, number: u64) -> Option<Seen> {
    let sample = design.sample(number);
    let fit = fit(by_name(design.life.family())?, &sample).ok()?;
    let intervals = Intervals::new(&fit, &sample, method, LEVEL, number);
    let ends = design.asked().map(|(quantity, truth)| {
        let b = intervals.of(quantity).bounds;
        let open = b.lower.is_none() || b.upper.is_none();
        [
            b.lower.is_some_and(|l| l > truth),
            b.upper.is_some_and(|u| u < truth),
            open,
        ]
    });
    Some(Seen {
        ends,
        had: intervals.instead.is_none(),
        lost: intervals.refits().map_or(0.0, |r| r.without_estimate()),
    })
}

/// One row of the table.
pub fn row(design: &Design, name: &str, samples: u64) -> Option<String> {
    let method = match name {
        "calibrated" => Method::Calibrated,
        "profile" => Method::Profile,
        "bootstrap" => Method::Bootstrap,
        "posterior" => Method::Posterior,
        _ => return None,
    };
    let numbers = (0..samples).into_par_iter();
    let seen: Vec<Seen> = numbers.filter_map(|n| one(design, method, n)).collect();
    let n = seen.len() as f64;
    let part = |f: &dyn Fn(&Seen) -> f64| 100.0 * seen.iter().map(f).sum::<f64>() / n;
    let share = |q: usize, side: usize| part(&|s: &Seen| f64::from(u8::from(s.ends[q][side])));
    let cell = |q: usize| format!("{:.1}, {:.1}", share(q, 0), share(q, 1));
    let held = [0, 1, 2].map(|q| format!("{:.1}", 100.0 - share(q, 0) - share(q, 1)));
    let open = [0, 1, 2].map(|q| format!("{:.0}", share(q, 2)));
    Some(format!(
        "| {} | {} | {:.0} % | {:.0} | {name} | {} | {} | {} | {} | {} | {:.0} | {:.0} | {} of {samples} |",
        design.life.family(),
        design.seals,
        100.0 * design.censored,
        design.failures(),
        cell(0),
        cell(1),
        cell(2),
        held.join(", "),
        open.join(", "),
        part(&|s: &Seen| f64::from(u8::from(!s.had))),
        part(&|s: &Seen| s.lost),
        seen.len(),
    ))
}

fn main() {
    let mut args = std::env::args().skip(1);
    let mut next = |usual: &str| args.next().unwrap_or_else(|| usual.into());
    let samples: u64 = next("200").parse().unwrap_or(200);
    let laws = next("generalised_gamma,three_parameter_weibull,weak_fraction_weibull");
    let seals: usize = next("20").parse().unwrap_or(20);
    let censored: f64 = next("0.3").parse().unwrap_or(0.3);
    let methods = next("profile,calibrated");
    println!(
        "| law | seals | censored | failures expected | method | shape: below, above | B10: below, above | survival: below, above | coverage of the three | with an open end, % | not had, % | refits without estimate, % | samples with an estimate |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|---|---|");
    for law in laws.split(',') {
        let Some(design) = Design::new(law, seals, censored, Watch::OneEnd) else {
            continue;
        };
        for name in methods.split(',') {
            if let Some(row) = row(&design, name, samples) {
                println!("{row}");
            }
        }
    }
}
