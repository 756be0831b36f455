//! Special functions beyond what the libraries give accurately, each with its source.
//!
//! ```
//! use sealspan_numeric::special::*;
//! let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} {b}");
//! near(normal_survival(1.959_963_984_540_054), 0.025);
//! near(ln_normal_survival(1.959_963_984_540_054), 0.025f64.ln());
//! near(normal_quantile(0.975), 1.959_963_984_540_054);
//! near(normal_at_ln_survival(0.025f64.ln()), 1.959_963_984_540_054);
//! near(ln_1m_exp(0.2f64.ln()), 0.8f64.ln());
//! near(ln_gamma(5.0), 24f64.ln());
//! near(digamma(1.0), -0.577_215_664_901_532_9); // less Euler's constant
//! near(trigamma(1.0), std::f64::consts::PI.powi(2) / 6.0);
//! near(beta_share(2.0, 3.0, 0.5), 11.0 / 16.0); // two heads or more of four
//! near(student_two_sided(1.0, 1.0), 0.5); // the Cauchy law
//! near(chi_square_survival(2.0, 2.0), (-1f64).exp());
//! near(chi_square_quantile(1.0 - (-1f64).exp(), 2.0), 2.0);
//! near(entropy_excess(1.0).0, 2.0 * 2f64.ln() - 1.0);
//! ```

use statrs::function::gamma::{digamma as statrs_digamma, gamma_lr, gamma_ur};
use std::f64::consts::{LN_2, SQRT_2};

/// ln of the standard normal density constant, ln √(2π).
pub const LN_SQRT_TWO_PI: f64 = 0.918_938_533_204_672_7;

/// ln(1 − eˣ) for x < 0, without loss at either end (Mächler 2012, "Accurately computing log(1 − exp(−|a|))").
#[must_use]
pub fn ln_1m_exp(x: f64) -> f64 {
    if x > -LN_2 {
        (-x.exp_m1()).ln()
    } else {
        (-x.exp()).ln_1p()
    }
}

/// Above this the survival function is taken from its continued fraction.
const NORMAL_TAIL: f64 = 6.0;

/// Hazard of the standard normal law minus z, λ(z) − z, for z ≥ 6: Laplace's continued fraction
/// λ(z) = z + 1/(z + 2/(z + 3/(z + …))) (Abramowitz & Stegun 26.2.14).
fn normal_hazard_excess(z: f64) -> f64 {
    let mut tail = z;
    for k in (2..=60).rev() {
        tail = z + f64::from(k) / tail;
    }
    1.0 / tail
}

/// ln of the standard normal survival function, accurate in both tails.
#[must_use]
pub fn ln_normal_survival(z: f64) -> f64 {
    if z < NORMAL_TAIL {
        if z < -1.0 {
            // Near one: ln(1 − Φ(−|z|)).
            (-0.5 * libm::erfc(-z / SQRT_2)).ln_1p()
        } else {
            (0.5 * libm::erfc(z / SQRT_2)).ln()
        }
    } else {
        -0.5 * z * z - LN_SQRT_TWO_PI - (z + normal_hazard_excess(z)).ln()
    }
}

/// Standard normal survival function 1 − Φ(z), with all its digits in both tails.
#[must_use]
pub fn normal_survival(z: f64) -> f64 {
    0.5 * libm::erfc(z / SQRT_2)
}

/// Hazard λ(z) = φ(z) / (1 − Φ(z)) of the standard normal law and its derivative λ(λ − z).
#[must_use]
pub(crate) fn normal_hazard(z: f64) -> (f64, f64) {
    if z < NORMAL_TAIL {
        let hazard = (-0.5 * z * z - LN_SQRT_TWO_PI - ln_normal_survival(z)).exp();
        (hazard, hazard * (hazard - z))
    } else {
        let excess = normal_hazard_excess(z);
        ((z + excess), (z + excess) * excess)
    }
}

/// Standard normal quantile: z with Φ(z) = p.
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    -SQRT_2 * statrs::function::erf::erfc_inv(2.0 * p)
}

