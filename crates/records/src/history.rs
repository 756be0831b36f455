//! One seal's inspection history in normal form: what the defect model reads.

use crate::observation::NotAnObservation;

/// How a history ended. Ages are in the unit of its clock, finite and 0 or more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ended {
    /// Failed at this age, seen at once.
    Failed(f64),
    /// Failed after the first age and by the second; not yet failed at the first.
    FailedBetween(f64, f64),
    /// Found defective by a look at this age, before it failed.
    Found(f64),
    /// Not failed by this age; what came later is not known, or had nothing to do with its state.
    Running(f64),
}

impl Ended {
    /// The last age at which anything is known.
    #[must_use]
    pub fn last(&self) -> f64 {
        match self {
            Self::Failed(t) | Self::FailedBetween(_, t) | Self::Found(t) | Self::Running(t) => *t,
        }
    }

    /// The last age at which the seal is known not to have failed.
    #[must_use]
    pub(crate) fn sound_to(&self) -> f64 {
        match self {
            Self::FailedBetween(t, _) | Self::Failed(t) | Self::Found(t) | Self::Running(t) => *t,
        }
    }
}

/// One seal: when watching began, the looks that found it sound, and how it ended.
///
/// ```
/// use sealspan_records::history::{Ended, History};
/// let seal = History::new(30.0, vec![60.0, 121.0], Ended::FailedBetween(121.0, 180.0), 1.0)?;
/// assert_eq!((seal.entry(), seal.count(), seal.ended().last()), (30.0, 1.0, 180.0));
/// let merged = History::reduce(vec![seal.clone(), seal]);
/// assert_eq!((merged.len(), merged[0].count()), (1, 2.0));
/// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct History {
    entry: f64,
    looks: Vec<f64>,
    ended: Ended,
    count: f64,
}

impl History {
    /// A history. Looks are the ages at which a look found the seal sound; those before `entry` are what is
    /// taken to have happened before watching began. Looks that say nothing (at age 0, or after the seal
    /// was last known not to have failed) are dropped, equal ones are one. A finding or failure on the day of a sound look
    /// comes after it: such a look is put half a unit of the clock earlier, or half way to 0 where that is less (a rule of
    /// ours). A failure between two ages that are equal is one at that age, and the lower is no lower than `entry`.
    ///
    /// # Errors
    /// When an age is negative or not finite, a failure or finding has age 0, an interval is reversed, an entry above 0 is
    /// not below the end, or the count is not a finite number from 0.
    ///
    /// ```
    /// use sealspan_records::history::{Ended, History};
    /// let seal = History::new(0.0, vec![60.0, 121.0], Ended::Found(180.0), 1.0)?;
    /// assert_eq!(seal.looks(), [60.0, 121.0]);
    /// # Ok::<(), sealspan_records::observation::NotAnObservation>(())
    /// ```
    pub fn new(
        entry: f64,
        mut looks: Vec<f64>,
        ended: Ended,
        count: f64,
    ) -> Result<Self, NotAnObservation> {
        if !count.is_finite() || count < 0.0 {
            return Err(NotAnObservation::BadCount(count));
        }
        age("entry", entry)?;
        for look in &looks {
            age("look", *look)?;
        }
        age("age", ended.last())?;
        let ended = match ended {
            Ended::FailedBetween(lower, upper) => {
                age("lower", lower)?;
                if lower > upper {
                    return Err(NotAnObservation::Reversed { lower, upper });
                }
                if lower == upper {
                    Ended::Failed(upper)
                } else {
                    Ended::FailedBetween(lower.max(entry), upper)
                }
            }
            other => other,
        };
        let last = ended.last();
        if last <= 0.0 && !matches!(ended, Ended::Running(_)) {
            return Err(NotAnObservation::FailureAtZero);
        }
        if entry > 0.0 && entry >= last {
            return Err(NotAnObservation::EntryAfterEnd { entry, last });
        }
        let to = ended.sound_to();
        let on_the_day = match ended {
            Ended::Failed(t) | Ended::Found(t) => t,
            _ => f64::INFINITY,
        };
        looks.retain(|look| *look > 0.0 && *look <= to);
        for look in &mut looks {
            if *look >= on_the_day {
                *look = on_the_day - 0.5_f64.min(0.5 * on_the_day);
            }
        }
        looks.sort_by(f64::total_cmp);
        looks.dedup();
        Ok(Self {
            entry,
            looks,
            ended,
            count,
        })
    }

    /// Age at which watching began (0 when watched from new).
    #[must_use]
    pub fn entry(&self) -> f64 {
        self.entry
    }

    /// Ages of the looks that found it sound, ascending, none twice.
    #[must_use]
    pub fn looks(&self) -> &[f64] {
        &self.looks
    }

    /// How it ended.
    #[must_use]
    pub fn ended(&self) -> Ended {
        self.ended
    }

    /// How many seals alike.
    #[must_use]
    pub fn count(&self) -> f64 {
        self.count
    }

    /// The histories with equal ones merged and their counts added, in a fixed order; those with count 0 are left out.
    #[must_use]
    pub fn reduce(mut list: Vec<Self>) -> Vec<Self> {
        list.retain(|h| h.count > 0.0);
        list.sort_by(order);
        list.dedup_by(|next, kept| {
            let same = order(next, kept).is_eq();
            if same {
                kept.count += next.count;
            }
            same
        });
        list
    }
}

fn age(what: &'static str, value: f64) -> Result<(), NotAnObservation> {
    if !value.is_finite() {
        Err(NotAnObservation::NotFinite { what, value })
    } else if value < 0.0 {
        Err(NotAnObservation::Negative { what, value })
    } else {
        Ok(())
    }
}

fn order(a: &History, b: &History) -> std::cmp::Ordering {
    let key = |h: &History| match h.ended {
        Ended::Failed(t) => (0_u8, t, t),
        Ended::FailedBetween(from, to) => (1, from, to),
        Ended::Found(t) => (2, t, t),
        Ended::Running(t) => (3, t, t),
    };
    let ((ka, fa, ta), (kb, fb, tb)) = (key(a), key(b));
    ka.cmp(&kb)
        .then(fa.total_cmp(&fb))
        .then(ta.total_cmp(&tb))
        .then(a.entry.total_cmp(&b.entry))
        .then(a.looks.len().cmp(&b.looks.len()))
        .then_with(|| {
            let pairs = a.looks.iter().zip(&b.looks);
            pairs.fold(std::cmp::Ordering::Equal, |o, (x, y)| {
                o.then(x.total_cmp(y))
            })
        })
}
