//! Clusters with failures known only to lie between two looks: their part of the log-likelihood of Weibull lives
//! with a gamma frailty, by quadrature over the frailty, with exact derivatives.
//!
//! With u the frailty of the cluster, gamma with mean 1 and variance θ = 1/ν, and A, B the cumulative hazards at the
//! two looks, the part is ln ∫ g(u) Π u^D e^(−uH) Π (e^(−uA) − e^(−uB)) du. In v = ln u the integrand is smooth and
//! falls off at least as an exponential on either side, so the trapezoid rule converges faster than any power of its
//! step (Trefethen & Weideman 2014; from memory).

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use nalgebra::{DMatrix, DVector};
use sealspan_numeric::special::{digamma, ln_gamma, trigamma};

/// Step of the rule, in standard deviations of ln u, at most of ln u itself and of what [`Cluster::steepest`] gives.
const STEP: f64 = 0.4;
/// The rule ends where the integrand has fallen by this much in its logarithm.
const FALLEN: f64 = 28.0;
/// Nodes on one side at most.
const MOST: usize = 400;
/// ν beyond which the normalising constant of the frailty is taken from Stirling's series.
const STIRLING: f64 = 1e3;

/// A failure between two looks: cumulative hazards there for u = 1, with derivatives in (location, ln σ).
#[derive(Debug, Clone, Copy)]
pub(super) struct Looks {
    pub count: f64,
    /// Place of its design row among the scaled rows of the cluster.
    pub row: usize,
    pub first: At,
    pub last: At,
}

/// Cumulative hazard at a look, with its derivatives in (location·shape, ln σ): the first by z, as z is shifted.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct At {
    h: f64,
    z: f64,
}

impl At {
    /// At z = (ln t − location)/σ; age 0 has no hazard behind it.
    pub fn new(t: f64, z: f64) -> Self {
        match t > 0.0 {
            true => Self { h: z.exp(), z },
            false => Self::default(),
        }
    }

    /// dH by the shift of z, and by ln σ; second derivatives: shift², shift·ln σ, ln σ².
    fn slopes(&self) -> [f64; 5] {
        let (h, z) = (self.h, self.z);
        [-h, -h * z, h, h * (z + 1.0), h * z * (z + 1.0)]
    }
}

impl Looks {
    /// ln (e^(−uA) − e^(−uB)) and its derivatives in the shift of z and ln σ, and its first two in ln u.
    fn at(&self, u: f64) -> ([f64; 6], [f64; 2]) {
        let d = (u * (self.last.h - self.first.h)).max(f64::MIN_POSITIVE);
        let q = 1.0 / d.exp_m1();
        // 1 − e^(−d) is 1/(1 + q).
        let value = -u * self.first.h - q.ln_1p();
        let (a, b) = (-u * (1.0 + q), u * q);
        let curve = u * u * q * (1.0 + q);
        let curve = if curve.is_finite() { curve } else { 0.0 };
        let (s, t) = (self.first.slopes(), self.last.slopes());
        let second = |i: usize, j: usize, at: usize| {
            a * s[at] + b * t[at] - curve * (s[i] - t[i]) * (s[j] - t[j])
        };
        let derivatives = [
            value,
            a * s[0] + b * t[0],
            a * s[1] + b * t[1],
            second(0, 0, 2),
            second(0, 1, 3),
            second(1, 1, 4),
        ];
        let fall = d * d * q * (1.0 + q);
        let fall = if fall.is_finite() { fall } else { 1.0 };
        let rise = if d * q > 0.0 { d * q } else { 0.0 };
        let in_ln_u = [-u * self.first.h + rise, -u * self.first.h + rise - fall];
        (derivatives, in_ln_u)
    }
}

/// What a cluster is made of.
pub(super) struct Cluster<'a> {
    /// Failures at known ages.
    pub failed: f64,
    /// Cumulative hazard of lives with a known end, and its derivatives in (b, ln σ).
    pub hazard: (f64, &'a DVector<f64>, &'a DMatrix<f64>),
    /// Failures between two looks.
    pub looks: &'a [Looks],
    /// Their design rows over σ.
    pub rows: &'a [DVector<f64>],
}

/// The part of a cluster: value; slope and curvature in (b, ln σ, ln θ); mean and variance of the frailty given what
/// was seen.
pub(super) struct Part {
    pub value: f64,
    pub slope: DVector<f64>,
    pub second: DMatrix<f64>,
    pub mean: f64,
    pub variance: f64,
}

