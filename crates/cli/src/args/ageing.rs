//! Arguments of `ageing`.

use super::{FormatArgs, above_zero, share};
use clap::{Args, ValueEnum};
use sealspan_life::ageing::arrhenius::Stretch;
use sealspan_life::ageing::curve::Curve;
use std::path::PathBuf;

#[derive(Clone, Copy, ValueEnum)]
pub enum DirectionArg {
    /// The property rises to its limit (compression set, hardness)
    Rising,
    /// It falls to its limit (thickness, elongation)
    Falling,
}

#[derive(Clone, Copy, Default, ValueEnum)]
pub enum CurveArg {
    /// Between the two looks beside the limit, against ln time
    #[default]
    BetweenLogTime,
    /// Between the two looks beside the limit, against time
    BetweenTime,
    /// A straight line against ln time through all looks
    LogTime,
    /// A change that grows as a power of time
    Power,
    /// A stretched-exponential approach to an end value
    Exponential,
    /// A logistic approach to an end value in ln time
    Logistic,
}

impl From<CurveArg> for Curve {
    fn from(arg: CurveArg) -> Self {
        match arg {
            CurveArg::BetweenLogTime => Self::BetweenLnTime,
            CurveArg::BetweenTime => Self::BetweenTime,
            CurveArg::LogTime => Self::LnTime,
            CurveArg::Power => Self::Power,
            CurveArg::Exponential => Self::Exponential,
            CurveArg::Logistic => Self::Logistic,
        }
    }
}

/// `HOURS@CELSIUS`.
fn stretch(text: &str) -> Result<Stretch, String> {
    let wrong = || format!("`{text}` must be HOURS@CELSIUS, like 22@25");
    let (hours, celsius) = text.split_once('@').ok_or_else(wrong)?;
    let hours = above_zero(hours.trim())?;
    let celsius: f64 = celsius.trim().parse().map_err(|_| wrong())?;
    if (-150.0..=1000.0).contains(&celsius) {
        Ok(Stretch { hours, celsius })
    } else {
        Err(format!("{celsius} °C is no temperature for a seal"))
    }
}

/// A temperature in °C that a seal can meet.
fn celsius(text: &str) -> Result<f64, String> {
    let value: f64 = text
        .parse()
        .map_err(|_| format!("`{text}` is not a number"))?;
    if (-150.0..=1000.0).contains(&value) {
        Ok(value)
    } else {
        Err(format!("{text} °C is no temperature for a seal"))
    }
}

/// A finite number.
fn finite(text: &str) -> Result<f64, String> {
    let value: f64 = text
        .parse()
        .map_err(|_| format!("`{text}` is not a number"))?;
    if value.is_finite() {
        Ok(value)
    } else {
        Err(format!("{text} is not a finite number"))
    }
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "The table has the columns temperature_c, time with time_unit (or time_h, or time_days), the property, and if you like material and specimen. One row a measurement.\n\nExamples:\n  sealspan ageing datasets/lab-ageing/compression-set.csv --limit 50 --at-temperature 60,75\n  sealspan ageing TABLE.csv --limit 50 --curve power --duty 22@25,2@121\n  sealspan ageing --duty 22@25,2@121 --activation-energy 80"
)]
pub struct Ageing {
    #[arg(
        help = "Table of a property against time in several ovens (CSV, Parquet or XLSX); leave out with --activation-energy"
    )]
    pub input: Option<PathBuf>,
    /// The limit of the property, in its own unit
    #[arg(long, value_name = "X", value_parser = finite, required_unless_present = "activation_energy")]
    pub limit: Option<f64>,
    /// Column of the property [default: `value`, or the only other column]
    #[arg(long, value_name = "COL")]
    pub measure: Option<String>,
    /// Which way the property goes to its limit [default: as the data go]
    #[arg(long, value_enum)]
    pub direction: Option<DirectionArg>,
    /// How the property is taken to go with time
    #[arg(long, value_enum, default_value_t)]
    pub curve: CurveArg,
    /// Value at the start, for power, exponential and logistic [default: the mean at time 0; 0 for a compression set]
    #[arg(long, value_name = "X", value_parser = finite)]
    pub start: Option<f64>,
    /// Value approached in the end, for exponential and logistic [default: 100 for a compression set]
    #[arg(long, value_name = "X", value_parser = finite)]
    pub end: Option<f64>,
    /// Unit of the column `time` where no column says it: min, h, days, weeks
    #[arg(long, value_name = "UNIT")]
    pub time_unit: Option<String>,
    /// Weight each oven by the inverse square of its own error
    #[arg(long)]
    pub weighted: bool,
    /// Temperatures of service, °C, at which the life is wanted
    #[arg(long, value_name = "C[,C]", value_delimiter = ',', value_parser = celsius)]
    pub at_temperature: Vec<f64>,
    /// Lives in hours for which the temperature is wanted
    #[arg(long, value_name = "H[,H]", value_delimiter = ',', value_parser = above_zero)]
    pub for_life: Vec<f64>,
    /// Duty cycle as hours at temperatures
    #[arg(long, value_name = "H@C,H@C", value_delimiter = ',', value_parser = stretch)]
    pub duty: Vec<Stretch>,
    /// A stated activation energy in kJ/mol, for a duty cycle without a table
    #[arg(long, value_name = "KJ", value_parser = above_zero, conflicts_with = "input", requires = "duty")]
    pub activation_energy: Option<f64>,
    /// Two-sided level of the intervals
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Folder to write figures, tables and results.json to
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    #[command(flatten)]
    pub format: FormatArgs,
}
