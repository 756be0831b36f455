//! One observed life in normal form, and samples of them.
//!
//! The constructors put every observation in normal form once; nothing downstream checks again.

use rayon::prelude::*;
use thiserror::Error;

/// What was seen of one life. Times are ages in the unit of the sample's clock, finite and 0 or more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seen {
    /// Ended exactly at this age.
    Exact(f64),
    /// Still sound at this age; the end came later or not yet.
    Right(f64),
    /// Ended somewhere in (lower, upper]. A left-censored life is `Interval(entry, upper)`.
    Interval(f64, f64),
}

/// One observed life: what was seen, the age at which watching began, and how many alike.
///
/// ```
/// use sealspan_records::observation::{Observation, Seen};
/// // Watched from the age of 30 days, sound at 60, failed by 90.
/// let seal = Observation::interval(60.0, 90.0, 30.0, 1.0)?;
/// assert_eq!(seal.seen(), Seen::Interval(60.0, 90.0));
/// assert_eq!((seal.entry(), seal.last(), seal.count()), (30.0, 90.0, 1.0));
/// assert_eq!(seal.with_count(4.0)?.count(), 4.0);
/// assert!(seal.ended() && !Observation::right(90.0, 0.0, 1.0)?.ended());
/// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    seen: Seen,
    entry: f64,
    count: f64,
}

/// Why a pair of ages is no observation.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NotAnObservation {
    /// An age is NaN or infinite where it must be a finite number.
    #[error("{what} is {value}; an age must be a finite number")]
    NotFinite {
        /// Which age.
        what: &'static str,
        /// Its value.
        value: f64,
    },
    /// An age is negative.
    #[error("{what} is {value}; an age cannot be negative")]
    Negative {
        /// Which age.
        what: &'static str,
        /// Its value.
        value: f64,
    },
    /// A failure at age zero has no likelihood in continuous time.
    #[error(
        "failure at age 0; give the first age at which it could have been seen as `upper`, with `lower` empty"
    )]
    FailureAtZero,
    /// `lower` is above `upper`.
    #[error("lower {lower} is above upper {upper}; swap them or correct one")]
    Reversed {
        /// Lower age.
        lower: f64,
        /// Upper age.
        upper: f64,
    },
    /// The age at entry is not below the age at the end of watching.
    #[error("entry age {entry} is not below the last age seen {last}; nothing was watched")]
    EntryAfterEnd {
        /// Age at which watching began.
        entry: f64,
        /// Last age seen.
        last: f64,
    },
    /// The count of seals is negative or not finite.
    #[error("count is {0}; it must be a number of seals, zero or more")]
    BadCount(f64),
}

fn age(what: &'static str, value: f64) -> Result<f64, NotAnObservation> {
    if !value.is_finite() {
        return Err(NotAnObservation::NotFinite { what, value });
    }
    if value < 0.0 {
        return Err(NotAnObservation::Negative { what, value });
    }
    Ok(value)
}

impl Observation {
    /// No life at all: count 0, dropped by every sample.
    pub(crate) const NOTHING: Self = Self {
        seen: Seen::Right(0.0),
        entry: 0.0,
        count: 0.0,
    };

    fn new(seen: Seen, last: f64, entry: f64, count: f64) -> Result<Self, NotAnObservation> {
        let entry = age("entry", entry)?;
        if !count.is_finite() || count < 0.0 {
            return Err(NotAnObservation::BadCount(count));
        }
        if entry > 0.0 && entry >= last {
            return Err(NotAnObservation::EntryAfterEnd { entry, last });
        }
        Ok(Self { seen, entry, count })
    }

    /// Ended exactly at age `t`, watched since age `entry`; `count` alike, parts of a seal allowed.
    ///
    /// # Errors
    /// When an age or the count is negative or not finite, `t` is 0, or `entry >= t`.
    ///
    /// ```
    /// use sealspan_records::observation::{Observation, Seen};
    /// let seal = Observation::exact(120.0, 0.0, 1.0)?;
    /// assert_eq!(seal.seen(), Seen::Exact(120.0));
    /// assert!(Observation::exact(0.0, 0.0, 1.0).is_err());
    /// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
    /// ```
    pub fn exact(t: f64, entry: f64, count: f64) -> Result<Self, NotAnObservation> {
        let t = age("time", t)?;
        if t == 0.0 {
            return Err(NotAnObservation::FailureAtZero);
        }
        Self::new(Seen::Exact(t), t, entry, count)
    }

