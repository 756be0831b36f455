//! What positions consume, which take too many seals, and which doors are out of line.

use super::{GroupKey, Number};
use serde::Serialize;
use std::collections::BTreeMap;

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct PositionsDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// What comes before any of this is acted on.
    pub cautions: Vec<String>,
    /// Unit of times.
    pub unit: &'static str,
    /// Two-sided confidence of intervals.
    pub confidence: f64,
    /// Expected share of false alarms among what is flagged, for each of the two lists.
    pub false_discovery: f64,
    /// Outcomes that count as replacements.
    pub counted: Vec<&'static str>,
    /// The only mechanism that counts, if one was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mechanism: Option<&'static str>,
    /// Columns whose seals are expected to live alike.
    pub like: Vec<String>,
    /// What else is held constant, so that a position is judged against alike seals.
    pub held_constant: Vec<String>,
    /// Sectors of a ring.
    pub ring_sectors: u32,
    /// Positions under watch.
    pub watched: usize,
    /// Replacements that count.
    pub replacements: u64,
    /// Other removals, by outcome.
    pub not_counted: BTreeMap<&'static str, u64>,
    /// Rows of seals that belong to no position.
    pub set_aside: usize,
    /// Mean cumulative number of replacements of a position.
    pub mean_cumulative: Vec<CurvePoint>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mean_cumulative_reason: Option<String>,
    /// The same by group.
    pub groups: Vec<GroupCurve>,
    /// Positions whose seals belong to several groups.
    pub in_several_groups: usize,
    /// Difference of two groups.
    pub difference: Option<GroupDifference>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub difference_reason: Option<String>,
    /// Every pair of three or more groups.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub differences: Vec<PairDifference>,
    /// Tests of no trend over all positions.
    pub trend: Vec<TrendResult>,
    /// What the trend means for treating successive seals as alike.
    pub renewal: Renewal,
    /// Power-law intensity.
    pub power_law: PowerLawResult,
    /// Log-linear intensity.
    pub log_linear: LogLinearResult,
    /// What a seal is expected to live, by kind.
    pub expectation: Vec<Expectation>,
    /// How positions differ beyond chance.
    pub spread: SpreadResult,
    /// Wear on the door frames, in all.
    pub wear: Wear,
    /// The positions, most hungry first.
    pub positions: Vec<PositionResult>,
    /// How each site cares for its seals.
    pub habits: super::habits::Habits,
    /// The answers in sentences.
    pub sentences: Vec<String>,
    /// Doubts and assumptions.
    pub warnings: Vec<String>,
}

/// A step of a mean cumulative curve
/// ([`mean_cumulative`](sealspan_life::recurrence::mean_cumulative::mean_cumulative)).
#[derive(Debug, Clone, Copy, Serialize)]
pub struct CurvePoint {
    /// Time.
    pub time: f64,
    /// Mean number of replacements of a position by then.
    pub mean: f64,
    /// Standard error for any process.
    pub std_error: Option<f64>,
    /// Lower end of the interval, on the logarithm.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Why there is no interval.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
    /// Standard error if replacements were Poisson.
    pub poisson_std_error: f64,
    /// Positions under watch.
    pub at_risk: f64,
}

/// The curve of a group of positions.
#[derive(Debug, Clone, Serialize)]
pub struct GroupCurve {
    /// Group.
    pub group: GroupKey,
    /// Positions.
    pub positions: usize,
    /// Replacements that count.
    pub replacements: u64,
    /// The curve.
    pub mean_cumulative: Vec<CurvePoint>,
}

/// One group's mean number of replacements of a position less another's.
#[derive(Debug, Clone, Serialize)]
pub struct GroupDifference {
    /// First group.
    pub of: GroupKey,
    /// Second group, subtracted.
    pub to: GroupKey,
    /// Last time both are under watch, at which the p-value stands.
    pub at: f64,
    /// Two-sided p-value of no difference then.
    pub p_value: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
    /// The difference at each step.
    pub points: Vec<DifferencePoint>,
}

/// One of three or more groups against another at the last time both are under watch.
#[derive(Debug, Clone, Serialize)]
pub struct PairDifference {
    /// First group.
    pub of: GroupKey,
    /// Second group, subtracted.
    pub to: GroupKey,
    /// The time.
    pub at: f64,
    /// First less second, replacements of a position.
    pub difference: Number,
    /// Two-sided p-value of no difference.
    pub p_value: Option<f64>,
    /// The same allowing for all pairs (Holm 1979).
    pub adjusted_p_value: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
}

