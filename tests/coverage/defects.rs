//! How often do the intervals of the defect model hold the truth, and how far do its estimates lean?
//!
//! `cargo run --release -p sealspan-tests --example defect_coverage -- [FLEETS] [SEALS,..] [DESIGN,..] [METHOD,..]` prints the tables of
//! `tests/coverage/defects.md`; methods are `posterior` and `profile`. The seed is fixed; the fleets are invented.
#![allow(clippy::print_stdout)]

use rayon::prelude::*;
use sealspan_life::defects::simulate::{LookPlan, simulate};
use sealspan_life::defects::{
    DETECTION, DefectDraws, DefectFit, DefectQuantity, Model, StageLaw, fit,
};
use sealspan_life::life::Life;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::random::Stream;

const SEED: u64 = 20_261_126;
const LEVEL: f64 = 0.9;

struct Design {
    word: &'static str,
    name: &'static str,
    model: Model,
    defect: (f64, f64),
    delay: (f64, f64),
    plan: LookPlan,
}

fn designs() -> [Design; 5] {
    let plan = LookPlan {
        every: 90.0,
        jitter: 40.0,
        skipped: 0.0,
        until: (400.0, 1200.0),
        entry: 0.0,
        detection: 0.7,
    };
    let design = |word, name, delay_law, shape, plan| Design {
        word,
        name,
        model: Model {
            defect: StageLaw::Weibull,
            delay: delay_law,
            detection: None,
        },
        defect: (2.6, 480.0),
        delay: (shape, 120.0),
        plan,
    };
    let late = LookPlan {
        entry: 300.0,
        ..plan
    };
    let missed = LookPlan {
        skipped: 0.3,
        ..plan
    };
    let blunt = LookPlan {
        detection: 0.4,
        ..plan
    };
    [
        design(
            "constant",
            "constant rate after the defect",
            StageLaw::Exponential,
            1.0,
            plan,
        ),
        design("weibull", "Weibull delay", StageLaw::Weibull, 1.8, plan),
        design(
            "late",
            "Weibull delay, seals already in place",
            StageLaw::Weibull,
            1.8,
            late,
        ),
        design(
            "missed",
            "Weibull delay, three looks in ten not made",
            StageLaw::Weibull,
            1.8,
            missed,
        ),
        design(
            "blunt",
            "Weibull delay, looks that find two in five",
            StageLaw::Weibull,
            1.8,
            blunt,
        ),
    ]
}

/// A parameter: name, its number, the truth on the scale of the fit, and as a quantity.
struct Asked {
    name: &'static str,
    index: usize,
    truth: f64,
    quantity: DefectQuantity,
}

fn asked(d: &Design) -> Vec<Asked> {
    let r = d.plan.detection;
    let ask = |name, index, truth, quantity| Asked {
        name,
        index,
        truth,
        quantity,
    };
    // A Weibull's parameters are reported as shape, scale.
    let law = |i| Quantity::Parameter(i);
    let mut out = vec![
        ask(
            "scale of the defect's age",
            0,
            d.defect.1.ln(),
            DefectQuantity::Defect(law(1)),
        ),
        ask(
            "shape of the defect's age",
            1,
            -d.defect.0.ln(),
            DefectQuantity::Defect(law(0)),
        ),
    ];
    if d.model.delay == StageLaw::Weibull {
        out.push(ask(
            "scale of the delay",
            2,
            d.delay.1.ln(),
            DefectQuantity::Delay(law(1)),
        ));
        out.push(ask(
            "shape of the delay",
            3,
            -d.delay.0.ln(),
            DefectQuantity::Delay(law(0)),
        ));
    } else {
        out.push(ask(
            "scale of the delay",
            2,
            d.delay.1.ln(),
            DefectQuantity::Delay(law(1)),
        ));
    }
    out.push(ask(
        "detection",
        DETECTION,
        (r / (1.0 - r)).ln(),
        DefectQuantity::Detection,
    ));
    out
}

fn own(index: usize, x: f64) -> f64 {
    match index {
        1 | 3 => (-x).exp(),
        DETECTION => 1.0 / (1.0 + (-x).exp()),
        _ => x.exp(),
    }
}

/// Middle over truth, width as a ratio of the ends, and whether the interval lay above or below the truth.
#[derive(Clone, Copy)]
struct Seen {
    ratio: f64,
    width: f64,
    above: bool,
    below: bool,
}

