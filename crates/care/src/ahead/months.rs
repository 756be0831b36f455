//! The demand of a place period by period, with prediction intervals that hold the chance of the seals and the
//! error of the estimated life.

use super::Work;
use super::ending::Ending;
use super::fleet::{Cohort, Fleet};
pub use super::flow::Moments;
use super::flow::{Flow, Kernel, add};
use super::grid::{COARSE, FINE, KINDS, NEW, Qualities, check, left, windows};
use super::matched::matched;
use crate::counts::Counts;
use crate::error::{Result, share};
use rayon::prelude::*;
use serde::Serialize;

/// The question.
#[derive(Debug, Clone)]
pub struct Ahead<'a> {
    /// How seals end at the estimate.
    pub ending: &'a Ending,
    /// How they may end within what the estimate leaves open; empty when it is taken as known.
    pub draws: &'a [Ending],
    /// The fleet.
    pub fleet: &'a Fleet,
    /// Length of one period, units of the clock.
    pub period: f64,
    /// Number of periods.
    pub periods: usize,
    /// Two-sided level of the intervals.
    pub confidence: f64,
    /// Standard deviation of ln life between batches: seals of a batch are good or bad together. Needs draws.
    pub batch_spread: f64,
    /// Seed of the batches' qualities.
    pub seed: u64,
}

/// An expected number with its prediction interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Number {
    /// Expected at the estimate.
    pub expected: f64,
    /// Lower end.
    pub lower: usize,
    /// Upper end.
    pub upper: usize,
}

/// One period, or all together.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Month {
    /// Start, units of the clock from now.
    pub from: f64,
    /// End, in the unit of the clock.
    pub until: f64,
    /// Failures.
    pub unplanned: Number,
    /// Removals by plan.
    pub planned: Number,
    /// Both.
    pub all: Number,
    /// Seals for positions that join.
    pub joining: f64,
    /// Expected work on the seals in place; 0 where looks are not followed.
    #[serde(flatten)]
    pub work: Work,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Months {
    /// Period by period.
    pub months: Vec<Month>,
    /// All periods together.
    pub total: Month,
}

/// What a period comes to.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Spread {
    /// Failures, planned removals and both.
    pub counts: [Moments; 3],
    /// Expected work on the seals in place; none where looks are not followed.
    pub work: Work,
}

/// By period, then of all periods together.
pub type Spreads = Vec<Spread>;

/// What the estimate says, and what every draw says.
///
/// ```
/// use sealspan_care::ahead::{Work, ending::Ending, fleet::Fleet, months::{Ahead, Cases, Periods}};
/// use sealspan_care::forecast::Running;
/// use sealspan_life::life::Life;
/// // A hundred seals without memory, each replaced as it fails: a Poisson stream of 3 in each 30 days.
/// let ending = Ending::new(&Life::exponential(1000.0).unwrap(), None)?;
/// let fleet = Fleet::of(&[Running { age: 50.0, count: 100 }]);
/// let question = Ahead {
///     ending: &ending, draws: &[], fleet: &fleet, period: 30.0, periods: 2, confidence: 0.9,
///     batch_spread: 0.0, seed: 1,
/// };
/// let one = question.cases()?;
/// assert!((question.answer()?.months[0].unplanned.expected - 3.0).abs() < 0.01);
/// // Two such places together, where each position is looked at once a period.
/// let look = Work { openings: 1.0, looks: 1.0, turns: 0.0 };
/// let both = Cases::sum([&one, &one]).with_work(&look, 200.0);
/// let periods = Periods { length: 30.0, number: 2, confidence: 0.9 };
/// let months = periods.months(&both, |_, _| 0.0);
/// let first = months.months[0].unplanned;
/// assert!((first.expected - 6.0).abs() < 0.01 && (months.total.unplanned.expected - 12.0).abs() < 0.02);
/// // Poisson of mean 6: P(X ≤ 1) = 0.017, P(X ≤ 2) = 0.062; P(X ≤ 9) = 0.916, P(X ≤ 10) = 0.957.
/// assert_eq!((first.lower, first.upper), (2, 10));
/// assert_eq!(months.total.work.looks, 400.0);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Cases {
    /// At the estimate.
    pub best: Spreads,
    /// At each draw.
    pub drawn: Vec<Spreads>,
}

