//! A fleet as it stands and as it will change.

use crate::error::{Error, Result, not_negative, positive, share};
use crate::forecast::Running;

/// Seals of one age; counts need not be whole once ages are gathered on a grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cohort {
    /// Age, units of the clock.
    pub age: f64,
    /// Seals.
    pub count: f64,
}

/// Positions that join the fleet, each with a new seal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Joining {
    /// Time from now, units of the clock.
    pub at: f64,
    /// Positions.
    pub positions: f64,
}

/// Seals running at one place, and how the place changes.
///
/// ```
/// use sealspan_care::{ahead::fleet::{Fleet, Joining}, forecast::Running};
/// let mut fleet = Fleet::of(&[Running { age: 100.0, count: 30 }, Running { age: 0.0, count: 12 }]);
/// fleet.joining.push(Joining { at: 45.0, positions: 8.0 });
/// assert_eq!(fleet.running(), 42.0);
/// assert_eq!((fleet.joining(30.0, 60.0), fleet.joining(60.0, 90.0)), (8.0, 0.0));
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fleet {
    /// Seals running now, batch by batch; seals of one batch share its quality.
    pub batches: Vec<Vec<Cohort>>,
    /// A mark for each batch, the same wherever its seals run; 0 stands for those fitted from now on. Where there is none
    /// its place in the list tells a batch.
    pub marks: Vec<u64>,
    /// Positions that join.
    pub joining: Vec<Joining>,
    /// Share of the positions that leave per unit of the clock, steadily.
    pub leaving: f64,
}

impl Fleet {
    /// A fleet without changes, of one batch.
    #[must_use]
    pub fn of(running: &[Running]) -> Self {
        let cohorts = running.iter().map(|r| Cohort {
            age: r.age,
            count: r.count as f64,
        });
        Self {
            batches: vec![cohorts.collect()],
            ..Self::default()
        }
    }

    /// Mark of the batch at a place in the list.
    pub(super) fn mark(&self, at: usize) -> u64 {
        self.marks.get(at).copied().unwrap_or(at as u64 + 1)
    }

    /// Seals running now.
    #[must_use]
    pub fn running(&self) -> f64 {
        self.batches.iter().flatten().map(|c| c.count).sum()
    }

    /// Positions that join between two times from now, units of the clock: from the first on, before the second.
    #[must_use]
    pub fn joining(&self, from: f64, until: f64) -> f64 {
        let inside = self.joining.iter().filter(|j| from <= j.at && j.at < until);
        inside.map(|j| j.positions).sum()
    }

    pub(super) fn check(&self) -> Result<()> {
        for cohort in self.batches.iter().flatten() {
            not_negative("the age of a running seal", cohort.age)?;
            not_negative("the number of seals of an age", cohort.count)?;
        }
        for joining in &self.joining {
            not_negative("the time at which positions join", joining.at)?;
            positive("the positions that join", joining.positions)?;
        }
        if self.leaving != 0.0 {
            share(
                "the share of positions that leave per unit of the clock",
                self.leaving,
            )?;
        }
        if self.running() + self.joining.iter().map(|j| j.positions).sum::<f64>() <= 0.0 {
            return Err(Error::no_answer(
                "Nothing to forecast: no seal is running and none will be.",
            ));
        }
        Ok(())
    }

    /// The same with ages on a grid of `step`: each seal is shared between its two neighbours so that the mean age
    /// stays. A million seals become as many cohorts as there are steps of age. Seals past `limit`, the replacement
    /// age, are all alike and stay together; those in the step before it are held at their mean age.
    pub(super) fn gathered(&self, step: f64, limit: f64) -> Vec<Vec<Cohort>> {
        self.batches
            .iter()
            .map(|batch| gathered(batch, step, limit))
            .collect()
    }
}

/// Cohorts that are kept as they are: on a grid, a planned change near the end of a period is shared between two.
const KEPT: usize = 400;
/// Most grid points of age.
const MOST: usize = 3000;

fn gathered(batch: &[Cohort], step: f64, limit: f64) -> Vec<Cohort> {
    if batch.len() <= KEPT {
        return batch.to_vec();
    }
    let oldest = batch.iter().map(|c| c.age).fold(0.0, f64::max);
    let step = step.max(oldest / MOST as f64);
    let mut counts = vec![0.0; (oldest / step) as usize + 2];
    let (mut due, mut past) = (Mean::default(), Mean::default());
    for cohort in batch {
        let place = cohort.age / step;
        let low = place as usize;
        if cohort.age >= limit {
            past.add(cohort);
            continue;
        }
        if (low + 1) as f64 * step >= limit {
            due.add(cohort);
            continue;
        }
        let above = place - low as f64;
        for (at, part) in [(low, 1.0 - above), (low + 1, above)] {
            if let Some(count) = counts.get_mut(at) {
                *count += cohort.count * part;
            }
        }
    }
    let on_grid = counts.into_iter().enumerate().map(|(i, count)| Cohort {
        age: i as f64 * step,
        count,
    });
    on_grid
        .chain([due.cohort(), past.cohort()])
        .filter(|c| c.count > 0.0)
        .collect()
}

/// Seals brought together at their mean age.
#[derive(Default)]
struct Mean {
    count: f64,
    ages: f64,
}

impl Mean {
    fn add(&mut self, cohort: &Cohort) {
        self.count += cohort.count;
        self.ages += cohort.count * cohort.age;
    }

    fn cohort(&self) -> Cohort {
        let age = if self.count > 0.0 {
            self.ages / self.count
        } else {
            0.0
        };
        Cohort {
            age,
            count: self.count,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seals of five hundred ages: none is lost, and the sum of their ages stays, of those on the grid, due and past.
    #[test]
    fn gathering_keeps_seals_and_their_ages() {
        let batch: Vec<Cohort> = (0..500)
            .map(|i| Cohort {
                age: f64::from(i) + 0.3,
                count: f64::from(1 + i % 4),
            })
            .collect();
        let (step, limit) = (7.0, 300.0);
        let got = gathered(&batch, step, limit);
        assert!(got.len() < 50, "{}", got.len());
        let of = |cohorts: &[Cohort], from: f64| {
            let those = cohorts.iter().filter(|c| c.age >= from);
            those.fold((0.0, 0.0), |sum, c| {
                (sum.0 + c.count, sum.1 + c.count * c.age)
            })
        };
        // All of them, and those past the limit.
        for from in [0.0, limit] {
            let (want, have) = (of(&batch, from), of(&got, from));
            assert!((want.0 - have.0).abs() < 1e-9, "{want:?} {have:?}");
            assert!((want.1 - have.1).abs() < 1e-6, "{want:?} {have:?}");
        }
    }

    /// Steps of half a unit: seals far from their age of 300 stay where they are.
    #[test]
    fn small_steps_gather_only_those_due() {
        let batch: Vec<Cohort> = (0..500)
            .map(|i| Cohort {
                age: f64::from(i),
                count: 1.0,
            })
            .collect();
        let got = gathered(&batch, 0.5, 300.0);
        for under in [50.0, 100.0, 299.0, 300.0] {
            let younger: f64 = got.iter().filter(|c| c.age < under).map(|c| c.count).sum();
            assert!((younger - under).abs() < 1e-9, "{under}: {younger}");
        }
    }
}
