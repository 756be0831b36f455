//! Arguments of `depot`.

use super::{FormatArgs, above_zero, not_negative};
use clap::Args;
use std::path::PathBuf;

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan depot --demand-rates 0.1,0.1 --transit 2 --depot-lead-time 14 --spares 5\n  sealspan depot datasets/harrow-lane/study.toml --transit 1 --spares 8 --transfer-time 0.5"
)]
pub struct Depot {
    #[arg(
        help = "Study file: each site's failures under its best replacement age; or state --demand-rates"
    )]
    pub input: Option<PathBuf>,
    /// Seals demanded per day at each site
    #[arg(long, value_parser = above_zero, value_name = "RATE[,RATE]", value_delimiter = ',', conflicts_with = "input")]
    pub demand_rates: Vec<f64>,
    /// Days from the depot to each site, or one figure for all
    #[arg(long, value_parser = not_negative, value_name = "DAYS[,DAYS]", value_delimiter = ',', required = true)]
    pub transit: Vec<f64>,
    /// Days from the depot's order to its arrival [default: the study's]
    #[arg(long, value_parser = not_negative, value_name = "DAYS")]
    pub depot_lead_time: Option<f64>,
    /// Spares to split between depot and sites
    #[arg(long, value_name = "N", default_value_t = 6, value_parser = clap::value_parser!(u32).range(0..=300))]
    pub spares: u32,
    /// Days a seal takes from one site to another in an emergency: played, against no such help
    #[arg(long, value_parser = not_negative, value_name = "DAYS")]
    pub transfer_time: Option<f64>,
    /// Demands played
    #[arg(long, value_name = "N", default_value_t = 200_000, value_parser = clap::value_parser!(u32).range(4000..=20_000_000))]
    pub demands: u32,
    /// Seed of the play
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}
