//! The factor of every part at every place on the rate of one kind of ending, from what was seen and what was expected.

use super::DRAWS;
use crate::wire::GroupKey;
use sealspan_care::ahead::places::{PartFactors, Seen as Counted, factors_of_parts};
use sealspan_records::observation::{Observation, Seen};

/// The column of places.
pub(super) const SITE: &str = "site";

/// Endings seen and expected, by part and place.
#[derive(Default)]
pub(super) struct Tally {
    parts: Vec<GroupKey>,
    places: Vec<String>,
    seen: Vec<(usize, usize, Counted)>,
}

impl Tally {
    /// The count of a part at a place, to be added to.
    pub(super) fn of(&mut self, part: &GroupKey, place: &str) -> Option<&mut Counted> {
        let part = at_or_new(&mut self.parts, part, GroupKey::clone);
        let place = at_or_new(&mut self.places, place, str::to_owned);
        let at = self.seen.iter().position(|s| (s.0, s.1) == (part, place));
        let at = at.unwrap_or_else(|| {
            self.seen.push((part, place, Counted::default()));
            self.seen.len() - 1
        });
        self.seen.get_mut(at).map(|s| &mut s.2)
    }

    /// The factors.
    pub(super) fn factors(self, seed: u64) -> PlaceFactors {
        // By name, so that the draws do not hang on which part was counted first.
        let mut order: Vec<usize> = (0..self.places.len()).collect();
        order.sort_by(|a, b| self.places.get(*a).cmp(&self.places.get(*b)));
        let none = vec![Counted::default(); order.len()];
        let mut table = vec![none; self.parts.len()];
        for (part, place, counted) in &self.seen {
            let column = order.iter().position(|at| at == place);
            let row = table.get_mut(*part);
            if let Some(cell) = row.zip(column).and_then(|(row, at)| row.get_mut(at)) {
                *cell = *counted;
            }
        }
        let named = |at: &usize| self.places.get(*at).cloned();
        PlaceFactors {
            places: order.iter().filter_map(named).collect(),
            factors: factors_of_parts(&table, DRAWS, seed),
            parts: self.parts,
        }
    }
}

fn at_or_new<T: PartialEq<Q>, Q: ?Sized>(
    list: &mut Vec<T>,
    wanted: &Q,
    own: impl Fn(&Q) -> T,
) -> usize {
    list.iter().position(|x| x == wanted).unwrap_or_else(|| {
        list.push(own(wanted));
        list.len() - 1
    })
}

/// A factor for every part at every place; 1 where nothing was seen of it.
pub(super) struct PlaceFactors {
    parts: Vec<GroupKey>,
    places: Vec<String>,
    factors: PartFactors,
}

impl PlaceFactors {
    /// At the estimate, and at every draw.
    pub(super) fn of(&self, part: &GroupKey, place: &str) -> (f64, Vec<f64>) {
        let part = self.parts.iter().position(|p| p == part);
        let place = self.places.iter().position(|p| p == place);
        let found = part.zip(place).and_then(|(part, place)| {
            let cell = |table: &[Vec<f64>]| table.get(part)?.get(place).copied();
            let drawn = self.factors.drawn.iter().filter_map(|d| cell(d));
            Some((cell(&self.factors.centre)?, drawn.collect()))
        });
        found.unwrap_or_else(|| (1.0, vec![1.0; DRAWS]))
    }
}

/// The key of a part, and the place, from a key that ends with the site.
pub(super) fn split(key: &[(String, String)]) -> Option<(GroupKey, String)> {
    let ((column, place), part) = key.split_last()?;
    (column == SITE).then(|| (GroupKey(part.to_vec()), place.clone()))
}

/// Age at the end, and 1 where the seal ended so.
pub(super) fn ending(row: &Observation) -> (f64, f64) {
    match row.seen() {
        Seen::Exact(t) => (t, 1.0),
        Seen::Right(t) => (t, 0.0),
        Seen::Interval(a, b) => (0.5 * (a + b), 1.0),
    }
}
