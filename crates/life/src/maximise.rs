//! Maximising a log-likelihood: argmin goes downhill, our own Newton steps with exact second
//! derivatives finish, and the gradient at the end decides whether it is a maximum.
//!
//! ```
//! use sealspan_life::{maximise::{LogLikelihood, maximise}, quantity::Derivatives};
//! /// Four events in 100 days at a rate e^x: ℓ = 4x − 100 e^x.
//! struct Rate;
//! impl LogLikelihood for Rate {
//!     fn value(&self, x: &[f64]) -> f64 {
//!         4.0 * x[0] - 100.0 * x[0].exp()
//!     }
//!     fn derivatives(&self, x: &[f64]) -> Derivatives {
//!         let expected = 100.0 * x[0].exp();
//!         Derivatives {
//!             value: self.value(x),
//!             gradient: vec![4.0 - expected],
//!             hessian: vec![vec![-expected]],
//!         }
//!     }
//!     fn weight(&self) -> f64 {
//!         4.0
//!     }
//! }
//! assert_eq!((Rate.derivatives(&[0.0]).gradient[0], Rate.weight()), (-96.0, 4.0));
//! let found = maximise(&Rate, &[0.0]).unwrap();
//! assert!((found.x[0] - 0.04_f64.ln()).abs() < 1e-9);
//! assert!((found.covariance[(0, 0)] - 0.25).abs() < 1e-9);
//! ```

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use crate::fit::NoFit;
use crate::quantity::Derivatives;
use nalgebra::{DMatrix, DVector, SymmetricEigen};
use sealspan_numeric::optimise::{self, Objective};

/// A log-likelihood in unbounded parameters.
pub trait LogLikelihood: Sync {
    /// Value; not finite where there is no likelihood.
    fn value(&self, x: &[f64]) -> f64;
    /// Value with first and second derivatives.
    fn derivatives(&self, x: &[f64]) -> Derivatives;
    /// Number of seals it sums over, above 0: slopes are judged by the seal.
    fn weight(&self) -> f64;
}

/// A maximum, with the inverse of the observed information there.
#[derive(Debug, Clone)]
pub struct Maximum {
    /// Where: the parameters on their unbounded scales.
    pub x: Vec<f64>,
    /// Log-likelihood there.
    pub value: f64,
    /// Inverse observed information, a square in the order of `x`.
    pub covariance: DMatrix<f64>,
}

/// A parameter this far from its start is taken as running off (e^400 on the scale of life or shape).
const FAR: f64 = 400.0;
/// The same of a refit, which starts at the truth (a factor of 3,000; a rule of ours).
const FAR_OF_REFIT: f64 = 8.0;
/// Steps downhill of a refit that Newton's method alone does not bring to its maximum.
const REFIT_STEPS: u64 = 60;
/// Smallest eigenvalue of the correlation-scaled information that still counts as information.
const INFORMATION_FLOOR: f64 = 1e-9;
/// Largest slope per seal left at a maximum.
const FLAT: f64 = 1e-6;
/// A Newton step no longer than this is as good as none.
const STILL: f64 = 1e-13;
/// A Newton step after which a refit is as good as exact.
const NEARLY: f64 = 1e-5;
/// A step this short that no longer shrinks is rounding.
const ROUNDING: f64 = 1e-8;
/// So is a longer one, to this length, that promises next to nothing: ages that differ in their last digits only
/// leave the slope no more digits.
const COARSE: f64 = 1e-4;
/// Gain of log-likelihood for each seal that is next to nothing, and how many steps in turn may gain no more.
const NOTHING: f64 = 1e-10;
const IDLE: usize = 5;

/// A Newton step at most this long, and one that is long.
const LONGEST: f64 = 4.0;
const LONG: f64 = 1.0;

/// A step this short that ends where there is no likelihood, or does not because a longer one did, creeps up to an edge.
const CREEPING: f64 = 0.02;

