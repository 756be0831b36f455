//! The demand and the work of seals under a care policy, period by period: those in service, cared for in one way so
//! far and in another from now on, and those that follow them.

use super::course::{Course, State, Step, Work};
use super::ending::Share;
use super::fleet::{Cohort, Fleet};
use super::flow::{Flow, Kernel, add_first};
use super::grid::{COARSE, FINE, KINDS, NEW, Qualities, check, left, windows};
use super::months::{Cases, Spread, Spreads};
use crate::error::{Error, Result};
use crate::policy::CarePolicy;
use crate::seal::Seal;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Ages of running seals, in whole periods and over batches, from which the grid is the coarse one.
const MANY_AGES: usize = 200;

/// What becomes of a running seal that is past its replacement age.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Overdue {
    /// It is replaced at once.
    AtOnce,
    /// It runs on until it fails or is found worn: its age was no bar so far.
    RunsOn,
}

/// The question for the seals of one part at one place.
///
/// ```
/// use sealspan_care::ahead::{cared::{Cared, Overdue, expected_to_go}, fleet::Fleet};
/// use sealspan_care::{forecast::Running, policy::CarePolicy, seal::Seal};
/// use sealspan_life::life::Life;
/// // A hundred seals without memory, replaced as they fail: 3 in 30 days on average.
/// let seal = Seal::one_stage(Life::exponential(1000.0).unwrap());
/// let policy = CarePolicy::run_to_failure();
/// let fleet = Fleet::of(&[Running { age: 50.0, count: 100 }]);
/// let cases = Cared {
///     seal: &seal, draws: &[], so_far: &policy, from_now: &policy, overdue: Overdue::RunsOn,
///     stretch: 1.0, rate: 1.0, rates: &[], fleet: &fleet, period: 30.0, periods: 1,
///     batch_spread: 0.0, seed: 1,
/// }.cases()?;
/// assert!((cases.best[0].counts[0].mean - 3.0).abs() < 0.01);
/// // Their cumulative rate is age over mean life.
/// let rate = expected_to_go(&seal, &policy, 100.0, 4)?;
/// assert!(rate.iter().zip([0.0, 0.1, 0.2, 0.3]).all(|(got, want)| (got - want).abs() < 1e-9));
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Cared<'a> {
    /// The seal at the estimate.
    pub seal: &'a Seal,
    /// What the estimate leaves possible; empty when it is taken as known.
    pub draws: &'a [Seal],
    /// How the running seals were looked at and turned so far; none of them was found worn.
    pub so_far: &'a CarePolicy,
    /// How they and those that follow are cared for from now on.
    pub from_now: &'a CarePolicy,
    /// What becomes of those past their age.
    pub overdue: Overdue,
    /// Factor on all lives: above 1 they last longer.
    pub stretch: f64,
    /// Factor on the rate of onsets, the place's own, at the estimate.
    pub rate: f64,
    /// The same factor at every draw; 1 at draws beyond the list.
    pub rates: &'a [f64],
    /// The fleet.
    pub fleet: &'a Fleet,
    /// Length of one period, units of the clock.
    pub period: f64,
    /// Number of periods.
    pub periods: usize,
    /// Standard deviation of ln life between batches. Needs draws.
    pub batch_spread: f64,
    /// Seed of the batches' qualities.
    pub seed: u64,
}

