//! Arguments of `compare`.

use super::{FormatArgs, INPUT, ReadArgs, share};
use clap::Args;
use std::path::PathBuf;

/// How the intervals of a regression are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum RegressionBounds {
    /// Normal approximation.
    Wald,
    /// Likelihood ratio.
    Profile,
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan compare seals.csv --by material --given site\n  sealspan compare datasets/published/motor-insulation/life.csv --arrhenius temperature_c --family lognormal\n  sealspan compare datasets/published/motor-insulation/life.csv --arrhenius temperature_c --predict temperature_c=130 --bounds profile\n  sealspan compare datasets/harrow-lane/study.toml --by material --given site --cluster asset"
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
    /// Stress column, with its unit: life falls as a power of it
    #[arg(long, value_name = "COL[:UNIT]")]
    pub inverse_power: Option<String>,
    /// Temperature column in °C with Eyring's effect, (1/T) exp(E/kT), and a second stress that acts with it,
    /// exp(C S + D S/T)
    #[arg(long, value_name = "COL[,STRESS]")]
    pub eyring: Option<String>,
    /// Concentration or humidity column: life falls as a power of it (default), or ln life is linear in it; with
    /// its unit
    #[arg(long, value_name = "COL[:power|linear][:UNIT]")]
    pub concentration: Vec<String>,
    /// Columns whose effects hang on each other
    #[arg(long, value_delimiter = ',', value_name = "A:B")]
    pub interaction: Vec<String>,
    /// Factor each level of which has a shape of its own
    #[arg(long, value_name = "COL")]
    pub shape_by: Option<String>,
    /// Column that shifts ln life by a known amount
    #[arg(long, value_name = "COL")]
    pub offset: Option<String>,
    /// Column that names what is alike: adds intervals that allow for it
    #[arg(long, value_name = "COL")]
    pub cluster: Option<String>,
    /// Column whose levels share a frailty: how much they differ in what was not recorded
    #[arg(long, value_name = "COL")]
    pub frailty: Option<String>,
    /// How intervals are made
    #[arg(long, value_enum, default_value = "wald")]
    pub bounds: RegressionBounds,
    /// What is known of the activation energy from elsewhere: mean and standard deviation, in eV unless the
    /// unit is named (82,10,kJ/mol)
    #[arg(long, value_name = "MEAN,SD[,UNIT]")]
    pub prior_activation_energy: Option<String>,
    /// Hold effects of factors near 0: standard deviation in ln life (the answer says it is penalised)
    #[arg(long, value_name = "SD")]
    pub penalty: Option<f64>,
    /// Conditions at which life is asked for (may be repeated)
    #[arg(long, value_name = "COL=VALUE,...")]
    pub predict: Vec<String>,
    /// Level to compare with, instead of the first in the alphabet
    #[arg(long, value_delimiter = ',', value_name = "COL=LEVEL")]
    pub base: Vec<String>,
    /// Family of the regression
    #[arg(long, default_value = "weibull")]
    pub family: String,
    /// Two-sided confidence
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Seed of the ages drawn where failures lie between two looks
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub read: ReadArgs,
    /// Folder for the figures and the answer as JSON
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    #[command(flatten)]
    pub format: FormatArgs,
}
