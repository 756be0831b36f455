//! What each position is expected to consume: at the ages that its seals reached, and as an ordinary place over the
//! same time.

use super::key;
use super::like::Likened;
use crate::wire::Number;
use crate::wire::positions::Expectation;
use sealspan_life::bounds::{Method, bounds};
use sealspan_life::fit::{Fit, fit};
use sealspan_life::laws;
use sealspan_life::life::Life;
use sealspan_life::quantity::Quantity;
use sealspan_life::recurrence::hungry::Count;
use sealspan_life::recurrence::ordinary::{Piece, expected};
use sealspan_life::sectors::severity::Shape;
use sealspan_records::observation::{Observation, Sample, Seen};
use sealspan_records::positions::PositionLog;
use std::collections::BTreeMap;

/// Replacements below which a kind of seal gets no shape of its own.
const FEW: f64 = 5.0;

type Like = Vec<(String, String)>;

/// What the replacements of a kind of seal follow.
enum Basis {
    Weibull { fit: Fit, life: Life },
    Rate(f64),
}

/// The expectation of every kind, and of the fleet.
pub(super) struct Expected {
    kinds: BTreeMap<Like, (Sample, Option<Basis>)>,
    fleet: Option<Basis>,
    /// Mean shift of ln life by position, against its kinds.
    shifts: Vec<f64>,
    level: f64,
}

fn events(sample: &Sample) -> f64 {
    sample.tally().failures()
}

/// A Weibull life from five replacements on, else a rate; `None` without a replacement.
fn basis(sample: &Sample) -> Option<Basis> {
    let [weibull, ..] = laws::all();
    if events(sample) >= FEW
        && let Ok(fit) = fit(weibull, sample)
    {
        let life = fit.life();
        return Some(Basis::Weibull { fit, life });
    }
    let time = |o: &Observation| o.count() * (o.last() - o.entry());
    let watched: f64 = sample.rows().iter().map(time).sum();
    let rate = events(sample) / watched;
    (rate > 0.0 && rate.is_finite()).then_some(Basis::Rate(rate))
}

impl Basis {
    /// Hazard gone through from age `entry` to the end of `life`.
    fn hazard(&self, life: &Observation) -> f64 {
        let (from, to) = (life.entry(), life.last());
        match self {
            Self::Weibull { life, .. } => life.ln_survival(from) - life.ln_survival(to),
            Self::Rate(rate) => rate * (to - from),
        }
    }

    fn ln_survival(&self, age: f64) -> f64 {
        match self {
            Self::Weibull { life, .. } => life.ln_survival(age),
            Self::Rate(rate) => -rate * age,
        }
    }

    /// An age by which the share failed changes much.
    fn characteristic(&self) -> f64 {
        match self {
            Self::Weibull { fit, .. } => fit.estimate(Quantity::Parameter(1)),
            Self::Rate(rate) => rate.recip(),
        }
    }
}

/// Steps of the time of an ordinary place in a characteristic life.
const STEPS: f64 = 20.0;

impl Expected {
    pub(super) fn new(alike: &Likened, level: f64) -> Self {
        let logs = &alike.logs;
        let mut rows: BTreeMap<Like, Vec<Observation>> = BTreeMap::new();
        for stretch in logs.iter().flat_map(|l| &l.stretches) {
            rows.entry(stretch.like.clone())
                .or_default()
                .push(stretch.life);
        }
        let all: Vec<Observation> = rows.values().flatten().copied().collect();
        let kind = |(like, rows)| {
            let sample = Sample::new(rows);
            let basis = basis(&sample);
            (like, (sample, basis))
        };
        Self {
            fleet: basis(&Sample::new(all)),
            kinds: rows.into_iter().map(kind).collect(),
            shifts: alike.shifts.clone(),
            level,
        }
    }

    fn of(&self, like: &Like) -> Option<&Basis> {
        let own = self.kinds.get(like).and_then(|(_, basis)| basis.as_ref());
        own.or(self.fleet.as_ref())
    }

