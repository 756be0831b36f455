//! The stretches that can carry mass, and each observation as a range of them.

use super::problem::{Kind, Range};
use sealspan_records::observation::{Sample, Seen};
use std::iter::once;

/// A cell: the stretch between a lower end and the next upper end.
pub(super) type Ends = (f64, f64);

/// One kind of observation: may lie in cells `low..high`, was watched for cells `entry..` of `all`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Cells {
    low: usize,
    high: usize,
    entry: usize,
    all: usize,
    weight: f64,
}

impl Kind for Cells {
    fn inside(&self) -> impl Iterator<Item = Range> {
        once((self.low, self.high))
    }
    fn watched(&self) -> impl Iterator<Item = Range> {
        once((self.entry, self.all)).filter(|_| self.late())
    }
    fn late(&self) -> bool {
        self.entry > 0
    }
    fn weight(&self) -> f64 {
        self.weight
    }
}

/// Order of ends at one age: the closed lower end of an exact age, upper ends, open lower ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum End {
    Closed,
    Upper,
    Open,
}

/// An end of an observation: age as sortable bits, and its place among the ends at that age.
pub(crate) type Mark = (u64, End);

pub(crate) fn bits(t: f64) -> u64 {
    t.to_bits()
}

/// Lower and upper ends of an observation.
pub(crate) fn ends(seen: Seen) -> (Mark, Mark) {
    match seen {
        Seen::Exact(t) => ((bits(t), End::Closed), (bits(t), End::Upper)),
        Seen::Right(t) => ((bits(t), End::Open), (bits(f64::INFINITY), End::Upper)),
        Seen::Interval(a, b) => ((bits(a), End::Open), (bits(b), End::Upper)),
    }
}

/// Stretches from a lower end to the next upper end.
pub(crate) fn innermost(mut marks: Vec<Mark>) -> Vec<(Mark, Mark)> {
    marks.sort_unstable();
    marks.dedup();
    let pair = |w: &[Mark]| match w {
        [a, b] if a.1 != End::Upper && b.1 == End::Upper => Some((*a, *b)),
        _ => None,
    };
    marks.windows(2).filter_map(pair).collect()
}

/// The stretches in which some seal may have failed, and what comes after all looks: from a sound seal's last age to an
/// entry nobody was under watch, and what share fails there is not known; none is taken to.
fn where_some_failed(inner: Vec<(Mark, Mark)>, sample: &Sample) -> Vec<(Mark, Mark)> {
    let mut steps = vec![0_i64; inner.len() + 1];
    for o in sample.rows().iter().filter(|o| o.ended()) {
        let (lower, upper) = ends(o.seen());
        let low = inner.partition_point(|c| c.0 < lower);
        let high = inner.partition_point(|c| c.1 <= upper);
        for (at, step) in [(low, 1), (high, -1)] {
            if let Some(slot) = steps.get_mut(at) {
                *slot += step;
            }
        }
    }
    let mut over = 0;
    let known = inner.into_iter().zip(steps).filter_map(|(cell, step)| {
        over += step;
        let beyond = cell.1.0 == bits(f64::INFINITY);
        (over > 0 || beyond).then_some(cell)
    });
    known.collect()
}

/// Innermost stretches, and each observation as a range of them (equal ones merged).
pub(super) fn cells(sample: &Sample) -> (Vec<Ends>, Vec<Cells>) {
    let mut marks = Vec::with_capacity(2 * sample.rows().len());
    for o in sample.rows() {
        let (lower, upper) = ends(o.seen());
        marks.extend([lower, upper]);
        if o.entry() > 0.0 {
            // Mass must not straddle an entry age (Frydman 1994).
            marks.push((bits(o.entry()), End::Upper));
        }
    }
    let inner = where_some_failed(innermost(marks), sample);
    let observed = sample.rows().iter().map(|o| {
        let (lower, upper) = ends(o.seen());
        Cells {
            low: inner.partition_point(|c| c.0 < lower),
            high: inner.partition_point(|c| c.1 <= upper),
            entry: if o.entry() > 0.0 {
                inner.partition_point(|c| c.0 < (bits(o.entry()), End::Open))
            } else {
                0
            },
            all: inner.len(),
            weight: o.count(),
        }
    });
    let ends = inner
        .iter()
        .map(|c| (f64::from_bits(c.0.0), f64::from_bits(c.1.0)))
        .collect();
    (ends, merged(observed.collect()))
}

/// Equal observations as one, in order of their cells.
fn merged(mut observed: Vec<Cells>) -> Vec<Cells> {
    let key = |o: &Cells| (o.low, o.high, o.entry);
    // A stable sort, so that weights are always added in the order of the records.
    observed.sort_by_key(key);
    observed.dedup_by(|next, kept| {
        let same = key(next) == key(kept);
        if same {
            kept.weight += next.weight;
        }
        same
    });
    observed
}

#[cfg(test)]
mod tests {
    use super::*;
    use sealspan_records::observation::Observation;

    /// Stretches between two failures, where no seal that failed can have done so, carry nothing; what comes after all
    /// looks may.
    #[test]
    fn stretches_without_a_failure_carry_nothing() {
        let cell = |low: f64, high: f64| ((bits(low), End::Open), (bits(high), End::Upper));
        let cells = [
            (5.0, 10.0),
            (20.0, 30.0),
            (35.0, 40.0),
            (50.0, f64::INFINITY),
        ];
        let inner = cells.map(|(low, high)| cell(low, high));
        let rows = [
            Observation::interval(5.0, 10.0, 0.0, 1.0),
            Observation::right(20.0, 0.0, 1.0),
            Observation::interval(35.0, 40.0, 30.0, 1.0),
            Observation::right(50.0, 0.0, 1.0),
        ];
        let sample = Sample::new(rows.into_iter().flatten().collect());
        let kept = where_some_failed(inner.to_vec(), &sample);
        assert_eq!(kept, [inner[0], inner[2], inner[3]]);
    }
}
