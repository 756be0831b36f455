//! Draws of the two laws and of detection that the log leaves possible: what decisions carry forward.

use super::fit::{DefectFit, Problem};
use super::model::{Model, Theta};
use super::moments::{DETECTION, PARAMETERS};
use super::quantity::{DefectQuantity, scaled, unscale};
use crate::fit::NoFit;
use crate::law::{LN_SIGMA, LOCATION, Prior};
use crate::life::Life;
use crate::maximise::{maximise, refine};
use crate::posterior::{Weighted, WithPrior, importance};
use nalgebra::DVector;
use rayon::prelude::*;
use sealspan_numeric::random::Stream;

/// Prior of the logit of detection: about even over 0 to 1.
pub const DETECTION_PRIOR: Prior = Prior { mean: 0.0, sd: 1.8 };

/// The weak priors in words.
pub const PRIORS: &str = "ln scale of the defect's age and of the delay: normal about ln of the oldest age seen, standard deviation 3; ln of 1/shape: normal, mean -0.7, standard deviation 1; detection: about even over 0 to 1";

/// One possible world.
#[derive(Debug, Clone)]
pub struct DefectDraw {
    /// Law of the age at which defects come.
    pub defect: Life,
    /// Law of the delay from defect to failure.
    pub delay: Life,
    /// Probability that a look finds a defect that is there.
    pub detection: f64,
}

/// The posterior under weak proper priors, as weighted points.
#[derive(Debug, Clone)]
pub struct DefectDraws {
    model: Model,
    points: Vec<(Theta, f64)>,
    /// How many independent draws they are worth.
    pub effective: f64,
}

/// Draws at least and at most, and how many likelihood pieces (looks, and five a seal) are worked out in all.
const FEWEST: f64 = 1000.0;
const MOST: f64 = 8000.0;
const PIECES: f64 = 4e6;

impl DefectDraws {
    /// Draws around the fit by importance sampling (see [`crate::posterior`]); where looks that miss nothing fit best,
    /// detection is let free again, and its prior holds it below 1. The same seed gives the same draws.
    ///
    /// # Errors
    /// [`NoFit`] when the posterior has no mode that could be reached.
    pub fn new(fit: &DefectFit, seed: u64) -> Result<Self, NoFit> {
        let model = Model {
            detection: fit.model.detection.filter(|_| !fit.detection_at_edge),
            ..fit.model
        };
        let mut base = fit.theta;
        if fit.detection_at_edge {
            base[DETECTION] = 2.0;
        }
        let oldest = fit.histories.iter().map(|h| h.ended().last());
        let ln_oldest = oldest.fold(f64::MIN_POSITIVE, f64::max).ln();
        let location = Prior {
            mean: LOCATION.mean + ln_oldest,
            ..LOCATION
        };
        let all = [location, LN_SIGMA, location, LN_SIGMA, DETECTION_PRIOR];
        let free = model.free();
        let target = WithPrior {
            priors: free.iter().filter_map(|i| all.get(*i).copied()).collect(),
            problem: Problem {
                model,
                histories: &fit.histories,
                base,
                free,
                seals: fit.counts.seals,
            },
        };
        let start = target.problem.pick(&base);
        let mode = refine(&target, &start)
            .and_then(|m| refine(&target, &m.x))
            .or_else(|_| maximise(&target, &start))
            .map_err(|lost| lost.why)?;
        let root = mode.covariance.clone().cholesky().ok_or(NoFit::Ridge)?.l();
        let centre = DVector::from_column_slice(&mode.x);
        let pieces = fit.counts.sound_looks + 5.0 * fit.counts.seals;
        let draws = (PIECES / pieces).clamp(FEWEST, MOST).round() as u64;
        let (list, effective): (Weighted, Option<f64>) =
            importance(&target, &centre, &root, mode.value, draws, seed);
        let total: f64 = list.iter().map(|p| p.1).sum();
        let points = list
            .into_iter()
            .filter(|p| p.1 > 1e-14 * total)
            .map(|(x, w)| (target.problem.place(&x), w / total))
            .collect();
        Ok(Self {
            model,
            points,
            effective: effective.unwrap_or(0.0),
        })
    }

    /// Quantiles of a quantity at each of `shares`, in its own unit.
    #[must_use]
    pub fn quantiles(&self, quantity: DefectQuantity, shares: &[f64]) -> Vec<Option<f64>> {
        let mut values: Vec<(f64, f64)> = self
            .points
            .par_iter()
            .map(|(theta, weight)| {
                let value = scaled(&self.model, theta, quantity).map_or(f64::NAN, |j| j.value);
                (if value.is_nan() { f64::INFINITY } else { value }, *weight)
            })
            .collect();
        values.sort_by(|a, b| a.0.total_cmp(&b.0));
        let at = |share: f64| {
            let mut sum = 0.0;
            let found = values.iter().find(|(_, w)| {
                sum += w;
                sum >= share
            });
            unscale(&self.model, quantity, found?.0).filter(|v| v.is_finite())
        };
        shares.iter().map(|share| at(*share)).collect()
    }

    /// `count` draws of equal weight, by systematic sampling.
    #[must_use]
    pub fn draws(&self, count: usize, seed: u64) -> Vec<DefectDraw> {
        let shift = Stream::new(seed, 0).uniform();
        let mut points = self.points.iter();
        let mut here = points.next();
        let mut sum = here.map_or(0.0, |p| p.1);
        let mut out = Vec::with_capacity(count);
        for i in 0..count {
            let target = (i as f64 + shift) / count as f64;
            while sum < target {
                let Some(next) = points.next() else { break };
                sum += next.1;
                here = Some(next);
            }
            let drawn = here.and_then(|(theta, _)| {
                let (defect, delay) = self.model.lives(theta)?;
                let detection = 1.0 / (1.0 + (-theta[PARAMETERS - 1]).exp());
                Some(DefectDraw {
                    defect,
                    delay,
                    detection,
                })
            });
            out.extend(drawn);
        }
        out
    }
}
