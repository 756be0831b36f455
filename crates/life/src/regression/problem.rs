//! The log-likelihood of a regression with its derivatives, summed line by line.

use super::line::{Line, location};
use super::penalty::Penalty;
use crate::family::Family;
use crate::maximise::LogLikelihood;
use crate::quantity::Derivatives;
use rayon::prelude::*;
use sealspan_numeric::sum::fixed_order;

/// Tasks the lines are cut into; fixed, so that the order of additions is.
const TASKS: usize = 16;
/// Fewest lines that are worth a task.
const FEWEST: usize = 256;
/// Largest number of parameters of a law.
pub(super) const MOST: usize = 8;

/// Lines on standardised columns.
pub(super) struct Problem {
    pub family: &'static dyn Family,
    pub lines: Vec<Line>,
    pub columns: usize,
    pub shared: usize,
    pub strata: usize,
    pub penalties: Vec<Penalty>,
}

impl Problem {
    /// Number of unknowns.
    pub fn size(&self) -> usize {
        self.columns + self.shared * self.strata
    }

    /// Position of the first of a stratum's own parameters.
    pub fn own(&self, stratum: usize) -> usize {
        self.columns + stratum * self.shared
    }

    /// θ of a line; longer than the law needs, and 0 there.
    fn theta(&self, line: &Line, x: &[f64]) -> [f64; MOST] {
        let mut theta = [0.0; MOST];
        theta[0] = location(&line.row, x) + line.offset;
        let own = x.iter().skip(self.own(line.stratum)).take(self.shared);
        for (slot, value) in theta.iter_mut().skip(1).zip(own) {
            *slot = *value;
        }
        theta
    }

    /// Whether the laws of a stratum have parts of widths too unlike.
    pub fn unlike(&self, x: &[f64]) -> bool {
        (0..self.strata).any(|stratum| {
            let own = x.iter().skip(self.own(stratum)).take(self.shared);
            let theta: Vec<f64> = std::iter::once(0.0).chain(own.copied()).collect();
            self.family.unlike(&theta)
        })
    }

    /// Penalties at `x`.
    pub fn penalty(&self, x: &[f64]) -> f64 {
        self.penalties.iter().map(|p| p.value(x)).sum()
    }

    fn sum(&self, lines: &[Line], x: &[f64]) -> Sums {
        let n = self.size();
        let mut sums = Sums::zero(n);
        let dimension = self.shared + 1;
        let mut buffer = [0.0; 1 + MOST + MOST * MOST];
        for line in lines {
            let theta = self.theta(line, x);
            self.family
                .write_derivatives(&theta, &line.terms, &mut buffer);
            sums.add(line, &buffer, dimension, self.own(line.stratum));
        }
        sums
    }
}

/// Value, slopes and the lower half of the bends.
struct Sums {
    value: f64,
    gradient: Vec<f64>,
    lower: Vec<f64>,
}

impl Sums {
    fn zero(n: usize) -> Self {
        Self {
            value: 0.0,
            gradient: vec![0.0; n],
            lower: vec![0.0; n * n],
        }
    }

    fn bend(&mut self, i: usize, j: usize, value: f64) {
        let n = self.gradient.len();
        let (row, column) = (i.max(j), i.min(j));
        if let Some(slot) = self.lower.get_mut(row * n + column) {
            *slot += value;
        }
    }

    fn slope(&mut self, i: usize, value: f64) {
        if let Some(slot) = self.gradient.get_mut(i) {
            *slot += value;
        }
    }

    /// Adds a line's derivatives in θ (value, slopes, bends row by row).
    fn add(&mut self, line: &Line, theta: &[f64], dimension: usize, own: usize) {
        let at = |i: usize| theta.get(i).copied().unwrap_or(0.0);
        let bend = |i: usize, j: usize| at(1 + dimension + i * dimension + j);
        self.value += at(0);
        for (n, (i, a)) in line.row.iter().enumerate() {
            self.slope(*i, a * at(1));
            for (j, b) in line.row.iter().take(n + 1) {
                self.bend(*i, *j, a * b * bend(0, 0));
            }
            for k in 1..dimension {
                self.bend(own + k - 1, *i, a * bend(0, k));
            }
        }
        for k in 1..dimension {
            self.slope(own + k - 1, at(1 + k));
            for l in 1..=k {
                self.bend(own + k - 1, own + l - 1, bend(k, l));
            }
        }
    }

    fn plus(mut self, other: Self) -> Self {
        self.value += other.value;
        for (a, b) in self.gradient.iter_mut().zip(other.gradient) {
            *a += b;
        }
        for (a, b) in self.lower.iter_mut().zip(other.lower) {
            *a += b;
        }
        self
    }

    fn finish(self) -> Derivatives {
        let n = self.gradient.len();
        let entry = |i: usize, j: usize| {
            let (row, column) = (i.max(j), i.min(j));
            self.lower.get(row * n + column).copied().unwrap_or(0.0)
        };
        let hessian = (0..n)
            .map(|i| (0..n).map(|j| entry(i, j)).collect())
            .collect();
        Derivatives {
            value: self.value,
            gradient: self.gradient,
            hessian,
        }
    }
}

impl LogLikelihood for Problem {
    fn value(&self, x: &[f64]) -> f64 {
        let line = |line: &Line| {
            self.family
                .log_likelihood(&self.theta(line, x), &line.terms)
        };
        fixed_order(&self.lines, 0.0, line) + self.penalty(x)
    }

    fn derivatives(&self, x: &[f64]) -> Derivatives {
        let task = self.lines.len().div_ceil(TASKS).max(FEWEST);
        let parts: Vec<Sums> = self
            .lines
            .par_chunks(task)
            .map(|lines| self.sum(lines, x))
            .collect();
        let zero = Sums::zero(self.size());
        let mut out = parts.into_iter().fold(zero, Sums::plus).finish();
        for penalty in &self.penalties {
            penalty.add(x, &mut out);
        }
        out
    }

    fn weight(&self) -> f64 {
        self.lines.iter().map(|l| l.terms.extent.total).sum()
    }
}
