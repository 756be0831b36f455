//! The partial likelihood with a frailty by cluster of a given variance θ:
//!
//! PL(β, ω) − ν Σ_j (e^{ω_j} − ω_j − 1), ν = 1/θ,
//!
//! its slope, and its information times a direction, each by one sweep over the risk sets: O(n), and no matrix of
//! clusters by clusters is written out.

use super::data::Prepared;
use super::partial::{Order, Ties};
use nalgebra::DVector;
use std::ops::Range;

/// A life that is at risk when something fails.
struct Life {
    /// Place of the oldest risk set it is in; it is in all later ones of its stratum.
    set: usize,
    failed: bool,
    count: f64,
    design: usize,
    cluster: usize,
}

/// The lives without delayed entry, sorted into risk sets once.
pub(super) struct Penalised<'a> {
    pub data: &'a Prepared,
    ties: Ties,
    lives: Vec<Life>,
    /// Failures of each risk set, oldest first, one stratum after another.
    failed: Vec<f64>,
    /// The risk sets of each stratum.
    strata: Vec<Range<usize>>,
}

/// What the sweep finds at one place.
pub(super) struct Point {
    /// Penalised log-likelihood.
    pub value: f64,
    /// Log partial likelihood.
    pub partial: f64,
    pub slope: DVector<f64>,
    /// Weight of each life, and the failures expected of a life of weight 1 with its times.
    weights: Vec<f64>,
    hazards: Vec<f64>,
    orders: Vec<Order>,
    /// ν e^ω by cluster.
    held: Vec<f64>,
    /// Diagonal of the information, its risk sets' means left out.
    pub diagonal: DVector<f64>,
}

fn at(list: &[f64], i: usize) -> f64 {
    list.get(i).copied().unwrap_or(0.0)
}

fn add(list: &mut [f64], i: usize, x: f64) {
    if let Some(slot) = list.get_mut(i) {
        *slot += x;
    }
}

impl<'a> Penalised<'a> {
    pub fn new(data: &'a Prepared, ties: Ties) -> Self {
        let mut out = Self {
            data,
            ties,
            lives: vec![],
            failed: vec![],
            strata: vec![],
        };
        for stratum in &data.strata {
            let first = out.failed.len();
            let failed = stratum.lines.iter().filter(|l| l.failed);
            // Oldest first, as the lines.
            let mut ages: Vec<f64> = failed.map(|l| l.exit).collect();
            ages.dedup();
            out.failed.resize(first + ages.len(), 0.0);
            for line in &stratum.lines {
                let younger = ages.partition_point(|a| *a > line.exit);
                // Lives that left before the first failure are in no risk set.
                if younger == ages.len() {
                    continue;
                }
                let set = first + younger;
                if line.failed {
                    add(&mut out.failed, set, line.count);
                }
                out.lives.push(Life {
                    set,
                    failed: line.failed,
                    count: line.count,
                    design: line.design,
                    cluster: line.cluster,
                });
            }
            out.strata.push(first..out.failed.len());
        }
        out
    }

    /// Σ over each risk set and over those that fail in it.
    fn sums(&self, of: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let mut risk = vec![0.0; self.failed.len()];
        let mut dying = risk.clone();
        for (life, x) in self.lives.iter().zip(of) {
            add(&mut risk, life.set, *x);
            if life.failed {
                add(&mut dying, life.set, *x);
            }
        }
        for stratum in &self.strata {
            let mut sum = 0.0;
            for slot in risk.get_mut(stratum.clone()).unwrap_or_default() {
                sum += *slot;
                *slot = sum;
            }
        }
        (risk, dying)
    }

    /// Sums from each risk set to the last of its stratum: what a life goes through.
    fn through(&self, mut of: Vec<f64>) -> Vec<f64> {
        for stratum in &self.strata {
            let mut sum = 0.0;
            for slot in of
                .get_mut(stratum.clone())
                .unwrap_or_default()
                .iter_mut()
                .rev()
            {
                sum += *slot;
                *slot = sum;
            }
        }
        of
    }

    /// x·β of every design row.
    fn linear(&self, beta: &[f64]) -> Vec<f64> {
        let rows = self.data.design.chunks(self.data.columns().max(1));
        rows.map(|row| row.iter().zip(beta).map(|(x, b)| x * b).sum())
            .collect()
    }

    /// Sums by column and by cluster of what each life has.
    fn gathered(&self, of: &[f64]) -> DVector<f64> {
        let p = self.data.columns();
        let mut by_design = vec![0.0; self.data.design.len() / p.max(1)];
        let mut out = vec![0.0; p + self.data.clusters];
        for (life, x) in self.lives.iter().zip(of) {
            add(&mut by_design, life.design, *x);
            add(&mut out, p + life.cluster, *x);
        }
        for (row, sum) in self.data.design.chunks(p.max(1)).zip(&by_design) {
            for (slot, x) in out.iter_mut().zip(row) {
                *slot += sum * x;
            }
        }
        DVector::from_vec(out)
    }

