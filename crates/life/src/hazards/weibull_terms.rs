//! The log-likelihood of Weibull lives with a gamma frailty by cluster, in closed form, with its exact
//! derivatives.
//!
//! ln T = b₀ + x·b + σ ln E given u = 1, so the cumulative hazard of a life is H = e^z with
//! z = (ln t − b₀ − x·b)/σ. With D failures in a cluster, H the sum over its exits and E over its entries:
//!
//! ℓ = Σ (z − ln σ − ln t over failures) + Σ_{i<D} ln(1 + iθ) − (1/θ + D) ln(1 + θH) + (1/θ) ln(1 + θE).
//!
//! A cluster with failures between two looks has no such form: see [`super::between_looks`].

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::between_looks::{At, Cluster, Looks, Part};
use super::data::{Line, Prepared};
use crate::maximise::LogLikelihood;
use crate::quantity::Derivatives;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use std::sync::Arc;

/// Parameters: b₀, b, ln σ, and ln θ unless θ is fixed.
pub(super) struct WeibullTerms<'a> {
    data: &'a Prepared,
    /// Lives by cluster.
    clusters: Arc<Vec<Vec<Line>>>,
    fixed: Option<f64>,
    total: f64,
}

/// A cluster's sum of cumulative hazards, with derivatives in (b₀, b, ln σ).
struct Hazard {
    value: f64,
    slope: DVector<f64>,
    second: DMatrix<f64>,
}

impl Hazard {
    fn new(n: usize) -> Self {
        Self {
            value: 0.0,
            slope: DVector::zeros(n),
            second: DMatrix::zeros(n, n),
        }
    }

    fn clear(&mut self) {
        self.value = 0.0;
        self.slope.fill(0.0);
        self.second.fill(0.0);
    }

    fn add(&mut self, count: f64, z: f64, scaled: &DVector<f64>, second: bool) {
        let h = count * z.exp();
        let n = scaled.len();
        self.value += h;
        if !second {
            return;
        }
        for i in 0..n {
            self.slope[i] -= h * scaled[i];
            for j in 0..n {
                self.second[(i, j)] += h * scaled[i] * scaled[j];
            }
            self.second[(i, n)] += h * (z + 1.0) * scaled[i];
            self.second[(n, i)] = self.second[(i, n)];
        }
        self.slope[n] -= h * z;
        self.second[(n, n)] += h * z * (z + 1.0);
    }
}

/// ln(1 + θH)/θ and its derivatives (value; θ; θθ), H for θ = 0.
fn mean_hazard(h: f64, theta: f64) -> [f64; 3] {
    let y = theta * h;
    if y > 0.05 {
        let (l, r) = (y.ln_1p(), y / (1.0 + y));
        return [
            l / theta,
            (r - l) / (theta * theta),
            (2.0 * l - 2.0 * r - r * r) / theta.powi(3),
        ];
    }
    let (mut value, mut first, mut second) = (0.0, 0.0, 0.0);
    for k in (0..24).rev() {
        let k = f64::from(k);
        value = 1.0 / (k + 1.0) - y * value;
        first = -(k + 1.0) / (k + 2.0) - y * first;
        second = (k + 2.0) * (k + 1.0) / (k + 3.0) - y * second;
    }
    [h * value, h * h * first, h * h * h * second]
}

/// Value and derivatives of one cluster's part in (H, θ): value, H, HH, θ, θθ, Hθ.
struct InHazard {
    value: f64,
    h: f64,
    hh: f64,
    t: f64,
    tt: f64,
    ht: f64,
}

/// −(1/θ + D) ln(1 + θH).
fn leaving(d: f64, h: f64, theta: f64) -> InHazard {
    let [value, first, second] = mean_hazard(h, theta);
    let u = 1.0 / (1.0 + theta * h);
    InHazard {
        value: -value - d * (theta * h).ln_1p(),
        h: -(1.0 + d * theta) * u,
        hh: theta * (1.0 + d * theta) * u * u,
        t: -first - d * h * u,
        tt: -second + d * h * h * u * u,
        ht: (h - d) * u * u,
    }
}

impl<'a> WeibullTerms<'a> {
    pub fn new(data: &'a Prepared) -> Self {
        let mut clusters = vec![vec![]; data.clusters];
        let mut total = 0.0;
        for line in data.strata.iter().flat_map(|s| &s.lines) {
            total += line.count;
            if let Some(own) = clusters.get_mut(line.cluster) {
                own.push(*line);
            }
        }
        Self {
            data,
            clusters: Arc::new(clusters),
            fixed: None,
            total,
        }
    }

