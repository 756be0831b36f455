//! Lives with the mode each ended by.
//!
//! ```
//! use sealspan_life::competing::rows::{ByMode, ModeRow};
//! use sealspan_records::observation::Observation;
//! let row = |observation, mode| ModeRow { observation, mode };
//! let worn = row(Observation::exact(300.0, 0.0, 2.0)?, Some(0));
//! let running = row(Observation::right(600.0, 0.0, 5.0)?, None);
//! let lives = ByMode::new(vec![worn, running], 2)?;
//! assert_eq!((lives.rows().len(), lives.modes()), (2, 2));
//! assert_eq!(lives.all().tally().failures(), 2.0);
//! // Nothing ended by the second mode.
//! let failures: Vec<f64> = lives.split().iter().map(|s| s.tally().failures()).collect();
//! assert_eq!(failures, [2.0, 0.0]);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use sealspan_records::observation::{NotAnObservation, Observation, Sample, Seen};
use thiserror::Error;

/// One life and the mode it ended by: an index from 0 for an ended life, `None` for one still sound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ModeRow {
    /// What was seen of the life, with its entry age and count.
    pub observation: Observation,
    /// Number of the mode.
    pub mode: Option<usize>,
}

/// Why rows are no lives by mode. Rows are numbered from 0.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum BadRow {
    /// An ended life without its mode.
    #[error(
        "row {row} ended but names no mode; give those of unknown mode a mode of their own, since leaving them out or censoring them makes every mode look rarer"
    )]
    NoMode {
        /// Number of the row.
        row: usize,
    },
    /// A life still sound with a mode.
    #[error("row {row} is still sound but names a mode; it has not failed by any yet")]
    ModeOfASoundSeal {
        /// Number of the row.
        row: usize,
    },
    /// A mode that is not among those counted.
    #[error("row {row} names mode {mode}; there are {modes}, numbered from 0")]
    UnknownMode {
        /// Number of the row.
        row: usize,
        /// Mode named.
        mode: usize,
        /// How many modes there are.
        modes: usize,
    },
    /// The row cannot be censored at the age known.
    #[error("row {row}: {why}")]
    NotAnObservation {
        /// Number of the row.
        row: usize,
        /// Why.
        why: NotAnObservation,
    },
}

/// Lives by mode, checked once.
#[derive(Debug, Clone, PartialEq)]
pub struct ByMode {
    rows: Vec<ModeRow>,
    /// Each row as seen by a mode other than its own.
    censored: Vec<Observation>,
    modes: usize,
}

impl ByMode {
    /// Takes rows that end by modes 0 to `modes` − 1.
    ///
    /// # Errors
    /// [`BadRow`], when an ended life has no mode, a sound one has, or a mode is out of range.
    ///
    /// ```
    /// use sealspan_life::competing::rows::{ByMode, ModeRow};
    /// use sealspan_records::observation::Observation;
    /// let row = |observation, mode| ModeRow { observation, mode };
    /// let lives = ByMode::new(
    ///     vec![
    ///         row(Observation::exact(300.0, 0.0, 2.0)?, Some(0)), // 2 worn at 300
    ///         row(Observation::interval(400.0, 500.0, 0.0, 1.0)?, Some(1)), // 1 split by 500
    ///         row(Observation::right(600.0, 0.0, 5.0)?, None), // 5 running
    ///     ],
    ///     2,
    /// )?;
    /// let worn = lives.cause_specific(0);
    /// // To wear, the split seal was sound at 400 and is not known of later.
    /// assert_eq!(worn.rows()[1], Observation::right(400.0, 0.0, 1.0)?);
    /// assert_eq!(worn.tally().failures(), 2.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn new(rows: Vec<ModeRow>, modes: usize) -> Result<Self, BadRow> {
        let check = |(row, r): (usize, &ModeRow)| {
            match (r.observation.ended(), r.mode) {
                (true, None) => return Err(BadRow::NoMode { row }),
                (false, Some(_)) => return Err(BadRow::ModeOfASoundSeal { row }),
                (_, Some(mode)) if mode >= modes => {
                    return Err(BadRow::UnknownMode { row, mode, modes });
                }
                _ => {}
            }
            sound(&r.observation).map_err(|why| BadRow::NotAnObservation { row, why })
        };
        let censored = rows.iter().enumerate().map(check).collect::<Result<_, _>>();
        Ok(Self {
            censored: censored?,
            rows,
            modes,
        })
    }

    /// The rows.
    #[must_use]
    pub fn rows(&self) -> &[ModeRow] {
        &self.rows
    }

    /// How many modes.
    #[must_use]
    pub fn modes(&self) -> usize {
        self.modes
    }

    /// All lives, whatever they ended by.
    #[must_use]
    pub fn all(&self) -> Sample {
        Sample::new(self.rows.iter().map(|r| r.observation).collect())
    }

    /// The sample of one mode: lives that ended by another are right-censored, at the age they ended
    /// or, where only an interval is known, at its lower end. With a mode out of range, nothing fails.
    ///
    /// Censoring there is right when the modes are independent (see [`super::INDEPENDENCE`]). An interval
    /// leaves out that the seal may have been sound for longer, which costs precision and, when intervals
    /// are long compared to lives, biases this mode's life downwards.
    #[must_use]
    pub fn cause_specific(&self, mode: usize) -> Sample {
        let rows = self.rows.iter().zip(&self.censored);
        let seen = rows.map(|(row, censored)| {
            if row.mode == Some(mode) {
                row.observation
            } else {
                *censored
            }
        });
        Sample::new(seen.collect())
    }

    /// The samples of all modes in their order.
    #[must_use]
    pub fn split(&self) -> Vec<Sample> {
        (0..self.modes).map(|m| self.cause_specific(m)).collect()
    }
}

