//! Renewals on a grid of steps: expected endings by kind and their variance in a window of steps.
//!
//! Endings are held at the middle of their step; the lag from one ending to the next falls into k steps when it
//! lies between (k − ½) and (k + ½) steps, so the error of the counts falls as the square of the step.

use super::ending::{Ending, Share};
use super::fleet::Cohort;
use std::ops::Range;

/// Which endings are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Unplanned,
    Planned,
    All,
}

impl Kind {
    fn of(self, share: Share) -> f64 {
        match self {
            Self::Unplanned => share.unplanned,
            Self::Planned => share.planned,
            Self::All => share.all(),
        }
    }
}

/// Endings that follow a fitting, by lag.
#[derive(Debug, Clone)]
pub struct Kernel {
    cells: usize,
    step: f64,
    /// Expected endings of each kind k steps after a fitting, replacements of replacements included.
    after: Vec<Share>,
    /// All of them.
    pub all: Vec<f64>,
}

impl Kernel {
    /// New seals end so.
    pub fn new(ending: &Ending, step: f64, cells: usize) -> Self {
        let mut edges = vec![0.0];
        edges.extend((0..=cells).map(|k| step * (k as f64 + 0.5)));
        Self::of(&ending.shares(&edges), step, cells)
    }

    /// From the shares of new seals that end in their first half step and in every step after it.
    pub fn of(own: &[Share], step: f64, cells: usize) -> Self {
        let at_once = own.first().copied().unwrap_or_default();
        let again = 1.0 / (1.0 - at_once.all().min(0.9));
        // All endings by lag first, then by kind.
        let mut all: Vec<f64> = Vec::with_capacity(cells);
        for (k, first) in own.iter().enumerate().take(cells) {
            let later: f64 = own
                .iter()
                .skip(1)
                .zip(all.iter().rev())
                .map(|(q, m)| q.all() * m)
                .sum();
            debug_assert_eq!(k, all.len());
            all.push((first.all() + later) * again);
        }
        let after = (0..cells)
            .map(|k| {
                let follow = |f: &dyn Fn(Share) -> f64| -> f64 {
                    let first = own.get(k).copied().map_or(0.0, f);
                    let pairs = all.iter().take(k + 1).zip(own.iter().take(k + 1).rev());
                    first + pairs.map(|(m, q)| m * f(*q)).sum::<f64>()
                };
                Share {
                    unplanned: follow(&|s| s.unplanned),
                    planned: follow(&|s| s.planned),
                }
            })
            .collect();
        Self {
            cells,
            step,
            after,
            all,
        }
    }

    /// Endings of one kind by step, replacements of replacements included, from the first endings.
    fn follow(&self, first: &[Share], first_all: &[f64], kind: Kind) -> Vec<f64> {
        let after: Vec<f64> = self.after.iter().map(|s| kind.of(*s)).collect();
        let mut out: Vec<f64> = first.iter().map(|s| kind.of(*s)).collect();
        for (s, begun) in first_all.iter().enumerate() {
            if *begun > 0.0 {
                for (slot, m) in out.iter_mut().skip(s).zip(&after) {
                    *slot += begun * m;
                }
            }
        }
        out
    }
}

/// Sums over seals: expected endings by step, and over windows the sum of squares of each seal's own mean.
#[derive(Debug, Clone)]
pub struct Flow {
    expected: Vec<f64>,
    squares: Vec<f64>,
    after: Vec<f64>,
}

/// Flows of failures, planned removals and both.
pub type Flows = [Flow; 3];

/// Adds seals running at these ages, or to be fitted later (an age below 0), to the flows of failures, planned removals and both.
pub fn add(
    flows: &mut Flows,
    ending: &Ending,
    kernel: &Kernel,
    cohorts: &[Cohort],
    windows: &[Range<usize>],
) {
    for cohort in cohorts {
        let first = ending.first(cohort.age, kernel.step, kernel.cells);
        add_first(flows, kernel, &first, cohort.count, windows);
    }
}

