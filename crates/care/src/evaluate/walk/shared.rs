//! What walks of one seal have in common: those with stops as far apart share the delay's rows, those turned at the same
//! stops the stretches between them as well, whatever is looked at there.

use super::{EvenRows, Stretch, Walk};
use crate::policy::{CarePolicy, Looks, Turn};

/// Stops so far apart, with these turns.
type Stops = (f64, Turn);

/// Kept from one walk of a seal to the next. One for each seal.
#[derive(Default)]
pub(crate) struct Shared {
    rows: Vec<EvenRows>,
    stretches: Vec<(Stops, Vec<Past>)>,
}

/// A stretch from an age on, and how long it is.
#[derive(Debug, Clone)]
struct Past {
    from: f64,
    length: f64,
    stretch: Stretch,
}

/// Stretches of an earlier walk, and how far this one has come along them.
pub(super) struct Known {
    stretches: Vec<Past>,
    passed: usize,
}

/// The one step between all stops of a policy, where it has one.
fn step(policy: &CarePolicy) -> Option<f64> {
    match (&policy.looks, policy.turn) {
        (Looks::Every(look), Some(turn)) => Some(look.min(turn.every)),
        (Looks::Every(look), None) => Some(*look),
        (Looks::Never, Some(turn)) => Some(turn.every),
        _ => None,
    }
}

impl Shared {
    /// What still holds for a seal of as many stages with the same law of the onset, or of the delay.
    pub fn still_known(&self, onset: bool, delay: bool) -> Self {
        Self {
            rows: if delay { self.rows.clone() } else { vec![] },
            stretches: if onset {
                self.stretches.clone()
            } else {
                vec![]
            },
        }
    }

    /// Gives a walk what is known already.
    pub(in crate::evaluate) fn lend(&mut self, walk: &mut Walk, policy: &CarePolicy) {
        let Some(step) = step(policy) else { return };
        if let Some(at) = self.rows.iter().position(|rows| rows.step == step) {
            walk.rows = self.rows.swap_remove(at);
        }
        let Some(turn) = policy.turn else { return };
        let mine = |(stops, _): &(Stops, Vec<Past>)| *stops == (step, turn);
        let stretches = match self.stretches.iter().position(mine) {
            Some(at) => self.stretches.swap_remove(at).1,
            None => vec![],
        };
        walk.known = Some(Known {
            stretches,
            passed: 0,
        });
    }

    /// Takes back what a walk knows.
    pub(in crate::evaluate) fn take_back(&mut self, walk: &mut Walk, policy: &CarePolicy) {
        self.rows.push(std::mem::take(&mut walk.rows));
        if let (Some(step), Some(turn), Some(known)) =
            (step(policy), policy.turn, walk.known.take())
        {
            self.stretches.push(((step, turn), known.stretches));
        }
    }
}

impl Walk<'_> {
    /// The stretch to the next stop, taken over where it is known.
    pub(super) fn stretch_or_known(&mut self, length: f64) -> Stretch {
        let from = self.age;
        let Some(known) = &mut self.known else {
            return self.stretch(length);
        };
        let at = known.passed;
        known.passed += 1;
        if let Some(past) = known.stretches.get(at)
            && past.from == from
            && past.length == length
        {
            return past.stretch.clone();
        }
        let stretch = self.stretch(length);
        if let Some(known) = &mut self.known {
            known.stretches.truncate(at);
            known.stretches.push(Past {
                from,
                length,
                stretch: stretch.clone(),
            });
        }
        stretch
    }
}
