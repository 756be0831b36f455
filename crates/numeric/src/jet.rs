//! Values that carry their first and second derivatives: one formula gives all three.

#![expect(
    clippy::indexing_slicing,
    reason = "the indices run over arrays of the N derivatives of the type"
)]

use crate::{log_gamma, special};
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A number that formulas are written over: plain `f64`, or a [`Jet`].
///
/// ```
/// use sealspan_numeric::jet::{Jet, Scalar};
/// use std::f64::consts::{LN_2, PI};
/// let near = |got: Jet<1>, value: f64, slope: f64| {
///     assert!((got.value - value).abs() < 1e-12 && (got.gradient[0] - slope).abs() < 1e-11, "{got:?}");
/// };
/// let [x] = Jet::variables([0.5]);
/// let (one, e) = (Jet::constant(1.0), 0.5f64.exp());
/// near(x.exp(), e, e);
/// near(x.ln_1p(), 1.5f64.ln(), 1.0 / 1.5);
/// near((-x).ln_1m_exp(), (1.0 - 1.0 / e).ln(), 1.0 / (e - 1.0));
/// near(x.ln_1p_exp(), (1.0 + e).ln(), e / (1.0 + e));
/// near(x.ln_add_exp(one), (e + 1f64.exp()).ln(), e / (e + 1f64.exp()));
/// near(x.ln_exp_m1(), (e - 1.0).ln(), e / (e - 1.0));
/// near((x * 2.0).ln_gamma(), 0.0, 2.0 * -0.577_215_664_901_532_9); // less Euler's constant
/// near((x - 0.5).ln_normal_survival(), -LN_2, -(2.0 / PI).sqrt());
/// near(x.ln().normal_at_ln_survival(), 0.0, -(2.0 * PI).sqrt());
/// near((x * 2.0).entropy_excess(), 2.0 * LN_2 - 1.0, 2.0 * (2.0 - 3.0 * LN_2));
/// // ln Γ(1) = 0, and its slope is less Euler's constant.
/// near((x * 2.0).stirling_remainder(), 1.0 - 0.5 * (2.0 * PI).ln(), 2.0 * (0.577_215_664_901_532_9 - 0.5));
/// // At q = 1 the log-gamma law is the smallest extreme value law, of survival exp(−e^w).
/// near(x.ln_log_gamma_survival(one), -e, -e);
/// near(x.ln_log_gamma_density(one), 0.5 - e, 1.0 - e);
/// near(x.ln_log_gamma_cdf(one), (1.0 - (-e).exp()).ln(), e / (e.exp() - 1.0));
/// near((-x).log_gamma_at_ln_survival(one), 0.5f64.ln(), 2.0);
/// // Anything else from its derivatives: the square, and a product of two.
/// assert_eq!(x.chain(0.25, 1.0, 2.0), x * x);
/// let [x, y] = Jet::variables([2.0, 3.0]);
/// assert_eq!(x.chain2(y, 6.0, (3.0, 2.0), (0.0, 1.0, 0.0)), x * y);
/// ```
pub trait Scalar:
    Copy
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
    + Add<f64, Output = Self>
    + Sub<f64, Output = Self>
    + Mul<f64, Output = Self>
{
    /// A constant.
    fn constant(value: f64) -> Self;
    /// The plain value.
    fn value(self) -> f64;
    /// f(self), given f, f′ and f″ at the value.
    fn chain(self, f: f64, first: f64, second: f64) -> Self;
    /// f(self, other), given f, its first derivatives and its second ones (f₁₁, f₁₂, f₂₂) at the values.
    fn chain2(self, other: Self, f: f64, first: (f64, f64), second: (f64, f64, f64)) -> Self;

    /// eˣ.
    fn exp(self) -> Self {
        let e = self.value().exp();
        self.chain(e, e, e)
    }
    /// ln x.
    fn ln(self) -> Self {
        let r = 1.0 / self.value();
        self.chain(self.value().ln(), r, -r * r)
    }
    /// ln(1 + x).
    fn ln_1p(self) -> Self {
        let r = 1.0 / (1.0 + self.value());
        self.chain(self.value().ln_1p(), r, -r * r)
    }
    /// ln(1 − eˣ) for x < 0.
    fn ln_1m_exp(self) -> Self {
        let x = self.value();
        let r = 1.0 / (-x).exp_m1();
        self.chain(special::ln_1m_exp(x), -r, -r * (1.0 + r))
    }
    /// ln of the standard normal survival function.
    fn ln_normal_survival(self) -> Self {
        let (hazard, slope) = special::normal_hazard(self.value());
        self.chain(special::ln_normal_survival(self.value()), -hazard, -slope)
    }
    /// ln Γ(x) for x > 0.
    fn ln_gamma(self) -> Self {
        let x = self.value();
        self.chain(
            special::ln_gamma(x),
            special::digamma(x),
            special::trigamma(x),
        )
    }
    /// ln(1 + eˣ).
    fn ln_1p_exp(self) -> Self {
        let x = self.value();
        let p = 1.0 / (1.0 + (-x).exp());
        let f = if x > 0.0 {
            x + (-x).exp().ln_1p()
        } else {
            x.exp().ln_1p()
        };
        self.chain(f, p, p * (1.0 - p))
    }
    /// ln(eˣ + eʸ).
    fn ln_add_exp(self, other: Self) -> Self {
        let (large, small) = if self.value() >= other.value() {
            (self, other)
        } else {
            (other, self)
        };
        if small.value() == f64::NEG_INFINITY {
            return large;
        }
        large + (small - large).ln_1p_exp()
    }
    /// ln(eˣ − 1) for x > 0.
    fn ln_exp_m1(self) -> Self {
        self + (-self).ln_1m_exp()
    }
    /// z of the standard normal law with ln survival `self` < 0.
    fn normal_at_ln_survival(self) -> Self {
        let z = special::normal_at_ln_survival(self.value());
        let (hazard, slope) = special::normal_hazard(z);
        let first = -1.0 / hazard;
        self.chain(z, first, slope * first / (hazard * hazard))
    }
    /// ((1 + x) ln(1 + x) − x)/x² for x > −1.
    fn entropy_excess(self) -> Self {
        let (f, first, second) = special::entropy_excess(self.value());
        self.chain(f, first, second)
    }
    /// Remainder of Stirling's formula for ln Γ at z = 1/x, x ≥ 0: ln Γ(z) − (z − ½) ln z + z − ½ ln 2π.
    fn stirling_remainder(self) -> Self {
        let (f, first, second) = log_gamma::stirling_remainder(self.value());
        self.chain(f, first, second)
    }
    /// ln density at `self` of the standardised log-gamma law with parameter `q`: the law of ln(q² G)/q, G gamma of
    /// shape 1/q² (Prentice 1974, Biometrika 61).
    fn ln_log_gamma_density(self, q: Self) -> Self {
        let s = log_gamma::ln_density_derivatives(self.value(), q.value());
        self.chain2(q, s.value, s.first, s.second)
    }
    /// ln survival of the same law.
    fn ln_log_gamma_survival(self, q: Self) -> Self {
        let s = log_gamma::ln_survival_derivatives(self.value(), q.value());
        self.chain2(q, s.value, s.first, s.second)
    }
    /// ln of the share failed, of the same law.
    fn ln_log_gamma_cdf(self, q: Self) -> Self {
        let s = log_gamma::ln_cdf_derivatives(self.value(), q.value());
        self.chain2(q, s.value, s.first, s.second)
    }
    /// Where the same law has ln survival `self`.
    fn log_gamma_at_ln_survival(self, q: Self) -> Self {
        let s = log_gamma::quantile_derivatives(self.value(), q.value());
        self.chain2(q, s.value, s.first, s.second)
    }
}

