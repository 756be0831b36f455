//! The likelihood with a quantity held at a value, and an interval's end found by moving that value: slower than
//! following contours ([`crate::contour`]), but sound where the path bends away or the end lies without limit.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use crate::bounds::{End, NoEnd};
use crate::contour::{Asked, Broken, Contour};
use crate::maximise::{LogLikelihood, approach, approach_seen};
use crate::quantity::Derivatives;
use crate::refits::matrix;
use nalgebra::{DMatrix, DVector};

/// The largest log-likelihood with a quantity held.
pub(crate) struct Held {
    /// Where.
    pub(crate) x: Vec<f64>,
    /// Log-likelihood there.
    pub(crate) value: f64,
}

/// A parameter this far from where it started runs off: with the quantity held there is no maximum (a factor of 20,000;
/// a rule of ours).
const STRAYED: f64 = 10.0;

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
        if x.iter().zip(start).any(|(a, b)| (a - b).abs() > STRAYED) {
            return None;
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
/// Times as dear where the climb only shows where the likelihood leads to.
const DEARLY: f64 = 1000.0;
/// Times at most that a climb is asked to go farther.
const SHIFTS: usize = 8;
/// Gain of log-likelihood that a penalised climb no longer goes after.
const GAIN: f64 = 1e-9;

/// A walk outwards along the largest log-likelihoods with the quantity held.
struct Walk<'a, P> {
    problem: &'a P,
    quantity: Asked<'a>,
    side: f64,
    /// Log-likelihood at the interval's ends.
    cut: f64,
    /// Standard error of the quantity on its scale.
    error: f64,
    region: &'a Region<'a>,
}

/// Where a walk may go.
pub(crate) struct Region<'a> {
    /// Whether a value is so far out that there is no limit where it is still admitted.
    pub(crate) far: &'a (dyn Fn(f64) -> bool + Sync),
    /// Whether the law closes in on single failures there, where its likelihood says nothing.
    pub(crate) closes_in: &'a (dyn Fn(&[f64]) -> bool + Sync),
    /// Whether its parts have changed places there, so that a parameter is another part's.
    pub(crate) changed_places: &'a (dyn Fn(&[f64]) -> bool + Sync),
}

/// Goes on from where a contour's path broke off, moving the quantity's value outwards.
pub(crate) fn walk<P: LogLikelihood>(
    problem: &P,
    quantity: Asked<'_>,
    contour: &Contour<'_, P>,
    broken: &Broken,
    z: f64,
    region: &Region<'_>,
) -> End {
    let centre = quantity(contour.centre.as_slice());
    let slope = DVector::from_column_slice(&centre.gradient);
    let walk = Walk {
        problem,
        quantity,
        side: contour.side,
        cut: contour.top - 0.5 * z * z,
        error: slope.dot(&(&contour.covariance * &slope)).sqrt(),
        region,
    };
    match walk.from(broken) {
        Ok(end) if (region.far)(end) => Err(NoEnd::NoLimit),
        end => end,
    }
}

