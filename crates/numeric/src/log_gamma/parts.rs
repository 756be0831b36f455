//! The smooth functions that the log-gamma law is made of, with derivatives.

#![expect(
    clippy::indexing_slicing,
    reason = "worked out when the program is built, which fails beyond the end"
)]

use crate::special::{LN_SQRT_TWO_PI, digamma, ln_gamma, trigamma};
use std::cell::Cell;
use std::thread::LocalKey;

/// 1/(k + 2)!, k = 0, 1, …
const FACTORIALS: [f64; 18] = {
    let mut out = [0.0; 18];
    let mut c = 0.5;
    let mut k = 0;
    while k < 18 {
        out[k] = c;
        c /= k as f64 + 3.0;
        k += 1;
    }
    out
};

/// h(y) = (eʸ − 1 − y)/y².
pub(super) fn excess_value(y: f64) -> f64 {
    if y.abs() < 0.5 {
        // Σ yᵏ/(k+2)!, to the last digit in 12 terms.
        FACTORIALS.iter().take(12).rev().fold(0.0, |h, c| h * y + c)
    } else {
        (y.exp_m1() - y) / (y * y)
    }
}

/// h(y) = (eʸ − 1 − y)/y² with its first two derivatives.
#[must_use]
pub fn excess(y: f64) -> (f64, f64, f64) {
    if y.abs() < 1.0 {
        let (mut h, mut first, mut second) = (0.0, 0.0, 0.0);
        for c in FACTORIALS.iter().rev() {
            second = second * y + 2.0 * first;
            first = first * y + h;
            h = h * y + c;
        }
        (h, first, second)
    } else {
        let grown = y.exp_m1();
        let h = (grown - y) / (y * y);
        let first = grown / (y * y) - 2.0 * h / y;
        let second = (grown + 1.0) / (y * y) - 2.0 * grown / (y * y * y) - 2.0 * first / y
            + 2.0 * h / (y * y);
        (h, first, second)
    }
}

/// Below this the remainder of Stirling's formula comes from its series.
const SERIES: f64 = 0.15;

/// B₂ₖ / (2k (2k − 1)), the factors of v^{2k−1}, k = 1 … (Abramowitz & Stegun 6.1.41).
const STIRLING: [f64; 10] = [
    1.0 / 12.0,
    -1.0 / 360.0,
    1.0 / 1260.0,
    -1.0 / 1680.0,
    1.0 / 1188.0,
    -691.0 / 360_360.0,
    1.0 / 156.0,
    -3617.0 / 122_400.0,
    43_867.0 / 244_188.0,
    -174_611.0 / 125_400.0,
];

/// R(v) = ln Γ(1/v) − (1/v − ½) ln(1/v) + 1/v − ½ ln 2π for v ≥ 0: the remainder of Stirling's formula.
fn stirling_remainder_value(v: f64) -> f64 {
    if v < SERIES {
        let s = v * v;
        v * STIRLING.iter().rev().fold(0.0, |sum, c| sum * s + c)
    } else {
        let a = 1.0 / v;
        ln_gamma(a) - (a - 0.5) * a.ln() + a - LN_SQRT_TWO_PI
    }
}

/// The last argument and answer of each thread: a sum over a sample asks for the same one at every age.
fn remembered<T: Copy>(last: &'static LocalKey<Cell<(f64, T)>>, v: f64, f: fn(f64) -> T) -> T {
    let (at, known) = last.get();
    if at == v {
        return known;
    }
    let found = f(v);
    last.set((v, found));
    found
}

/// R(v), the remainder of Stirling's formula for ln Γ at 1/v, v ≥ 0, with its first two derivatives.
#[must_use]
pub fn stirling_remainder(v: f64) -> (f64, f64, f64) {
    thread_local! {
        static LAST: Cell<(f64, (f64, f64, f64))> = const { Cell::new((f64::NAN, (0.0, 0.0, 0.0))) };
    }
    remembered(&LAST, v, worked_out)
}

fn worked_out(v: f64) -> (f64, f64, f64) {
    let value = stirling_remainder_value(v);
    if v < SERIES {
        let s = v * v;
        let (mut first, mut second) = (0.0, 0.0);
        for (k, c) in STIRLING.iter().enumerate().rev() {
            let n = 2.0 * k as f64 + 1.0;
            first = first * s + c * n;
            second = second * s + c * n * (n - 1.0);
        }
        // The last sum is Σ c n (n−1) v^{2k}; its power is one lower.
        let second = if v > 0.0 { second / v } else { 0.0 };
        (value, first, second)
    } else {
        let a = 1.0 / v;
        let first = digamma(a) - a.ln() + 0.5 * v;
        let second = trigamma(a) - v - 0.5 * v * v;
        (
            value,
            -first * a * a,
            second * a.powi(4) + 2.0 * first * a.powi(3),
        )
    }
}

/// C(q).
pub(super) fn ln_constant_value(q: f64) -> f64 {
    thread_local! {
        static LAST: Cell<(f64, f64)> = const { Cell::new((f64::NAN, 0.0)) };
    }
    -LN_SQRT_TWO_PI - remembered(&LAST, q * q, stirling_remainder_value)
}

/// C(q) with its first two derivatives.
#[must_use]
pub fn ln_constant(q: f64) -> (f64, f64, f64) {
    let (r, first, second) = stirling_remainder(q * q);
    (
        -LN_SQRT_TWO_PI - r,
        -2.0 * q * first,
        -2.0 * first - 4.0 * q * q * second,
    )
}

/// (eʸ − 1)/y.
pub(super) fn growth(y: f64) -> f64 {
    if y == 0.0 { 1.0 } else { y.exp_m1() / y }
}

/// φ′(u) = (e^{qu} − 1)/q.
pub(super) fn slope(u: f64, q: f64) -> f64 {
    u * growth(q * u)
}

/// ∂q and ∂q² of ln density.
pub(super) fn in_q(u: f64, q: f64, c: (f64, f64, f64)) -> (f64, f64) {
    let (_, h1, h2) = excess(q * u);
    let square = u * u;
    (c.1 - square * u * h1, c.2 - square * square * h2)
}
