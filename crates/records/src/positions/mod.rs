//! What each position consumed while it was under watch, and where on its door the seals gave way.

mod counter;
mod frame;
mod log;

pub use frame::{Frame, not_more_than_numbered};
pub use log::{PositionLog, Removal, Stretch, positions};

use crate::finding::SetAside;
use crate::observation::Clock;
use crate::words::{Mechanism, Outcome};

/// What is asked of the positions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PositionsQuestion {
    /// The time scale.
    pub clock: Clock,
    /// Outcomes that count as replacements.
    pub counted: Vec<Outcome>,
    /// Only replacements by this mechanism count.
    pub mechanism: Option<Mechanism>,
    /// Columns that make groups of positions; none for one group of all.
    pub by: Vec<String>,
    /// Columns whose seals are alike: a seal's expected life is that of its like.
    pub like: Vec<String>,
    /// Sectors of a ring, 2 or more.
    pub sectors: u32,
}

/// The logs of all positions that can be told.
#[derive(Debug, Clone, PartialEq)]
pub struct Positions {
    /// The time scale.
    pub clock: Clock,
    /// By asset, then by position, one without a name first.
    pub list: Vec<PositionLog>,
    /// Seals that belong to no position or cannot be placed in time, those not used for any question included; by row.
    pub set_aside: Vec<SetAside>,
    /// What was assumed, in sentences.
    pub assumed: Vec<String>,
}

/// Reads `--mode`: an outcome to count alone, or a mechanism; one of the two is `None`. A word that is both (`unknown`) is
/// the outcome.
///
/// # Errors
/// When the word is neither, or `in_service`, which is no end.
///
/// ```
/// use sealspan_records::positions::mode;
/// use sealspan_records::words::Outcome;
/// assert_eq!(mode("worn")?, (Some(Outcome::Worn), None));
/// assert!(mode("in service").is_err()); // no end of a life
/// # Ok::<(), sealspan_records::Error>(())
/// ```
pub fn mode(word: &str) -> Result<(Option<Outcome>, Option<Mechanism>), crate::Error> {
    let outcome = Outcome::from_word(word).filter(|o| *o != Outcome::InService);
    match (outcome, Mechanism::from_word(word)) {
        (Some(outcome), _) => Ok((Some(outcome), None)),
        (None, Some(mechanism)) => Ok((None, Some(mechanism))),
        (None, None) => Err(crate::ask_seals::unknown_mode(word)),
    }
}
