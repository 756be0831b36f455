//! How unequally the arcs of the doors wear the seals, from where the seals gave way.

use sealspan_care::seal::Seal;
use sealspan_life::sectors::severity::{Shape, draws, severity};
use sealspan_life::sectors::shares::PRIOR;
use sealspan_life::sectors::uneven::uneven;
use sealspan_records::positions::{Frame, PositionsQuestion, positions};
use sealspan_records::words::Outcome;
use sealspan_records::{Clock, Records};

/// Seals by the arc of the door frame at which they gave way, all doors together.
#[derive(Debug, Clone, PartialEq)]
pub struct Arcs {
    counts: Vec<u32>,
}

/// Sectors of a ring unless the study says otherwise.
const SECTORS: u32 = 4;
/// Fewer seals with a known arc tell nothing of the doors (a rule of ours).
const FEWEST: u32 = 30;

impl Arcs {
    /// The arcs, or why they are not known.
    ///
    /// # Errors
    /// In words.
    pub(crate) fn read(records: &Records, clock: Clock) -> Result<Self, String> {
        let sectors = records.study.question.sectors.unwrap_or(SECTORS);
        let question = PositionsQuestion {
            clock,
            counted: vec![Outcome::Failed, Outcome::Worn],
            mechanism: None,
            by: vec![],
            like: vec![],
            sectors,
        };
        let logs = positions(records, &question).map_err(|e| e.to_string())?;
        let mut counts = vec![0_u32; sectors as usize];
        let removals = logs.list.iter().flat_map(|log| &log.removals);
        for removal in removals {
            if let Frame::At(sector) = removal.frame {
                let slot = (sector as usize).checked_sub(1);
                if let Some(count) = slot.and_then(|i| counts.get_mut(i)) {
                    *count += 1;
                }
            }
        }
        let all: u32 = counts.iter().sum();
        if all < FEWEST {
            return Err(format!(
                "the arc of the door where a seal gave way is known for {all} seals only; record `sector` at each finding and `turned` at each turn, or state --sector-severity"
            ));
        }
        Ok(Self { counts })
    }

    /// Seals counted at each arc.
    #[must_use]
    pub(crate) fn counts(&self) -> &[u32] {
        &self.counts
    }

    /// Probability of arcs as uneven as these on doors that wear evenly.
    #[must_use]
    pub(crate) fn p_value(&self, seed: u64) -> Option<f64> {
        Some(uneven(&self.counts, seed)?.p_value)
    }

    /// Relative wear of the arcs for seals of a Weibull shape.
    #[must_use]
    pub(crate) fn severities(&self, shape: f64) -> Option<Vec<f64>> {
        // As the posterior mean; a common divisor changes no relative wear.
        let shares: Vec<f64> = self.counts.iter().map(|c| f64::from(*c) + PRIOR).collect();
        severity(&shares, shape)
    }

    /// The seal on such a frame; as it is where its onset is not Weibull.
    #[must_use]
    pub(crate) fn at_estimate(&self, seal: Seal, shape: Option<f64>) -> Seal {
        let wear = shape.and_then(|shape| self.severities(shape));
        wear.map_or_else(
            || seal.clone(),
            |wear| {
                seal.clone()
                    .with_severities(&wear)
                    .unwrap_or_else(|_| seal.clone())
            },
        )
    }

    /// The seal on one of the frames that the counts leave possible.
    #[must_use]
    pub(crate) fn drawn(&self, seal: Seal, shape: Option<f64>, seed: u64) -> Seal {
        let known = shape.map(|estimate| Shape {
            estimate,
            ln_error: 0.0,
        });
        let frame = known.and_then(|shape| draws(&self.counts, shape, 1, seed).pop());
        frame.map_or_else(
            || seal.clone(),
            |frame| {
                seal.clone()
                    .with_severities(&frame.severity)
                    .unwrap_or_else(|_| seal.clone())
            },
        )
    }
}
