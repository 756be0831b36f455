//! Arguments of `last-buy`.

use super::{FormatArgs, above_zero, not_negative};
use clap::Args;

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Example: demand of 4 a year for five years, its rate known to within 40 %\n  sealspan last-buy --demand-rate 0.011 --horizon 1826 --rate-cv 0.4 --short-cost 900 --unit-price 40 --holding-cost 0.02"
)]
pub struct LastBuy {
    /// Seals demanded per day
    #[arg(long, value_parser = above_zero, value_name = "RATE")]
    pub demand_rate: f64,
    /// Coefficient of variation of that rate: how well it is known
    #[arg(long, value_parser = not_negative, value_name = "CV", default_value = "0")]
    pub rate_cv: f64,
    /// Days that the seals must last
    #[arg(long, value_parser = above_zero, value_name = "DAYS")]
    pub horizon: f64,
    /// Money lost for each demand without a seal, beyond the price that one would have cost
    #[arg(long, value_parser = above_zero, value_name = "MONEY")]
    pub short_cost: f64,
    /// Price of one seal
    #[arg(long, value_parser = above_zero, value_name = "MONEY")]
    pub unit_price: f64,
    /// What a seal left over fetches
    #[arg(long, value_parser = not_negative, value_name = "MONEY", default_value = "0")]
    pub salvage: f64,
    /// Money to hold one seal for one day
    #[arg(long, value_parser = not_negative, value_name = "MONEY", default_value = "0")]
    pub holding_cost: f64,
    /// Days a seal keeps from its cure date
    #[arg(long, value_parser = above_zero, value_name = "DAYS")]
    pub shelf_life: Option<f64>,
    #[command(flatten)]
    pub format: FormatArgs,
}
