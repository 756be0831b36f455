//! The partial likelihood and its derivatives: one sweep over the risk sets, oldest first, adding each
//! life as the age falls to its exit and taking it off at its entry. O(n p²) once sorted.

use super::data::{Line, Prepared, Stratum};
use nalgebra::{DMatrix, DVector, DVectorView};

/// How failures at one age are ordered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Ties {
    /// Those that failed leave the risk set one by one, each by its average share (Efron 1977).
    #[default]
    Efron,
    /// All stay in the risk set until the last has failed (Breslow 1974).
    Breslow,
}

/// Sums of w, w x and w x xᵀ, with w = count × e^{x·β}; of the matrix only the lower half.
pub(super) struct Sums {
    pub s0: f64,
    pub s1: DVector<f64>,
    pub s2: DMatrix<f64>,
}

impl Sums {
    fn new(p: usize) -> Self {
        Self {
            s0: 0.0,
            s1: DVector::zeros(p),
            s2: DMatrix::zeros(p, p),
        }
    }

    fn clear(&mut self) {
        self.s0 = 0.0;
        self.s1.fill(0.0);
        self.s2.fill(0.0);
    }

    fn add(&mut self, w: f64, row: &[f64], second: bool) {
        let x = DVectorView::from_slice(row, row.len());
        self.s0 += w;
        self.s1.axpy(w, &x, 1.0);
        if second {
            self.s2.syger(w, &x, &x, 1.0);
        }
    }
}

/// One age at which something failed.
pub(super) struct RiskSet<'a> {
    pub stratum: usize,
    pub age: f64,
    /// How many failed.
    pub failed: f64,
    /// Sums over all at risk, and over those that failed.
    pub all: &'a Sums,
    pub dying: &'a Sums,
    /// Σ count × x and Σ count × x·β of those that failed.
    pub x: &'a DVector<f64>,
    pub eta: f64,
}

/// Sums over the order of the failures at one age, with s_k = s0 − f_k d0 and f_k = k/d (Efron) or 0
/// (Breslow): what turns the sums of a risk set into likelihood, slope and information.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Order {
    pub ln: f64,
    pub a0: f64,
    pub a1: f64,
    pub b0: f64,
    pub b1: f64,
    pub b2: f64,
}

impl Order {
    pub fn of(set: &RiskSet<'_>, ties: Ties) -> Self {
        Self::at(set.all.s0, set.dying.s0, set.failed, ties)
    }

    /// From the weights of all at risk and of those that failed, `d` of them.
    pub fn at(s: f64, dying: f64, d: f64, ties: Ties) -> Self {
        if ties == Ties::Breslow {
            return Self {
                ln: d * s.ln(),
                a0: d / s,
                b0: d / (s * s),
                ..Self::default()
            };
        }
        let mut out = Self::default();
        let mut k = 0.0;
        while k < d {
            let f = k / d;
            let left = s - f * dying;
            let inverse = 1.0 / left;
            out.ln += left.ln();
            out.a0 += inverse;
            out.a1 += f * inverse;
            out.b0 += inverse * inverse;
            out.b1 += f * inverse * inverse;
            out.b2 += f * f * inverse * inverse;
            k += 1.0;
        }
        out
    }

    /// Σ_k of the mean of x in the risk set.
    pub fn means(&self, set: &RiskSet<'_>) -> DVector<f64> {
        &set.all.s1 * self.a0 - &set.dying.s1 * self.a1
    }

    /// Σ_k of the variance of x in the risk set, both halves.
    pub fn variance(&self, set: &RiskSet<'_>) -> DMatrix<f64> {
        let (s, d) = (&set.all.s1, &set.dying.s1);
        let mut v = &set.all.s2 * self.a0 - &set.dying.s2 * self.a1;
        v.syger(-self.b0, s, s, 1.0);
        v.syger(-self.b2, d, d, 1.0);
        // b1 (s dᵀ + d sᵀ), of which the lower half is kept.
        v.ger(self.b1, s, d, 1.0);
        v.ger(self.b1, d, s, 1.0);
        v.fill_upper_triangle_with_lower_triangle();
        v
    }
}