impl Cared<'_> {
    /// Means and variances of every period, in seals, at the estimate and at each draw. [`Cared`] has an example.
    ///
    /// # Errors
    /// As [`super::months::Ahead::cases`], and where the seal is followed by a measured property.
    pub fn cases(&self) -> Result<Cases> {
        let draws = self.draws.len();
        check(self.period, self.periods, draws, self.batch_spread)?;
        self.fleet.check()?;
        // One grid for the estimate and the draws: a look near the end of a period must not fall to either side.
        let ages = self
            .fleet
            .batches
            .iter()
            .map(|batch| at_edges(batch, self.period).len());
        let fine = if ages.sum::<usize>() > MANY_AGES {
            COARSE
        } else {
            FINE
        };
        let one = |(i, seal): (usize, &Seal)| self.spreads(seal, fine, Some(i as u64));
        Ok(Cases {
            best: self.spreads(self.seal, fine, None)?,
            drawn: self
                .draws
                .par_iter()
                .enumerate()
                .map(one)
                .collect::<Result<_>>()?,
        })
    }

    /// Every period for one seal; with a draw's number each batch has its own quality.
    fn spreads(&self, seal: &Seal, fine: usize, draw: Option<u64>) -> Result<Spreads> {
        let step = self.period / fine as f64;
        let cells = self.periods * fine;
        let windows = windows(self.periods, fine);
        let qualities = Qualities::new(self.batch_spread, self.seed, draw);
        let rate = match draw {
            Some(i) => self.rates.get(i as usize).copied().unwrap_or(1.0),
            None => self.rate,
        };
        let pace = |mark: u64| (self.stretch * qualities.of(mark), rate);
        let new = New::of(seal, self.from_now, pace(NEW), step, cells)?;
        let mut flows = KINDS.map(|kind| Flow::empty(&new.kernel, kind, &windows));
        let mut work = Workload::new(cells);
        for (at, batch) in self.fleet.batches.iter().enumerate() {
            let ages = at_edges(batch, 0.5 * step);
            let oldest = ages.keys().next_back().copied().unwrap_or(0);
            let course = Course::new(
                seal,
                pace(self.fleet.mark(at)),
                0.5 * step,
                oldest + 2 * cells,
            )?;
            for (state, count) in self.states(&course, &ages) {
                let first = self.ahead(&course, state, cells);
                let ended: Vec<Share> = first.iter().map(|s| s.ended).collect();
                add_first(&mut flows, &new.kernel, &ended, count, &windows);
                work.take(&first, count);
            }
        }
        for joining in &self.fleet.joining {
            // Shared between the two half steps about its time.
            let (place, all) = (2.0 * joining.at / step, 2 * cells);
            for (before, part) in [
                (place as usize, 1.0 - place.fract()),
                (place as usize + 1, place.fract()),
            ] {
                let mut halves = vec![Step::default(); before.min(all)];
                let rest = all - halves.len();
                halves.extend_from_slice(new.halves.get(..rest).unwrap_or_default());
                let first: Vec<Step> = halves.chunks(2).map(sum).collect();
                let ended: Vec<Share> = first.iter().map(|s| s.ended).collect();
                let count = joining.positions * part;
                add_first(&mut flows, &new.kernel, &ended, count, &windows);
                work.take(&first, count);
            }
        }
        let work = work.with_successors(&new);
        let each = windows.iter().enumerate().map(|(i, window)| {
            let middle = 0.5 * step * (window.start + window.end) as f64;
            let kept = (1.0 - self.fleet.leaving).powf(middle);
            let counts = flows
                .each_ref()
                .map(|flow| left(flow.moments(i, &windows), kept));
            let mut done = Work::default();
            let here = work.get(window.clone()).unwrap_or_default();
            here.iter().for_each(|w| done.add(kept, &w.work));
            Spread { counts, work: done }
        });
        Ok(each.collect())
    }

    /// The running seals by age, as they were cared for so far; `None`: older than any seal gets.
    fn states(&self, course: &Course, ages: &BTreeMap<usize, f64>) -> Vec<(Option<State>, f64)> {
        let so_far = CarePolicy {
            replace_at: None,
            ..self.so_far.clone()
        };
        let (mut state, mut at) = (course.fitted(), 0);
        let each = ages.iter().map(|(edge, count)| {
            course.run(&mut state, &so_far, edge - at);
            at = *edge;
            (course.of_those_in_place(&state), *count)
        });
        each.collect()
    }

    /// What a running seal comes to in the cells ahead; one older than any seal gets is replaced at once.
    fn ahead(&self, course: &Course, state: Option<State>, cells: usize) -> Vec<Step> {
        let Some(mut state) = state else {
            let mut out = vec![Step::default(); cells];
            if let Some(now) = out.first_mut() {
                now.ended.planned = 1.0;
            }
            return out;
        };
        let past = |age: f64| age <= course.age(&state) * (1.0 + 1e-9);
        let run_on = self.overdue == Overdue::RunsOn && self.from_now.replace_at.is_some_and(past);
        let policy = CarePolicy {
            replace_at: self.from_now.replace_at.filter(|_| !run_on),
            ..self.from_now.clone()
        };
        let halves = course.run(&mut state, &policy, 2 * cells);
        halves.chunks(2).map(sum).collect()
    }
}

