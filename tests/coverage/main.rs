//! How often do the intervals hold the truth? Simulated samples of known laws, every method, both tails.
//!
//! `cargo run --release --example coverage -- [SAMPLES] [METHOD,..] [SEALS,..] [WATCH,..] [LAW,..]` prints the
//! table that stands in `tests/coverage/table.md`. The seed is fixed; the samples are invented.
#![allow(clippy::print_stdout)]

use rayon::prelude::*;
use sealspan_life::bounds::Method;
use sealspan_life::fit::fit;
use sealspan_life::intervals::Intervals;
use sealspan_life::laws::by_name;
use sealspan_life::life::Life;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::random::Stream;
use sealspan_records::{Observation, Sample};

const SEED: u64 = 20_261_125;
const LEVEL: f64 = 0.9;

/// How failures come to be known.
#[derive(Clone, Copy, PartialEq)]
enum Watch {
    /// All seals fitted together and watched to one age.
    OneEnd,
    /// Seals fitted evenly over the time of watching.
    Staggered,
    /// Looked at eight times up to one age.
    Looks,
}

struct Design {
    family: &'static str,
    seals: usize,
    censored: f64,
    watch: Watch,
}

/// Misses below and above, and how many samples gave an interval, for each quantity.
type Tally = [[u32; 3]; 3];

fn life(family: &str) -> Option<Life> {
    match family {
        "weibull" => Life::weibull(2.0, 1000.0),
        "gamma" => Life::parse("gamma:shape=3,scale=300").ok(),
        "generalised_gamma" => Life::parse("generalised_gamma:mu=6.7,sigma=0.55,q=0.6").ok(),
        _ => Life::lognormal(6.5, 0.6),
    }
}

