//! Draws of the two laws and of detection that the log leaves possible: what decisions carry forward.

use super::fit::{DefectFit, LEAST_SPREAD, Problem};
use super::model::{Model, Theta};
use super::moments::{DELAY_SPREAD, DETECTION};
use super::quantity::{DefectQuantity, scaled, unscale};
use crate::fit::NoFit;
use crate::importance::{self, Effort, MOST_ROUNDS, Mode};
use crate::law::{LN_SIGMA, LOCATION, Prior};
use crate::life::Life;
use crate::maximise::{LogLikelihood, approach, information};
use crate::posterior::WithPrior;
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

/// The posterior under weak proper priors, as points of equal weight.
#[derive(Debug, Clone)]
pub struct DefectDraws {
    model: Model,
    points: Vec<Theta>,
    /// How many independent draws they are worth.
    pub effective: f64,
}

/// Draws at least and at most, and how many likelihood pieces (looks, and five a seal) are worked out in all.
const FEWEST: f64 = 400.0;
const MOST: f64 = 3000.0;
const PIECES: f64 = 2e6;
/// Draws of equal weight that are kept.
const KEPT: usize = 1000;

/// Effective draws that are enough, and for logs so large that a round is of the fewest draws.
const ENOUGH: f64 = 1000.0;
const ENOUGH_OF_MANY: f64 = 400.0;
/// Gain of log-likelihood that the way to the mode does not go after.
const NEAR: f64 = 0.01;
/// ln σ of a sharp delay, where a second hill may lie; two tops this near are one; a hill this much lower is left to the
/// t law's wide tails.
const SHARP: f64 = -2.0;
/// Failures and findings, whichever are fewer, from which one hill is taken as all there is (a rule of ours).
const PLAIN: f64 = 60.0;
const SAME: f64 = 0.3;
const LOW: f64 = 5.0;

impl DefectDraws {
    /// Draws around the fit by importance sampling (see [`crate::posterior`]); where looks that miss nothing fit best,
    /// detection is let free again, and its prior holds it below 1. The same seed gives the same draws.
    ///
    /// # Errors
    /// [`NoFit`] when the posterior has no mode that could be reached.
    pub fn new(fit: &DefectFit, seed: u64) -> Result<Self, NoFit> {
        let pieces = fit.counts.sound_looks + 5.0 * fit.counts.seals;
        let affordable = PIECES / pieces;
        let effort = Effort {
            draws: affordable.clamp(FEWEST, MOST).round() as u64,
            rounds: 1,
            most: MOST_ROUNDS,
            enough: if affordable < FEWEST {
                ENOUGH_OF_MANY
            } else {
                ENOUGH
            },
        };
        Self::with(fit, effort, KEPT, seed)
    }

    /// The same in a hurry: `count` draws of equal weight out of two or three times as many, in three rounds at
    /// most. Enough to average decisions over; [`Self::effective`] says how many independent draws they are worth.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn few(fit: &DefectFit, count: usize, seed: u64) -> Result<Self, NoFit> {
        let effort = Effort {
            draws: count as u64,
            rounds: 1,
            most: 3,
            enough: 0.5 * count as f64,
        };
        Self::with(fit, effort, count, seed)
    }

    fn with(fit: &DefectFit, effort: Effort, kept: usize, seed: u64) -> Result<Self, NoFit> {
        let model = Model {
            detection: fit.model.detection.filter(|_| !fit.detection_at_edge),
            ..fit.model
        };
        let mut base = fit.theta;
        if fit.detection_at_edge {
            base[DETECTION] = 2.0;
        }
        if fit.delay_at_edge {
            base[DELAY_SPREAD] = LN_SIGMA.mean;
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
                rough: true,
                sharpest: LEAST_SPREAD,
            },
        };
        let modes = modes(&target, fit, model, base);
        if modes.is_empty() {
            return Err(NoFit::Ridge);
        }
        let drawn = importance::sample(|x| target.value(x), modes, effort, seed);
        let (list, effective) = (drawn.points, drawn.effective);
        let points = systematic(&list, kept, seed);
        Ok(Self {
            model,
            points: points.iter().map(|x| target.problem.place(x)).collect(),
            effective,
        })
    }

    /// Quantiles of a quantity at each of `shares`, in its own unit.
    #[must_use]
    pub fn quantiles(&self, quantity: DefectQuantity, shares: &[f64]) -> Vec<Option<f64>> {
        let mut values: Vec<f64> = self
            .points
            .par_iter()
            .map(|theta| scaled(&self.model, theta, quantity).map_or(f64::INFINITY, |j| j.value))
            .map(|x| if x.is_nan() { f64::INFINITY } else { x })
            .collect();
        values.sort_by(f64::total_cmp);
        let at = |share: f64| {
            let rank = (share * values.len() as f64).floor() as usize;
            let found = values.get(rank.min(values.len().saturating_sub(1)))?;
            unscale(&self.model, quantity, *found).filter(|v| v.is_finite())
        };
        shares.iter().map(|share| at(*share)).collect()
    }

    /// Up to `count` draws, evenly taken from all.
    #[must_use]
    pub fn draws(&self, count: usize) -> Vec<DefectDraw> {
        let step = (self.points.len() / count.max(1)).max(1);
        let taken = self.points.iter().step_by(step).take(count);
        taken
            .filter_map(|theta| {
                let (defect, delay) = self.model.lives(theta)?;
                let detection = 1.0 / (1.0 + (-theta[DETECTION]).exp());
                Some(DefectDraw {
                    defect,
                    delay,
                    detection,
                })
            })
            .collect()
    }
}

