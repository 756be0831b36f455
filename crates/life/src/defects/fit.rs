//! Maximum likelihood of a defect model, or why there is none and which record would mend that.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::counts::{Counts, NoDefectFit};
use super::integral::Point;
use super::likelihood::{total, total_derivatives};
use super::model::{Model, StageLaw, Theta};
use super::moments::{DELAY_SPREAD, DETECTION, PARAMETERS};
use super::starts::{starts, translated};
use crate::fit::NoFit;
use crate::life::Life;
use crate::maximise::{LogLikelihood, approach, refine};
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
    /// Covariance of all parameters (5 × 5, in the order of [`Theta`]) from the observed information; zero where stated.
    pub covariance: DMatrix<f64>,
    /// Log-likelihood at the estimate, densities per unit of age.
    pub log_likelihood: f64,
    /// The likelihood of detection still rises at 1: looks that miss nothing fit best.
    pub detection_at_edge: bool,
    /// The likelihood of the delay's spread still rises at [`SHARPEST`]: delays all alike fit best.
    pub delay_at_edge: bool,
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
    /// ln σ of the delay below which a climb is given up.
    pub(super) sharpest: f64,
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
        (self.free.contains(&DETECTION) && logit > RUN_OFF)
            || (delay - defect).abs() > FAR_APART
            || !(LEAST_SPREAD..=GREATEST_SPREAD).contains(&a)
            || !(self.sharpest..=GREATEST_SPREAD).contains(&b)
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
        total(self.model.term(), &point, self.histories)
    }
    /// Not a number once a parameter has run off, which ends a climb that leads nowhere.
    fn derivatives(&self, x: &[f64]) -> Derivatives {
        let theta = self.place(x);
        if self.ran_off(&theta) {
            let free = self.free.len();
            return Derivatives {
                value: f64::NAN,
                gradient: vec![f64::NAN; free],
                hessian: vec![vec![f64::NAN; free]; free],
            };
        }
        let point = self.point(&theta);
        self.picked(&total_derivatives(
            self.model.term(),
            &point,
            self.histories,
        ))
    }
    fn weight(&self) -> f64 {
        self.seals
    }
}

/// Fits a defect model to histories.
///
/// # Errors
/// [`NoDefectFit`], saying what the log does not tell; [`NoDefectFit::cure`] names the record that would.
///
/// ```
/// use sealspan_life::defects::simulate::{LookPlan, simulate};
/// use sealspan_life::defects::{Model, StageLaw, fit};
/// use sealspan_life::life::Life;
/// use sealspan_numeric::random::Stream;
/// // Invented seals: looks every 60 days find seven defects in ten; a defect fails after 150 days or so.
/// let (defect, delay) = (Life::weibull(2.6, 900.0).unwrap(), Life::weibull(1.8, 150.0).unwrap());
/// let plan = LookPlan {
///     every: 60.0, jitter: 20.0, skipped: 0.0, until: (600.0, 1200.0), entry: 0.0, detection: 0.7,
/// };
/// let mut stream = Stream::new(1, 0);
/// let seals = (0..2_000).map(|_| simulate(&defect, &delay, &plan, &mut stream).unwrap()).collect();
/// let model = Model { defect: StageLaw::Weibull, delay: StageLaw::Weibull, detection: None };
/// let found = fit(model, seals).unwrap();
/// assert!((found.detection() - 0.7).abs() < 0.15);
/// assert!((found.lives().unwrap().0.mean() / defect.mean() - 1.0).abs() < 0.1);
/// ```
pub fn fit(model: Model, histories: Vec<History>) -> Result<DefectFit, NoDefectFit> {
    let histories = Arc::new(History::reduce(histories));
    let counts = Counts::of(&histories);
    exists(&counts)?;
    let at = |edges| climb(model, edges, &histories, &counts);
    let why = match at(Edges::default()) {
        Ok(found) => return Ok(found),
        Err(why) => why,
    };
    let tried = Edges::of(model)
        .into_iter()
        .filter_map(|edges| at(edges).ok());
    tried
        .max_by(|a, b| a.log_likelihood.total_cmp(&b.log_likelihood))
        .ok_or(NoDefectFit::NoMaximum(why))
}

