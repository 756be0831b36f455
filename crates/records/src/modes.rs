//! The failure modes that the records name.

use crate::cells::Cells;
use crate::load::{Form, Records};
use crate::words::{Mechanism, Outcome, normal};
use std::collections::BTreeSet;

/// Words for the modes that ended lives are told apart by, in the order of the alphabet and the form in which words are
/// compared: the column `mode` of plain life data, the mechanism of failed seals. Ends without a mode, or with the
/// mechanism `unknown`, are not among them; empty where there is none, or where lives were counted without their modes
/// ([`Needs::mode`](crate::Needs::mode)).
#[must_use]
pub fn modes(records: &Records) -> Vec<String> {
    let mut out = BTreeSet::new();
    match (records.form, &records.life) {
        (Form::Life, Some(life)) => {
            let cells = Cells::of(&life.table, life.known.theirs("mode"));
            for at in 0..life.len() {
                if life.is_used(at)
                    && life.row(at).1.is_finite()
                    && let Some(word) = cells.text(at)
                {
                    out.insert(normal(&word));
                }
            }
        }
        _ => {
            for seal in &records.seals {
                if seal.outcome == Outcome::Failed
                    && let Some(mechanism) = seal.mechanism
                    && mechanism != Mechanism::Unknown
                {
                    out.insert(mechanism.word().to_owned());
                }
            }
        }
    }
    out.into_iter().collect()
}
