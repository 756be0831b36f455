//! The likelihood of inspection histories, exact for each (Christer & Waller 1984: a defect comes at age U, the
//! failure a delay H later, and a look finds a defect that is there with probability r).
//!
//! With the sound looks a₁ < … < aₙ before the end t and K(u) the number of them after u:
//!
//! - failed at t: ∫₀ᵗ f_U(u) (1 − r)^K(u) f_H(t − u) du;
//! - failed in (s, t], not yet at s: ∫₀ˢ f_U (1 − r)^K [S_H(s − u) − S_H(t − u)] du + ∫ₛᵗ f_U F_H(t − u) du;
//! - found at t: r ∫₀ᵗ f_U (1 − r)^K S_H(t − u) du;
//! - running at t: S_U(t) + ∫₀ᵗ f_U (1 − r)^K S_H(t − u) du;
//! - watched from age e: each divided by what "running at e" has, with the looks before e.

use super::integral::{Point, add_integral, add_within};
use super::moments::{Moments, PARAMETERS, Plain, Sum};
use super::stage::Kernel;
use crate::law::Law;
use crate::quantity::Derivatives;
use rayon::prelude::*;
use sealspan_numeric::jet::{Jet, Scalar};
use sealspan_records::history::{Ended, History};

/// Histories a task takes at a time; fixed, so that the order of additions is.
const CHUNK: usize = 32;

/// ln likelihood of one history by two laws, alone and with derivatives.
#[derive(Debug, Clone, Copy)]
pub(super) struct Term {
    pub(super) value: fn(&Point, &History) -> f64,
    pub(super) jet: fn(&Point, &History) -> Jet<PARAMETERS>,
}

impl Term {
    pub(super) fn of<U: Law<2>, H: Law<2>>() -> Self {
        Self {
            value: whole::<U, H, Plain>,
            jet: whole::<U, H, Moments>,
        }
    }
}

fn whole<U: Law<2>, H: Law<2>, S: Sum>(point: &Point, history: &History) -> S::Ln {
    let looks = history.looks();
    let end = match history.ended() {
        Ended::Running(t) => running::<U, H, S>(point, looks, t).ln(),
        Ended::Failed(t) => integral::<U, H, S>(point, Kernel::Density, looks, t).ln(),
        Ended::FailedBetween(from, to) => between::<U, H, S>(point, looks, from, to).ln(),
        Ended::Found(t) => {
            let ln = integral::<U, H, S>(point, Kernel::Survival, looks, t).ln();
            S::found(ln, point)
        }
    };
    let entry = history.entry();
    if entry <= 0.0 {
        return end;
    }
    let before = looks.partition_point(|look| *look < entry);
    let alive = running::<U, H, S>(point, looks.get(..before).unwrap_or(&[]), entry);
    end - alive.ln()
}

fn integral<U: Law<2>, H: Law<2>, S: Sum>(
    point: &Point,
    kernel: Kernel,
    looks: &[f64],
    end: f64,
) -> S {
    let mut sum = S::EMPTY;
    add_integral::<U, H, S>(&mut sum, point, kernel, looks, end);
    sum
}

/// Not failed by `t`, nor found by the looks up to it.
fn running<U: Law<2>, H: Law<2>, S: Sum>(point: &Point, looks: &[f64], t: f64) -> S {
    let mut sum = S::EMPTY;
    if t <= 0.0 {
        sum.add_value(0.0);
        return sum;
    }
    let sound = point.defect.ln_survival::<U>(t.ln());
    if sound.value > f64::NEG_INFINITY {
        sum.add(sound.value, &sound, &NO_DELAY);
    }
    add_integral::<U, H, S>(&mut sum, point, Kernel::Survival, looks, t);
    sum
}

const NO_DELAY: super::stage::Local = super::stage::Local {
    value: 0.0,
    first: [0.0; 2],
    second: [0.0; 3],
};

fn between<U: Law<2>, H: Law<2>, S: Sum>(point: &Point, looks: &[f64], from: f64, to: f64) -> S {
    let mut sum = S::EMPTY;
    if from > 0.0 {
        let kernel = Kernel::Between(to - from);
        add_integral::<U, H, S>(&mut sum, point, kernel, looks, from);
    }
    add_within::<U, H, S>(&mut sum, point, from, to);
    sum
}

