//! Arguments of `simulate`.

use super::FormatArgs;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

#[derive(Clone, Copy, Default, ValueEnum)]
pub enum TableArg {
    #[default]
    Csv,
    Parquet,
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Example:\n  sealspan simulate datasets/harrow-lane/scenario.toml --seed 20 --out fleet"
)]
pub struct Simulate {
    /// Scenario file (TOML)
    pub scenario: PathBuf,
    /// Folder to write the records to
    #[arg(long, value_name = "FOLDER")]
    pub out: PathBuf,
    /// Seed: the same seed gives the same bytes
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Format of the records
    #[arg(long, value_enum, default_value_t)]
    pub table: TableArg,
    #[command(flatten)]
    pub format: FormatArgs,
}