/// Adds `count` seals whose own endings are these, step by step.
pub fn add_first(
    flows: &mut Flows,
    kernel: &Kernel,
    first: &[Share],
    count: f64,
    windows: &[Range<usize>],
) {
    let [unplanned, planned, all] = flows;
    let first_all: Vec<f64> = first.iter().map(|s| s.all()).collect();
    let failing = kernel.follow(first, &first_all, Kind::Unplanned);
    let changed = kernel.follow(first, &first_all, Kind::Planned);
    let both: Vec<f64> = failing.iter().zip(&changed).map(|(a, b)| a + b).collect();
    unplanned.take(&failing, count, windows);
    planned.take(&changed, count, windows);
    all.take(&both, count, windows);
}

/// Mean and variance of the endings in a window.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Moments {
    /// Expected number.
    pub mean: f64,
    /// Variance.
    pub variance: f64,
}

impl Flow {
    /// Nothing yet; `windows` are the ranges of steps that variances are asked for.
    pub fn empty(kernel: &Kernel, kind: Kind, windows: &[Range<usize>]) -> Self {
        Self {
            expected: vec![0.0; kernel.cells],
            squares: vec![0.0; windows.len()],
            after: kernel.after.iter().map(|s| kind.of(*s)).collect(),
        }
    }

    fn take(&mut self, each: &[f64], count: f64, windows: &[Range<usize>]) {
        for (sum, x) in self.expected.iter_mut().zip(each) {
            *sum += count * x;
        }
        for (square, window) in self.squares.iter_mut().zip(windows) {
            let own: f64 = each.get(window.clone()).unwrap_or_default().iter().sum();
            *square += count * own * own;
        }
    }

    /// Mean and variance in window number `i`: E[N(N − 1)] of one seal is twice the sum, over pairs of steps, of an
    /// ending at the first times those that follow it by the second.
    pub fn moments(&self, i: usize, windows: &[Range<usize>]) -> Moments {
        let Some(window) = windows.get(i) else {
            return Moments::default();
        };
        let here = self.expected.get(window.clone()).unwrap_or_default();
        let mean: f64 = here.iter().sum();
        let mut pairs = 0.0;
        let mut reach: Vec<f64> = Vec::with_capacity(here.len());
        let mut sum = 0.0;
        for m in self.after.iter().take(here.len()) {
            // The first of them are those within half a step: on average as many as follow within the ending's own step.
            sum += m;
            reach.push(sum);
        }
        for (x, later) in here.iter().zip(reach.iter().rev()) {
            pairs += x * later;
        }
        let squares = self.squares.get(i).copied().unwrap_or(0.0);
        Moments {
            mean,
            variance: (mean + 2.0 * pairs - squares).max(0.0),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sealspan_life::life::Life;

    fn variance_over_mean(life: &Life, age: f64, step: f64, window: Range<usize>) -> f64 {
        let ending = Ending::new(life, None).unwrap();
        let windows = [window];
        let kernel = Kernel::new(&ending, step, 64);
        let empty = || Flow::empty(&kernel, Kind::All, &windows);
        let mut flows = [Kind::Unplanned, Kind::Planned, Kind::All].map(|_| empty());
        let cohort = Cohort { age, count: 5.0 };
        add(&mut flows, &ending, &kernel, &[cohort], &windows);
        let [failed, _, all] = flows.map(|flow| flow.moments(0, &windows));
        assert!((failed.variance - all.variance).abs() < 1e-12);
        all.variance / all.mean
    }

    /// Lives without memory end as a Poisson stream, of any window; the grid is off by the square of its step.
    #[test]
    fn lives_without_memory_have_a_variance_equal_to_the_mean() {
        let life = Life::exponential(100.0).unwrap();
        for step in [10.0_f64, 5.0, 2.5] {
            let most = (step / 100.0).powi(2);
            for window in [0..1, 3..11, 0..64] {
                let off = variance_over_mean(&life, 40.0, step, window.clone()) - 1.0;
                assert!(off.abs() < 0.5 * most, "{step} {window:?}: {off}");
            }
        }
    }

    /// Half of the lives end early: in windows of eight steps endings come in clusters, whose variance a grid eight times
    /// as fine gives to a fiftieth.
    #[test]
    fn a_coarse_grid_counts_early_failures_as_a_fine_one_does() {
        let life = Life::weibull(0.6, 100.0).unwrap();
        let coarse = variance_over_mean(&life, 50.0, 8.0, 2..4);
        let fine = variance_over_mean(&life, 50.0, 1.0, 16..32);
        assert!(
            fine > 1.3 && (coarse / fine - 1.0).abs() < 0.02,
            "{coarse} {fine}"
        );
    }
}