/// What is held at an edge towards which a climb ran off.
#[derive(Debug, Clone, Copy, Default)]
struct Edges {
    detection: bool,
    delay: bool,
}

impl Edges {
    /// All that a model may run off to.
    fn of(model: Model) -> Vec<Self> {
        let (detection, delay) = (model.detection.is_none(), model.delay.has_spread());
        let edges = |detection, delay| Self { detection, delay };
        let all = [edges(true, false), edges(false, true), edges(true, true)];
        all.into_iter()
            .filter(|e| (detection || !e.detection) && (delay || !e.delay))
            .collect()
    }
}

/// Logit of a detection that is as good as 1 (0.9999), and one at which a climb is given up.
const PERFECT: f64 = 9.2;
const RUN_OFF: f64 = 14.0;
/// ln of the ratio of the two stages' scales, and ln σ, beyond which a climb is given up.
const FAR_APART: f64 = 7.5;
pub(super) const LEAST_SPREAD: f64 = -5.0;
const GREATEST_SPREAD: f64 = 2.5;
/// ln σ of the sharpest delay that is fitted: a Weibull of shape 10. A few failures soon after looks often fit best with
/// delays all alike, which is a fact of small samples; the edge keeps the climb from running after it.
pub const SHARPEST: f64 = -std::f64::consts::LN_10;
/// Starts of one detection that are followed uphill where there is but one.
const FOLLOWED: usize = 3;
/// Gain of log-likelihood that a climb by rough integrals does not go after.
const ROUGHLY: f64 = 0.01;

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
    edges: Edges,
    histories: &Arc<Vec<History>>,
    counts: &Counts,
) -> Result<DefectFit, NoFit> {
    let stated = Model {
        detection: model.detection.or(edges.detection.then_some(1.0)),
        ..model
    };
    let pinned = |theta: Theta| {
        let mut theta = stated.pinned(theta);
        if edges.delay {
            theta[DELAY_SPREAD] = SHARPEST;
        }
        theta
    };
    let mut free = stated.free();
    free.retain(|i| !(edges.delay && *i == DELAY_SPREAD));
    let mut problem = Problem {
        model,
        histories,
        base: pinned([0.0; PARAMETERS]),
        free,
        seals: counts.seals,
        rough: true,
        sharpest: SHARPEST,
    };
    let ranked = ranked(&problem, starts(stated, histories), &pinned);
    let near = highest(&mut problem, &ranked);
    problem.rough = false;
    let start = match (near, ranked.first()) {
        (Some(near), _) => near,
        (None, Some((_, theta))) => *theta,
        (None, None) => return Err(NoFit::NotReached { slope: f64::NAN }),
    };
    problem.base = start;
    let maximum = refine(&problem, &problem.pick(&start))
        .and_then(|m| refine(&problem, &m.x))
        .map_err(|lost| lost.why)?;
    let theta = problem.place(&maximum.x);
    if problem.free.contains(&DETECTION) && theta[DETECTION] >= PERFECT {
        return Err(NoFit::Ridge);
    }
    let mut covariance = DMatrix::zeros(PARAMETERS, PARAMETERS);
    for (i, a) in problem.free.iter().enumerate() {
        for (j, b) in problem.free.iter().enumerate() {
            covariance[(*a, *b)] = maximum.covariance[(i, j)];
        }
    }
    Ok(DefectFit {
        model: stated,
        theta,
        covariance,
        log_likelihood: maximum.value,
        detection_at_edge: edges.detection,
        delay_at_edge: edges.delay,
        counts: *counts,
        histories: Arc::clone(histories),
    })
}