impl Scalar for f64 {
    fn constant(value: f64) -> Self {
        value
    }
    fn value(self) -> f64 {
        self
    }
    fn chain(self, f: f64, _: f64, _: f64) -> Self {
        f
    }
    fn chain2(self, _: Self, f: f64, _: (f64, f64), _: (f64, f64, f64)) -> Self {
        f
    }
    fn ln_log_gamma_survival(self, q: Self) -> Self {
        log_gamma::ln_survival(self, q)
    }
    fn ln_log_gamma_cdf(self, q: Self) -> Self {
        log_gamma::ln_cdf(self, q)
    }
    fn log_gamma_at_ln_survival(self, q: Self) -> Self {
        log_gamma::quantile(self, q)
    }
}

/// 1/x from which on ln(1 − eˣ) is ln(−x) to all digits, and which can still be squared.
const STEEP: f64 = 1e100;

/// A value with gradient and Hessian in `N` variables.
///
/// ```
/// use sealspan_numeric::jet::{Jet, Scalar};
/// let [x, y] = Jet::variables([2.0, 3.0]);
/// let f = x * y.ln();
/// assert_eq!(f.value(), 2.0 * 3f64.ln());
/// assert_eq!(f.gradient, [3f64.ln(), 2.0 / 3.0]);
/// assert_eq!(f.hessian[0][1], 1.0 / 3.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jet<const N: usize> {
    /// Value.
    pub value: f64,
    /// First derivatives.
    pub gradient: [f64; N],
    /// Second derivatives (symmetric).
    pub hessian: [[f64; N]; N],
}

