//! The study file: which files, what their columns and words are called, and what things cost.

use crate::error::{Error, Kind};
use crate::observation::Clock;
use jiff::civil::Date;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

pub use crate::costs::{Costs, Stock};

/// A study file as read. All of it is optional for a bare table.
///
/// ```
/// use sealspan_records::Study;
/// use std::path::Path;
/// let path = Path::new("study.toml");
/// let study = Study::parse("records_from = \"2024-01-31\"\n[costs]\nseal_price = 38.0\n", path)?;
/// assert_eq!(study.records_from_date(), Some(jiff::civil::date(2024, 1, 31)));
/// assert_eq!(study.costs.seal_price, Some(38.0));
/// let error = Study::parse("\nunheard_of = 1\n", path).unwrap_err();
/// assert_eq!((error.kind(), error.row()), ("study_file", Some(2)));
/// # Ok::<(), sealspan_records::Error>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Study {
    /// Title of the reports.
    pub title: Option<String>,
    /// Currency of every amount, as it is to be printed.
    pub currency: Option<String>,
    /// True when the data are invented; reports then say so.
    pub invented: bool,
    /// Last day the records cover, `YYYY-MM-DD`.
    pub cut_off: Option<String>,
    /// First day the records cover, for assets that name none, `YYYY-MM-DD`; before the cut-off.
    pub records_from: Option<String>,
    /// The tables, paths relative to the study file.
    pub files: Files,
    /// The sheet of a workbook, by table; the first sheet when not named.
    pub sheets: Sheets,
    /// How dates are written, where the cells alone do not tell.
    pub dates: Dates,
    /// Our column name = their column name, by table; columns of our names need no entry.
    pub columns: Columns,
    /// Their word = our word, by list.
    pub words: Words,
    /// The question asked when the command line does not say.
    pub question: StudyQuestion,
    /// Prices, hours and chances.
    pub costs: Costs,
    /// Lead times and holding.
    pub stock: Stock,
    /// What to look ahead for.
    pub forecast: Forecast,
    /// Today's stated practice.
    pub practice: Practice,
    /// The property measured at inspections, and its limit.
    pub condition: MeasuredLimit,
    /// The property measured in the ovens, its limit, and where life in service is asked for.
    pub ageing: MeasuredLimit,
}

/// The tables of a study, paths as written in the study file.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Files {
    /// One row a seal.
    pub seals: Option<PathBuf>,
    /// One row an inspection.
    pub inspections: Option<PathBuf>,
    /// One row an asset.
    pub assets: Option<PathBuf>,
    /// Plain life data, instead of `seals`.
    pub life: Option<PathBuf>,
    /// Laboratory ageing: a property by oven and time.
    pub lab: Option<PathBuf>,
}

/// Sheet names by table.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Sheets {
    /// Sheet of the seals.
    pub seals: Option<String>,
    /// Sheet of the inspections.
    pub inspections: Option<String>,
    /// Sheet of the assets.
    pub assets: Option<String>,
    /// Sheet of the plain life data.
    pub life: Option<String>,
}

/// Order of day and month in `05/06/2024`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DateOrder {
    /// 5 June.
    DayFirst,
    /// May 6.
    MonthFirst,
}

/// How dates are written.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Dates {
    /// `day_first` or `month_first`, for dates such as 05/06/2024; where `None`, the order that other dates of the file
    /// can only have. Where none of them, or one against another, shows it, no question is answered.
    pub order: Option<DateOrder>,
    /// 1900 or 1904: the epoch of bare serial numbers kept as dates, from 10,000 to below 120,000, parts of a day cut off:
    /// 61 is 1 March 1900, or 0 is 1 January 1904 (the reckoning of spreadsheets, from memory). Where `None`, such cells are
    /// no dates, and a column of mostly such cells stops every question.
    pub epoch: Option<u16>,
}

/// Our column name = their column name.
pub type Names = BTreeMap<String, String>;

/// Column names by table.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Columns {
    /// Columns of the seals.
    pub seals: Names,
    /// Columns of the inspections.
    pub inspections: Names,
    /// Columns of the assets.
    pub assets: Names,
    /// Columns of the plain life data.
    pub life: Names,
}

/// Their word = our word; our own words need no entry.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Words {
    /// Outcomes.
    pub outcome: Names,
    /// Materials.
    pub material: Names,
    /// Mechanisms.
    pub mechanism: Names,
    /// Inspection findings.
    pub finding: Names,
    /// Status words of plain life data (`failed`, `running`).
    pub status: Names,
}

/// The question a study asks.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct StudyQuestion {
    /// Columns to group by.
    pub by: Vec<String>,
    /// The time scale.
    pub clock: Option<Clock>,
    /// What the readings count, `hours` or `cycles`; without it the question's own clock is taken for it.
    pub readings: Option<Clock>,
    /// The failure mode of interest; others censor.
    pub mode: Option<String>,
    /// Two-sided confidence level, above 0 and below 1.
    pub confidence: Option<f64>,
    /// Sectors of a ring seal or door frame; 4 when not said.
    pub sectors: Option<u32>,
    /// Life families to fit, by name.
    pub families: Vec<String>,
}

/// What to look ahead for.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Forecast {
    /// Days ahead, above 0.
    pub horizon_days: Option<f64>,
}

/// Today's stated practice.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Practice {
    /// Seals are replaced at this age, days, above 0.
    pub replace_at_days: Option<f64>,
    /// Seals are inspected every so many days, above 0.
    pub inspect_every_days: Option<f64>,
}

/// A measured property and its limit.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct MeasuredLimit {
    /// Column of the property; of laboratory ageing the only one that is none of ours, when not named.
    pub measure: Option<String>,
    /// Its limit, in the unit of the column.
    pub limit: Option<f64>,
    /// Temperatures in service, °C, from -150 to 1000 (ageing).
    pub at_temperature_c: Vec<f64>,
}

impl Study {
    /// Reads and checks the text of a study file.
    ///
    /// # Errors
    /// When the text is not TOML, has an unknown key, or a value makes no sense (out of the range stated at its field, or
    /// against another one): the error's [`row`](Error::row) is the line, or its [`column`](Error::column) the key.
    pub fn parse(text: &str, file: &Path) -> Result<Self, Error> {
        let study: Study = toml::from_str(text).map_err(|e| {
            let mut error = Error::new(
                Kind::Study,
                format!(
                    "the study file cannot be read: {}",
                    crate::words::clipped(e.to_string().trim_end())
                ),
                "correct the line shown; datasets/harrow-lane/study.toml shows every kind of key",
            )
            .in_file(file);
            if let Some(span) = e.span() {
                let before = text.get(..span.start).unwrap_or(text);
                error = error.at_row(1 + before.bytes().filter(|b| *b == b'\n').count() as u64);
            }
            error
        })?;
        crate::study_check::check(&study).map_err(|e| e.in_file(file))?;
        Ok(study)
    }

    /// Last day the records cover, if the study says.
    #[must_use]
    pub(crate) fn cut_off_date(&self) -> Option<Date> {
        self.cut_off.as_deref().and_then(|d| d.trim().parse().ok())
    }

    /// First day the records cover; `None` where the study does not say.
    #[must_use]
    pub fn records_from_date(&self) -> Option<Date> {
        self.records_from
            .as_deref()
            .and_then(|d| d.trim().parse().ok())
    }
}
