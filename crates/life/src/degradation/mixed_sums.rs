//! The sums by which measured seals enter the likelihood of straight paths ([`super::mixed_fit`] has the formulas), and
//! what all of them come to at one spread among seals.

use nalgebra::{Matrix2, Vector2};
use sealspan_numeric::jet::{Jet, Scalar};
use std::f64::consts::TAU;

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

/// What all seals come to at one L, in units of σ⁻². With Ω = I − Z L M⁻¹ Lᵀ Zᵀ and residuals r about a line: Σ ln|M|,
/// Σ ZᵀΩZ, Σ ZᵀΩr and Σ rᵀΩr.
#[derive(Debug, Clone, Copy)]
pub(super) struct Gathered<S> {
    measurements: f64,
    ln_det: S,
    /// Σ ZᵀΩZ: level, both, rate.
    information: [S; 3],
    pull: [S; 2],
    square: S,
}

impl<S: Scalar> Gathered<S> {
    /// Sums over the seals, residuals about the line `b0`, `b1`.
    pub(super) fn of(seals: &[Sums], [b0, b1]: [f64; 2], [l1, l2, l3]: [S; 3]) -> Self {
        let zero = S::constant(0.0);
        let mut out = Self {
            measurements: 0.0,
            ln_det: zero,
            information: [zero; 3],
            pull: [zero; 2],
            square: zero,
        };
        for s in seals {
            let (r0, r1) = (s.y - b0 * s.n - b1 * s.t, s.ty - b0 * s.t - b1 * s.tt);
            let rr = s.yy - b0 * (r0 + s.y) - b1 * (r1 + s.ty);
            // ZᵀZL by rows, and LᵀZᵀr.
            let rows = [
                (l1 * s.n + l2 * s.t, l3 * s.t),
                (l1 * s.t + l2 * s.tt, l3 * s.tt),
            ];
            let [(c0, _), (c1, d1)] = rows;
            let w = (l1 * r0 + l2 * r1, l3 * r1);
            let (m11, m12, m22) = (l1 * c0 + l2 * c1 + 1.0, l3 * c1, l3 * d1 + 1.0);
            let det = m11 * m22 - m12 * m12;
            let inverse = S::constant(1.0) / det;
            let (i11, i12, i22) = (m22 * inverse, -(m12 * inverse), m11 * inverse);
            let solve = |(x, y): (S, S)| (i11 * x + i12 * y, i12 * x + i22 * y);
            let dot = |a: (S, S), b: (S, S)| a.0 * b.0 + a.1 * b.1;
            let [h0, h1] = rows.map(solve);
            let [row0, row1] = rows;
            let [a00, a01, a11] = out.information;
            out.information = [
                a00 - dot(row0, h0) + s.n,
                a01 - dot(row1, h0) + s.t,
                a11 - dot(row1, h1) + s.tt,
            ];
            out.pull = [out.pull[0] - dot(h0, w) + r0, out.pull[1] - dot(h1, w) + r1];
            out.square = out.square - dot(w, solve(w)) + rr;
            out.ln_det = out.ln_det + det.ln();
            out.measurements += s.n;
        }
        out
    }

    /// Log-likelihood of a line `off` the one that the residuals are about; restricted (REML) subtracts
    /// ½ ln|Σ ZᵀV⁻¹Z| and adds ln 2π.
    pub(super) fn ln_likelihood(&self, off: [S; 2], ln_sigma: S, restricted: bool) -> S {
        let ([a00, a01, a11], [p0, p1], [x, y]) = (self.information, self.pull, off);
        let square =
            self.square - (x * p0 + y * p1) * 2.0 + (x * x * a00 + x * y * a01 * 2.0 + y * y * a11);
        let precision = (ln_sigma * -2.0).exp();
        let n = self.measurements;
        let whole = ln_sigma * (2.0 * n) + self.ln_det + square * precision + n * TAU.ln();
        if !restricted {
            return whole * -0.5;
        }
        // |Σ ZᵀV⁻¹Z| = |A| σ⁻⁴.
        let information = a00 * a11 - a01 * a01;
        (whole + information.ln() - ln_sigma * 4.0) * -0.5 + TAU.ln()
    }
}

impl Gathered<f64> {
    /// The line of generalised least squares, `off` the one that the residuals are about, and its covariance in units
    /// of σ².
    pub(super) fn line(&self) -> Option<(Vector2<f64>, Matrix2<f64>)> {
        let [a00, a01, a11] = self.information;
        let covariance = Matrix2::new(a00, a01, a01, a11).try_inverse()?;
        Some((covariance * Vector2::from(self.pull), covariance))
    }
}

impl<const K: usize> Gathered<Jet<K>> {
    /// The same among the parameters b₀, b₁, ln σ and then those of L.
    pub(super) fn placed<const N: usize>(&self) -> Gathered<Jet<N>> {
        let place = |jet: Jet<K>| jet.placed::<N>(N - K);
        Gathered {
            measurements: self.measurements,
            ln_det: place(self.ln_det),
            information: self.information.map(place),
            pull: self.pull.map(place),
            square: place(self.square),
        }
    }
}