impl<const N: usize> Jet<N> {
    /// The variables themselves, at `point`.
    #[must_use]
    pub fn variables(point: [f64; N]) -> [Self; N] {
        let mut i = 0;
        point.map(|value| {
            let mut jet = Self::constant(value);
            if let Some(g) = jet.gradient.get_mut(i) {
                *g = 1.0;
            }
            i += 1;
            jet
        })
    }

    /// The same over `M` variables, of which its own are those from place `from` on.
    ///
    /// ```
    /// use sealspan_numeric::jet::{Jet, Scalar};
    /// let f = |[x, y]: [Jet<2>; 2]| x * y.ln();
    /// // As the second and third of three variables.
    /// let [_, x, y] = Jet::<3>::variables([5.0, 2.0, 3.0]);
    /// assert_eq!(f(Jet::variables([2.0, 3.0])).placed::<3>(1), x * y.ln());
    /// ```
    #[must_use]
    pub fn placed<const M: usize>(&self, from: usize) -> Jet<M> {
        let mut out = Jet::<M>::constant(self.value);
        let own = self.gradient.iter().zip(&self.hessian);
        let places = out.gradient.iter_mut().zip(&mut out.hessian).skip(from);
        for ((slope, bends), (to, row)) in own.zip(places) {
            *to = *slope;
            for (bend, to) in bends.iter().zip(row.iter_mut().skip(from)) {
                *to = *bend;
            }
        }
        out
    }

    fn combine(self, other: Self, value: f64, first: (f64, f64), second: (f64, f64, f64)) -> Self {
        self.bent(other, value, first, |i, j| {
            let (a, b) = (self.gradient[i], other.gradient[i]);
            let (c, d) = (self.gradient[j], other.gradient[j]);
            second.0 * a * c + second.1 * (a * d + b * c) + second.2 * b * d
        })
    }

    /// The slopes of one along `i` times those of the other along `j`, both ways round.
    #[inline]
    fn crossed(&self, other: &Self, i: usize, j: usize) -> f64 {
        self.gradient[i] * other.gradient[j] + other.gradient[i] * self.gradient[j]
    }

    /// first.0 · self + first.1 · other, with `bend(i, j)` added to the second derivatives. These are symmetric: half
    /// of them are worked out.
    #[inline]
    fn bent(
        self,
        other: Self,
        value: f64,
        first: (f64, f64),
        bend: impl Fn(usize, usize) -> f64,
    ) -> Self {
        let mut out = Self::constant(value);
        for i in 0..N {
            out.gradient[i] = first.0 * self.gradient[i] + first.1 * other.gradient[i];
            for j in 0..=i {
                let own = first.0 * self.hessian[i][j] + first.1 * other.hessian[i][j];
                out.hessian[i][j] = own + bend(i, j);
                out.hessian[j][i] = out.hessian[i][j];
            }
        }
        out
    }
}

impl<const N: usize> Scalar for Jet<N> {
    fn constant(value: f64) -> Self {
        Self {
            value,
            gradient: [0.0; N],
            hessian: [[0.0; N]; N],
        }
    }
    fn value(self) -> f64 {
        self.value
    }
    fn chain(self, f: f64, first: f64, second: f64) -> Self {
        let mut out = Self::constant(f);
        for i in 0..N {
            out.gradient[i] = first * self.gradient[i];
            for j in 0..=i {
                out.hessian[i][j] =
                    first * self.hessian[i][j] + second * self.gradient[i] * self.gradient[j];
                out.hessian[j][i] = out.hessian[i][j];
            }
        }
        out
    }
    fn chain2(self, other: Self, f: f64, first: (f64, f64), second: (f64, f64, f64)) -> Self {
        self.combine(other, f, first, second)
    }
    fn ln_1m_exp(self) -> Self {
        let x = self.value;
        let r = 1.0 / (-x).exp_m1();
        if r < STEEP {
            return self.chain(special::ln_1m_exp(x), -r, -r * (1.0 + r));
        }
        // As ln(−x): 1/x² would run over where the slopes are moderate still.
        let mut out = self;
        out.value = (-x).ln();
        for i in 0..N {
            out.gradient[i] = self.gradient[i] / x;
            for j in 0..=i {
                let own = self.hessian[i][j] / x;
                out.hessian[i][j] = own - out.gradient[i] * out.gradient[j];
                out.hessian[j][i] = out.hessian[i][j];
            }
        }
        out
    }
}

impl<const N: usize> Add for Jet<N> {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        self.bent(other, self.value + other.value, (1.0, 1.0), |_, _| 0.0)
    }
}

