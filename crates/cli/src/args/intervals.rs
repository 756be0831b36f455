//! Arguments of `intervals`.

use super::{FormatArgs, INPUT, QuestionArgs, share};
use clap::{Args, ValueEnum};
use sealspan_care::calendar::Calendar;
use std::path::PathBuf;

#[derive(Clone, Copy, Default, ValueEnum)]
pub enum CalendarArg {
    /// Weeks of 7 days
    Weeks,
    /// Months, twelve to a year
    #[default]
    Months,
    /// Quarters of a year
    Quarters,
}

impl From<CalendarArg> for Calendar {
    fn from(calendar: CalendarArg) -> Self {
        match calendar {
            CalendarArg::Weeks => Self::Weeks,
            CalendarArg::Months => Self::Months,
            CalendarArg::Quarters => Self::Quarters,
        }
    }
}

/// A one-sided confidence: at least one half, or it is no assurance.
fn assurance(text: &str) -> Result<f64, String> {
    let value = share(text)?;
    if value > 0.5 {
        Ok(value)
    } else {
        Err(format!("{text} must be above 0.5, such as 0.95"))
    }
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Groups are the study's own, else materials; add columns for conditions, such as --by material,cleaning.\n\nExamples:\n  sealspan intervals datasets/harrow-lane/study.toml\n  sealspan intervals datasets/harrow-lane/study.toml --by material,cleaning --share 0.1 --calendar weeks"
)]
pub struct Intervals {
    #[arg(help = INPUT)]
    pub input: PathBuf,
    #[command(flatten)]
    pub question: QuestionArgs,
    /// Share of seals that may fail within the interval
    #[arg(long, default_value = "0.1", value_parser = share, value_name = "SHARE")]
    pub share: f64,
    /// One-sided confidence that no more do
    #[arg(long, default_value = "0.95", value_parser = assurance, value_name = "SHARE")]
    pub confidence: f64,
    /// Service calendar to which days are rounded down
    #[arg(long, value_enum, default_value_t)]
    pub calendar: CalendarArg,
    /// Family fitted
    #[arg(long, default_value = "weibull")]
    pub family: String,
    /// Seed of everything drawn
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}
