//! Arguments of `returns`.

use super::{FormatArgs, above_zero, not_negative, share};
use clap::Args;
use std::path::PathBuf;

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "The table of shipments has the columns batch, quantity, age (days in service so far) and, if known, returned.\n\nExamples:\n  sealspan returns shipped.csv --life weibull:shape=2.2,scale=900 --horizon 365 --warranty 730 --return-cost 120\n  sealspan returns shipped.csv --study datasets/harrow-lane/study.toml --horizon 365 --kit-positions 12 --service-every 180"
)]
pub struct Returns {
    #[arg(help = "Table of batches shipped")]
    pub shipped: PathBuf,
    /// A stated life in service, in days
    #[arg(
        long,
        value_name = "LAW",
        required_unless_present = "study",
        conflicts_with = "study"
    )]
    pub life: Option<String>,
    /// Study whose records give the life, estimation error and all
    #[arg(long, value_name = "STUDY")]
    pub study: Option<PathBuf>,
    /// Group of the study whose life it is, for example EPDM [default: all seals]
    #[arg(long, value_name = "GROUP", requires = "study")]
    pub group: Option<String>,
    /// Days ahead
    #[arg(long, value_parser = above_zero, value_name = "DAYS")]
    pub horizon: f64,
    /// Failures count up to this age, days
    #[arg(long, value_parser = above_zero, value_name = "DAYS")]
    pub warranty: Option<f64>,
    /// Share of failures that are sent back, at most 1
    #[arg(long, value_parser = not_negative, value_name = "SHARE", default_value = "1")]
    pub claimed: f64,
    /// Money for one return
    #[arg(long, value_parser = not_negative, value_name = "MONEY", default_value = "0")]
    pub return_cost: f64,
    /// Chance that the reserve must be enough
    #[arg(long, value_parser = share, value_name = "P", default_value = "0.95")]
    pub reserve_chance: f64,
    /// Positions served by one service kit
    #[arg(long, value_name = "N", requires = "service_every", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub kit_positions: Option<u32>,
    /// Days between services
    #[arg(long, value_parser = above_zero, value_name = "DAYS", requires = "kit_positions")]
    pub service_every: Option<f64>,
    /// Level of the prediction intervals
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Seed of the draws that carry the estimation error
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}
