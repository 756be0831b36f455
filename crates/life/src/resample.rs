//! New samples from a fitted law under the pattern in which the old one was observed: what calibrates
//! intervals and tests of fit.
//!
//! Each seal keeps its entry age. A seal that did not fail keeps the age at which watching ended; for one that
//! failed that age is unknown, and is drawn from the product-limit law of the ends of watching, given that it
//! lies beyond the failure (Davison & Hinkley 1997, algorithm 3.1 "conditional bootstrap"; from memory). A
//! failure found between two looks is looked for again at the same spacing; one known to the age stays known
//! to the age.
//!
//! Of the seals still running only the failures are drawn, so that a few among a hundred thousand cost as little as a
//! few: laid end to end, the hazards that the seals live through are a line on which failures fall at rate one; where
//! one falls that seal fails, and the next is drawn from the end of its stretch on.

use crate::compress::compress_to;
use crate::drawable::Drawable;
use crate::family::Family;
use crate::law::Age;
use crate::terms::{Extent, Point, Terms};
use crate::unit::Unit;
use rayon::prelude::*;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::{Sample, Seen};

/// More failures than this are not drawn anew: the normal approximation is good there (a rule of ours).
pub const MOST_FAILURES: f64 = 20_000.0;
/// Running seals of more ages than this are summed by Gauss rules, in so many bins a unit of ln t: far closer than
/// the noise of any draw.
const FEW_AGES: usize = 128;
const BINS: f64 = 8.0;
/// Ages that differ by less than this part are one.
const SAME: f64 = 1e-9;

/// How a seal that failed was watched.
#[derive(Debug, Clone, Copy)]
struct Watched {
    entry: f64,
    seen: Seen,
}

/// Seals still running, alike.
#[derive(Debug, Clone, Copy)]
struct Running {
    entry: f64,
    end: f64,
    count: f64,
}

/// A sample's pattern of watching.
#[derive(Debug, Clone)]
pub struct Pattern {
    failed: Vec<Watched>,
    running: Vec<Running>,
    /// What every draw has: entries, and the running seals as if none failed.
    base: Terms,
    /// Whether survival term number i of `base` is that of running seals number i.
    one_to_one: bool,
    /// Ages at which watching ended, with the share of seals still watched beyond each.
    ends: Vec<(f64, f64)>,
    /// Spacing of looks, one for each failure found between two of them.
    spacings: Vec<f64>,
    /// Share of failures known to the age.
    exact: f64,
    /// An age below every age seen.
    first_moment: f64,
}

impl Pattern {
    /// The pattern of a sample; `None` when it is empty, or has too many failures to be worth drawing.
    #[cfg(test)]
    pub(crate) fn of(sample: &Sample) -> Option<Self> {
        Self::in_unit(sample, Unit::RECORDS)
    }

    /// The same with ages counted in `unit`.
    pub(crate) fn in_unit(sample: &Sample, unit: Unit) -> Option<Self> {
        let tally = sample.tally();
        if tally.total() <= 0.0 || tally.failures() > MOST_FAILURES {
            return None;
        }
        // In one order, so that the same seals draw the same samples however they were listed.
        let sample = sample.reduce();
        let (mut failed, mut running, mut spacings, mut entries) = (vec![], vec![], vec![], vec![]);
        let mut exits = vec![];
        for o in sample.rows() {
            let count = o.count().round();
            let alike = count as usize;
            let entry = unit.counted(o.entry());
            let (seen, exit, ended) = match o.seen() {
                Seen::Exact(t) => (Seen::Exact(unit.counted(t)), unit.counted(t), true),
                Seen::Right(t) => (Seen::Right(unit.counted(t)), unit.counted(t), false),
                Seen::Interval(a, b) => {
                    let (a, b) = unit.counted_stretch(a, b);
                    (Seen::Interval(a, b), b, true)
                }
            };
            exits.push((exit, ended, count));
            if entry > 0.0 {
                entries.push(Point {
                    age: Age::new(entry),
                    weight: count,
                });
            }
            match seen {
                Seen::Right(end) if end > 0.0 => running.push(Running { entry, end, count }),
                Seen::Right(_) => {}
                _ => failed.extend(std::iter::repeat_n(Watched { entry, seen }, alike)),
            }
            if let Seen::Interval(a, b) = seen
                && a > entry
            {
                spacings.extend(std::iter::repeat_n(b - a, alike));
            }
        }
        let (base, one_to_one) = base(&running, entries);
        let exact = tally.exact / tally.failures();
        Some(Self {
            ends: ends(exits),
            failed,
            running,
            base,
            one_to_one,
            spacings,
            exact: if exact.is_finite() { exact } else { 1.0 },
            first_moment: 1e-9 * unit.counted(sample.oldest()).max(f64::MIN_POSITIVE),
        })
    }

