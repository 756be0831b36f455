//! A sample taken apart into the terms of its log-likelihood: the only place that looks at what kind
//! an observation is.
//!
//! ℓ(θ) = Σ w ln f(t) + Σ w ln S(t) + Σ w ln(S(a) − S(b)) over exact failures, seals still running and failures between
//! two looks, w being their counts. Delayed entry at age e divides by S(e): it is a survival term with a negative
//! weight.

use crate::compress::compress;
use crate::law::Age;
use sealspan_records::observation::{Sample, Seen};

/// A weighted age.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// The age.
    pub age: Age,
    /// How many seals (negative for a delayed entry; not whole after compression).
    pub weight: f64,
}

/// A weighted interval (lower, upper]; `lower` is `None` for (0, upper].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Lower end.
    pub lower: Option<Age>,
    /// Upper end.
    pub upper: Age,
    /// How many seals.
    pub weight: f64,
}

/// What is known about where the failures lie; decides whether a fit can exist.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    /// Seals in all.
    pub total: f64,
    /// Ended lives.
    pub failures: f64,
    /// Ended lives with an exact age.
    pub exact: f64,
    /// Earliest and latest exact failure; infinite and 0 when there is none.
    pub exact_range: (f64, f64),
    /// Oldest seal known to be sound: the largest right-censored age or interval's lower end; 0 when there is none.
    pub oldest_sound: f64,
    /// Smallest upper end of an interval; infinite when there is none.
    pub smallest_upper: f64,
    /// Ended lives known sound at some age above zero before.
    pub between: f64,
    /// Largest age seen.
    pub oldest: f64,
    /// Smallest exact failure age or upper end of an interval; infinite when nothing failed.
    pub youngest: f64,
}

/// The terms of a log-likelihood.
#[derive(Debug, Clone, PartialEq)]
pub struct Terms {
    /// ln f terms.
    pub density: Vec<Point>,
    /// ln S terms.
    pub survival: Vec<Point>,
    /// ln(S(a) − S(b)) terms.
    pub interval: Vec<Stretch>,
    /// Where the failures lie.
    pub extent: Extent,
}

impl Extent {
    /// Of no seals at all.
    #[must_use]
    pub(crate) fn nothing() -> Self {
        Self {
            total: 0.0,
            failures: 0.0,
            exact: 0.0,
            exact_range: (f64::INFINITY, 0.0),
            oldest_sound: 0.0,
            smallest_upper: f64::INFINITY,
            between: 0.0,
            oldest: 0.0,
            youngest: f64::INFINITY,
        }
    }

    /// The same in a unit of time that makes ages `factor` times as large.
    pub(crate) fn scaled(&self, factor: f64) -> Self {
        Self {
            exact_range: (self.exact_range.0 * factor, self.exact_range.1 * factor),
            oldest_sound: self.oldest_sound * factor,
            smallest_upper: self.smallest_upper * factor,
            oldest: self.oldest * factor,
            youngest: self.youngest * factor,
            ..*self
        }
    }

    /// Takes in what another sample says.
    pub(crate) fn include(&mut self, other: &Self) {
        self.total += other.total;
        self.failures += other.failures;
        self.exact += other.exact;
        self.between += other.between;
        self.exact_range = (
            self.exact_range.0.min(other.exact_range.0),
            self.exact_range.1.max(other.exact_range.1),
        );
        self.oldest_sound = self.oldest_sound.max(other.oldest_sound);
        self.smallest_upper = self.smallest_upper.min(other.smallest_upper);
        self.oldest = self.oldest.max(other.oldest);
        self.youngest = self.youngest.min(other.youngest);
    }
}

impl Terms {
    /// Adds one seal that ended at a known age.
    pub(crate) fn add_exact(&mut self, age: Age) {
        self.density.push(Point { age, weight: 1.0 });
        let e = &mut self.extent;
        e.total += 1.0;
        e.failures += 1.0;
        e.exact += 1.0;
        e.exact_range = (e.exact_range.0.min(age.t), e.exact_range.1.max(age.t));
        e.youngest = e.youngest.min(age.t);
        e.oldest = e.oldest.max(age.t);
    }

