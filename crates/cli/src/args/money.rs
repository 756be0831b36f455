//! Arguments of `money`.

use super::batch_spread::{BatchSpread, batch_spread};
use super::{FormatArgs, Steps, share};
use clap::Args;
use std::path::PathBuf;

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan money datasets/harrow-lane/study.toml --spreadsheet plan.xlsx\n  sealspan money datasets/harrow-lane/study.toml --leave-out penalty,standing_labour_per_hour"
)]
pub struct Money {
    #[arg(help = "Study file with its costs")]
    pub input: PathBuf,
    /// Months ahead
    #[arg(long, default_value_t = 24, value_parser = clap::value_parser!(u32).range(1..=120))]
    pub months: u32,
    #[command(flatten)]
    pub steps: Steps,
    /// Items of cost not to count, by their keys in the study
    #[arg(long, value_name = "KEY[,KEY]", value_delimiter = ',')]
    pub leave_out: Vec<String>,
    /// Standard deviation of ln life between batches, whose seals are good or bad together, or `records` for what the
    /// recorded batches show
    #[arg(long, value_parser = batch_spread, value_name = "SD", default_value = "0")]
    pub batch_spread: BatchSpread,
    /// Write the plan as a workbook with live formulas
    #[arg(long, value_name = "FILE")]
    pub spreadsheet: Option<PathBuf>,
    /// Level of the prediction intervals
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Seed of the draws that carry the estimation error
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}