/// The end of watching that leaves this share running.
fn end(life: &Life, design: &Design) -> f64 {
    if design.censored <= 0.0 {
        return f64::INFINITY;
    }
    if design.watch != Watch::Staggered {
        return life.quantile(1.0 - design.censored);
    }
    // Watched for a time even over 0 to `end`: share running is the mean survival.
    let running = |end: f64| {
        (0..400)
            .map(|i| life.survival(end * (f64::from(i) + 0.5) / 400.0))
            .sum::<f64>()
            / 400.0
    };
    let (mut low, mut high) = (1e-3, 1e7);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if running(middle) > design.censored {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

fn sample(life: &Life, design: &Design, end: f64, seed: u64) -> Sample {
    let mut stream = Stream::new(SEED, seed);
    let spacing = if end.is_finite() {
        end / 8.0
    } else {
        life.quantile(0.95) / 8.0
    };
    let rows = (0..design.seals).filter_map(|_| {
        let age = life.sample(stream.uniform());
        let last = match design.watch {
            Watch::Staggered if end.is_finite() => end * stream.uniform(),
            _ => end,
        };
        if age > last {
            return Observation::right(last, 0.0, 1.0).ok();
        }
        match design.watch {
            Watch::Looks => {
                let upper = (age / spacing).ceil() * spacing;
                Observation::interval(upper - spacing, upper, 0.0, 1.0).ok()
            }
            _ => Observation::exact(age, 0.0, 1.0).ok(),
        }
    });
    Sample::new(rows.collect())
}

/// The shape (sigma or q where the law has none), the B10 life, and the survival where one seal in four has failed.
fn asked(life: &Life) -> [(Quantity, f64); 3] {
    let spread = life.parameters();
    let named = match life.family() {
        "weibull" | "gamma" => "shape",
        "generalised_gamma" => "q",
        _ => "sigma",
    };
    let at = spread.iter().position(|p| p.0 == named).unwrap_or(0);
    let age = life.quantile(0.25);
    [
        (Quantity::Parameter(at), spread.get(at).map_or(0.0, |p| p.1)),
        (Quantity::Quantile(0.1), life.quantile(0.1)),
        (Quantity::Survival(age), 0.75),
    ]
}

fn one(life: &Life, design: &Design, end: f64, method: Method, seed: u64) -> Option<Tally> {
    let sample = sample(life, design, end, seed);
    let family = by_name(design.family)?;
    let fit = fit(family, &sample).ok()?;
    let intervals = Intervals::new(&fit, &sample, method, LEVEL, seed);
    let mut tally = Tally::default();
    for ((quantity, truth), slot) in asked(life).into_iter().zip(&mut tally) {
        let b = intervals.of(quantity).bounds;
        // An open end holds everything on its side.
        slot[0] += u32::from(b.lower.is_some_and(|l| l > truth));
        slot[1] += u32::from(b.upper.is_some_and(|u| u < truth));
        slot[2] += 1;
    }
    Some(tally)
}

fn study(design: &Design, method: Method, samples: u64) -> Option<(Tally, u64)> {
    let life = life(design.family)?;
    let end = end(&life, design);
    let tallies: Vec<Tally> = (0..samples)
        .into_par_iter()
        .filter_map(|i| one(&life, design, end, method, i))
        .collect();
    let mut sum = Tally::default();
    for tally in &tallies {
        for (a, b) in sum.iter_mut().flatten().zip(tally.iter().flatten()) {
            *a += b;
        }
    }
    Some((sum, samples - tallies.len() as u64))
}

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

fn main() {
    let mut args = std::env::args().skip(1);
    let samples: u64 = args.next().and_then(|a| a.parse().ok()).unwrap_or(2000);
    let names = args
        .next()
        .unwrap_or_else(|| "wald,profile,calibrated".into());
    let sizes = args.next().unwrap_or_else(|| "5,10,20,50,100".into());
    let watches = args
        .next()
        .unwrap_or_else(|| "one-end,staggered,looks".into());
    let families = args.next().unwrap_or_else(|| "weibull,lognormal".into());
    println!(
        "| law | watched | seals | censored | failures expected | method | shape: below, above | B10: below, above | survival: below, above | coverage of the three | without estimate | samples |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|---|");
    for watch in [Watch::OneEnd, Watch::Staggered, Watch::Looks] {
        let word = match watch {
            Watch::OneEnd => "one-end",
            Watch::Staggered => "staggered",
            Watch::Looks => "looks",
        };
        if !watches.split(',').any(|w| w == word) {
            continue;
        }
        for family in ["weibull", "lognormal", "gamma", "generalised_gamma"] {
            if !families.split(',').any(|f| f == family) {
                continue;
            }
            for seals in sizes.split(',').filter_map(|s| s.parse().ok()) {
                for censored in [0.0, 0.3, 0.6, 0.8] {
                    let design = Design {
                        family,
                        seals,
                        censored,
                        watch,
                    };
                    let failures = seals as f64 * (1.0 - censored);
                    if failures < 3.5 || (watch == Watch::Staggered && censored == 0.0) {
                        continue;
                    }
                    for name in names.split(',') {
                        let Some((tally, none)) =
                            method(name).and_then(|m| study(&design, m, samples))
                        else {
                            continue;
                        };
                        let cell = |[below, above, n]: [u32; 3]| {
                            let share = |k: u32| 100.0 * f64::from(k) / f64::from(n.max(1));
                            format!("{:.1}, {:.1}", share(below), share(above))
                        };
                        let held = tally.map(|[below, above, n]| {
                            let share = 1.0 - f64::from(below + above) / f64::from(n.max(1));
                            format!("{:.1}", 100.0 * share)
                        });
                        let held = held.join(", ");
                        let [shape, b10, survival] = tally.map(cell);
                        println!(
                            "| {family} | {word} | {seals} | {:.0} % | {failures:.0} | {name} | {shape} | {b10} | {survival} | {held} | {none} | {samples} |",
                            100.0 * censored
                        );
                    }
                }
            }
        }
    }
}
