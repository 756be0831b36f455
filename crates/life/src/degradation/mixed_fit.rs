//! The likelihood of straight lines that differ from seal to seal, and its maximum.
//!
//! y = (b₀ + u₀) + (b₁ + u₁) t + e, with (u₀, u₁) normal of covariance σ²LLᵀ among seals and e normal
//! of variance σ². Each seal enters by six sums, so the cost does not grow with the measurements.
//! With V = σ²(I + Z LLᵀ Zᵀ) and M = I + LᵀZᵀZL: ln|V| = n ln σ² + ln|M| and
//! V⁻¹ = σ⁻²(I − Z L M⁻¹ Lᵀ Zᵀ) (matrix determinant and inversion lemmas).

use crate::fit::NoFit;
use crate::maximise::{LogLikelihood, Maximum, maximise};
use crate::quantity::Derivatives;
use sealspan_numeric::jet::{Jet, Scalar};
use std::f64::consts::TAU;

/// In what the seals differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Structure {
    /// Level and rate, correlated.
    Correlated,
    /// Level and rate, independent.
    Independent,
    /// The rate alone.
    Rate,
    /// The level alone.
    Level,
    /// In nothing: one line for all.
    Alike,
}

/// Every structure, the richest first.
pub const STRUCTURES: [Structure; 5] = [
    Structure::Correlated,
    Structure::Independent,
    Structure::Rate,
    Structure::Level,
    Structure::Alike,
];

/// A spread among seals to start from, in units of σ.
const SMALL: f64 = 0.1;

impl Structure {
    /// Number of parameters, b₀, b₁ and σ included.
    #[must_use]
    pub fn parameters(self) -> usize {
        match self {
            Self::Correlated => 6,
            Self::Independent => 5,
            Self::Rate | Self::Level => 4,
            Self::Alike => 3,
        }
    }

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Correlated => "level and rate differ from seal to seal, together",
            Self::Independent => "level and rate differ from seal to seal, each by itself",
            Self::Rate => "the rate differs from seal to seal",
            Self::Level => "the level differs from seal to seal, the rate does not",
            Self::Alike => "all seals go the same way",
        }
    }

    /// The three entries of L from the free parameters after b₀, b₁, ln σ.
    fn root<S: Scalar>(self, free: &[S]) -> [S; 3] {
        let zero = S::constant(0.0);
        let at = |i: usize| free.get(i).copied().unwrap_or(zero);
        match self {
            Self::Correlated => [at(0), at(1), at(2)],
            Self::Independent => [at(0), zero, at(1)],
            Self::Rate => [zero, zero, at(0)],
            Self::Level => [at(0), zero, zero],
            Self::Alike => [zero, zero, zero],
        }
    }

    /// The structure in which level and rate both differ, and a point of it near `x` of this one; itself where
    /// they do already.
    #[must_use]
    pub fn widened(self, x: &[f64]) -> (Self, Vec<f64>) {
        if matches!(self, Self::Correlated | Self::Independent) {
            return (self, x.to_vec());
        }
        let [level, _, rate] = self.root_of(x);
        let start = |l: f64| if l == 0.0 { SMALL } else { l };
        let fixed = x.iter().take(3).copied();
        let point = fixed.chain([start(level), start(rate)]).collect();
        (Self::Independent, point)
    }

    /// The entries of L as numbers.
    #[must_use]
    pub fn root_of(self, x: &[f64]) -> [f64; 3] {
        self.root(x.get(3..).unwrap_or(&[]))
    }
}

/// The sums by which a seal enters: number, Σt, Σt², Σy, Σty, Σy².
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sums {
    /// Number of measurements.
    pub n: f64,
    /// Σ t.
    pub t: f64,
    /// Σ t².
    pub tt: f64,
    /// Σ y.
    pub y: f64,
    /// Σ t y.
    pub ty: f64,
    /// Σ y².
    pub yy: f64,
}

impl Sums {
    /// Sums of one seal's points.
    #[must_use]
    pub fn of(points: impl Iterator<Item = (f64, f64)>) -> Self {
        points.fold(Self::default(), |s, (t, y)| Self {
            n: s.n + 1.0,
            t: s.t + t,
            tt: s.tt + t * t,
            y: s.y + y,
            ty: s.ty + t * y,
            yy: s.yy + y * y,
        })
    }
}

