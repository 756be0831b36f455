//! Arguments of `report`.

use super::{FormatArgs, INPUT, share};
use clap::Args;
use std::path::PathBuf;

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Example:\n  sealspan report datasets/harrow-lane/study.toml --out notebooks-out/harrow-lane"
)]
pub struct Report {
    #[arg(help = INPUT)]
    pub input: PathBuf,
    /// Folder to write [default: notebooks-out/NAME]
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Two-sided confidence [default: the study's, else 0.9]
    #[arg(long, value_parser = share)]
    pub confidence: Option<f64>,
    /// Seed of everything random
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}
