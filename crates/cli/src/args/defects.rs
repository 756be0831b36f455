//! Arguments of `defects`.

use super::{ClockArg, FormatArgs, above_zero, share};
use clap::{Args, ValueEnum};
use sealspan_life::defects::StageLaw;
use std::path::PathBuf;

#[derive(Clone, Copy, ValueEnum)]
pub enum StageArg {
    /// A constant rate
    Exponential,
    Weibull,
    Lognormal,
    /// Log-logistic
    Loglogistic,
}

impl From<StageArg> for StageLaw {
    fn from(law: StageArg) -> Self {
        match law {
            StageArg::Exponential => Self::Exponential,
            StageArg::Weibull => Self::Weibull,
            StageArg::Lognormal => Self::Lognormal,
            StageArg::Loglogistic => Self::LogLogistic,
        }
    }
}

/// Stated or estimated.
#[derive(Clone, Copy)]
pub enum DetectionArg {
    Estimate,
    Stated(f64),
}

fn detection(text: &str) -> Result<DetectionArg, String> {
    if text.eq_ignore_ascii_case("estimate") {
        return Ok(DetectionArg::Estimate);
    }
    let value: f64 = text
        .parse()
        .map_err(|_| format!("`{text}` is neither a number nor the word estimate"))?;
    if value > 0.0 && value <= 1.0 {
        Ok(DetectionArg::Stated(value))
    } else {
        Err(format!(
            "{text} must be above 0 and at most 1; write 90 % as 0.9"
        ))
    }
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan defects datasets/harrow-lane/study.toml --by material\n  sealspan defects study.toml --detection 0.9 --every 30,60,90"
)]
pub struct Defects {
    #[arg(help = "Study file (TOML) that names seals and inspections")]
    pub input: PathBuf,
    /// Columns that make groups, with commas between
    #[arg(long, value_delimiter = ',', value_name = "COL[,COL]")]
    pub by: Vec<String>,
    /// Time scale of ages [default: the study's, else days]
    #[arg(long, value_enum)]
    pub clock: Option<ClockArg>,
    /// Last day the records cover [default: the study's, else the latest date in the file]
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub cut_off: Option<String>,
    /// Probability that a look finds a defect that is there: a number, or `estimate`
    #[arg(long, default_value = "estimate", value_parser = detection, value_name = "R")]
    pub detection: DetectionArg,
    /// Law of the age at which defects come [default: Weibull, exponential with fewer than 5 findings and failures]
    #[arg(long, value_enum, value_name = "LAW")]
    pub defect_law: Option<StageArg>,
    /// Law of the delay from defect to failure [default: Weibull, exponential with fewer than 5 failures]
    #[arg(long, value_enum, value_name = "LAW")]
    pub delay_law: Option<StageArg>,
    /// Failures do not show themselves: they wait for the next look
    #[arg(long)]
    pub hidden: bool,
    /// Times between looks to ask about [default: half the usual one, itself, twice that]
    #[arg(long, value_delimiter = ',', value_parser = above_zero, value_name = "T[,T]")]
    pub every: Vec<f64>,
    /// Two-sided confidence of intervals
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Seed of the draws behind intervals that the likelihood leaves open
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}