/// ν ln ν − ν − ln Γ(ν) with its first two derivatives.
fn constant(nu: f64) -> [f64; 3] {
    if nu > STIRLING {
        let n2 = nu * nu;
        return [
            0.5 * (nu / std::f64::consts::TAU).ln() - 1.0 / (12.0 * nu) + 1.0 / (360.0 * nu * n2),
            0.5 / nu + 1.0 / (12.0 * n2) - 1.0 / (120.0 * n2 * n2),
            -0.5 / n2 - 1.0 / (6.0 * nu * n2),
        ];
    }
    [
        nu * nu.ln() - nu - ln_gamma(nu),
        nu.ln() - digamma(nu),
        1.0 / nu - trigamma(nu),
    ]
}

impl Cluster<'_> {
    /// Its part where every frailty is 1.
    pub fn alone(&self) -> Part {
        let mut node = Node::new(self.hazard.1.len());
        node.fill(self, 1.0, true);
        let mut sums = Sums::new(self, node.value);
        sums.add(node.value, 1.0, &node, 0.0, true);
        let mut part = sums.part(self, 0.0);
        part.variance = 0.0;
        part
    }

    /// ln of the integrand in v = ln u, less its constant, with its first two derivatives.
    fn shape(&self, v: f64, nu: f64) -> [f64; 3] {
        let u = v.exp();
        let h = u * (self.hazard.0 + nu);
        let mut out = [
            nu * (v + 1.0) - h + self.failed * v,
            nu + self.failed - h,
            -h,
        ];
        for l in self.looks {
            let (own, by) = l.at(u);
            out[0] += l.count * own[0];
            out[1] += l.count * by[0];
            out[2] += l.count * by[1];
        }
        out
    }

    /// The mode of the integrand and the standard deviation of ln u there.
    fn mode(&self, nu: f64) -> (f64, f64) {
        let found: f64 = self.looks.iter().map(|l| l.count).sum();
        let rough: f64 = self
            .looks
            .iter()
            .map(|l| l.count * 0.5 * (l.first.h + l.last.h))
            .sum();
        let mut v = ((self.failed + found + nu) / (self.hazard.0 + rough + nu)).ln();
        for _ in 0..60 {
            let [_, slope, curve] = self.shape(v, nu);
            let step = (-slope / curve).clamp(-1.0, 1.0);
            if !step.is_finite() {
                break;
            }
            v += step;
            if step.abs() < 1e-6 {
                break;
            }
        }
        let curve = self.shape(v, nu)[2];
        (v, (-curve).max(1e-12).sqrt().recip())
    }

    /// How many times as fast as ln u the steepest failures between looks change near ln u = `centre`. n failures whose
    /// looks are d = u(B − A) apart weigh about exp(−n e^(−d)), which is gone where d falls below ln n and grows
    /// without limit beyond an imaginary part of π/(2d) of ln u: the rule must step below that to converge.
    fn steepest(&self, centre: f64) -> f64 {
        let u = centre.exp();
        self.looks
            .iter()
            .map(|l| (u * (l.last.h - l.first.h)).min(1.0 + l.count.max(1.0).ln()))
            .fold(1.0, f64::max)
    }

    /// Its part at a variance θ above 0; slopes and curvature only where they are wanted.
    pub fn part(&self, theta: f64, derivatives: bool) -> Part {
        let nu = theta.recip();
        let (centre, width) = self.mode(nu);
        let step = STEP * width.min(self.steepest(centre).recip());
        let [c, c1, c2] = constant(nu);
        let n = self.hazard.1.len();
        let mut sums = Sums::new(self, self.shape(centre, nu)[0]);
        let mut node = Node::new(n);
        for side in [1.0, -1.0] {
            for k in 0..MOST {
                if k == 0 && side < 0.0 {
                    continue;
                }
                let v = centre + side * step * k as f64;
                let u = v.exp();
                let own = nu * (v - v.exp_m1());
                node.fill(self, u, derivatives);
                let value = own + node.value;
                if sums.top - value > FALLEN {
                    break;
                }
                let moved = c1 + (v - v.exp_m1());
                node.in_theta(-nu * moved);
                sums.add(value, u, &node, nu * moved + nu * nu * c2, derivatives);
            }
        }
        sums.part(self, c + step.ln())
    }
}

