//! Life of seals by group: the curve without a family, and every family asked for.

mod choice;
mod curve;
mod doubts;
mod ends;
mod few;
mod modes;
mod numbers;
mod one;
mod parts;
mod posterior;
mod priors;
mod shares;
mod together;
mod unfitted;
mod values;
mod withheld;

pub use choice::{Averaged, Choice, Weight};
pub use curve::empirical;
pub use ends::{Ends, missing};
pub(crate) use few::TRUSTED_FAILURES;
pub use few::{AssumedShape, ShareBound};
pub use modes::{GroupModes, ModeResult, by_mode};
pub use parts::{AsideRow, Beside, GoodnessResult, Peak, PriorOf, RankLineResult, ResidualRow};
pub use shares::IncidencePoint;
pub use together::{AgeAt, MeanLife, SurvivalAt};
pub use values::{AtShare, AtTime, ParameterFit, Remaining};

use super::mode_tests::ModeTest;
use super::{GroupKey, Number};
use rayon::prelude::*;
use sealspan_life::bounds::Method;
use sealspan_life::family::Family;
use sealspan_life::fit::Fit;
use sealspan_life::terms::Terms;
use sealspan_records::{Answer, Form, Records, Sample};
use serde::Serialize;
use std::sync::Arc;

/// Which families may be refitted many times, for calibrated intervals and tests of fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refitted {
    /// Every family.
    Every,
    /// The first one only.
    First,
    /// None.
    None,
}

/// How much of a group is worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Detail {
    /// All of it.
    Whole,
    /// The ages by which shares have failed, and doubts about them, where groups are very many: no curve, no line
    /// through the ranks, no other number, and no larger law held against the fit, by which many a group would be
    /// found wanting by chance.
    Shares,
}

/// What is asked of each group.
#[derive(Clone)]
pub struct FitOptions {
    /// Unit of ages.
    pub unit: &'static str,
    /// Families, in the order wanted.
    pub families: Vec<&'static dyn Family>,
    /// How bounds are made; calibrated while failures are few and profile likelihood else, when none.
    pub bounds: Option<Method>,
    /// Two-sided confidence, between 0 and 1.
    pub confidence: f64,
    /// Shares failed, between 0 and 1, at which to give the life.
    pub quantiles: Vec<f64>,
    /// Ages at which to give the survival.
    pub at: Vec<f64>,
    /// Ages at which to give the life a seal has left.
    pub ages_now: Vec<f64>,
    /// A stated Weibull shape.
    pub shape: Option<f64>,
    /// Whether to give each seal's residuals.
    pub residuals: bool,
    /// Which families may be refitted.
    pub refitted: Refitted,
    /// How much of each group is worked out.
    pub detail: Detail,
    /// Seed of everything drawn.
    pub seed: u64,
}

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct FitDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// Unit of ages.
    pub unit: &'static str,
    /// What stands behind the unit, where the records do not tell it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit_note: Option<String>,
    /// Two-sided confidence.
    pub confidence: f64,
    /// Seed of everything drawn.
    pub seed: u64,
    /// Rows read from the file, those that could not be used included.
    pub rows_read: u64,
    /// Rows set aside.
    pub set_aside: u64,
    /// The first of them, with the reason.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub first_set_aside: Vec<AsideRow>,
    /// Groups in order of their names.
    pub groups: Vec<GroupFit>,
    /// Failure modes by group, when asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub modes: Vec<GroupModes>,
    /// Whether equal shares fail by each mode in all groups, when modes are asked for and there are groups.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub mode_tests: Vec<ModeTest>,
}

/// One group.
#[derive(Debug, Clone, Serialize)]
pub struct GroupFit {
    /// Its name.
    pub group: GroupKey,
    /// Its seals by kind.
    pub counts: Counts,
    /// What this many failures allow to say.
    pub ladder: String,
    /// The curve without a family.
    pub empirical: Empirical,
    /// One entry a family.
    pub fits: Vec<FamilyFit>,
    /// Straight line through the median ranks on Weibull paper: secondary, never what is advised on.
    pub rank_line: Option<RankLineResult>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rank_line_reason: Option<String>,
    /// With fewer than five failures: lower bounds for shapes taken as known.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub assumed_shapes: Vec<AssumedShape>,
    /// How much the choice of family matters, when several fit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub choice: Option<Choice>,
}

