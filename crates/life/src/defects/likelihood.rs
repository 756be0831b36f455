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