impl<const N: usize> Sub for Jet<N> {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self.bent(other, self.value - other.value, (1.0, -1.0), |_, _| 0.0)
    }
}

impl<const N: usize> Mul for Jet<N> {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        let (a, b) = (self.value, other.value);
        self.bent(other, a * b, (b, a), |i, j| self.crossed(&other, i, j))
    }
}

impl<const N: usize> Div for Jet<N> {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let (a, r) = (self.value, 1.0 / other.value);
        self.combine(
            other,
            a * r,
            (r, -a * r * r),
            (0.0, -r * r, 2.0 * a * r * r * r),
        )
    }
}

impl<const N: usize> Neg for Jet<N> {
    type Output = Self;
    fn neg(self) -> Self {
        self.chain(-self.value, -1.0, 0.0)
    }
}

impl<const N: usize> Add<f64> for Jet<N> {
    type Output = Self;
    fn add(self, c: f64) -> Self {
        Self {
            value: self.value + c,
            ..self
        }
    }
}

impl<const N: usize> Sub<f64> for Jet<N> {
    type Output = Self;
    fn sub(self, c: f64) -> Self {
        Self {
            value: self.value - c,
            ..self
        }
    }
}

impl<const N: usize> Mul<f64> for Jet<N> {
    type Output = Self;
    fn mul(self, c: f64) -> Self {
        self.chain(self.value * c, c, 0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A formula that uses every operation.
    fn formula<S: Scalar>([x, y]: [S; 2]) -> S {
        let a = (x * y - x / y).exp() * 0.1 + (x + 1.5).ln_gamma();
        let b = (-(x * x)).ln_1m_exp() + (y - 0.3).ln_normal_survival();
        let c = (x - y).ln_1p_exp() + y.ln_exp_m1() + (-x).normal_at_ln_survival();
        let d = x.ln_log_gamma_survival(y)
            + y.ln_log_gamma_density(x * -0.4)
            + y.ln_log_gamma_cdf(-x)
            + (-y).log_gamma_at_ln_survival(x);
        let e = (x * 0.3).entropy_excess()
            + (-x * 0.05).entropy_excess()
            + x.stirling_remainder()
            + (y * 0.1).stirling_remainder();
        e + a + b * y.ln() + (x * 0.2).ln_1p() + c + d
    }

    /// ln(1 − e^(−e^a)) is a where e^a is next to nothing, be it smaller than 1e-154, whose square is 0, or 1e-308.
    #[test]
    fn the_logarithm_of_next_to_nothing_keeps_its_second_derivatives() {
        for a in [-200.0, -231.0, -360.0, -700.0, -735.0] {
            let [a, b] = Jet::variables([a, 0.5]);
            let found = (-(a * b * 2.0).exp()).ln_1m_exp();
            let want = a * b * 2.0;
            let digits = if a.value < -708.0 { 1e-3 } else { 1e-9 };
            let close = |found: f64, want: f64| (found - want).abs() <= digits * (1.0 + want.abs());
            assert!(close(found.value, want.value), "{found:?}");
            for i in 0..2 {
                assert!(
                    close(found.gradient[i], want.gradient[i]),
                    "{found:?} {want:?}"
                );
                for j in 0..2 {
                    // Terms of the size of the slopes' products cancel.
                    let size = (found.gradient[i] * found.gradient[j]).abs().max(1.0);
                    let off = (found.hessian[i][j] - want.hessian[i][j]).abs();
                    assert!(off <= digits * size, "{found:?} {want:?}");
                }
            }
        }
    }

    /// A formula of the last two of three variables.
    #[test]
    fn placed_among_more_variables() {
        let f = |[x, y]: [Jet<2>; 2]| x * y.ln();
        let [_, x, y] = Jet::<3>::variables([5.0, 2.0, 3.0]);
        assert_eq!(f(Jet::variables([2.0, 3.0])).placed::<3>(1), x * y.ln());
    }

    #[test]
    fn derivatives_agree_with_differences() {
        let point = [0.7, 1.3];
        let jet = formula(Jet::variables(point));
        let h = 1e-5;
        for i in 0..2 {
            let shifted = |d: f64| {
                let mut p = point;
                p[i] += d;
                p
            };
            let slope = (formula(shifted(h)) - formula(shifted(-h))) / (2.0 * h);
            assert!((slope - jet.gradient[i]).abs() < 1e-8, "{i}");
            let up = formula(Jet::variables(shifted(h))).gradient;
            let down = formula(Jet::variables(shifted(-h))).gradient;
            for j in 0..2 {
                let bend = (up[j] - down[j]) / (2.0 * h);
                assert!((bend - jet.hessian[i][j]).abs() < 1e-7, "{i}{j}");
            }
        }
    }
}