/// Seals by kind.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Counts {
    /// Failed at a known age.
    pub exact: f64,
    /// Running, or taken off for another reason.
    pub right: f64,
    /// Failed before the first look.
    pub left: f64,
    /// Failed between two looks.
    pub interval: f64,
    /// All.
    pub total: f64,
}

/// The curve without a family.
#[derive(Debug, Clone, Serialize)]
pub struct Empirical {
    /// `kaplan_meier` or `turnbull`; `none` where no curve was asked for.
    pub method: &'static str,
    /// Points at failure ages.
    pub points: Vec<Point>,
    /// Why no point has a standard error.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub std_error_reason: Option<String>,
    /// What the standard errors leave out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub std_error_note: Option<String>,
    /// Said where the curve is at 0 before seals came under watch.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ends_early: Option<String>,
    /// What `band_lower` and `band_upper` are, or why there are none.
    pub band: &'static str,
}

/// A point of the curve.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Point {
    /// Age.
    pub time: f64,
    /// Lower end of the stretch in which these failures lie (interval data only).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<f64>,
    /// Share surviving it.
    pub survival: f64,
    /// Standard error.
    pub std_error: Option<f64>,
    /// Lower end of the interval that holds at this age by itself.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Lower edge of the band that holds at all ages at once.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub band_lower: Option<f64>,
    /// Upper edge.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub band_upper: Option<f64>,
    /// Cumulative hazard, Nelson–Aalen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hazard: Option<f64>,
    /// Its standard error.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hazard_std_error: Option<f64>,
    /// Why a number is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
}

/// A family's fit, or why there is none.
#[derive(Debug, Clone, Serialize)]
pub struct FamilyFit {
    /// Family.
    pub family: &'static str,
    /// Whether there is an estimate.
    pub converged: bool,
    /// Whether a shape was estimated along with the life.
    pub free_shape: bool,
    /// Whether the estimate is not to be used: fewer than five failures fix no shape by themselves.
    pub withheld: bool,
    /// Why not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Reported parameters.
    pub parameters: Vec<ParameterFit>,
    /// Covariance of the parameters as listed.
    pub covariance: Option<Vec<Vec<f64>>>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub covariance_reason: Option<&'static str>,
    /// Log-likelihood, densities per unit of time.
    pub log_likelihood: Option<f64>,
    /// Akaike's criterion: -2 log-likelihood + 2 parameters.
    pub aic: Option<f64>,
    /// The same, corrected for few seals.
    pub aicc: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub aicc_reason: Option<&'static str>,
    /// Schwarz's criterion.
    pub bic: Option<f64>,
    /// Mean life.
    pub mean_life: Number,
    /// What its interval lacks.
    #[serde(skip_serializing_if = "Ends::complete")]
    pub mean_life_ends: Ends,
    /// Ages by which shares have failed.
    pub quantiles: Vec<AtShare>,
    /// Shares surviving ages.
    pub survival: Vec<AtTime>,
    /// Life left to seals of the ages asked about.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub remaining: Vec<Remaining>,
    /// What the estimates are: values of greatest likelihood, or medians of the posterior.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub estimates: Option<&'static str>,
    /// Where the likelihood peaks, beside medians of the posterior.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub greatest_likelihood: Vec<Peak>,
    /// How the bounds were made.
    pub bounds: Option<Method>,
    /// What one end of an interval is by itself, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub one_sided: Option<String>,
    /// Why they were made otherwise than asked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bounds_reason: Option<&'static str>,
    /// Largest Monte-Carlo standard error of the confidence of an end (0.003 is 0.3 points).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub simulation_error: Option<f64>,
    /// Why it is not known although there was simulation.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub simulation_error_reason: Option<&'static str>,
    /// Effective number of draws of a sampled posterior.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub effective_draws: Option<f64>,
    /// The priors of a posterior, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub priors: Option<String>,
    /// The same for programs, one entry a reported parameter.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub prior_parameters: Vec<PriorOf>,
    /// Tests of fit.
    pub goodness: Option<GoodnessResult>,
    /// Why there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub goodness_reason: Option<&'static str>,
    /// What a small p-value means and what to try.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub poor_fit: Option<String>,
    /// The shape with its small-sample bias taken off, by refits; with fewer than 50 failures.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bias_reduced_shape: Option<f64>,
    /// The profile-likelihood interval beside a normal approximation that few failures do not bear.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub profile_beside: Vec<Beside>,
    /// Residuals seal by seal, when asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub residuals: Vec<ResidualRow>,
    /// Doubts, with what to do.
    pub warnings: Vec<String>,
    /// The fit itself, for figures and decisions.
    #[serde(skip)]
    pub fit: Option<Kept>,
}

