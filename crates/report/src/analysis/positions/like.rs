//! Lives of the positions at the ages they would have had in a middling place.

use crate::analysis::alike::{Draft, Seat, moved, place};
use sealspan_life::laws;
use sealspan_life::regression::fit_design;
use sealspan_records::positions::PositionLog;
use std::collections::{BTreeMap, BTreeSet};

/// Replacements from which a kind of seal takes part in telling what places do.
const FEW: f64 = 5.0;
/// Positions that a place needs to be told apart: else it would explain away the very positions that are judged
/// (a rule of ours).
const FEWEST: usize = 5;

/// The logs with their stretches moved to a middling place, kinds of seal only.
pub(super) struct Likened {
    pub(super) logs: Vec<PositionLog>,
    /// Mean shift of ln life of each position.
    pub(super) shifts: Vec<f64>,
    /// Whether anything was held constant beside the kind.
    pub(super) adjusted: bool,
}

type Like = [(String, String)];

/// Holds constant what follows the first `kinds` columns of each stretch, and the duty of the asset.
pub(super) fn alike(
    logs: &[PositionLog],
    kinds: usize,
    duty: Option<&BTreeMap<String, f64>>,
) -> Likened {
    let split = |like: &Like| {
        let (kind, rest) = like.split_at(kinds.min(like.len()));
        (kind.to_vec(), place(rest))
    };
    let mut events: BTreeMap<Vec<(String, String)>, f64> = BTreeMap::new();
    let mut watched: BTreeMap<String, BTreeSet<usize>> = BTreeMap::new();
    for (at, log) in logs.iter().enumerate() {
        for stretch in &log.stretches {
            let (kind, place) = split(&stretch.like);
            let ended = if stretch.life.ended() { 1.0 } else { 0.0 };
            *events.entry(kind).or_default() += ended;
            watched.entry(place).or_default().insert(at);
        }
    }
    events.retain(|_, n| *n >= FEW);
    let strata: BTreeMap<_, usize> = events.into_keys().zip(0..).collect();
    let large = |place: &String| watched.get(place).is_some_and(|p| p.len() >= FEWEST);
    let mut owners = vec![];
    let mut places = vec![];
    for (at, log) in logs.iter().enumerate() {
        for (n, stretch) in log.stretches.iter().enumerate() {
            let (kind, place) = split(&stretch.like);
            if let Some(stratum) = strata.get(&kind) {
                owners.push((at, n, *stratum, stretch.life));
                places.push(if large(&place) { place } else { String::new() });
            }
        }
    }
    let seats: Vec<Seat<'_>> = owners
        .iter()
        .zip(&places)
        .map(|((at, _, stratum, life), place)| {
            let asset = logs.get(*at).map(|l| l.asset.as_str());
            let own = asset.and_then(|a| duty?.get(a).copied());
            Seat {
                stratum: *stratum,
                place,
                ln_duty: own.unwrap_or(0.0),
                mark: 0,
                life: *life,
            }
        })
        .collect();
    let mut out = Likened {
        logs: logs.to_vec(),
        shifts: vec![0.0; logs.len()],
        adjusted: false,
    };
    for stretch in out.logs.iter_mut().flat_map(|l| &mut l.stretches) {
        stretch.like.truncate(kinds);
    }
    let [weibull, ..] = laws::all();
    let draft = Draft::new(strata.len(), &seats, true);
    if !draft.adjusted {
        return out;
    }
    let Ok(fitting) = fit_design(weibull, &draft.design) else {
        return out;
    };
    out.adjusted = true;
    let shifts = draft.shifts(&fitting.regression);
    let mut sums = vec![(0.0, 0.0); logs.len()];
    for ((at, n, _, life), shift) in owners.iter().zip(&shifts) {
        let stretch = out.logs.get_mut(*at).and_then(|l| l.stretches.get_mut(*n));
        if let (Some(stretch), Ok(life)) = (stretch, moved(life, *shift)) {
            stretch.life = life;
        }
        if let Some(sum) = sums.get_mut(*at) {
            sum.0 += shift;
            sum.1 += 1.0;
        }
    }
    let mean = |(sum, n): (f64, f64)| if n > 0.0 { sum / n } else { 0.0 };
    out.shifts = sums.into_iter().map(mean).collect();
    out
}
