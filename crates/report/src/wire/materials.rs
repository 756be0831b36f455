//! Material advice: screening, the user's own field lives, cost per year, and what is not known.

use super::{GroupKey, Number};
use sealspan_records::materials::Fact;
use serde::Serialize;
use std::collections::BTreeMap;

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct MaterialsDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// Temperature asked for, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<f64>,
    /// Media asked for.
    pub media: Vec<MediumAsked>,
    /// How the field lives were chosen; `None` without records.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<FieldChoice>,
    /// Two-sided level of the intervals.
    pub confidence: f64,
    /// Currency of the costs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub currency: Option<String>,
    /// The families: ranked ones first, by cost; then by verdict and name, the excluded last.
    pub materials: Vec<MaterialResult>,
    /// Probability that the failures of the two that cost least differ so much where both wear out alike in that exposure:
    /// log-rank test of their field lives.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_two_p_value: Option<f64>,
    /// Field lives split further by the columns asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub field_by: Vec<FieldBy>,
    /// The asset asked for, and what became of its seals.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub asset: Option<AssetHistory>,
    /// Lives at its own conditions, by a regression over all records.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_conditions: Option<Lives>,
    /// Why there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_conditions_reason: Option<String>,
    /// The advice in sentences.
    pub advice: Vec<String>,
    /// What is not known.
    pub not_known: Vec<String>,
    /// What to keep in mind.
    pub notes: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// A medium asked for.
#[derive(Debug, Clone, Serialize)]
pub struct MediumAsked {
    /// The user's word.
    pub asked: String,
    /// The medium of the tables.
    pub medium: Option<String>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// What became of an asset's seals.
#[derive(Debug, Clone, Serialize)]
pub struct AssetHistory {
    /// The asset.
    pub asset: String,
    /// Its seals.
    pub seals: u64,
    /// By material.
    pub materials: BTreeMap<String, u64>,
    /// Those that came off, by how they ended.
    pub outcomes: BTreeMap<String, u64>,
    /// Those that failed or were worn, by the damage seen.
    pub damage: BTreeMap<String, u64>,
    /// Materials in service now.
    pub now: Vec<String>,
}

/// Lives at stated conditions by a regression over all records.
#[derive(Debug, Clone, Serialize)]
pub struct Lives {
    /// The conditions in the regression: column and value.
    pub at: Vec<(String, String)>,
    /// Conditions that are not in it, with the reason.
    pub left_out: Vec<String>,
    /// Material by material.
    pub lives: Vec<HereLife>,
    /// Every two of them against each other.
    pub pairs: Vec<HerePair>,
    /// Whether the regression fits the records.
    pub fit: FitCheck,
    /// The regression's doubts.
    pub warnings: Vec<String>,
}

/// Whether a regression over all records fits them.
#[derive(Debug, Clone, Serialize)]
pub struct FitCheck {
    /// p-value of one shape for all materials (likelihood ratio); below 0.05 it is taken as contradicted.
    pub common_shape_p_value: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub common_shape_reason: Option<String>,
    /// Whether each material has a shape of its own, since that was contradicted.
    pub shape_each: bool,
    /// p-value of one activation energy for all materials (likelihood ratio).
    pub alike_in_heat_p_value: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub alike_in_heat_reason: Option<String>,
    /// Failures near the conditions asked for, against those expected.
    pub against: Vec<Against>,
    /// In sentences.
    pub words: Vec<String>,
}

/// Failures of a material against those that the regression expects of the same seals.
#[derive(Debug, Clone, Serialize)]
pub struct Against {
    /// ISO 1629 symbol.
    pub material: String,
    /// Its seals near the conditions asked for.
    pub seals: f64,
    /// Failures among them.
    pub failures: f64,
    /// Failures that the regression expects of them.
    pub expected: f64,
    /// Two-sided p-value of so many, as a Poisson count.
    pub p_value: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
}

impl Lives {
    /// Mean life of one material over that of another, with its interval.
    #[must_use]
    pub(crate) fn life_ratio(&self, of: &str, to: &str) -> Option<Number> {
        let turned = |n: &Number| Number {
            estimate: n.estimate.map(f64::recip),
            lower: n.upper.map(f64::recip),
            upper: n.lower.map(f64::recip),
            reason: n.reason.clone(),
        };
        let way = |p: &HerePair| match (p.of == of && p.to == to, p.of == to && p.to == of) {
            (true, _) => Some(p.life_ratio.clone()),
            (_, true) => Some(turned(&p.life_ratio)),
            _ => None,
        };
        self.pairs.iter().find_map(way)
    }

