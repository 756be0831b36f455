//! Arguments of `care`.

use super::{FormatArgs, QuestionArgs, above_zero, not_negative, share};
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// Costs and hours down of a replacement.
#[derive(Args)]
pub struct PriceArgs {
    /// Money for a planned replacement: seal and labour
    #[arg(long, value_parser = not_negative, value_name = "MONEY")]
    pub planned_cost: Option<f64>,
    /// Money for a failure: seal, labour, clean-up, scrap, penalty
    #[arg(long, value_parser = not_negative, value_name = "MONEY")]
    pub failure_cost: Option<f64>,
    /// Hours down for a planned replacement
    #[arg(long, value_parser = not_negative, value_name = "HOURS")]
    pub planned_hours: Option<f64>,
    /// Hours down for a failure
    #[arg(long, value_parser = not_negative, value_name = "HOURS")]
    pub failure_hours: Option<f64>,
    /// Money for an hour down
    #[arg(long, value_parser = not_negative, value_name = "MONEY")]
    pub downtime_cost: Option<f64>,
    /// Continuous discount rate per year
    #[arg(long, value_parser = not_negative, value_name = "RATE")]
    pub discount_rate: Option<f64>,
}

#[derive(Clone, Copy, Default, ValueEnum)]
pub enum GoalArg {
    /// Least cost per unit of time
    #[default]
    Cost,
    /// Greatest share of time up
    Availability,
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan care datasets/harrow-lane/study.toml --by material\n  sealspan care --life weibull:shape=2.5,scale=1000 --planned-cost 120 --failure-cost 900 --failure-hours 6 --downtime-cost 400"
)]
pub struct Care {
    #[arg(help = "Study file or table of records; leave out with --life")]
    pub input: Option<PathBuf>,
    #[command(flatten)]
    pub question: QuestionArgs,
    /// A stated life, such as weibull:shape=2.5,scale=1000, exponential:mean=500 or lognormal:mu=6,sigma=0.5
    #[arg(long, value_name = "LAW", conflicts_with = "input")]
    pub life: Option<String>,
    #[command(flatten)]
    pub prices: PriceArgs,
    /// Age at which to replace, instead of the best one
    #[arg(long, value_parser = above_zero, value_name = "T")]
    pub replace_at: Option<f64>,
    /// What to aim for
    #[arg(long, value_enum, default_value_t)]
    pub goal: GoalArg,
    /// Family fitted to records
    #[arg(long, default_value = "weibull")]
    pub family: String,
    /// Two-sided confidence of intervals
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Seed of the simulation that checks the arithmetic
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}
