//! New samples from a fitted law under the pattern in which the old one was observed: what calibrates
//! intervals and tests of fit.
//!
//! Each seal keeps its entry age. A seal that did not fail keeps the age at which watching ended; for one that
//! failed that age is unknown, and is drawn from the product-limit law of the ends of watching, given that it
//! lies beyond the failure (Davison & Hinkley 1997, algorithm 3.1 "conditional bootstrap"; from memory). A
//! failure found between two looks is looked for again at the same spacing; one known to the age stays known
//! to the age.

use crate::family::Family;
use crate::law::Age;
use crate::terms::{Extent, Point, Terms};
use sealspan_numeric::random::Stream;
use sealspan_records::observation::{Sample, Seen};

/// More seals than this are not drawn anew: the normal approximation is good there.
pub const MOST_SEALS: f64 = 20_000.0;

/// How one seal was watched.
#[derive(Debug, Clone, Copy)]
struct Watched {
    entry: f64,
    seen: Seen,
}

/// A sample's pattern of watching.
#[derive(Debug, Clone)]
pub struct Pattern {
    seals: Vec<Watched>,
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
    /// The pattern of a sample; `None` when it is empty, or too large to be worth drawing.
    #[must_use]
    pub fn of(sample: &Sample) -> Option<Self> {
        let total = sample.tally().total();
        if total <= 0.0 || total > MOST_SEALS {
            return None;
        }
        // In one order, so that the same seals draw the same samples however they were listed.
        let sample = sample.reduce();
        let mut seals = vec![];
        let mut spacings = vec![];
        let (mut exact, mut failures) = (0.0, 0.0);
        for o in sample.rows() {
            let watched = Watched {
                entry: o.entry(),
                seen: o.seen(),
            };
            let alike = o.count().round() as usize;
            seals.extend(std::iter::repeat_n(watched, alike));
            match o.seen() {
                Seen::Exact(_) => {
                    exact += o.count();
                    failures += o.count();
                }
                Seen::Interval(a, b) => {
                    failures += o.count();
                    if a > o.entry() {
                        spacings.extend(std::iter::repeat_n(b - a, alike));
                    }
                }
                Seen::Right(_) => {}
            }
        }
        Some(Self {
            ends: ends(&seals),
            seals,
            spacings,
            first_moment: 1e-9 * sample.oldest().max(f64::MIN_POSITIVE),
            exact: if failures > 0.0 {
                exact / failures
            } else {
                1.0
            },
        })
    }

