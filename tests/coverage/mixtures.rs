//! What a mixture is fitted by, where narrow parts are set aside by a count of failures, by a bound on the ratio of the
//! parts' widths (Hathaway 1985), or by both?
//!
//! `cargo run --release --example mixtures -- [SAMPLES]` prints the table in `tests/coverage/mixtures.md`. The seed is
//! fixed; the samples are invented.
#![allow(clippy::print_stdout)]

#[allow(dead_code)]
mod several_peaks;

use rayon::prelude::*;
use sealspan_life::family::Family;
use sealspan_life::laws::by_name;
use sealspan_life::life::Life;
use sealspan_life::maximise::maximise;
use sealspan_life::terms::Terms;
use sealspan_numeric::random::Stream;
use sealspan_numeric::special::normal_quantile;
use several_peaks::{SEED, TRUTHS, Whole, sample};

/// Random starts beside the search's own.
const STARTS: u64 = 15;
/// Ages at which curves are compared.
const AGES: u32 = 400;
/// Begins what the family says of parts whose widths differ too much.
const UNLIKE: &str = "one part is more than";
/// A part this much narrower than the other is called a spike here.
const SPIKE: f64 = 0.1;

/// A rule that admits peaks.
#[derive(Clone, Copy)]
struct Rule {
    name: &'static str,
    /// Whether each part must hold its count of failures.
    count: bool,
    /// Least ratio of the parts' σ.
    ratio: f64,
}

const RULES: [Rule; 6] = [
    Rule {
        name: "count",
        count: true,
        ratio: 0.0,
    },
    Rule {
        name: "ratio 0.05",
        count: false,
        ratio: 0.05,
    },
    Rule {
        name: "ratio 0.1",
        count: false,
        ratio: 0.1,
    },
    Rule {
        name: "ratio 0.2",
        count: false,
        ratio: 0.2,
    },
    Rule {
        name: "count, ratio 0.1",
        count: true,
        ratio: 0.1,
    },
    Rule {
        name: "count, ratio 0.2",
        count: true,
        ratio: 0.2,
    },
];

/// Ratio of the narrower part's σ to the other's.
fn ratio(x: &[f64]) -> f64 {
    match x {
        [_, one, _, other, _] => (-(one - other).abs()).exp(),
        _ => 0.0,
    }
}

/// Whether a rule admits a peak.
fn admits(rule: Rule, family: &dyn Family, x: &[f64], terms: &Terms) -> bool {
    let two = x.get(4).is_some_and(|logit| logit.abs() <= 8.0);
    let enough = || {
        let edge = family.edge(x, terms);
        edge.is_none_or(|words| words.starts_with(UNLIKE))
    };
    two && ratio(x) >= rule.ratio && (!rule.count || enough())
}

/// Peaks that the search's own starts and random ones lead to, highest first.
fn peaks(family: &'static dyn Family, terms: &Terms, number: u64) -> Vec<(f64, Vec<f64>)> {
    let problem = Whole { family, terms };
    let own = family.starts(terms);
    let mut stream = Stream::new(SEED ^ 0x5eed, number);
    let random = (0..STARTS).filter_map(|i| {
        let base = own.get(stream.below(own.len()))?;
        let spread = [0.3, 1.0, 2.0][(i % 3) as usize];
        let moved = |x: &f64| x + spread * normal_quantile(stream.uniform());
        Some(base.iter().map(moved).collect::<Vec<f64>>())
    });
    let random: Vec<Vec<f64>> = random.collect();
    let starts = own.iter().chain(&random);
    let found = starts.filter_map(|start| maximise(&problem, start).ok());
    let mut found: Vec<(f64, Vec<f64>)> = found.map(|f| (f.value, f.x)).collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found
}

/// How a fit does.
#[derive(Clone, Copy)]
struct Fitted {
    /// Largest distance of the curves.
    off: f64,
    /// |ln| of the ratio of the B10 lives.
    b10: f64,
    spike: bool,
}

fn judge(family: &'static dyn Family, truth: &Life, x: &[f64]) -> Fitted {
    let fit = Life::new(family, x.to_vec());
    let at = |i: u32| truth.quantile(f64::from(i) / f64::from(AGES));
    let apart = |i: u32| (fit.survival(at(i)) - truth.survival(at(i))).abs();
    Fitted {
        off: (1..AGES).map(apart).fold(0.0, f64::max),
        b10: (fit.quantile(0.1) / truth.quantile(0.1)).ln().abs(),
        spike: ratio(x) < SPIKE,
    }
}

fn main() {
    let samples: u64 = std::env::args()
        .nth(1)
        .and_then(|a| a.parse().ok())
        .unwrap_or(480);
    let (Some((name, truths)), true) = (TRUTHS.first(), samples > 0) else {
        return;
    };
    let Some(family) = by_name(name) else { return };
    let lives: Vec<Life> = truths.iter().filter_map(|t| Life::parse(t).ok()).collect();
    let all: Vec<(usize, Vec<Option<Fitted>>)> = (0..samples)
        .into_par_iter()
        .filter_map(|number| {
            let which = (number % truths.len() as u64) as usize;
            let life = lives.get(which)?;
            let terms = Terms::new(&sample(life, number));
            let peaks = peaks(family, &terms, number);
            let by = |rule: &Rule| {
                let highest = peaks.iter().find(|p| admits(*rule, family, &p.1, &terms))?;
                Some(judge(family, life, &highest.1))
            };
            Some((which, RULES.iter().map(by).collect()))
        })
        .collect();
    println!(
        "| rule | lives drawn from | fitted | curve off by at most, mean | B10 off by, mean of the absolute ln ratio | with a part ten times as narrow |"
    );
    println!("|---|---|---|---|---|---|");
    for (i, rule) in RULES.iter().enumerate() {
        for (which, truth) in truths.iter().enumerate() {
            let own = all.iter().filter(|a| a.0 == which);
            let own: Vec<Option<Fitted>> = own.filter_map(|a| a.1.get(i).copied()).collect();
            println!("| {} | {truth} | {}", rule.name, cells(&own));
        }
        let common = all.iter().filter(|a| a.1.iter().all(Option::is_some));
        let common: Vec<Option<Fitted>> = common.filter_map(|a| a.1.get(i).copied()).collect();
        println!(
            "| {} | those that every rule fits | {}",
            rule.name,
            cells(&common)
        );
    }
}

/// The rest of a row.
fn cells(of: &[Option<Fitted>]) -> String {
    let fitted: Vec<&Fitted> = of.iter().flatten().collect();
    let n = fitted.len() as f64;
    let mean = |f: &dyn Fn(&Fitted) -> f64| fitted.iter().map(|x| f(x)).sum::<f64>() / n;
    format!(
        "{} of {} | {:.4} | {:.4} | {} |",
        fitted.len(),
        of.len(),
        mean(&|x| x.off),
        mean(&|x| x.b10),
        fitted.iter().filter(|x| x.spike).count()
    )
}