/// Standard normal z with ln survival `ln_share` < 0, to the last digits in both tails.
#[must_use]
pub fn normal_at_ln_survival(ln_share: f64) -> f64 {
    let share = ln_share.exp();
    let mut z = if ln_share < -600.0 {
        (-2.0 * ln_share).sqrt()
    } else if share < 0.5 {
        -normal_quantile(share)
    } else {
        normal_quantile(-ln_share.exp_m1())
    };
    // Newton on the smaller tail's logarithm, which is concave in z.
    for _ in 0..20 {
        let step = if share < 0.5 {
            (ln_normal_survival(z) - ln_share) / normal_hazard(z).0
        } else {
            (ln_1m_exp(ln_share) - ln_normal_survival(-z)) / normal_hazard(-z).0
        };
        z += step;
        if step.abs() <= 2.0 * f64::EPSILON * z.abs() {
            break;
        }
    }
    z
}

/// k(x) = ((1 + x) ln(1 + x) − x)/x² for x > −1, with its first two derivatives.
#[must_use]
pub fn entropy_excess(x: f64) -> (f64, f64, f64) {
    if x.abs() < 0.25 {
        // Σ (−x)ⁿ / ((n + 1)(n + 2)).
        let (mut k, mut first, mut second) = (0.0, 0.0, 0.0);
        for n in (0..30).rev() {
            let sign = if n % 2 == 0 { 1.0 } else { -1.0 };
            let n = f64::from(n);
            second = second * x + 2.0 * first;
            first = first * x + k;
            k = k * x + sign / ((n + 1.0) * (n + 2.0));
        }
        (k, first, second)
    } else {
        let ln = x.ln_1p();
        let k = ((1.0 + x) * ln - x) / (x * x);
        let first = ln / (x * x) - 2.0 * k / x;
        let second = 1.0 / (x * x * (1.0 + x)) - 4.0 * ln / (x * x * x) + 6.0 * k / (x * x);
        (k, first, second)
    }
}

/// ln Γ(x) for x > 0.
#[must_use]
pub fn ln_gamma(x: f64) -> f64 {
    libm::lgamma(x)
}

/// Digamma ψ(x).
#[must_use]
pub fn digamma(x: f64) -> f64 {
    statrs_digamma(x)
}

/// Trigamma ψ′(x) for x > 0: recurrence to x ≥ 12, then the asymptotic series
/// (Abramowitz & Stegun 6.4.12).
#[must_use]
pub fn trigamma(x: f64) -> f64 {
    let (mut x, mut sum) = (x, 0.0);
    while x < 12.0 {
        sum += 1.0 / (x * x);
        x += 1.0;
    }
    let y = 1.0 / (x * x);
    let series =
        y * (1.0 / 6.0 - y * (1.0 / 30.0 - y * (1.0 / 42.0 - y * (1.0 / 30.0 - y * (5.0 / 66.0)))));
    sum + 1.0 / x + 0.5 * y + series / x
}

/// Share of the beta law with parameters `a` and `b` up to `x` (the regularised incomplete beta function).
#[must_use]
pub fn beta_share(a: f64, b: f64, x: f64) -> f64 {
    if x <= 0.0 {
        0.0
    } else if x >= 1.0 {
        1.0
    } else {
        statrs::function::beta::beta_reg(a, b, x)
    }
}

/// Two-sided tail of Student's t: P(|T| > |t|) with `df` degrees of freedom, by the incomplete beta
/// function (Abramowitz & Stegun 26.7.1, from memory).
#[must_use]
pub fn student_two_sided(t: f64, df: f64) -> f64 {
    beta_share(0.5 * df, 0.5, df / (df + t * t))
}

/// Student's t quantile: t with P(T ≤ t) = p, by bracketing on ln t.
///
/// ```
/// let t = sealspan_numeric::special::student_quantile(0.975, 2.0);
/// assert!((t - 4.302_652_729_749_464).abs() < 1e-11);
/// ```
#[must_use]
pub fn student_quantile(p: f64, df: f64) -> f64 {
    if p <= 0.0 || p >= 1.0 || df <= 0.0 {
        return if p <= 0.0 {
            f64::NEG_INFINITY
        } else {
            f64::INFINITY
        };
    }
    if p == 0.5 {
        return 0.0;
    }
    if p < 0.5 {
        return -student_quantile(1.0 - p, df);
    }
    let tail = 2.0 * (1.0 - p);
    let miss = |ln_t: f64| (student_two_sided(ln_t.exp(), df) / tail).ln();
    let start = normal_quantile(p).ln();
    crate::roots::bracket_from(miss, start - 1e-9, 0.1, 80)
        .and_then(|(lo, hi)| crate::roots::bracketed(miss, lo, hi, 1e-15))
        .map_or(f64::NAN, f64::exp)
}

