//! Alike seals: what the place of a seal does to its life, so that a position or a batch is held against seals that
//! live as it does.
//!
//! Places differ in site, heat, cleaning, product and duty, and neither positions nor batches share them evenly.
//! Within each stratum (as a rule a material) ln life is shifted by the place, and by the logarithm of the duty of
//! the asset; ages over e to that shift have the stratum's own law.

use super::screen::{duties, groupings};
use crate::wire::GroupKey;
use sealspan_life::regression::{Design, Line, Penalty, Regression};
use sealspan_life::terms::Terms;
use sealspan_records::observation::NotAnObservation;
use sealspan_records::{Clock, Observation, Question, Records, Sample, Seen, ask};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Places are held near their stratum this loosely: a factor of e either way (a rule of ours).
const LOOSE: f64 = 1.0;
/// Most places told apart by one column; a column with more names single assets (a rule of ours).
const MOST: usize = 30;
/// Duties that differ less than this, as a standard deviation of ln duty, are one duty (a rule of ours).
const ONE_DUTY: f64 = 0.02;

/// The columns that tell places apart: the site, and what the table of assets says of them.
pub fn place_columns(records: &Records, given: &[String]) -> Vec<String> {
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

/// Ln of cycles or hours a day of each asset, middle 0. `None` where fewer than half of the assets have readings,
/// ages are not days, or all have one duty.
pub fn ln_duty(records: &Records, clock: Clock) -> Option<BTreeMap<String, f64>> {
    let named: BTreeSet<&str> = records
        .seals
        .iter()
        .filter_map(|s| s.asset.as_deref())
        .collect();
    let known = duties(records);
    if clock != Clock::Days || known.is_empty() || 2 * known.len() < named.len() {
        return None;
    }
    let n = known.len() as f64;
    let mean = known.values().map(|d| d.ln()).sum::<f64>() / n;
    let square: f64 = known.values().map(|d| (d.ln() - mean).powi(2)).sum();
    ((square / n).sqrt() > ONE_DUTY).then(|| {
        let own = known.into_iter();
        own.map(|(asset, d)| (asset.to_owned(), d.ln() - mean))
            .collect()
    })
}

/// What is held constant, in words: the columns of the places and the duty.
pub fn words(records: &Records, places: &[String], duty: bool) -> Vec<String> {
    let mut out = places.to_vec();
    if duty {
        let unit = records.study.question.readings.unwrap_or_default().unit();
        out.push(format!("{unit} a day of the asset"));
    }
    out
}

/// The words of a place.
pub fn place(key: &[(String, String)]) -> String {
    GroupKey(key.to_vec()).words()
}

/// A seal with what tells its like.
pub struct Seat<'a> {
    /// Number of its stratum.
    pub stratum: usize,
    /// Its place; the same words are the same place.
    pub place: &'a str,
    /// Ln duty of its asset, 0 where none is known.
    pub ln_duty: f64,
    /// Further mark by which seals are kept apart in the design without an effect of their own.
    pub mark: usize,
    /// Its life.
    pub life: Observation,
}

/// The regression that tells how places shift lives, not fitted yet.
pub struct Draft {
    /// The design.
    pub design: Design,
    /// Lives of each of its lines.
    pub samples: Vec<Sample>,
    /// Mark of each of its lines.
    pub marks: Vec<usize>,
    /// Whether places or duties are told apart.
    pub adjusted: bool,
    strata: usize,
    /// Line of each seat, in the order given.
    lines: Vec<usize>,
}

type Key<'a> = (usize, &'a str, u64, usize);

