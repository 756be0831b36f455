//! How a seal's time ends: by failure, by another removal, or at a replacement age.

use crate::error::{Error, Result, positive};
use sealspan_life::life::Life;

/// A failure unannounced, or a removal that could be ordered ahead.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Share {
    /// Failures.
    pub unplanned: f64,
    /// Removals by plan or for another reason.
    pub planned: f64,
}

impl Share {
    pub(super) fn all(self) -> f64 {
        self.unplanned + self.planned
    }
}

/// The ways a seal's time ends, independent of each other.
#[derive(Debug, Clone)]
pub struct Ending {
    /// Life to failure.
    pub failure: Life,
    /// Times to removals for other reasons, as practice goes on.
    pub others: Vec<Life>,
    /// Age of planned replacement.
    pub replace_at: Option<f64>,
    /// Factor on the life to failure: above 1 lives longer. A batch's own quality.
    pub stretch: f64,
}

impl Ending {
    /// Failure alone, replaced at an age if there is one.
    ///
    /// # Errors
    /// When the age is not above zero.
    pub fn new(failure: &Life, replace_at: Option<f64>) -> Result<Self> {
        if let Some(age) = replace_at {
            positive("the replacement age", age)?;
        }
        Ok(Self {
            failure: failure.clone(),
            others: vec![],
            replace_at,
            stretch: 1.0,
        })
    }

    /// The same with lives `factor` times as long.
    #[must_use]
    pub fn stretched(&self, factor: f64) -> Self {
        Self {
            stretch: self.stretch * factor,
            ..self.clone()
        }
    }

    fn fails_after(&self, age: f64) -> f64 {
        self.failure.survival(age / self.stretch)
    }

    fn stays(&self, age: f64) -> f64 {
        self.others
            .iter()
            .map(|other| other.survival(age))
            .product()
    }

    /// Shares of new seals that end between the ages of neighbouring `edges`, by kind; the shares of each pair of
    /// ages add up to the fall of the share still in place.
    pub(super) fn shares(&self, edges: &[f64]) -> Vec<Share> {
        let limit = self.replace_at.unwrap_or(f64::INFINITY);
        edges
            .windows(2)
            .map(|pair| match pair {
                [from, to] => self.between(*from, *to, limit),
                _ => Share::default(),
            })
            .collect()
    }

    fn between(&self, from: f64, to: f64, limit: f64) -> Share {
        if from >= limit {
            return Share::default();
        }
        let end = to.min(limit);
        let (s0, s1) = (self.fails_after(from), self.fails_after(end));
        let (g0, g1) = (self.stays(from), self.stays(end));
        let mut share = Share {
            unplanned: (s0 - s1) * 0.5 * (g0 + g1),
            planned: (g0 - g1) * 0.5 * (s0 + s1),
        };
        if to >= limit {
            share.planned += s1 * g1;
        }
        share
    }

    /// Share still in place at `age`.
    pub(super) fn in_place(&self, age: f64) -> f64 {
        match self.replace_at {
            Some(limit) if age >= limit => 0.0,
            _ => self.fails_after(age) * self.stays(age),
        }
    }

    /// First endings of a seal now `age` old in `cells` steps from now. One that is past its replacement age, or
    /// older than any seal gets, is replaced by plan in the first step.
    pub(super) fn first(&self, age: f64, step: f64, cells: usize) -> Vec<Share> {
        let here = self.in_place(age);
        if here <= 0.0 {
            let mut out = vec![Share::default(); cells];
            if let Some(now) = out.first_mut() {
                now.planned = 1.0;
            }
            return out;
        }
        let edges: Vec<f64> = (0..=cells).map(|i| age + step * i as f64).collect();
        let mut out = self.shares(&edges);
        for share in &mut out {
            share.unplanned /= here;
            share.planned /= here;
        }
        out
    }

    /// Money per unit of the clock when seals are replaced at `age` (`None`: only when they fail or are taken off
    /// for another reason), by renewal reward on a fine grid.
    fn cost_rate(&self, grid: &[f64], age: Option<f64>, failed: f64, planned: f64) -> f64 {
        let ending = Self {
            replace_at: age,
            ..self.clone()
        };
        let shares = ending.shares(grid);
        let money: f64 = shares
            .iter()
            .map(|s| failed * s.unplanned + planned * s.planned)
            .sum();
        let time: f64 = grid
            .windows(2)
            .map(|pair| match pair {
                [a, b] => {
                    let end = b.min(age.unwrap_or(f64::INFINITY)).max(*a);
                    0.5 * (end - a) * (self.in_place(*a) + self.in_place(end))
                }
                _ => 0.0,
            })
            .sum();
        money / time
    }

    /// The age of planned replacement with the least cost among multiples of `step`, other removals going on as they
    /// are; `None` when replacing at an age saves less than a thousandth.
    #[must_use]
    pub fn best_age(&self, step: f64, failed: f64, planned: f64) -> Option<f64> {
        let open = Self {
            replace_at: None,
            ..self.clone()
        };
        let oldest = self.stretch * self.failure.quantile(0.9999);
        let cells = ((oldest / step).ceil() as usize).clamp(2, 2000);
        let grid: Vec<f64> = (0..=cells).map(|i| step * i as f64).collect();
        let never = open.cost_rate(&grid, None, failed, planned);
        let ages = grid
            .iter()
            .skip(1)
            .map(|age| (*age, open.cost_rate(&grid, Some(*age), failed, planned)));
        let best = ages.fold((0.0, f64::INFINITY), |a, b| if b.1 < a.1 { b } else { a });
        (best.1 < never * 0.999).then_some(best.0)
    }

    /// Refuses a step so coarse, or a life so short, that most seals end within one step.
    pub(super) fn fits(&self, step: f64) -> Result<()> {
        if self.in_place(0.5 * step) < 0.5 {
            return Err(Error::no_answer(
                "Most seals end within one step of the forecast: ask for shorter periods.",
            ));
        }
        Ok(())
    }
}
