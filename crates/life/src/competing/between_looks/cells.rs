//! The stretches of age that can carry mass of each mode, and each life as ranges of them.
//!
//! A life that ended by a mode says nothing of the others' stretches; one still sound says that it will end in any of
//! the stretches to come, or after all looks, by a mode not told. A stretch of a mode begins at the lower end of a
//! failure by it or at the last age of a sound seal, and ends at the next upper end of a failure by it (Turnbull 1976
//! for each mode, as in Hudgens, Satten & Longini 2001).

use crate::turnbull::cells::{End, Mark, bits, ends, innermost};
use crate::turnbull::problem::{Kind, Range};
use sealspan_records::observation::Seen;
use std::collections::BTreeMap;

/// A life, with how many alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Row {
    pub seen: Seen,
    pub entry: f64,
    pub mode: Option<usize>,
    pub weight: f64,
}

impl Row {
    /// What lives alike agree in, in an order that does not hang on that of the records.
    pub fn key(&self) -> (u64, u64, u64, usize) {
        let ((lower, _), (upper, _)) = ends(self.seen);
        let mode = self.mode.map_or(usize::MAX, |m| m);
        (lower, upper, bits(self.entry), mode)
    }
}

/// A stretch of a mode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cell {
    pub mode: usize,
    pub lower: f64,
    pub upper: f64,
}

/// One kind of life.
pub(super) struct Told {
    inside: Vec<Range>,
    watched: Vec<Range>,
    weight: f64,
}

impl Kind for Told {
    fn inside(&self) -> impl Iterator<Item = Range> {
        self.inside.iter().copied()
    }
    fn watched(&self) -> impl Iterator<Item = Range> {
        self.watched.iter().copied()
    }
    fn late(&self) -> bool {
        !self.watched.is_empty()
    }
    fn weight(&self) -> f64 {
        self.weight
    }
}

/// The stretches of every mode in turn, the lives over them, and how many cells there are: where seals were last seen
/// sound one more than stretches, for what comes after all looks.
pub(super) struct Cells {
    pub stretches: Vec<Cell>,
    pub told: Vec<Told>,
    pub count: usize,
}

/// The stretches of one mode, and the number of the first among all.
struct Own {
    first: usize,
    marks: Vec<(Mark, Mark)>,
}

impl Own {
    fn of(mode: usize, rows: &[Row], common: &[Mark], first: usize) -> Self {
        let failures = rows.iter().filter(|r| r.mode == Some(mode));
        let failures: Vec<(Mark, Mark)> = failures.map(|r| ends(r.seen)).collect();
        let own = failures.iter().flat_map(|(lower, upper)| [*lower, *upper]);
        let all = Self {
            first: 0,
            marks: innermost(common.iter().copied().chain(own).collect()),
        };
        // Between a sound seal's last age and an entry no failure may lie: then nobody is known to fail there.
        let mut steps = vec![0_i64; all.marks.len() + 1];
        for (lower, upper) in &failures {
            let (low, high) = all.within(*lower, *upper);
            for (at, step) in [(low, 1), (high, -1)] {
                if let Some(slot) = steps.get_mut(at) {
                    *slot += step;
                }
            }
        }
        let mut over = 0;
        let covered = all.marks.into_iter().zip(steps).filter_map(|(mark, step)| {
            over += step;
            (over > 0).then_some(mark)
        });
        Self {
            first,
            marks: covered.collect(),
        }
    }

    fn within(&self, lower: Mark, upper: Mark) -> Range {
        let low = self.marks.partition_point(|c| c.0 < lower);
        let high = self.marks.partition_point(|c| c.1 <= upper);
        (self.first + low, self.first + high)
    }

    /// Those that begin at or after an age.
    fn from(&self, age: f64) -> Range {
        let low = self.marks.partition_point(|c| c.0 < (bits(age), End::Open));
        (self.first + low, self.first + self.marks.len())
    }
}

pub(super) fn cells(rows: &[Row], modes: usize) -> Cells {
    let mut common = vec![];
    for r in rows {
        if let Seen::Right(_) = r.seen {
            common.push(ends(r.seen).0);
        }
        if r.entry > 0.0 {
            // Mass must not straddle an entry age (Frydman 1994).
            common.push((bits(r.entry), End::Upper));
        }
    }
    let mut all: Vec<Own> = vec![];
    let mut stretches = vec![];
    for mode in 0..modes {
        let own = Own::of(mode, rows, &common, stretches.len());
        stretches.extend(own.marks.iter().map(|(a, b)| Cell {
            mode,
            lower: f64::from_bits(a.0),
            upper: f64::from_bits(b.0),
        }));
        all.push(own);
    }
    let sound = rows.iter().any(|r| r.mode.is_none());
    let beyond = (stretches.len(), stretches.len() + 1);
    // What comes after all looks first: a search may begin there.
    let from = |age: f64| -> Vec<Range> {
        let later = all.iter().map(|own| own.from(age));
        let beyond = sound.then_some(beyond).into_iter();
        beyond.chain(later.filter(|r| r.0 < r.1)).collect()
    };
    let mut told: BTreeMap<(Vec<Range>, Vec<Range>), f64> = BTreeMap::new();
    for r in rows {
        let (lower, upper) = ends(r.seen);
        let inside = match (r.seen, r.mode.and_then(|m| all.get(m))) {
            (Seen::Right(age), _) => from(age),
            (_, Some(own)) => vec![own.within(lower, upper)],
            (_, None) => vec![],
        };
        let watched = if r.entry > 0.0 { from(r.entry) } else { vec![] };
        *told.entry((inside, watched)).or_insert(0.0) += r.weight;
    }
    let kind = |((inside, watched), weight)| Told {
        inside,
        watched,
        weight,
    };
    Cells {
        count: stretches.len() + usize::from(sound),
        stretches,
        told: told.into_iter().map(kind).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One mode: a failure by 10, a seal sound at 12, and a late one under watch from 20 that failed between 25 and 30.
    /// Nobody is known to have failed between 12 and 20, so that no stretch lies there; what the late seal tells is
    /// against all that comes after its entry, what the others tell is not.
    #[test]
    fn no_stretch_lies_where_nobody_is_known_to_fail() {
        let row = |seen, entry, mode| Row {
            seen,
            entry,
            mode,
            weight: 1.0,
        };
        let rows = [
            row(Seen::Interval(0.0, 10.0), 0.0, Some(0)),
            row(Seen::Right(12.0), 0.0, None),
            row(Seen::Interval(25.0, 30.0), 20.0, Some(0)),
        ];
        let found = cells(&rows, 1);
        let stretches: Vec<_> = found.stretches.iter().map(|c| (c.lower, c.upper)).collect();
        assert_eq!(stretches, [(0.0, 10.0), (25.0, 30.0)]);
        // By what each can lie in: the late seal alone is watched for the second stretch and all after it.
        let told = |t: &Told| (t.inside.clone(), t.watched.clone());
        let told: Vec<_> = found.told.iter().map(told).collect();
        assert_eq!(
            told,
            [
                (vec![(0, 1)], vec![]),
                (vec![(1, 2)], vec![(2, 3), (1, 2)]),
                (vec![(2, 3), (1, 2)], vec![]),
            ]
        );
    }
}
