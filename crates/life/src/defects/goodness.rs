//! Findings and failures against what the fitted model expects, look by look.

use super::fit::DefectFit;
use super::integral::Point;
use super::likelihood::Term;
use rayon::prelude::*;
use sealspan_numeric::special::chi_square_survival;
use sealspan_records::history::{Ended, History};

/// Looks by number: the first, the second, ... and the last band open.
const BANDS: [(usize, usize); 6] = [(1, 1), (2, 2), (3, 3), (4, 5), (6, 9), (10, usize::MAX)];

/// What happened at looks of these numbers and in the time before each, beside what was to be expected of
/// the seals that got there. Looks count from the start of watching.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LookBand {
    /// First look number.
    pub from: usize,
    /// Last look number; `None` for all later ones.
    pub to: Option<usize>,
    /// Looks at seals that had not failed.
    pub looks: f64,
    /// Defects found.
    pub found: f64,
    /// Defects expected to be found.
    pub found_expected: f64,
    /// Failures since the look before.
    pub failed: f64,
    /// Failures expected.
    pub failed_expected: f64,
}

/// Observed against expected by number of look. Expected findings are sums of the chance at each look given
/// what was seen before; expected failures are sums of the hazard gathered while watched.
#[must_use]
pub fn by_look(fit: &DefectFit) -> Vec<LookBand> {
    let (term, point) = (fit.model.term(), Point::new(&fit.theta));
    let parts: Vec<[LookBand; BANDS.len()]> = fit
        .histories
        .par_iter()
        .map(|history| one(term, &point, history))
        .collect();
    let mut out = empty();
    for part in parts {
        for (sum, band) in out.iter_mut().zip(part) {
            sum.looks += band.looks;
            sum.found += band.found;
            sum.found_expected += band.found_expected;
            sum.failed += band.failed;
            sum.failed_expected += band.failed_expected;
        }
    }
    out.into_iter()
        .filter(|b| b.looks > 0.0 || b.failed_expected > 1e-9)
        .collect()
}

/// Pearson's comparison of findings and failures with what was expected, over all bands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// Σ (observed − expected)²/expected over the cells that expect [`ENOUGH`] or more.
    pub statistic: f64,
    /// Cells less estimated parameters.
    pub df: f64,
    /// Probability of as much by chance (chi-square law: a rough guide, since the cells are not independent).
    pub p_value: f64,
}

/// Expected count from which a cell is compared (common practice, no source).
pub const ENOUGH: f64 = 5.0;

/// The comparison; `None` with too few cells.
#[must_use]
pub fn agreement(fit: &DefectFit, bands: &[LookBand]) -> Option<Agreement> {
    let cells = bands
        .iter()
        .flat_map(|b| [(b.found, b.found_expected), (b.failed, b.failed_expected)]);
    let terms: Vec<f64> = cells
        .filter(|(_, expected)| *expected >= ENOUGH)
        .map(|(seen, expected)| (seen - expected).powi(2) / expected)
        .collect();
    let df = terms.len() as f64 - fit.model.free().len() as f64;
    let statistic: f64 = terms.iter().sum();
    (df >= 1.0).then(|| Agreement {
        statistic,
        df,
        p_value: chi_square_survival(statistic, df),
    })
}

fn empty() -> [LookBand; BANDS.len()] {
    BANDS.map(|(from, to)| LookBand {
        from,
        to: (to < usize::MAX).then_some(to),
        ..LookBand::default()
    })
}

fn one(term: Term, point: &Point, history: &History) -> [LookBand; BANDS.len()] {
    let mut out = empty();
    let n = history.count();
    let entry = history.entry();
    let before = history.looks().partition_point(|look| *look < entry);
    let ended = history.ended();
    // ln of the chance to have come to an end so, after the first `known` looks.
    let ln = |known: usize, ended: Ended| {
        let looks = history.looks().get(..known).unwrap_or(&[]).to_vec();
        History::new(0.0, looks, ended, 1.0).map_or(f64::NAN, |h| (term.value)(point, &h))
    };
    let mut start = if entry > 0.0 {
        ln(before, Ended::Running(entry))
    } else {
        0.0
    };
    let mut add = |number: usize, change: &dyn Fn(&mut LookBand)| {
        let here = BANDS.iter().position(|(a, b)| (*a..=*b).contains(&number));
        if let Some(band) = here.and_then(|at| out.get_mut(at)) {
            change(band);
        }
    };
    for known in before..history.looks().len() {
        let age = history.looks().get(known).copied().unwrap_or(entry);
        let alive = ln(known, Ended::Running(age));
        let chance = (ln(known, Ended::Found(age)) - alive).exp();
        add(known - before + 1, &|b| {
            b.looks += n;
            b.found_expected += n * chance;
            b.failed_expected += n * (start - alive);
        });
        start = ln(known + 1, Ended::Running(age));
    }
    let known = history.looks().len();
    let number = known - before + 1;
    match ended {
        Ended::Running(t) => {
            let hazard = start - ln(known, Ended::Running(t));
            add(number, &|b| b.failed_expected += n * hazard.max(0.0));
        }
        Ended::Failed(t) => {
            let hazard = start - ln(known, Ended::Running(t));
            add(number, &|b| {
                b.failed += n;
                b.failed_expected += n * hazard;
            });
        }
        Ended::FailedBetween(_, t) => {
            let share = -(ln(known, Ended::Running(t)) - start).exp_m1();
            add(number, &|b| {
                b.failed += n;
                b.failed_expected += n * share;
            });
        }
        Ended::Found(t) => {
            let alive = ln(known, Ended::Running(t));
            let chance = (ln(known, Ended::Found(t)) - alive).exp();
            add(number, &|b| {
                b.looks += n;
                b.found += n;
                b.found_expected += n * chance;
                b.failed_expected += n * (start - alive);
            });
        }
    }
    out
}
