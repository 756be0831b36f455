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
    /// Chance to last if turned now by the best number of sectors; `None` without sectors.
    pub turned: Option<f64>,
    /// That number.
    pub turn_by: Option<usize>,
    /// Chance to last if turned by one sector.
    pub turned_by_one: Option<f64>,
    /// Why there is no chance when turned.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
    /// What was taken as known about the seal.
    pub meaning: &'static str,
}

const IN_TWO_STAGES: &str = "a defect has been seen and it has not leaked; when it began is not known, only that it was after the last sound look. It sits where the frame wears most, in proportion to the wear; a turn moves it to another place, and the rest of its delay runs at that place's rate";
const IN_ONE_STAGE: &str = "it has not failed; what it looks like is not used";

impl StopGap {
    /// The chances for a seal.
    ///
    /// # Errors
    /// When an age is out of range, or a seal of this age could not be defective and alive.
    ///
    /// ```
    /// use sealspan_care::{plan::StopGap, seal::Seal};
    /// use sealspan_life::life::Life;
    /// let seal = Seal::two_stage(Life::weibull(2.0, 270.0).unwrap(), Life::weibull(1.5, 60.0).unwrap())
    ///     .with_severities(&[2.0, 1.0, 1.0, 1.0])?;
    /// let answer = StopGap { age: 200.0, wait: 5.0, sound_at: 140.0 }.answer(&seal)?;
    /// assert!(answer.turned.unwrap() > answer.as_it_lies);
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
        let chance = |turn: usize| match &seal.delay {
            Some(delay) => self.defective(&seal.onset, delay, turn),
            None => self.sound(&seal.onset, turn),
        };
        let turns: Vec<f64> = match seal.ring() {
            Some(ring) => (1..ring.sectors()).map(chance).collect::<Result<_>>()?,
            None => vec![],
        };
        let best = turns
            .iter()
            .enumerate()
            .max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(&a.0)));
        Ok(StopGapAnswer {
            age: self.age,
            wait: self.wait,
            as_it_lies: chance(0)?,
            turned: best.map(|(_, chance)| *chance),
            turn_by: best.map(|(index, _)| index + 1),
            turned_by_one: turns.first().copied(),
            reason: turns
                .is_empty()
                .then_some("how unevenly the sectors wear was not given"),
            meaning: if seal.delay.is_some() {
                IN_TWO_STAGES
            } else {
                IN_ONE_STAGE
            },
        })
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
        }
    }

    /// A seal with a defect, averaged over when it began and in which sector.
    fn defective(&self, onset: &Onset, delay: &Life, turn: usize) -> Result<f64> {
        let (law, stretches) = match onset {
            Onset::Law(life) => (life.clone(), vec![(1.0, 1.0)]),
            Onset::Ring(ring) => (ring.never_turned()?, stretches(ring, turn)),
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
            for (share, rate) in &stretches {
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

/// For each frame sector the defect may have begun at: its share, and the rate at which the delay runs
/// on after the turn. Never turned, the first sector to go is j with the chance w_j^β/Σ w^β.
fn stretches(ring: &Ring, turn: usize) -> Vec<(f64, f64)> {
    let severities = ring.severities();
    let sum: f64 = severities.iter().map(|w| w.powf(ring.shape())).sum();
    let after = severities.iter().cycle().skip(turn);
    severities
        .iter()
        .zip(after)
        .filter(|(now, _)| **now > 0.0)
        .map(|(now, then)| (now.powf(ring.shape()) / sum, then / now))
        .collect()
}
