//! Probability papers: scales on which a family of laws is a straight line.

use sealspan_numeric::special::{ln_normal_survival, normal_quantile};

use super::{Scale, Tick};
use crate::number::NBSP;

/// Weibull paper: the place of a share failed F is ln(−ln(1 − F)).
///
/// Against a logarithmic time axis a Weibull law is a straight line whose
/// slope is its shape. Definition as in IEC 61649.
pub const WEIBULL_PAPER: &dyn Scale = &WeibullPaper;
/// Normal paper: the place of a share failed F is the standard normal
/// quantile of F, by the normal law's definition. Against a logarithmic time axis a lognormal law is straight.
pub const NORMAL_PAPER: &dyn Scale = &NormalPaper;

#[derive(Debug)]
struct WeibullPaper;

#[derive(Debug)]
struct NormalPaper;

/// Shares (in per cent, as text and number) that may carry a tick, the most
/// wanted first. A coarser list is the beginning of a finer one.
const SHARES: [(&str, f64); 17] = [
    ("50", 0.5),
    ("10", 0.1),
    ("90", 0.9),
    ("1", 0.01),
    ("99", 0.99),
    ("0.1", 0.001),
    ("99.9", 0.999),
    ("0.01", 0.0001),
    ("5", 0.05),
    ("20", 0.2),
    ("2", 0.02),
    ("95", 0.95),
    ("70", 0.7),
    ("30", 0.3),
    ("0.5", 0.005),
    ("0.2", 0.002),
    ("80", 0.8),
];

fn share_ticks(scale: &dyn Scale, low: f64, high: f64, wanted: usize) -> Vec<Tick> {
    let (Some(from), Some(to)) = (scale.place(low), scale.place(high)) else {
        return Vec::new();
    };
    let gap = 0.65 * (to - from) / wanted.max(1) as f64;
    let mut kept: Vec<(f64, Tick)> = Vec::new();
    for (text, share) in SHARES {
        let Some(place) = scale.place(share) else {
            continue;
        };
        let inside = share >= low * (1.0 - 1e-9) && share <= high * (1.0 + 1e-9);
        let free = kept.iter().all(|(other, _)| (other - place).abs() >= gap);
        if inside && free && kept.len() <= wanted {
            let text = format!("{text}{NBSP}%");
            kept.push((place, Tick { at: share, text }));
        }
    }
    kept.sort_by(|a, b| a.0.total_cmp(&b.0));
    kept.into_iter().map(|(_, tick)| tick).collect()
}

/// Tenths between the labelled shares, for unlabelled ticks.
fn share_minor_ticks(low: f64, high: f64) -> Vec<f64> {
    let tail = (1..10).flat_map(|lead| [1e-4, 1e-3, 1e-2].map(|unit| f64::from(lead) * unit));
    let tail: Vec<f64> = tail.collect();
    let middle = (1..10).map(|lead| f64::from(lead) * 0.1);
    let upper = tail.iter().map(|share| 1.0 - share);
    let all = tail.iter().copied().chain(middle).chain(upper);
    all.filter(|share| *share >= low && *share <= high)
        .collect()
}

fn widen_shares(scale: &dyn Scale, low: f64, high: f64) -> (f64, f64) {
    match (scale.place(low), scale.place(high)) {
        (Some(from), Some(to)) => {
            let room = ((to - from) * 0.06).max(0.05);
            (scale.value(from - room), scale.value(to + room))
        }
        _ => (0.001, 0.999),
    }
}

impl Scale for WeibullPaper {
    fn name(&self) -> &'static str {
        "Weibull probability"
    }

    fn place(&self, value: f64) -> Option<f64> {
        (value > 0.0 && value < 1.0).then(|| (-(-value).ln_1p()).ln())
    }

    fn value(&self, place: f64) -> f64 {
        -(-place.exp()).exp_m1()
    }

    fn ticks(&self, low: f64, high: f64, wanted: usize) -> Vec<Tick> {
        share_ticks(self, low, high, wanted)
    }

    fn minor_ticks(&self, low: f64, high: f64) -> Vec<f64> {
        share_minor_ticks(low, high)
    }

    fn widen(&self, low: f64, high: f64) -> (f64, f64) {
        widen_shares(self, low, high)
    }
}

impl Scale for NormalPaper {
    fn name(&self) -> &'static str {
        "normal probability"
    }

    fn place(&self, value: f64) -> Option<f64> {
        (value > 0.0 && value < 1.0).then(|| normal_quantile(value))
    }

    fn value(&self, place: f64) -> f64 {
        ln_normal_survival(-place).exp()
    }

    fn ticks(&self, low: f64, high: f64, wanted: usize) -> Vec<Tick> {
        share_ticks(self, low, high, wanted)
    }

    fn minor_ticks(&self, low: f64, high: f64) -> Vec<f64> {
        share_minor_ticks(low, high)
    }

    fn widen(&self, low: f64, high: f64) -> (f64, f64) {
        widen_shares(self, low, high)
    }
}