impl Cases {
    /// The sum over fleets, whose draws go together: draw i of every one. A fleet without draws leaves none.
    #[must_use]
    pub fn sum<'a>(fleets: impl IntoIterator<Item = &'a Self>) -> Self {
        let fleets: Vec<&Self> = fleets.into_iter().collect();
        let count = fleets.iter().map(|c| c.drawn.len()).min().unwrap_or(0);
        let drawn = |i: usize| added(fleets.iter().filter_map(|c| c.drawn.get(i)));
        Self {
            best: added(fleets.iter().map(|c| &c.best)),
            drawn: (0..count).map(drawn).collect(),
        }
    }
}

impl Cases {
    /// With the same work in every period: so much, `times` over; the whole gets as many times that as there are periods.
    #[must_use]
    pub fn with_work(mut self, work: &Work, times: f64) -> Self {
        for spreads in std::iter::once(&mut self.best).chain(&mut self.drawn) {
            let periods = spreads.len().saturating_sub(1);
            for (i, spread) in spreads.iter_mut().enumerate() {
                let whole = if i == periods { periods as f64 } else { 1.0 };
                spread.work = Work::default();
                spread.work.add(whole * times, work);
            }
        }
        self
    }
}

fn added<'a>(all: impl Iterator<Item = &'a Spreads>) -> Spreads {
    let mut out: Spreads = vec![];
    for spreads in all {
        out.resize(spreads.len().max(out.len()), Default::default());
        for (sum, more) in out.iter_mut().zip(spreads) {
            sum.work.add(1.0, &more.work);
            for (sum, more) in sum.counts.iter_mut().zip(&more.counts) {
                sum.mean += more.mean;
                sum.variance += more.variance;
            }
        }
    }
    out
}

/// The periods that numbers are given for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Periods {
    /// Length of one, units of the clock.
    pub length: f64,
    /// Number of them.
    pub number: usize,
    /// Two-sided level of the intervals.
    pub confidence: f64,
}

impl Periods {
    /// Every period of cases worked out, or summed over fleets asked alike; `joining` counts the positions that join
    /// between two times from now, units of the clock. Ends of intervals are quantiles of counts with the mean and
    /// variance of each draw, mixed evenly.
    #[must_use]
    pub fn months(&self, cases: &Cases, joining: impl Fn(f64, f64) -> f64) -> Months {
        let whole = self.number;
        let month = |i: usize| {
            let (from, until) = if i == whole { (0, whole) } else { (i, i + 1) };
            let (from, until) = (from as f64 * self.length, until as f64 * self.length);
            let Spread { counts: best, work } = cases.best.get(i).copied().unwrap_or_default();
            let counts = [0, 1, 2].map(|kind| averaged(cases, i, kind));
            let [unplanned, planned, all] = numbers(best.map(|m| m.mean), &counts, self.confidence);
            Month {
                from,
                until,
                unplanned,
                planned,
                all,
                joining: joining(from, until),
                work,
            }
        };
        Months {
            months: (0..whole).map(month).collect(),
            total: month(whole),
        }
    }
}

