//! The course of a seal under a care policy: endings and work step by step on a grid of ages.
//!
//! The evaluator says what a policy comes to in the long run; this says what happens when, for seals of any age that were
//! cared for in one way so far and will be in another. Onsets are held at the middle of their step and openings at the
//! edge nearest to them, so the error falls as the square of the step but for the rounding of the openings.

use super::ending::{Share, at_rate};
use crate::error::{Error, Result};
use crate::policy::{CareAction, CarePolicy, OnFinding, Opening};
use crate::seal::{FailureSign, Onset, RingState, Seal};
use sealspan_life::life::Life;
use sealspan_numeric::sum::of_products;
use serde::Serialize;

/// Openings and what is done at them.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Work {
    /// Openings of the equipment (how many), each for a look, a turn or both.
    pub openings: f64,
    /// How many looks.
    pub looks: f64,
    /// How many turns.
    pub turns: f64,
}

impl Work {
    /// Adds so many times another.
    pub(super) fn add(&mut self, times: f64, other: &Self) {
        self.openings += times * other.openings;
        self.looks += times * other.looks;
        self.turns += times * other.turns;
    }
}

/// What happens in a step, by seal at the start of the course.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Step {
    /// Endings.
    pub ended: Share,
    /// Work on the seals in place.
    pub work: Work,
}

impl Step {
    pub(super) fn add(&mut self, times: f64, other: &Self) {
        self.ended.unplanned += times * other.ended.unplanned;
        self.ended.planned += times * other.ended.planned;
        self.work.add(times, &other.work);
    }
}

/// A defect left by fewer than this is dropped with its delay's tail.
const FORGOTTEN: f64 = 1e-12;
/// Fewer seals in place than this are none.
const NONE: f64 = 1e-300;

/// A seal on a grid of ages.
pub(super) struct Course<'a> {
    seal: &'a Seal,
    step: f64,
    /// Time as the seal lives it, by time of the clock.
    pace: f64,
    /// Factor on the rate of onsets: a place's own.
    rate: f64,
    /// Share of those without onset at each edge that have none at the next, worked out once for all who pass it;
    /// empty for a ring, which is followed by its wear.
    stays_sound: Vec<f64>,
    /// Share of defects that have not failed half a step after they came, and every step on, the oldest first; empty in
    /// one stage.
    delay: Vec<f64>,
}

/// Seals on their way, as shares of those fitted; damage takes them without regard to their state.
#[derive(Debug, Clone)]
pub(super) struct State {
    edge: usize,
    kept: f64,
    sound: f64,
    /// Defects not noticed, by the step of their onset, as many as there were at it.
    defects: Vec<f64>,
    /// Those of them that have not failed.
    alive: f64,
    unseen: f64,
    ring: Option<RingState>,
    /// Cumulative hazard of the ring so far, which turning does not change.
    worn: f64,
}

impl<'a> Course<'a> {
    /// A seal that lives `stretch` times as long where onsets come `rate` times as fast, up to `edges` steps of age.
    ///
    /// # Errors
    /// Where a measured property is what is followed.
    pub fn new(
        seal: &'a Seal,
        (stretch, rate): (f64, f64),
        step: f64,
        edges: usize,
    ) -> Result<Self> {
        let at = |life: &Life, steps: f64| life.survival(steps * step / stretch);
        let stays_sound = match &seal.onset {
            Onset::Law(life) => {
                let sound: Vec<f64> = (0..=edges).map(|k| at(life, k as f64)).collect();
                let stays = |pair: &[f64]| match pair {
                    [before, after] if *before > 0.0 => at_rate(after / before, rate),
                    _ => 0.0,
                };
                sound.windows(2).map(stays).collect()
            }
            Onset::Ring(_) => vec![],
            Onset::Measured(_) => {
                return Err(Error::no_answer(
                    "Months are worked out for laws of age, not for a measured property.",
                ));
            }
        };
        let delay = seal.delay.as_ref().map(|life| {
            let all = (0..edges).map(|k| at(life, k as f64 + 0.5));
            let mut all: Vec<f64> = all.take_while(|left| *left > FORGOTTEN).collect();
            all.reverse();
            all
        });
        Ok(Self {
            seal,
            step,
            pace: stretch.recip(),
            rate,
            stays_sound,
            delay: delay.unwrap_or_default(),
        })
    }

    /// A seal just fitted.
    pub fn fitted(&self) -> State {
        State {
            edge: 0,
            kept: 1.0,
            sound: 1.0,
            defects: vec![],
            alive: 0.0,
            unseen: 0.0,
            ring: self.seal.ring().map(|ring| ring.fitted()),
            worn: 0.0,
        }
    }

    fn two_stage(&self) -> bool {
        self.seal.delay.is_some()
    }

