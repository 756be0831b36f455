//! How often do the intervals of lives averaged over the families hold the truth? Plain counting.
//!
//! `cargo run --release --example averaged -- SAMPLES LAW,.. SEALS CENSORED` prints rows of the table in
//! `tests/coverage/averaged.md`: the 90 % interval of the B10 life as `fit --family all` makes it, beside that of the
//! family with the best AICc alone and that of the law the lives were drawn from. The seed is fixed; the samples are
//! invented.
#![allow(clippy::print_stdout)]

#[allow(dead_code)]
pub mod design;

use design::{Design, Watch};
use rayon::prelude::*;
use sealspan_life::laws::usual;
use sealspan_report::wire::fit::{Detail, FitOptions, GroupFit, Refitted, group};
use sealspan_report::wire::{GroupKey, Number};

const LEVEL: f64 = 0.9;
/// The share failed whose age is asked.
const SHARE: f64 = 0.1;

fn options() -> FitOptions {
    FitOptions {
        unit: "days",
        families: usual().to_vec(),
        bounds: None,
        confidence: LEVEL,
        quantiles: vec![SHARE],
        at: vec![],
        ages_now: vec![],
        shape: None,
        residuals: false,
        refitted: Refitted::Every,
        detail: Detail::Whole,
        seed: 1,
    }
}

/// What one interval did.
#[derive(Clone, Copy)]
enum Seen {
    /// Both ends lie about the truth.
    Holds,
    /// The lower end lies above the truth.
    Below,
    /// The upper end lies below the truth.
    Above,
    /// There is none.
    Absent,
}

/// An open end holds everything on its side, unless both are open.
fn seen(number: Option<&Number>, truth: f64) -> Seen {
    let ends = number.map(|n| (n.lower, n.upper));
    match ends {
        None | Some((None, None)) => Seen::Absent,
        Some((Some(lower), _)) if lower > truth => Seen::Below,
        Some((_, Some(upper))) if upper < truth => Seen::Above,
        Some(_) => Seen::Holds,
    }
}

/// The averaged interval, the best family's, and the own law's.
fn one(design: &Design, number: u64) -> [Seen; 3] {
    let GroupFit { fits, choice, .. } = group(GroupKey(vec![]), &design.sample(number), &options());
    let of = |name: Option<&str>| {
        let fit = fits.iter().find(|f| Some(f.family) == name)?;
        fit.quantiles.first().map(|q| &q.number)
    };
    let averaged = choice.as_ref().and_then(|c| c.averaged_quantiles.first());
    let best = choice.as_ref().and_then(|c| c.weights.first());
    let numbers = [
        averaged.map(|a| &a.number),
        of(best.map(|w| w.family)),
        of(Some(design.life.family())),
    ];
    let truth = design.life.quantile(SHARE);
    numbers.map(|number| seen(number, truth))
}

/// One row of the table.
fn row(design: &Design, samples: u64) -> String {
    let all: Vec<[Seen; 3]> = (0..samples)
        .into_par_iter()
        .map(|number| one(design, number))
        .collect();
    let cell = |which: usize| {
        let count = |wanted: fn(Seen) -> bool| {
            let of = all.iter().filter_map(|seen| seen.get(which));
            of.filter(|seen| wanted(**seen)).count() as f64
        };
        let absent = count(|s| matches!(s, Seen::Absent));
        let had = samples as f64 - absent;
        let (below, above) = (
            count(|s| matches!(s, Seen::Below)) / had,
            count(|s| matches!(s, Seen::Above)) / had,
        );
        let held = 1.0 - below - above;
        let error = 100.0 * (held * (1.0 - held) / had).sqrt();
        format!(
            "{:.1}, {:.1}; {:.1} ± {error:.1} ({absent:.0})",
            100.0 * below,
            100.0 * above,
            100.0 * held
        )
    };
    format!(
        "| {} | {} | {:.0} % | {:.0} | {} | {} | {} | {samples} |",
        design.life.family(),
        design.seals,
        100.0 * design.censored,
        design.failures(),
        cell(0),
        cell(1),
        cell(2),
    )
}

fn main() {
    let mut args = std::env::args().skip(1);
    let mut next = |usual: &str| args.next().unwrap_or_else(|| usual.into());
    let samples: u64 = next("200").parse().unwrap_or(200);
    let laws = next("weibull,lognormal,gamma");
    let seals: usize = next("20").parse().unwrap_or(20);
    let censored: f64 = next("0.3").parse().unwrap_or(0.3);
    println!(
        "| lives drawn from | seals | censored | failures expected | averaged | best AICc alone | own law | samples |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    for law in laws.split(',') {
        if let Some(design) = Design::new(law, seals, censored, Watch::OneEnd) {
            println!("{}", row(&design, samples));
        }
    }
}
