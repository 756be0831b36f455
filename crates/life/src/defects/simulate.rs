//! Invented histories of known laws: for tests and for the study of coverage.

use crate::life::Life;
use sealspan_numeric::random::Stream;
use sealspan_records::history::{Ended, History};

/// How invented seals are looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LookPlan {
    /// Time between looks, in the unit of the ages.
    pub every: f64,
    /// How far a look may stray to either side, in the unit of the ages.
    pub jitter: f64,
    /// Probability that a planned look is not made.
    pub skipped: f64,
    /// Watching ends at an age drawn evenly between these two.
    pub until: (f64, f64),
    /// Watching begins at an age drawn evenly between 0 and this, of seals that are still in place then.
    pub entry: f64,
    /// Probability that a look finds a defect that is there.
    pub detection: f64,
}

/// One invented seal. `None` when none of many came to its age of entry.
#[must_use]
pub fn simulate(
    defect: &Life,
    delay: &Life,
    plan: &LookPlan,
    stream: &mut Stream,
) -> Option<History> {
    const TRIES: usize = 10_000;
    let entry = plan.entry * stream.uniform();
    let (first, last) = plan.until;
    let end = entry + first + (last - first) * stream.uniform();
    (0..TRIES).find_map(|_| once(defect, delay, plan, (entry, end), stream))
}

fn once(
    defect: &Life,
    delay: &Life,
    plan: &LookPlan,
    (entry, end): (f64, f64),
    stream: &mut Stream,
) -> Option<History> {
    let u = defect.sample(stream.uniform());
    let failure = u + delay.sample(stream.uniform());
    let mut looks = vec![];
    let mut age = 0.0;
    let ended = loop {
        age += plan.every + plan.jitter * (2.0 * stream.uniform() - 1.0);
        let next = age.min(end);
        if failure <= next {
            break Ended::Failed(failure);
        }
        if end <= age {
            break Ended::Running(end);
        }
        if plan.skipped > 0.0 && stream.uniform() < plan.skipped {
            continue;
        }
        if u < age && stream.uniform() < plan.detection {
            break Ended::Found(age);
        }
        looks.push(age);
    };
    if ended.last() <= entry {
        return None;
    }
    History::new(entry, looks, ended, 1.0).ok()
}