/// Cumulative rate, −ln of the share still in place, at which seals cared for by a policy fail or are found worn, at
/// `steps` edges of age from 0, each `step` units of the clock after the one before; damage and a replacement age are left
/// out. What a place's seals are expected to come to. [`Cared`] has an example.
///
/// # Errors
/// Where the seal is followed by a measured property.
pub fn expected_to_go(
    seal: &Seal,
    policy: &CarePolicy,
    step: f64,
    steps: usize,
) -> Result<Vec<f64>> {
    let unharmed = Seal {
        handling_damage: 0.0,
        ..seal.clone()
    };
    let policy = CarePolicy {
        replace_at: None,
        ..policy.clone()
    };
    let course = Course::new(&unharmed, (1.0, 1.0), step, steps)?;
    let mut state = course.fitted();
    let mut out = vec![0.0];
    for _ in 1..steps {
        course.run(&mut state, &policy, 1);
        out.push(-course.in_place(&state).max(f64::MIN_POSITIVE).ln());
    }
    Ok(out)
}

fn sum(steps: &[Step]) -> Step {
    let mut out = Step::default();
    steps.iter().for_each(|step| out.add(1.0, step));
    out
}

/// Seals by the edge nearest to their age.
fn at_edges(batch: &[Cohort], step: f64) -> BTreeMap<usize, f64> {
    let mut out = BTreeMap::new();
    for cohort in batch.iter().filter(|c| c.count > 0.0) {
        *out.entry((cohort.age / step).round() as usize)
            .or_insert(0.0) += cohort.count;
    }
    out
}

/// New seals: what follows a fitting.
struct New {
    kernel: Kernel,
    /// Their own course by half steps.
    halves: Vec<Step>,
    /// The same by lag, the first half step by itself.
    own: Vec<Step>,
}

impl New {
    fn of(
        seal: &Seal,
        policy: &CarePolicy,
        pace: (f64, f64),
        step: f64,
        cells: usize,
    ) -> Result<Self> {
        let course = Course::new(seal, pace, 0.5 * step, 2 * cells + 1)?;
        let mut state = course.fitted();
        let mut halves = course.run(&mut state, policy, 1);
        if course.in_place(&state) < 0.5 {
            return Err(Error::no_answer(super::TOO_FAST));
        }
        let mut own = halves.clone();
        let rest = course.run(&mut state, policy, 2 * cells);
        own.extend(rest.chunks(2).map(sum));
        halves.extend(rest);
        let ended: Vec<Share> = own.iter().map(|s| s.ended).collect();
        Ok(Self {
            kernel: Kernel::of(&ended, step, cells),
            halves,
            own,
        })
    }
}

/// Work by cell, and endings, each of which starts a successor.
struct Workload {
    work: Vec<Step>,
    fitted: Vec<f64>,
}

impl Workload {
    fn new(cells: usize) -> Self {
        Self {
            work: vec![Step::default(); cells],
            fitted: vec![0.0; cells],
        }
    }

