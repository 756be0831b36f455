//! Whether two materials of one regression differ: the ratio of their lives, with the errors they share cancelled.

use super::DRAWS;
use crate::wire::Number;
use crate::wire::compare::Fitted;
use crate::wire::materials::HerePair;
use nalgebra::DVector;
use sealspan_life::life::Life;
use sealspan_life::regression::{Place, Regression};
use sealspan_numeric::random::Stream;

/// Mean lives of one material at the conditions, one for each draw of the regression. The same draw serves every
/// material, so what they have in common cancels in a ratio.
pub(super) struct Drawn {
    material: String,
    estimate: f64,
    /// One for each draw; none where the regression has no covariance.
    draws: Vec<f64>,
}

impl Drawn {
    /// Draws from the normal approximation to the regression, with the covariance that allows for like seals of one
    /// asset where there is one.
    pub(super) fn of(fitted: &Fitted, place: &Place, material: &str, seed: u64) -> Self {
        let fit = &fitted.regression;
        let mean = |x: Vec<f64>| {
            let fit = Regression { x, ..fit.clone() };
            let theta = fit.theta(&place.row, place.offset, place.stratum);
            Life::new(fit.family, theta).mean()
        };
        let robust = fitted.robust.as_ref().map(|r| &r.covariance);
        let covariance = robust.unwrap_or(&fit.covariance).clone();
        let root = covariance.cholesky().map(|c| c.l());
        let draw = |i: usize| {
            let root = root.as_ref()?;
            let mut stream = Stream::new(seed, i as u64);
            let z = DVector::from_fn(fit.x.len(), |_, _| stream.normal());
            let step = root * z;
            Some(mean(
                fit.x.iter().zip(step.iter()).map(|(x, s)| x + s).collect(),
            ))
        };
        Self {
            material: material.to_owned(),
            estimate: mean(fit.x.clone()),
            draws: (0..PAIR_DRAWS).filter_map(draw).collect(),
        }
    }
}

/// Draws behind each ratio: more than behind a cost, since a verdict hangs on its ends.
const PAIR_DRAWS: usize = 10 * DRAWS;

/// The ratio of every two, the one named first over the other.
pub(super) fn pairs(drawn: &[Drawn], confidence: f64) -> Vec<HerePair> {
    let mut out = vec![];
    for (at, a) in drawn.iter().enumerate() {
        for b in drawn.iter().skip(at + 1) {
            out.push(HerePair {
                of: a.material.clone(),
                to: b.material.clone(),
                life_ratio: ratio(a, b, confidence),
            });
        }
    }
    out
}

fn ratio(a: &Drawn, b: &Drawn, confidence: f64) -> Number {
    let estimate = a.estimate / b.estimate;
    if !estimate.is_finite() {
        return Number {
            reason: Some("one of the two has no mean life here".to_owned()),
            ..Number::default()
        };
    }
    let draws = a.draws.iter().zip(&b.draws).map(|(a, b)| a / b);
    Number::of_draws(
        estimate,
        draws.filter(|r| r.is_finite()).collect(),
        confidence,
    )
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn drawn(material: &str, shift: f64) -> Drawn {
        // A large error that both share, and a small one of its own.
        let draws = (0..200).map(|i| {
            let common = 0.5 * f64::from(i % 20 - 10) / 10.0;
            (shift + common).exp()
        });
        Drawn {
            material: material.to_owned(),
            estimate: shift.exp(),
            draws: draws.collect(),
        }
    }

    /// Both lives are uncertain by a factor of e either way and their intervals overlap widely; the error is
    /// shared, so that the ratio is known.
    #[test]
    fn shared_errors_cancel() {
        let found = pairs(&[drawn("FKM", 0.3), drawn("EPDM", 0.0)], 0.95);
        let r = &found[0].life_ratio;
        assert!((r.estimate.unwrap() - 0.3_f64.exp()).abs() < 1e-12);
        assert!(r.lower.unwrap() > 1.34 && r.upper.unwrap() < 1.36, "{r:?}");
    }
}
