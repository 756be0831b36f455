//! Replacements within a horizon, replacements of replacements included: sums of renewal counts.
//!
//! A seal aged a fails once by h with chance F_a(h) = 1 − S(a + h)/S(a), and k + 1 times with
//! ∫ F^{*k}(h − u) dF_a(u), F^{*k} the k-fold convolution of the life (Cox 1962, from memory). The
//! convolutions are done on a grid by the trapezoidal Stieltjes sum, whose error falls as the square
//! of the step for smooth lives; the power series is not used, it fails in double precision for
//! steep lives.

use crate::counts::Counts;
use crate::error::{Error, Result, not_negative, positive};
use crate::forecast::Running;
use crate::successes::{CUT, Effort, chance_of_failing, refined_normal, width};
use sealspan_life::life::Life;

/// Horizons beyond this many mean lives are refused: the long-run rate answers them.
const MOST_LIVES: f64 = 50.0;
/// A number of failures less likely than this is left out.
const LEAST: f64 = 1e-13;
/// Failures of one position within the horizon at most.
const MOST_FAILURES: usize = 2000;
/// Ages kept apart; more are gathered into this many steps of age.
const AGES: usize = 200;

/// The convolutions of a life up to a horizon.
struct Convolutions<'a> {
    life: &'a Life,
    horizon: f64,
    /// F^{*0} = 1, F, F^{*2}, ... on the grid.
    folds: Vec<Vec<f64>>,
}

impl<'a> Convolutions<'a> {
    fn new(life: &'a Life, horizon: f64, steps: usize) -> Self {
        let grid: Vec<f64> = (0..=steps)
            .map(|i| life.failed(horizon * i as f64 / steps as f64))
            .collect();
        let rises = rises(&grid);
        let mut folds = vec![vec![1.0; steps + 1]];
        let mut fold = grid;
        while fold.last().is_some_and(|p| *p > LEAST) && folds.len() < MOST_FAILURES {
            let next = (0..=steps).map(|i| stieltjes(&fold, &rises, i)).collect();
            folds.push(std::mem::replace(&mut fold, next));
        }
        Self {
            life,
            horizon,
            folds,
        }
    }

    /// Distribution of the failures of one position whose seal is now `age` old.
    fn position(&self, age: f64) -> Counts {
        let steps = self.folds.first().map_or(1, |f| f.len() - 1);
        let grid: Vec<f64> = (0..=steps)
            .map(|i| chance_of_failing(self.life, age, self.horizon * i as f64 / steps as f64))
            .collect();
        let rises = rises(&grid);
        let at_least: Vec<f64> = std::iter::once(1.0)
            .chain(self.folds.iter().map(|f| stieltjes(f, &rises, steps)))
            .chain([0.0])
            .collect();
        let pmf = at_least
            .windows(2)
            .map(|pair| match pair {
                [more, less] => (more - less).max(0.0),
                _ => 0.0,
            })
            .collect();
        Counts::new(0, pmf)
    }
}

fn rises(grid: &[f64]) -> Vec<f64> {
    grid.windows(2)
        .map(|pair| match pair {
            [a, b] => b - a,
            _ => 0.0,
        })
        .collect()
}

/// ∫ G(t_i − u) dF(u) from the values of G and the rises of F.
fn stieltjes(g: &[f64], rises: &[f64], i: usize) -> f64 {
    let Some(g) = g.get(..=i) else { return 0.0 };
    let later = g.iter().rev();
    let sooner = g.iter().rev().skip(1);
    let pairs = later.zip(sooner).zip(rises);
    pairs.map(|((a, b), rise)| 0.5 * (a + b) * rise).sum()
}

/// Distribution of all replacements on failure within `horizon` at positions whose seals have these
/// ages now, each replaced at once by a new one. `steps` grid steps; 400 is for answers, 100 for draws.
///
/// # Errors
/// When an age or the horizon is out of range, or the horizon is more than 50 mean lives.
///
/// ```
/// use sealspan_care::{forecast::Running, renewals::replacements, successes::Effort};
/// use sealspan_life::life::Life;
/// let life = Life::exponential(100.0).unwrap();
/// let counts = replacements(&life, &[Running { age: 5.0, count: 30 }], 50.0, 400, Effort::CAREFUL)?;
/// assert!((counts.mean() - 15.0).abs() < 1e-3);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn replacements(
    life: &Life,
    running: &[Running],
    horizon: f64,
    steps: usize,
    effort: Effort,
) -> Result<Counts> {
    positive("the horizon", horizon)?;
    for seal in running {
        not_negative("the age of a running seal", seal.age)?;
    }
    // The median stands in where the mean is not finite.
    let (mean, median) = (life.mean(), life.quantile(0.5));
    let usual = if mean.is_finite() { mean } else { median };
    if horizon > MOST_LIVES * usual {
        return Err(Error::input(
            "the horizon",
            horizon,
            "it is more than 50 mean lives; use the long-run demand of the fleet instead",
        ));
    }
    let convolutions = Convolutions::new(life, horizon, steps.max(2));
    let parts: Vec<(usize, Counts)> = gathered(running)
        .iter()
        .map(|seal| (seal.count, convolutions.position(seal.age)))
        .collect();
    Ok(sum(&parts, effort))
}

/// At most [`AGES`] ages: equal steps of age, each at its mean.
fn gathered(running: &[Running]) -> Vec<Running> {
    if running.len() <= AGES {
        return running.to_vec();
    }
    let oldest = running.iter().map(|r| r.age).fold(0.0, f64::max);
    let mut bins = vec![(0_usize, 0.0); AGES];
    for seal in running {
        let place = (seal.age / oldest * AGES as f64) as usize;
        if let Some((count, sum)) = bins.get_mut(place.min(AGES - 1)) {
            *count += seal.count;
            *sum += seal.count as f64 * seal.age;
        }
    }
    bins.into_iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, sum)| Running {
            count,
            age: sum / count as f64,
        })
        .collect()
}

fn sum(parts: &[(usize, Counts)], effort: Effort) -> Counts {
    let total = |f: &dyn Fn(&Counts) -> f64| -> f64 {
        parts.iter().map(|(n, part)| *n as f64 * f(part)).sum()
    };
    let variance = total(&Counts::variance);
    let most: usize = parts.iter().map(|(n, part)| n * part.last()).sum();
    let whole = width(most as f64, variance);
    let work: f64 = parts
        .iter()
        .map(|(n, part)| {
            let own = width((n * part.last()) as f64, *n as f64 * part.variance());
            own * (own + whole)
        })
        .sum();
    if work > effort.multiplications && variance >= effort.normal_from {
        return refined_normal(
            total(&Counts::mean),
            variance,
            total(&Counts::third_moment),
            most,
        );
    }
    parts.iter().fold(Counts::zero(), |sum, (n, part)| {
        sum.plus(&part.times(*n, CUT)).trimmed(CUT)
    })
}
