//! One cycle, stop by stop: shares of seals sound, defective and failed unseen, and what they cost.
//!
//! Damage and opportunities take seals without regard to their state, so the share kept is a factor
//! of its own; the rest is followed as if there were neither.

mod shared;
mod tail;

pub(crate) use shared::Shared;

use super::cohort::{Cohort, EvenRows};
use super::discount::{Discount, Way};
use super::outcome::Totals;
use super::{Prepared, SEARCH_LEVEL};
use crate::policy::Opening;
use crate::seal::{Onset, RingState};
use sealspan_numeric::double_exponential::{Node, Rule};
use shared::Known;

/// A cohort whose remaining share is below this is dropped, in an answer and in the search.
const FORGOTTEN: f64 = 1e-17;
const FORGOTTEN_IN_SEARCH: f64 = 1e-11;
/// Cumulative hazard beyond which no seal is left.
const NONE_LEFT: f64 = 38.0;

/// Where the cycle stands. Shares are of seals fitted, damage and opportunities apart.
pub(super) struct Walk<'a> {
    model: &'a Prepared,
    rule: &'static Rule,
    pub level: u32,
    forgotten: f64,
    /// Step of the stops so far, while they are even.
    even: Option<f64>,
    rows: EvenRows,
    /// Stretches of an earlier walk with the same stops and turns, and how many were asked for; `None` where none are
    /// kept.
    known: Option<Known>,
    pub age: f64,
    ring: Option<RingState>,
    /// Whether the ring has been turned.
    moved: bool,
    cohorts: Vec<Cohort>,
    sound: f64,
    defective: f64,
    unseen: f64,
    /// Share neither damaged nor taken at an opportunity.
    pub kept: f64,
    pub totals: Totals,
    /// Money's worth at the time, where a present value is asked for.
    pub discount: Option<Discount>,
}

/// What the stretch to the next stop does.
#[derive(Debug, Clone)]
struct Stretch {
    /// Sound at its end.
    sound: f64,
    /// Time spent sound in it, opportunities counted, and without them.
    sound_time: f64,
    /// Nodes' masses of new defects.
    mass: Vec<f64>,
    /// Time spent sound, and masses, discounted by age; nothing without discounting.
    present_time: f64,
    present_mass: Vec<f64>,
}

/// Time defective in a stretch.
#[derive(Clone, Copy, Default)]
struct Late {
    time: f64,
    /// Discounted by age.
    present: f64,
}

impl<'a> Walk<'a> {
    pub fn new(model: &'a Prepared, level: u32, discount: Option<Discount>) -> Self {
        Self {
            model,
            level,
            rule: if level > SEARCH_LEVEL {
                Rule::of_level(level)
            } else {
                Rule::quick()
            },
            forgotten: if level > SEARCH_LEVEL {
                FORGOTTEN
            } else {
                FORGOTTEN_IN_SEARCH
            },
            even: None,
            rows: EvenRows::default(),
            known: None,
            age: 0.0,
            ring: model.seal.ring().map(|ring| ring.fitted()),
            moved: false,
            cohorts: vec![],
            sound: 1.0,
            defective: 0.0,
            unseen: 0.0,
            kept: 1.0,
            totals: Totals::default(),
            discount,
        }
    }

    /// Share of seals still in service.
    pub fn in_service(&self) -> f64 {
        self.kept * (self.sound + self.defective + self.unseen)
    }