/// An end that the likelihood leaves open misses nothing on its side.
fn profile(fit: &DefectFit, a: &Asked) -> Option<Seen> {
    let b = fit.bounds(a.quantity, LEVEL);
    let truth = own(a.index, a.truth);
    let (lower, upper) = (b.lower.unwrap_or(0.0), b.upper.unwrap_or(f64::INFINITY));
    Some(Seen {
        ratio: own(a.index, fit.theta[a.index]) / truth,
        width: upper / lower,
        above: lower > truth,
        below: upper < truth,
    })
}

fn posterior(draws: &DefectDraws, a: &Asked) -> Option<Seen> {
    let ends = draws.quantiles(a.quantity, &[0.5 - 0.5 * LEVEL, 0.5, 0.5 + 0.5 * LEVEL]);
    let truth = own(a.index, a.truth);
    Some(Seen {
        ratio: ends[1]? / truth,
        width: ends[2]? / ends[0]?,
        above: ends[0]? > truth,
        below: ends[2]? < truth,
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

/// What one fleet showed: whether detection and the delay's spread are at their edge, failures, findings; and each
/// parameter's interval.
type Shown = ([f64; 4], Vec<Option<Seen>>);

fn study(d: &Design, fleets: u64, seals: usize, method: &str) {
    let asked = asked(d);
    let flag = |b: bool| f64::from(u8::from(b));
    let rows: Vec<Option<Shown>> = (0..fleets)
        .into_par_iter()
        .map(|number| {
            let fit = fleet(d, seals, number)?;
            let edges = [fit.detection_at_edge, fit.delay_at_edge].map(flag);
            let counts = [edges[0], edges[1], fit.counts.failed, fit.counts.found];
            let list = if method == "posterior" {
                let draws = DefectDraws::few(&fit, 400, 1).ok()?;
                asked.iter().map(|a| posterior(&draws, a)).collect()
            } else {
                asked.iter().map(|a| profile(&fit, a)).collect()
            };
            Some((counts, list))
        })
        .collect();
    let fitted: Vec<_> = rows.iter().flatten().collect();
    let mean =
        |i: usize| fitted.iter().map(|(c, _)| c[i]).sum::<f64>() / fitted.len().max(1) as f64;
    for (at, a) in asked.iter().enumerate() {
        let mine: Vec<Seen> = fitted
            .iter()
            .filter_map(|(_, list)| list.get(at).copied().flatten())
            .collect();
        let n = mine.len().max(1) as f64;
        let share = |f: fn(&Seen) -> bool| 100.0 * mine.iter().filter(|s| f(s)).count() as f64 / n;
        let (above, below) = (share(|s| s.above), share(|s| s.below));
        let sorted = |f: fn(&Seen) -> f64| {
            let mut all: Vec<f64> = mine.iter().map(f).collect();
            all.sort_by(f64::total_cmp);
            all
        };
        let part = |list: &[f64], p: f64| list.get((p * n) as usize).copied().unwrap_or(f64::NAN);
        let (ratios, widths) = (sorted(|s| s.ratio), sorted(|s| s.width));
        println!(
            "| {} | {seals} | {:.0}, {:.0} | {method} | {} | {:.3} | {:.3} to {:.3} | {:.2} | {:.1} | {above:.1}, {below:.1} | {} of {fleets} | {:.0}, {:.0} |",
            d.name,
            mean(2),
            mean(3),
            a.name,
            part(&ratios, 0.5),
            part(&ratios, 0.05),
            part(&ratios, 0.95),
            part(&widths, 0.5),
            100.0 - above - below,
            mine.len(),
            mean(0) * fitted.len() as f64,
            mean(1) * fitted.len() as f64,
        );
    }
}

fn main() {
    let mut args = std::env::args().skip(1);
    let fleets: u64 = args.next().and_then(|a| a.parse().ok()).unwrap_or(500);
    let seals = args.next().unwrap_or_else(|| "90,300,500".to_owned());
    let wanted = args
        .next()
        .unwrap_or_else(|| "constant,weibull,late,missed,blunt".to_owned());
    let methods = args.next().unwrap_or_else(|| "profile".to_owned());
    println!(
        "| design | seals | failed, found (means) | method | parameter | median of middle/truth | nine in ten | upper over lower end (median) | coverage, % | interval above, below the truth, % | fleets | looks seem perfect, delays alike |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|---|");
    for design in designs() {
        if !wanted.split(',').any(|w| w == design.word) {
            continue;
        }
        for seals in seals.split(',').filter_map(|s| s.parse().ok()) {
            for method in methods.split(',') {
                study(&design, fleets, seals, method);
            }
        }
    }
}
