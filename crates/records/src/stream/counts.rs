//! Counts of distinct observations, gathered from batches and merged in order.

use crate::error::{Error, Kind};
use crate::read::MOST_DISTINCT;
use rayon::prelude::*;
use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::path::Path;

/// One observation of a group, how many seals it stands for and how many rows said so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Entry {
    pub(crate) label: u32,
    pub(crate) lower: f64,
    pub(crate) upper: f64,
    pub(crate) entry: f64,
    pub(crate) count: f64,
    pub(crate) rows: u64,
}

/// By label, then in the order of a reduced sample: exact, right, interval, each by ages.
fn order(a: &Entry, b: &Entry) -> Ordering {
    let kind = |e: &Entry| match e.upper {
        upper if upper.is_infinite() => 1_u8,
        upper if upper.to_bits() == e.lower.to_bits() => 0,
        _ => 2,
    };
    a.label
        .cmp(&b.label)
        .then_with(|| kind(a).cmp(&kind(b)))
        .then(a.lower.total_cmp(&b.lower))
        .then(a.upper.total_cmp(&b.upper))
        .then(a.entry.total_cmp(&b.entry))
}

/// Entries in the making; merged whenever they have grown to twice what is distinct, or to four times where merging
/// gained little.
#[derive(Debug, Default)]
pub(crate) struct Counts {
    /// Those merged before, in order, and behind them the new ones.
    entries: Vec<Entry>,
    merged: usize,
    most: usize,
}

/// Entries below which merging is not worth while.
const FEW: usize = 3 << 19;

impl Counts {
    /// How many were distinct when they were last merged.
    pub(crate) fn merged(&self) -> usize {
        self.merged
    }

    pub(crate) fn extend(&mut self, more: impl Iterator<Item = Entry>) {
        self.entries.extend(more);
        let before = self.entries.len();
        if before > FEW.max(self.most) {
            if let Some(new) = self.entries.get_mut(self.merged..) {
                new.sort_unstable_by(order);
            }
            // Two runs in order, which a stable sort puts together in one go.
            self.entries.sort_by(order);
            merge(&mut self.entries);
            let distinct = self.entries.len();
            self.merged = distinct;
            self.most = distinct * if 4 * distinct > 3 * before { 4 } else { 2 };
        }
    }
}

/// Whether so many distinct observations are held.
///
/// # Errors
/// More than [`MOST_DISTINCT`].
pub(crate) fn held(distinct: usize, path: &Path) -> Result<(), Error> {
    if distinct <= MOST_DISTINCT {
        return Ok(());
    }
    let what = format!(
        "more than {MOST_DISTINCT} rows tell of different things (age, entry age, how it ended, the columns asked for)"
    );
    let mend = "give ages in whole days, ask for fewer columns, or count the rows where they lie: `sealspan reduction` prints the SQL";
    Err(Error::new(Kind::TooLarge, what, mend).in_file(path))
}

/// Adds entries alike up. Counts are whole numbers, so the sums do not hang on the order.
fn merge(sorted: &mut Vec<Entry>) {
    sorted.dedup_by(|next, kept| {
        let same = order(next, kept).is_eq();
        if same {
            kept.count += next.count;
            kept.rows += next.rows;
        }
        same
    });
}

/// The values of the group columns of an observation, in their order.
pub(crate) type Label = Vec<Option<String>>;

/// A number for each label, given as they come.
#[derive(Debug, Default)]
pub(crate) struct Labels(BTreeMap<Label, u32>);

impl Labels {
    pub(crate) fn code(&mut self, label: Label) -> u32 {
        let next = self.0.len() as u32;
        *self.0.entry(label).or_insert(next)
    }
}

/// All counts in one list in the order of label, ages and entry, and the labels in order: the same whatever
/// the order in which batches came.
pub(crate) fn whole(parts: Vec<Counts>, labels: Labels) -> (Vec<Entry>, Vec<Label>) {
    let mut rank = vec![0_u32; labels.0.len()];
    let mut list = Vec::with_capacity(labels.0.len());
    for (new, (label, old)) in (0..).zip(labels.0) {
        if let Some(slot) = rank.get_mut(old as usize) {
            *slot = new;
        }
        list.push(label);
    }
    let mut all: Vec<Entry> = Vec::new();
    for mut part in parts {
        if all.is_empty() {
            all = part.entries;
        } else {
            all.append(&mut part.entries);
        }
    }
    for entry in &mut all {
        entry.label = rank.get(entry.label as usize).copied().unwrap_or(0);
    }
    all.par_sort_unstable_by(order);
    merge(&mut all);
    (all, list)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(label: u32, age: f64) -> Entry {
        Entry {
            label,
            lower: age,
            upper: age,
            entry: 0.0,
            count: 2.0,
            rows: 1,
        }
    }

    #[test]
    fn the_order_of_parts_changes_nothing() {
        let label = |word: &str| vec![Some(word.to_owned())];
        let gathered = |words: [&str; 2], flip: bool| {
            let mut labels = Labels::default();
            let codes = words.map(|w| labels.code(label(w)));
            let code = |word| codes[usize::from(words[0] != word)];
            let mut parts = [Counts::default(), Counts::default()];
            parts[0].extend([entry(code("north"), 9.0), entry(code("south"), 3.0)].into_iter());
            parts[1].extend([entry(code("south"), 3.0), entry(code("north"), 1.0)].into_iter());
            if flip {
                parts.reverse();
            }
            whole(Vec::from(parts), labels)
        };
        let (all, labels) = gathered(["north", "south"], false);
        assert_eq!(
            (all.clone(), labels.clone()),
            gathered(["south", "north"], true)
        );
        assert_eq!(labels, [label("north"), label("south")]);
        assert_eq!(all.len(), 3);
        assert_eq!((all[2].count, all[2].rows), (4.0, 2));
    }

    #[test]
    fn more_than_can_be_held_is_refused_in_words() {
        let folder = Path::new("fleet");
        assert!(held(MOST_DISTINCT, folder).is_ok());
        let why = held(MOST_DISTINCT + 1, folder).err();
        let told = why.map(|why| (why.kind(), why.to_string()));
        let whole = |(kind, told): &(&str, String)| {
            *kind == "too_large" && told.contains("fleet") && told.contains("16777216")
        };
        assert!(told.as_ref().is_some_and(whole), "{told:?}");
    }

    #[test]
    fn what_is_alike_is_merged_on_the_way() {
        let mut counts = Counts::default();
        for _ in 0..40 {
            counts.extend((0..100_000).map(|i| entry(0, f64::from(i % 50))));
        }
        assert!(counts.entries.len() <= FEW, "{}", counts.entries.len());
        assert_eq!(counts.merged(), 50);
        let (all, _) = whole(vec![counts], Labels::default());
        assert_eq!(all.len(), 50);
        assert_eq!(all.iter().map(|e| e.rows).sum::<u64>(), 4_000_000);
    }
}