    /// Number of seals.
    #[must_use]
    pub fn seals(&self) -> usize {
        self.seals.len()
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

    /// A new sample of the same pattern from the law, as terms of its likelihood.
    #[must_use]
    pub fn draw(&self, law: &Drawable, stream: &mut Stream) -> Terms {
        let n = self.seals.len();
        let mut terms = Terms {
            density: Vec::with_capacity(n),
            survival: Vec::with_capacity(n),
            interval: vec![],
            extent: Extent::nothing(),
        };
        for seal in &self.seals {
            let mut hazard = stream.exponential();
            if seal.entry > 0.0 {
                hazard -= law.ln_survival(seal.entry);
                terms.survival.push(Point {
                    age: Age::new(seal.entry),
                    weight: -1.0,
                });
            }
            let ln_age = law.ln_age(hazard);
            self.observe(seal, ln_age, stream, &mut terms);
        }
        terms.merge_alike_intervals();
        terms
    }

    fn observe(&self, seal: &Watched, ln_age: f64, stream: &mut Stream, terms: &mut Terms) {
        if ln_age == f64::NEG_INFINITY {
            // A law that puts lives below age 0: failed by the first moment.
            terms.add_interval(0.0, self.first_moment);
            return;
        }
        let age = Age::from_ln(ln_age);
        match seal.seen {
            Seen::Exact(t) => {
                let end = if self.ends.is_empty() {
                    f64::INFINITY
                } else {
                    self.end_beyond(t, stream.uniform())
                };
                if age.t <= end {
                    terms.add_exact(age);
                } else {
                    terms.add_right(end);
                }
            }
            Seen::Right(end) => {
                if age.t > end {
                    terms.add_right(end);
                } else if self.exact >= 1.0 || stream.uniform() < self.exact {
                    terms.add_exact(age);
                } else {
                    // Looks counted back from the last one.
                    let spacing = self.spacing(stream).unwrap_or(end);
                    let back = ((end - age.t) / spacing).floor();
                    let upper = end - back * spacing;
                    terms.add_interval(look_before(upper, spacing, seal.entry), upper);
                }
            }
            Seen::Interval(a, b) => {
                let own = (a > seal.entry).then_some(b - a);
                let Some(spacing) = own.or_else(|| self.spacing(stream)) else {
                    // One look and nothing known of others.
                    if age.t <= b {
                        terms.add_interval(seal.entry, b);
                    } else {
                        terms.add_right(b);
                    }
                    return;
                };
                let end = if self.ends.is_empty() {
                    f64::INFINITY
                } else {
                    self.end_beyond(b, stream.uniform())
                };
                let upper = b + ((age.t - b) / spacing).ceil() * spacing;
                if upper <= end || end == f64::INFINITY {
                    terms.add_interval(look_before(upper, spacing, seal.entry), upper);
                } else {
                    let last = b + ((end - b) / spacing).floor() * spacing;
                    terms.add_right(if age.t <= end { last } else { end });
                }
            }
        }
    }

    fn spacing(&self, stream: &mut Stream) -> Option<f64> {
        self.spacings
            .get(stream.below(self.spacings.len()))
            .copied()
    }
}

/// The look before the one at `upper`: none after `entry` where they fall together but for rounding.
fn look_before(upper: f64, spacing: f64, entry: f64) -> f64 {
    let lower = upper - spacing;
    if lower - entry > 1e-9 * spacing {
        lower
    } else {
        entry
    }
}

/// Product-limit law of the ends of watching, the failures taken as not yet ended.
fn ends(seals: &[Watched]) -> Vec<(f64, f64)> {
    let mut exits: Vec<(f64, bool)> = seals
        .iter()
        .map(|seal| match seal.seen {
            Seen::Right(t) => (t, true),
            Seen::Exact(t) | Seen::Interval(_, t) => (t, false),
        })
        .collect();
    // Failures leave before watching ends at the same age.
    exits.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut at_risk = exits.len() as f64;
    let mut left = 1.0;
    let mut out: Vec<(f64, f64)> = vec![];
    for (age, ended) in exits {
        if ended {
            left *= 1.0 - 1.0 / at_risk;
            match out.last_mut() {
                Some(last) if last.0 == age => last.1 = left,
                _ => out.push((age, left)),
            }
        }
        at_risk -= 1.0;
    }
    out
}

/// A law with fixed parameters made quick to draw from: ln age as a function of ln cumulative hazard, by
/// cubics through a fine grid (error far below the noise of any sample).
#[derive(Debug, Clone)]
pub struct Drawable {
    ln_ages: Vec<f64>,
    family: DebugFamily,
    theta: Vec<f64>,
}

/// A family that prints its name.
#[derive(Clone, Copy)]
struct DebugFamily(&'static dyn Family);

impl std::fmt::Debug for DebugFamily {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.0.name())
    }
}

/// ln cumulative hazard from one in 10¹⁰ failed to one in e^60 left, and the grid's step.
const LOWEST: f64 = -23.0;
const HIGHEST: f64 = 4.1;
const STEP: f64 = 0.05;

impl Drawable {
    /// The law of `family` at `theta`.
    #[must_use]
    pub fn new(family: &'static dyn Family, theta: &[f64]) -> Self {
        // Cumulative hazard that a law has spent before age 0.
        let before = -family.ln_survival(theta, f64::MIN_POSITIVE);
        let nodes = ((HIGHEST - LOWEST) / STEP) as usize + 1;
        let ln_ages = (0..nodes)
            .map(|i| {
                let hazard = (LOWEST + STEP * i as f64).exp();
                let ln_age = family.ln_age_at(theta, -hazard);
                // Not a number before age 0, or where fewer ever fail.
                match ln_age.is_nan() {
                    true if hazard <= before => f64::NEG_INFINITY,
                    true => f64::INFINITY,
                    false => ln_age,
                }
            })
            .collect();
        Self {
            ln_ages,
            family: DebugFamily(family),
            theta: theta.to_vec(),
        }
    }