    /// Defects that have not failed: those of each step times what its delay has left.
    fn not_failed(&self, defects: &[f64]) -> f64 {
        let known = defects.len().min(self.delay.len());
        let young = defects.get(defects.len() - known..).unwrap_or_default();
        let left = self.delay.get(self.delay.len() - known..);
        of_products(young, left.unwrap_or_default())
    }

    /// Age reached.
    pub fn age(&self, state: &State) -> f64 {
        state.edge as f64 * self.step
    }

    /// Share in place.
    pub fn in_place(&self, state: &State) -> f64 {
        state.kept * (state.sound + state.alive + state.unseen)
    }

    /// The same seals as shares of those in place; none in place gives `None`.
    pub fn of_those_in_place(&self, state: &State) -> Option<State> {
        let whole = self.in_place(state) / state.kept;
        (state.kept * whole > NONE).then(|| State {
            kept: 1.0,
            sound: state.sound / whole,
            defects: state.defects.iter().map(|d| d / whole).collect(),
            alive: state.alive / whole,
            unseen: state.unseen / whole,
            ..state.clone()
        })
    }

    /// Follows seals for so many steps; a replacement already due falls into the first.
    pub fn run(&self, state: &mut State, policy: &CarePolicy, steps: usize) -> Vec<Step> {
        let mut age = self.age(state);
        let mut next = policy.next(age);
        let mut out = Vec::with_capacity(steps);
        for _ in 0..steps {
            let mut now = Step::default();
            if let CareAction::ReplaceAt(at) = next
                && self.edge_of(at) <= state.edge
            {
                self.replace(state, &mut now);
            }
            self.advance(state, &mut now);
            while let Some(at) = due(&next).filter(|at| self.edge_of(*at) <= state.edge) {
                match next {
                    CareAction::Open(opening) => self.open(state, opening, policy, &mut now),
                    _ => self.replace(state, &mut now),
                }
                age = at.max(age);
                next = match next {
                    CareAction::Open(_) => policy.next(age),
                    _ => CareAction::Run,
                };
            }
            out.push(now);
        }
        out
    }

    fn edge_of(&self, age: f64) -> usize {
        (age / self.step).round() as usize
    }

    /// Share without onset one step on.
    fn sound_after(&self, state: &mut State) -> f64 {
        match (&self.seal.onset, &mut state.ring) {
            (Onset::Ring(ring), Some(worn)) => {
                ring.wear(worn, self.step * self.pace);
                let before = std::mem::replace(&mut state.worn, ring.hazards(worn, 0.0).0);
                state.sound * (self.rate * (before - state.worn)).exp()
            }
            _ => state.sound * self.stays_sound.get(state.edge).copied().unwrap_or(0.0),
        }
    }

    fn advance(&self, state: &mut State, now: &mut Step) {
        let after = self.sound_after(state);
        let onset = state.sound - after;
        state.sound = after;
        state.edge += 1;
        let failed = if self.two_stage() {
            let before = state.alive;
            state.defects.push(onset);
            state.alive = self.not_failed(&state.defects);
            before + onset - state.alive
        } else {
            onset
        };
        if self.seal.failure == FailureSign::Hidden {
            state.unseen += failed;
        } else {
            now.ended.unplanned += state.kept * failed;
        }
    }

    fn open(&self, state: &mut State, opening: Opening, policy: &CarePolicy, now: &mut Step) {
        let all = self.in_place(state);
        now.work.openings += all;
        if opening.look {
            now.work.looks += all;
            self.look(state, policy, now);
        }
        if opening.turn > 0 {
            now.work.turns += self.in_place(state);
            if let (Some(ring), Some(worn)) = (self.seal.ring(), &mut state.ring) {
                ring.turn(worn, opening.turn);
            }
        }
        let damage = self.seal.handling_damage;
        now.ended.planned += damage * self.in_place(state);
        state.kept *= 1.0 - damage;
    }

    fn look(&self, state: &mut State, policy: &CarePolicy, now: &mut Step) {
        let finds = self.seal.detection;
        now.ended.unplanned += finds * state.unseen * state.kept;
        state.unseen *= 1.0 - finds;
        if policy.on_finding == OnFinding::Leave {
            return;
        }
        now.ended.planned += finds * state.alive * state.kept;
        state.defects.iter_mut().for_each(|d| *d *= 1.0 - finds);
        state.alive *= 1.0 - finds;
    }

    fn replace(&self, state: &mut State, now: &mut Step) {
        now.ended.planned += state.kept * (state.sound + state.alive);
        now.ended.unplanned += state.kept * state.unseen;
        state.kept = 0.0;
    }
}

fn due(action: &CareAction) -> Option<f64> {
    match action {
        CareAction::Open(Opening { age, .. }) | CareAction::ReplaceAt(age) => Some(*age),
        CareAction::Run => None,
    }
}

#[cfg(test)]
mod tests;