impl<P: LogLikelihood> Walk<'_, P> {
    fn from(&self, broken: &Broken) -> End {
        let (mut x, mut here) = (broken.x.clone(), broken.value);
        let mut step = FIRST_STEP;
        let mut closed = false;
        for _ in 0..MOST_STEPS {
            let next = here + self.side * step * self.error;
            match self.held(&x, next) {
                Some(held) if (self.region.closes_in)(&held.x) => {
                    closed = true;
                    step *= 0.5;
                }
                Some(held) if held.value < self.cut => return self.between(x, here, next),
                // A penalised climb stops a little short of the value asked for; it has to get on.
                Some(held) if self.ahead(&held.x, here) => {
                    here = (self.quantity)(&held.x).value;
                    x = held.x;
                    step = (1.5 * step).min(LONGEST_STEP);
                    closed = false;
                }
                _ => step *= 0.5,
            }
            if (self.region.far)(here) || self.runs_off(&x) {
                return Err(NoEnd::NoLimit);
            }
            if step < GIVEN_UP * FIRST_STEP {
                break;
            }
        }
        Err(if closed {
            NoEnd::ClosesIn
        } else {
            self.lost(&x, here + self.side * step * self.error)
        })
    }

    /// Why the likelihood has no maximum near a point with the quantity held a little farther out: where a climb from
    /// there, which pays dearly for straying, goes to.
    fn lost(&self, x: &[f64], target: f64) -> NoEnd {
        let mut paying = self.paying(target);
        paying.weight *= DEARLY;
        let mut why = NoEnd::NotFound;
        let mut seen = |point: &[f64]| {
            if why == NoEnd::NotFound && (self.region.closes_in)(point) {
                why = NoEnd::ClosesIn;
            } else if why == NoEnd::NotFound && (self.region.changed_places)(point) {
                why = NoEnd::ChangedPlaces;
            }
        };
        approach_seen(&paying, x, GAIN, &mut seen);
        why
    }

    /// The log-likelihood less a penalty for straying from the held value.
    fn paying(&self, target: f64) -> Penalised<'_, P> {
        Penalised {
            walk: self,
            target,
            weight: PENALTY / (self.error * self.error),
        }
    }

    /// The largest log-likelihood with the quantity held, from a point near it: by Newton's conditions, by a climb
    /// that pays for straying, and by the conditions again from there; the likeliest counts.
    fn held(&self, x: &[f64], target: f64) -> Option<Held> {
        let exact = |x: &[f64]| maximum(self.problem, self.quantity, x, target);
        let first = exact(x);
        let climbed = self.penalised(x, target);
        let second = climbed.as_ref().and_then(|held| exact(&held.x));
        let likelier = |a: Held, b: Held| if b.value > a.value { b } else { a };
        first.into_iter().chain(second).reduce(likelier).or(climbed)
    }

    fn ahead(&self, x: &[f64], here: f64) -> bool {
        ((self.quantity)(x).value - here) * self.side > 0.0
    }

    /// Where the largest log-likelihood falls to the cut, between an admitted value and one that is not, by halving:
    /// the last admitted value.
    fn between(&self, mut x: Vec<f64>, mut inside: f64, mut outside: f64) -> End {
        while (outside - inside).abs() > CLOSE * self.error {
            let middle = 0.5 * (inside + outside);
            let Some(held) = self.held(&x, middle) else {
                return Err(self.lost(&x, middle));
            };
            if (self.region.closes_in)(&held.x) {
                return Err(NoEnd::ClosesIn);
            }
            if held.value < self.cut {
                outside = middle;
            } else if self.ahead(&held.x, inside) {
                inside = (self.quantity)(&held.x).value;
                x = held.x;
            } else {
                return Err(self.lost(&x, middle));
            }
        }
        Ok(inside)
    }

    /// The largest log-likelihood less a penalty for straying from the held value, asked for farther out each time by
    /// what it stayed behind (the method of multipliers; Hestenes 1969, from memory): finds its way where Newton's
    /// conditions lead astray.
    fn penalised(&self, start: &[f64], target: f64) -> Option<Held> {
        let mut penalised = self.paying(target);
        let mut x = start.to_vec();
        for _ in 0..SHIFTS {
            x = approach(&penalised, &x, GAIN)?.x;
            let behind = target - (self.quantity)(&x).value;
            if behind.abs() < CLOSE * self.error {
                break;
            }
            penalised.target += behind;
        }
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

/// What a penalised climb maximises.
struct Penalised<'a, P> {
    walk: &'a Walk<'a, P>,
    target: f64,
    weight: f64,
}

impl<P: LogLikelihood> LogLikelihood for Penalised<'_, P> {
    fn value(&self, x: &[f64]) -> f64 {
        let off = (self.walk.quantity)(x).value - self.target;
        self.walk.problem.value(x) - 0.5 * self.weight * off * off
    }
    fn derivatives(&self, x: &[f64]) -> Derivatives {
        let (mut l, q) = (self.walk.problem.derivatives(x), (self.walk.quantity)(x));
        let off = q.value - self.target;
        l.value -= 0.5 * self.weight * off * off;
        for (slope, gq) in l.gradient.iter_mut().zip(&q.gradient) {
            *slope -= self.weight * off * gq;
        }
        for (i, (row, own)) in l.hessian.iter_mut().zip(&q.hessian).enumerate() {
            let gi = q.gradient.get(i).copied().unwrap_or(0.0);
            for ((bend, hq), gj) in row.iter_mut().zip(own).zip(&q.gradient) {
                *bend -= self.weight * (gi * gj + off * hq);
            }
        }
        l
    }
    fn weight(&self) -> f64 {
        self.walk.problem.weight()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests;