/// Log-likelihood at b₀, b₁, ln σ and L; restricted (REML) subtracts ½ ln|Σ ZᵀV⁻¹Z| and adds ln 2π.
pub fn ln_likelihood<S: Scalar>(
    seals: &[Sums],
    fixed: [S; 3],
    [l1, l2, l3]: [S; 3],
    restricted: bool,
) -> S {
    let [b0, b1, ln_sigma] = fixed;
    let precision = (ln_sigma * -2.0).exp();
    let zero = S::constant(0.0);
    let (mut total, mut a00, mut a01, mut a11) = (zero, zero, zero, zero);
    for s in seals {
        let (c0, c1) = (l1 * s.n + l2 * s.t, l1 * s.t + l2 * s.tt);
        let (d0, d1) = (l3 * s.t, l3 * s.tt);
        let (m11, m12, m22) = (l1 * c0 + l2 * c1 + 1.0, l3 * c1, l3 * d1 + 1.0);
        let det = m11 * m22 - m12 * m12;
        let r0 = S::constant(s.y) - b0 * s.n - b1 * s.t;
        let r1 = S::constant(s.ty) - b0 * s.t - b1 * s.tt;
        let rr = S::constant(s.yy) - b0 * (r0 + s.y) - b1 * (r1 + s.ty);
        let (w1, w2) = (l1 * r0 + l2 * r1, l3 * r1);
        let q = (m22 * w1 * w1 - m12 * w1 * w2 * 2.0 + m11 * w2 * w2) / det;
        total = total
            - ((ln_sigma * (2.0 * s.n) + det.ln() + (rr - q) * precision) + s.n * TAU.ln()) * 0.5;
        if restricted {
            let inner = |(x1, x2): (S, S), (y1, y2): (S, S)| {
                (m22 * x1 * y1 - m12 * (x1 * y2 + x2 * y1) + m11 * x2 * y2) / det
            };
            a00 = a00 - inner((c0, d0), (c0, d0)) + s.n;
            a01 = a01 - inner((c0, d0), (c1, d1)) + s.t;
            a11 = a11 - inner((c1, d1), (c1, d1)) + s.tt;
        }
    }
    if restricted {
        let information = a00 * a11 - a01 * a01;
        // |Σ ZᵀV⁻¹Z| = |A| σ⁻⁴.
        total = total - (information.ln() - ln_sigma * 4.0) * 0.5 + TAU.ln();
    }
    total
}

/// A structure's likelihood, ready to be maximised.
pub struct Problem<'a> {
    /// The seals' sums.
    pub seals: &'a [Sums],
    /// In what they differ.
    pub structure: Structure,
    /// Whether the restricted likelihood is maximised.
    pub restricted: bool,
}

impl Problem<'_> {
    fn evaluate<S: Scalar>(&self, x: &[S]) -> Option<S> {
        let fixed = [*x.first()?, *x.get(1)?, *x.get(2)?];
        let root = self.structure.root(x.get(3..)?);
        Some(ln_likelihood(self.seals, fixed, root, self.restricted))
    }

    fn jets<const N: usize>(&self, x: &[f64]) -> Derivatives {
        let mut point = [0.0; N];
        point.iter_mut().zip(x).for_each(|(p, v)| *p = *v);
        let jet = self
            .evaluate(&Jet::<N>::variables(point))
            .unwrap_or_else(|| Jet::constant(f64::NAN));
        Derivatives {
            value: jet.value,
            gradient: jet.gradient.to_vec(),
            hessian: jet.hessian.iter().map(|row| row.to_vec()).collect(),
        }
    }

    /// Finds the maximum: from level, rate and ln σ with spreads as large as σ, and with other spreads if that fails.
    ///
    /// # Errors
    /// As [`maximise`].
    pub fn solve(&self, fixed: [f64; 3]) -> Result<Maximum, NoFit> {
        let free = self.structure.parameters() - 3;
        let mut lost = NoFit::Ridge;
        for size in [1.0, 0.1, 10.0] {
            let spread = match self.structure {
                Structure::Correlated => vec![size, 0.0, size],
                _ => vec![size; free],
            };
            let start: Vec<f64> = fixed.into_iter().chain(spread).collect();
            match maximise(self, &start) {
                Ok(maximum) => return Ok(maximum),
                Err(why) => lost = why.why,
            }
        }
        Err(lost)
    }

    /// Finds the maximum from a point near it, by Newton's steps; from afar where that fails.
    ///
    /// # Errors
    /// As [`maximise`].
    pub fn solve_near(&self, x: &[f64]) -> Result<Maximum, NoFit> {
        maximise(self, x)
            .or_else(|_| self.solve([0, 1, 2].map(|i| x.get(i).copied().unwrap_or(0.0))))
    }
}

impl LogLikelihood for Problem<'_> {
    fn value(&self, x: &[f64]) -> f64 {
        self.evaluate(x).unwrap_or(f64::NAN)
    }

    fn derivatives(&self, x: &[f64]) -> Derivatives {
        match self.structure.parameters() {
            6 => self.jets::<6>(x),
            5 => self.jets::<5>(x),
            4 => self.jets::<4>(x),
            _ => self.jets::<3>(x),
        }
    }

    fn weight(&self) -> f64 {
        self.seals.iter().map(|s| s.n).sum()
    }
}