    /// The same with θ fixed; 0 is the Weibull regression without frailty.
    pub fn with(&self, theta: f64) -> WeibullTerms<'a> {
        WeibullTerms {
            data: self.data,
            clusters: Arc::clone(&self.clusters),
            fixed: Some(theta),
            total: self.total,
        }
    }

    /// ln of the mean life if the rate were constant: where the search begins.
    pub fn ln_mean(&self) -> f64 {
        let lines = self.clusters.iter().flatten();
        let watched: f64 = lines.map(|l| l.count * (l.exit - l.entry)).sum();
        (watched / self.data.failures).ln()
    }

    /// Mean and variance of each cluster's frailty given what was seen.
    pub fn frailties(&self, x: &[f64]) -> Vec<[f64; 2]> {
        let mut out = vec![[1.0, 0.0]; self.clusters.len()];
        self.walk(x, false, |at, told| {
            if let Some(slot) = out.get_mut(at) {
                *slot = told;
            }
        });
        out
    }

    fn all(&self, x: &[f64], second: bool) -> Derivatives {
        self.walk(x, second, |_, _| {})
    }

    /// Variance between clusters at these parameters.
    fn theta(&self, x: &[f64]) -> f64 {
        let free = || x.last().copied().unwrap_or(0.0).exp();
        self.fixed.unwrap_or_else(free)
    }

    /// A life's location; its design row with the intercept times `shape` goes to `scaled`.
    fn locate(&self, line: &Line, x: &[f64], shape: f64, scaled: &mut DVector<f64>) -> f64 {
        let row = || std::iter::once(1.0).chain(self.data.row(line).iter().copied());
        for (slot, value) in scaled.iter_mut().zip(row()) {
            *slot = value * shape;
        }
        row().zip(x).map(|(a, b)| a * b).sum()
    }

    /// The part of a cluster with failures between two looks; `None` without.
    fn between(&self, cluster: &[Line], x: &[f64], second: bool) -> Option<Part> {
        if cluster.iter().all(|l| l.after.is_none()) {
            return None;
        }
        let n = self.data.columns() + 1;
        let shape = (-x.get(n).copied().unwrap_or(0.0)).exp();
        let mut exits = Hazard::new(n + 1);
        let (mut looks, mut rows): (Vec<Looks>, Vec<DVector<f64>>) = (vec![], vec![]);
        let mut scaled = DVector::zeros(n);
        let mut failed = 0.0;
        for line in cluster {
            let location = self.locate(line, x, shape, &mut scaled);
            let z = |t: f64| (t.ln() - location) * shape;
            if let Some(after) = line.after {
                let at = |t: f64| At::new(t, z(t));
                looks.push(Looks {
                    count: line.count,
                    row: rows.len(),
                    first: at(after),
                    last: at(line.exit),
                });
                rows.push(scaled.clone());
                continue;
            }
            if line.exit > 0.0 {
                exits.add(line.count, z(line.exit), &scaled, second);
            }
            failed += if line.failed { line.count } else { 0.0 };
        }
        let own = Cluster {
            failed,
            hazard: (exits.value, &exits.slope, &exits.second),
            looks: &looks,
            rows: &rows,
        };
        Some(match self.theta(x) {
            theta if theta > 0.0 => own.part(theta, second),
            _ => own.alone(),
        })
    }

    /// The sum over clusters; `tell` hears the mean and variance of the frailty of each.
    fn walk(&self, x: &[f64], second: bool, mut tell: impl FnMut(usize, [f64; 2])) -> Derivatives {
        let n = self.data.columns() + 1;
        let ln_sigma = x.get(n).copied().unwrap_or(0.0);
        let theta = self.theta(x);
        let mut sum = Sum::new(n, self.fixed.is_none());
        let (mut exits, mut entries) = (Hazard::new(n + 1), Hazard::new(n + 1));
        let shape = (-ln_sigma).exp();
        let mut scaled = DVector::zeros(n);
        // Quadrature is dear, so these are worked out side by side; the sum keeps its order.
        let clusters = self.clusters.par_iter();
        let between: Vec<Option<Part>> = clusters.map(|c| self.between(c, x, second)).collect();
        for (at, (cluster, part)) in self.clusters.iter().zip(&between).enumerate() {
            exits.clear();
            entries.clear();
            let mut d = 0.0;
            for line in cluster {
                let location = self.locate(line, x, shape, &mut scaled);
                let z = |t: f64| (t.ln() - location) * shape;
                if line.entry > 0.0 {
                    entries.add(line.count, z(line.entry), &scaled, second);
                }
                if line.exit > 0.0 && part.is_none() {
                    exits.add(line.count, z(line.exit), &scaled, second);
                }
                if line.failed && line.after.is_none() {
                    d += line.count;
                    let z = z(line.exit);
                    sum.density(line.count, z, ln_sigma + line.exit.ln(), &scaled);
                }
            }
            if let Some(part) = part {
                sum.whole(part);
                tell(at, [part.mean, part.variance]);
            } else {
                sum.rising(d, theta);
                sum.add(&leaving(d, exits.value, theta), &exits, theta, 1.0);
                let v = (d * theta + 1.0, exits.value * theta + 1.0);
                tell(at, [v.0 / v.1, theta * v.0 / (v.1 * v.1)]);
            }
            if entries.value > 0.0 {
                sum.add(&leaving(0.0, entries.value, theta), &entries, theta, -1.0);
            }
        }
        sum.derivatives()
    }
}