    /// Adds one seal still sound at an age.
    pub(crate) fn add_right(&mut self, t: f64) {
        match self.survival.last_mut() {
            // Seals whose watching ended together come one after the other: one term for all.
            Some(last) if last.age.t == t && last.weight > 0.0 => last.weight += 1.0,
            _ if t > 0.0 => self.survival.push(Point {
                age: Age::new(t),
                weight: 1.0,
            }),
            _ => {}
        }
        let e = &mut self.extent;
        e.total += 1.0;
        e.oldest_sound = e.oldest_sound.max(t);
        e.oldest = e.oldest.max(t);
    }

    /// Adds one seal that ended between two ages.
    pub(crate) fn add_interval(&mut self, lower: f64, upper: f64) {
        self.interval.push(Stretch {
            lower: (lower > 0.0).then(|| Age::new(lower)),
            upper: Age::new(upper),
            weight: 1.0,
        });
        let e = &mut self.extent;
        e.total += 1.0;
        e.failures += 1.0;
        e.oldest_sound = e.oldest_sound.max(lower);
        e.smallest_upper = e.smallest_upper.min(upper);
        e.between += f64::from(u8::from(lower > 0.0));
        e.youngest = e.youngest.min(upper);
        e.oldest = e.oldest.max(upper);
    }

    /// Adds up the weights of intervals with the same ends, but for rounding.
    pub(crate) fn merge_alike_intervals(&mut self) {
        let lower = |s: &Stretch| s.lower.map_or(0.0, |a| a.t);
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-12 * b;
        self.interval.sort_by(|a, b| {
            a.upper
                .t
                .total_cmp(&b.upper.t)
                .then(lower(a).total_cmp(&lower(b)))
        });
        self.interval.dedup_by(|next, kept| {
            let same = near(next.upper.t, kept.upper.t) && near(lower(next), lower(kept));
            if same {
                kept.weight += next.weight;
            }
            same
        });
    }

    /// Takes a sample apart, equal rows as one, so that neither their order nor their grouping changes a bit of what
    /// follows. Sets of more than 20,000 points are compressed with a remainder below 1e-15 for shapes up to 10 (Gauss
    /// rules in bins of ln t 1/64 wide: Gautschi 2004).
    ///
    /// ```
    /// use sealspan_life::terms::Terms;
    /// use sealspan_records::{Observation, Sample};
    /// // A failure watched from an age on adds a density and takes the survival of that age away.
    /// let terms = Terms::new(&Sample::new(vec![Observation::exact(90.0, 30.0, 2.0).unwrap()]));
    /// assert_eq!((terms.density[0].age.t, terms.density[0].weight), (90.0, 2.0));
    /// assert_eq!((terms.survival[0].age.t, terms.survival[0].weight), (30.0, -2.0));
    /// ```
    #[must_use]
    pub fn new(sample: &Sample) -> Self {
        let sample = &sample.reduce();
        let (mut density, mut survival, mut entries, mut interval) =
            (vec![], vec![], vec![], vec![]);
        for o in sample.rows() {
            let weight = o.count();
            let point = |t: f64| Point {
                age: Age::new(t),
                weight,
            };
            match o.seen() {
                Seen::Exact(t) => density.push(point(t)),
                Seen::Right(t) if t > 0.0 => survival.push(point(t)),
                Seen::Right(_) => {}
                Seen::Interval(a, b) => interval.push(Stretch {
                    lower: (a > 0.0).then(|| Age::new(a)),
                    upper: Age::new(b),
                    weight,
                }),
            }
            if o.entry() > 0.0 {
                entries.push(point(o.entry()));
            }
        }
        let extent = extent(sample);
        let mut survival = compress(survival);
        survival.extend(compress(entries).into_iter().map(|p| Point {
            weight: -p.weight,
            ..p
        }));
        Self {
            density: compress(density),
            survival,
            interval,
            extent,
        }
    }