    fn take(&mut self, first: &[Step], count: f64) {
        for ((sum, fitted), own) in self.work.iter_mut().zip(&mut self.fitted).zip(first) {
            sum.add(count, own);
            *fitted += count * own.ended.all();
        }
    }

    /// The work on all seals, those that follow included.
    fn with_successors(mut self, new: &New) -> Vec<Step> {
        let cells = self.work.len();
        // Every fitting, by cell: those after endings of successors too.
        let mut fitted = self.fitted.clone();
        for (s, begun) in self.fitted.iter().enumerate().filter(|b| *b.1 > 0.0) {
            for (slot, again) in fitted.iter_mut().skip(s).zip(&new.kernel.all) {
                *slot += begun * again;
            }
        }
        for (s, count) in fitted.iter().enumerate().take(cells) {
            for (slot, own) in self.work.iter_mut().skip(s).zip(&new.own) {
                slot.add(*count, own);
            }
        }
        self.work
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::ahead::ending::Ending;
    use crate::ahead::months::Ahead;
    use crate::forecast::Running;
    use sealspan_life::life::Life;

    /// Without looks a fleet is that of a law of life, batch by batch of one quality: draw by draw, good where it is good.
    #[test]
    fn without_looks_each_draw_is_that_of_the_law() {
        let life = Life::weibull(2.0, 300.0).unwrap();
        let (seal, policy) = (Seal::one_stage(life.clone()), CarePolicy::run_to_failure());
        let ending = Ending::new(&life, None).unwrap();
        let batch = |age: f64| vec![Cohort { age, count: 20.0 }];
        let fleet = Fleet {
            batches: vec![batch(90.0), batch(150.0), batch(30.0)],
            marks: vec![7, 9, 12],
            ..Fleet::default()
        };
        let cared = Cared {
            seal: &seal,
            draws: &vec![seal.clone(); 50],
            so_far: &policy,
            from_now: &policy,
            overdue: Overdue::RunsOn,
            stretch: 1.0,
            rate: 1.0,
            rates: &[],
            fleet: &fleet,
            period: 30.0,
            periods: 2,
            batch_spread: 0.3,
            seed: 5,
        };
        let ahead = Ahead {
            ending: &ending,
            draws: &vec![ending.clone(); 50],
            fleet: &fleet,
            period: 30.0,
            periods: 2,
            confidence: 0.9,
            batch_spread: 0.3,
            seed: 5,
        };
        let (cared, ahead) = (cared.cases().unwrap(), ahead.cases().unwrap());
        for (one, other) in cared.drawn.iter().zip(&ahead.drawn) {
            let [one, other] = [one, other].map(|draw| draw[2].counts[0].mean);
            assert!((one / other - 1.0).abs() < 0.01, "{one} {other}");
        }
    }

    /// Eleven periods old, to be replaced at eleven: past that age to the last digit, such seals run on until they fail.
    #[test]
    fn a_seal_just_at_its_age_is_past_it() {
        let seal = Seal::one_stage(Life::weibull(2.0, 600.0).unwrap());
        for period in [30.0, 30.4375, 0.1] {
            let age = 11.0 * period;
            let policy = CarePolicy::replace_at(age);
            let fleet = Fleet::of(&[Running { age, count: 50 }]);
            let planned = |overdue: Overdue| {
                let cared = Cared {
                    seal: &seal,
                    draws: &[],
                    so_far: &policy,
                    from_now: &policy,
                    overdue,
                    stretch: 1.0,
                    rate: 1.0,
                    rates: &[],
                    fleet: &fleet,
                    period,
                    periods: 1,
                    batch_spread: 0.0,
                    seed: 1,
                };
                cared.cases().unwrap().best[0].counts[1].mean
            };
            assert!(planned(Overdue::RunsOn) < 1e-9, "{period}");
            assert!((planned(Overdue::AtOnce) - 50.0).abs() < 1e-9, "{period}");
        }
    }
}