/// The starts that are followed uphill, the best first: the best of each detection, or where that is stated or held
/// the best of all.
fn ranked(
    problem: &Problem,
    starts: Vec<Vec<Theta>>,
    pinned: &impl Fn(Theta) -> Theta,
) -> Vec<(f64, Theta)> {
    let most = if starts.len() > 1 { 1 } else { FOLLOWED };
    let mut all: Vec<(f64, Theta)> = vec![];
    for like in starts {
        let valued = like.into_iter().map(pinned);
        let mut valued: Vec<(f64, Theta)> = valued
            .map(|theta| (problem.value(&problem.pick(&theta)), theta))
            .filter(|(value, _)| value.is_finite())
            .collect();
        valued.sort_by(|a, b| b.0.total_cmp(&a.0));
        all.extend(valued.into_iter().take(most));
    }
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    all
}

/// The highest place that rough climbs from the best starts come to.
fn highest(problem: &mut Problem, ranked: &[(f64, Theta)]) -> Option<Theta> {
    let mut best: Option<(f64, Theta)> = None;
    for (_, theta) in ranked {
        problem.base = *theta;
        let Some(found) = approach(&*problem, &problem.pick(theta), ROUGHLY) else {
            continue;
        };
        if best
            .as_ref()
            .is_none_or(|(value, _)| found.value > value + ROUGHLY)
        {
            best = Some((found.value, problem.place(&found.x)));
        }
    }
    best.map(|(_, theta)| theta)
}

/// Estimates under other laws, near the maximum of the likelihood.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OtherFit {
    /// The model.
    pub model: Model,
    /// Its estimates.
    pub theta: Theta,
    /// The log-likelihood, to about 0.01.
    pub log_likelihood: f64,
}

/// Probability that a look finds a defect that is there, of parameters on the scale of the fit.
fn detection_at(theta: &Theta) -> f64 {
    1.0 / (1.0 + (-theta[DETECTION]).exp())
}

impl OtherFit {
    /// The laws: of the defect's age, and of the delay.
    #[must_use]
    pub fn lives(&self) -> Option<(Life, Life)> {
        self.model.lives(&self.theta)
    }

    /// Probability that a look finds a defect that is there.
    #[must_use]
    pub fn detection(&self) -> f64 {
        detection_at(&self.theta)
    }
}

impl DefectFit {
    /// The same histories under other laws of the stages: uphill from these estimates until a step would gain no more
    /// than 0.01 of log-likelihood, by rough integrals. Enough to price a plan by; `None` where that comes to nothing,
    /// or the delays lie at their edge.
    #[must_use]
    pub fn under(&self, defect: StageLaw, delay: StageLaw) -> Option<OtherFit> {
        if self.delay_at_edge {
            return None;
        }
        let model = Model {
            defect,
            delay,
            ..self.model
        };
        let [mu, ln_sigma, late, late_ln_sigma, detection] = self.theta;
        let [a, b] = translated(self.model.defect, defect, [mu, ln_sigma]);
        let [c, d] = translated(self.model.delay, delay, [late, late_ln_sigma]);
        let problem = Problem {
            model,
            histories: &self.histories,
            base: model.pinned([a, b, c, d, detection]),
            free: model.free(),
            seals: self.counts.seals,
            rough: true,
            sharpest: LEAST_SPREAD,
        };
        let near = approach(&problem, &problem.pick(&problem.base), ROUGHLY)?;
        Some(OtherFit {
            model,
            theta: problem.place(&near.x),
            log_likelihood: near.value,
        })
    }

    /// The fitted laws: of the defect's age, and of the delay.
    #[must_use]
    pub fn lives(&self) -> Option<(Life, Life)> {
        self.model.lives(&self.theta)
    }

    /// Probability that a look finds a defect that is there: estimated or stated.
    #[must_use]
    pub fn detection(&self) -> f64 {
        detection_at(&self.theta)
    }