    /// Number of seals.
    #[cfg(test)]
    pub(crate) fn seals(&self) -> usize {
        self.failed.len() + self.base.extent.total as usize
    }

    /// An age beyond `age` at which watching ends; infinite where nothing was censored beyond it.
    fn end_beyond(&self, age: f64, u: f64) -> f64 {
        let from = self.ends.partition_point(|(end, _)| *end < age);
        let before = from
            .checked_sub(1)
            .and_then(|i| self.ends.get(i))
            .map_or(1.0, |e| e.1);
        // Share still watched falls from `before`; the drawn end is where it falls below u · before.
        let target = u * before;
        let rest = self.ends.get(from..).unwrap_or(&[]);
        let at = rest.partition_point(|(_, left)| *left > target);
        rest.get(at).map_or(f64::INFINITY, |e| e.0)
    }

    /// The end of watching of a seal that failed at `age`.
    fn drawn_end(&self, age: f64, stream: &mut Stream) -> f64 {
        if self.ends.is_empty() {
            f64::INFINITY
        } else {
            self.end_beyond(age, stream.uniform())
        }
    }

    fn spacing(&self, stream: &mut Stream) -> Option<f64> {
        self.spacings
            .get(stream.below(self.spacings.len()))
            .copied()
    }
}

/// The terms of the running seals if none fails, and of all entries; whether each stands for one kind of seals.
fn base(running: &[Running], entries: Vec<Point>) -> (Terms, bool) {
    let points = running.iter().map(|r| Point {
        age: Age::new(r.end),
        weight: r.count,
    });
    let points: Vec<Point> = points.collect();
    let one_to_one = points.len() <= FEW_AGES;
    let mut survival = compress_to(points, FEW_AGES, BINS);
    survival.extend(
        compress_to(entries, FEW_AGES, BINS)
            .into_iter()
            .map(|p| Point {
                weight: -p.weight,
                ..p
            }),
    );
    let oldest = running.iter().map(|r| r.end).fold(0.0, f64::max);
    let terms = Terms {
        density: vec![],
        survival,
        interval: vec![],
        extent: Extent {
            total: running.iter().map(|r| r.count).sum(),
            oldest_sound: oldest,
            oldest,
            ..Extent::nothing()
        },
    };
    (terms, one_to_one)
}

/// Where new samples of a pattern come from: a law, with what the pattern's seals live through under it.
pub struct Source<'a> {
    pattern: &'a Pattern,
    law: Drawable,
    /// Cumulative hazards that the running seals live through, added up.
    sums: Vec<f64>,
}

/// A seal lives through no more than this: beyond, it fails but for a chance in e^200.
const SURE: f64 = 200.0;

impl<'a> Source<'a> {
    /// The pattern's seals under the law of `family` at `theta`.
    #[must_use]
    pub(crate) fn new(pattern: &'a Pattern, family: &'static dyn Family, theta: &[f64]) -> Self {
        let law = Drawable::new(family, theta);
        let lived = |r: &Running| {
            let hazard = law.ln_survival(r.entry) - law.ln_survival(r.end);
            hazard.clamp(0.0, SURE)
        };
        let each: Vec<f64> = pattern.running.par_iter().map(lived).collect();
        let mut sum = 0.0;
        let sums = each.iter().zip(&pattern.running).map(|(hazard, r)| {
            if hazard.is_finite() {
                sum += hazard * r.count;
            }
            sum
        });
        Self {
            pattern,
            sums: sums.collect(),
            law,
        }
    }

    /// A new sample, as terms of its likelihood.
    #[must_use]
    pub(crate) fn draw(&self, stream: &mut Stream) -> Terms {
        let mut terms = self.pattern.base.clone();
        self.fail_running(stream, &mut terms);
        for seal in &self.pattern.failed {
            let hazard = stream.exponential() - self.law.ln_survival(seal.entry);
            self.observe(seal, self.law.ln_age(hazard), stream, &mut terms);
        }
        terms.survival.retain(|p| p.weight != 0.0);
        terms.merge_alike_intervals();
        terms
    }