impl Draft {
    /// Lays the design out; with the strata alone unless `adjust`.
    pub fn new(strata: usize, seats: &[Seat<'_>], adjust: bool) -> Self {
        let duty = adjust && seats.iter().any(|s| s.ln_duty != 0.0);
        let cells = if adjust {
            cells(seats)
        } else {
            BTreeSet::new()
        };
        let key = |s: &Seat<'_>| match duty {
            true => s.ln_duty.to_bits(),
            false => 0,
        };
        let mut rows: BTreeMap<Key<'_>, Vec<Observation>> = BTreeMap::new();
        for s in seats {
            let own = rows.entry((s.stratum, s.place, key(s), s.mark));
            own.or_default().push(s.life);
        }
        let at: BTreeMap<Key<'_>, usize> = rows.keys().copied().zip(0..).collect();
        let line = |s: &Seat<'_>| at.get(&(s.stratum, s.place, key(s), s.mark)).copied();
        let lines = seats.iter().filter_map(line).collect();
        let marks = rows.keys().map(|key| key.3).collect();
        let samples: BTreeMap<Key<'_>, Sample> = rows
            .into_iter()
            .map(|(key, lives)| (key, Sample::new(lives)))
            .collect();
        Self {
            design: design(strata, &cells, duty, &samples),
            samples: samples.into_values().collect(),
            marks,
            adjusted: duty || !cells.is_empty(),
            strata,
            lines,
        }
    }

    /// Line of the design of each seat, in the order given.
    pub fn lines_of_seats(&self) -> impl Iterator<Item = &Line> {
        self.lines
            .iter()
            .filter_map(|at| self.design.lines.get(*at))
    }

    /// Shift of ln life of each seat against its stratum.
    pub fn shifts(&self, fit: &Regression) -> Vec<f64> {
        // The first columns are the strata; the rest is the place.
        let shift = |line: &Line| -> f64 {
            let own = line.row.iter().filter(|(column, _)| *column >= self.strata);
            own.map(|(column, v)| v * fit.x.get(*column).copied().unwrap_or(0.0))
                .sum()
        };
        let each: Vec<f64> = self.design.lines.iter().map(shift).collect();
        let of = |at: &usize| each.get(*at).copied().unwrap_or(0.0);
        self.lines.iter().map(of).collect()
    }
}

/// Places within strata that get an effect: all where a stratum has more than one.
fn cells<'a>(seats: &[Seat<'a>]) -> BTreeSet<(usize, &'a str)> {
    let all: BTreeSet<(usize, &str)> = seats.iter().map(|s| (s.stratum, s.place)).collect();
    let mut number: BTreeMap<usize, usize> = BTreeMap::new();
    for (stratum, _) in &all {
        *number.entry(*stratum).or_default() += 1;
    }
    let several = |(stratum, _): &(usize, &str)| number.get(stratum).is_some_and(|n| *n > 1);
    all.into_iter().filter(several).collect()
}

/// One column a stratum, the first being the intercept, then one a place within a stratum, then the duty.
fn design(
    strata: usize,
    cells: &BTreeSet<(usize, &str)>,
    duty: bool,
    rows: &BTreeMap<Key<'_>, Sample>,
) -> Design {
    let mut names: Vec<String> = (0..strata).map(|s| format!("stratum {s}")).collect();
    let mut penalties = vec![];
    let mut columns = BTreeMap::new();
    for (stratum, place) in cells {
        let at = names.len();
        names.push(format!("{place} in {stratum}"));
        columns.insert((*stratum, *place), at);
        penalties.push(Penalty {
            at,
            mean: 0.0,
            sd: LOOSE,
        });
    }
    let last = names.len();
    if duty {
        names.push("ln duty".to_owned());
    }
    let line = |((stratum, place, bits, _), sample): (&Key<'_>, &Sample)| {
        let mut row = vec![(0, 1.0)];
        row.extend((*stratum > 0).then_some((*stratum, 1.0)));
        row.extend(columns.get(&(*stratum, *place)).map(|at| (*at, 1.0)));
        let x = f64::from_bits(*bits);
        row.extend((duty && x != 0.0).then_some((last, x)));
        Line {
            row,
            offset: 0.0,
            stratum: *stratum,
            terms: Arc::new(Terms::new(sample)),
        }
    };
    Design {
        lines: rows.iter().map(line).collect(),
        names,
        strata,
        penalties,
    }
}

/// A life at the ages it would have had in a middling place.
pub fn moved(life: &Observation, shift: f64) -> Result<Observation, NotAnObservation> {
    let by = (-shift).exp();
    let (entry, count) = (life.entry() * by, life.count());
    match life.seen() {
        Seen::Exact(t) => Observation::exact(t * by, entry, count),
        Seen::Right(t) => Observation::right(t * by, entry, count),
        Seen::Interval(a, b) => Observation::interval(a * by, b * by, entry, count),
    }
}
