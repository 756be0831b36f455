//! How often do the intervals of the defect model hold the truth, and how far do its estimates lean?
//!
//! `cargo run --release --example defect_coverage -- [FLEETS] [SEALS]` prints the tables of
//! `tests/coverage/defects.md`. The seed is fixed; the fleets are invented.
#![allow(clippy::print_stdout)]

use rayon::prelude::*;
use sealspan_life::defects::simulate::{LookPlan, simulate};
use sealspan_life::defects::{DETECTION, DefectFit, Model, StageLaw, fit};
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;
use sealspan_numeric::special::chi_square_quantile;

const SEED: u64 = 20_261_125;
const LEVEL: f64 = 0.9;

struct Design {
    name: &'static str,
    model: Model,
    defect: (f64, f64),
    delay: (f64, f64),
    plan: LookPlan,
}

fn designs() -> [Design; 3] {
    let plan = LookPlan {
        every: 90.0,
        jitter: 40.0,
        until: (400.0, 1200.0),
        entry: 0.0,
        detection: 0.7,
    };
    let model = |delay| Model {
        defect: StageLaw::Weibull,
        delay,
        detection: None,
    };
    [
        Design {
            name: "constant rate after the defect",
            model: model(StageLaw::Exponential),
            defect: (2.6, 480.0),
            delay: (1.0, 120.0),
            plan,
        },
        Design {
            name: "Weibull delay",
            model: model(StageLaw::Weibull),
            defect: (2.6, 480.0),
            delay: (1.8, 120.0),
            plan,
        },
        Design {
            name: "Weibull delay, seals already in place",
            model: model(StageLaw::Weibull),
            defect: (2.6, 480.0),
            delay: (1.8, 120.0),
            plan: LookPlan {
                entry: 300.0,
                ..plan
            },
        },
    ]
}

/// Parameters by number: name, and the truth on the scale of the fit.
fn asked(d: &Design) -> Vec<(&'static str, usize, f64)> {
    let r = d.plan.detection;
    let mut out = vec![
        ("scale of the defect's age", 0, d.defect.1.ln()),
        ("shape of the defect's age", 1, -d.defect.0.ln()),
        ("scale of the delay", 2, d.delay.1.ln()),
    ];
    if d.model.delay == StageLaw::Weibull {
        out.push(("shape of the delay", 3, -d.delay.0.ln()));
    }
    out.push(("detection", DETECTION, (r / (1.0 - r)).ln()));
    out
}

/// Estimate over truth, and whether the interval lay above or below the truth.
#[derive(Clone, Copy)]
struct Seen {
    ratio: f64,
    above: bool,
    below: bool,
}

/// The truth lies in the interval where the profile likelihood has fallen by no more than half the chi-square quantile.
fn seen(fit: &DefectFit, index: usize, truth: f64) -> Option<Seen> {
    let own = |x: f64| match index {
        1 | 3 => (-x).exp(),
        DETECTION => 1.0 / (1.0 + (-x).exp()),
        _ => x.exp(),
    };
    let missed = fit.fall_at(index, truth)? > 0.5 * chi_square_quantile(LEVEL, 1.0);
    let (here, there) = (own(fit.theta[index]), own(truth));
    Some(Seen {
        ratio: here / there,
        above: missed && here > there,
        below: missed && here < there,
    })
}

fn fleet(d: &Design, seals: usize, number: u64) -> Option<DefectFit> {
    let (u, h) = (
        Life::weibull(d.defect.0, d.defect.1)?,
        Life::weibull(d.delay.0, d.delay.1)?,
    );
    let mut stream = Stream::new(SEED, number);
    let list = (0..seals).map(|_| simulate(&u, &h, &d.plan, &mut stream));
    fit(d.model, list.collect::<Option<Vec<_>>>()?).ok()
}

fn study(d: &Design, fleets: u64, seals: usize) {
    let asked = asked(d);
    let rows: Vec<Option<(bool, Vec<Option<Seen>>)>> = (0..fleets)
        .into_par_iter()
        .map(|number| {
            let fit = fleet(d, seals, number)?;
            let list = asked.iter().map(|(_, i, truth)| seen(&fit, *i, *truth));
            Some((fit.detection_at_edge, list.collect()))
        })
        .collect();
    let fitted: Vec<_> = rows.iter().flatten().collect();
    let edge = fitted.iter().filter(|(edge, _)| *edge).count();
    for (at, (name, _, _)) in asked.iter().enumerate() {
        let mine: Vec<Seen> = fitted
            .iter()
            .filter_map(|(_, list)| list.get(at).copied().flatten())
            .collect();
        let n = mine.len().max(1) as f64;
        let share = |f: fn(&Seen) -> bool| 100.0 * mine.iter().filter(|s| f(s)).count() as f64 / n;
        let (above, below) = (share(|s| s.above), share(|s| s.below));
        let mut ratios: Vec<f64> = mine.iter().map(|s| s.ratio).collect();
        ratios.sort_by(f64::total_cmp);
        let part = |p: f64| ratios.get((p * n) as usize).copied().unwrap_or(f64::NAN);
        println!(
            "| {} | {seals} | {name} | {:.3} | {:.3} to {:.3} | {:.1} | {above:.1}, {below:.1} | {} of {fleets} | {edge} |",
            d.name,
            part(0.5),
            part(0.05),
            part(0.95),
            100.0 - above - below,
            mine.len(),
        );
    }
}

fn main() {
    let mut args = std::env::args().skip(1);
    let fleets: u64 = args.next().and_then(|a| a.parse().ok()).unwrap_or(500);
    let seals: usize = args.next().and_then(|a| a.parse().ok()).unwrap_or(400);
    println!(
        "| design | seals | parameter | median of estimate/truth | nine in ten | coverage, % | interval above, below the truth, % | fleets | looks seem perfect |"
    );
    println!("|---|---|---|---|---|---|---|---|---|");
    for design in designs() {
        study(&design, fleets, seals);
    }
}
