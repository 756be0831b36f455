//! The standardised log-gamma law of Prentice (1974, "A log gamma model and its maximum likelihood
//! estimation", Biometrika 61): U = ln(q² G) / q with G ~ Gamma(1/q², 1). At q = 0 it is the standard
//! normal law, at q = 1 the smallest extreme value law, at q = −1 the largest; U(−q) is −U(q).
//!
//! ln density: C(q) − φ(u, q), φ = (e^{qu} − 1 − qu)/q², C = −½ ln 2π − R(q²), R the remainder of
//! Stirling's formula at 1/q². Tails are the density times a ratio whose formulas lose no digits as q → 0.

mod panels;
mod parts;
mod tail;

use crate::special::ln_1m_exp;
pub use parts::{excess, ln_constant, stirling_remainder};
use parts::{excess_value, ln_constant_value, slope};
use tail::{share, tail};

/// Value with first and second derivatives of a function of (w, q).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Second {
    /// Value.
    pub value: f64,
    /// ∂w, ∂q.
    pub first: (f64, f64),
    /// ∂w², ∂w∂q, ∂q².
    pub second: (f64, f64, f64),
}

/// ln density with derivatives.
#[must_use]
pub fn ln_density_derivatives(w: f64, q: f64) -> Second {
    let (c, c1, c2) = ln_constant(q);
    let (h, h1, h2) = excess(q * w);
    let square = w * w;
    Second {
        value: c - square * h,
        first: (-slope(w, q), c1 - square * w * h1),
        second: (
            -(q * w).exp(),
            -square * (3.0 * h1 + q * w * h2),
            c2 - square * square * h2,
        ),
    }
}

fn ln_density(w: f64, q: f64) -> f64 {
    ln_constant_value(q) - w * w * excess_value(q * w)
}

/// ln P(U > w).
#[must_use]
pub fn ln_survival(w: f64, q: f64) -> f64 {
    if q < 0.0 {
        ln_tail(-w, -q, -1.0).1
    } else {
        ln_tail(w, q, 1.0).1
    }
}

/// ln P(U ≤ w).
#[must_use]
pub fn ln_cdf(w: f64, q: f64) -> f64 {
    if q < 0.0 {
        ln_tail(-w, -q, 1.0).1
    } else {
        ln_tail(w, q, -1.0).1
    }
}

/// ln density and ln of the wanted tail for q ≥ 0 (+1 the upper one).
fn ln_tail(w: f64, q: f64, wanted: f64) -> (f64, f64) {
    let ln_density = ln_density(w, q);
    if !ln_density.is_finite() {
        return (ln_density, beyond_range(w, wanted));
    }
    let (side, share) = share(w, q);
    let had = ln_density + share.ln();
    let value = if side == wanted { had } else { ln_1m_exp(had) };
    (ln_density, value)
}

/// ln of the wanted tail where the density is beyond the range of numbers.
fn beyond_range(w: f64, wanted: f64) -> f64 {
    if w * wanted > 0.0 {
        f64::NEG_INFINITY
    } else {
        0.0
    }
}

/// ln P(U > w) with derivatives.
#[must_use]
pub fn ln_survival_derivatives(w: f64, q: f64) -> Second {
    if q < 0.0 {
        return mirrored(ln_tail_derivatives(-w, -q, -1.0));
    }
    ln_tail_derivatives(w, q, 1.0)
}

/// ln P(U ≤ w) with derivatives.
#[must_use]
pub fn ln_cdf_derivatives(w: f64, q: f64) -> Second {
    if q < 0.0 {
        return mirrored(ln_tail_derivatives(-w, -q, 1.0));
    }
    ln_tail_derivatives(w, q, -1.0)
}

/// f(−w, −q) from f.
fn mirrored(f: Second) -> Second {
    Second {
        first: (-f.first.0, -f.first.1),
        ..f
    }
}

fn ln_tail_derivatives(w: f64, q: f64, wanted: f64) -> Second {
    let density = ln_density_derivatives(w, q);
    if !density.value.is_finite() {
        return Second {
            value: beyond_range(w, wanted),
            first: (0.0, 0.0),
            second: (0.0, 0.0, 0.0),
        };
    }
    let tail = tail(w, q);
    let rate = 1.0 / tail.share;
    let had = Second {
        value: density.value + tail.share.ln(),
        first: (-tail.side * rate, density.first.1 + tail.first),
        second: (
            -rate * rate * tail.steeper,
            tail.side * rate * tail.first,
            density.second.2 + tail.second,
        ),
    };
    if tail.side == wanted {
        return had;
    }
    // ln(1 − eˣ).
    let r = 1.0 / (-had.value).exp_m1();
    let bend = -r * (1.0 + r);
    let (a, b) = had.first;
    Second {
        value: ln_1m_exp(had.value),
        first: (-r * a, -r * b),
        second: (
            bend * a * a - r * had.second.0,
            bend * a * b - r * had.second.1,
            bend * b * b - r * had.second.2,
        ),
    }
}

/// w with ln P(U > w) = `ln_share`, for `ln_share` < 0, from the smaller tail.
#[must_use]
pub fn quantile(ln_share: f64, q: f64) -> f64 {
    let (target, wanted) = if ln_share > -std::f64::consts::LN_2 {
        (ln_1m_exp(ln_share), -1.0)
    } else {
        (ln_share, 1.0)
    };
    if q < 0.0 {
        -at_ln_tail(target, -q, -wanted)
    } else {
        at_ln_tail(target, q, wanted)
    }
}