/// No maximum: why, and where the search ended.
#[derive(Debug, Clone)]
pub struct Lost {
    /// Why.
    pub why: NoFit,
    /// Where.
    pub x: Vec<f64>,
}

/// Finds the maximum from `start`: downhill on the mean negative log-likelihood by quasi-Newton steps, else by a
/// simplex, then by Newton's method with halved steps, shifted after Levenberg where the curvature is wrong (from
/// memory).
///
/// # Errors
/// [`Lost`] with where the search ended: [`NoFit::Ridge`] where the information, scaled to correlations, has an
/// eigenvalue of 1e-9 or less, [`NoFit::NotReached`] where no maximum was found or a parameter ran off by 400.
pub fn maximise(problem: &impl LogLikelihood, start: &[f64]) -> Result<Maximum, Lost> {
    let mean = Mean(problem, start, FAR);
    let downhill = optimise::bfgs(&mean, start, 200).unwrap_or_else(|| start.to_vec());
    let x = polish(problem, downhill, STILL, FAR).or_else(|_| {
        let x = optimise::nelder_mead(&mean, start, 0.5, 4000).unwrap_or_else(|| start.to_vec());
        polish(problem, x, STILL, FAR)
    })?;
    at_maximum(problem, x)
}

/// Newton's method alone, from a start that is near the maximum already (a refit of like data), to the
/// precision that simulation asks for.
///
/// # Errors
/// As for [`maximise`].
pub(crate) fn refine(problem: &impl LogLikelihood, start: &[f64]) -> Result<Maximum, Lost> {
    at_maximum(problem, polish(problem, start.to_vec(), NEARLY, FAR)?)
}

/// The maximum of data drawn from the parameters at `start`, to the precision that simulation asks for: Newton's
/// method, then downhill; given up where the likelihood rises while a parameter runs off.
///
/// # Errors
/// As for [`maximise`].
pub(crate) fn refit(problem: &impl LogLikelihood, start: &[f64]) -> Result<Maximum, Lost> {
    let x = polish(problem, start.to_vec(), NEARLY, FAR_OF_REFIT).or_else(|lost| {
        if ran_off(&lost.x, start, FAR_OF_REFIT) {
            return Err(lost);
        }
        let mean = Mean(problem, start, FAR_OF_REFIT);
        let downhill = optimise::bfgs(&mean, start, REFIT_STEPS).unwrap_or_else(|| start.to_vec());
        polish(problem, downhill, NEARLY, FAR_OF_REFIT)
    })?;
    at_maximum(problem, x)
}

/// Newton's method alone, to full precision, from a start in the region of the maximum.
///
/// # Errors
/// As for [`maximise`].
pub(crate) fn climb(problem: &impl LogLikelihood, start: &[f64]) -> Result<Maximum, Lost> {
    at_maximum(problem, polish(problem, start.to_vec(), STILL, FAR)?)
}

/// A point near a maximum, and the likelihood that one more Newton step would come to.
#[derive(Debug, Clone)]
pub(crate) struct Near {
    pub(crate) x: Vec<f64>,
    pub(crate) value: f64,
}

/// Newton's method until a step would gain no more than `gain` of log-likelihood, which may be as rough as that.
/// `None` where it comes to nothing.
pub(crate) fn approach(problem: &impl LogLikelihood, start: &[f64], gain: f64) -> Option<Near> {
    approach_seen(problem, start, gain, &mut |_| {})
}

