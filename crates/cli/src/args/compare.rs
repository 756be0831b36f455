//! Arguments of `compare`.

use super::{ClockArg, FormatArgs, INPUT, share};
use clap::Args;
use std::path::PathBuf;

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan compare seals.csv --by material --given site\n  sealspan compare datasets/published/motor-insulation/life.csv --arrhenius temperature_c --family lognormal"
)]
pub struct Compare {
    #[arg(help = INPUT)]
    pub input: PathBuf,
    /// Factor whose levels are compared
    #[arg(long, value_name = "COL")]
    pub by: Option<String>,
    /// Factors held constant in the regression
    #[arg(long, value_delimiter = ',', value_name = "COL[,COL]")]
    pub given: Vec<String>,
    /// Columns that act on ln life as numbers
    #[arg(long, value_delimiter = ',', value_name = "COL[,COL]")]
    pub number: Vec<String>,
    /// Temperature column in °C, with an Arrhenius effect (activation energy in eV)
    #[arg(long, value_name = "COL")]
    pub arrhenius: Option<String>,
    /// Stress column: life falls as a power of it
    #[arg(long, value_name = "COL")]
    pub inverse_power: Option<String>,
    /// Column that names what is alike: adds intervals that allow for it
    #[arg(long, value_name = "COL")]
    pub cluster: Option<String>,
    /// Column whose levels share a frailty: how much they differ in what was not recorded
    #[arg(long, value_name = "COL")]
    pub frailty: Option<String>,
    /// Level to compare with, instead of the first in the alphabet
    #[arg(long, value_delimiter = ',', value_name = "COL=LEVEL")]
    pub base: Vec<String>,
    /// Family of the regression
    #[arg(long, default_value = "weibull")]
    pub family: String,
    /// Two-sided confidence
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Time scale of ages [default: the study's, else days]
    #[arg(long, value_enum)]
    pub clock: Option<ClockArg>,
    /// Failure mode of interest: an outcome or a mechanism; others censor
    #[arg(long, value_name = "WORD")]
    pub mode: Option<String>,
    /// Last day the records cover
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub cut_off: Option<String>,
    #[command(flatten)]
    pub format: FormatArgs,
}
