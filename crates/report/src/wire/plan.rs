//! The whole plan from records: what it rests on, what is done today, and how sure the choice is.

use super::defects::DoubtRow;
use crate::analysis::plans::{OtherLaws, Today, Worlds};
use sealspan_care::weigh::{Counted, Weighed};
use serde::Serialize;

/// The plan of one group.
#[derive(Debug, Clone, Serialize)]
pub struct WholePlan {
    /// `two_stage`: a defect, then failure, from the inspection histories; `one_stage`: failure without
    /// warning.
    pub stages: &'static str,
    /// Why there is one stage.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stages_reason: Option<String>,
    /// Which record would let two stages be told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cure: Option<String>,
    /// What the inspection log does not tell, or tells badly.
    pub doubts: Vec<DoubtRow>,
    /// The plan under other laws, where those planned with are in doubt.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub other_laws: Vec<OtherLaws>,
    /// Chance that a look finds a defect that is there, as planned with; `null` in one stage.
    pub detection: Option<f64>,
    /// How unequally the door wears the seal.
    pub turning: Option<TurningBasis>,
    /// Why turning is not judged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub turning_reason: Option<String>,
    /// Today's practice as the records show it.
    pub practice: Today,
    /// Whether the plan is held against what the records counted, not against today's practice priced by the laws: the
    /// laws cannot tell what today's looks find.
    pub against_counts: bool,
    /// Share of seals that would pass the oldest age seen under the plan, where it is a fifth or more: only the law speaks
    /// there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub beyond_records: Option<f64>,
    /// The answer in sentences: what to do, what it costs, how sure it is, why.
    pub sentences: Vec<String>,
    /// The seal at its estimate and in every world, for questions asked of the plan later.
    #[serde(skip)]
    pub worlds: Worlds,
    /// Sectors that a turn moves the seal by.
    #[serde(skip)]
    pub turn_by: usize,
    /// The policies weighed.
    #[serde(flatten)]
    pub weighed: Weighed,
}

impl WholePlan {
    /// What the records counted, where the plan is held against that.
    #[must_use]
    pub(crate) fn counted(&self) -> Option<Counted> {
        self.practice.counted.filter(|_| self.against_counts)
    }
}

/// The frame that turning is judged on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TurningBasis {
    /// Relative wear of the sectors, mean 1.
    pub severities: Vec<f64>,
    /// Interval of each, at the level asked for; `null` where they are stated.
    pub severity_intervals: Option<Vec<[f64; 2]>>,
    /// The most that turning can make of the life, as a ratio to the life never turned.
    pub limit_ratio: f64,
    /// Seals that gave way at each sector, all doors together; `null` where the severities are stated.
    pub counts: Option<Vec<u32>>,
    /// Probability of counts as uneven on even doors.
    pub p_value: Option<f64>,
}
