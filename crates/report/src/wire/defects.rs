//! Defects and the delay to failure, from the log of looks.

use super::GroupKey;
use crate::cautions;
use sealspan_life::bounds::Bounds;
use sealspan_life::defects::doubts::{Doubt, TRUSTED, doubts};
use sealspan_life::defects::goodness::{LookBand, agreement, by_look};
use sealspan_life::defects::{
    Counts, DefectDraws, DefectFit, DefectQuantity, Model, PRIORS, StageLaw, fit,
};
use sealspan_life::fit::fit as fit_life;
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;
use sealspan_records::histories::{Histories, HistoryGroup, LookTally};
use sealspan_records::history::{Ended, History};
use sealspan_records::{Decision, Observation, Sample, SetAside};
use serde::Serialize;
use std::cell::OnceCell;

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
    /// Times between looks asked about; about the usual one when empty.
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
    /// Probability of as much by chance: a rough guide.
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
    pub mend: &'static str,
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
        groups: histories.groups.iter().map(|g| group(g, options)).collect(),
        cautions: cautions::always(),
    }
}

fn group(group: &HistoryGroup, options: &DefectOptions) -> GroupDefects {
    let counts = Counts::of(&group.histories);
    let few = |n: f64| {
        if n < TRUSTED {
            StageLaw::Exponential
        } else {
            StageLaw::Weibull
        }
    };
    let model = Model {
        defect: options
            .defect
            .unwrap_or_else(|| few(counts.failed + counts.found)),
        delay: options.delay.unwrap_or_else(|| few(counts.failed)),
        detection: options.detection,
    };
    let fitted = fit(model, group.histories.clone());
    let (model, reason, cure) = match &fitted {
        Ok(fit) => (Some(self::fitted(fit, group.spacing, options)), None, None),
        Err(why) => (None, Some(why.to_string()), Some(why.cure().to_owned())),
    };
    GroupDefects {
        group: GroupKey(group.key.clone()),
        counts: counts.into(),
        usual_interval: group.spacing,
        model,
        reason,
        cure,
        plain: plain(&group.histories),
    }
}

/// Intervals by profile likelihood, or by the posterior where the likelihood leaves an end open.
struct Asker<'a> {
    fit: &'a DefectFit,
    options: &'a DefectOptions,
    draws: OnceCell<Option<DefectDraws>>,
}

const OPEN: &str = "the log sets no limit on this side";
const STATED: &str = "stated, not estimated";
const NONE: &str = "not finite under this law";

impl Asker<'_> {
    fn ask(&self, quantity: DefectQuantity) -> Spread {
        let level = self.options.confidence;
        let estimate = self.fit.estimate(quantity);
        let stated = self.fit.scaled_error(quantity).is_none_or(|e| e <= 0.0);
        // At the edge of perfect detection the likelihood has no shape to cut.
        if stated && !self.fit.detection_at_edge {
            return Spread {
                estimate,
                method: "stated",
                reason: Some(STATED.to_owned()),
                ..Spread::default()
            };
        }
        let b = if self.fit.detection_at_edge {
            Bounds {
                lower: None,
                upper: None,
            }
        } else {
            self.fit.bounds(quantity, level)
        };
        if let (Some(lower), Some(upper)) = (b.lower, b.upper) {
            return Spread {
                estimate,
                lower: Some(lower),
                upper: Some(upper),
                method: "profile",
                reason: estimate.is_none().then(|| NONE.to_owned()),
            };
        }
        let draws = self
            .draws
            .get_or_init(|| DefectDraws::new(self.fit, self.options.seed).ok());
        let shares = [0.5 - 0.5 * level, 0.5 + 0.5 * level, 0.5];
        let ends = draws
            .as_ref()
            .map_or_else(Vec::new, |d| d.quantiles(quantity, &shares));
        let end = |i: usize| ends.get(i).copied().flatten();
        let (lower, upper) = (end(0), end(1));
        let open = lower.is_none() || upper.is_none();
        Spread {
            // The median goes with the ends; a maximum at the edge need not lie between them.
            estimate: end(2).or(estimate),
            lower,
            upper,
            method: "posterior",
            reason: (open || estimate.is_none()).then(|| OPEN.to_owned()),
        }
    }

    fn named(&self, name: impl Into<String>, quantity: DefectQuantity) -> Named {
        Named {
            name: name.into(),
            value: self.ask(quantity),
        }
    }

    fn parameters(&self) -> Vec<Named> {
        let of = |law: StageLaw| by_name(law.name()).map_or(&[][..], |f| f.reported());
        let model = &self.fit.model;
        let mut out = vec![];
        for (i, p) in of(model.defect).iter().enumerate() {
            let quantity = DefectQuantity::Defect(Quantity::Parameter(i));
            out.push(self.named(format!("defect_{}", p.name), quantity));
        }
        for (i, p) in of(model.delay).iter().enumerate() {
            let quantity = DefectQuantity::Delay(Quantity::Parameter(i));
            out.push(self.named(format!("delay_{}", p.name), quantity));
        }
        out.push(self.named("detection", DefectQuantity::Detection));
        out
    }
}

