//! Laboratory ageing: times to a limit, the Arrhenius line, life in service, duty cycles. Times are in hours, temperatures in
//! °C, the limit in the unit of the property.

use super::{GroupKey, Number};
use serde::Serialize;

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct AgeingDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// The property; `None` without a table.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measure: Option<String>,
    /// Unit of every time.
    pub unit: &'static str,
    /// The limit of the property.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limit: Option<f64>,
    /// How the property goes with time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub curve: Option<&'static str>,
    /// Two-sided level of every interval.
    pub confidence: f64,
    /// Rows of the table.
    pub rows_read: usize,
    /// One entry a material.
    pub groups: Vec<AgeingGroup>,
    /// The duty cycle at a stated activation energy.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub duty: Option<DutyResult>,
    /// What to keep in mind.
    pub notes: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// One material.
#[derive(Debug, Clone, Serialize)]
pub struct AgeingGroup {
    /// Its name.
    pub group: GroupKey,
    /// `rising` or `falling`.
    pub direction: &'static str,
    /// One entry a temperature, coolest first.
    pub ovens: Vec<OvenResult>,
    /// The Arrhenius line.
    pub line: Option<LineResult>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line_reason: Option<String>,
    /// Test for a bend of the line.
    pub curvature: Option<CurvatureResult>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub curvature_reason: Option<String>,
    /// Activation energies between neighbouring ovens that reached the limit, coolest pair first.
    pub local_energies: Vec<LocalResult>,
    /// Time to the limit at the temperatures asked for.
    pub life: Vec<LifeAt>,
    /// Temperatures at which the limit takes so long.
    pub temperature_for: Vec<TemperatureFor>,
    /// The duty cycle at this material's activation energy.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub duty: Option<DutyResult>,
    /// Doubts, in words.
    pub notes: Vec<String>,
}

/// One oven.
#[derive(Debug, Clone, Serialize)]
pub struct OvenResult {
    /// Its temperature.
    pub temperature_c: f64,
    /// Measurements taken.
    pub measurements: usize,
    /// Longest time in the oven.
    pub longest: f64,
    /// `within_test`, `not_reached`, `before_first_look` or `no_curve`.
    pub reached: &'static str,
    /// Time to the limit with its confidence interval, from the scatter within this oven. Where the limit was not reached
    /// only a lower end, the longest time; where it was passed before the first look only an upper end.
    pub time_to_limit: Number,
    /// Measurements that the curve cannot use.
    pub left_out: usize,
}

/// The line ln t = intercept + slope/T, t in hours, T in kelvin ([`fit`](sealspan_life::ageing::line::fit)).
#[derive(Debug, Clone, Serialize)]
pub struct LineResult {
    /// How it was fitted, in words.
    pub method: &'static str,
    /// ln hours at 1/T = 0.
    pub intercept: f64,
    /// Slope in kelvin.
    pub slope_k: f64,
    /// Its standard error.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slope_std_error_k: Option<f64>,
    /// Standard deviation of an oven about the line, in ln time; `None` with two ovens.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub residual_sd: Option<f64>,
    /// Degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Ovens that reached the limit.
    pub ovens_reached: usize,
    /// Ovens that did not.
    pub ovens_not_reached: usize,
    /// Activation energy E = slope x R, R the gas constant; its interval that of the slope.
    pub activation_energy_kj_per_mol: Number,
    /// The same in eV.
    pub activation_energy_ev: Number,
    /// The activation energy as a prior of the field regression.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub prior: Option<PriorResult>,
}

/// The activation energy in the form in which the field regression takes it.
#[derive(Debug, Clone, Serialize)]
pub struct PriorResult {
    /// Mean, eV.
    pub mean_ev: f64,
    /// Standard deviation, eV: half the width of the line's 90 % interval over 1.645, so that a normal law has that
    /// interval, and no smaller than the ovens' own errors make it (a rule of ours).
    pub sd_ev: f64,
    /// `MEAN,SD`.
    pub option: String,
}

/// A bend of the line.
#[derive(Debug, Clone, Serialize)]
pub struct CurvatureResult {
    /// Coefficient of (1/T)², K² ([`curvature`](sealspan_life::ageing::bend::curvature)).
    pub coefficient_k2: f64,
    /// Two-sided p-value.
    pub p_value: f64,
    /// Degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Whether it is taken as shown (p below 0.1, a rule of ours).
    pub bent: bool,
    /// What it means.
    pub words: String,
}

/// Activation energy between two ovens.
#[derive(Debug, Clone, Serialize)]
pub struct LocalResult {
    /// Cooler oven.
    pub from_c: f64,
    /// Hotter oven.
    pub to_c: f64,
    /// kJ/mol.
    pub kj_per_mol: f64,
}

/// Lower and upper end.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Ends {
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// Time to the limit at a temperature.
#[derive(Debug, Clone, Serialize)]
pub struct LifeAt {
    /// Temperature.
    pub temperature_c: f64,
    /// Time to the limit.
    pub estimate: f64,
    /// Confidence interval of the line there.
    pub confidence: Option<Ends>,
    /// Prediction interval of one more oven there.
    pub prediction: Option<Ends>,
    /// Why an interval is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Kelvin below the coldest oven that reached the limit; below 0 when warmer.
    pub below_coldest_k: f64,
    /// `within` the ovens that reached the limit, `near` (to the cold, up to 25 K), `far` (more, a rule of ours) or `hotter`.
    pub extrapolation: &'static str,
    /// What the line gives over the longest time in any oven, a ratio.
    pub times_longest_test: f64,
    /// Hours that a bent line would give; a check, no estimate.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub if_bent: Option<f64>,
    /// In words.
    pub words: String,
}

/// The temperature at which the limit takes so long.
#[derive(Debug, Clone, Serialize)]
pub struct TemperatureFor {
    /// Hours asked for.
    pub hours: f64,
    /// Temperature, °C.
    pub temperature_c: Option<f64>,
    /// Lower end of its confidence interval.
    pub lower_c: Option<f64>,
    /// Upper end.
    pub upper_c: Option<f64>,
    /// Temperature at which one more oven would last as long with the confidence of a one-sided prediction: the
    /// lower end of the prediction interval.
    pub safe_c: Option<f64>,
    /// Why some of these are missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Kelvin below the coldest oven that reached the limit; below 0 when warmer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub below_coldest_k: Option<f64>,
    /// As [`LifeAt::extrapolation`].
    #[serde(skip_serializing_if = "Option::is_none")]
    pub extrapolation: Option<&'static str>,
    /// How far it is extrapolated, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
}

/// A duty cycle as one constant temperature.
#[derive(Debug, Clone, Serialize)]
pub struct DutyResult {
    /// Hours and temperatures of its stretches.
    pub stretches: Vec<StretchResult>,
    /// Mean temperature, weighed by the hours, which is not what ages a seal.
    pub mean_c: f64,
    /// Activation energy used, kJ/mol.
    pub kj_per_mol: f64,
    /// Constant temperature that ages as fast
    /// ([`equivalent_temperature`](sealspan_life::ageing::arrhenius::equivalent_temperature)), with its interval from that
    /// of the energy.
    pub equivalent_c: Number,
    /// Time to the limit at that temperature.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub life: Option<LifeAt>,
    /// In words.
    pub words: String,
}

/// A stretch of a duty cycle.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct StretchResult {
    /// Hours.
    pub hours: f64,
    /// Temperature, °C.
    pub temperature_c: f64,
}
