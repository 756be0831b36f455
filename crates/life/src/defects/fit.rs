//! Maximum likelihood of a defect model, or why there is none and which record would mend that.

use super::counts::{Counts, NoDefectFit};
use super::integral::Point;
use super::likelihood::total;
use super::model::{Model, Theta};
use super::moments::{DETECTION, PARAMETERS};
use super::starts::starts;
use crate::fit::NoFit;
use crate::life::Life;
use crate::maximise::{LogLikelihood, Near, approach, maximise, refine};
use crate::quantity::Derivatives;
use nalgebra::DMatrix;
use sealspan_records::history::History;
use std::sync::Arc;

/// A fitted defect model.
#[derive(Debug, Clone)]
pub struct DefectFit {
    /// The model; its detection is stated as 1 where `detection_at_edge`.
    pub model: Model,
    /// The estimate.
    pub theta: Theta,
    /// Covariance of all parameters from the observed information; zero where stated.
    pub covariance: DMatrix<f64>,
    /// Log-likelihood at the estimate.
    pub log_likelihood: f64,
    /// The likelihood of detection still rises at 1: looks that miss nothing fit best.
    pub detection_at_edge: bool,
    /// What the histories hold.
    pub counts: Counts,
    /// The histories, equal ones merged.
    pub histories: Arc<Vec<History>>,
}

/// The log-likelihood over the free parameters.
pub(super) struct Problem<'a> {
    pub(super) model: Model,
    pub(super) histories: &'a [History],
    pub(super) base: Theta,
    pub(super) free: Vec<usize>,
    pub(super) seals: f64,
    /// Whether integrals to about 1e-5 are enough.
    pub(super) rough: bool,
}

impl Problem<'_> {
    fn point(&self, theta: &Theta) -> Point {
        if self.rough {
            Point::rough(theta)
        } else {
            Point::new(theta)
        }
    }

    /// Detection towards 1, a stage a thousand times the other or beyond, or a spread that is none.
    fn ran_off(&self, theta: &Theta) -> bool {
        let [defect, a, delay, b, logit] = *theta;
        (self.model.detection.is_none() && logit > RUN_OFF)
            || (delay - defect).abs() > FAR_APART
            || [a, b].iter().any(|s| !SPREADS.contains(s))
    }

    pub(super) fn place(&self, x: &[f64]) -> Theta {
        let mut theta = self.base;
        for (i, value) in self.free.iter().zip(x) {
            theta[*i] = *value;
        }
        theta
    }

    pub(super) fn pick(&self, whole: &[f64]) -> Vec<f64> {
        let at = |i: &usize| whole.get(*i).copied().unwrap_or(0.0);
        self.free.iter().map(at).collect()
    }

    pub(super) fn picked(&self, d: &Derivatives) -> Derivatives {
        let rows = self.free.iter().filter_map(|i| d.hessian.get(*i));
        Derivatives {
            value: d.value,
            gradient: self.pick(&d.gradient),
            hessian: rows.map(|row| self.pick(row)).collect(),
        }
    }
}

impl LogLikelihood for Problem<'_> {
    fn value(&self, x: &[f64]) -> f64 {
        let point = self.point(&self.place(x));
        total(self.model.term(), point, self.histories, false).value
    }
    /// Not a number once a parameter has run off, which ends a climb that leads nowhere.
    fn derivatives(&self, x: &[f64]) -> Derivatives {
        let theta = self.place(x);
        let point = self.point(&theta);
        let mut whole = total(self.model.term(), point, self.histories, true);
        if self.ran_off(&theta) {
            whole.value = f64::NAN;
        }
        self.picked(&whole)
    }
    fn weight(&self) -> f64 {
        self.seals
    }
}

