//! Arguments of `due`.

use super::{FormatArgs, Steps, share};
use clap::Args;
use std::path::PathBuf;

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan due datasets/harrow-lane/study.toml\n  sealspan due datasets/harrow-lane/study.toml --place \"Tern Quay\" --within 60\n  sealspan due datasets/harrow-lane/study.toml --format csv > due.csv"
)]
pub struct Due {
    #[arg(help = "Study file")]
    pub input: PathBuf,
    /// Columns whose groups have a plan of their own [default: the study's]
    #[arg(long, value_name = "COL[,COL]", value_delimiter = ',')]
    pub by: Vec<String>,
    /// Only seals past due or due within so many days, and those with something urgent
    #[arg(long, value_name = "DAYS")]
    pub within: Option<f64>,
    /// Only seals at this place
    #[arg(long, value_name = "PLACE")]
    pub place: Option<String>,
    #[command(flatten)]
    pub steps: Steps,
    /// Level of the intervals
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Seed of the draws that carry the estimation error
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}