    /// Failures among the running seals.
    fn fail_running(&self, stream: &mut Stream, terms: &mut Terms) {
        let mut at = 0.0;
        loop {
            at += stream.exponential();
            let kind = self.sums.partition_point(|sum| *sum < at);
            let (Some(seals), Some(end)) = (self.pattern.running.get(kind), self.sums.get(kind))
            else {
                return;
            };
            let before = kind.checked_sub(1).and_then(|i| self.sums.get(i));
            let before = before.copied().unwrap_or(0.0);
            let each = (end - before) / seals.count;
            let passed = ((at - before) / each).floor();
            let hazard = at - before - passed * each - self.law.ln_survival(seals.entry);
            // On with the next seal: this one has failed.
            at = before + (passed + 1.0) * each;
            self.take_off(kind, seals, terms);
            self.fail(seals, self.law.ln_age(hazard), stream, terms);
        }
    }

    /// Takes a running seal off.
    fn take_off(&self, kind: usize, seals: &Running, terms: &mut Terms) {
        terms.extent.total -= 1.0;
        match terms.survival.get_mut(kind) {
            Some(own) if self.pattern.one_to_one => own.weight -= 1.0,
            _ => terms.survival.push(Point {
                age: Age::new(seals.end),
                weight: -1.0,
            }),
        }
    }

    /// A running seal's failure as it would have been seen.
    fn fail(&self, seals: &Running, ln_age: f64, stream: &mut Stream, terms: &mut Terms) {
        let pattern = self.pattern;
        if ln_age == f64::NEG_INFINITY {
            // A law that puts lives below age 0: failed by the first moment.
            terms.add_interval(0.0, pattern.first_moment);
            return;
        }
        let age = Age::from_ln(ln_age.min(seals.end.ln()));
        if pattern.exact >= 1.0 || stream.uniform() < pattern.exact {
            terms.add_exact(age);
            return;
        }
        // Looks counted back from the last one.
        let spacing = pattern.spacing(stream).unwrap_or(seals.end);
        let back = ((seals.end - age.t) / spacing).floor();
        let upper = seals.end - back * spacing;
        terms.add_interval(look_before(upper, spacing, seals.entry), upper);
    }

    /// A seal that failed, seen anew.
    fn observe(&self, seal: &Watched, ln_age: f64, stream: &mut Stream, terms: &mut Terms) {
        let pattern = self.pattern;
        if ln_age == f64::NEG_INFINITY {
            terms.add_interval(0.0, pattern.first_moment);
            return;
        }
        let age = Age::from_ln(ln_age);
        let (a, b) = match seal.seen {
            Seen::Interval(a, b) => (a, b),
            Seen::Exact(t) | Seen::Right(t) => {
                let end = pattern.drawn_end(t, stream);
                if age.t <= end {
                    terms.add_exact(age);
                } else {
                    terms.add_right(end);
                }
                return;
            }
        };
        let own = (a > seal.entry).then_some(b - a);
        let Some(spacing) = own.or_else(|| pattern.spacing(stream)) else {
            // One look and nothing known of others.
            if age.t <= b {
                terms.add_interval(seal.entry, b);
            } else {
                terms.add_right(b);
            }
            return;
        };
        let end = pattern.drawn_end(b, stream);
        let upper = b + ((age.t - b) / spacing).ceil() * spacing;
        if upper <= end * (1.0 + SAME) {
            terms.add_interval(look_before(upper, spacing, seal.entry), upper);
        } else {
            let last = b + ((end - b) / spacing + SAME).floor() * spacing;
            terms.add_right(if age.t <= end { last } else { end });
        }
    }
}

/// The look before the one at `upper`: none after `entry` where they fall together but for rounding.
fn look_before(upper: f64, spacing: f64, entry: f64) -> f64 {
    let lower = upper - spacing;
    if lower - entry > SAME * spacing {
        lower
    } else {
        entry
    }
}

/// Product-limit law of the ends of watching, the failures taken as not yet ended; from (age, failed, seals).
fn ends(mut exits: Vec<(f64, bool, f64)>) -> Vec<(f64, f64)> {
    // Failures leave before watching ends at the same age.
    exits.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
    let mut at_risk: f64 = exits.iter().map(|e| e.2).sum();
    let mut left = 1.0;
    let mut out: Vec<(f64, f64)> = vec![];
    for (age, failed, seals) in exits {
        if !failed {
            left *= ((at_risk - seals) / at_risk).max(0.0);
            match out.last_mut() {
                Some(last) if last.0 == age => last.1 = left,
                _ => out.push((age, left)),
            }
        }
        at_risk -= seals;
    }
    out
}

#[cfg(test)]
mod tests;