/// Fits a defect model to histories.
///
/// # Errors
/// [`NoDefectFit`], saying what the log does not tell; [`NoDefectFit::cure`] names the record that would.
pub fn fit(model: Model, histories: Vec<History>) -> Result<DefectFit, NoDefectFit> {
    let histories = Arc::new(History::reduce(histories));
    let counts = Counts::of(&histories);
    exists(&counts)?;
    match climb(model, &histories, &counts) {
        Ok(found) if found.1[DETECTION] < PERFECT => Ok(found.0),
        Err(why) if model.detection.is_some() => Err(NoDefectFit::NoMaximum(why)),
        Ok(found) if model.detection.is_some() => Ok(found.0),
        lost => {
            let perfect = Model {
                detection: Some(1.0),
                ..model
            };
            let (mut fit, _) = climb(perfect, &histories, &counts)
                .map_err(|why| NoDefectFit::NoMaximum(lost.err().unwrap_or(why)))?;
            fit.detection_at_edge = true;
            Ok(fit)
        }
    }
}

/// Logit of a detection that is as good as 1 (0.9999), and one at which a climb is given up.
const PERFECT: f64 = 9.2;
const RUN_OFF: f64 = 14.0;
/// ln of the ratio of the two stages' scales, and range of ln σ, beyond which a climb is given up.
const FAR_APART: f64 = 7.5;
const SPREADS: std::ops::RangeInclusive<f64> = -5.0..=2.5;
/// Starts that are followed uphill.
const FOLLOWED: usize = 3;
/// Gain of log-likelihood that a climb by rough integrals does not go after, and one by exact ones.
const ROUGHLY: f64 = 0.01;
const EXACTLY: f64 = 1e-8;
/// Looks beyond which the slow fallback is not tried.
const SLOW: f64 = 2_000.0;

fn exists(c: &Counts) -> Result<(), NoDefectFit> {
    if c.seals <= 0.0 {
        return Err(NoDefectFit::Empty);
    }
    match (c.failed > 0.0, c.found > 0.0) {
        (false, false) => Err(NoDefectFit::NothingHappened { seals: c.seals }),
        (true, false) => Err(NoDefectFit::NoFindings { failed: c.failed }),
        (false, true) => Err(NoDefectFit::NoFailures { found: c.found }),
        (true, true) if c.sound_looks <= 0.0 => Err(NoDefectFit::NoSoundLooks { found: c.found }),
        _ => Ok(()),
    }
}

fn climb(
    model: Model,
    histories: &Arc<Vec<History>>,
    counts: &Counts,
) -> Result<(DefectFit, Theta), NoFit> {
    let mut problem = Problem {
        model,
        histories,
        base: model.pinned([0.0; PARAMETERS]),
        free: model.free(),
        seals: counts.seals,
        rough: true,
    };
    let mut ranked: Vec<(f64, Theta)> = starts(model, histories)
        .into_iter()
        .map(|theta| (problem.value(&problem.pick(&theta)), theta))
        .filter(|(value, _)| value.is_finite())
        .collect();
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut best: Option<(Near, Theta)> = None;
    for (_, theta) in ranked.iter().take(FOLLOWED) {
        problem.base = *theta;
        let Some(found) = approach(&problem, &problem.pick(theta), ROUGHLY) else {
            continue;
        };
        let lead = best.as_ref().map(|(b, _)| found.value - b.value);
        if lead.is_none_or(|lead| lead > ROUGHLY) {
            best = Some((found, *theta));
        } else if lead.is_some_and(|lead| lead.abs() <= ROUGHLY) {
            break;
        }
    }
    problem.rough = false;
    let near = best.map(|(near, theta)| {
        problem.base = theta;
        near.x
    });
    let first = ranked.first().map_or(problem.base, |(_, theta)| *theta);
    let start = near.clone().unwrap_or_else(|| problem.pick(&first));
    // With detection free a climb that fails mostly runs off towards 1, and a slower one would too.
    let slowly = model.detection.is_some() && counts.sound_looks + counts.seals < SLOW;
    let maximum = match refine(&problem, &start).and_then(|m| refine(&problem, &m.x)) {
        Err(_) if slowly => maximise(&problem, &start),
        other => other,
    }
    .map_err(|lost| lost.why)?;
    let theta = problem.place(&maximum.x);
    let mut covariance = DMatrix::zeros(PARAMETERS, PARAMETERS);
    for (i, a) in problem.free.iter().enumerate() {
        for (j, b) in problem.free.iter().enumerate() {
            covariance[(*a, *b)] = maximum.covariance[(i, j)];
        }
    }
    let fit = DefectFit {
        model,
        theta,
        covariance,
        log_likelihood: maximum.value,
        detection_at_edge: false,
        counts: *counts,
        histories: Arc::clone(histories),
    };
    Ok((fit, theta))
}

