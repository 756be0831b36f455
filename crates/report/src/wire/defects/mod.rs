//! Defects and the delay to failure, from the log of looks.

mod build;

pub(crate) use build::regroup;

use super::GroupKey;
use crate::cautions;
use rayon::prelude::*;
use sealspan_life::defects::{Counts, StageLaw};
use sealspan_records::histories::{Histories, LookTally};
use sealspan_records::{Decision, SetAside};
use serde::Serialize;

/// What is wanted of the defect model.
#[derive(Debug, Clone)]
pub struct DefectOptions {
    /// Law of the age at which defects come; by the counts when not given.
    pub defect: Option<StageLaw>,
    /// Law of the delay; by the counts when not given.
    pub delay: Option<StageLaw>,
    /// Stated probability that a look finds a defect that is there.
    pub detection: Option<f64>,
    /// Two-sided confidence.
    pub confidence: f64,
    /// Times between looks asked about; half the usual one, itself and twice it when empty.
    pub every: Vec<f64>,
    /// Seed of the draws behind intervals that the likelihood leaves open.
    pub seed: u64,
}

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct DefectsDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// Unit of every age.
    pub unit: &'static str,
    /// Two-sided confidence of the intervals.
    pub confidence: f64,
    /// Looks by what they say.
    pub looks: Looks,
    /// Seals not used, and why.
    pub set_aside: Vec<SetAside>,
    /// What was assumed.
    pub decisions: Vec<Decision>,
    /// The groups.
    pub groups: Vec<GroupDefects>,
    /// What to mind.
    pub cautions: Vec<String>,
}

/// Looks by what they say.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Looks {
    /// Rows of the inspections.
    pub read: u64,
    /// Looks that found a seal sound.
    pub sound: u64,
    /// Looks that found a defect.
    pub worn: u64,
    /// Looks that found a failure.
    pub failed: u64,
    /// Looks without a finding, not used.
    pub without_finding: u64,
    /// Rows that belong to no used seal while it was watched.
    pub unmatched: u64,
    /// Sound looks taken to have happened before the records begin.
    pub assumed: u64,
    /// Defects found and left in place.
    pub left_in_place: u64,
}

impl From<LookTally> for Looks {
    fn from(t: LookTally) -> Self {
        Self {
            read: t.read,
            sound: t.sound,
            worn: t.worn,
            failed: t.failed,
            without_finding: t.unsaid,
            unmatched: t.unmatched,
            assumed: t.assumed,
            left_in_place: t.left_in_place,
        }
    }
}

/// One group.
#[derive(Debug, Clone, Serialize)]
pub struct GroupDefects {
    /// Its key.
    pub group: GroupKey,
    /// Seals by how they ended.
    pub counts: SealCounts,
    /// Median time between a seal's looks.
    pub usual_interval: Option<f64>,
    /// The fitted model; none with a reason.
    pub model: Option<FittedDefects>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Which record would mend it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cure: Option<String>,
    /// Age by which 10 % have failed, under two plain readings of removals on condition (Weibull).
    pub plain: PlainReadings,
}

/// Seals by how they ended.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct SealCounts {
    /// All.
    pub seals: f64,
    /// Failed.
    pub failed: f64,
    /// Found defective before they failed.
    pub found: f64,
    /// Neither.
    pub running: f64,
    /// Watched only from some age on.
    pub truncated: f64,
    /// Looks that found a seal sound, those assumed before the records included.
    pub sound_looks: f64,
}

impl From<Counts> for SealCounts {
    fn from(c: Counts) -> Self {
        Self {
            seals: c.seals,
            failed: c.failed,
            found: c.found,
            running: c.running,
            truncated: c.truncated,
            sound_looks: c.sound_looks,
        }
    }
}