    /// Places of the parameters that are neither stated nor at an edge.
    fn free(&self) -> Vec<usize> {
        let mut free = self.model.free();
        free.retain(|i| !(self.delay_at_edge && *i == DELAY_SPREAD));
        free
    }

    /// Whether a parameter that the log was asked for lies at its edge.
    #[must_use]
    pub fn at_edge(&self) -> bool {
        self.detection_at_edge || self.delay_at_edge
    }

    pub(super) fn problem(&self) -> Problem<'_> {
        Problem {
            model: self.model,
            histories: &self.histories,
            base: self.theta,
            free: self.free(),
            seals: self.counts.seals,
            rough: false,
            sharpest: SHARPEST,
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

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sealspan_records::history::Ended;

    const LAWS: [StageLaw; 2] = [StageLaw::Exponential, StageLaw::Weibull];

    /// Every choice of what is estimated and may lie at an edge, one of them at least.
    #[test]
    fn the_edges_of_a_model_are_those_of_what_it_estimates() {
        for (delay, detection) in LAWS.into_iter().flat_map(|l| [(l, None), (l, Some(0.8))]) {
            let model = Model {
                defect: StageLaw::Weibull,
                delay,
                detection,
            };
            let (looks, delays) = (detection.is_none(), delay == StageLaw::Weibull);
            let pairs = [false, true].map(|d| [(d, false), (d, true)]);
            let mut want = pairs.concat();
            want.retain(|(d, s)| (*d || *s) && (looks || !*d) && (delays || !*s));
            let of = Edges::of(model).into_iter();
            let mut of: Vec<_> = of.map(|e| (e.detection, e.delay)).collect();
            of.sort_unstable();
            assert_eq!(of, want, "{model:?}");
        }
    }

    /// One parameter at a time just within its range, and just beyond.
    #[test]
    fn a_climb_ends_where_one_parameter_alone_has_run_off() {
        let list = [History::new(0.0, vec![60.0], Ended::Failed(90.0), 1.0).unwrap()];
        let model = |detection| Model {
            defect: StageLaw::Weibull,
            delay: StageLaw::Weibull,
            detection,
        };
        let off = |detection, theta: Theta| {
            let problem = Problem {
                model: model(detection),
                histories: &list,
                base: theta,
                free: model(detection).free(),
                seals: 1.0,
                rough: true,
                sharpest: SHARPEST,
            };
            problem.derivatives(&problem.pick(&theta)).value.is_nan()
        };
        let sound: Theta = [5.0, -0.5, 4.0, -0.3, 0.5];
        assert!(!off(None, sound) && !off(Some(0.7), sound));
        let far = FAR_APART;
        for (at, within, beyond) in [
            (0, 4.0 - far + 0.01, 4.0 - far - 0.01),
            (2, 5.0 - far + 0.01, 5.0 - far - 0.01),
            (2, 5.0 + far - 0.01, 5.0 + far + 0.01),
            (1, LEAST_SPREAD + 0.01, LEAST_SPREAD - 0.01),
            (1, GREATEST_SPREAD - 0.01, GREATEST_SPREAD + 0.01),
            (DELAY_SPREAD, SHARPEST + 0.01, SHARPEST - 0.01),
            (DELAY_SPREAD, GREATEST_SPREAD - 0.01, GREATEST_SPREAD + 0.01),
            (DETECTION, RUN_OFF - 0.01, RUN_OFF + 0.01),
        ] {
            let with = |value| {
                let mut theta = sound;
                theta[at] = value;
                theta
            };
            assert!(!off(None, with(within)), "{at} {within}");
            assert!(off(None, with(beyond)), "{at} {beyond}");
            // A detection that is stated does not run.
            assert_eq!(off(Some(0.7), with(beyond)), at != DETECTION, "{at}");
        }
    }
}

#[cfg(test)]
mod starts_followed;
