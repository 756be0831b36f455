//! One seal from its fitting to its removal, event by event.

use super::draw::Draw;
use crate::error::Result;
use crate::policy::{CareAction, CarePolicy, OnFinding, Opening};
use crate::seal::{FailureSign, Onset, Paths, Ring, RingState, Seal};
use crate::terms::{Event, Terms};
use sealspan_numeric::random::Stream;

/// How a cycle ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    Failed,
    Found,
    Preventive,
    Damaged,
    Opportunity,
}

/// What one seal came to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cycle {
    pub end: End,
    pub money: f64,
    pub down: f64,
    pub service: f64,
    pub unseen: f64,
    pub looks: u32,
    pub turns: u32,
    /// The cycle's money at its worth when it starts; 0 unless discounted.
    pub present: f64,
}

/// What is needed to play a seal, made once.
pub(super) struct Game<'a> {
    seal: &'a Seal,
    policy: &'a CarePolicy,
    terms: &'a Terms,
    /// Age at the onset; for a ring, the limit of one sector's damage age.
    onset: Draw,
    delay: Option<Draw>,
    /// Standard deviation of a measurement.
    noise: f64,
    /// Continuous discount rate per unit of the clock; 0 for none.
    delta: f64,
}

/// A seal in service.
struct Fitted {
    age: f64,
    /// Age at the onset, once it is certain.
    onset: Option<f64>,
    delay: f64,
    ring: Option<(RingState, Vec<f64>)>,
    /// Distance from the functional limit when new, and speed towards it.
    path: Option<(f64, f64)>,
    opportunity: f64,
    cycle: Cycle,
}

impl<'a> Game<'a> {
    pub fn new(
        seal: &'a Seal,
        policy: &'a CarePolicy,
        terms: &'a Terms,
        delta: f64,
    ) -> Result<Self> {
        let onset = match &seal.onset {
            Onset::Law(life) => Draw::new(life),
            Onset::Ring(ring) => Draw::Weibull(ring.sector_scale().ln(), 1.0 / ring.shape()),
            // Drawn along its path instead.
            Onset::Measured(_) => Draw::Weibull(0.0, 1.0),
        };
        Ok(Self {
            seal,
            policy,
            terms,
            onset,
            delay: seal.delay.as_ref().map(Draw::new),
            noise: crate::evaluate::measured::paths(seal).map_or(0.0, Paths::noise),
            delta,
        })
    }

    /// Plays one seal.
    pub fn play(&self, stream: &mut Stream) -> Cycle {
        let mut seal = self.fit(stream);
        loop {
            let action = self.policy.next(seal.age);
            let next = match action {
                CareAction::Run => f64::INFINITY,
                CareAction::ReplaceAt(age) | CareAction::Open(Opening { age, .. }) => age,
            };
            if let Some(end) = self.run_to(&mut seal, next, stream) {
                return self.finish_now(seal, end);
            }
            let end = match action {
                // A hidden failure has come to light, or the seal still holds.
                CareAction::ReplaceAt(_) if seal.fails_by(next) => End::Failed,
                CareAction::ReplaceAt(_) => End::Preventive,
                CareAction::Open(opening) => match self.open(&mut seal, opening, stream) {
                    Some(end) => return self.finish(seal, end),
                    None => continue,
                },
                CareAction::Run => End::Failed,
            };
            return self.finish_now(seal, end);
        }
    }

    fn fit(&self, stream: &mut Stream) -> Fitted {
        let (onset, ring, path) = match &self.seal.onset {
            Onset::Law(_) => (Some(self.onset.life(stream)), None, None),
            Onset::Ring(ring) => {
                let limits = (0..ring.sectors()).map(|_| self.onset.life(stream));
                (None, Some((ring.fitted(), limits.collect())), None)
            }
            Onset::Measured(paths) => {
                let (distance, speed) = paths.draw(stream);
                let reached = if speed > 0.0 {
                    distance / speed
                } else {
                    f64::INFINITY
                };
                (Some(reached), None, Some((distance, speed)))
            }
        };
        let mut seal = Fitted {
            age: 0.0,
            onset,
            delay: self.delay.as_ref().map_or(0.0, |delay| delay.life(stream)),
            ring,
            path,
            opportunity: f64::INFINITY,
            cycle: Cycle {
                end: End::Failed,
                money: 0.0,
                down: 0.0,
                service: 0.0,
                unseen: 0.0,
                looks: 0,
                turns: 0,
                present: 0.0,
            },
        };
        self.next_opportunity(&mut seal, 0.0, stream);
        seal
    }

    fn next_opportunity(&self, seal: &mut Fitted, from: f64, stream: &mut Stream) {
        if self.seal.opportunity_rate > 0.0 && self.policy.opportunity_from.is_some() {
            seal.opportunity = from + stream.exponential() / self.seal.opportunity_rate;
        }
    }

