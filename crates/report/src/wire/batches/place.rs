//! What the place of a seal does to its life, so that a batch is not blamed for where its seals sat.
//!
//! Batches do not reach all places in like shares: sites join the records late, and a hot site that uses up
//! its seals takes more of the newest. ln life is shifted by the place within each stratum; ages over e to that
//! shift have the stratum's own law.

use super::lives::Placed;
use crate::analysis::screen::groupings;
use sealspan_life::family::Family;
use sealspan_life::regression::{Design, Line, Penalty, fit_design};
use sealspan_life::terms::Terms;
use sealspan_records::observation::NotAnObservation;
use sealspan_records::{Observation, Question, Records, Sample, Seen, ask};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Places are held near their stratum this loosely: a factor of e either way (a rule of ours).
const LOOSE: f64 = 1.0;
/// Most places told apart by one column; a column with more names single assets (a rule of ours).
const MOST: usize = 30;

/// The columns that tell places apart: the site, and what the table of assets says of them.
pub(super) fn columns(records: &Records, given: &[String]) -> Vec<String> {
    let assets = records.asset_columns();
    let of_place = |c: &String| c == "site" || assets.contains(c);
    let few = |c: &String| {
        let by = Question {
            by: vec![c.clone()],
            ..Question::default()
        };
        ask(records, &by).is_ok_and(|a| (2..=MOST).contains(&a.groups.len()))
    };
    let all = groupings(records, given).into_iter();
    all.filter(|c| of_place(c) && few(c)).collect()
}

/// Sets the shift of every life that belongs to a stratum. Gives whether there was something to adjust for.
pub(super) fn adjust(
    placed: &mut [Placed],
    strata: &[String],
    family: &'static dyn Family,
) -> bool {
    let mut cells: BTreeMap<(usize, &str), Vec<Observation>> = BTreeMap::new();
    for p in placed.iter() {
        if let Some(stratum) = strata.iter().position(|s| *s == p.stratum) {
            let own = cells.entry((stratum, &p.place)).or_default();
            own.push(p.observation);
        }
    }
    if cells.len() <= strata.len() {
        return false;
    }
    let design = design(strata.len(), &cells);
    let Ok(fitting) = fit_design(family, &design) else {
        return false;
    };
    let shifts: BTreeMap<(usize, String), f64> = cells
        .keys()
        .zip(strata.len()..)
        .map(|((stratum, place), at)| {
            let shift = fitting.regression.x.get(at).copied().unwrap_or(0.0);
            ((*stratum, (*place).to_owned()), shift)
        })
        .collect();
    for p in placed {
        let stratum = strata.iter().position(|s| *s == p.stratum);
        let shift = stratum.and_then(|s| shifts.get(&(s, p.place.clone())));
        p.shift = shift.copied().unwrap_or(0.0);
    }
    true
}

/// One column a stratum, the first being the intercept, then one a place within a stratum.
fn design(strata: usize, cells: &BTreeMap<(usize, &str), Vec<Observation>>) -> Design {
    let mut names: Vec<String> = (0..strata).map(|s| format!("stratum {s}")).collect();
    let mut lines = vec![];
    let mut penalties = vec![];
    for ((stratum, place), rows) in cells {
        let at = names.len();
        names.push(format!("{place} in {stratum}"));
        penalties.push(Penalty {
            at,
            mean: 0.0,
            sd: LOOSE,
        });
        let mut row = vec![(0, 1.0)];
        row.extend((*stratum > 0).then_some((*stratum, 1.0)));
        row.push((at, 1.0));
        lines.push(Line {
            row,
            offset: 0.0,
            stratum: *stratum,
            terms: Arc::new(Terms::new(&Sample::new(rows.clone()))),
        });
    }
    Design {
        names,
        lines,
        strata,
        penalties,
    }
}

/// The life at the ages it would have had in a middling place.
pub(super) fn moved(p: &Placed) -> Result<Observation, NotAnObservation> {
    let (o, by) = (p.observation, (-p.shift).exp());
    let (entry, count) = (o.entry() * by, o.count());
    match o.seen() {
        Seen::Exact(t) => Observation::exact(t * by, entry, count),
        Seen::Right(t) => Observation::right(t * by, entry, count),
        Seen::Interval(a, b) => Observation::interval(a * by, b * by, entry, count),
    }
}
