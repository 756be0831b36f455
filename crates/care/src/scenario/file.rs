//! The scenario file: what may stand in it. Rules between the values are in `check`.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::{Deserialize, Deserializer, de::Error as _};

use super::calendar::Quarter;

/// The whole file.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Plan {
    pub title: String,
    /// First day of the records.
    #[serde(deserialize_with = "date")]
    pub records_from: Date,
    /// Last day of the records.
    #[serde(deserialize_with = "date")]
    pub cut_off: Date,
    /// The fleet runs this long before the records begin, so that some seals are already old then.
    pub burn_in_days: u32,
    /// Arcs of the ring.
    pub sectors: usize,
    pub wear: Wear,
    pub gauge: Gauge,
    pub supply: Supply,
    #[serde(rename = "material")]
    pub materials: Vec<Material>,
    #[serde(rename = "site")]
    pub sites: Vec<Site>,
    /// Our column name to the name written, by table.
    #[serde(default)]
    pub columns: BTreeMap<String, BTreeMap<String, String>>,
}

/// What a day of service does to a seal.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Wear {
    /// Temperature at which the materials' laws hold.
    pub reference_c: f64,
    /// Cleaning cycles a week at which the materials' laws hold.
    pub reference_cycles_per_week: f64,
    /// Share of the wear that comes with cleaning cycles; the rest comes with calendar time.
    pub cycle_share: f64,
}

/// Thickness readings taken at inspections.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Gauge {
    pub new_mm: f64,
    /// Loss at the thinnest place when the defect appears.
    pub loss_at_defect_mm: f64,
    /// Standard deviation of one reading.
    pub noise_mm: f64,
}

/// Where the seals come from: one batch a material and quarter.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Supply {
    /// A seal is fitted at least this long after the end of its batch's quarter.
    pub shelf_days: u32,
    /// Suppliers take turns, batch by batch; they are equally good.
    pub suppliers: Vec<String>,
    #[serde(default)]
    pub faulty: Vec<Faulty>,
}

/// A short-lived batch.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Faulty {
    pub material: String,
    #[serde(deserialize_with = "quarter")]
    pub cured: Quarter,
    pub life_factor: f64,
}

/// An elastomer and its two-stage law under reference conditions.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Material {
    pub symbol: String,
    pub part_no: String,
    /// Age at which a defect appears.
    pub defect: Law,
    /// From defect to loss of function.
    pub delay: Law,
    pub activation_energy_kj_per_mol: f64,
    /// Relative frequency of each mechanism.
    pub mechanisms: BTreeMap<String, f64>,
    #[serde(default)]
    pub attack: Vec<Attack>,
}

/// A Weibull law in days.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Law {
    pub shape: f64,
    pub scale_days: f64,
}

/// A condition that shortens (or lengthens) a material's life.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Attack {
    pub condition: String,
    pub value: String,
    pub life_factor: f64,
    /// The mechanism such seals show, if it is always the same.
    pub mechanism: Option<String>,
}

/// One site of the group.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Site {
    /// Tanks are named CODE-T01, CODE-T02, ...
    pub code: String,
    pub name: String,
    /// When this site's records begin, if later than the others'.
    #[serde(default, deserialize_with = "some_date")]
    pub records_from: Option<Date>,
    #[serde(rename = "group")]
    pub groups: Vec<Group>,
    pub practice: Practice,
    #[serde(default)]
    pub out_of_line: Vec<OutOfLine>,
    pub mess: Option<Mess>,
}

/// Tanks alike in duty and exposure.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Group {
    pub model: String,
    pub tanks: usize,
    pub positions: Vec<String>,
    pub cycles_per_week: f64,
    /// Tanks of the group differ by up to this share either way.
    pub cycles_spread: f64,
    pub temperature_c: f64,
    /// Further columns of the assets table.
    #[serde(default)]
    pub conditions: BTreeMap<String, String>,
}

/// How a site cares for its seals.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Practice {
    /// Relative frequency of each material at a fitting.
    pub mix: BTreeMap<String, f64>,
    pub inspect_every_days: Option<f64>,
    /// Visits come up to this many days early or late.
    #[serde(default)]
    pub jitter_days: u32,
    /// Turns are made at the first inspection when due.
    pub turn_every_days: Option<f64>,
    #[serde(default = "one")]
    pub turn_sectors: usize,
    pub replace_at_days: Option<f64>,
    /// Chance that an inspection sees a defect that is there.
    #[serde(default = "always")]
    pub detection: f64,
    /// Chance that an inspection spoils the seal.
    #[serde(default)]
    pub handling_damage: f64,
    /// Share of failures that are seen only at the next visit.
    #[serde(default)]
    pub silent_failures: f64,
    /// Yearly rate of other jobs on which an older seal is changed too.
    #[serde(default)]
    pub opportunities_per_year: f64,
    /// Age from which a seal is changed on such a job.
    #[serde(default)]
    pub opportunity_from_days: f64,
}

/// A tank whose door presses unevenly: relative wear of each arc of the frame.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct OutOfLine {
    pub tank: String,
    pub severity: Vec<f64>,
}

/// Chances, per seal row, of the ways in which a site's records go wrong.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(super) struct Mess {
    pub month_dates: f64,
    pub quarter_dates: f64,
    pub missing_fitted: f64,
    pub missing_reading: f64,
    pub missing_position: f64,
    pub missing_sector: f64,
    pub unknown_outcome: f64,
    pub swapped_dates: f64,
    pub swapped_readings: f64,
    pub duplicates: f64,
    /// Chance that an outcome is written in one of the site's own words.
    pub own_words: f64,
    /// The site's own words for each outcome.
    pub words: BTreeMap<String, Vec<String>>,
}

fn one() -> usize {
    1
}

fn always() -> f64 {
    1.0
}

fn date<'de, D: Deserializer<'de>>(reader: D) -> Result<Date, D::Error> {
    let text = String::deserialize(reader)?;
    text.parse().map_err(|_| {
        D::Error::custom(format!(
            "`{text}` is no date; write it as \"2020-01-31\", in quotes"
        ))
    })
}

fn some_date<'de, D: Deserializer<'de>>(reader: D) -> Result<Option<Date>, D::Error> {
    date(reader).map(Some)
}

fn quarter<'de, D: Deserializer<'de>>(reader: D) -> Result<Quarter, D::Error> {
    let text = String::deserialize(reader)?;
    Quarter::parse(&text)
        .ok_or_else(|| D::Error::custom(format!("`{text}` is no quarter; write it as \"2022-Q1\"")))
}
