//! Arguments of `stock`.

use super::{FormatArgs, above_zero, not_negative, share};
use clap::{Args, ValueEnum};
use std::path::PathBuf;

#[derive(Clone, Copy, Default, ValueEnum)]
pub enum ShortageArg {
    /// A demand that meets an empty shelf waits for the normal order
    #[default]
    Backorder,
    /// It is met by an urgent order outside the stock
    Urgent,
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan stock datasets/harrow-lane/study.toml\n  sealspan stock --demand-rate 0.05 --lead-time 7 --holding-cost 0.02 --shortage-cost 300\n  sealspan stock --life weibull:shape=2.5,scale=400 --assets 50 --horizon 200"
)]
pub struct Stock {
    #[arg(help = "Study file; leave out with --demand-rate")]
    pub input: Option<PathBuf>,
    /// Seals demanded per day
    #[arg(long, value_parser = not_negative, value_name = "RATE", conflicts_with = "input")]
    pub demand_rate: Option<f64>,
    /// Days from order to arrival
    #[arg(long, value_parser = not_negative, value_name = "DAYS")]
    pub lead_time: Option<f64>,
    /// Money to hold one seal for one day
    #[arg(long, value_parser = not_negative, value_name = "MONEY")]
    pub holding_cost: Option<f64>,
    /// Money for one seal short for one day, or for one urgent order
    #[arg(long, value_parser = not_negative, value_name = "MONEY")]
    pub shortage_cost: Option<f64>,
    /// What an empty shelf means
    #[arg(long, value_enum, default_value_t)]
    pub shortage: ShortageArg,
    /// Money for each order placed
    #[arg(long, value_parser = not_negative, value_name = "MONEY")]
    pub order_cost: Option<f64>,
    /// Price of one seal
    #[arg(long, value_parser = above_zero, value_name = "MONEY")]
    pub unit_price: Option<f64>,
    /// Days a seal keeps from its cure date, by the maker's sheet or the standard you go by
    #[arg(long, value_parser = above_zero, value_name = "DAYS")]
    pub shelf_life: Option<f64>,
    /// Days since cure when seals arrive
    #[arg(long, value_parser = not_negative, value_name = "DAYS")]
    pub age_on_arrival: Option<f64>,
    /// Standard deviation of a lead time that varies from spell to spell, orders arriving in turn
    #[arg(long, value_parser = not_negative, value_name = "DAYS")]
    pub lead_time_deviation: Option<f64>,
    /// Seals on the shelf now by the days until they are out of date: how many will be written off
    #[arg(
        long,
        value_name = "DAYS:N[,DAYS:N]",
        value_delimiter = ',',
        requires = "demand_rate"
    )]
    pub lots: Vec<String>,
    /// Smallest share of demands to be met at once
    #[arg(long, value_parser = share, value_name = "SHARE")]
    pub target_fill_rate: Option<f64>,
    /// Money to tie up in stock over all parts and places: where it takes off most waiting
    #[arg(long, value_parser = above_zero, value_name = "MONEY", conflicts_with = "life")]
    pub budget: Option<f64>,
    /// Choose the replacement age together with the stock (study only), against one after the other
    #[arg(long, requires = "input")]
    pub joint: bool,
    /// A stated life, in days: seals to lay in for a fleet over a horizon without resupply
    #[arg(long, value_name = "LAW", conflicts_with_all = ["input", "demand_rate"], requires_all = ["assets", "horizon"])]
    pub life: Option<String>,
    /// Seals running in that fleet
    #[arg(long, value_name = "N", requires = "life", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub assets: Option<u32>,
    /// Days without resupply
    #[arg(long, value_name = "DAYS", requires = "life", value_parser = above_zero)]
    pub horizon: Option<f64>,
    /// Ages of those seals now, in days; those not named are new
    #[arg(long, value_name = "A[,A]", requires = "life", value_delimiter = ',', value_parser = not_negative)]
    pub ages: Vec<f64>,
    /// Chance that the seals laid in must be enough
    #[arg(long, value_name = "P", requires = "life", default_value = "0.95", value_parser = share)]
    pub target_probability: f64,
    #[command(flatten)]
    pub format: FormatArgs,
}
