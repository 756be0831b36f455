//! The seals of a regression: those with every column filled, gathered by design row and by cluster.

use super::options::CompareOptions;
use super::plan::Plan;
use super::{Keyed, value};
use sealspan_life::regression::{Clustered, Line, Place};
use sealspan_life::terms::Terms;
use sealspan_records::{NONE, Observation, Sample};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Groups with every model column filled, and what was set aside for want of one, in words.
pub fn complete(groups: &[Keyed], options: &CompareOptions) -> (Vec<Keyed>, Vec<String>) {
    let columns = options.model_columns();
    let mut lacking: BTreeMap<&String, f64> = BTreeMap::new();
    let mut kept = vec![];
    for (key, sample) in groups {
        let empty = columns.iter().find(|c| {
            let text = value(key, c).trim();
            text.is_empty() || text == NONE
        });
        match empty {
            Some(column) => *lacking.entry(column).or_default() += sample.tally().total(),
            // In one order: ages drawn between looks must not hang on how the rows were listed.
            None => kept.push((key.clone(), sample.in_order())),
        }
    }
    let remarks = lacking.into_iter().map(|(column, seals)| {
        format!("{seals:.0} seals have no `{column}` and are set aside here")
    });
    (kept, remarks.collect())
}

/// The design rows of the groups.
pub fn places(groups: &[Keyed], plan: &Plan) -> Result<Vec<Place>, String> {
    groups
        .iter()
        .map(|(key, _)| plan.place(&|column| Some(value(key, column))))
        .collect()
}

/// Equal rows gathered, so that a regression costs as much as its distinct rows.
pub fn lines(groups: &[Keyed], places: &[Place]) -> Vec<Line> {
    type Bits = (Vec<(usize, u64)>, u64, usize);
    let bits = |p: &Place| -> Bits {
        let row = p.row.iter().map(|(at, v)| (*at, v.to_bits()));
        (row.collect(), p.offset.to_bits(), p.stratum)
    };
    let mut all: BTreeMap<Bits, (&Place, Vec<Observation>)> = BTreeMap::new();
    for ((_, sample), place) in groups.iter().zip(places) {
        let slot = all.entry(bits(place)).or_insert_with(|| (place, vec![]));
        slot.1.extend_from_slice(sample.rows());
    }
    all.into_values()
        .map(|(place, rows)| Line {
            row: place.row.clone(),
            offset: place.offset,
            stratum: place.stratum,
            terms: Arc::new(Terms::new(&Sample::new(rows))),
        })
        .collect()
}

/// The seals of each cluster.
pub fn clustered<'a>(groups: &'a [Keyed], places: &'a [Place], column: &str) -> Vec<Clustered<'a>> {
    groups
        .iter()
        .zip(places)
        .map(|((key, sample), place)| Clustered {
            cluster: value(key, column),
            row: &place.row,
            offset: place.offset,
            stratum: place.stratum,
            terms: Terms::new(sample),
        })
        .collect()
}