    /// ln of (time watched / failures): the exponential's mean, with intervals taken at their middle.
    #[must_use]
    pub(crate) fn ln_mean_exponential(&self) -> f64 {
        let points = self
            .density
            .iter()
            .chain(&self.survival)
            .map(|p| p.weight * p.age.t);
        let stretches = self.interval.iter().map(|s| s.weight * middle(s));
        let watched: f64 = points.chain(stretches).sum();
        (watched / self.extent.failures.max(0.5))
            .max(f64::MIN_POSITIVE)
            .ln()
    }

    /// Means of ln life of the earliest `share` of the failures and of the others, intervals taken at
    /// their middle. `None` unless both hold some.
    #[must_use]
    pub(crate) fn ln_failure_halves(&self, share: f64) -> Option<(f64, f64)> {
        let points = self.density.iter().map(|p| (p.age.ln, p.weight));
        let stretches = self.interval.iter().map(|s| (middle(s).ln(), s.weight));
        let mut failures: Vec<(f64, f64)> = points.chain(stretches).collect();
        failures.sort_by(|a, b| a.0.total_cmp(&b.0));
        let early_weight = share * failures.iter().map(|f| f.1).sum::<f64>();
        let mut sums = [(0.0, 0.0); 2];
        for (ln, weight) in failures {
            let [early, late] = &mut sums;
            let side = if early.1 < early_weight { early } else { late };
            side.0 += weight * ln;
            side.1 += weight;
        }
        let [early, late] = sums;
        (early.1 > 0.0 && late.1 > 0.0).then(|| (early.0 / early.1, late.0 / late.1))
    }

    /// Standard deviation of ln life among the failures, intervals taken at their middle.
    #[must_use]
    pub(crate) fn ln_spread(&self) -> f64 {
        self.ln_moments(0.0).map_or(1.0, |(_, spread)| spread)
    }

    /// Mean and standard deviation of ln life among failures that lie so close together that other starts are too
    /// wide for them.
    #[must_use]
    pub(crate) fn close_together(&self) -> Option<(f64, f64)> {
        let close = |(_, spread): &(f64, f64)| *spread > 0.0 && *spread < CLOSE;
        self.ln_moments(0.0).filter(close)
    }

    /// Mean and standard deviation of ln life beyond an age before all failures, intervals taken at their middle.
    pub(crate) fn ln_moments(&self, beyond: f64) -> Option<(f64, f64)> {
        let ln = |age: &Age| {
            if beyond > 0.0 {
                (age.t - beyond).ln()
            } else {
                age.ln
            }
        };
        let points = self.density.iter().map(|p| (ln(&p.age), p.weight));
        let stretches = self.interval.iter().map(|s| {
            (
                (middle(s) - beyond).max(0.1 * (s.upper.t - beyond)).ln(),
                s.weight,
            )
        });
        let (mut n, mut mean, mut square) = (0.0, 0.0, 0.0);
        for (x, w) in points.chain(stretches) {
            n += w;
            let off = x - mean;
            mean += off * w / n;
            square += w * off * (x - mean);
        }
        // One value by itself may leave a rounding below 0.
        (n > 0.0).then(|| (mean, (square / n).max(0.0).sqrt()))
    }
}

/// Spread of ln life below which failures lie close together.
const CLOSE: f64 = 0.02;

fn middle(s: &Stretch) -> f64 {
    0.5 * (s.lower.map_or(0.0, |a| a.t) + s.upper.t)
}

fn extent(sample: &Sample) -> Extent {
    let tally = sample.tally();
    let mut e = Extent {
        total: tally.total(),
        failures: tally.failures(),
        exact: tally.exact,
        oldest: sample.oldest(),
        ..Extent::nothing()
    };
    for o in sample.rows() {
        match o.seen() {
            Seen::Exact(t) => {
                e.exact_range = (e.exact_range.0.min(t), e.exact_range.1.max(t));
                e.youngest = e.youngest.min(t);
            }
            Seen::Right(t) => e.oldest_sound = e.oldest_sound.max(t),
            Seen::Interval(a, b) => {
                e.oldest_sound = e.oldest_sound.max(a);
                e.smallest_upper = e.smallest_upper.min(b);
                if a > 0.0 {
                    e.between += o.count();
                }
                e.youngest = e.youngest.min(b);
            }
        }
    }
    e
}

#[cfg(test)]
mod tests;
