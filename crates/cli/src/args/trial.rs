//! Arguments of `trial`.

use super::{ClockArg, FormatArgs, above_zero, share};
use clap::Args;

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "To show a life, leave out one of --seals, --duration, --failures-allowed and --confidence: it is solved for.\nIf more are left out: no failure allowed, 90 % confidence, each seal run for just the life to show.\n\nExamples:\n  sealspan trial --show-life 365 --reliability 0.9 --shape 2.5 --confidence 0.9 --duration 730\n  sealspan trial --show-life 365 --reliability 0.9 --shape 2.5 --confidence 0.9 --seals 10 --failures-allowed 1\n  sealspan trial --show-life 365 --reliability 0.9 --shape 2.5 --seals 12 --duration 500\n  sealspan trial --ratio 1.5 --shape 2.5 --power 0.8 --life 300 --duration 400"
)]
pub struct Trial {
    /// Life to show: the age at which the share --reliability is to be sound
    #[arg(long, value_parser = above_zero, value_name = "T", requires = "reliability")]
    pub show_life: Option<f64>,
    /// Share of seals to be sound at that age
    #[arg(long, value_parser = share, value_name = "SHARE", requires = "show_life")]
    pub reliability: Option<f64>,
    /// Weibull shape, known from like seals: above 1 for wear, 1 for failures at random
    #[arg(long, value_parser = above_zero, value_name = "SHAPE")]
    pub shape: f64,
    /// Seals on trial (of each material, with --ratio)
    #[arg(long, value_parser = clap::value_parser!(u64).range(1..=1_000_000_000), value_name = "N")]
    pub seals: Option<u64>,
    /// Time each seal is run
    #[arg(long, value_parser = above_zero, value_name = "T")]
    pub duration: Option<f64>,
    /// Failures with which the trial is still passed
    #[arg(long, value_name = "N", conflicts_with = "ratio", value_parser = clap::value_parser!(u64).range(0..=1_000_000))]
    pub failures_allowed: Option<u64>,
    /// Confidence with which a passed trial shows the life; with --ratio, of the two-sided interval
    #[arg(long, value_parser = share, value_name = "SHARE")]
    pub confidence: Option<f64>,
    /// Tell two materials apart: the least ratio of their lives that matters
    #[arg(long, value_parser = above_zero, value_name = "RATIO", conflicts_with_all = ["show_life", "reliability"])]
    pub ratio: Option<f64>,
    /// Chance that the trial tells them apart if their lives differ by that ratio
    #[arg(long, value_parser = share, value_name = "SHARE", requires = "ratio", conflicts_with = "seals")]
    pub power: Option<f64>,
    /// Characteristic life (63 % failed) of the first material, needed with --ratio and --duration
    #[arg(long, value_parser = above_zero, value_name = "T", requires = "ratio", requires = "duration")]
    pub life: Option<f64>,
    /// Unit of times
    #[arg(long, value_enum)]
    pub clock: Option<ClockArg>,
    #[command(flatten)]
    pub format: FormatArgs,
}