    /// Still sound at age `t`, watched since age `entry`; `count` alike.
    ///
    /// # Errors
    /// When an age or the count is negative or not finite, or `entry >= t` with `entry > 0`.
    pub fn right(t: f64, entry: f64, count: f64) -> Result<Self, NotAnObservation> {
        let t = age("time", t)?;
        Self::new(Seen::Right(t), t, entry, count)
    }

    /// Ended in (lower, upper], watched since age `entry`; `count` alike. `lower <= entry` (or 0) is a left-censored life,
    /// written `Interval(entry, upper)`; `lower == upper` is exact; an infinite `upper` is right-censored at `lower`, or,
    /// with `lower <= entry`, at 0 and watched from new: nothing is known of it.
    ///
    /// # Errors
    /// When an age or the count is negative or not finite (`upper` may be infinite), `lower` is above `upper`, both are 0,
    /// or `entry >= upper` with `entry > 0`.
    ///
    /// ```
    /// use sealspan_records::observation::{Observation, Seen};
    /// let seen = |lower, upper, entry| Observation::interval(lower, upper, entry, 1.0).map(|o| (o.seen(), o.entry()));
    /// assert_eq!(seen(0.0, 90.0, 30.0)?, (Seen::Interval(30.0, 90.0), 30.0)); // failed before the first look
    /// assert_eq!(seen(60.0, f64::INFINITY, 30.0)?, (Seen::Right(60.0), 30.0));
    /// assert_eq!(seen(20.0, f64::INFINITY, 30.0)?, (Seen::Right(0.0), 0.0));
    /// assert!(seen(20.0, f64::INFINITY, f64::NAN).is_err());
    /// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
    /// ```
    pub fn interval(
        lower: f64,
        upper: f64,
        entry: f64,
        count: f64,
    ) -> Result<Self, NotAnObservation> {
        let lower = age("lower", lower)?;
        if upper == f64::INFINITY {
            let entry = age("entry", entry)?;
            return if lower > entry {
                Self::right(lower, entry, count)
            } else {
                Self::right(0.0, 0.0, count)
            };
        }
        let upper = age("upper", upper)?;
        if lower > upper {
            return Err(NotAnObservation::Reversed { lower, upper });
        }
        if lower == upper {
            return Self::exact(upper, entry, count);
        }
        Self::new(Seen::Interval(lower.max(entry), upper), upper, entry, count)
    }

    /// What was seen.
    #[must_use]
    pub fn seen(&self) -> Seen {
        self.seen
    }

    /// Age at which watching began, in the unit of the sample's clock (0 when watched from new).
    #[must_use]
    pub fn entry(&self) -> f64 {
        self.entry
    }

    /// How many seals alike.
    #[must_use]
    pub fn count(&self) -> f64 {
        self.count
    }

    /// The same life seen `count` times.
    ///
    /// # Errors
    /// When `count` is negative or not finite.
    pub fn with_count(self, count: f64) -> Result<Self, NotAnObservation> {
        if !count.is_finite() || count < 0.0 {
            return Err(NotAnObservation::BadCount(count));
        }
        Ok(Self { count, ..self })
    }

    /// Last age at which anything is known of this life: that of its end, of an interval the upper one.
    #[must_use]
    pub fn last(&self) -> f64 {
        match self.seen {
            Seen::Exact(t) | Seen::Right(t) | Seen::Interval(_, t) => t,
        }
    }

    /// True for an ended life (exact or interval).
    #[must_use]
    pub fn ended(&self) -> bool {
        !matches!(self.seen, Seen::Right(_))
    }
}

/// How many lives (seals, not rows) of each kind a sample holds; interval includes neither exact nor left.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tally {
    /// Ended at a known age.
    pub exact: f64,
    /// Seals still running or taken off for another reason.
    pub right: f64,
    /// Seals that ended before the first look: between the age when watching began and a later one.
    pub left: f64,
    /// Ended between two known ages.
    pub interval: f64,
    /// Watched only from an age above zero (counted in the other fields too).
    pub truncated: f64,
}

impl Tally {
    /// All lives: exact + right + left + interval.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.exact + self.right + self.left + self.interval
    }

    /// Ended lives: exact + left + interval.
    #[must_use]
    pub fn failures(&self) -> f64 {
        self.exact + self.left + self.interval
    }
}