    fn nodes(&self) -> &'static [Node] {
        if self.age == 0.0 {
            self.rule.from_singular_end()
        } else {
            self.rule.ordinary()
        }
    }

    /// Survival and density of the onset `after` the last stop.
    fn onset(&self, after: f64) -> (f64, f64) {
        match (&self.model.seal.onset, &self.ring) {
            (Onset::Ring(ring), Some(state)) if self.moved => {
                let (cumulative, hazard) = ring.hazards(state, after);
                let survival = (-cumulative).exp();
                (survival, hazard * survival)
            }
            _ => self.model.onset.at(self.age + after),
        }
    }

    /// Share not taken at an opportunity from the last stop to `after` it; 1 before the age for it.
    fn passed_by(&self, after: f64) -> f64 {
        match self.model.opportunities_from {
            Some(from) if self.age + after > from => {
                (-self.model.seal.opportunity_rate * (self.age + after - from.max(self.age))).exp()
            }
            _ => 1.0,
        }
    }

    fn stretch(&self, length: f64) -> Stretch {
        let with_delay = self.model.delay.is_some();
        let taken = self.model.opportunities_from.is_some();
        let mut out = Stretch {
            sound: self.onset(length).0,
            sound_time: 0.0,
            mass: vec![],
            present_time: 0.0,
            present_mass: vec![],
        };
        for node in self.nodes() {
            let after = node.left * length;
            let (survival, density) = self.onset(after);
            let weight = node.weight * length;
            let passed = if taken { self.passed_by(after) } else { 1.0 };
            out.sound_time += weight * survival * passed;
            if with_delay {
                out.mass.push(weight * density);
            }
            if let Some(discount) = &self.discount {
                let worth = discount.at_age(self.age + after);
                out.present_time += weight * survival * passed * worth;
                if with_delay {
                    out.present_mass.push(weight * density * worth);
                }
            }
        }
        out
    }

    /// Lets the cycle run to `age`.
    pub fn run_to(&mut self, age: f64) {
        let length = age - self.age;
        let mut stretch = self.stretch_or_known(length);
        let (mut defective, mut late) = (0.0, Late::default());
        if let Some(delay) = &self.model.delay {
            let step = if self.age == 0.0 {
                Some(length)
            } else {
                self.even
            };
            let first = if self.age == 0.0 {
                0
            } else {
                self.rule.inner()
            };
            self.even = step.filter(|step| (length - step).abs() <= 1e-12 * age);
            self.cohorts.push(Cohort::new(
                age,
                length,
                first,
                std::mem::take(&mut stretch.mass),
                std::mem::take(&mut stretch.present_mass),
            ));
            let nodes = self.rule.nodes();
            for cohort in &mut self.cohorts {
                if let Some(Discount {
                    delay: Some(delay),
                    rows,
                    ..
                }) = &mut self.discount
                {
                    let even = self.even.map(|step| (rows, step));
                    late.present += cohort.follow_present(delay, nodes, age, even);
                }
                let even = self.even.map(|step| (&mut self.rows, step));
                let now = cohort.follow(delay, nodes, age, even);
                defective += now.share;
                late.time += now.time;
                if now.share < self.forgotten {
                    cohort.weight = 0.0;
                }
            }
            self.cohorts.retain(|cohort| cohort.weight > 0.0);
        }
        self.account(length, &stretch, defective, late);
        if let (Some(ring), Some(state)) = (self.model.seal.ring(), &mut self.ring) {
            ring.wear(state, length);
        }
        self.age = age;
        self.sound = stretch.sound;
        self.defective = defective;
    }

    fn account(&mut self, length: f64, stretch: &Stretch, defective: f64, late: Late) {
        let before = self.sound + self.defective;
        let after = stretch.sound + defective;
        let alive_time = stretch.sound_time + late.time;
        let passed = self.passed_by(length);
        self.account_present(
            length,
            stretch.present_time + late.present,
            before,
            after * passed,
        );
        if self.model.hidden {
            let whole = before + self.unseen;
            self.totals.service += self.kept * whole * length;
            self.totals.undetected += self.kept * (whole * length - alive_time).max(0.0);
            self.unseen += (before - after).max(0.0);
        } else {
            self.totals.service += self.kept * alive_time;
            let taken = match self.model.opportunities_from {
                Some(from) if self.age >= from => self.model.seal.opportunity_rate * alive_time,
                _ => 0.0,
            };
            self.totals.opportunity += self.kept * taken;
            self.totals.failed += self.kept * (before - after * passed - taken).max(0.0);
        }
        self.kept *= passed;
    }

    /// The same discounted: `alive` is time discounted by age, of the shares `before` and `after` the stretch.
    fn account_present(&mut self, length: f64, alive: f64, before: f64, after: f64) {
        let Some(discount) = &mut self.discount else {
            return;
        };
        let alive = discount.on_clock(alive);
        if self.model.hidden {
            let whole = (before + self.unseen) * discount.stretch(self.age, length);
            let undetected = self.kept * (whole - alive).max(0.0);
            discount.serve(self.kept * whole, undetected);
            return;
        }
        let taken = match self.model.opportunities_from {
            Some(from) if self.age >= from => self.model.seal.opportunity_rate * alive,
            _ => 0.0,
        };
        // By parts: what leaves a stretch is worth what enters it less what is left, less the interest on the time.
        let gone = before * discount.worth(self.age)
            - after * discount.worth(self.age + length)
            - discount.delta * alive;
        discount.serve(self.kept * alive, 0.0);
        discount.end(Way::Opportunity, self.kept * taken);
        discount.end(Way::Failed, self.kept * (gone - taken).max(0.0));
    }

    /// Opens the equipment at the age reached.
    pub fn open(&mut self, opening: Opening) {
        let (all, age) = (self.in_service(), self.age);
        self.totals.openings += all;
        if opening.look {
            self.totals.looks += all;
            if let Some(discount) = &mut self.discount {
                discount.looked(all, age);
            }
            self.look();
        }
        if opening.turn > 0 {
            let left = if opening.look { self.in_service() } else { all };
            self.totals.turns += left;
            if let Some(discount) = &mut self.discount {
                discount.turned(left, age);
            }
            if let (Some(ring), Some(state)) = (self.model.seal.ring(), &mut self.ring) {
                ring.turn(state, opening.turn);
                self.moved = true;
            }
        }
        let damage = self.model.seal.handling_damage;
        let damaged = damage * self.in_service();
        self.totals.damaged += damaged;
        if let Some(discount) = &mut self.discount {
            discount.end_at_opening(Way::Damaged, damaged, age);
            discount.opened(all, age);
        }
        self.kept *= 1.0 - damage;
    }

    fn look(&mut self) {
        let (worn, failed) = (self.model.finds_defect, self.model.finds_failure);
        let found = worn * self.defective * self.kept;
        let come_to_light = failed * self.unseen * self.kept;
        self.totals.found += found;
        self.totals.failed += come_to_light;
        if let Some(discount) = &mut self.discount {
            discount.end_at_opening(Way::Found, found, self.age);
            discount.end_at_opening(Way::Failed, come_to_light, self.age);
        }
        for cohort in &mut self.cohorts {
            cohort.weight *= 1.0 - worn;
        }
        self.cohorts.retain(|cohort| cohort.weight > 0.0);
        self.defective *= 1.0 - worn;
        self.unseen *= 1.0 - failed;
    }

    /// The sums when every seal is replaced at an age before the next stop.
    pub fn replaced_at(&self, age: f64) -> Totals {
        let mut fork = Self {
            model: self.model,
            rule: self.rule,
            level: self.level,
            forgotten: self.forgotten,
            even: None,
            rows: EvenRows::default(),
            known: None,
            age: self.age,
            ring: self.ring.clone(),
            moved: self.moved,
            cohorts: self.cohorts.clone(),
            sound: self.sound,
            defective: self.defective,
            unseen: self.unseen,
            kept: self.kept,
            totals: self.totals,
            discount: None,
        };
        fork.run_to(age);
        fork.replaced()
    }

    /// The sums when every seal still in service is replaced here; a failure nobody saw comes to light.
    pub fn replaced(&self) -> Totals {
        Totals {
            preventive: self.totals.preventive + self.kept * (self.sound + self.defective),
            failed: self.totals.failed + self.kept * self.unseen,
            ..self.totals
        }
    }

    /// What they come to in money now, replaced here.
    pub fn replaced_present(&mut self) {
        if let Some(discount) = &mut self.discount {
            let worth = self.kept * discount.worth(self.age);
            discount.end(Way::Preventive, worth * (self.sound + self.defective));
            discount.end(Way::Failed, worth * self.unseen);
        }
    }

    /// Lets all seals run until they fail; only where failure shows by itself, and before any onset: a policy without
    /// openings stops nowhere but at the end of a time free of onsets.
    pub fn run_out(&mut self) {
        let length = self.time_until_none_left();
        let stretch = self.stretch(length);
        let mean = self.model.delay.as_ref().map_or(0.0, |delay| delay.mean());
        let discounted = self.discount.as_ref().and_then(|d| d.delay.as_ref());
        let present = discounted.map_or(0.0, |delay| {
            stretch.present_mass.iter().sum::<f64>() * delay.mean()
        });
        let late = Late {
            time: stretch.mass.iter().sum::<f64>() * mean,
            present,
        };
        let tail = Stretch {
            sound: 0.0,
            ..stretch
        };
        self.account(length, &tail, 0.0, late);
    }

    fn time_until_none_left(&self) -> f64 {
        if let (Onset::Ring(ring), Some(state)) = (&self.model.seal.onset, &self.ring) {
            let mut length = ring.sector_scale();
            while ring.hazards(state, length).0 < NONE_LEFT {
                length *= 2.0;
            }
            return length;
        }
        (self.model.oldest - self.age).max(1e-9 * self.model.oldest)
    }
}