/// The life as far as it is known to have been sound.
fn sound(o: &Observation) -> Result<Observation, NotAnObservation> {
    let known = match o.seen() {
        Seen::Exact(t) | Seen::Right(t) | Seen::Interval(t, _) => t,
    };
    Observation::interval(known, f64::INFINITY, o.entry(), o.count())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn row(observation: Result<Observation, NotAnObservation>, mode: Option<usize>) -> ModeRow {
        ModeRow {
            observation: observation.unwrap(),
            mode,
        }
    }

    #[test]
    fn other_modes_censor_at_the_age_known_and_keep_entry_and_count() {
        let lives = ByMode::new(
            vec![
                row(Observation::exact(30.0, 10.0, 3.0), Some(0)),
                row(Observation::interval(20.0, 40.0, 5.0, 2.0), Some(1)),
                row(Observation::interval(0.0, 15.0, 5.0, 1.0), Some(1)),
                row(Observation::right(50.0, 12.0, 4.0), None),
            ],
            2,
        )
        .unwrap();
        let expected = |rows: [Result<Observation, NotAnObservation>; 4]| {
            Sample::new(rows.into_iter().map(Result::unwrap).collect())
        };
        let split = lives.split();
        assert_eq!(
            split[0],
            expected([
                Observation::exact(30.0, 10.0, 3.0),
                Observation::right(20.0, 5.0, 2.0),
                // Ended somewhere after it came under watch: nothing is known of the other mode.
                Observation::right(0.0, 0.0, 1.0),
                Observation::right(50.0, 12.0, 4.0),
            ])
        );
        assert_eq!(
            split[1],
            expected([
                Observation::right(30.0, 10.0, 3.0),
                Observation::interval(20.0, 40.0, 5.0, 2.0),
                Observation::interval(0.0, 15.0, 5.0, 1.0),
                Observation::right(50.0, 12.0, 4.0),
            ])
        );
        assert_eq!(lives.all().tally().failures(), 6.0);
    }

    #[test]
    fn rows_that_make_no_sense_are_refused_by_number() {
        let failed = |mode| row(Observation::exact(5.0, 0.0, 1.0), mode);
        let refusal = |rows: Vec<ModeRow>| ByMode::new(rows, 2).unwrap_err();
        assert_eq!(
            refusal(vec![failed(Some(1)), failed(None)]),
            BadRow::NoMode { row: 1 }
        );
        assert_eq!(
            refusal(vec![failed(Some(2))]),
            BadRow::UnknownMode {
                row: 0,
                mode: 2,
                modes: 2
            }
        );
        assert_eq!(
            refusal(vec![row(Observation::right(5.0, 0.0, 1.0), Some(0))]),
            BadRow::ModeOfASoundSeal { row: 0 }
        );
    }
}
