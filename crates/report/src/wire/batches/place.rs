//! Which levels differ from their like, and what the place of a seal does to its life.
//!
//! Batches do not reach all places in like shares: sites join the records late, and a hot site that uses up
//! its seals takes more of the newest. So a level is held against seals of its strata in the same places.

use super::lives::Placed;
use crate::analysis::alike::{Draft, Seat, moved as move_life};
use sealspan_life::batches::{Differing, Marked, differing};
use sealspan_life::family::Family;
use sealspan_records::Observation;
use sealspan_records::observation::NotAnObservation;

/// What the levels of one column show, and the shift of ln life of every life by its place.
pub(super) struct Judged {
    pub levels: Vec<Differing>,
    pub shifts: Vec<f64>,
    /// Whether places or duties were told apart.
    pub adjusted: bool,
}

/// Judges each of `count` levels. `level` gives a life's level, `stratum` its stratum; lives without a stratum are
/// left out and not shifted. `None` when no regression can be fitted.
pub(super) fn judge(
    placed: &[Placed],
    stratum: &dyn Fn(&Placed) -> Option<usize>,
    level: &dyn Fn(&Placed) -> Option<usize>,
    (strata, count): (usize, usize),
    adjust: bool,
    family: &'static dyn Family,
) -> Option<Judged> {
    let used: Vec<(usize, &Placed, usize)> = placed
        .iter()
        .enumerate()
        .filter_map(|(at, p)| Some((at, p, stratum(p)?)))
        .collect();
    let seats: Vec<Seat<'_>> = used
        .iter()
        .map(|(_, p, stratum)| Seat {
            stratum: *stratum,
            place: &p.place,
            ln_duty: p.ln_duty,
            mark: level(p).map_or(0, |l| l + 1),
            life: p.observation,
        })
        .collect();
    let draft = Draft::new(strata, &seats, adjust);
    let marked: Vec<Marked> = draft
        .design
        .lines
        .iter()
        .zip(&draft.samples)
        .zip(&draft.marks)
        .map(|((line, sample), mark)| Marked {
            line: line.clone(),
            sample: sample.clone(),
            level: mark.checked_sub(1),
        })
        .collect();
    let (levels, regression) = differing(family, &draft.design, &marked, count).ok()?;
    let mut shifts = vec![0.0; placed.len()];
    for ((at, ..), shift) in used.iter().zip(draft.shifts(&regression)) {
        if let Some(slot) = shifts.get_mut(*at) {
            *slot = shift;
        }
    }
    Some(Judged {
        levels,
        shifts,
        adjusted: draft.adjusted,
    })
}

/// The life at the ages it would have had in a middling place.
pub(super) fn moved(p: &Placed) -> Result<Observation, NotAnObservation> {
    move_life(&p.observation, p.shift)
}
