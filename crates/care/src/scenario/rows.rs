//! The records of a fleet, row by row.

use jiff::civil::Date;

use super::calendar::Written;

/// One fitted seal.
#[derive(Debug, Clone, PartialEq)]
pub struct SealRow {
    /// Tag of the seal.
    pub seal: String,
    /// The tank.
    pub asset: String,
    /// Where on the tank.
    pub position: Option<String>,
    /// Elastomer symbol by ISO 1629.
    pub material: String,
    /// Our article number.
    pub part_no: String,
    /// Production batch.
    pub batch: String,
    /// Quarter of vulcanisation, such as `2022-Q1`.
    pub cure_date: String,
    /// Who supplied it.
    pub supplier: String,
    /// Day of fitting.
    pub fitted: Option<Written>,
    /// Cleaning cycles of the tank at fitting.
    pub fitted_reading: Option<i64>,
    /// Day of removal; empty while in service.
    pub removed: Option<Written>,
    /// Cleaning cycles of the tank at removal.
    pub removed_reading: Option<i64>,
    /// The last good look before a failure that was found at a visit.
    pub last_known_good: Option<Date>,
    /// How its time ended, in words.
    pub outcome: String,
    /// What was wrong with it.
    pub mechanism: Option<String>,
    /// Arc of the seal that was defective, numbered clockwise from its mark, which stands at arc 1
    /// of the frame when the seal is fitted.
    pub sector: Option<i64>,
}

/// One look at a seal.
#[derive(Debug, Clone, PartialEq)]
pub struct InspectionRow {
    /// Tag of the seal.
    pub seal: String,
    /// The tank.
    pub asset: String,
    /// Where on the tank.
    pub position: String,
    /// Day of the look.
    pub date: Date,
    /// Cleaning cycles of the tank.
    pub reading: i64,
    /// `sound`, `worn` or `failed`.
    pub finding: String,
    /// Defective arc of the seal, as in [`SealRow::sector`].
    pub sector: Option<i64>,
    /// Arcs by which the seal was then turned clockwise.
    pub turned: i64,
    /// Thickness at the thinnest place, mm.
    pub thickness_mm: f64,
}

/// One tank.
#[derive(Debug, Clone, PartialEq)]
pub struct AssetRow {
    /// The tank.
    pub asset: String,
    /// Name of its site.
    pub site: String,
    /// Kind of tank.
    pub model: String,
    /// First day of its records.
    pub records_from: Date,
    /// Last day of its records.
    pub records_to: Date,
    /// Cleaning temperature, °C.
    pub temperature_c: f64,
    /// Cleaning cycles at the end of its records.
    pub current_reading: i64,
    /// Further conditions: one for each condition column of the fleet.
    pub conditions: Vec<Option<String>>,
}

/// Everything one simulation recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct Fleet {
    /// One row a seal, as the sites wrote them: mistakes included.
    pub seals: Vec<SealRow>,
    /// One row a look.
    pub inspections: Vec<InspectionRow>,
    /// One row a tank.
    pub assets: Vec<AssetRow>,
    /// Names of the condition columns of the assets.
    pub conditions: Vec<String>,
    /// Column names written in place of ours: (table, ours, written).
    pub(super) renamed: Vec<(String, String, String)>,
}