/// ln of the lives of a cluster at one frailty.
struct Node {
    value: f64,
    /// Its slope in (b, ln σ, ln θ).
    slope: Vec<f64>,
    /// Of each failure between two looks, the second derivatives in the shift of z and ln σ.
    bends: Vec<[f64; 3]>,
}

impl Node {
    /// For `n` parameters without ln θ.
    fn new(n: usize) -> Self {
        Self {
            value: 0.0,
            slope: vec![0.0; n + 1],
            bends: vec![],
        }
    }

    fn in_theta(&mut self, slope: f64) {
        if let Some(last) = self.slope.last_mut() {
            *last = slope;
        }
    }

    fn fill(&mut self, c: &Cluster<'_>, u: f64, derivatives: bool) {
        let (h, slope, _) = c.hazard;
        self.value = c.failed * u.ln() - u * h;
        self.bends.clear();
        if derivatives {
            for (own, s) in self.slope.iter_mut().zip(slope.iter()) {
                *own = -u * s;
            }
        }
        for l in c.looks {
            let ([value, by_z, by_s, zz, zs, ss], _) = l.at(u);
            self.value += l.count * value;
            let Some(row) = c.rows.get(l.row).filter(|_| derivatives) else {
                continue;
            };
            for (own, x) in self.slope.iter_mut().zip(row.iter()) {
                *own += l.count * by_z * x;
            }
            if let Some(own) = self.slope.get_mut(row.len()) {
                *own += l.count * by_s;
            }
            self.bends.push([zz, zs, ss].map(|b| l.count * b));
        }
    }
}

/// Weighted sums over the nodes, relative to the integrand at its mode.
struct Sums {
    top: f64,
    weight: f64,
    u: [f64; 2],
    slope: DVector<f64>,
    /// Σ slope slopeᵀ, of which the lower half is kept.
    outer: DMatrix<f64>,
    bends: Vec<[f64; 3]>,
    in_theta: f64,
}

impl Sums {
    fn new(c: &Cluster<'_>, top: f64) -> Self {
        let m = c.hazard.1.len() + 1;
        Self {
            top,
            weight: 0.0,
            u: [0.0; 2],
            slope: DVector::zeros(m),
            outer: DMatrix::zeros(m, m),
            bends: vec![[0.0; 3]; c.looks.len()],
            in_theta: 0.0,
        }
    }

    fn add(&mut self, value: f64, u: f64, node: &Node, in_theta: f64, derivatives: bool) {
        let w = (value - self.top).exp();
        self.weight += w;
        self.u[0] += w * u;
        self.u[1] += w * u * u;
        if !derivatives {
            return;
        }
        self.in_theta += w * in_theta;
        for (i, s) in node.slope.iter().enumerate() {
            self.slope[i] += w * s;
            for (j, t) in node.slope.iter().take(i + 1).enumerate() {
                self.outer[(i, j)] += w * s * t;
            }
        }
        for (sum, bend) in self.bends.iter_mut().zip(&node.bends) {
            for (slot, b) in sum.iter_mut().zip(bend) {
                *slot += w * b;
            }
        }
    }

    fn part(mut self, c: &Cluster<'_>, constant: f64) -> Part {
        self.slope /= self.weight;
        self.outer.fill_upper_triangle_with_lower_triangle();
        let mut second = self.outer / self.weight - &self.slope * self.slope.transpose();
        let mean = self.u[0] / self.weight;
        let n = c.hazard.1.len();
        let mut own = second.view_mut((0, 0), (n, n));
        own -= c.hazard.2 * mean;
        second[(n, n)] += self.in_theta / self.weight;
        for (l, bend) in c.looks.iter().zip(&self.bends) {
            let [zz, zs, ss] = bend.map(|b| b / self.weight);
            let Some(row) = c.rows.get(l.row) else {
                continue;
            };
            let k = row.len();
            for i in 0..k {
                for j in 0..k {
                    second[(i, j)] += row[i] * row[j] * zz;
                }
                second[(i, k)] += row[i] * zs;
                second[(k, i)] += row[i] * zs;
            }
            second[(k, k)] += ss;
        }
        Part {
            value: self.top + self.weight.ln() + constant,
            slope: self.slope,
            second,
            mean,
            variance: (self.u[1] / self.weight - mean * mean).max(0.0),
        }
    }
}

#[cfg(test)]
mod tests;
