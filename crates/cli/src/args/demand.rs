//! Arguments of `demand`.

use super::batch_spread::{BatchSpread, batch_spread};
use super::{FormatArgs, Steps, share};
use clap::{Args, ValueEnum};
use std::path::PathBuf;

#[derive(Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub enum PolicyArg {
    /// By the whole plan of each part: looks, turns and replacement age
    #[default]
    Plan,
    /// As the records show it done today
    Practice,
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan demand datasets/harrow-lane/study.toml\n  sealspan demand datasets/harrow-lane/study.toml --as practice --back-test\n  sealspan demand datasets/harrow-lane/study.toml --joining 12@90 --leaving 0.05"
)]
pub struct Demand {
    #[arg(help = "Study file")]
    pub input: PathBuf,
    /// Columns whose groups have a life of their own [default: the study's]; with site, where sites differ
    #[arg(long, value_name = "COL[,COL]", value_delimiter = ',')]
    pub by: Vec<String>,
    /// Months ahead
    #[arg(long, default_value_t = 12, value_parser = clap::value_parser!(u32).range(1..=120))]
    pub months: u32,
    /// What care the seals get
    #[arg(long = "as", value_enum, default_value_t)]
    pub policy: PolicyArg,
    #[command(flatten)]
    pub steps: Steps,
    /// Positions that join after some days, shared as the seals running now
    #[arg(long, value_name = "N@DAYS", value_delimiter = ',')]
    pub joining: Vec<String>,
    /// Share of the positions that leave in a year
    #[arg(long, value_parser = share, value_name = "SHARE")]
    pub leaving: Option<f64>,
    /// Standard deviation of ln life between batches, whose seals are good or bad together, or `records` for what the
    /// recorded batches show
    #[arg(long, value_parser = batch_spread, value_name = "SD", default_value = "0")]
    pub batch_spread: BatchSpread,
    /// Say how such forecasts would have done on the records' own past
    #[arg(long)]
    pub back_test: bool,
    /// Level of the prediction intervals
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Seed of the draws that carry the estimation error
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}
