//! Maximum likelihood of a defect model, or why there is none and which record would mend that.

use super::counts::{Counts, NoDefectFit};
use super::likelihood::total;
use super::model::{Model, Theta};
use super::moments::{DETECTION, PARAMETERS};
use super::starts::starts;
use crate::fit::NoFit;
use crate::life::Life;
use crate::maximise::{LogLikelihood, Maximum, maximise, refine};
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
}

impl Problem<'_> {
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
        total(self.model.term(), &self.place(x), self.histories, false).value
    }
    /// Not a number once a parameter has run off, which ends a climb that leads nowhere.
    fn derivatives(&self, x: &[f64]) -> Derivatives {
        let theta = self.place(x);
        let mut whole = total(self.model.term(), &theta, self.histories, true);
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
    };
    let mut ranked: Vec<(f64, Theta)> = starts(model, histories)
        .into_iter()
        .map(|theta| (problem.value(&problem.pick(&theta)), theta))
        .filter(|(value, _)| value.is_finite())
        .collect();
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut best: Option<Maximum> = None;
    let mut lost = NoFit::NotReached { slope: f64::NAN };
    for (_, theta) in ranked.iter().take(FOLLOWED) {
        problem.base = *theta;
        let start = problem.pick(theta);
        // The second pass squares what error the first left.
        let up = refine(&problem, &start).and_then(|m| refine(&problem, &m.x));
        let up = match up {
            // With detection free a climb that fails mostly runs off towards 1, and a slower one would too.
            Err(_)
                if model.detection.is_some()
                    && counts.sound_looks + counts.seals < SLOW
                    && best.is_none() =>
            {
                maximise(&problem, &start)
            }
            other => other,
        };
        match up {
            Ok(found) => {
                let better = best.as_ref().is_none_or(|b| found.value > b.value + 1e-9);
                let same = best
                    .as_ref()
                    .is_some_and(|b| (found.value - b.value).abs() < 1e-6);
                if better {
                    best = Some(found);
                }
                if same {
                    break;
                }
            }
            Err(l) => lost = l.why,
        }
    }
    let maximum = best.ok_or(lost)?;
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
            let mut base = self.theta;
            if model.detection.is_none() && self.detection_at_edge {
                base[DETECTION] = 2.0;
            }
            base = model.pinned(base);
            let variance = self.covariance[(index, index)];
            if variance > 0.0 {
                // Where a normal law would have the others.
                let step = (value - self.theta[index]) / variance;
                for (i, x) in base.iter_mut().enumerate() {
                    *x += step * self.covariance[(i, index)];
                }
            }
            base[index] = value;
            let mut problem = self.problem();
            problem.model = model;
            problem.free = model.free();
            problem.free.retain(|i| *i != index);
            problem.base = base;
            let start = problem.pick(&base);
            let up = refine(&problem, &start).and_then(|m| refine(&problem, &m.x));
            up.ok().map(|m| m.value)
        });
        let top = best.fold(f64::NEG_INFINITY, f64::max);
        top.is_finite().then_some(self.log_likelihood - top)
    }

    pub(super) fn problem(&self) -> Problem<'_> {
        Problem {
            model: self.model,
            histories: &self.histories,
            base: self.theta,
            free: self.model.free(),
            seals: self.counts.seals,
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
