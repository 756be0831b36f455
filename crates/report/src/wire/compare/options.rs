//! What a comparison is asked.

use super::unit::unit_of;
use sealspan_life::family::Family;

/// What is compared.
#[derive(Clone)]
pub struct CompareOptions {
    /// The factor compared, if any.
    pub by: Option<String>,
    /// Factors held constant.
    pub given: Vec<String>,
    /// Columns that act as numbers.
    pub number: Vec<String>,
    /// A temperature column in °C.
    pub arrhenius: Option<String>,
    /// A stress column: life falls as a power of it.
    pub inverse_power: Option<String>,
    /// Levels to compare with, instead of the first.
    pub base: Vec<(String, String)>,
    /// The law.
    pub family: &'static dyn Family,
    /// Two-sided confidence, between 0 and 1.
    pub confidence: f64,
    /// What is asked of the regression beyond that.
    pub more: More,
}

/// Further terms of the regression, and further questions to it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct More {
    /// Unit of the column of [`CompareOptions::inverse_power`], where it is stated.
    pub power_unit: Option<String>,
    /// A temperature column in °C with Eyring's effect, and a second stress that acts with it.
    pub eyring: Option<(String, Option<String>)>,
    /// Concentrations or humidities.
    pub concentration: Vec<Concentration>,
    /// Pairs of columns whose effects hang on each other.
    pub interactions: Vec<(String, String)>,
    /// A factor each level of which has a shape of its own.
    pub shape_by: Option<String>,
    /// A column whose number is added to ln life as it stands.
    pub offset: Option<String>,
    /// A column whose values name what is alike: the asset.
    pub cluster: Option<String>,
    /// A column whose values share a frailty.
    pub frailty: Option<String>,
    /// Intervals from the likelihood ratio instead of the normal approximation.
    pub profile: bool,
    /// Mean and standard deviation in eV of what is known of the activation energy.
    pub prior: Option<(f64, f64)>,
    /// Standard deviation in ln life to which effects of factors are held near 0.
    pub penalty: Option<f64>,
    /// Conditions at which life is asked for: column and value.
    pub predict: Vec<Vec<(String, String)>>,
    /// The regression alone, without tests of no difference and without the cross-check.
    pub regression_only: bool,
    /// Seed of the ages drawn between two looks.
    pub seed: u64,
    /// Seals and the assets they sit on, where the records tell.
    pub seals_on_assets: Option<(u64, u64)>,
}

/// A concentration column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Concentration {
    /// The column.
    pub column: String,
    /// Life falls as a power of it; otherwise ln life is linear in it.
    pub power: bool,
    /// Its unit, as stated.
    pub unit: String,
}

impl CompareOptions {
    /// Every column the groups must be told apart by.
    #[must_use]
    pub fn columns(&self) -> Vec<String> {
        let mut out = self.model_columns();
        for column in self.more.cluster.iter().chain(&self.more.frailty) {
            if !out.contains(column) {
                out.push(column.clone());
            }
        }
        out
    }

    /// The columns of the regression; a seal without one of them cannot be in it.
    #[must_use]
    pub fn model_columns(&self) -> Vec<String> {
        let more = &self.more;
        let eyring = more.eyring.iter();
        let all = self
            .by
            .iter()
            .chain(&self.given)
            .chain(&self.number)
            .chain(&self.arrhenius)
            .chain(&self.inverse_power)
            .chain(eyring.flat_map(|(t, s)| std::iter::once(t).chain(s)))
            .chain(more.concentration.iter().map(|c| &c.column))
            .chain(more.interactions.iter().flat_map(|(a, b)| [a, b]))
            .chain(&more.shape_by)
            .chain(&more.offset);
        let mut out: Vec<String> = vec![];
        for column in all {
            if !out.contains(column) {
                out.push(column.clone());
            }
        }
        out
    }

    /// Whether the compared factor's effect hangs on another column.
    pub(super) fn compared_within_others(&self) -> bool {
        let crossed = |by: &String| {
            let pairs = &self.more.interactions;
            pairs.iter().any(|(a, b)| a == by || b == by)
        };
        self.by.as_ref().is_some_and(crossed)
    }

    /// Refuses a base of a column that has no levels here.
    pub(super) fn check_bases(&self) -> Result<(), String> {
        let mut factors = self.factors();
        factors.extend(&self.more.shape_by);
        match self.base.iter().find(|(c, _)| !factors.contains(&c)) {
            None => Ok(()),
            Some((column, level)) => Err(format!(
                "--base {column}={level}: `{column}` is no factor of this comparison; {}",
                match factors.as_slice() {
                    [] => "there is none".to_owned(),
                    some => format!(
                        "there are {}",
                        some.iter()
                            .map(|f| f.as_str())
                            .collect::<Vec<_>>()
                            .join(", ")
                    ),
                }
            )),
        }
    }

    /// Columns that act as factors.
    pub(super) fn factors(&self) -> Vec<&String> {
        self.by.iter().chain(&self.given).collect()
    }

    /// Unit of the stress of which life falls as a power.
    pub(super) fn power_unit(&self, column: &str) -> String {
        let stated = self.more.power_unit.clone();
        stated.unwrap_or_else(|| unit_of(column))
    }

    /// The temperature column, and whether its effect is Eyring's.
    pub(crate) fn temperature(&self) -> Option<(&String, bool)> {
        let eyring = self.more.eyring.as_ref().map(|(t, _)| (t, true));
        self.arrhenius.as_ref().map(|t| (t, false)).or(eyring)
    }
}
