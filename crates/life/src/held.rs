//! The likelihood with a quantity held at a value, and an interval's end found by moving that value: slower than
//! following contours ([`crate::contour`]), but sound where the path bends away or the end lies without limit.

use crate::bounds::{End, NoEnd};
use crate::contour::{Asked, Broken, Contour};
use crate::maximise::LogLikelihood;
use crate::refits::matrix;
use nalgebra::{DMatrix, DVector};
use sealspan_numeric::optimise::{Objective, bfgs};

/// The largest log-likelihood with a quantity held.
pub(crate) struct Held {
    /// Where.
    pub(crate) x: Vec<f64>,
    /// Log-likelihood there.
    pub(crate) value: f64,
}

/// The largest log-likelihood with the quantity held at `target`: Newton on Lagrange's conditions.
pub(crate) fn maximum<P: LogLikelihood>(
    problem: &P,
    quantity: Asked<'_>,
    start: &[f64],
    target: f64,
) -> Option<Held> {
    let n = start.len();
    let mut x = start.to_vec();
    let mut multiplier: Option<f64> = None;
    for _ in 0..60 {
        let l = problem.derivatives(&x);
        let q = quantity(&x);
        if !l.value.is_finite() || !q.value.is_finite() {
            return None;
        }
        let (gl, gq) = (
            DVector::from_column_slice(&l.gradient),
            DVector::from_column_slice(&q.gradient),
        );
        let lambda = *multiplier.get_or_insert(gq.dot(&gl) / gq.norm_squared());
        let curvature = matrix(&l.hessian) - matrix(&q.hessian) * lambda;
        let mut system = DMatrix::zeros(n + 1, n + 1);
        let mut right = DVector::zeros(n + 1);
        for i in 0..n {
            for j in 0..n {
                system[(i, j)] = curvature[(i, j)];
            }
            system[(i, n)] = -gq[i];
            system[(n, i)] = gq[i];
            right[i] = -gl[i];
        }
        right[n] = target - q.value;
        let step = system.lu().solve(&right)?;
        let length = step.rows(0, n).amax();
        if !length.is_finite() {
            return None;
        }
        let share = (1.0 / length).min(1.0);
        for (value, s) in x.iter_mut().zip(step.iter()) {
            *value += share * s;
        }
        multiplier = Some(lambda + share * (step[n] - lambda));
        // Newton squares the error: after this step the value is exact to far below what is drawn from it.
        if length < 1e-4 {
            let value = problem.value(&x);
            return value.is_finite().then_some(Held { x, value });
        }
    }
    None
}

/// First and longest step of the held value in standard errors, and the share of the first at which a walk is given
/// up.
const FIRST_STEP: f64 = 0.1;
const LONGEST_STEP: f64 = 1.0;
const GIVEN_UP: f64 = 0.1;
/// Steps at most, and how near an end is come to, in standard errors.
const MOST_STEPS: usize = 40;
const CLOSE: f64 = 1e-4;
/// Curvature of the penalty in units of the quantity's own, 1 / standard error².
const PENALTY: f64 = 100.0;
/// Iterations of a penalised climb.
const CLIMB: u64 = 100;

/// A walk outwards along the largest log-likelihoods with the quantity held.
struct Walk<'a, P> {
    problem: &'a P,
    quantity: Asked<'a>,
    side: f64,
    /// Log-likelihood at the interval's ends.
    cut: f64,
    /// Standard error of the quantity on its scale.
    error: f64,
    /// Whether a value is so far out that there is no limit where it is still admitted.
    far: &'a (dyn Fn(f64) -> bool + Sync),
}

/// Goes on from where a contour's path broke off, moving the quantity's value outwards.
pub(crate) fn walk<P: LogLikelihood>(
    problem: &P,
    quantity: Asked<'_>,
    contour: &Contour<'_, P>,
    broken: &Broken,
    z: f64,
    far: &(dyn Fn(f64) -> bool + Sync),
) -> End {
    let centre = quantity(contour.centre.as_slice());
    let slope = DVector::from_column_slice(&centre.gradient);
    let walk = Walk {
        problem,
        quantity,
        side: contour.side,
        cut: contour.top - 0.5 * z * z,
        error: slope.dot(&(&contour.covariance * &slope)).sqrt(),
        far,
    };
    match walk.from(broken) {
        Ok(end) if far(end) => Err(NoEnd::NoLimit),
        end => end,
    }
}

