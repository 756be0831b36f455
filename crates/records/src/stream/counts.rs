//! Counts of distinct observations, gathered from the batches of all threads.

use crate::error::{Error, Kind};
use crate::read::MOST_DISTINCT;
use polars::prelude::{PlHashMap, PlRandomState};
use rayon::prelude::*;
use std::cmp;
use std::collections::BTreeMap;
use std::hash::BuildHasher;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

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
fn order(a: &Entry, b: &Entry) -> cmp::Ordering {
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

/// What tells an observation from others.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Told {
    label: u32,
    /// Lower end, upper end and entry age, by their bits.
    ages: [u64; 3],
}

/// How many seals it stands for, and rows.
type Tally = (f64, u64);

/// The counts of all threads. Observations are spread over parts by their hash: a thread waits for another only
/// at the same part, and what it looks up there lies close together.
pub(crate) struct Counts {
    labels: Mutex<Labels>,
    parts: Vec<Mutex<PlHashMap<Told, Tally>>>,
    spread: PlRandomState,
    distinct: AtomicUsize,
}

/// As many as a byte tells apart.
const PARTS: usize = 1 << 8;

impl Counts {
    pub(crate) fn new() -> Self {
        Self {
            labels: Mutex::default(),
            parts: (0..PARTS).map(|_| Mutex::default()).collect(),
            spread: PlRandomState::default(),
            distinct: AtomicUsize::new(0),
        }
    }

    /// How many distinct observations are held.
    pub(crate) fn distinct(&self) -> usize {
        self.distinct.load(Ordering::Relaxed)
    }

    /// The number of a label, given as they come.
    pub(crate) fn label(&self, label: Label) -> u32 {
        lock(&self.labels).code(label)
    }

    pub(crate) fn add(&self, entries: &[Entry]) {
        let part = |entry: &Entry| self.spread.hash_one(entry.told()).to_le_bytes()[4];
        let mut order: Vec<(u8, u32)> = (0..).zip(entries).map(|(at, e)| (part(e), at)).collect();
        order.sort_unstable_by_key(|(part, _)| *part);
        for run in order.chunk_by(|a, b| a.0 == b.0) {
            let part = run
                .first()
                .and_then(|(part, _)| self.parts.get(usize::from(*part)));
            let Some(mut part) = part.map(lock) else {
                continue;
            };
            let before = part.len();
            for entry in run.iter().filter_map(|(_, at)| entries.get(*at as usize)) {
                let tally = part.entry(entry.told()).or_default();
                tally.0 += entry.count;
                tally.1 += entry.rows;
            }
            self.distinct
                .fetch_add(part.len() - before, Ordering::Relaxed);
        }
    }

    /// All counts in one list in the order of label, ages and entry, and the labels in order: the same whatever
    /// the order in which batches came. Counts are whole numbers, so their sums do not hang on it either.
    pub(crate) fn whole(self) -> (Vec<Entry>, Vec<Label>) {
        let distinct = self.distinct();
        let labels = self
            .labels
            .into_inner()
            .unwrap_or_else(PoisonError::into_inner);
        let mut rank = vec![0_u32; labels.0.len()];
        let mut list = Vec::with_capacity(labels.0.len());
        for (new, (label, old)) in (0..).zip(labels.0) {
            if let Some(slot) = rank.get_mut(old as usize) {
                *slot = new;
            }
            list.push(label);
        }
        let mut all = Vec::with_capacity(distinct);
        for part in self.parts {
            let part = part.into_inner().unwrap_or_else(PoisonError::into_inner);
            all.extend(part.into_iter().map(|(told, tally)| {
                let label = rank.get(told.label as usize).copied().unwrap_or(0);
                Entry::of(label, told, tally)
            }));
        }
        all.par_sort_unstable_by(order);
        (all, list)
    }
}

impl Entry {
    fn told(&self) -> Told {
        Told {
            label: self.label,
            ages: [self.lower, self.upper, self.entry].map(f64::to_bits),
        }
    }

    fn of(label: u32, told: Told, (count, rows): Tally) -> Self {
        let [lower, upper, entry] = told.ages.map(f64::from_bits);
        Self {
            label,
            lower,
            upper,
            entry,
            count,
            rows,
        }
    }
}

fn lock<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
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

/// The values of the group columns of an observation, in their order.
pub(crate) type Label = Vec<Option<String>>;

/// A number for each label.
#[derive(Debug, Default)]
struct Labels(BTreeMap<Label, u32>);

impl Labels {
    fn code(&mut self, label: Label) -> u32 {
        let next = self.0.len() as u32;
        *self.0.entry(label).or_insert(next)
    }
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
    fn the_order_of_batches_changes_nothing() {
        let label = |word: &str| vec![Some(word.to_owned())];
        let gathered = |words: [&str; 2], flip: bool| {
            let counts = Counts::new();
            let codes = words.map(|w| counts.label(label(w)));
            let code = |word| codes[usize::from(words[0] != word)];
            let mut batches = [
                [entry(code("north"), 9.0), entry(code("south"), 3.0)],
                [entry(code("south"), 3.0), entry(code("north"), 1.0)],
            ];
            if flip {
                batches.reverse();
            }
            batches.iter().for_each(|batch| counts.add(batch));
            counts.whole()
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

    /// A failure, a running seal, one seen between looks and late ones of the same ages stay apart.
    #[test]
    fn what_differs_in_one_age_is_told_apart() {
        let counts = Counts::new();
        let kinds = [
            (5.0, 0.0),
            (f64::INFINITY, 0.0),
            (f64::INFINITY, 2.0),
            (7.0, 0.0),
            (7.0, 2.0),
        ];
        let of = |(upper, late): (f64, f64)| Entry {
            upper,
            entry: late,
            ..entry(0, 5.0)
        };
        let batch = kinds.map(of);
        counts.add(&batch);
        counts.add(&batch);
        let twice = batch.map(|entry| Entry {
            count: 4.0,
            rows: 2,
            ..entry
        });
        assert_eq!(counts.distinct(), batch.len());
        assert_eq!(counts.whole(), (twice.to_vec(), vec![]));
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
    fn what_is_alike_is_held_once_whichever_thread_tells_it() {
        let counts = Counts::new();
        let batch = |n: u32| (0..20_000).map(move |i| entry(0, f64::from((i + n) % 5000)));
        (0..40_u32)
            .into_par_iter()
            .for_each(|n| counts.add(&batch(n).collect::<Vec<_>>()));
        assert_eq!(counts.distinct(), 5000);
        let (all, _) = counts.whole();
        assert!(all.iter().all(|e| (e.count, e.rows) == (320.0, 160)));
        let ages: Vec<f64> = all.iter().map(|e| e.lower).collect();
        assert_eq!(ages, (0..5000).map(f64::from).collect::<Vec<_>>());
    }
}
