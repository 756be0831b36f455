//! Arguments of `batches`.

use super::{FormatArgs, INPUT, ReadArgs, above_zero, share};
use clap::Args;
use sealspan_report::wire::batches::{FALSE_ALARMS_PER_YEAR, FALSE_DISCOVERIES};
use std::path::PathBuf;

/// A ratio above 1.
fn above_one(text: &str) -> Result<f64, String> {
    above_zero(text).and_then(|x| {
        if x > 1.0 {
            Ok(x)
        } else {
            Err(format!(
                "{text} must be above 1: a failure rate so many times as high"
            ))
        }
    })
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan batches datasets/harrow-lane/study.toml\n  sealspan batches seals.csv --given material,site --false-alarms-per-year 0.2 --out batch-watch\n\nThe law behind the chart is fitted to the same records, and the limit takes it as known: with few failures\nfalse alarms can be more frequent than stated. How often what is listed is so, and charts alarm without cause,\nis measured on 200 simulated fleets of the demo: see tests/coverage/truths.md."
)]
pub struct Batches {
    #[arg(help = INPUT)]
    pub input: PathBuf,
    /// Columns held constant: a batch is compared within them only [default: material, where there is one]
    #[arg(long, value_delimiter = ',', value_name = "COL[,COL]")]
    pub given: Option<Vec<String>>,
    /// Do not allow for where the seals sit (site, columns of the assets, duty)
    #[arg(long)]
    pub not_adjusted: bool,
    /// Law of each stratum
    #[arg(long, default_value = "weibull")]
    pub family: String,
    /// Two-sided confidence
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Share of false discoveries among the batches listed as differing
    #[arg(long, alias = "false-discovery", default_value_t = FALSE_DISCOVERIES, value_parser = share, value_name = "SHARE")]
    pub false_discoveries: f64,
    /// False alarms a year, over all running charts of a column
    #[arg(long, default_value_t = FALSE_ALARMS_PER_YEAR, value_parser = above_zero, value_name = "RATE")]
    pub false_alarms_per_year: f64,
    /// Rise of the failure rate that the running charts are quickest to see
    #[arg(long, default_value = "2", value_parser = above_one, value_name = "TIMES")]
    pub tuned_to: f64,
    /// Simulated runs behind the limit
    #[arg(long, default_value_t = 4000, value_parser = clap::value_parser!(u32).range(100..=1_000_000))]
    pub runs: u32,
    /// Seed of those runs
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub read: ReadArgs,
    /// Folder for the figures and the answer as JSON
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    #[command(flatten)]
    pub format: FormatArgs,
}
