//! The demand of a place period by period, with prediction intervals that hold the chance of the seals and the
//! error of the estimated life.

use super::ending::Ending;
use super::fleet::{Cohort, Fleet};
pub use super::flow::Moments;
use super::flow::{Flow, Kernel, Kind, add};
use super::matched::matched;
use crate::counts::Counts;
use crate::error::{Error, Result, positive, share};
use rayon::prelude::*;
use sealspan_numeric::random::Stream;
use serde::Serialize;
use std::ops::Range;

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
    /// End.
    pub until: f64,
    /// Failures.
    pub unplanned: Number,
    /// Removals by plan.
    pub planned: Number,
    /// Both.
    pub all: Number,
    /// Seals for positions that join.
    pub joining: f64,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Months {
    /// Period by period.
    pub months: Vec<Month>,
    /// All periods together.
    pub total: Month,
    /// Probabilities of failures, planned removals and both, averaged over the draws: by period, then of all
    /// periods together.
    #[serde(skip)]
    pub counts: Vec<[Counts; 3]>,
}

/// Means and variances of failures, planned removals and both: by period, then of all periods together.
pub type Spreads = Vec<[Moments; 3]>;

/// What the estimate says, and what every draw says.
#[derive(Debug, Clone, PartialEq)]
pub struct Cases {
    /// At the estimate.
    pub best: Spreads,
    /// At each draw.
    pub drawn: Vec<Spreads>,
}

/// Steps of a period, for the answer and for a draw.
const FINE: usize = 8;
const COARSE: usize = 4;
const MOST_PERIODS: usize = 240;
const FEWEST_DRAWS: usize = 50;

const KINDS: [Kind; 3] = [Kind::Unplanned, Kind::Planned, Kind::All];

impl Ahead<'_> {
    /// Means and variances of every period, at the estimate and at each draw.
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

    /// Works out every period.
    ///
    /// # Errors
    /// As [`Ahead::cases`].
    pub fn answer(&self) -> Result<Months> {
        let cases = self.cases()?;
        let counts: Vec<[Counts; 3]> = (0..=self.periods)
            .map(|i| [0, 1, 2].map(|kind| averaged(&cases, i, kind)))
            .collect();
        let whole = self.periods;
        let month = |i: usize| {
            let (from, until) = if i == whole { (0, whole) } else { (i, i + 1) };
            let (from, until) = (from as f64 * self.period, until as f64 * self.period);
            let expected = cases
                .best
                .get(i)
                .copied()
                .unwrap_or_default()
                .map(|m| m.mean);
            let none = [Counts::zero(), Counts::zero(), Counts::zero()];
            let counts = counts.get(i).unwrap_or(&none);
            let [unplanned, planned, all] = numbers(expected, counts, self.confidence);
            Month {
                from,
                until,
                unplanned,
                planned,
                all,
                joining: self.joining(from, until),
            }
        };
        Ok(Months {
            months: (0..whole).map(month).collect(),
            total: month(whole),
            counts,
        })
    }

    fn check(&self) -> Result<()> {
        positive("the length of a period", self.period)?;
        share("the confidence", self.confidence)?;
        self.fleet.check()?;
        if self.periods == 0 || self.periods > MOST_PERIODS {
            return Err(Error::input(
                "the number of periods",
                self.periods,
                "give 1 to 240",
            ));
        }
        if (1..FEWEST_DRAWS).contains(&self.draws.len()) {
            return Err(Error::input(
                "the number of draws of the life",
                self.draws.len(),
                "give at least 50, or none for an interval as if the life were known",
            ));
        }
        crate::error::not_negative("the spread between batches", self.batch_spread)?;
        if self.batch_spread > 0.0 && self.draws.is_empty() {
            return Err(Error::no_answer(
                "A spread between batches needs draws of the life: give at least 50.",
            ));
        }
        Ok(())
    }

    fn joining(&self, from: f64, until: f64) -> f64 {
        let inside = self
            .fleet
            .joining
            .iter()
            .filter(|j| from <= j.at && j.at < until);
        inside.map(|j| j.positions).sum()
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
        let mut windows: Vec<Range<usize>> = (0..self.periods)
            .map(|i| i * fine..(i + 1) * fine)
            .collect();
        windows.push(0..cells);
        let mut stream = draw.map(|i| Stream::new(self.seed, i));
        let mut quality = || match stream.as_mut().filter(|_| self.batch_spread > 0.0) {
            Some(stream) => (self.batch_spread * stream.normal()).exp(),
            None => 1.0,
        };
        let kernel = Kernel::new(&ending.stretched(quality()), step, cells);
        let mut flows = KINDS.map(|kind| Flow::empty(&kernel, kind, &windows));
        for batch in batches {
            let mine = ending.stretched(quality());
            add(&mut flows, &mine, &kernel, batch, &windows);
        }
        for joining in &self.fleet.joining {
            let at = (joining.at / step) as usize;
            flows
                .iter_mut()
                .for_each(|flow| flow.add_new(at, joining.positions, &windows));
        }
        let moments = |i: usize| {
            let middle = windows
                .get(i)
                .map_or(0.0, |w| 0.5 * step * (w.start + w.end) as f64);
            flows
                .each_ref()
                .map(|flow| self.left(flow.moments(i, &windows), middle))
        };
        Ok((0..windows.len()).map(moments).collect())
    }

    /// What is left of a window's endings when positions leave at random: by the middle of the window.
    fn left(&self, m: Moments, at: f64) -> Moments {
        let kept = (1.0 - self.fleet.leaving).powf(at);
        Moments {
            mean: m.mean * kept,
            variance: m.variance * kept * kept + m.mean * kept * (1.0 - kept),
        }
    }
}

/// The count of one kind in one period, averaged over the draws.
fn averaged(cases: &Cases, i: usize, kind: usize) -> Counts {
    let of = |m: &Spreads| {
        let m = m
            .get(i)
            .and_then(|k| k.get(kind))
            .copied()
            .unwrap_or_default();
        matched(m.mean, m.variance)
    };
    let parts: Vec<Counts> = cases.drawn.iter().map(of).collect();
    Counts::mixture(&parts).unwrap_or_else(|| of(&cases.best))
}

/// Expected numbers with the prediction intervals of their counts.
#[must_use]
pub fn numbers(expected: [f64; 3], counts: &[Counts; 3], confidence: f64) -> [Number; 3] {
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