fn fitted(fit: &DefectFit, spacing: Option<f64>, options: &DefectOptions) -> FittedDefects {
    let asker = Asker {
        fit,
        options,
        draws: OnceCell::new(),
    };
    let parameters = asker.parameters();
    let mean_delay = DefectQuantity::Delay(Quantity::Mean);
    let quantities = vec![
        asker.named(
            "mean_age_of_defects",
            DefectQuantity::Defect(Quantity::Mean),
        ),
        asker.named(
            "b10_age_of_defects",
            DefectQuantity::Defect(Quantity::Quantile(0.1)),
        ),
        asker.named("mean_delay", mean_delay),
    ];
    let every = |every: f64| Caught {
        every,
        value: asker.ask(DefectQuantity::Caught { every }),
    };
    let life = vec![
        asker.named("b10_life", DefectQuantity::LifeQuantile(0.1)),
        asker.named("mean_life", DefectQuantity::LifeMean),
    ];
    let bands = by_look(fit);
    let bounds = |named: Option<&Named>| Bounds {
        lower: named.and_then(|n| n.value.lower),
        upper: named.and_then(|n| n.value.upper),
    };
    let found = doubts(
        fit,
        bounds(parameters.last()),
        bounds(quantities.last()),
        spacing,
        &bands,
    );
    let correlation = (0..5).map(|i| (0..5).map(|j| fit.correlation(i, j)).collect());
    FittedDefects {
        defect_law: fit.model.defect.name(),
        delay_law: fit.model.delay.name(),
        log_likelihood: fit.log_likelihood,
        correlation: correlation.collect(),
        caught: intervals(fit, spacing, options)
            .into_iter()
            .map(every)
            .collect(),
        parameters,
        quantities,
        life,
        agreement: agreement(fit, &bands).map(|a| AgreementResult {
            statistic: a.statistic,
            df: a.df,
            p_value: a.p_value,
        }),
        by_look: bands.iter().map(band).collect(),
        doubts: found.into_iter().map(doubt).collect(),
        priors: asker.draws.get().is_some().then_some(PRIORS),
    }
}

/// Times between looks to speak of: as asked, or half the usual one, itself, and twice that.
fn intervals(fit: &DefectFit, spacing: Option<f64>, options: &DefectOptions) -> Vec<f64> {
    if !options.every.is_empty() {
        return options.every.clone();
    }
    let delay = fit.estimate(DefectQuantity::Delay(Quantity::Mean));
    let Some(usual) = spacing.or(delay.map(|d| 0.5 * d)) else {
        return vec![];
    };
    [0.5, 1.0, 2.0]
        .map(|f| {
            let t = f * usual;
            if t >= 10.0 { t.round() } else { t }
        })
        .to_vec()
}

fn band(b: &LookBand) -> Band {
    Band {
        from: b.from,
        to: b.to,
        looks: b.looks,
        found: b.found,
        found_expected: b.found_expected,
        failed: b.failed,
        failed_expected: b.failed_expected,
    }
}

fn doubt(d: Doubt) -> DoubtRow {
    DoubtRow {
        kind: d.kind,
        message: d.message,
        mend: d.cure,
    }
}

/// The age by which 10 % have failed when removals on condition are read as sound, and as failed.
fn plain(histories: &[History]) -> PlainReadings {
    let b10 = |found: fn(&History, f64, f64) -> Option<Observation>| {
        let rows = histories.iter().filter_map(|h| {
            let (entry, n) = (h.entry(), h.count());
            match h.ended() {
                Ended::Failed(t) => Observation::exact(t, entry, n).ok(),
                Ended::FailedBetween(a, b) => Observation::interval(a, b, entry, n).ok(),
                Ended::Running(t) => Observation::right(t, entry, n).ok(),
                Ended::Found(t) => found(h, t, h.looks().last().copied().unwrap_or(0.0)),
            }
        });
        let weibull = by_name("weibull").ok_or_else(|| "no such family".to_owned())?;
        fit_life(weibull, &Sample::new(rows.collect()))
            .map(|f| f.estimate(Quantity::Quantile(0.1)))
            .map_err(|why| why.to_string())
    };
    let sound = b10(|h, t, _| Observation::right(t, h.entry(), h.count()).ok());
    let failed = b10(|h, t, look| Observation::interval(look, t, h.entry(), h.count()).ok());
    PlainReadings {
        reason: sound.clone().err().or(failed.clone().err()),
        b10_removals_as_sound: sound.ok(),
        b10_removals_as_failed: failed.ok(),
    }
}