/// Observations on one clock, in the order given.
///
/// ```
/// use sealspan_records::observation::{Observation, Sample};
/// let sample = Sample::new(vec![
///     Observation::right(500.0, 0.0, 10.0)?,
///     Observation::exact(54.0, 0.0, 1.0)?,
///     Observation::interval(0.0, 80.0, 0.0, 2.0)?, // failed before the first look
/// ]);
/// let tally = sample.tally();
/// assert_eq!((tally.total(), tally.failures(), tally.left), (13.0, 3.0, 2.0));
/// assert_eq!(sample.oldest(), 500.0);
/// assert_eq!(sample.in_order().rows()[0].last(), 54.0); // exact ages first
/// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sample {
    rows: Vec<Observation>,
}

impl Sample {
    /// Wraps observations; rows with count 0 are dropped, they carry nothing.
    ///
    /// ```
    /// use sealspan_records::observation::{Observation, Sample};
    /// let sample = Sample::new(vec![
    ///     Observation::exact(54.0, 0.0, 1.0)?,
    ///     Observation::right(500.0, 0.0, 10.0)?,
    /// ]);
    /// assert_eq!(sample.tally().total(), 11.0);
    /// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
    /// ```
    #[must_use]
    pub fn new(mut rows: Vec<Observation>) -> Self {
        rows.retain(|o| o.count > 0.0);
        Self { rows }
    }

    /// The observations.
    #[must_use]
    pub fn rows(&self) -> &[Observation] {
        &self.rows
    }

    /// Counts by kind.
    #[must_use]
    pub fn tally(&self) -> Tally {
        let mut tally = Tally::default();
        for o in &self.rows {
            match o.seen {
                Seen::Exact(_) => tally.exact += o.count,
                Seen::Right(_) => tally.right += o.count,
                Seen::Interval(a, _) if a <= o.entry => tally.left += o.count,
                Seen::Interval(..) => tally.interval += o.count,
            }
            if o.entry > 0.0 {
                tally.truncated += o.count;
            }
        }
        tally
    }

    /// The same sample in normal form: equal rows (what was seen and entry age) merged and their counts added, in
    /// order (exact, right, interval, each by age, then by entry age). Every likelihood and product-limit estimate of
    /// the merged sample equals that of the rows one by one, and what is worked out from it cannot depend on how
    /// the rows were listed.
    ///
    /// ```
    /// use sealspan_records::observation::{Observation, Sample};
    /// let one = Observation::exact(54.0, 0.0, 1.0)?;
    /// let sample = Sample::new(vec![one, Observation::right(80.0, 0.0, 1.0)?, one]).reduce();
    /// assert_eq!(sample.rows().len(), 2);
    /// assert_eq!(sample.rows()[0].count(), 2.0);
    /// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
    /// ```
    #[must_use]
    pub fn reduce(&self) -> Sample {
        // Even a sum of fractions comes out the same however the rows were listed.
        let Self { mut rows } = self.in_order();
        rows.dedup_by(|next, kept| {
            let same = order(next, kept).is_eq();
            if same {
                kept.count += next.count;
            }
            same
        });
        Self { rows }
    }

    /// The rows in one order, however they were listed; equal ones stay apart.
    #[must_use]
    pub fn in_order(&self) -> Sample {
        let mut rows = self.rows.clone();
        // Counts last.
        rows.par_sort_unstable_by(|a, b| order(a, b).then(a.count.total_cmp(&b.count)));
        Self { rows }
    }

    /// Greatest age seen, ended or not (of an interval its upper one); 0 for an empty sample.
    #[must_use]
    pub fn oldest(&self) -> f64 {
        self.rows.iter().map(Observation::last).fold(0.0, f64::max)
    }
}

/// Order of rows by kind, ages and entry age; equal for rows that can be merged.
fn order(a: &Observation, b: &Observation) -> std::cmp::Ordering {
    let key = |o: &Observation| match o.seen {
        Seen::Exact(t) => (0_u8, t, t),
        Seen::Right(t) => (1, t, t),
        Seen::Interval(from, to) => (2, from, to),
    };
    let ((ka, fa, ta), (kb, fb, tb)) = (key(a), key(b));
    ka.cmp(&kb)
        .then(fa.total_cmp(&fb))
        .then(ta.total_cmp(&tb))
        .then(a.entry.total_cmp(&b.entry))
}

/// The time scale of ages.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, Hash, Default, serde::Serialize, serde::Deserialize,
)]
#[serde(rename_all = "lowercase")]
pub enum Clock {
    /// Calendar days since fitting.
    #[default]
    Days,
    /// Operating hours since fitting.
    Hours,
    /// Cycles (closures, cleaning cycles) since fitting.
    Cycles,
}

impl Clock {
    /// The unit's name, plural.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Clock::Days => "days",
            Clock::Hours => "hours",
            Clock::Cycles => "cycles",
        }
    }
}