    /// Replacements of a position against those expected. `None` when nothing is expected.
    pub(super) fn count(&self, log: &PositionLog) -> Option<Count> {
        let hazards = log
            .stretches
            .iter()
            .filter_map(|s| Some(self.of(&s.like)?.hazard(&s.life)));
        let ended = |o: &Observation| matches!(o.seen(), Seen::Exact(_));
        let expected: f64 = hazards.sum();
        (expected > 0.0).then(|| Count {
            seen: log.stretches.iter().filter(|s| ended(&s.life)).count() as f64,
            expected,
        })
    }

    /// Replacements that an ordinary place would have had while this one was watched: its kinds of seal, its planned
    /// changes on the days they were made, its gaps left out, and a new seal at once after each failure.
    pub(super) fn ordinary(&self, log: &PositionLog) -> Option<f64> {
        let known: Option<Vec<&Basis>> = log.stretches.iter().map(|s| self.of(&s.like)).collect();
        let known = known?;
        let mut pieces = vec![];
        let mut failed_before = false;
        for stretch in &log.stretches {
            let life = &stretch.life;
            let follows = failed_before && life.entry() == 0.0;
            pieces.push(Piece {
                placed: (!follows).then_some(life.entry()),
                length: life.last() - life.entry(),
            });
            failed_before = life.ended();
        }
        let shortest = known
            .iter()
            .map(|b| b.characteristic())
            .fold(f64::INFINITY, f64::min);
        let ln_survival =
            |piece: usize, age: f64| known.get(piece).map_or(0.0, |basis| basis.ln_survival(age));
        let sum = expected(&pieces, ln_survival, shortest / STEPS);
        (sum > 0.0 && sum.is_finite()).then_some(sum)
    }

    /// Weibull shape and characteristic life of the kind that most of a position's seals are of; the
    /// fleet's when that kind has none of its own. `at` is its place among the positions.
    pub(super) fn law(&self, at: usize, log: &PositionLog) -> Option<(Shape, f64)> {
        let mut kinds: BTreeMap<&Like, usize> = BTreeMap::new();
        for stretch in &log.stretches {
            *kinds.entry(&stretch.like).or_default() += 1;
        }
        let most = kinds.into_iter().max_by_key(|(_, n)| *n)?.0;
        let own = match self.of(most) {
            Some(Basis::Weibull { fit, .. }) => Some(fit),
            _ => None,
        };
        let fleet = match &self.fleet {
            Some(Basis::Weibull { fit, .. }) => Some(fit),
            _ => None,
        };
        let fit = own.or(fleet)?;
        let shape = Shape {
            estimate: fit.estimate(Quantity::Parameter(0)),
            ln_error: fit.scaled_error(Quantity::Parameter(0)),
        };
        let shift = self.shifts.get(at).copied().unwrap_or(0.0);
        Some((shape, fit.estimate(Quantity::Parameter(1)) * shift.exp()))
    }

    /// The expectations as told to the reader.
    pub(super) fn told(&self) -> Vec<Expectation> {
        let number = |fit: &Fit, i: usize| {
            let b = bounds(fit, Quantity::Parameter(i), Method::Profile, self.level);
            Number {
                estimate: Some(fit.estimate(Quantity::Parameter(i))),
                lower: b.lower,
                upper: b.upper,
                reason: None,
            }
        };
        let none = |reason: &str| Number {
            reason: Some(reason.to_owned()),
            ..Number::default()
        };
        let one = |(like, (sample, basis)): (&Like, &(Sample, Option<Basis>))| {
            let (word, shape, scale, rate) = match basis {
                Some(Basis::Weibull { fit, .. }) => {
                    ("weibull", number(fit, 0), number(fit, 1), None)
                }
                Some(Basis::Rate(rate)) => {
                    let why = "fewer than five replacements: a rate only";
                    ("rate", none(why), none(why), Some(*rate))
                }
                None => {
                    let why = "no replacement of its own: taken as the fleet";
                    ("fleet", none(why), none(why), None)
                }
            };
            Expectation {
                group: key(like),
                replacements: events(sample),
                basis: word,
                shape,
                scale,
                rate,
            }
        };
        self.kinds.iter().map(one).collect()
    }
}
