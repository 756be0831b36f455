//! A worn seal and a new one some days away: will it last, left as it lies or turned now?

use crate::error::{Error, Result, positive};
use crate::seal::{Onset, Ring, Seal};
use sealspan_life::life::Life;
use sealspan_numeric::double_exponential::Rule;
use serde::Serialize;

/// The question.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StopGap {
    /// Age of the seal now, units of the clock; never turned so far.
    pub age: f64,
    /// Time until the new one is there, units of the clock.
    pub wait: f64,
    /// Age at the last look that found it sound; 0 when there was none.
    pub sound_at: f64,
    /// Frame sector, counted from 1, against which the worn place lies; where it is not known the
    /// sectors are weighed by their wear.
    pub sector: Option<usize>,
}

/// The answer. Chances are for this one seal, as it stands now.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StopGapAnswer {
    /// Age now.
    pub age: f64,
    /// Time to bridge, units of the clock.
    pub wait: f64,
    /// Chance to last if left as it lies.
    pub as_it_lies: f64,
    /// Chance to last if turned now so that the worn place comes to lie where the frame wears least (in
    /// one stage: by the best number of sectors); `None` without sectors.
    pub turned: Option<f64>,
    /// The number of sectors to turn by, where it is one for all cases.
    pub turn_by: Option<usize>,
    /// Chance to last if turned by one sector whatever is seen.
    pub turned_by_one: Option<f64>,
    /// Why there is no chance when turned.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
    /// What was taken as known about the seal.
    pub meaning: &'static str,
}

/// As it lies; turned for the best; by how many sectors; turned by one.
type Chances = (f64, Option<f64>, Option<usize>, Option<f64>);

const IN_TWO_STAGES: &str = "a defect has been seen and it has not leaked; when it began is not known, only that it was after the last sound look. Where it lies, if not given, is weighed by the wear of the frame; a turn moves it to another place, and the rest of its delay runs at that place's rate";
const IN_ONE_STAGE: &str = "it has not failed; what it looks like is not used";

const MEASURED: &str =
    "Whether a measured seal lasts is said seal by seal by its own path: ask `sealspan condition`.";

