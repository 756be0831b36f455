//! The end of a cycle of even looks, where the onset's law has a long tail.
//!
//! Once the gap between looks is short beside the age, defects come evenly between two looks (as in the model of
//! Christer & Waller 1984), so all that is still to come follows from one gap: the tail need not be walked look by look.

use super::Walk;
use crate::evaluate::SEARCH_LEVEL;
use sealspan_numeric::quadrature::integrate;

/// Share still sound below which the tail is closed, and gaps in the age from which it is: what is left out is of the
/// size of their product.
const LEFT: f64 = 1e-6;
const GAPS: f64 = 1000.0;
const LEFT_IN_SEARCH: f64 = 1e-3;
const GAPS_IN_SEARCH: f64 = 100.0;
/// A defect's later looks count while it is unnoticed and has not leaked by more than this, and this many of them.
const NOTICED: f64 = 1e-14;
const MOST_LOOKS: usize = 20_000;
const RELATIVE: f64 = 1e-10;

/// What becomes of a defect that came at any time between two looks.
struct Fate {
    found: f64,
    looks: f64,
    time: f64,
}

impl Walk<'_> {
    /// Adds all that is still to come after a look at the age reached, with looks `step` apart for ever; false where
    /// that cannot be told so.
    pub fn close(&mut self, step: f64) -> bool {
        let model = self.model;
        let (left, gaps) = if self.level > SEARCH_LEVEL {
            (LEFT, GAPS)
        } else {
            (LEFT_IN_SEARCH, GAPS_IN_SEARCH)
        };
        let simple = self.discount.is_none()
            && self.ring.is_none()
            && !model.hidden
            && model.opportunities_from.is_none()
            && model.seal.handling_damage == 0.0
            && model.finds_defect > 0.0;
        if !simple || self.sound > left || self.age < gaps * step {
            return false;
        }
        let Some(fate) = self.fate(step) else {
            return false;
        };
        let (_, density) = model.onset.at(self.age);
        // ∫ S over ln age.
        let far = (model.oldest / self.age).ln().max(1e-3);
        let sound = |y: f64| {
            let age = self.age * y.exp();
            model.onset.at(age).0 * age
        };
        let sound_time = integrate(sound, 0.0, far, RELATIVE).value;
        // Looks at sound seals: a sum over even ages (Euler–Maclaurin).
        let sound_looks = (sound_time / step - 0.5 * self.sound + step * density / 12.0).max(0.0);
        let all = self.sound + self.defective;
        self.totals.service += sound_time + all * fate.time;
        self.totals.found += all * fate.found;
        self.totals.failed += all * (1.0 - fate.found);
        let looks = sound_looks + all * fate.looks;
        self.totals.looks += looks;
        self.totals.openings += looks;
        self.sound = 0.0;
        self.defective = 0.0;
        self.cohorts.clear();
        true
    }

    fn fate(&mut self, step: f64) -> Option<Fate> {
        let delay = self.model.delay.as_ref()?;
        let r = self.model.finds_defect;
        let nodes = self.rule.ordinary();
        let mut fate = Fate {
            found: 0.0,
            looks: 0.0,
            time: 0.0,
        };
        let mut unnoticed = 1.0;
        let mut spent: Vec<f64> = vec![0.0; nodes.len()];
        for look in 0..MOST_LOOKS {
            let mut alive = 0.0;
            for (node, spent) in nodes.iter().zip(&mut spent) {
                let (holds, time) = delay.at((look as f64 + node.right) * step);
                alive += node.weight * holds;
                fate.time += node.weight * unnoticed * (time - *spent);
                *spent = time;
            }
            fate.looks += unnoticed * alive;
            fate.found += unnoticed * alive * r;
            unnoticed *= 1.0 - r;
            if unnoticed * alive < NOTICED {
                return Some(fate);
            }
        }
        None
    }
}

#[cfg(test)]
mod tests;
