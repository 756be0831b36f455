//! The tail of the log-gamma law outward from w, over the density at w, for q ≥ 0. Three ways, so that each is
//! quick and exact where it is used: a continued fraction above, a series below, quadrature for the narrow band
//! of q near 0 where the series is long.
//!
//! With a = 1/q² and x = a e^{qw} the tails are the incomplete gamma functions Γ(a, x) and γ(a, x). Written in w
//! and q no term of either formula cancels, nor do their derivatives in q at fixed w.

use super::panels;
use super::parts::{excess, slope};

/// A tail over the density at w, a function of (w, q).
pub(super) struct Tail {
    /// +1 upward, −1 downward from w.
    pub side: f64,
    /// ∫ density / density at w.
    pub share: f64,
    /// ∂q ln share.
    pub first: f64,
    /// ∂q² ln share.
    pub second: f64,
    /// 1 ∓ φ′(w) share, without its cancellation.
    pub steeper: f64,
}

/// From this slope φ′(w) on the upper tail is a fraction; below it holds a fiftieth of the law at least, so that
/// the lower tail gives it too.
const STEEP: f64 = 1.5;
/// Below this q the series is longer than quadrature.
const NARROW: f64 = 0.02;

/// How the tail is had at (w, q).
enum Way {
    Fraction(f64),
    Series,
    Panels,
}

fn way(w: f64, q: f64) -> Way {
    let steep = slope(w, q);
    if steep >= STEEP {
        Way::Fraction(steep)
    } else if q >= NARROW {
        Way::Series
    } else {
        Way::Panels
    }
}

/// The tail that is had directly at (w, q): the smaller one, or one that is not near 1.
pub(super) fn tail(w: f64, q: f64) -> Tail {
    match way(w, q) {
        Way::Fraction(steep) => fraction(w, q, steep),
        Way::Series => series(w, q),
        Way::Panels => panels::tail(w, q),
    }
}

/// Its side and share alone.
pub(super) fn share(w: f64, q: f64) -> (f64, f64) {
    match way(w, q) {
        Way::Fraction(steep) => (1.0, fraction_share(q, steep)),
        Way::Series => (-1.0, series_share(w, q)),
        Way::Panels => panels::share(w, q),
    }
}

/// Terms of a series below this part of the sum add nothing, nor do the terms after them.
const NOTHING: f64 = 1e-19;

/// γ(a, x) = xᵃ e⁻ˣ Σ xⁿ / (a (a+1) … (a+n)) (DLMF 8.7.1 with 8.6.3; from memory): the share is
/// q Σ Tₙ with Tₙ = Tₙ₋₁ e^{qw}/(1 + nq²).
fn series_share(w: f64, q: f64) -> f64 {
    let (grown, square) = ((q * w).exp(), q * q);
    let (mut n, mut term, mut sum) = (0.0, 1.0, 1.0);
    while term > NOTHING * sum {
        n += 1.0;
        term *= grown / (1.0 + n * square);
        sum += term;
    }
    q * sum
}

/// The series with its derivatives: ∂q ln Tₙ = Σₖ (w − 2kq/(1 + kq²)).
fn series(w: f64, q: f64) -> Tail {
    let (grown, square) = ((q * w).exp(), q * q);
    let (mut n, mut term) = (0.0, 1.0);
    let (mut first, mut second) = (0.0, 0.0);
    let (mut sum, mut sum_first, mut sum_second, mut sum_n) = (1.0, 0.0, 0.0, 0.0);
    while term > NOTHING * sum {
        n += 1.0;
        let part = n * square;
        let r = 1.0 / (1.0 + part);
        term *= grown * r;
        first += w - 2.0 * n * q * r;
        second -= 2.0 * n * (1.0 - part) * r * r;
        sum += term;
        sum_first += term * first;
        sum_second += term * (first * first + second);
        sum_n += term * n;
    }
    let (mean, square_mean) = (sum_first / sum, sum_second / sum);
    Tail {
        side: -1.0,
        share: q * sum,
        first: 1.0 / q + mean,
        second: square_mean - mean * mean - 1.0 / square,
        // 1 + φ′ q Σ Tₙ, with e^{qw} Tₙ₋₁ = (1 + nq²) Tₙ.
        steeper: square * sum_n,
    }
}

/// Legs of the fraction that leave no error: each takes off e^{−φ′/√n − 2q√n} about, and for large q the law
/// of convergence in x = a + φ′/q rules (fitted to the exact need on a grid of q from 0 to 8).
fn legs(q: f64, steep: f64) -> u32 {
    let wide = 19.0 / steep;
    let root = if q > 0.0 {
        wide.min((28.5 / q).cbrt())
    } else {
        wide
    };
    let over = root * (2.0 * steep + 4.0 / 3.0 * q * root * root) - 38.0;
    let root = root - over / (2.0 * steep + 4.0 * q * root * root);
    let near = 95.0 * q * q / (1.0 + steep * q);
    8 + (root * root).max(near).min(2000.0) as u32
}

/// Γ(a, x) as Legendre's continued fraction (DLMF 8.9.2, even part; from memory): 1/share is
/// B₀ + A₁/(B₁ + A₂/(B₂ + …)), Aₙ = n(1 − nq²), Bₙ = φ′(w) + (2n + 1)q. At q = 0 it is Laplace's for the normal law.
fn fraction_share(q: f64, steep: f64) -> f64 {
    let legs = legs(q, steep);
    let square = q * q;
    let mut d = steep + f64::from(2 * legs + 1) * q;
    for n in (1..=legs).rev() {
        let n = f64::from(n);
        d = steep + (2.0 * n - 1.0) * q + n * (1.0 - n * square) / d;
    }
    1.0 / d
}

fn fraction(w: f64, q: f64, steep: f64) -> Tail {
    let legs = legs(q, steep);
    let square = q * q;
    // φ′ = w g(qw), g(y) = (eʸ − 1)/y = 1 + y h(y).
    let y = q * w;
    let (h, h1, h2) = excess(y);
    let steep_first = w * w * (h + y * h1);
    let steep_second = w * w * w * (2.0 * h1 + y * h2);
    let last = f64::from(2 * legs + 1);
    let (mut d, mut d1, mut d2) = (steep + last * q, steep_first + last, steep_second);
    let mut rest = 0.0;
    for n in (1..=legs).rev() {
        let n = f64::from(n);
        let r = 1.0 / d;
        // A/D and its derivatives in q.
        let a = n * (1.0 - n * square);
        let a1 = -2.0 * n * n * q;
        let value = a * r;
        let first = (a1 - value * d1) * r;
        let second = (-2.0 * n * n - 2.0 * first * d1 - value * d2) * r;
        rest = (2.0 * n - 1.0) * q + value;
        d = steep + rest;
        d1 = steep_first + (2.0 * n - 1.0) + first;
        d2 = steep_second + second;
    }
    let r = 1.0 / d;
    let slope = d1 * r;
    Tail {
        side: 1.0,
        share: r,
        first: -slope,
        second: slope * slope - d2 * r,
        steeper: rest * r,
    }
}