impl<P: LogLikelihood> Walk<'_, P> {
    fn from(&self, broken: &Broken) -> End {
        let (mut x, mut here) = (broken.x.clone(), broken.value);
        let mut step = FIRST_STEP;
        for _ in 0..MOST_STEPS {
            let next = here + self.side * step * self.error;
            match self.held(&x, next) {
                Some(held) if held.value < self.cut => return self.between(x, here, next),
                // A penalised climb stops a little short of the value asked for; it has to get on.
                Some(held) if self.ahead(&held.x, here) => {
                    here = (self.quantity)(&held.x).value;
                    x = held.x;
                    step = (1.5 * step).min(LONGEST_STEP);
                }
                _ => step *= 0.5,
            }
            if (self.far)(here) || self.runs_off(&x) {
                return Err(NoEnd::NoLimit);
            }
            if step < GIVEN_UP * FIRST_STEP {
                break;
            }
        }
        Err(NoEnd::NotFound)
    }

    fn held(&self, x: &[f64], target: f64) -> Option<Held> {
        maximum(self.problem, self.quantity, x, target).or_else(|| self.penalised(x, target))
    }

    fn ahead(&self, x: &[f64], here: f64) -> bool {
        ((self.quantity)(x).value - here) * self.side > 0.0
    }

    /// Where the largest log-likelihood falls to the cut, between an admitted value and one that is not, by halving:
    /// the last admitted value.
    fn between(&self, mut x: Vec<f64>, mut inside: f64, mut outside: f64) -> End {
        while (outside - inside).abs() > CLOSE * self.error {
            let middle = 0.5 * (inside + outside);
            let held = self.held(&x, middle).ok_or(NoEnd::NotFound)?;
            if held.value < self.cut {
                outside = middle;
            } else if self.ahead(&held.x, inside) {
                inside = (self.quantity)(&held.x).value;
                x = held.x;
            } else {
                return Err(NoEnd::NotFound);
            }
        }
        Ok(inside)
    }

    /// The largest log-likelihood less a penalty for straying from the held value: finds its way where parameters run
    /// off in flat directions and Newton's conditions have no solution.
    fn penalised(&self, start: &[f64], target: f64) -> Option<Held> {
        let penalised = Penalised {
            walk: self,
            target,
            weight: PENALTY / (self.error * self.error),
        };
        let x = bfgs(&penalised, start, CLIMB)?;
        let value = self.problem.value(&x);
        value.is_finite().then_some(Held { x, value })
    }

    /// Whether the quantity ceases to be a number (an age that is never reached) while the likelihood still admits
    /// it: beyond an admitted point, in the direction in which the quantity grows.
    fn runs_off(&self, x: &[f64]) -> bool {
        let slope = DVector::from_column_slice(&(self.quantity)(x).gradient);
        let length = slope.amax();
        if self.side < 0.0 || !length.is_finite() || length <= 0.0 {
            return false;
        }
        (0..10).any(|k| {
            let reach = 0.5f64.powi(k) / length;
            let there: Vec<f64> = x
                .iter()
                .zip(slope.iter())
                .map(|(a, s)| a + reach * s)
                .collect();
            (self.quantity)(&there).value.is_nan() && self.problem.value(&there) >= self.cut
        })
    }
}

/// What a penalised climb maximises, as argmin wants it: downhill.
struct Penalised<'a, P> {
    walk: &'a Walk<'a, P>,
    target: f64,
    weight: f64,
}

impl<P: LogLikelihood> Objective for Penalised<'_, P> {
    fn value(&self, x: &[f64]) -> f64 {
        let off = (self.walk.quantity)(x).value - self.target;
        0.5 * self.weight * off * off - self.walk.problem.value(x)
    }
    fn gradient(&self, x: &[f64]) -> Vec<f64> {
        let (l, q) = (self.walk.problem.derivatives(x), (self.walk.quantity)(x));
        let pull = self.weight * (q.value - self.target);
        let pairs = q.gradient.iter().zip(&l.gradient);
        pairs.map(|(gq, gl)| pull * gq - gl).collect()
    }
}
