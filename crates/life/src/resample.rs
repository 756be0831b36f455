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

/// More failures than this are not drawn anew: the normal approximation is good there.
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
    #[must_use]
    pub fn of(sample: &Sample) -> Option<Self> {
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
    #[must_use]
    pub fn seals(&self) -> usize {
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
    pub fn new(pattern: &'a Pattern, family: &'static dyn Family, theta: &[f64]) -> Self {
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
    pub fn draw(&self, stream: &mut Stream) -> Terms {
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
mod tests {
    use super::*;
    use crate::laws::by_name;
    use sealspan_records::observation::Observation;

    fn sample(rows: Vec<Observation>) -> Sample {
        Sample::new(rows)
    }

    fn weibull() -> &'static dyn Family {
        by_name("weibull").unwrap_or(crate::laws::all()[0])
    }

    const THETA: [f64; 2] = [4.605_170_185_988_092, -std::f64::consts::LN_2];

    #[test]
    fn the_pattern_is_kept() -> Result<(), sealspan_records::observation::NotAnObservation> {
        // All watched to 80 at most: every drawn life ends there or before.
        let rows = vec![
            Observation::exact(50.0, 0.0, 3.0)?,
            Observation::right(80.0, 0.0, 5.0)?,
            Observation::exact(70.0, 20.0, 1.0)?,
        ];
        let pattern = Pattern::of(&sample(rows)).ok_or(
            sealspan_records::observation::NotAnObservation::BadCount(0.0),
        )?;
        let source = Source::new(&pattern, weibull(), &THETA);
        assert_eq!(pattern.seals(), 9);
        let mut failed = 0.0;
        for i in 0..2000 {
            let terms = source.draw(&mut Stream::new(3, i));
            assert!(terms.density.iter().all(|p| p.age.t <= 80.0));
            assert_eq!(terms.extent.total, 9.0);
            assert_eq!(terms.survival.iter().filter(|p| p.weight < 0.0).count(), 1);
            failed += terms.extent.failures;
        }
        // Eight watched from new, one from 20; all to 80.
        let share = |from: f64| 1.0 - (-(0.64 - from)).exp();
        let want = 8.0 * share(0.0) + share(0.04);
        assert!((failed / 2000.0 - want).abs() < 0.15, "{failed}");
        Ok(())
    }

    #[test]
    fn failures_between_looks_stay_between_looks()
    -> Result<(), sealspan_records::observation::NotAnObservation> {
        let rows = vec![
            Observation::interval(40.0, 60.0, 0.0, 2.0)?,
            Observation::interval(0.0, 20.0, 0.0, 1.0)?,
            Observation::right(120.0, 0.0, 4.0)?,
        ];
        let pattern = Pattern::of(&sample(rows)).ok_or(
            sealspan_records::observation::NotAnObservation::BadCount(0.0),
        )?;
        let source = Source::new(&pattern, weibull(), &THETA);
        for i in 0..500 {
            let terms = source.draw(&mut Stream::new(5, i));
            assert!(terms.density.is_empty());
            // Looks every 20 up to 120: no more than six places for a failure.
            assert!(terms.interval.len() <= 6);
            let failed: f64 = terms.interval.iter().map(|s| s.weight).sum();
            assert_eq!(failed, terms.extent.failures);
            for s in &terms.interval {
                let lower = s.lower.map_or(0.0, |a| a.t);
                assert!((s.upper.t - lower - 20.0).abs() < 1e-9 && s.upper.t <= 120.0 + 1e-9);
            }
        }
        Ok(())
    }

    /// Running seals of many ages, some watched late: each fails as often as it should, and the likelihood of what is
    /// drawn is that of all seals one by one.
    #[test]
    fn of_many_running_seals_only_the_failures_are_drawn()
    -> Result<(), sealspan_records::observation::NotAnObservation> {
        let mut rows = vec![Observation::exact(3.0, 0.0, 1.0)?];
        for i in 0..3000 {
            let entry = if i % 3 == 0 { 0.5 } else { 0.0 };
            rows.push(Observation::right(1.0 + 0.002 * f64::from(i), entry, 2.0)?);
        }
        let hazard = |t: f64| (t / 100.0).powi(2);
        let want: f64 = rows
            .iter()
            .skip(1)
            .map(|o| 2.0 * -(hazard(o.entry()) - hazard(o.last())).exp_m1())
            .sum();
        let pattern = Pattern::of(&sample(rows)).ok_or(
            sealspan_records::observation::NotAnObservation::BadCount(0.0),
        )?;
        let source = Source::new(&pattern, weibull(), &THETA);
        let mut failed = 0.0;
        for i in 0..2000 {
            let terms = source.draw(&mut Stream::new(9, i));
            assert!(terms.survival.len() < 500);
            assert_eq!(terms.extent.total, 6001.0);
            failed += terms.extent.failures;
            let weight: f64 = terms.survival.iter().map(|p| p.weight).sum();
            let late = 2000.0;
            assert!((weight + late + terms.extent.failures - 6001.0).abs() < 1e-6);
        }
        // One more seal failed at 3: it ends with chance of 1 at most.
        let mean = failed / 2000.0;
        assert!((mean - want).abs() < 0.2 && want > 5.0, "{mean} {want}");
        Ok(())
    }

    /// Looks every 20 from the failure at (40, 60) on, watched to 115: a life that ends between the last look and the
    /// end of watching was seen sound at that look, 100; a longer one at 115.
    #[test]
    fn a_failure_after_the_last_look_was_sound_at_it()
    -> Result<(), sealspan_records::observation::NotAnObservation> {
        let rows = vec![
            Observation::interval(40.0, 60.0, 0.0, 50.0)?,
            Observation::right(115.0, 0.0, 1.0)?,
        ];
        let pattern = Pattern::of(&sample(rows)).ok_or(
            sealspan_records::observation::NotAnObservation::BadCount(0.0),
        )?;
        let source = Source::new(&pattern, weibull(), &THETA);
        let (mut at_look, draws) = (0.0, 400);
        for i in 0..draws {
            let terms = source.draw(&mut Stream::new(6, i));
            for p in &terms.survival {
                let look = (p.age.t - 100.0).abs() < 1e-9;
                assert!(look || (p.age.t - 115.0).abs() < 1e-9, "{}", p.age.t);
                at_look += if look { p.weight } else { 0.0 };
            }
        }
        // Survival exp(−(t/100)²).
        let chance = (-1.0f64).exp() - (-1.15f64 * 1.15).exp();
        let n = 50.0 * draws as f64;
        let error = (n * chance * (1.0 - chance)).sqrt();
        assert!((at_look - n * chance).abs() < 4.0 * error, "{at_look}");
        Ok(())
    }

    /// The spacing of looks is told by failures between two of them, not by those found at a first look.
    #[test]
    fn spacings_are_those_between_two_looks()
    -> Result<(), sealspan_records::observation::NotAnObservation> {
        let rows = vec![
            Observation::interval(0.0, 35.0, 0.0, 4.0)?,
            Observation::interval(30.0, 45.0, 30.0, 1.0)?,
            Observation::interval(60.0, 70.0, 0.0, 2.0)?,
        ];
        let pattern = Pattern::of(&sample(rows)).ok_or(
            sealspan_records::observation::NotAnObservation::BadCount(0.0),
        )?;
        assert_eq!(pattern.spacings, [10.0, 10.0]);
        Ok(())
    }
}