/// The same, each point on the way shown to `seen`.
pub(crate) fn approach_seen(
    problem: &impl LogLikelihood,
    start: &[f64],
    gain: f64,
    seen: &mut dyn FnMut(&[f64]),
) -> Option<Near> {
    let mut x = start.to_vec();
    let mut here = problem.derivatives(&x);
    for _ in 0..60 {
        seen(&x);
        if !here.value.is_finite() || x.iter().any(|v| v.abs() > FAR) {
            return None;
        }
        let slope = DVector::from_column_slice(&here.gradient);
        let information = information(&here);
        let step = newton_step(&information, &slope);
        let promised = 0.5 * slope.dot(&step);
        let moved = |scale: f64| -> Vec<f64> {
            x.iter()
                .zip(step.iter())
                .map(|(a, s)| a + scale * s)
                .collect()
        };
        if promised <= gain && information.cholesky().is_some() {
            return Some(Near {
                value: here.value + promised,
                x: moved(1.0),
            });
        }
        let mut scale = (LONGEST / step.amax()).min(1.0);
        let mut next = None;
        let mut at_edge = false;
        for _ in 0..30 {
            let tried = moved(scale);
            let there = problem.derivatives(&tried);
            at_edge |= there.value.is_nan();
            if at_edge && scale * step.amax() < CREEPING {
                return None;
            }
            if there.value >= here.value - 0.1 * gain {
                next = Some((tried, there));
                break;
            }
            scale *= 0.5;
        }
        (x, here) = next?;
    }
    None
}

fn at_maximum(problem: &impl LogLikelihood, x: Vec<f64>) -> Result<Maximum, Lost> {
    let derivatives = problem.derivatives(&x);
    match covariance(&derivatives) {
        Ok(covariance) => Ok(Maximum {
            x,
            value: derivatives.value,
            covariance,
        }),
        Err(why) => Err(Lost { why, x }),
    }
}

/// The mean negative log-likelihood: what argmin minimises, up to a distance from the start.
struct Mean<'a, P>(&'a P, &'a [f64], f64);

/// Whether a parameter has run off from where it started.
fn ran_off(x: &[f64], start: &[f64], far: f64) -> bool {
    x.iter().zip(start).any(|(a, b)| (a - b).abs() > far)
}

impl<P: LogLikelihood> Objective for Mean<'_, P> {
    fn value(&self, x: &[f64]) -> f64 {
        if ran_off(x, self.1, self.2) {
            return f64::INFINITY;
        }
        -self.0.value(x) / self.0.weight()
    }
    fn gradient(&self, x: &[f64]) -> Vec<f64> {
        self.0
            .derivatives(x)
            .gradient
            .iter()
            .map(|g| -g / self.0.weight())
            .collect()
    }
}

/// Observed information.
pub(crate) fn information(d: &Derivatives) -> DMatrix<f64> {
    let n = d.gradient.len();
    let entry = |i: usize, j: usize| d.hessian.get(i).and_then(|row| row.get(j));
    DMatrix::from_fn(n, n, |i, j| -entry(i, j).copied().unwrap_or(0.0))
}

/// Newton steps with halving, Levenberg's shift where the curvature is wrong, until the step vanishes.
fn polish(
    problem: &impl LogLikelihood,
    mut x: Vec<f64>,
    enough: f64,
    far: f64,
) -> Result<Vec<f64>, Lost> {
    let total = problem.weight().max(1.0);
    let start = x.clone();
    let mut last = f64::INFINITY;
    let mut left = f64::NAN;
    let mut idle = 0;
    let thorough = enough <= STILL;
    for _ in 0..100 {
        let d = problem.derivatives(&x);
        let slope = DVector::from_column_slice(&d.gradient);
        left = slope.amax() / total;
        if !d.value.is_finite() || ran_off(&x, &start, far) {
            break;
        }
        let step = newton_step(&information(&d), &slope);
        let length = step.amax();
        let nothing = slope.dot(&step) <= NOTHING * total;
        let short = length <= ROUNDING || (length <= COARSE && nothing);
        if length <= STILL || (short && length >= 0.5 * last) {
            return if left < FLAT || nothing {
                Ok(x)
            } else {
                Err(Lost {
                    why: NoFit::NotReached { slope: left },
                    x,
                })
            };
        }
        // A long step that promises next to nothing runs along a ridge that has no end; refits are given up otherwise.
        if length > LONG && nothing && thorough {
            break;
        }
        last = length;
        let Some((next, value)) = uphill(problem, &x, &step, d.value) else {
            break;
        };
        // Newton squares the error of the step before.
        if length <= enough && enough > STILL && left < FLAT.sqrt() {
            return Ok(next);
        }
        x = next;
        // Steps that are not short and gain nothing time after time creep along the rounding of a ridge.
        let gained = value - d.value > NOTHING * total || length <= COARSE;
        idle = if gained { 0 } else { idle + 1 };
        if idle > IDLE && thorough {
            break;
        }
    }
    Err(Lost {
        why: NoFit::NotReached { slope: left },
        x,
    })
}