/// The sum over clusters.
struct Sum {
    value: f64,
    slope: DVector<f64>,
    second: DMatrix<f64>,
    theta_free: bool,
    /// Columns with the intercept.
    n: usize,
}

impl Sum {
    fn new(n: usize, theta_free: bool) -> Self {
        Self {
            value: 0.0,
            slope: DVector::zeros(n + 2),
            second: DMatrix::zeros(n + 2, n + 2),
            theta_free,
            n,
        }
    }

    /// z − ln σ − ln t of a failure.
    fn density(&mut self, count: f64, z: f64, off: f64, scaled: &DVector<f64>) {
        let n = self.n;
        self.value += count * (z - off);
        for i in 0..n {
            self.slope[i] -= count * scaled[i];
            self.second[(i, n)] += count * scaled[i];
            self.second[(n, i)] += count * scaled[i];
        }
        self.slope[n] -= count * (z + 1.0);
        self.second[(n, n)] += count * z;
    }

    /// Σ_{i<D} ln(1 + iθ), in ln θ.
    fn rising(&mut self, d: f64, theta: f64) {
        let at = self.n + 1;
        let mut i = 1.0;
        while i < d {
            let share = i * theta / (1.0 + i * theta);
            self.value += (i * theta).ln_1p();
            self.slope[at] += share;
            self.second[(at, at)] += share * (1.0 - share);
            i += 1.0;
        }
    }

    fn add(&mut self, part: &InHazard, hazard: &Hazard, theta: f64, sign: f64) {
        let n = self.n + 1;
        self.value += sign * part.value;
        for i in 0..n {
            self.slope[i] += sign * part.h * hazard.slope[i];
            for j in 0..n {
                self.second[(i, j)] += sign
                    * (part.hh * hazard.slope[i] * hazard.slope[j]
                        + part.h * hazard.second[(i, j)]);
            }
            let cross = sign * theta * part.ht * hazard.slope[i];
            self.second[(i, n)] += cross;
            self.second[(n, i)] += cross;
        }
        self.slope[n] += sign * theta * part.t;
        self.second[(n, n)] += sign * (theta * theta * part.tt + theta * part.t);
    }

    /// The part of a cluster as found by quadrature.
    fn whole(&mut self, part: &Part) {
        self.value += part.value;
        self.slope += &part.slope;
        self.second += &part.second;
    }

    fn derivatives(&self) -> Derivatives {
        let m = self.n + 1 + usize::from(self.theta_free);
        let row = |i: usize| (0..m).map(|j| self.second[(i, j)]).collect();
        Derivatives {
            value: self.value,
            gradient: self.slope.iter().take(m).copied().collect(),
            hessian: (0..m).map(row).collect(),
        }
    }
}

impl LogLikelihood for WeibullTerms<'_> {
    fn value(&self, x: &[f64]) -> f64 {
        self.all(x, false).value
    }

    fn derivatives(&self, x: &[f64]) -> Derivatives {
        self.all(x, true)
    }

    fn weight(&self) -> f64 {
        self.total
    }
}