/// Chi-square upper tail probability P(X > x) with `df` degrees of freedom.
#[must_use]
pub fn chi_square_survival(x: f64, df: f64) -> f64 {
    if x <= 0.0 {
        1.0
    } else if df == 1.0 {
        libm::erfc((0.5 * x).sqrt())
    } else {
        gamma_ur(0.5 * df, 0.5 * x)
    }
}

/// Chi-square quantile: x with P(X ≤ x) = p, by bracketing on ln x of the smaller tail
/// (the library's inverse loses the lower tail).
#[must_use]
pub fn chi_square_quantile(p: f64, df: f64) -> f64 {
    if p <= 0.0 || df <= 0.0 {
        return 0.0;
    }
    if p >= 1.0 {
        return f64::INFINITY;
    }
    if df == 1.0 {
        let z = normal_quantile(0.5 + 0.5 * p);
        return z * z;
    }
    let a = 0.5 * df;
    let miss = |ln_x: f64| {
        let x = ln_x.exp();
        if p < 0.5 {
            (gamma_lr(a, x) / p).ln()
        } else {
            -(gamma_ur(a, x) / (1.0 - p)).ln()
        }
    };
    let start = (a.max(0.5)).ln();
    let step = if miss(start) < 0.0 { 0.25 } else { -0.25 };
    crate::roots::bracket_from(miss, start, step, 60)
        .and_then(|(lo, hi)| crate::roots::bracketed(miss, lo, hi, 1e-15))
        .map_or(f64::NAN, |ln_x| 2.0 * ln_x.exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: f64, want: f64, rel: f64) {
        assert!((got / want - 1.0).abs() < rel, "{got} against {want}");
    }

    /// Values from 50-digit arithmetic (mpmath).
    #[test]
    fn normal_tails() {
        close(ln_normal_survival(10.0), -53.231_285_150_512_47, 1e-14);
        close(ln_normal_survival(-8.0), -6.220_960_574_271_786e-16, 1e-13);
        close(ln_normal_survival(40.0), -804.608_442_013_753_8, 1e-14);
        for z in [-8.5, -2.0, -0.3, 0.0, 0.7, 3.0, 8.5] {
            close(normal_survival(z), ln_normal_survival(z).exp(), 1e-14);
        }
        let (below, above) = (normal_hazard(5.999_999), normal_hazard(6.000_001));
        close(below.0, above.0, 1e-6);
        close(below.1, above.1, 1e-6);
        close(normal_quantile(0.95), 1.644_853_626_951_472_7, 1e-13);
    }

    #[test]
    fn gamma_family() {
        close(trigamma(1.0), std::f64::consts::PI.powi(2) / 6.0, 1e-14);
        close(trigamma(0.25), 17.197_329_154_507_11, 1e-13);
        close(digamma(1.0), -0.577_215_664_901_532_9, 1e-12);
        // Zero failures at 95 %: chi-square with 2 df is -2 ln(1 - p).
        close(chi_square_quantile(0.95, 2.0), -2.0 * 0.05_f64.ln(), 1e-13);
        close(
            chi_square_quantile(1e-9, 2.0),
            -2.0 * (-1e-9_f64).ln_1p(),
            1e-12,
        );
        close(chi_square_quantile(0.9, 1.0), 2.705_543_454_095_404, 1e-12);
        close(
            chi_square_survival(chi_square_quantile(0.3, 7.0), 7.0),
            0.7,
            1e-12,
        );
    }

    #[test]
    fn ln_1m_exp_at_both_ends() {
        close(ln_1m_exp(-1e-20), (1e-20_f64).ln(), 1e-14);
        close(ln_1m_exp(-50.0), -(-50.0_f64).exp(), 1e-14);
    }
}