/// The longest of a step's halvings that does not lose likelihood, and the likelihood there.
fn uphill(
    problem: &impl LogLikelihood,
    x: &[f64],
    step: &DVector<f64>,
    value: f64,
) -> Option<(Vec<f64>, f64)> {
    let mut scale = (LONGEST / step.amax()).min(1.0);
    for _ in 0..50 {
        let next: Vec<f64> = x
            .iter()
            .zip(step.iter())
            .map(|(a, s)| a + scale * s)
            .collect();
        let there = problem.value(&next);
        if there >= value - 1e-12 * value.abs().max(1.0) {
            return Some((next, there));
        }
        scale *= 0.5;
    }
    None
}

/// Newton's step uphill, with Levenberg's shift where the curvature is wrong.
pub(crate) fn newton_step(information: &DMatrix<f64>, slope: &DVector<f64>) -> DVector<f64> {
    let n = slope.len();
    let mut shift = 0.0;
    for _ in 0..60 {
        let shifted = information + DMatrix::identity(n, n) * shift;
        if let Some(factor) = shifted.cholesky() {
            return factor.solve(slope);
        }
        shift = if shift == 0.0 {
            1e-6 * information.amax().max(1e-6)
        } else {
            shift * 10.0
        };
    }
    slope.clone()
}