/// Where the wanted tail (+1 the upper one) has logarithm `target`, for q ≥ 0: Newton's method on ln of the
/// tail's minus logarithm, which is nearly linear, inside a bracket that is halved where Newton would leave it.
fn at_ln_tail(target: f64, q: f64, wanted: f64) -> f64 {
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    let (mut w, mut last) = (0.0_f64, f64::INFINITY);
    for _ in 0..200 {
        let (ln_density, here) = ln_tail(w, q, wanted);
        if (here < target) == (wanted < 0.0) {
            low = w;
        } else {
            high = w;
        }
        let rate = (ln_density - here).exp();
        let step = -wanted * here / rate * (target / here).ln();
        let short = step.abs() / (1.0 + w.abs());
        // A step this short that no longer shrinks is rounding.
        if short <= 2.0 * f64::EPSILON || (short <= ROUNDING && short >= 0.25 * last) {
            return w + step;
        }
        last = short;
        w = match (low.is_finite(), high.is_finite()) {
            _ if w + step > low && w + step < high => w + step,
            (true, true) => 0.5 * (low + high),
            (true, false) => low + 1.0 + low.abs(),
            _ => high - 1.0 - high.abs(),
        };
    }
    w
}

/// Part of 1 + |w| below which a step may be rounding.
const ROUNDING: f64 = 1e-9;

/// [`quantile`] with derivatives in (ln share, q), by the implicit function.
#[must_use]
pub fn quantile_derivatives(ln_share: f64, q: f64) -> Second {
    let w = quantile(ln_share, q);
    let s = ln_survival_derivatives(w, q);
    let (sw, sq) = s.first;
    let (sww, swq, sqq) = s.second;
    let (first_s, first_q) = (1.0 / sw, -sq / sw);
    Second {
        value: w,
        first: (first_s, first_q),
        second: (
            -sww * first_s * first_s / sw,
            -(sww * first_s * first_q + swq * first_s) / sw,
            -(sww * first_q * first_q + 2.0 * swq * first_q + sqq) / sw,
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::special::ln_normal_survival;

    fn close(got: f64, want: f64, tolerance: f64) {
        let off = (got - want).abs() / want.abs().max(f64::MIN_POSITIVE);
        assert!(off <= tolerance, "{got:?} against {want:?}: {off:.1e}");
    }

    #[test]
    fn limits_are_the_normal_and_extreme_value_laws() {
        for w in [-36.0, -8.0, -1.0, -0.01, 0.0, 0.4, 3.0, 36.0] {
            close(ln_survival(w, 0.0), ln_normal_survival(w), 1e-12);
            close(ln_cdf(w, 0.0), ln_normal_survival(-w), 1e-12);
        }
        for w in [-600.0f64, -30.0, -2.0, 0.0, 0.5, 2.0, 6.5] {
            close(ln_survival(w, 1.0), -w.exp(), 1e-12);
            close(ln_cdf(-w, -1.0), -w.exp(), 1e-12);
        }
    }

    /// Regularised incomplete gamma functions by 60-digit arithmetic (mpmath).
    #[test]
    fn tails_against_arbitrary_precision() {
        for (q, w, ln_upper, ln_lower) in include!("log_gamma/reference.in") {
            close(ln_survival(w, q), ln_upper, 2e-12);
            close(ln_cdf(w, q), ln_lower, 2e-12);
        }
    }

    /// ln survival and ln share failed with ∂q and ∂q², by differences in 90-digit arithmetic (mpmath), on both
    /// sides of every change of method.
    #[test]
    fn derivatives_against_arbitrary_precision() {
        for (q, w, s, s1, s2, f, f1, f2) in include!("log_gamma/derivatives_reference.in") {
            let (upper, lower) = (ln_survival_derivatives(w, q), ln_cdf_derivatives(w, q));
            for (got, want, first, second) in [(upper, s, s1, s2), (lower, f, f1, f2)] {
                close(got.value, want, 1e-12);
                close(got.first.1, first, 1e-11);
                close(got.second.2, second, 1e-8);
            }
            close(ln_survival(w, q), s, 1e-12);
            close(ln_cdf(w, q), f, 1e-12);
        }
    }

    #[test]
    fn derivatives_agree_with_differences() {
        let step = 1e-4;
        for q in [-2.0, -0.3, -1e-4, 0.0, 1e-4, 0.2, 0.9, 1.7, 4.0] {
            for w in [-5.0, -0.8, -0.1, 0.3, 1.1] {
                for f in [ln_survival_derivatives, ln_cdf_derivatives] {
                    let d = f(w, q);
                    let (up, down) = (f(w + step, q), f(w - step, q));
                    let slope = |up: f64, down: f64| (up - down) / (2.0 * step);
                    let near = |got: f64, want: f64| {
                        assert!(
                            (got - want).abs() < 2e-6 * (1.0 + want.abs()),
                            "{q} {w}: {got} {want}"
                        );
                    };
                    near(d.first.0, slope(up.value, down.value));
                    near(d.second.0, slope(up.first.0, down.first.0));
                    near(d.second.1, slope(up.first.1, down.first.1));
                    let (up, down) = (f(w, q + step), f(w, q - step));
                    near(d.first.1, slope(up.value, down.value));
                    near(d.second.1, slope(up.first.0, down.first.0));
                    near(d.second.2, slope(up.first.1, down.first.1));
                }
            }
        }
    }

    #[test]
    fn quantile_inverts_both_tails() {
        for q in [-3.0, -1.0, -0.01, 0.0, 0.3, 1.0, 5.0] {
            for ln_share in [-690.0, -20.0, -1.0, -0.5, -1e-6, -1e-100] {
                let w = quantile(ln_share, q);
                if ln_share > -0.7 {
                    close(ln_cdf(w, q), ln_1m_exp(ln_share), 1e-11);
                } else {
                    close(ln_survival(w, q), ln_share, 1e-11);
                }
            }
        }
    }
}
