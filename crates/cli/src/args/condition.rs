//! Arguments of `condition`.

use super::ageing::DirectionArg;
use super::{ClockArg, FormatArgs, above_zero, finite, share};
use clap::{Args, ValueEnum};
use sealspan_life::degradation::choose::Kind;
use std::path::PathBuf;

#[derive(Clone, Copy, Default, ValueEnum)]
pub enum PathArg {
    /// The one that the measurements support best
    #[default]
    Best,
    /// Straight paths that differ from seal to seal
    Linear,
    /// Paths straight in the logarithm
    LogLinear,
    /// Wear by gamma increments, measured without error
    Gamma,
}

impl PathArg {
    /// The models to choose from.
    pub fn kinds(self) -> Vec<Kind> {
        match self {
            Self::Best => vec![Kind::Linear, Kind::LogLinear, Kind::Gamma],
            Self::Linear => vec![Kind::Linear],
            Self::LogLinear => vec![Kind::LogLinear],
            Self::Gamma => vec![Kind::Gamma],
        }
    }
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "A study takes the measurement from its inspections. A bare table has the columns seal, age and the measurement, and if you like age_now, in_service (yes or no), asset, and columns to group by.\n\nExamples:\n  sealspan condition datasets/harrow-lane/study.toml --measure thickness_mm --limit 4.5\n  sealspan condition readings.csv --measure hardness --limit 85 --next-look 90"
)]
pub struct Condition {
    #[arg(
        help = "Study file (TOML) with inspections, or a bare table of measurements (CSV, Parquet or XLSX)"
    )]
    pub input: PathBuf,
    /// The measured property: a column of the inspections or of the table
    #[arg(long, value_name = "COL")]
    pub measure: String,
    /// The limit of the property, in its own unit
    #[arg(long, value_name = "X", value_parser = finite)]
    pub limit: f64,
    /// Which way the property goes to its limit [default: as the data go]
    #[arg(long, value_enum)]
    pub direction: Option<DirectionArg>,
    /// Model of the paths
    #[arg(long, value_enum, default_value_t)]
    pub path: PathArg,
    /// Columns that make groups [default: the study's; one group for a bare table]
    #[arg(long, value_delimiter = ',', value_name = "COL[,COL]")]
    pub by: Vec<String>,
    /// Time to the next look, in the unit of the clock [default: the study's practice.inspect_every_days]
    #[arg(long, value_name = "T", value_parser = above_zero)]
    pub next_look: Option<f64>,
    /// Shares of new seals whose ages at the limit are wanted
    #[arg(long, value_name = "P[,P]", value_delimiter = ',', default_value = "0.1,0.5,0.9", value_parser = share)]
    pub quantile: Vec<f64>,
    /// Time scale of ages [default: the study's, else days]
    #[arg(long, value_enum)]
    pub clock: Option<ClockArg>,
    /// Last day the records cover [default: the study's, else the latest date in the file]
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub cut_off: Option<String>,
    /// Two-sided level of the intervals
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Folder to write figures, tables and results.json to
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    #[command(flatten)]
    pub format: FormatArgs,
}