impl StopGap {
    /// The chances for a seal: of the delays (or lives) that agree with what was seen, the share that outlasts the wait.
    ///
    /// # Errors
    /// When an age is out of range, or a seal of this age could not be defective and alive.
    ///
    /// ```
    /// use sealspan_care::{plan::StopGap, seal::Seal};
    /// use sealspan_life::life::Life;
    /// let seal = Seal::two_stage(Life::weibull(2.0, 270.0).unwrap(), Life::weibull(1.5, 60.0).unwrap())
    ///     .with_severities(&[2.0, 1.0, 1.0, 1.0])?;
    /// let answer = StopGap { age: 200.0, wait: 5.0, sound_at: 140.0, sector: Some(1) }.answer(&seal)?;
    /// assert!(answer.turned.unwrap() > answer.as_it_lies);
    /// // A delay without memory of 60 days on average: 5 days are bridged with chance e^(−5/60).
    /// let seal = Seal::two_stage(Life::exponential(300.0).unwrap(), Life::exponential(60.0).unwrap());
    /// let answer = StopGap { age: 200.0, wait: 5.0, sound_at: 140.0, sector: None }.answer(&seal)?;
    /// assert!((answer.as_it_lies - (-5.0f64 / 60.0).exp()).abs() < 1e-6);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn answer(&self, seal: &Seal) -> Result<StopGapAnswer> {
        positive("the age of the worn seal", self.age)?;
        positive("the time to bridge", self.wait)?;
        if !(0.0..self.age).contains(&self.sound_at) {
            return Err(Error::input(
                "the age at the last sound look",
                self.sound_at,
                "give an age before the seal's own",
            ));
        }
        self.sector_exists(seal)?;
        let (as_it_lies, turned, turn_by, turned_by_one) = match (&seal.delay, seal.ring()) {
            (Some(delay), Some(ring)) => self.worn_ring(ring, delay)?,
            (Some(delay), None) => {
                let chance = self.defective(&seal.onset, delay, &[(1.0, 1.0)])?;
                (chance, None, None, None)
            }
            (None, ring) => self.unworn(&seal.onset, ring.map_or(1, Ring::sectors))?,
        };
        Ok(StopGapAnswer {
            age: self.age,
            wait: self.wait,
            as_it_lies,
            turned,
            turn_by,
            turned_by_one,
            reason: turned
                .is_none()
                .then_some("how unevenly the sectors wear was not given"),
            meaning: if seal.delay.is_some() {
                IN_TWO_STAGES
            } else {
                IN_ONE_STAGE
            },
        })
    }

    /// The sector named is one of the ring's.
    fn sector_exists(&self, seal: &Seal) -> Result<()> {
        match (self.sector, seal.ring()) {
            (None, _) => Ok(()),
            (Some(_), None) => Err(Error::input(
                "the worn sector",
                "given",
                "say how unevenly the sectors wear too (relative severities such as 2,1,1,1), or leave it out",
            )),
            (Some(sector), Some(ring)) if (1..=ring.sectors()).contains(&sector) => Ok(()),
            (Some(sector), Some(_)) => Err(Error::input(
                "the worn sector",
                sector,
                "count the sectors from 1 up to the number the ring has",
            )),
        }
    }

    /// Left as it lies, turned to the mildest place, by how many sectors, and turned by one.
    fn worn_ring(&self, ring: &Ring, delay: &Life) -> Result<Chances> {
        let severities = ring.severities();
        let places = self.places(ring)?;
        let onset = Onset::Ring(ring.clone());
        let rate = |place: usize| {
            severities
                .get(place % severities.len())
                .copied()
                .unwrap_or(0.0)
        };
        let mildest = severities.iter().copied().fold(f64::INFINITY, f64::min);
        let chance = |after: &dyn Fn(usize) -> f64| {
            let stretches: Vec<(f64, f64)> = places
                .iter()
                .map(|(place, share)| (*share, after(*place) / rate(*place)))
                .collect();
            self.defective(&onset, delay, &stretches)
        };
        let turn_by = self.sector.and_then(|sector| {
            (0..severities.len()).find(|turn| rate(sector - 1 + turn) <= mildest)
        });
        Ok((
            chance(&rate)?,
            Some(chance(&|_| mildest)?),
            turn_by,
            Some(chance(&|place| rate(place + 1))?),
        ))
    }

    /// Frame places where the worn place may lie, with their shares. Never turned, the first sector to go
    /// is j with the chance w_j^β/Σ w^β.
    fn places(&self, ring: &Ring) -> Result<Vec<(usize, f64)>> {
        let severities = ring.severities();
        if let Some(sector) = self.sector {
            let wears = sector.checked_sub(1).and_then(|i| severities.get(i));
            return match wears {
                Some(wear) if *wear > 0.0 => Ok(vec![(sector - 1, 1.0)]),
                _ => Err(Error::input(
                    "the worn sector",
                    sector,
                    "count the frame's sectors from 1; one that does not wear cannot be it",
                )),
            };
        }
        let top = severities.iter().copied().fold(0.0, f64::max);
        let pull = |w: f64| (w / top).powf(ring.shape());
        let sum: f64 = severities.iter().map(|w| pull(*w)).sum();
        Ok(severities
            .iter()
            .enumerate()
            .filter(|(_, w)| **w > 0.0)
            .map(|(place, w)| (place, pull(*w) / sum))
            .collect())
    }

    fn unworn(&self, onset: &Onset, sectors: usize) -> Result<Chances> {
        let turns: Vec<f64> = (1..sectors)
            .map(|turn| self.sound(onset, turn))
            .collect::<Result<_>>()?;
        let best = turns
            .iter()
            .enumerate()
            .max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(&a.0)));
        Ok((
            self.sound(onset, 0)?,
            best.map(|(_, chance)| *chance),
            best.map(|(index, _)| index + 1),
            turns.first().copied(),
        ))
    }

    /// A seal that has not failed, in one stage.
    fn sound(&self, onset: &Onset, turn: usize) -> Result<f64> {
        match onset {
            Onset::Law(life) => {
                let more = life.ln_survival(self.age + self.wait) - life.ln_survival(self.age);
                Ok(more.exp())
            }
            Onset::Ring(ring) => {
                let mut state = ring.fitted();
                ring.wear(&mut state, self.age);
                let before = ring.hazards(&state, 0.0).0;
                ring.turn(&mut state, turn);
                Ok((before - ring.hazards(&state, self.wait).0).exp())
            }
            Onset::Measured(_) => Err(Error::no_answer(MEASURED)),
        }
    }

    /// A seal with a defect, averaged over when it began; `stretches` are the shares of the places it may
    /// lie at, and the rate at which the delay runs on for each.
    fn defective(&self, onset: &Onset, delay: &Life, stretches: &[(f64, f64)]) -> Result<f64> {
        let law = match onset {
            Onset::Law(life) => life.clone(),
            Onset::Ring(ring) => ring.never_turned()?,
            Onset::Measured(_) => return Err(Error::no_answer(MEASURED)),
        };
        let span = self.age - self.sound_at;
        let (mut alive, mut lasting) = (0.0, 0.0);
        for node in Rule::of_level(6).from_singular_end() {
            let since = node.right * span;
            let began = self.sound_at + node.left * span;
            if began <= 0.0 {
                continue;
            }
            let weight = node.weight * law.density(began);
            alive += weight * delay.survival(since);
            for (share, rate) in stretches {
                lasting += weight * share * delay.survival(since + rate * self.wait);
            }
        }
        if alive <= 0.0 || !alive.is_finite() {
            return Err(Error::no_answer(
                "No chance can be given: by these laws a seal of this age cannot be worn and still hold.",
            ));
        }
        Ok(lasting / alive)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn what_the_chances_mean_hangs_on_the_stages() {
        let (life, delay) = (
            Life::weibull(2.0, 270.0).unwrap(),
            Life::exponential(60.0).unwrap(),
        );
        let asked = StopGap {
            age: 200.0,
            wait: 5.0,
            sound_at: 140.0,
            sector: None,
        };
        let meaning = |seal: &Seal| asked.answer(seal).unwrap().meaning;
        let two = Seal::two_stage(life.clone(), delay);
        assert!(meaning(&two).starts_with("a defect has been seen"));
        assert!(meaning(&Seal::one_stage(life)).starts_with("it has not failed"));
    }
}