/// The hills that the first proposal lies on. It need not lie at their tops to the last digit, but a thin log may have
/// more than one: delays that vary and delays alike, looks that miss much and little.
fn modes(target: &WithPrior<Problem>, fit: &DefectFit, model: Model, base: Theta) -> Vec<Mode> {
    let mut found: Vec<(f64, Mode)> = vec![];
    let plain = fit.counts.failed.min(fit.counts.found) >= PLAIN && !fit.at_edge();
    let (logits, spreads) = if plain { (1, 1) } else { (3, 2) };
    for logit in [base[DETECTION], 0.0, 4.0].into_iter().take(logits) {
        for spread in [base[DELAY_SPREAD], SHARP].into_iter().take(spreads) {
            let mut theta = base;
            theta[DETECTION] = logit;
            theta[DELAY_SPREAD] = spread;
            let start = target.problem.pick(&model.pinned(theta));
            let Some(near) = approach(target, &start, NEAR) else {
                continue;
            };
            let centre = DVector::from_column_slice(&near.x);
            let known = |(_, (other, _)): &(f64, Mode)| (other - &centre).amax() < SAME;
            if found.iter().any(known) {
                continue;
            }
            let shape = information(&target.derivatives(&near.x))
                .try_inverse()
                .and_then(|covariance| covariance.cholesky());
            found.extend(shape.map(|shape| (near.value, (centre, shape))));
        }
    }
    let top = found.iter().map(|f| f.0).fold(f64::NEG_INFINITY, f64::max);
    found.retain(|(value, _)| *value > top - LOW);
    found.into_iter().map(|(_, mode)| mode).collect()
}

/// `count` points of equal weight from weighted ones, by systematic sampling.
fn systematic(list: &[(Vec<f64>, f64)], count: usize, seed: u64) -> Vec<&Vec<f64>> {
    let total: f64 = list.iter().map(|p| p.1).sum();
    let shift = Stream::new(seed, u64::MAX).uniform();
    let mut points = list.iter();
    let mut here = points.next();
    let mut sum = here.map_or(0.0, |p| p.1);
    let mut out = Vec::with_capacity(count);
    for i in 0..count {
        let target = total * (i as f64 + shift) / count as f64;
        while sum < target {
            let Some(next) = points.next() else { break };
            sum += next.1;
            here = Some(next);
        }
        out.extend(here.map(|p| &p.0));
    }
    out
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::defects::fit::fit;
    use crate::defects::model::StageLaw;
    use crate::defects::simulate::{LookPlan, simulate};

    /// As many points as all weights together, which are whole: each point as often as it weighs, wherever the first lies.
    #[test]
    fn points_are_taken_as_often_as_they_weigh() {
        let weights = [3.0, 0.0, 1.0, 4.0, 2.0];
        let list: Vec<_> = (0..5).map(|i| vec![f64::from(i)]).zip(weights).collect();
        for seed in 0..20 {
            let taken = systematic(&list, 10, seed);
            let want: Vec<f64> = vec![0.0, 0.0, 0.0, 2.0, 3.0, 3.0, 3.0, 3.0, 4.0, 4.0];
            let taken: Vec<f64> = taken.into_iter().flatten().copied().collect();
            assert_eq!(taken, want, "{seed}");
        }
    }

    /// A fit to 25 invented seals: too few failures for one hill to be taken as all there is.
    fn thin(delay: StageLaw, detection: Option<f64>, seed: u64) -> DefectFit {
        let plan = LookPlan {
            every: 60.0,
            jitter: 20.0,
            skipped: 0.0,
            until: (300.0, 800.0),
            entry: 0.0,
            detection: 0.6,
        };
        let laws = (
            Life::exponential(500.0).unwrap(),
            Life::weibull(1.5, 100.0).unwrap(),
        );
        let mut stream = Stream::new(seed, 0);
        let list = (0..25).filter_map(|_| simulate(&laws.0, &laws.1, &plan, &mut stream));
        let model = Model {
            defect: StageLaw::Exponential,
            delay,
            detection,
        };
        fit(model, list.collect()).unwrap()
    }

    /// Hills around a fit under priors about age e⁶.
    fn hills(fit: &DefectFit) -> Vec<DVector<f64>> {
        let location = Prior {
            mean: 6.0,
            ..LOCATION
        };
        let all = [location, LN_SIGMA, location, LN_SIGMA, DETECTION_PRIOR];
        let target = WithPrior {
            priors: fit
                .model
                .free()
                .iter()
                .filter_map(|i| all.get(*i).copied())
                .collect(),
            problem: Problem {
                rough: true,
                sharpest: LEAST_SPREAD,
                ..fit.problem()
            },
        };
        let list = modes(&target, fit, fit.model, fit.theta);
        for (top, _) in &list {
            // A step to the top itself would gain no more than is left out.
            let here = target.derivatives(top.as_slice());
            let shape = information(&here).cholesky().unwrap();
            let slope = DVector::from_vec(here.gradient);
            assert!(0.5 * slope.dot(&shape.solve(&slope)) < NEAR);
        }
        list.into_iter().map(|mode| mode.0).collect()
    }

    /// Delays that vary, and delays alike: two tops of a log of which either may be so. Where there is but one, all starts
    /// lead to it, and it is kept once.
    #[test]
    fn hills_are_found_from_all_starts_and_kept_once() {
        let two = hills(&thin(StageLaw::Weibull, Some(0.6), 8));
        assert_eq!(two.len(), 2, "{two:?}");
        let ends = two.first().zip(two.last());
        assert!(ends.is_some_and(|(a, b)| (a - b).amax() > 1.0), "{two:?}");
        let one = hills(&thin(StageLaw::Exponential, Some(0.6), 0));
        assert_eq!(one.len(), 1, "{one:?}");
    }
}
