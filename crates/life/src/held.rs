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
mod tests {
    use super::*;
    use sealspan_numeric::jet::{Jet, Scalar};

    /// A likelihood of two parameters.
    struct Hill<F>(F);

    impl<F: Fn([Jet<2>; 2]) -> Jet<2> + Sync> LogLikelihood for Hill<F> {
        fn value(&self, x: &[f64]) -> f64 {
            self.derivatives(x).value
        }
        fn derivatives(&self, x: &[f64]) -> Derivatives {
            (self.0)(Jet::variables([x[0], x[1]])).into()
        }
        fn weight(&self) -> f64 {
            1.0
        }
    }

    /// Of the first parameter about 7 with this error, and the second about 2 with error 1.
    fn normal(error: f64) -> Hill<impl Fn([Jet<2>; 2]) -> Jet<2> + Sync> {
        Hill(move |[x, y]: [Jet<2>; 2]| {
            let (a, b) = ((x - 7.0) * (1.0 / error), y - 2.0);
            (a * a + b * b) * -0.5
        })
    }

    fn first(x: &[f64]) -> Derivatives {
        let [x, _] = Jet::<2>::variables([x[0], x[1]]);
        x.into()
    }

    fn nowhere(_: &[f64]) -> bool {
        false
    }

    const EVERYWHERE: Region<'static> = Region {
        far: &|_| false,
        closes_in: &nowhere,
        changed_places: &nowhere,
    };

    fn walking<'a, P>(
        problem: &'a P,
        side: f64,
        error: f64,
        region: &'a Region<'a>,
    ) -> Walk<'a, P> {
        Walk {
            problem,
            quantity: &first,
            side,
            cut: -0.5 * 1.65 * 1.65,
            error,
            region,
        }
    }

    fn broken() -> Broken {
        Broken {
            value: 7.0,
            x: vec![7.0, 2.0],
        }
    }

    #[test]
    fn a_held_value_may_lie_far_from_nought() {
        let hill = Hill(|[x, y]: [Jet<2>; 2]| {
            let (a, b) = (x - 100.0, y - 2.0);
            (a * a + a * b + b * b) * -0.5
        });
        let held = maximum(&hill, &first, &[100.0, 2.0], 100.5).unwrap();
        // With a = 0.5 held the rest is greatest at b = −a/2.
        assert!((held.x[0] - 100.5).abs() < 1e-9 && (held.x[1] - 1.75).abs() < 1e-9);
        assert!((held.value + 0.5 * 0.75 * 0.25).abs() < 1e-9);
    }

    /// A bent quantity held a hundredth from its estimate, from the estimate on: the best along the line of points that
    /// have it, by halving.
    #[test]
    fn a_bent_quantity_is_held_close_to_its_estimate() {
        let hill = normal(1.0);
        let quantity = |x: &[f64]| -> Derivatives {
            let [x, y] = Jet::<2>::variables([x[0], x[1]]);
            (x + y * 0.3 + x * y * 0.2).into()
        };
        let estimate = quantity(&[7.0, 2.0]).value;
        for target in [estimate + 0.01, estimate - 0.01, estimate + 0.5] {
            let held = maximum(&hill, &quantity, &[7.0, 2.0], target).unwrap();
            assert!((quantity(&held.x).value - target).abs() < 1e-7);
            let along = |y: f64| hill.value(&[(target - 0.3 * y) / (1.0 + 0.2 * y), y]);
            let (mut low, mut high) = (1.0, 3.0);
            while high - low > 1e-7 {
                let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
                if along(a) < along(b) {
                    low = a;
                } else {
                    high = b;
                }
            }
            assert!((held.value - along(low)).abs() < 1e-9, "{target}");
        }
    }

    /// Both ends of a normal likelihood lie 1.65 errors off, whatever the error.
    #[test]
    fn a_walk_ends_where_the_likelihood_has_fallen() {
        for error in [0.01, 1.0, 5.0] {
            for side in [1.0, -1.0] {
                let hill = normal(error);
                let contour = Contour {
                    likelihood: &hill,
                    quantity: &first,
                    top: 0.0,
                    centre: DVector::from_vec(vec![7.0, 2.0]),
                    covariance: DMatrix::from_diagonal(&DVector::from_vec(vec![
                        error * error,
                        1.0,
                    ])),
                    side,
                };
                let end = walk(&hill, &first, &contour, &broken(), 1.65, &EVERYWHERE).unwrap();
                let off = (end - 7.0) / error - 1.65 * side;
                assert!(off.abs() < 2e-4, "{error} {side}: {off}");
            }
        }
    }

    /// Steps shrink where they would go too far: to where the law closes in, or beyond the likelihood's range.
    #[test]
    fn a_walk_takes_shorter_steps_where_longer_ones_fail() {
        let closing = Region {
            closes_in: &|x| x[0] > 8.7,
            ..EVERYWHERE
        };
        let ends_there = Hill(|[x, y]: [Jet<2>; 2]| {
            let (a, b) = (x - 7.0, y - 2.0);
            if a.value > 1.7 {
                Jet::constant(f64::NAN)
            } else {
                (a * a + b * b) * -0.5
            }
        });
        let hill = normal(1.0);
        let ends = [
            walking(&hill, 1.0, 1.0, &closing).from(&broken()),
            walking(&ends_there, 1.0, 1.0, &EVERYWHERE).from(&broken()),
        ];
        for end in ends {
            let end = end.unwrap();
            assert!((end - 8.65).abs() < 2e-4, "{end}");
        }
    }

    /// A climb that pays for straying comes to the value held, whatever the error.
    #[test]
    fn a_penalised_climb_comes_to_the_value_held() {
        for error in [0.01, 1.0, 5.0] {
            let hill = normal(error);
            let walk = walking(&hill, 1.0, error, &EVERYWHERE);
            let held = walk.penalised(&[7.0, 2.0], 7.0 + 1.5 * error).unwrap();
            let off = (held.x[0] - 7.0) / error - 1.5;
            assert!(off.abs() < 1.01e-4, "{error}: {off}");
            assert!((held.value + 1.125).abs() < 1e-3);
        }
    }

    /// From between two ridges Newton's conditions lead to the valley, and the climb to the higher one, which counts.
    #[test]
    fn of_two_places_with_the_value_held_the_likelier_counts() {
        let ridges = |y: f64| -3.0 * (y * y - 1.0).powi(2) + 0.5 * y;
        let hill = Hill(|[x, y]: [Jet<2>; 2]| {
            let (a, b) = (x - 7.0, y * y - 1.0);
            a * a * -0.5 - b * b * 3.0 + y * 0.5
        });
        let held = walking(&hill, 1.0, 1.0, &EVERYWHERE)
            .held(&[7.0, 0.0], 7.5)
            .unwrap();
        let best = (0..4000).map(|i| ridges(f64::from(i) / 1000.0 - 2.0));
        let best = best.fold(f64::NEG_INFINITY, f64::max) - 0.125;
        assert!((held.value - best).abs() < 1e-4, "{} {best}", held.value);
    }

    /// A quantity that is no number from 7.5 on runs off upwards where the likelihood admits that point, and then only.
    #[test]
    fn a_quantity_runs_off_where_no_number_is_admitted() {
        let until = |x: &[f64]| -> Derivatives {
            let [x, _] = Jet::<2>::variables([x[0], x[1]]);
            (if x.value < 7.5 {
                x
            } else {
                Jet::constant(f64::NAN)
            })
            .into()
        };
        for (error, side, off) in [(1.0, 1.0, true), (1.0, -1.0, false), (0.1, 1.0, false)] {
            let hill = normal(error);
            let walk = Walk {
                quantity: &until,
                ..walking(&hill, side, error, &EVERYWHERE)
            };
            assert_eq!(walk.runs_off(&[7.0, 2.0]), off, "{error} {side}");
        }
    }

    /// What pays for straying counts as many seals as the likelihood itself.
    #[test]
    fn a_penalty_leaves_the_number_of_seals() {
        struct Seals(f64);
        impl LogLikelihood for Seals {
            fn value(&self, x: &[f64]) -> f64 {
                normal(1.0).value(x)
            }
            fn derivatives(&self, x: &[f64]) -> Derivatives {
                normal(1.0).derivatives(x)
            }
            fn weight(&self) -> f64 {
                self.0
            }
        }
        let seals = Seals(40.0);
        assert_eq!(
            walking(&seals, 1.0, 1.0, &EVERYWHERE).paying(8.0).weight(),
            40.0
        );
    }

    /// A way that is lost has the reason first met on it.
    #[test]
    fn a_lost_way_has_its_reason() {
        let hill = normal(1.0);
        for (closes_in, changed, why) in [
            (false, false, NoEnd::NotFound),
            (false, true, NoEnd::ChangedPlaces),
            (true, false, NoEnd::ClosesIn),
            (true, true, NoEnd::ClosesIn),
        ] {
            let region = Region {
                closes_in: &|_: &[f64]| closes_in,
                changed_places: &|_: &[f64]| changed,
                ..EVERYWHERE
            };
            assert_eq!(
                walking(&hill, 1.0, 1.0, &region).lost(&[7.0, 2.0], 8.0),
                why
            );
        }
    }

    /// A penalised climb pays for straying by half its weight times the square, in the value and in both slopes.
    #[test]
    fn straying_is_paid_for_by_its_square() {
        let hill = normal(2.0);
        let bent = |x: &[f64]| -> Derivatives {
            let [x, y] = Jet::<2>::variables([x[0], x[1]]);
            (x + y * 0.3 + x * y * 0.2).into()
        };
        let walk = Walk {
            quantity: &bent,
            ..walking(&hill, 1.0, 0.5, &EVERYWHERE)
        };
        let paying = walk.paying(12.0);
        let at = [7.5, 2.4];
        let off = bent(&at).value - 12.0;
        let want = hill.value(&at) - 0.5 * PENALTY / 0.25 * off * off;
        assert!((paying.value(&at) - want).abs() < 1e-9 * want.abs());
        let found = paying.derivatives(&at);
        assert!((found.value - want).abs() < 1e-9 * want.abs());
        let h = 1e-4;
        for i in 0..2 {
            let moved = |h: f64| {
                let mut x = at;
                x[i] += h;
                x
            };
            let slope = (paying.value(&moved(h)) - paying.value(&moved(-h))) / (2.0 * h);
            assert!((found.gradient[i] / slope - 1.0).abs() < 1e-6, "{i}");
            let (up, down) = (
                paying.derivatives(&moved(h)).gradient,
                paying.derivatives(&moved(-h)).gradient,
            );
            for j in 0..2 {
                let bend = (up[j] - down[j]) / (2.0 * h);
                assert!((found.hessian[i][j] / bend - 1.0).abs() < 1e-6, "{i} {j}");
            }
        }
    }
}
