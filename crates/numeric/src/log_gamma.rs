//! The standardised log-gamma law of Prentice (1974, "A log gamma model and its maximum likelihood
//! estimation", Biometrika 61): U = ln(q² G) / q with G ~ Gamma(1/q², 1). At q = 0 it is the standard
//! normal law, at q = 1 the smallest extreme value law, at q = −1 the largest; U(−q) is −U(q).
//!
//! ln density: C(q) − φ(u, q), φ = (e^{qu} − 1 − qu)/q², C = −½ ln 2π − R(q²), R the remainder of
//! Stirling's formula at 1/q². Both tails are integrals of the density outward from w by Gauss–Legendre
//! panels, so nothing cancels and the limit q → 0 needs no special case; derivatives in q are integrals
//! of the same kind.

use crate::quadrature::LEGENDRE;
use crate::special::{LN_SQRT_TWO_PI, digamma, ln_1m_exp, ln_gamma, trigamma};

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
fn excess_value(y: f64) -> f64 {
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

/// R(v) = ln Γ(1/v) − (1/v − ½) ln(1/v) + 1/v − ½ ln 2π for v ≥ 0, with its first two derivatives:
/// the remainder of Stirling's formula (Abramowitz & Stegun 6.1.41).
#[must_use]
pub fn stirling_remainder(v: f64) -> (f64, f64, f64) {
    if v < SERIES {
        // B₂ₖ / (2k (2k − 1)) v^{2k−1}, k = 1 …
        const C: [f64; 10] = [
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
        let s = v * v;
        let (mut value, mut first, mut second) = (0.0, 0.0, 0.0);
        for (k, c) in C.iter().enumerate().rev() {
            let n = 2.0 * k as f64 + 1.0;
            value = value * s + c;
            first = first * s + c * n;
            second = second * s + c * n * (n - 1.0);
        }
        // The last sum is Σ c n (n−1) v^{2k}; its power is one lower.
        let second = if v > 0.0 { second / v } else { 0.0 };
        (value * v, first, second)
    } else {
        let a = 1.0 / v;
        let value = ln_gamma(a) - (a - 0.5) * a.ln() + a - LN_SQRT_TWO_PI;
        let first = digamma(a) - a.ln() + 0.5 * v;
        let second = trigamma(a) - v - 0.5 * v * v;
        (
            value,
            -first * a * a,
            second * a.powi(4) + 2.0 * first * a.powi(3),
        )
    }
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
fn growth(y: f64) -> f64 {
    if y == 0.0 { 1.0 } else { y.exp_m1() / y }
}

/// φ′(u) = (e^{qu} − 1)/q.
fn slope(u: f64, q: f64) -> f64 {
    u * growth(q * u)
}

fn fall(u: f64, q: f64) -> f64 {
    u * u * excess_value(q * u)
}

/// Beyond this fall of ln density nothing is left to add.
const DEEP: f64 = 38.0;
/// Largest fall and length of a panel (14 nodes are exact to the last digits there).
const PANEL_FALL: f64 = 8.0;
const PANEL_LENGTH: f64 = 3.0;
/// Where e^{qu} has vanished the left tail is an exponential.
const VANISHED: f64 = -40.0;

/// Integrals over the tail beyond w of the density over the density at w, with g its logarithm.
struct Outward {
    /// ∫ 1.
    share: f64,
    /// ∫ ±(φ′(u) − φ′(w)), which is 1 ∓ φ′(w) share without its cancellation.
    steeper: f64,
    /// ∫ (∂q g(u) − ∂q g(w)).
    first: f64,
    /// ∫ (∂q g(u) − ∂q g(w))² + ∂q² g(u).
    second: f64,
}

/// ∂q and ∂q² of ln density.
fn in_q(u: f64, q: f64, c: (f64, f64, f64)) -> (f64, f64) {
    let (_, h1, h2) = excess(q * u);
    let square = u * u;
    (c.1 - square * u * h1, c.2 - square * square * h2)
}

/// The tail beyond w in direction `side` (±1) for q ≥ 0.
fn outward(w: f64, q: f64, side: f64, derivatives: bool) -> Outward {
    let (steep, grown) = (slope(w, q), (q * w).exp());
    // φ(w + δ) − φ(w), free of cancellation.
    let fallen = |off: f64| off * steep + grown * off * off * excess_value(q * off);
    let c = ln_constant(q);
    let at_w = in_q(w, q, c).0;
    let mut sum = Outward {
        share: 0.0,
        steeper: 0.0,
        first: 0.0,
        second: 0.0,
    };
    // Offsets from w carry the digits; w + offset would lose them where the law falls steeply.
    let mut reached = 0.0;
    loop {
        let u = w + reached;
        if side < 0.0 && q * u < VANISHED {
            // ∫ of e^{C + (1 + qu)/q²} to −∞ is q times the integrand; its logarithm's derivatives in q:
            let here = q * (-fallen(reached)).exp();
            let l1 = 1.0 / q + c.1 - 2.0 / q.powi(3) - u / (q * q) - at_w;
            let l2 = -1.0 / (q * q) + c.2 + 6.0 / q.powi(4) + 2.0 * u / q.powi(3);
            sum.share += here;
            sum.steeper += here * grown / q;
            sum.first += here * l1;
            sum.second += here * (l1 * l1 + l2);
            return sum;
        }
        let length = PANEL_LENGTH
            .min(2.0 / q)
            .min(PANEL_FALL / slope(u, q).abs());
        let half = 0.5 * length;
        let centre = reached + side * half;
        for (x, weight) in LEGENDRE.iter() {
            let off = centre + half * x;
            let density = weight * half * (-fallen(off)).exp();
            sum.share += density;
            if derivatives {
                let (g1, g2) = in_q(w + off, q, c);
                sum.steeper += density * side * grown * off * growth(q * off);
                sum.first += density * (g1 - at_w);
                sum.second += density * ((g1 - at_w).powi(2) + g2);
            }
        }
        reached += side * length;
        let fallen = fallen(reached);
        // Beyond all range the fall is no number, or the panel has no length: stop as well.
        if fallen > DEEP || !fallen.is_finite() || length < f64::MIN_POSITIVE {
            return sum;
        }
    }
}

/// The side whose tail holds at most about a half (+1 upper).
fn near_side(w: f64) -> f64 {
    if w >= 0.0 { 1.0 } else { -1.0 }
}

fn ln_density(w: f64, q: f64) -> f64 {
    ln_constant(q).0 - fall(w, q)
}

/// ln of the tail outward from w for q ≥ 0; minus infinity beyond the range of numbers.
fn ln_tail(w: f64, q: f64, side: f64) -> f64 {
    let ln_density = ln_density(w, q);
    if ln_density.is_finite() {
        ln_density + outward(w, q, side, false).share.ln()
    } else {
        f64::NEG_INFINITY
    }
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

/// ln P(U > w).
#[must_use]
pub fn ln_survival(w: f64, q: f64) -> f64 {
    if q < 0.0 {
        return ln_cdf(-w, -q);
    }
    let side = near_side(w);
    let tail = ln_tail(w, q, side);
    if side > 0.0 { tail } else { ln_1m_exp(tail) }
}

/// ln P(U ≤ w).
#[must_use]
pub fn ln_cdf(w: f64, q: f64) -> f64 {
    if q < 0.0 {
        return ln_survival(-w, -q);
    }
    let side = near_side(w);
    let tail = ln_tail(w, q, side);
    if side < 0.0 { tail } else { ln_1m_exp(tail) }
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
    let side = near_side(w);
    if !ln_density(w, q).is_finite() {
        return Second {
            value: if side == wanted {
                f64::NEG_INFINITY
            } else {
                0.0
            },
            first: (0.0, 0.0),
            second: (0.0, 0.0, 0.0),
        };
    }
    let tail = outward(w, q, side, true);
    let rate = 1.0 / tail.share;
    // Mean of ∂q g over the tail, less its value at w.
    let mean = tail.first * rate;
    let at_w = in_q(w, q, ln_constant(q)).0;
    let near = Second {
        value: ln_density(w, q) + tail.share.ln(),
        first: (-side * rate, at_w + mean),
        second: (
            -rate * rate * tail.steeper,
            side * rate * mean,
            tail.second * rate - mean * mean,
        ),
    };
    if side == wanted {
        return near;
    }
    // ln(1 − eˣ).
    let r = 1.0 / (-near.value).exp_m1();
    let bend = -r * (1.0 + r);
    let (a, b) = near.first;
    Second {
        value: ln_1m_exp(near.value),
        first: (-r * a, -r * b),
        second: (
            bend * a * a - r * near.second.0,
            bend * a * b - r * near.second.1,
            bend * b * b - r * near.second.2,
        ),
    }
}

/// w with ln P(U > w) = `ln_share`, for `ln_share` < 0: Newton's method on the logarithm of the smaller
/// tail inside a bracket, which is halved where Newton would leave it or is slow.
#[must_use]
pub fn quantile(ln_share: f64, q: f64) -> f64 {
    let lower = ln_share > -std::f64::consts::LN_2;
    let target = if lower { ln_1m_exp(ln_share) } else { ln_share };
    // Grows with w on either side.
    let sign = if lower { 1.0 } else { -1.0 };
    let tail = |w: f64| {
        if lower {
            ln_cdf(w, q)
        } else {
            ln_survival(w, q)
        }
    };
    let miss = |w: f64| sign * (tail(w) - target);
    let side = if miss(0.0) > 0.0 { -1.0 } else { 1.0 };
    let (mut near, mut far) = (0.0, side);
    while miss(far) * side < 0.0 {
        near = far;
        far *= 2.0;
    }
    let (mut low, mut high) = if near < far { (near, far) } else { (far, near) };
    let mut w = 0.5 * (low + high);
    let mut last = high - low;
    for _ in 0..200 {
        let here = tail(w);
        let off = sign * (here - target);
        if off < 0.0 {
            low = w;
        } else {
            high = w;
        }
        let rate = (ln_density_any(w, q) - here).exp();
        let mut next = w - off / rate;
        // Not a number fails both comparisons and is halved too.
        if !(next > low && next < high && (next - w).abs() < 0.5 * last) {
            next = 0.5 * (low + high);
        }
        last = (next - w).abs();
        w = next;
        if last <= 2.0 * f64::EPSILON * (1.0 + w.abs()) {
            break;
        }
    }
    w
}

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

fn ln_density_any(w: f64, q: f64) -> f64 {
    if q < 0.0 {
        ln_density(-w, -q)
    } else {
        ln_density(w, q)
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
        for (q, w, ln_upper, ln_lower) in include!("log_gamma_reference.in") {
            close(ln_survival(w, q), ln_upper, 2e-12);
            close(ln_cdf(w, q), ln_lower, 2e-12);
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