/// Inverse of the observed information, or the statement that there is a ridge.
fn covariance(d: &Derivatives) -> Result<DMatrix<f64>, NoFit> {
    let information = information(d);
    let n = information.nrows();
    let root = information.diagonal().map(|v| v.max(0.0).sqrt());
    let scaled = DMatrix::from_fn(n, n, |i, j| information[(i, j)] / (root[i] * root[j]));
    if scaled.iter().any(|v| !v.is_finite()) {
        return Err(NoFit::Ridge);
    }
    let least = SymmetricEigen::new(scaled.clone()).eigenvalues.min();
    if least.is_nan() || least <= INFORMATION_FLOOR {
        return Err(NoFit::Ridge);
    }
    let inverse = scaled.try_inverse().ok_or(NoFit::Ridge)?;
    Ok(DMatrix::from_fn(n, n, |i, j| {
        inverse[(i, j)] / (root[i] * root[j])
    }))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// Events at a rate e^x over some exposure: ℓ = events · x − exposure · eˣ, greatest at ln(events/exposure) and no
    /// number beyond `end`. Farther than `rough` from there Newton's method is told a far too large curvature, and
    /// slopes are told in steps of `grain` only.
    #[derive(Clone, Copy)]
    struct Rate {
        events: f64,
        exposure: f64,
        end: f64,
        seals: f64,
        rough: f64,
        grain: f64,
    }

    const RATE: Rate = Rate {
        events: 4.0,
        exposure: 100.0,
        end: f64::INFINITY,
        seals: 4.0,
        rough: f64::INFINITY,
        grain: 0.0,
    };

    impl Rate {
        fn with_top(top: f64) -> Self {
            Self {
                exposure: 4.0 * (-top).exp(),
                ..RATE
            }
        }

        fn top(&self) -> f64 {
            (self.events / self.exposure).ln()
        }
    }

    impl LogLikelihood for Rate {
        fn value(&self, x: &[f64]) -> f64 {
            if x[0] > self.end {
                return f64::NAN;
            }
            self.events * x[0] - self.exposure * x[0].exp()
        }
        fn derivatives(&self, x: &[f64]) -> Derivatives {
            let expected = self.exposure * x[0].exp();
            let far = (x[0] - self.top()).abs() > self.rough;
            let slope = self.events - expected;
            let told = if self.grain > 0.0 {
                ((slope / self.grain).floor() + 0.5) * self.grain
            } else {
                slope
            };
            Derivatives {
                value: self.value(x),
                gradient: vec![told],
                hessian: vec![vec![if far { -1e9 } else { -expected }]],
            }
        }
        fn weight(&self) -> f64 {
            self.seals
        }
    }

    /// The top is ln(events/exposure), with the likelihood there, however rough the way may be.
    #[test]
    fn an_approach_comes_to_the_top_and_its_likelihood() {
        let top = RATE.top();
        for start in [2.0, -3.0, -6.0] {
            let found = approach(&RATE, &[start], 1e-9).unwrap();
            assert!((found.x[0] - top).abs() < 1e-4, "{:?}", found.x);
            let want = 4.0 * top - 4.0;
            assert!((found.value - want).abs() < 1e-8, "{}", found.value);
        }
    }

    #[test]
    fn an_approach_loses_no_more_than_a_tenth_of_the_gain_asked() {
        for i in 0..20 {
            let mut last = f64::NEG_INFINITY;
            let mut seen = |x: &[f64]| {
                let here = RATE.value(x);
                assert!(here >= last - 0.1 * 1e-6, "{i}: {last} {here}");
                last = here;
            };
            let start = -8.0 + 0.25 * f64::from(i);
            approach_seen(&RATE, &[start], 1e-6, &mut seen).unwrap();
        }
    }

    /// Steps that end where there is no likelihood are halved until they do not.
    #[test]
    fn a_top_close_before_the_end_of_all_likelihood_is_approached() {
        let near = Rate {
            end: 0.95,
            ..Rate::with_top(0.9)
        };
        let found = approach(&near, &[-3.0], 1e-9).unwrap();
        assert!((found.x[0] - 0.9).abs() < 1e-4, "{:?}", found.x);
    }

    /// The edge lies before the top: what would be gained by ever shorter steps up to it is given up at once.
    #[test]
    fn an_approach_does_not_creep_up_to_an_edge() {
        let mut way = vec![];
        let cut_off = Rate {
            end: 0.9,
            ..Rate::with_top(1.5)
        };
        let found = approach_seen(&cut_off, &[-3.0], 1e-9, &mut |x| way.push(x[0]));
        assert!(found.is_none());
        assert!(way.len() < 8, "{way:?}");
        assert!(way.windows(2).all(|w| w[1] - w[0] >= CREEPING), "{way:?}");
    }

    /// A refit whose likelihood rises to e^9 from its start is given up; where it begins does not matter.
    #[test]
    fn a_refit_is_given_up_by_how_far_it_runs_not_by_where_it_begins() {
        assert!(refit(&Rate::with_top(9.0), &[0.0]).is_err());
        assert!(refit(&Rate::with_top(-9.0), &[0.0]).is_err());
        for top in [-20.0, -5.1, 5.1, 20.0] {
            let found = refit(&Rate::with_top(top), &[top - 0.1]).unwrap();
            assert!((found.x[0] - top).abs() < 1e-8, "{top}: {:?}", found.x);
        }
    }

    /// Steps of a thousand millionth go nowhere; the slopes alone lead to where the curvature is right.
    #[test]
    fn a_refit_that_newton_alone_loses_is_sought_downhill() {
        let rough = Rate { rough: 1.0, ..RATE };
        let start = [rough.top() + 1.5];
        assert!(refine(&rough, &start).is_err());
        let found = refit(&rough, &start).unwrap();
        assert!((found.x[0] - rough.top()).abs() < 1e-8, "{:?}", found.x);
    }

    /// Five failures among a thousand seals have next to no slope for each seal long before the top.
    #[test]
    fn a_refit_of_few_failures_among_many_ends_where_a_climb_ends() {
        let few = Rate {
            events: 5.0,
            exposure: 5.0,
            seals: 1000.0,
            ..RATE
        };
        for start in [-0.3, -0.1, 0.1, 0.3] {
            let quick = refit(&few, &[start]).unwrap().x[0];
            let full = climb(&few, &[start]).unwrap().x[0];
            assert!(full.abs() < 1e-12, "{start}: {full}");
            assert!((quick - full).abs() < 1e-8, "{start}: {quick}");
        }
    }

    /// From eight above the top each Newton step goes down by about one: more steps than may gain nothing.
    #[test]
    fn a_climb_of_a_dozen_steps_that_all_gain_comes_to_its_end() {
        let found = climb(&RATE, &[8.0]).unwrap();
        assert!((found.x[0] - RATE.top()).abs() < 1e-9, "{:?}", found.x);
    }

    /// Slopes told no finer than in steps of eight millionths leave Newton's steps at a millionth for ever.
    #[test]
    fn a_climb_ends_where_slopes_have_no_more_digits() {
        let coarse = Rate {
            grain: 8e-6,
            ..RATE
        };
        let found = climb(&coarse, &[-3.0]).unwrap();
        assert!((found.x[0] - RATE.top()).abs() < 3e-6, "{:?}", found.x);
    }

    /// What goes downhill is minus the log-likelihood of a seal, with its own slope, and has no value far off.
    #[test]
    fn the_mean_that_is_minimised_is_of_a_seal_and_has_its_own_slope() {
        let start = [0.0];
        let mean = Mean(&RATE, &start, FAR);
        for x in [-3.0, -1.0, 0.5] {
            let want = (100.0 * f64::exp(x) - 4.0 * x) / 4.0;
            assert!((mean.value(&[x]) / want - 1.0).abs() < 1e-12);
            let slope = (mean.value(&[x + 1e-5]) - mean.value(&[x - 1e-5])) / 2e-5;
            let told = mean.gradient(&[x]);
            assert_eq!(told.len(), 1);
            assert!((told[0] - slope).abs() < 1e-6 * slope.abs().max(1.0));
        }
        assert_eq!(mean.value(&[401.0]), f64::INFINITY);
        assert_eq!(mean.value(&[-401.0]), f64::INFINITY);
        assert!(mean.value(&[-399.0]).is_finite());
    }

    /// An information that tells one direction a thousand million times less of than another is a ridge, one that tells it
    /// a hundred times more is not; nor has a ridge what tells nothing, or no number, of a parameter.
    #[test]
    fn what_tells_next_to_nothing_of_a_direction_is_a_ridge() {
        let found = |own: f64, across: f64| {
            covariance(&Derivatives {
                value: -10.0,
                gradient: vec![0.0; 2],
                hessian: vec![vec![-4.0, -across], vec![-across, -own]],
            })
        };
        // Scaled to ones, 1 ∓ r: the least is 1 − r.
        let ridge = |r: f64| matches!(found(9.0, 6.0 * r), Err(NoFit::Ridge));
        assert!(ridge(1.0 - 0.5 * INFORMATION_FLOOR));
        assert!(!ridge(1.0 - 100.0 * INFORMATION_FLOOR));
        for lost in [found(0.0, 0.0), found(f64::NAN, 1.0)] {
            assert!(matches!(lost, Err(NoFit::Ridge)));
        }
        let plain = found(9.0, 0.0).unwrap_or_default();
        assert!((plain[(0, 0)] - 0.25).abs() < 1e-15 && (plain[(1, 1)] - 1.0 / 9.0).abs() < 1e-15);
    }
}