/// Log partial likelihood with slope and observed information, in standardised columns.
#[derive(Debug, Clone)]
pub(super) struct Derivatives {
    pub value: f64,
    pub slope: DVector<f64>,
    pub information: DMatrix<f64>,
}

/// Weights of the lives of a stratum, and their x·β.
pub(super) fn weigh(
    data: &Prepared,
    stratum: &Stratum,
    beta: &DVector<f64>,
    shift: f64,
) -> (Vec<f64>, Vec<f64>) {
    let eta = |line: &Line| -> f64 {
        let linear: f64 = data
            .row(line)
            .iter()
            .zip(beta.iter())
            .map(|(x, b)| x * b)
            .sum();
        linear - shift
    };
    let etas: Vec<f64> = stratum.lines.iter().map(eta).collect();
    let weights = stratum
        .lines
        .iter()
        .zip(&etas)
        .map(|(l, e)| l.count * e.exp());
    (weights.collect(), etas)
}

/// The largest x·β; taken off before exponentials, it cancels in every ratio.
pub(super) fn largest(data: &Prepared, beta: &DVector<f64>) -> f64 {
    let p = data.columns().max(1);
    let linear = |row: &[f64]| row.iter().zip(beta.iter()).map(|(x, b)| x * b).sum::<f64>();
    let most = data
        .design
        .chunks(p)
        .map(linear)
        .fold(f64::NEG_INFINITY, f64::max);
    if most.is_finite() { most } else { 0.0 }
}

/// Visits every age with failures, oldest first within each stratum.
pub(super) fn sweep(
    data: &Prepared,
    beta: &DVector<f64>,
    second: bool,
    mut visit: impl FnMut(&RiskSet<'_>),
) {
    let p = data.columns();
    let shift = largest(data, beta);
    let (mut all, mut dying) = (Sums::new(p), Sums::new(p));
    let mut x = DVector::zeros(p);
    for (number, stratum) in data.strata.iter().enumerate() {
        let (weights, etas) = weigh(data, stratum, beta, shift);
        all.clear();
        let mut at_risk = 0.0;
        let mut leaving = stratum.entries.iter().peekable();
        let mut arriving = stratum
            .lines
            .iter()
            .zip(weights.iter().zip(&etas))
            .peekable();
        while let Some(&(&Line { exit: age, .. }, _)) = arriving.peek() {
            dying.clear();
            x.fill(0.0);
            let (mut failed, mut eta) = (0.0, 0.0);
            while let Some((line, (w, e))) = arriving.next_if(|(l, _)| l.exit == age) {
                let row = data.row(line);
                all.add(*w, row, second);
                at_risk += line.count;
                if line.failed {
                    dying.add(*w, row, second);
                    failed += line.count;
                    eta += line.count * e;
                    x.axpy(line.count, &DVectorView::from_slice(row, row.len()), 1.0);
                }
            }
            let not_yet = |i: &&usize| stratum.lines.get(**i).is_some_and(|l| l.entry >= age);
            while let Some(i) = leaving.next_if(not_yet) {
                if let (Some(line), Some(w)) = (stratum.lines.get(*i), weights.get(*i)) {
                    all.add(-w, data.row(line), second);
                    at_risk -= line.count;
                }
            }
            if at_risk <= 0.0 {
                all.clear();
            }
            if failed > 0.0 {
                visit(&RiskSet {
                    stratum: number,
                    age,
                    failed,
                    all: &all,
                    dying: &dying,
                    x: &x,
                    eta,
                });
            }
        }
    }
}

/// Value, slope and information at `beta`.
pub(super) fn derivatives(data: &Prepared, ties: Ties, beta: &DVector<f64>) -> Derivatives {
    let p = data.columns();
    let mut out = Derivatives {
        value: 0.0,
        slope: DVector::zeros(p),
        information: DMatrix::zeros(p, p),
    };
    sweep(data, beta, true, |set| {
        let order = Order::of(set, ties);
        out.value += set.eta - order.ln;
        out.slope += set.x - order.means(set);
        out.information += order.variance(set);
    });
    out
}

/// Log partial likelihood alone.
pub(super) fn value(data: &Prepared, ties: Ties, beta: &DVector<f64>) -> f64 {
    let mut out = 0.0;
    sweep(data, beta, false, |set| {
        out += set.eta - Order::of(set, ties).ln;
    });
    out
}