    /// Lets the seal run to an age, or until it is taken off before.
    fn run_to(&self, seal: &mut Fitted, age: f64, stream: &mut Stream) -> Option<End> {
        if let Some(ring) = self.seal.ring() {
            seal.wear(ring, age);
        }
        let fails = seal.fails();
        let evident = self.seal.failure == FailureSign::Evident;
        let until = if evident { age.min(fails) } else { age };
        while seal.opportunity < until {
            let at = seal.opportunity;
            if self.policy.takes_opportunity(at) {
                seal.age = at;
                return Some(End::Opportunity);
            }
            self.next_opportunity(seal, at, stream);
        }
        if evident && fails <= age {
            seal.age = fails;
            return Some(End::Failed);
        }
        if self.delta > 0.0 && fails < age {
            // What an unseen failure costs flows on until the next stop.
            let (from, to) = (self.worth(seal, fails.max(seal.age)), self.worth(seal, age));
            seal.cycle.present += self.terms.undetected * (from - to) / self.delta;
        }
        seal.age = age;
        None
    }

    /// What money is worth at an age of the seal, downtime of openings so far included.
    fn worth(&self, seal: &Fitted, age: f64) -> f64 {
        (-self.delta * (age + seal.cycle.down)).exp()
    }

    fn open(&self, seal: &mut Fitted, opening: Opening, stream: &mut Stream) -> Option<End> {
        let money = seal.cycle.money;
        let end = self.handle(seal, opening, stream);
        if self.delta > 0.0 {
            // All that an opening costs is paid at its start.
            let event = end.map_or(0.0, |end| self.event(end).money);
            let paid = seal.cycle.money - money + event;
            seal.cycle.present += paid * self.worth(seal, seal.age);
        }
        seal.cycle.down += self.terms.opening.down;
        end
    }

    fn handle(&self, seal: &mut Fitted, opening: Opening, stream: &mut Stream) -> Option<End> {
        seal.cycle.money += self.terms.opening.money;
        if opening.look {
            seal.cycle.looks += 1;
            seal.cycle.money += self.terms.look;
            if let Some(end) = self.look(seal, stream) {
                return Some(end);
            }
        }
        if opening.turn > 0 {
            seal.cycle.turns += 1;
            seal.cycle.money += self.terms.turn;
            if let (Some(ring), Some((state, _))) = (self.seal.ring(), &mut seal.ring) {
                ring.turn(state, opening.turn);
            }
        }
        (stream.uniform() < self.seal.handling_damage).then_some(End::Damaged)
    }

    fn look(&self, seal: &Fitted, stream: &mut Stream) -> Option<End> {
        let failed = seal.fails_by(seal.age);
        if let (false, Some((distance, speed))) = (failed, seal.path) {
            return self.measure(distance - speed * seal.age, stream);
        }
        let defect = self.delay.is_some() && seal.onset.is_some_and(|onset| onset <= seal.age);
        if !(failed || defect) || stream.uniform() >= self.seal.detection {
            return None;
        }
        match self.policy.on_finding {
            _ if failed => Some(End::Failed),
            OnFinding::Replace => Some(End::Found),
            OnFinding::Leave => None,
        }
    }

    /// A reading of the distance left, with its error.
    fn measure(&self, distance: f64, stream: &mut Stream) -> Option<End> {
        let within = self.policy.replace_within?;
        let read = distance + self.noise * stream.normal();
        (read <= within).then_some(End::Found)
    }

    fn event(&self, end: End) -> Event {
        match end {
            End::Failed => self.terms.failed,
            End::Found => self.terms.found,
            End::Preventive => self.terms.planned,
            End::Damaged => self.terms.damaged,
            End::Opportunity => self.terms.opportunity,
        }
    }

    /// A cycle that ends away from an opening: its last event is still to be paid.
    fn finish_now(&self, mut seal: Fitted, end: End) -> Cycle {
        if self.delta > 0.0 {
            seal.cycle.present += self.event(end).money * self.worth(&seal, seal.age);
        }
        self.finish(seal, end)
    }

    fn finish(&self, seal: Fitted, end: End) -> Cycle {
        let event = self.event(end);
        let unseen = (seal.age - seal.fails()).max(0.0);
        Cycle {
            end,
            money: seal.cycle.money + event.money + unseen * self.terms.undetected,
            down: seal.cycle.down + event.down,
            service: seal.age,
            unseen,
            ..seal.cycle
        }
    }
}

impl Fitted {
    fn fails(&self) -> f64 {
        self.onset.map_or(f64::INFINITY, |onset| onset + self.delay)
    }

    fn fails_by(&self, age: f64) -> bool {
        self.fails() <= age
    }

    /// Wears a ring up to an age, or until its first sector goes.
    fn wear(&mut self, ring: &Ring, age: f64) {
        let Some((state, limits)) = &mut self.ring else {
            return;
        };
        if self.onset.is_some() {
            return;
        }
        let left = ring.time_to_limit(state, limits);
        if self.age + left <= age {
            self.onset = Some(self.age + left);
        } else {
            ring.wear(state, age - self.age);
        }
    }
}