impl Ahead<'_> {
    /// Means and variances of every period, in seals, at the estimate and at each draw. [`Cases`] has an example.
    ///
    /// # Errors
    /// When a number is out of its range, there are some draws but fewer than 50, batches differ but there are no
    /// draws, or seals end faster than the steps.
    pub fn cases(&self) -> Result<Cases> {
        self.check()?;
        let limit = |ending: &Ending| ending.replace_at.unwrap_or(f64::INFINITY);
        let ages = |fine: usize, limit: f64| self.fleet.gathered(self.period / fine as f64, limit);
        let usual = limit(self.ending);
        // A great fleet is brought onto the grid once, not at every draw.
        let coarse = ages(COARSE, usual);
        let one = |(i, ending): (usize, &Ending)| {
            let own = limit(ending);
            if own == usual {
                self.moments(ending, COARSE, &coarse, Some(i as u64))
            } else {
                self.moments(ending, COARSE, &ages(COARSE, own), Some(i as u64))
            }
        };
        Ok(Cases {
            best: self.moments(self.ending, FINE, &ages(FINE, usual), None)?,
            drawn: self
                .draws
                .par_iter()
                .enumerate()
                .map(one)
                .collect::<Result<_>>()?,
        })
    }

    /// Expected numbers of seals and their prediction intervals, period by period. [`Cases`] has an example.
    ///
    /// # Errors
    /// As [`Ahead::cases`].
    pub fn answer(&self) -> Result<Months> {
        Ok(self.months(&self.cases()?))
    }

    /// Every period of cases worked out for this question.
    #[must_use]
    pub(crate) fn months(&self, cases: &Cases) -> Months {
        let periods = Periods {
            length: self.period,
            number: self.periods,
            confidence: self.confidence,
        };
        periods.months(cases, |from, until| self.fleet.joining(from, until))
    }

    fn check(&self) -> Result<()> {
        share("the confidence", self.confidence)?;
        self.fleet.check()?;
        let draws = self.draws.len();
        check(self.period, self.periods, draws, self.batch_spread)
    }

    /// Mean and variance of every period and of the whole, by kind. With a draw's number each batch gets its own
    /// quality, and so do the seals fitted from now on.
    fn moments(
        &self,
        ending: &Ending,
        fine: usize,
        batches: &[Vec<Cohort>],
        draw: Option<u64>,
    ) -> Result<Spreads> {
        let step = self.period / fine as f64;
        let cells = self.periods * fine;
        ending.fits(step)?;
        let windows = windows(self.periods, fine);
        let qualities = Qualities::new(self.batch_spread, self.seed, draw);
        let new = ending.stretched(qualities.of(NEW));
        let kernel = Kernel::new(&new, step, cells);
        let mut flows = KINDS.map(|kind| Flow::empty(&kernel, kind, &windows));
        for (at, batch) in batches.iter().enumerate() {
            let mine = ending.stretched(qualities.of(self.fleet.mark(at)));
            add(&mut flows, &mine, &kernel, batch, &windows);
        }
        let joining = self.fleet.joining.iter().map(|joining| Cohort {
            age: -joining.at,
            count: joining.positions,
        });
        add(
            &mut flows,
            &new,
            &kernel,
            &joining.collect::<Vec<_>>(),
            &windows,
        );
        let each = windows.iter().enumerate().map(|(i, window)| {
            let middle = 0.5 * step * (window.start + window.end) as f64;
            let kept = (1.0 - self.fleet.leaving).powf(middle);
            let counts = flows.each_ref();
            Spread {
                counts: counts.map(|flow| left(flow.moments(i, &windows), kept)),
                work: Work::default(),
            }
        });
        Ok(each.collect())
    }
}

/// The count of one kind in one period, averaged over the draws.
fn averaged(cases: &Cases, i: usize, kind: usize) -> Counts {
    let of = |m: &Spreads| {
        let m = m
            .get(i)
            .and_then(|k| k.counts.get(kind))
            .copied()
            .unwrap_or_default();
        matched(m.mean, m.variance)
    };
    let parts: Vec<Counts> = cases.drawn.iter().map(of).collect();
    Counts::mixture(&parts).unwrap_or_else(|| of(&cases.best))
}

/// Expected numbers with the prediction intervals of their counts.
fn numbers(expected: [f64; 3], counts: &[Counts; 3], confidence: f64) -> [Number; 3] {
    let side = 0.5 * (1.0 - confidence);
    let [a, b, c] = counts;
    let number = |expected: f64, counts: &Counts| Number {
        expected,
        lower: counts.quantile(side),
        upper: counts.quantile(1.0 - side),
    };
    let [x, y, z] = expected;
    [number(x, a), number(y, b), number(z, c)]
}