    fn ln_survival(&self, age: f64) -> f64 {
        self.family.0.ln_survival(&self.theta, age)
    }

    /// ln of the age at cumulative hazard `hazard`.
    fn ln_age(&self, hazard: f64) -> f64 {
        let last = self.ln_ages.len().saturating_sub(3);
        let x = ((hazard.ln() - LOWEST) / STEP).clamp(1.0, last as f64);
        let at = (x.floor() as usize).clamp(1, last);
        let u = x - at as f64;
        let y = |k: usize| self.ln_ages.get(k).copied().unwrap_or(f64::INFINITY);
        let (a, b, c, d) = (y(at - 1), y(at), y(at + 1), y(at + 2));
        if !(a.is_finite() && d.is_finite()) {
            return if u < 0.5 { b } else { c };
        }
        // Catmull–Rom cubic.
        let slope = 0.5 * (c - a);
        let bend = a - 2.5 * b + 2.0 * c - 0.5 * d;
        let third = 0.5 * (d - a) + 1.5 * (b - c);
        b + u * (slope + u * (bend + u * third))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::laws::by_name;
    use sealspan_records::observation::Observation;

    fn sample(rows: Vec<Observation>) -> Sample {
        Sample::new(rows)
    }

    fn drawable() -> Drawable {
        let weibull = by_name("weibull").unwrap_or(crate::laws::all()[0]);
        Drawable::new(weibull, &[100f64.ln(), -(2f64.ln())])
    }

    #[test]
    fn a_drawn_life_follows_the_law() {
        let law = drawable();
        for hazard in [1e-8, 0.003, 0.4, 1.0, 7.0, 30.0f64] {
            let want = (100.0 * hazard.sqrt()).ln();
            assert!((law.ln_age(hazard) - want).abs() < 1e-9, "{hazard}");
        }
        let gamma = by_name("gamma").unwrap_or(crate::laws::all()[0]);
        let theta = [4.0, 0.8];
        let law = Drawable::new(gamma, &theta);
        for hazard in [1e-6, 0.02, 0.31, 1.7, 12.0] {
            let back = -gamma.ln_survival(&theta, law.ln_age(hazard).exp());
            assert!((back / hazard - 1.0).abs() < 1e-5, "{hazard} {back}");
        }
    }

    #[test]
    fn the_pattern_is_kept() -> Result<(), sealspan_records::observation::NotAnObservation> {
        let law = drawable();
        // All watched to 80 at most: every drawn life ends there or before.
        let rows = vec![
            Observation::exact(50.0, 0.0, 3.0)?,
            Observation::right(80.0, 0.0, 5.0)?,
            Observation::exact(70.0, 20.0, 1.0)?,
        ];
        let pattern = Pattern::of(&sample(rows)).ok_or(
            sealspan_records::observation::NotAnObservation::BadCount(0.0),
        )?;
        assert_eq!(pattern.seals(), 9);
        let mut failed = 0.0;
        for i in 0..2000 {
            let terms = pattern.draw(&law, &mut Stream::new(3, i));
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
        let law = drawable();
        let rows = vec![
            Observation::interval(40.0, 60.0, 0.0, 2.0)?,
            Observation::interval(0.0, 20.0, 0.0, 1.0)?,
            Observation::right(120.0, 0.0, 4.0)?,
        ];
        let pattern = Pattern::of(&sample(rows)).ok_or(
            sealspan_records::observation::NotAnObservation::BadCount(0.0),
        )?;
        for i in 0..500 {
            let terms = pattern.draw(&law, &mut Stream::new(5, i));
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
}