impl DefectFit {
    /// The fitted laws: of the defect's age, and of the delay.
    #[must_use]
    pub fn lives(&self) -> Option<(Life, Life)> {
        self.model.lives(&self.theta)
    }

    /// Probability that a look finds a defect that is there: estimated or stated.
    #[must_use]
    pub fn detection(&self) -> f64 {
        1.0 / (1.0 + (-self.theta[DETECTION]).exp())
    }

    /// How far the log-likelihood has fallen at best with parameter number `index` held at `value`: the
    /// interval at confidence c holds all values where it is at most half the chi-square quantile (1 df). `None` where no
    /// best was found.
    #[must_use]
    pub fn fall_at(&self, index: usize, value: f64) -> Option<f64> {
        let open = Model {
            detection: self.model.detection.filter(|_| !self.detection_at_edge),
            ..self.model
        };
        let perfect = Model {
            detection: Some(1.0),
            ..self.model
        };
        let tried = [
            Some(open),
            (open.detection.is_none() && index != DETECTION).then_some(perfect),
        ];
        let best = tried.into_iter().flatten().filter_map(|model| {
            let mut near = self.theta;
            if model.detection.is_none() && self.detection_at_edge {
                near[DETECTION] = 2.0;
            }
            let mut moved = near;
            let variance = self.covariance[(index, index)];
            if variance > 0.0 {
                // Where a normal law would have the others.
                let step = (value - self.theta[index]) / variance;
                for (i, x) in moved.iter_mut().enumerate() {
                    *x += step * self.covariance[(i, index)];
                }
            }
            // The likelihood may have a second hill at this value.
            let mut bases = starts(model, &self.histories);
            bases.extend([moved, near].map(|theta| model.pinned(theta)));
            self.best_with(model, index, value, &bases)
        });
        let top = best.fold(f64::NEG_INFINITY, f64::max);
        top.is_finite().then_some(self.log_likelihood - top)
    }

    /// The greatest log-likelihood with parameter `index` held at `value`, sought from the best of `bases`.
    fn best_with(&self, model: Model, index: usize, value: f64, bases: &[Theta]) -> Option<f64> {
        let mut problem = self.problem();
        problem.model = model;
        problem.free = model.free();
        problem.free.retain(|i| *i != index);
        problem.rough = true;
        let mut best: Option<(Near, Theta)> = None;
        let mut ranked: Vec<(f64, Theta)> = bases
            .iter()
            .map(|base| {
                let mut base = *base;
                base[index] = value;
                problem.base = base;
                (problem.value(&problem.pick(&base)), base)
            })
            .filter(|(value, _)| value.is_finite())
            .collect();
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
        for (_, base) in ranked.iter().take(FOLLOWED) {
            problem.base = *base;
            let found = approach(&problem, &problem.pick(base), ROUGHLY);
            if let Some(found) = found
                && best.as_ref().is_none_or(|(b, _)| found.value > b.value)
            {
                best = Some((found, *base));
            }
        }
        let (near, base) = best?;
        problem.rough = false;
        problem.base = base;
        approach(&problem, &near.x, EXACTLY).map(|m| m.value)
    }

    pub(super) fn problem(&self) -> Problem<'_> {
        Problem {
            model: self.model,
            histories: &self.histories,
            base: self.theta,
            free: self.model.free(),
            seals: self.counts.seals,
            rough: false,
        }
    }

    /// Correlation of two parameters' estimates; 0 where one is stated.
    #[must_use]
    pub fn correlation(&self, i: usize, j: usize) -> f64 {
        let c = &self.covariance;
        let scale = (c[(i, i)] * c[(j, j)]).sqrt();
        if scale > 0.0 { c[(i, j)] / scale } else { 0.0 }
    }
}