    /// The conditions in words: "75 °C, hot caustic".
    #[must_use]
    pub(crate) fn conditions(&self) -> String {
        let cell = |(column, value): &(String, String)| {
            let celsius = column.to_lowercase().ends_with("_c");
            match value.trim().parse::<f64>() {
                Ok(x) if celsius => format!("{x} °C"),
                _ => value.clone(),
            }
        };
        self.at.iter().map(cell).collect::<Vec<_>>().join(", ")
    }

    /// The same, or that there are none.
    #[must_use]
    pub fn conditions_or_none(&self) -> String {
        if self.at.is_empty() {
            "by material alone: no condition could enter the regression".to_owned()
        } else {
            self.conditions()
        }
    }
}

/// A material at those conditions.
#[derive(Debug, Clone, Serialize)]
pub struct HereLife {
    /// ISO 1629 symbol.
    pub material: String,
    /// Mean life, days; the interval allows for like seals of one asset where assets are recorded.
    pub mean_life: Number,
    /// Age by which one in ten has failed, days.
    pub b10: Number,
    /// Cost per year and position at the better of replacing on failure and at the best age, as chosen by the estimate; the
    /// interval by 200 draws of the regression.
    pub cost_per_year: Number,
    /// Whether this material at these conditions lies outside what was seen.
    pub extrapolated: bool,
    /// In what respect.
    pub extrapolation: Vec<String>,
}

/// Two materials at those conditions.
#[derive(Debug, Clone, Serialize)]
pub struct HerePair {
    /// ISO 1629 symbol.
    pub of: String,
    /// ISO 1629 symbol of the one it is compared with.
    pub to: String,
    /// Mean life of the first over that of the second: from the covariance of the one regression, so that errors
    /// common to both cancel.
    pub life_ratio: Number,
}

/// How the field lives were chosen.
#[derive(Debug, Clone, Serialize)]
pub struct FieldChoice {
    /// Unit of the lives.
    pub unit: &'static str,
    /// Column of temperatures, where one is used.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub temperature_column: Option<String>,
    /// Temperatures taken, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub temperatures_c: Option<[f64; 2]>,
    /// Columns in which media are looked for.
    pub medium_columns: Vec<String>,
    /// Cells taken as one of the media asked for.
    pub taken_as: Vec<String>,
    /// Whether any seal met all the media asked for; if not, the lives say nothing of them.
    pub media_met: bool,
    /// In words.
    pub words: String,
}

/// One family.
#[derive(Debug, Clone, Serialize)]
pub struct MaterialResult {
    /// ISO 1629 symbol.
    pub material: String,
    /// `passes`, `with_care`, `not_known` or `excluded`.
    pub verdict: &'static str,
    /// Place in the ranking by cost per year, from 1; `None` where it is not ranked.
    pub rank: Option<usize>,
    /// Why it is not ranked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rank_reason: Option<String>,
    /// What the tables say.
    pub remarks: Vec<RemarkResult>,
    /// What the user's own records say.
    pub field: Option<FieldLife>,
    /// Why they say nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field_reason: Option<String>,
    /// Cost per year and position at the better of replacing on failure and at the best age, as chosen by the estimate, a
    /// Weibull life; the interval by 200 draws of it. With fewer than five failures only an upper end: as if they came at a
    /// constant rate and each seal were left to fail.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cost_per_year: Option<Number>,
    /// Price of one seal used.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price: Option<f64>,
}

/// A remark from the tables.
#[derive(Debug, Clone, Serialize)]
pub struct RemarkResult {
    /// What it comes to.
    pub verdict: &'static str,
    /// In words.
    pub text: String,
    /// Whether sources differ.
    pub conflict: bool,
    /// The facts behind it, with their sources.
    pub facts: Vec<Fact>,
}

/// A life of one material in one group.
#[derive(Debug, Clone, Serialize)]
pub struct FieldBy {
    /// ISO 1629 symbol.
    pub material: String,
    /// The group.
    pub group: GroupKey,
    /// Its life.
    pub life: FieldLife,
}

/// A life from the user's records.
#[derive(Debug, Clone, Serialize)]
pub struct FieldLife {
    /// Seals in that exposure.
    pub seals: f64,
    /// Failures among them.
    pub failures: f64,
    /// Years of all of them under watch.
    pub seal_years: f64,
    /// Mean temperature of those seals, °C, where temperatures choose them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mean_temperature_c: Option<f64>,
    /// Family fitted: `weibull`, intervals by profile likelihood; `exponential` with fewer than five failures (a rule of
    /// ours), lower ends only, of the one-sided confidence (1 + level)/2.
    pub family: &'static str,
    /// Mean life, days.
    pub mean_life: Number,
    /// Age by which one in ten has failed, days.
    pub b10: Number,
    /// How far to trust it.
    pub words: String,
}