/// Two plain readings of removals on condition.
#[derive(Debug, Clone, Serialize)]
pub struct PlainReadings {
    /// Removals count as sound up to that day.
    pub b10_removals_as_sound: Option<f64>,
    /// Removals count as failures between the last sound look and that day.
    pub b10_removals_as_failed: Option<f64>,
    /// Why one is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// A fitted model and what follows from it.
#[derive(Debug, Clone, Serialize)]
pub struct FittedDefects {
    /// Law of the age at which defects come.
    pub defect_law: &'static str,
    /// Law of the delay from defect to failure.
    pub delay_law: &'static str,
    /// Log-likelihood: densities per unit of time for failures at a known age, chances for the rest.
    pub log_likelihood: f64,
    /// Parameters: those of the two laws, and detection.
    pub parameters: Vec<Named>,
    /// Correlation of the estimates, in the order ln scale and ln spread of the defect's age, the same of the delay, logit of detection; 0 where stated.
    pub correlation: Vec<Vec<f64>>,
    /// Mean age at which defects come, the age by which 10 % have come, the mean delay.
    pub quantities: Vec<Named>,
    /// Share of defects found before they fail, by time between looks.
    pub caught: Vec<Caught>,
    /// Life to failure were nothing taken off on condition: age by which 10 % have failed, and the mean.
    pub life: Vec<Named>,
    /// Findings and failures by number of look, against what the model expects.
    pub by_look: Vec<Band>,
    /// The two compared over all bands; null with too few of them.
    pub agreement: Option<AgreementResult>,
    /// What the log does not tell, and which record would mend it.
    pub doubts: Vec<DoubtRow>,
    /// The weak priors, where an interval comes from the posterior.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub priors: Option<&'static str>,
}

/// A named number with its interval.
#[derive(Debug, Clone, Serialize)]
pub struct Named {
    /// Name.
    pub name: String,
    /// Value with its interval.
    #[serde(flatten)]
    pub value: Spread,
}

/// A number, its interval, and how that was made.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Spread {
    /// Estimate: the likelihood's, or the posterior's median where the ends are the posterior's.
    pub estimate: Option<f64>,
    /// Lower end.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// `profile` (likelihood), `posterior` (median and ends under weak priors) where the likelihood leaves an end
    /// open, or `stated`.
    pub method: &'static str,
    /// Why something is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// Share of defects found before they fail.
#[derive(Debug, Clone, Serialize)]
pub struct Caught {
    /// Time between looks.
    pub every: f64,
    /// The share.
    #[serde(flatten)]
    pub value: Spread,
}

/// Looks of some numbers.
#[derive(Debug, Clone, Serialize)]
pub struct Band {
    /// First look number, from the start of watching.
    pub from: usize,
    /// Last look number; null for all later ones.
    pub to: Option<usize>,
    /// Looks at seals that had not failed.
    pub looks: f64,
    /// Defects found.
    pub found: f64,
    /// Defects the model expects.
    pub found_expected: f64,
    /// Failures since the look before.
    pub failed: f64,
    /// Failures the model expects.
    pub failed_expected: f64,
}

/// Pearson's comparison of findings and failures with what the model expects.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct AgreementResult {
    /// Chi-square.
    pub statistic: f64,
    /// Degrees of freedom.
    pub df: f64,
    /// Probability of as much by chance, chi-square: a rough guide.
    pub p_value: f64,
}

/// A doubt.
#[derive(Debug, Clone, Serialize)]
pub struct DoubtRow {
    /// A stable word.
    pub kind: &'static str,
    /// What cannot be told.
    pub message: String,
    /// Which record would mend it.
    pub mend: String,
}

/// Fits every group and puts the answer together.
#[must_use]
pub fn document(histories: &Histories, options: &DefectOptions) -> DefectsDocument {
    DefectsDocument {
        schema: "sealspan.defects.v1",
        unit: histories.clock.unit(),
        confidence: options.confidence,
        looks: histories.looks.into(),
        set_aside: histories.set_aside.clone(),
        decisions: histories.decisions.clone(),
        groups: histories
            .groups
            .par_iter()
            .map(|g| build::group(g, options))
            .collect(),
        cautions: cautions::always(),
    }
}
