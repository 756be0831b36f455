//! The wire types: what `--format json` and `results.json` hold, apart from the types the work is done
//! with. Numbers are in full precision; `null` has a `reason` beside it. Units are those at the head of the crate.
#![doc = ""]
#![doc = include_str!("units.md")]

pub mod ageing;
pub mod assumptions;
pub mod batches;
pub mod budget;
pub mod care;
pub mod check;
pub mod compare;
pub mod condition;
pub mod defects;
pub mod demand;
pub mod drawn_ages;
pub mod due;
pub mod fit;
pub mod forecast;
pub mod frailty;
pub mod habits;
pub mod hazards;
pub mod intervals;
pub mod log_rank;
pub mod looks;
pub mod materials;
pub mod measured_limit;
pub mod mode_tests;
pub mod money;
pub mod money_places;
pub mod pairwise;
pub mod plan;
pub mod positions;
pub mod separated;
pub mod stock;
pub mod trial;

use serde::ser::{Serialize, SerializeMap, Serializer};

/// The columns and values that name a group; `{}` for the whole.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct GroupKey(pub Vec<(String, String)>);

impl Serialize for GroupKey {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (column, value) in &self.0 {
            map.serialize_entry(column, value)?;
        }
        map.end()
    }
}

impl GroupKey {
    /// The group in words: "EPDM", "material EPDM, site HL3", or "all seals".
    ///
    /// ```
    /// use sealspan_report::wire::GroupKey;
    /// let part = |column: &str, value: &str| (column.to_owned(), value.to_owned());
    /// let both = vec![part("material", "EPDM"), part("site", "HL3")];
    /// assert_eq!(GroupKey(both).words(), "material EPDM, site HL3");
    /// assert_eq!(GroupKey(vec![part("material", "EPDM")]).words(), "EPDM");
    /// assert_eq!(GroupKey::default().words(), "all seals");
    /// ```
    #[must_use]
    pub fn words(&self) -> String {
        match self.0.as_slice() {
            [] => "all seals".to_owned(),
            [(_, value)] => value.clone(),
            many => {
                let parts: Vec<String> = many.iter().map(|(c, v)| format!("{c} {v}")).collect();
                parts.join(", ")
            }
        }
    }
}

/// A number with its interval, or the reason why it is missing.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize)]
pub struct Number {
    /// Point estimate.
    pub estimate: Option<f64>,
    /// Lower end.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Why something is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

impl Number {
    /// An estimate with the interval that leaves out as many draws below as above.
    pub(crate) fn of_draws(estimate: f64, mut draws: Vec<f64>, confidence: f64) -> Self {
        draws.sort_by(f64::total_cmp);
        let tail = 0.5 - 0.5 * confidence;
        let at = |p: f64| {
            let place = (p * (draws.len() as f64 - 1.0)).round() as usize;
            draws.get(place).copied()
        };
        Self {
            estimate: Some(estimate),
            lower: at(tail),
            upper: at(1.0 - tail),
            reason: draws
                .is_empty()
                .then(|| "the estimate has no covariance to draw from".to_owned()),
        }
    }
}
