//! The ratios of one column's levels.

use super::chart::{self, Watched};
use super::{BatchesOptions, ColumnResult, Told};
use sealspan_life::batches::{Differing, levels};
use serde::Serialize;

/// How far levels lie apart.
#[derive(Debug, Clone, Serialize)]
pub struct SpreadResult {
    /// Standard deviation of ln life between levels.
    pub estimate: f64,
    /// Lower end of its profile-likelihood interval.
    pub lower: f64,
    /// Upper end.
    pub upper: Option<f64>,
    /// Why there is no upper end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
    /// Likelihood-ratio statistic of no spread.
    pub statistic: f64,
    /// Its p-value: even mixture of chi-squares with 0 and 1 degree of freedom (Self & Liang 1987).
    pub p_value: f64,
}

/// A level.
#[derive(Debug, Clone, Serialize)]
pub struct LevelResult {
    /// Its name.
    pub level: String,
    /// Its strata.
    pub strata: Vec<String>,
    /// Its seals.
    pub seals: f64,
    /// Its failures.
    pub failures: f64,
    /// Failures expected were it like its strata.
    pub expected: f64,
    /// Life over that of its strata, drawn towards 1.
    pub life_ratio: f64,
    /// Lower end, spread and law taken as known.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Life over that of the rest, not drawn towards 1.
    pub life_ratio_alone: Option<f64>,
    /// p-value of no difference from the rest, for this level alone.
    pub p_value: Option<f64>,
    /// Share of false discoveries among levels that differ as plainly (Benjamini & Hochberg 1995).
    pub false_discovery: Option<f64>,
    /// Why some of these are missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
}

/// Answers for one column; also the laws of the strata.
pub(super) fn column(
    column: &str,
    told: &Told<'_>,
    apart: &[Differing],
    days: bool,
    options: &BatchesOptions,
) -> (ColumnResult, Vec<Vec<f64>>) {
    let mut out = ColumnResult {
        column: column.to_owned(),
        spread: None,
        reason: None,
        levels: vec![],
        differing: vec![],
        false_discoveries: options.false_discoveries,
        watch: Watched::none("there are no lives to hold the failures against"),
    };
    let count = told.names.len();
    if count < 2 {
        out.reason = Some(format!("fewer than two levels of {column} are recorded"));
        return (out, vec![]);
    }
    let (family, confidence) = (options.family, options.confidence);
    let random = match levels(family, told.strata.len(), count, &told.cells, confidence) {
        Ok(random) => random,
        Err(why) => {
            out.reason = Some(why.to_string());
            return (out, vec![]);
        }
    };
    let s = &random.spread;
    out.spread = Some(SpreadResult {
        estimate: s.tau,
        lower: s.lower,
        upper: s.upper,
        reason: s.why_no_upper(),
        statistic: s.test.statistic,
        p_value: s.test.p_value,
    });
    let untold = Differing {
        ratio: None,
        p_value: None,
        false_discovery: None,
    };
    let mut strata: Vec<Vec<String>> = vec![vec![]; count];
    for cell in &told.cells {
        let name = told.strata.get(cell.stratum);
        if let (Some(own), Some(name)) = (strata.get_mut(cell.level), name) {
            own.push((*name).to_owned());
        }
    }
    let each = told
        .names
        .iter()
        .zip(&random.levels)
        .zip(apart.iter().chain(std::iter::repeat(&untold)))
        .zip(strata);
    for (((name, ratio), apart), strata) in each {
        let reason = match (apart.p_value, apart.ratio) {
            (None, _) => Some(
                "what is held constant already tells which seals are of this level, or no common law could be fitted",
            ),
            (_, None) => Some("none of its seals failed"),
            _ => None,
        };
        if apart
            .false_discovery
            .is_some_and(|q| q <= options.false_discoveries)
        {
            out.differing.push((*name).to_owned());
        }
        out.levels.push(LevelResult {
            level: (*name).to_owned(),
            strata,
            seals: ratio.seals,
            failures: ratio.failures,
            expected: ratio.expected,
            life_ratio: ratio.ratio,
            lower: ratio.lower,
            upper: ratio.upper,
            life_ratio_alone: apart.ratio,
            p_value: apart.p_value,
            false_discovery: apart.false_discovery,
            reason,
        });
    }
    out.watch = chart::column(told, &random.laws, days, options);
    (out, random.laws)
}