/// A fit kept beside its wire form.
#[derive(Clone)]
pub struct Kept(pub Fit);

impl std::fmt::Debug for Kept {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} fit", self.0.family.name())
    }
}

/// Rows set aside that are named; the check of the records shows all.
const ASIDE_SHOWN: usize = 10;

/// Answers every group of an answer, in parallel and in order.
#[must_use]
pub fn document(records: &Records, answer: &Answer, options: &FitOptions) -> FitDocument {
    let pooled = few::pooled_shape(answer, options);
    FitDocument {
        schema: "sealspan.fit.v1",
        unit: options.unit,
        // Days are what is taken where nothing is said; another word changes the word alone.
        unit_note: (records.form == Form::Life && options.unit != "days").then(|| {
            format!(
                "plain lives carry no unit: the numbers are taken as {} as asked, and nothing is converted",
                options.unit
            )
        }),
        confidence: options.confidence,
        seed: options.seed,
        rows_read: records.rows_read,
        set_aside: answer.set_aside.len() as u64,
        first_set_aside: answer
            .set_aside
            .iter()
            .take(ASIDE_SHOWN)
            .map(|s| AsideRow {
                file: (!of_one_file(records, &s.file)).then(|| s.file.clone()),
                row: s.row,
                reason: s.reason.clone(),
            })
            .collect(),
        groups: answer
            .groups
            .par_iter()
            .map(|g| group_with(GroupKey(g.key.clone()), &g.sample, options, pooled))
            .collect(),
        modes: vec![],
        mode_tests: vec![],
    }
}

/// True when the table of lives is this file, not a folder that holds it.
fn of_one_file(records: &Records, file: &str) -> bool {
    let mut sources = records.sources.iter();
    sources.any(|s| s.path.as_os_str() == file)
}

const NOT_ASKED: &str = "not asked for";

impl Empirical {
    fn none() -> Self {
        Self {
            method: "none",
            points: vec![],
            std_error_reason: None,
            std_error_note: None,
            ends_early: None,
            band: NOT_ASKED,
        }
    }
}

/// Answers one group.
#[must_use]
pub fn group(key: GroupKey, sample: &Sample, options: &FitOptions) -> GroupFit {
    group_with(key, sample, options, None)
}

fn group_with(
    key: GroupKey,
    sample: &Sample,
    options: &FitOptions,
    pooled: Option<f64>,
) -> GroupFit {
    let tally = sample.tally();
    let terms = Arc::new(Terms::new(sample));
    let fits: Vec<FamilyFit> = options
        .families
        .iter()
        .enumerate()
        .map(|(i, f)| {
            let refit = match options.refitted {
                Refitted::Every => true,
                Refitted::First => i == 0,
                Refitted::None => false,
            };
            one::family(*f, sample, &terms, options, refit)
        })
        .collect();
    let whole = options.detail == Detail::Whole;
    let rank_line = match whole {
        true => few::rank_line(sample),
        false => Err(NOT_ASKED.to_owned()),
    };
    GroupFit {
        group: key,
        counts: Counts {
            exact: tally.exact,
            right: tally.right,
            left: tally.left,
            interval: tally.interval,
            total: tally.total(),
        },
        ladder: few::ladder(tally.failures(), options),
        empirical: match whole {
            true => empirical(sample, options.confidence),
            false => Empirical::none(),
        },
        choice: choice::choice(&fits, &options.quantiles, options.confidence, options.unit),
        rank_line_reason: rank_line.as_ref().err().cloned(),
        rank_line: rank_line.ok(),
        fits,
        assumed_shapes: few::assumed_shapes(sample, options, pooled),
    }
}
