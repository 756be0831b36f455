//! Drawn lives of seals: few or many, of all ages or of a few, most of them failed or most still running.

use proptest::prelude::*;
use sealspan_records::{Observation, Sample};

/// What is known of a seal's end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// Failed at its age.
    Failed,
    /// Still running at its age.
    Running,
    /// Failed after its age, by as much later as its row is wide.
    Between,
    /// Failed by its age, at the first look.
    Before,
}

/// An ended or running seal; ages in whole days.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    pub age: u32,
    pub kind: Kind,
    pub width: u32,
    pub entry: u32,
    pub count: u32,
}

impl Row {
    pub fn seen(self, unit: f64, count: f64) -> Option<Observation> {
        let t = |x: u32| f64::from(x) * unit;
        let entry = t(self.entry.min(self.age / 2));
        match self.kind {
            Kind::Failed => Observation::exact(t(self.age), entry, count),
            Kind::Running => Observation::right(t(self.age), entry, count),
            Kind::Between => {
                Observation::interval(t(self.age), t(self.age + self.width), entry, count)
            }
            Kind::Before => Observation::interval(0.0, t(self.age), entry, count),
        }
        .ok()
    }

    /// Its seals one by one.
    pub fn apart(self, unit: f64) -> impl Iterator<Item = Observation> {
        std::iter::repeat_n(self.seen(unit, 1.0), self.count as usize).flatten()
    }
}

pub fn sample<'a>(rows: impl IntoIterator<Item = &'a Row>, unit: f64) -> Sample {
    let seen = rows
        .into_iter()
        .filter_map(|r| r.seen(unit, f64::from(r.count)));
    Sample::new(seen.collect())
}

/// How the seals of a log may have been watched.
#[derive(Debug, Clone, Copy)]
pub struct Watched {
    /// Some failures are known only to lie between looks.
    pub looks: bool,
    /// Some seals are watched only from a later age.
    pub late: bool,
}

impl Watched {
    pub const ALL: Self = Self {
        looks: true,
        late: true,
    };
    pub const FROM_NEW: Self = Self {
        looks: true,
        late: false,
    };
    pub const EXACT: Self = Self {
        looks: false,
        late: true,
    };
}

/// Up to `most` rows.
pub fn rows(most: usize, watched: Watched) -> impl Strategy<Value = Vec<Row>> {
    let days = prop::sample::select(vec![6_u32, 40, 900]);
    let running = prop::sample::select(vec![0.1, 0.5, 0.9]);
    let looks = prop::sample::select(if watched.looks {
        vec![0.0, 0.3, 1.0]
    } else {
        vec![0.0]
    });
    let late = prop::sample::select(if watched.late { vec![0, 1] } else { vec![0] });
    let sizes = prop::sample::select(vec![8, most]);
    (days, running, looks, late, sizes).prop_flat_map(|(days, running, looks, late, size)| {
        let ends = prop::array::uniform3(0.0..1.0_f64);
        let row = (1..=days, ends, 1..=days, 0..=days, 1..5_u32).prop_map(
            move |(age, [end, look, before], width, entry, count)| {
                let kind = match (end < running, look < looks, before < 0.2) {
                    (true, ..) => Kind::Running,
                    (false, false, _) => Kind::Failed,
                    (false, true, false) => Kind::Between,
                    (false, true, true) => Kind::Before,
                };
                Row {
                    age,
                    kind,
                    width,
                    entry: entry * late,
                    count,
                }
            },
        );
        prop::collection::vec(row, 2..=size)
    })
}

pub fn near(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance * a.abs().max(b.abs())
}