/// The log-likelihood of reduced histories.
pub(super) fn total(term: Term, point: &Point, histories: &[History]) -> f64 {
    let one = |history: &History| (term.value)(point, history) * history.count();
    let chunk = |list: &[History]| list.iter().fold(0.0, |sum, history| sum + one(history));
    let parts: Vec<f64> = histories.par_chunks(CHUNK).map(chunk).collect();
    parts.into_iter().fold(0.0, |a, b| a + b)
}

/// The same with its derivatives.
pub(super) fn total_derivatives(term: Term, point: &Point, histories: &[History]) -> Derivatives {
    let zero = || Jet::<PARAMETERS>::constant(0.0);
    let chunk = |list: &[History]| {
        list.iter().fold(zero(), |sum, history| {
            sum + (term.jet)(point, history) * history.count()
        })
    };
    let parts: Vec<Jet<PARAMETERS>> = histories.par_chunks(CHUNK).map(chunk).collect();
    let sum = parts.into_iter().fold(zero(), |a, b| a + b);
    Derivatives {
        value: sum.value,
        gradient: sum.gradient.to_vec(),
        hessian: sum.hessian.iter().map(|row| row.to_vec()).collect(),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod sums_and_units {
    use super::*;
    use crate::laws::weibull::Weibull;

    /// Scale and shape of the defect's age and of the delay, and the detection.
    type Stages = [f64; 5];

    fn theta([eta, shape, late, late_shape, r]: Stages) -> [f64; PARAMETERS] {
        let logit = (r / (1.0 - r)).ln();
        [eta.ln(), -shape.ln(), late.ln(), -late_shape.ln(), logit]
    }

    fn ends(t: f64, before: f64) -> [Ended; 4] {
        [
            Ended::Failed(t),
            Ended::FailedBetween(before, t),
            Ended::Found(t),
            Ended::Running(t),
        ]
    }

    /// Exactly and roughly.
    fn values(stages: Stages, history: &History) -> [f64; 2] {
        let theta = theta(stages);
        let term = Term::of::<Weibull, Weibull>();
        [Point::new(&theta), Point::rough(&theta)].map(|point| (term.value)(&point, history))
    }

    /// ∫ over (a, b) of f(age, distance to `end`) by Simpson's rule, in a variable whose fifth power is the distance to
    /// the nearer end of the piece.
    fn plain(f: impl Fn(f64, f64) -> f64, a: f64, b: f64, end: f64) -> f64 {
        let half = 0.5 * (b - a);
        let steps = 6000;
        let each = (0..=steps).map(|i| {
            let w = f64::from(i) / f64::from(steps);
            let weight = match i {
                0 => 1.0,
                _ if i == steps => 1.0,
                _ if i % 2 == 1 => 4.0,
                _ => 2.0,
            };
            let (off, by) = (half * w.powi(5), half * 5.0 * w.powi(4));
            let both = [f(a + off, end - a - off), f(b - off, end - b + off)];
            let both = both.map(|v| if w > 0.0 { v * by } else { 0.0 });
            weight * (both[0] + both[1])
        });
        each.sum::<f64>() / (3.0 * f64::from(steps))
    }

    /// The likelihood of a history as it is written above, by plain sums from look to look.
    fn written_out([eta, shape, late, late_shape, r]: Stages, looks: &[f64], ended: Ended) -> f64 {
        let alive = |t: f64, scale: f64, shape: f64| (-(t / scale).powf(shape)).exp();
        let density = |t: f64, scale: f64, shape: f64| {
            shape / t * (t / scale).powf(shape) * alive(t, scale, shape)
        };
        let over = |end: f64, kernel: &dyn Fn(f64) -> f64| {
            let cuts: Vec<f64> = [0.0]
                .into_iter()
                .chain(looks.iter().copied())
                .chain([end])
                .collect();
            let pieces = cuts.windows(2).filter(|w| w[1] > w[0]).map(|w| {
                let after = looks
                    .iter()
                    .filter(|look| **look > w[0] && **look < end)
                    .count();
                let missed = (1.0 - r).powi(after as i32);
                missed * plain(|u, h| density(u, eta, shape) * kernel(h), w[0], w[1], end)
            });
            pieces.sum::<f64>()
        };
        let sound = |h: f64| alive(h, late, late_shape);
        match ended {
            Ended::Failed(t) => over(t, &|h| density(h, late, late_shape)),
            Ended::Found(t) => r * over(t, &sound),
            Ended::Running(t) => alive(t, eta, shape) + over(t, &sound),
            Ended::FailedBetween(s, t) => {
                let within = |u: f64, h: f64| {
                    density(u, eta, shape) * -(-(h / late).powf(late_shape)).exp_m1()
                };
                over_last_look(over(s, &|h| sound(h) - sound(h + t - s)), r, looks, s)
                    + plain(within, s, t, t)
            }
        }
    }

    /// A look at the very age `s` that saw it sound counts as missed by every defect before.
    fn over_last_look(sum: f64, r: f64, looks: &[f64], s: f64) -> f64 {
        if looks.last() == Some(&s) {
            sum * (1.0 - r)
        } else {
            sum
        }
    }

    /// Sharp delays in long lives and blunt ones, looks early, late, often and never: exactly to 1e-7, roughly to 1e-4.
    #[test]
    fn likelihoods_of_histories_are_plain_sums() {
        let stages = [
            [900.0, 2.6, 120.0, 9.5, 0.6],
            [900.0, 1.3, 400.0, 1.4, 0.6],
            [700.0, 1.2, 120.0, 9.5, 0.3],
        ];
        let plans: [&[f64]; 5] = [
            &[],
            &[350.0, 700.0, 1050.0],
            &[700.0],
            &[20.0, 1390.0],
            &[5.0, 40.0, 900.0, 1399.0],
        ];
        let mut wrong = vec![];
        for stages in stages {
            for looks in plans {
                let between = Ended::FailedBetween(looks.last().copied().unwrap_or(1200.0), 1400.0);
                let all = [
                    Ended::Failed(1400.0),
                    Ended::Found(1400.0),
                    Ended::Running(1400.0),
                    between,
                ];
                for ended in all {
                    let history = History::new(0.0, looks.to_vec(), ended, 1.0).unwrap();
                    let want = written_out(stages, looks, ended).ln();
                    let [exact, rough] = values(stages, &history);
                    if (exact - want).abs() > 1e-7 || (rough - want).abs() > 1e-4 {
                        wrong.push((stages, looks, ended, exact - want, rough - want));
                    }
                }
            }
        }
        assert!(wrong.is_empty(), "{wrong:?}");
    }

    /// With all ages k times as large a density is k times less and a chance the same, exactly and roughly.
    #[test]
    fn another_unit_of_age_changes_densities_alone() {
        let stages = [
            [1.0, 2.5, 0.04, 6.0, 0.6],
            [1.0, 0.8, 0.3, 0.9, 0.6],
            [0.7, 1.9, 0.1, 9.5, 0.3],
        ];
        let plans: [&[f64]; 4] = [&[], &[0.3, 0.6, 0.9], &[0.14], &[0.001, 0.5, 0.86]];
        for [eta, shape, late, late_shape, r] in stages {
            for looks in plans {
                for unit in [1e-3, 365.0, 5000.0, 1e5] {
                    let before = looks.last().copied().unwrap_or(0.8);
                    let pairs = ends(1.0, before).into_iter().zip(ends(unit, unit * before));
                    for (here, there) in pairs {
                        let scaled = looks.iter().map(|t| unit * t).collect();
                        let plain = History::new(0.0, looks.to_vec(), here, 1.0).unwrap();
                        let other = History::new(0.0, scaled, there, 1.0).unwrap();
                        let plain = values([eta, shape, late, late_shape, r], &plain);
                        let other = values([unit * eta, shape, unit * late, late_shape, r], &other);
                        let less = match here {
                            Ended::Failed(_) => unit.ln(),
                            _ => 0.0,
                        };
                        for (a, b) in plain.into_iter().zip(other) {
                            assert!(
                                (a - b - less).abs() < 1e-6,
                                "{unit} {looks:?} {here:?}: {a} {b}"
                            );
                        }
                    }
                }
            }
        }
    }
}