/// The difference at one time.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct DifferencePoint {
    /// Time.
    pub time: f64,
    /// First less second.
    pub difference: f64,
    /// Standard error.
    pub std_error: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// A test of no trend ([`sealspan_life::recurrence::trend`]).
#[derive(Debug, Clone, Serialize)]
pub struct TrendResult {
    /// `laplace`, `mil_hdbk_189` or `lewis_robinson`.
    pub name: &'static str,
    /// Statistic: standard normal, or chi-square where `df` stands.
    pub statistic: Option<f64>,
    /// Degrees of freedom, for a chi-square.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub df: Option<f64>,
    /// Two-sided p-value.
    pub p_value: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// Whether successive seals of a position may be taken as alike.
#[derive(Debug, Clone, Serialize)]
pub struct Renewal {
    /// True when a trend across successive seals makes it doubtful (the Lewis-Robinson test's p-value below 0.05); `None`
    /// when that cannot be told.
    pub doubtful: Option<bool>,
    /// In words.
    pub reason: String,
}

/// Power-law intensity: a position has had (t / scale)^growth replacements on average by t.
#[derive(Debug, Clone, Default, Serialize)]
pub struct PowerLawResult {
    /// Growth: 1 is a constant rate, above 1 replacements come faster. Maximum likelihood, exact interval.
    pub growth: Number,
    /// Growth without its small-sample bias.
    pub bias_corrected_growth: Option<f64>,
    /// Scale: the time of the first replacement on average. Normal interval on the logarithm.
    pub scale: Number,
    /// Cramér–von Mises statistic of fit.
    pub cramer_von_mises: Option<f64>,
    /// Its p-value, from simulated histories.
    pub fit_p_value: Option<f64>,
    /// p-value of a constant rate, likelihood ratio.
    pub constant_p_value: Option<f64>,
    /// Log-likelihood.
    pub log_likelihood: Option<f64>,
    /// Why something is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// Log-linear intensity exp(intercept + slope t).
#[derive(Debug, Clone, Default, Serialize)]
pub struct LogLinearResult {
    /// Slope per unit of time, normal interval.
    pub slope: Number,
    /// ln of the rate at the start.
    pub intercept: Option<f64>,
    /// Log-likelihood.
    pub log_likelihood: Option<f64>,
    /// Why something is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// What a kind of seal is expected to live.
#[derive(Debug, Clone, Serialize)]
pub struct Expectation {
    /// Kind.
    pub group: GroupKey,
    /// Replacements that count.
    pub replacements: f64,
    /// `weibull` from five replacements on (a rule of ours), `rate` below, or `fleet` where the kind has none of its own.
    pub basis: &'static str,
    /// Weibull shape.
    pub shape: Number,
    /// Weibull characteristic life.
    pub scale: Number,
    /// Replacements over the time under watch, for a rate.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate: Option<f64>,
}

/// How positions differ in their rate ratios: most by a gamma law, a few perhaps by a law of their own
/// ([`spread`](sealspan_life::recurrence::ratios::spread)).
#[derive(Debug, Clone, Default, Serialize)]
pub struct SpreadResult {
    /// Coefficient of variation of the gamma law of the many.
    pub variation: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Share of positions that stand apart.
    pub apart_share: Option<f64>,
    /// Mean rate ratio of those.
    pub apart_mean: Option<f64>,
    /// Why there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub apart_reason: Option<String>,
}

/// Wear on the door frames, in all.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Wear {
    /// Failed or worn seals with a known place on the frame.
    pub placed: u64,
    /// Those without a recorded sector.
    pub no_sector: u64,
    /// Those whose turns are not all known.
    pub turns_unknown: u64,
    /// Positions tested: three failures or more with a known place.
    pub tested: usize,
    /// Of these, positions with enough failures that any result could be flagged; the correction counts
    /// these alone.
    pub corrected_over: usize,
    /// Positions flagged as out of line.
    pub out_of_line: usize,
    /// Share of the tested doors that the data take as out of line.
    pub share_out_of_line: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub share_reason: Option<&'static str>,
    /// Counts by frame sector over all positions.
    pub sectors: Vec<u32>,
}

/// One position.
#[derive(Debug, Clone, Serialize)]
pub struct PositionResult {
    /// Asset.
    pub asset: String,
    /// Position; `None` where none is recorded.
    pub position: Option<String>,
    /// Time under watch.
    pub watched: f64,
    /// Replacements that count.
    pub replacements: u64,
    /// Expected of an ordinary place over the same watched time: the same kinds of seal, the same planned changes,
    /// and a new seal after each failure ([`expected`](sealspan_life::recurrence::ordinary::expected)).
    pub expected: Option<f64>,
    /// Replacements over expected.
    pub ratio: Option<f64>,
    /// Expected from the ages that its own seals reached, the sum of the cumulative hazard that each went through by the law
    /// of its kind: a place that eats seals has young ones only, so that less is expected of them. The tests rest on it.
    pub expected_at_its_ages: Option<f64>,
    /// Replacements over that: how many times the ordinary rate its seals fail at, at a like age.
    pub rate_ratio: Option<f64>,
    /// The rate ratio drawn towards the fleet's, with its posterior interval.
    pub shrunk_rate_ratio: Number,
    /// Chance that it is one of a few positions that stand apart; 0 where the counts bear none out.
    pub probability_apart: Option<f64>,
    /// Exact p-value of so many or more at the ages that its seals reached, as a Poisson count.
    pub p_value: Option<f64>,
    /// Mid-p value: the chance of just so many counts half.
    pub mid_p_value: Option<f64>,
    /// p-value adjusted over all positions (Benjamini & Hochberg 1995).
    pub adjusted_p_value: Option<f64>,
    /// True when flagged as taking too many.
    pub hungry: bool,
    /// Failed or worn seals by sector of the door frame, turns undone.
    pub sectors: Vec<u32>,
    /// Failed or worn seals without a known place.
    pub not_placed: u32,
    /// True when seals of the asset are turned at times.
    pub turned: bool,
    /// Multinomial p-value of even spread ([`uneven`](sealspan_life::sectors::uneven::uneven)); from three placed failures on.
    pub uneven_p_value: Option<f64>,
    /// Adjusted over the positions that could be flagged; `None` for those that could not.
    pub uneven_adjusted_p_value: Option<f64>,
    /// How it was found: `exact`, or so many tables drawn.
    pub uneven_method: Option<String>,
    /// Rayleigh test of direction.
    pub rayleigh: Option<RayleighResult>,
    /// True when flagged as out of line.
    pub out_of_line: bool,
    /// Probability that the door is out of line, given the fleet.
    pub probability_out_of_line: Option<f64>,
    /// Severity of each sector, mean 1, from shares drawn towards the fleet's.
    pub relative_severity: Option<Vec<f64>>,
    /// Intervals of the severities.
    pub relative_severity_interval: Option<Vec<(f64, f64)>>,
    /// Life turned ever more often over life never turned: the most that turning can give
    /// ([`turning_limit`](sealspan_life::sectors::severity::turning_limit)).
    pub turning_gain: Option<f64>,
    /// Its interval, by 2,000 draws; given for doors found out of line, as those of the severities and of mending.
    pub turning_gain_interval: Option<(f64, f64)>,
    /// Life turned at a practical interval over life never turned.
    pub practical_turning: Option<PracticalTurning>,
    /// Life with the door mended over life as it is ([`mending`](sealspan_life::sectors::severity::mending)).
    pub mending_gain: Option<f64>,
    /// Its interval.
    pub mending_gain_interval: Option<(f64, f64)>,
    /// Why something is missing: first of the comparison, then of the sectors.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// Turning at a fixed interval, one sector each time.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct PracticalTurning {
    /// Time between turns: that asked for, else an eighth of the characteristic life (a rule of ours).
    pub every: f64,
    /// Mean life so turned over never turned.
    pub gain: f64,
}

/// Rayleigh's test with its three approximations to the p-value.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct RayleighResult {
    /// Mean resultant length.
    pub length: f64,
    /// Mean direction in sectors clockwise from the start of sector 1.
    pub direction_sectors: f64,
    /// n times the squared length.
    pub z: f64,
    /// exp(−z).
    pub p_limit: f64,
    /// With its series to 1/n².
    pub p_series: f64,
    /// The root form.
    pub p_root: f64,
}
