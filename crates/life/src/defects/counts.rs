//! What histories hold, and what they then cannot tell.

use crate::fit::NoFit;
use sealspan_records::history::{Ended, History};
use thiserror::Error;

/// What the histories hold.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Counts {
    /// Seals.
    pub seals: f64,
    /// Seals that failed.
    pub failed: f64,
    /// Seals found defective before they failed.
    pub found: f64,
    /// Seals of which neither was seen.
    pub running: f64,
    /// Watched only from some age on.
    pub truncated: f64,
    /// Looks that found a seal sound.
    pub sound_looks: f64,
    /// Distinct ages of looks, to the whole unit.
    pub look_ages: usize,
}

impl Counts {
    /// Counts histories.
    #[must_use]
    pub fn of(histories: &[History]) -> Self {
        let mut out = Self::default();
        let mut ages = std::collections::BTreeSet::new();
        for h in histories {
            out.seals += h.count();
            out.sound_looks += h.count() * h.looks().len() as f64;
            match h.ended() {
                Ended::Failed(_) | Ended::FailedBetween(..) => out.failed += h.count(),
                Ended::Found(t) => {
                    out.found += h.count();
                    ages.insert(t.round() as i64);
                }
                Ended::Running(_) => out.running += h.count(),
            }
            if h.entry() > 0.0 {
                out.truncated += h.count();
            }
            ages.extend(h.looks().iter().map(|a| a.round() as i64));
        }
        out.look_ages = ages.len();
        out
    }
}

/// Why a log does not tell a defect's age and the delay to failure apart.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoDefectFit {
    /// Nothing to learn from.
    #[error("no seals: nothing can be estimated")]
    Empty,
    /// Neither a finding nor a failure.
    #[error(
        "no defect was found and nothing failed among {seals} seals: neither the age of defects nor the delay to failure can be told"
    )]
    NothingHappened {
        /// Seals watched.
        seals: f64,
    },
    /// Failures only.
    #[error(
        "no look found a defect before it failed ({failed} failures): the log tells the whole life, not its two parts"
    )]
    NoFindings {
        /// Failures.
        failed: f64,
    },
    /// Findings only.
    #[error(
        "no seal failed ({found} defects found): the log tells when defects come, not how long they take to leak"
    )]
    NoFailures {
        /// Defects found.
        found: f64,
    },
    /// Findings without sound looks.
    #[error(
        "{found} defects were found, but no look that found a seal sound is recorded: every finding would pass for a first look, and neither detection nor the delay could be told"
    )]
    NoSoundLooks {
        /// Defects found.
        found: f64,
    },
    /// The likelihood has no maximum.
    #[error("the two stages cannot be told apart from this log: {0}")]
    NoMaximum(NoFit),
}

impl NoDefectFit {
    /// Which record would mend it.
    ///
    /// ```
    /// use sealspan_life::defects::{Counts, NoDefectFit};
    /// assert_eq!(
    ///     NoDefectFit::NoSoundLooks { found: 3.0 }.cure(),
    ///     "record every look, also those that find the seal sound"
    /// );
    /// assert_eq!(Counts::of(&[]).seals, 0.0);
    /// ```
    #[must_use]
    pub fn cure(&self) -> &'static str {
        match self {
            Self::Empty => "record seals and their inspections",
            Self::NothingHappened { .. } => {
                "go on recording: every look with its finding, every failure with its date"
            }
            Self::NoFindings { .. } => {
                "record each look with its finding, sound ones too, and take defects off as `worn`; life to failure: `sealspan fit`"
            }
            Self::NoFailures { .. } => {
                "record failures if there were any; else leave a few harmless defects in place under watch, or look less often for a while"
            }
            Self::NoSoundLooks { .. } => "record every look, also those that find the seal sound",
            Self::NoMaximum(_) => {
                "state the detection (--detection 0.8) or a constant rate after the defect (--delay-law exponential); record a second look soon after some sound ones"
            }
        }
    }
}
