//! The share of defects that regular looks find before they fail.

use super::integral::Point;
use super::model::StageLaw;
use super::moments::{DETECTION, Moments, PARAMETERS, Sum as _};
use super::stage::{Local, Stage};
use crate::law::Law;
use crate::laws::{log_logistic::LogLogistic, lognormal::Lognormal, weibull::Weibull};
use sealspan_numeric::jet::Jet;
use sealspan_numeric::quadrature::{END_RULE, LEGENDRE};

/// e^−45 of the first look adds nothing.
const NEGLIGIBLE: f64 = -45.0;
/// Looks ahead at most.
const FARTHEST: f64 = 1e6;

/// ln of the share found when looks come every `every` and the defect at any time between two of them
/// (Christer & Waller 1984; formula derived): (r/τ) Σₙ (1 − r)ⁿ⁻¹ ∫ S_H over ((n − 1)τ, nτ).
pub(super) fn ln_caught(delay: StageLaw, point: &Point, every: f64) -> Jet<PARAMETERS> {
    match delay {
        StageLaw::Exponential | StageLaw::Weibull => of::<Weibull>(point, every),
        StageLaw::Lognormal => of::<Lognormal>(point, every),
        StageLaw::LogLogistic => of::<LogLogistic>(point, every),
    }
}

fn of<H: Law<2>>(point: &Point, every: f64) -> Jet<PARAMETERS> {
    let r = point.detection;
    let mut sum = Moments::EMPTY;
    let mut looks = 0.0;
    while looks < FARTHEST {
        let ln = if looks > 0.0 {
            looks * point.ln_missed
        } else {
            0.0
        };
        let from = looks * every;
        let alive = if from > 0.0 {
            point.delay.ln_survival::<H>(from.ln()).value
        } else {
            0.0
        };
        if ln + alive < NEGLIGIBLE {
            break;
        }
        let part = survival_between::<H>(&point.delay, from, from + every);
        sum.add_all(&part, ln, -looks * r, -looks * r * (1.0 - r));
        looks += 1.0;
    }
    let mut out = sum.ln();
    out.value += r.ln() - every.ln();
    out.gradient[DETECTION] += 1.0 - r;
    out.hessian[DETECTION][DETECTION] -= r * (1.0 - r);
    out
}

/// ∫ S over (a, b), in pieces no longer than a part of the law's own width.
fn survival_between<H: Law<2>>(stage: &Stage, a: f64, b: f64) -> Moments {
    let mut sum = Moments::EMPTY;
    let none = Local {
        value: 0.0,
        first: [0.0; 2],
        second: [0.0; 3],
    };
    let longest = 0.5 * stage.width();
    let mut low = a;
    while low < b {
        let high = (low + longest).min(b);
        let high = if b - high < 0.1 * longest { b } else { high };
        let width = high - low;
        let mut node = |t: f64, weight: f64| {
            let here = stage.ln_survival::<H>(t.ln());
            if here.value > f64::NEG_INFINITY {
                sum.add(here.value + weight.ln(), &none, &here);
            }
        };
        if low == 0.0 {
            for n in END_RULE.iter() {
                node(width * n.left, width * n.weight);
            }
        } else {
            for (x, weight) in LEGENDRE.iter() {
                node(low + 0.5 * width * (1.0 + x), 0.5 * width * weight);
            }
        }
        if stage.ln_survival::<H>(high.ln()).value < 2.0 * NEGLIGIBLE {
            break;
        }
        low = high;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shares found by looks against the sum over looks of fine sums of survival, in units in which the delay is small,
    /// about 1, and large.
    #[test]
    fn shares_found_are_sums_over_looks_in_any_unit() {
        let (r, shape) = (0.6_f64, 8.0_f64);
        for every in [0.4, 0.9, 1.7] {
            let mut want = 0.0;
            let steps = 20_000;
            let width = every / f64::from(steps);
            for look in 0..30 {
                let from = f64::from(look) * every;
                let survival = |i: i32| (-(from + width * (f64::from(i) + 0.5)).powf(shape)).exp();
                let sum: f64 = (0..steps).map(survival).sum();
                want += r * (1.0 - r).powi(look) * sum * width / every;
            }
            for unit in [1e-3, 1.0, 1e3_f64] {
                let theta = [0.0, 0.0, unit.ln(), -shape.ln(), (r / (1.0 - r)).ln()];
                let found = ln_caught(StageLaw::Weibull, &Point::new(&theta), every * unit);
                let found = found.value.exp();
                assert!(
                    (found / want - 1.0).abs() < 1e-6,
                    "{every} {unit}: {found} {want}"
                );
            }
        }
    }
}