    pub fn point(&self, theta: f64, beta: &DVector<f64>, omega: &[f64]) -> Point {
        let linear = self.linear(beta.as_slice());
        let etas: Vec<f64> = self
            .lives
            .iter()
            .map(|l| at(&linear, l.design) + at(omega, l.cluster))
            .collect();
        // Taken off before exponentials, it cancels in every ratio.
        let shift = etas.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let both = || self.lives.iter().zip(&etas);
        let weights: Vec<f64> = both().map(|(l, e)| l.count * (e - shift).exp()).collect();
        let (risk, dying) = self.sums(&weights);
        let sets = risk.iter().zip(&dying).zip(&self.failed);
        let orders: Vec<Order> = sets
            .map(|((s, d), failed)| Order::at(*s, *d, *failed, self.ties))
            .collect();
        let through = self.through(orders.iter().map(|o| o.a0).collect());
        let hazard = |l: &Life| {
            let share = orders.get(l.set).map_or(0.0, |o| o.a1);
            at(&through, l.set) - if l.failed { share } else { 0.0 }
        };
        let hazards: Vec<f64> = self.lives.iter().map(hazard).collect();
        let died = both().filter(|(l, _)| l.failed);
        let partial = died.map(|(l, e)| l.count * (e - shift)).sum::<f64>()
            - orders.iter().map(|o| o.ln).sum::<f64>();
        let nu = 1.0 / theta;
        let expected: Vec<f64> = weights.iter().zip(&hazards).map(|(w, h)| w * h).collect();
        let failed = |l: &Life| if l.failed { l.count } else { 0.0 };
        let residuals: Vec<f64> = self
            .lives
            .iter()
            .zip(&expected)
            .map(|(l, e)| failed(l) - e)
            .collect();
        let mut slope = self.gathered(&residuals);
        let p = self.data.columns();
        for (slot, o) in slope.iter_mut().skip(p).zip(omega) {
            *slot -= nu * o.exp_m1();
        }
        let held: Vec<f64> = omega.iter().map(|o| nu * o.exp()).collect();
        let penalty: f64 = omega.iter().map(|o| o.exp_m1() - o).sum();
        Point {
            value: partial - nu * penalty,
            partial,
            slope,
            diagonal: self.diagonal(&expected, &held),
            weights,
            hazards,
            orders,
            held,
        }
    }

    fn diagonal(&self, expected: &[f64], held: &[f64]) -> DVector<f64> {
        let p = self.data.columns();
        let mut out = vec![0.0; p + self.data.clusters];
        for (life, e) in self.lives.iter().zip(expected) {
            add(&mut out, p + life.cluster, *e);
            let row = self.data.design.chunks(p.max(1)).nth(life.design);
            for (slot, x) in out.iter_mut().zip(row.unwrap_or_default()) {
                *slot += e * x * x;
            }
        }
        for (slot, h) in out.iter_mut().skip(p).zip(held) {
            *slot += h;
        }
        DVector::from_vec(out)
    }

    /// The information times a direction.
    pub fn product(&self, here: &Point, direction: &DVector<f64>) -> DVector<f64> {
        let p = self.data.columns();
        let (columns, clusters) = direction.as_slice().split_at(p);
        let linear = self.linear(columns);
        let moves: Vec<f64> = self
            .lives
            .iter()
            .map(|l| at(&linear, l.design) + at(clusters, l.cluster))
            .collect();
        let weighed: Vec<f64> = moves
            .iter()
            .zip(&here.weights)
            .map(|(u, w)| u * w)
            .collect();
        let (risk, dying) = self.sums(&weighed);
        let sets = here.orders.iter().zip(risk.iter().zip(&dying));
        let through = self.through(
            sets.clone()
                .map(|(o, (r, d))| o.b0 * r - o.b1 * d)
                .collect(),
        );
        let own: Vec<f64> = sets.map(|(o, (r, d))| o.b1 * r - o.b2 * d).collect();
        let each = self.lives.iter().zip(&moves);
        let each = each.zip(here.weights.iter().zip(&here.hazards));
        let parts: Vec<f64> = each
            .map(|((l, u), (w, h))| {
                let failing = if l.failed { at(&own, l.set) } else { 0.0 };
                w * (u * h - at(&through, l.set) + failing)
            })
            .collect();
        let mut out = self.gathered(&parts);
        for ((slot, h), v) in out.iter_mut().skip(p).zip(&here.held).zip(clusters) {
            *slot += h * v;
        }
        out
    }
}
