//! One cycle with money and time worth e^(−δ t) at the time t on the clock, downtime of openings included.
//!
//! Money of an event is paid when the equipment is opened for it, and the next cycle starts when it is up again, so
//! PV = M/(1 − E e^(−δ C)), M the discounted money of a cycle and C its length (Fox 1966 for replacement by age, from
//! memory; the rest derived). The denominator is written with positive terms only:
//! δ ∫ e^(−δ t) (in service) + Σ openings (1 − e^(−δ d)) + Σ ends (1 − e^(−δ d)), each at its time.

use super::cohort::EvenRows;
use super::curve::Delay;
use crate::error::Result;
use crate::terms::Terms;
use sealspan_life::life::Life;

/// How a cycle ends, as a place in the sums.
#[derive(Debug, Clone, Copy)]
pub(super) enum Way {
    Failed,
    Found,
    Preventive,
    Damaged,
    Opportunity,
}

/// Shares and times of a cycle, discounted.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    service: f64,
    undetected: f64,
    /// Shares at the time they come off, and once the opening they came off at is over.
    ends: [f64; 5],
    left: [f64; 5],
    openings: f64,
    looks: f64,
    turns: f64,
}

/// Discounting beside a walk.
#[derive(Debug, Clone)]
pub(super) struct Discount {
    pub delta: f64,
    opening_down: f64,
    /// The delay, its time spent discounted from the onset.
    pub delay: Option<Delay>,
    pub rows: EvenRows,
    /// e^(−δ d) over the downtime of the openings so far.
    shift: f64,
    sums: Sums,
}

impl Discount {
    /// # Errors
    /// When the mean delay is not finite.
    pub fn new(delta: f64, delay: Option<&Life>, terms: &Terms) -> Result<Self> {
        Ok(Self {
            delta,
            opening_down: terms.opening.down,
            delay: delay
                .map(|life| Delay::discounted(life, delta))
                .transpose()?,
            rows: EvenRows::default(),
            shift: 1.0,
            sums: Sums::default(),
        })
    }

    /// What money is worth at an age in service, downtime apart.
    pub fn at_age(&self, age: f64) -> f64 {
        (-self.delta * age).exp()
    }

    /// What money is worth at an age in service, downtime so far included.
    pub fn worth(&self, age: f64) -> f64 {
        self.shift * self.at_age(age)
    }

    /// What is worth 1 for a whole stretch of service comes to this, and what was discounted by age alone to that.
    pub fn stretch(&self, from: f64, length: f64) -> f64 {
        self.worth(from) * -(-self.delta * length).exp_m1() / self.delta
    }

    /// Brings time discounted by age alone to the clock.
    pub fn on_clock(&self, time: f64) -> f64 {
        self.shift * time
    }

    pub fn serve(&mut self, service: f64, undetected: f64) {
        self.sums.service += service;
        self.sums.undetected += undetected;
    }

    /// Shares that come off between stops, or all at the last one, already discounted.
    pub fn end(&mut self, way: Way, worth: f64) {
        add(&mut self.sums.ends, way, worth);
        add(&mut self.sums.left, way, worth);
    }

    /// A share that comes off at the opening made at `age`.
    pub fn end_at_opening(&mut self, way: Way, share: f64, age: f64) {
        let worth = share * self.worth(age);
        add(&mut self.sums.ends, way, worth);
        let up = (-self.delta * self.opening_down).exp();
        add(&mut self.sums.left, way, worth * up);
    }

    pub fn looked(&mut self, share: f64, age: f64) {
        self.sums.looks += share * self.worth(age);
    }

    pub fn turned(&mut self, share: f64, age: f64) {
        self.sums.turns += share * self.worth(age);
    }

    /// All of the opening at `age` is said; the clock moves on by its downtime.
    pub fn opened(&mut self, share: f64, age: f64) {
        self.sums.openings += share * self.worth(age);
        self.shift *= (-self.delta * self.opening_down).exp();
    }

    /// Money now for all cycles to come.
    pub fn present_value(&self, terms: &Terms) -> f64 {
        let s = &self.sums;
        let events = [
            terms.failed,
            terms.found,
            terms.planned,
            terms.damaged,
            terms.opportunity,
        ];
        let money: f64 = s.ends.iter().zip(events).map(|(w, e)| w * e.money).sum();
        let labour = s.openings * terms.opening.money
            + s.looks * terms.look
            + s.turns * terms.turn
            + s.undetected * terms.undetected;
        let lost = |down: f64| -(-self.delta * down).exp_m1();
        let down: f64 = s
            .left
            .iter()
            .zip(events)
            .map(|(w, e)| w * lost(e.down))
            .sum();
        let cycle = self.delta * s.service + s.openings * lost(self.opening_down) + down;
        (money + labour) / cycle
    }
}

fn add(sums: &mut [f64; 5], way: Way, worth: f64) {
    if let Some(sum) = sums.get_mut(way as usize) {
        *sum += worth;
    }
}
