//! Arguments of `forecast`.

use super::{FormatArgs, INPUT, QuestionArgs, above_zero, share};
use clap::Args;
use std::path::PathBuf;

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Example:\n  sealspan forecast datasets/harrow-lane/study.toml --horizon 365"
)]
pub struct Forecast {
    #[arg(help = INPUT)]
    pub input: PathBuf,
    #[command(flatten)]
    pub question: QuestionArgs,
    /// How far ahead, in the unit of the clock [default: the study's]
    #[arg(long, value_parser = above_zero, value_name = "H")]
    pub horizon: Option<f64>,
    /// Equal periods the horizon is cut into
    #[arg(long, default_value_t = 12, value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub periods: u32,
    /// Family fitted
    #[arg(long, default_value = "weibull")]
    pub family: String,
    /// Level of the prediction interval
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Seed of the draws that carry the estimation error
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}
