//! The arguments, typed.

use crate::output::Format;
use clap::{Args, Parser, Subcommand, ValueEnum};
use sealspan_life::bounds::Method;
use sealspan_records::observation::Clock;
use std::path::PathBuf;

/// Turns a log of seal replacements and inspections into life models, comparisons and a costed care plan.
#[derive(Parser)]
#[command(
    name = "sealspan",
    bin_name = "sealspan",
    version,
    max_term_width = 100,
    allow_negative_numbers = true,
    after_help = "Start here:\n  sealspan report datasets/harrow-lane/study.toml     the whole job on the demo fleet\n  sealspan check YOUR.csv                             what is in your log, and what is wrong with it\n  sealspan fit YOUR.csv --by material                 how long each material lasts\n\nExit status: 0 answered; 1 the question can't be answered from this data (said why); 2 bad usage or input.\n\nSeals hold pressure, vacuum, heat and chemicals: isolate, depressurise and cool before opening;\ncheck the maker's limits; local codes and licensed practice decide."
)]
pub struct Cli {
    #[command(subcommand)]
    pub command: Command,
}

#[derive(Subcommand)]
pub enum Command {
    /// Say what was read, what was set aside and why, and what looks wrong
    Check(Check),
    /// Fit life models to seals, by group
    Fit(Fit),
    /// Compare groups of seals: do they live equally long, and by what ratio?
    Compare(Compare),
    /// Find the age at which to replace a seal, from records or a stated life
    Care(Care),
    /// Find how many spare seals to hold, from a study or a stated demand
    Stock(Stock),
    /// Say how many of the seals running now will fail within a time
    Forecast(Forecast),
    /// Run a whole study and write its report folder
    Report(Report),
    /// Write the records of an invented fleet from a scenario file
    Simulate(Simulate),
}

impl Command {
    /// The format of the answer.
    pub fn format(&self) -> Format {
        match self {
            Self::Check(a) => a.format.format,
            Self::Fit(a) => a.format.format,
            Self::Compare(a) => a.format.format,
            Self::Care(a) => a.format.format,
            Self::Stock(a) => a.format.format,
            Self::Forecast(a) => a.format.format,
            Self::Report(a) => a.format.format,
            Self::Simulate(a) => a.format.format,
        }
    }
}

#[derive(Args)]
pub struct FormatArgs {
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// What is asked of the records.
#[derive(Args)]
pub struct QuestionArgs {
    /// Columns that make groups, with commas between
    #[arg(long, value_delimiter = ',', value_name = "COL[,COL]")]
    pub by: Vec<String>,
    /// Time scale of ages [default: the study's, else days]
    #[arg(long, value_enum)]
    pub clock: Option<ClockArg>,
    /// Failure mode of interest: an outcome or a mechanism; others censor
    #[arg(long, value_name = "WORD")]
    pub mode: Option<String>,
    /// Last day the records cover [default: the study's, else the latest date in the file]
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub cut_off: Option<String>,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum ClockArg {
    Days,
    Hours,
    Cycles,
}

impl From<ClockArg> for Clock {
    fn from(clock: ClockArg) -> Self {
        match clock {
            ClockArg::Days => Self::Days,
            ClockArg::Hours => Self::Hours,
            ClockArg::Cycles => Self::Cycles,
        }
    }
}

#[derive(Clone, Copy, ValueEnum)]
pub enum BoundsArg {
    /// Profile likelihood
    Profile,
    /// Normal approximation, on the logarithm for lives
    Wald,
    /// Likelihood ratio with cut-offs calibrated by refits under the observed pattern of watching
    Calibrated,
    /// Studentised parametric bootstrap
    Bootstrap,
    /// Posterior under weak priors, which the answer states
    Posterior,
}

impl From<BoundsArg> for Method {
    fn from(bounds: BoundsArg) -> Self {
        match bounds {
            BoundsArg::Profile => Self::Profile,
            BoundsArg::Wald => Self::Wald,
            BoundsArg::Calibrated => Self::Calibrated,
            BoundsArg::Bootstrap => Self::Bootstrap,
            BoundsArg::Posterior => Self::Posterior,
        }
    }
}

const INPUT: &str = "Study file (TOML), or a table of seals or lives (CSV, Parquet or XLSX)";

/// A share strictly between 0 and 1.
fn share(text: &str) -> Result<f64, String> {
    let value: f64 = text
        .parse()
        .map_err(|_| format!("`{text}` is not a number"))?;
    if value > 0.0 && value < 1.0 {
        Ok(value)
    } else {
        Err(format!(
            "{text} must lie between 0 and 1; write 90 % as 0.9"
        ))
    }
}

/// No money, age or rate is larger.
const LARGEST: f64 = 1e15;

/// A number above zero.
fn above_zero(text: &str) -> Result<f64, String> {
    let value: f64 = text
        .parse()
        .map_err(|_| format!("`{text}` is not a number"))?;
    if value > 0.0 && value <= LARGEST {
        Ok(value)
    } else {
        Err(format!("{text} must be above 0 and at most 1e15"))
    }
}

/// A finite number, zero or more.
fn not_negative(text: &str) -> Result<f64, String> {
    let value: f64 = text
        .parse()
        .map_err(|_| format!("`{text}` is not a number"))?;
    if (0.0..=LARGEST).contains(&value) {
        Ok(value)
    } else {
        Err(format!("{text} must be from 0 to 1e15"))
    }
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Example:\n  sealspan check datasets/harrow-lane/study.toml"
)]
pub struct Check {
    #[arg(help = INPUT)]
    pub input: PathBuf,
    #[command(flatten)]
    pub question: QuestionArgs,
    #[command(flatten)]
    pub format: FormatArgs,
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan fit datasets/published/nist-weibull/life.csv --family all\n  sealspan fit seals.csv --by material --quantile 0.1,0.5 --at 180,365"
)]
pub struct Fit {
    #[arg(help = INPUT)]
    pub input: PathBuf,
    #[command(flatten)]
    pub question: QuestionArgs,
    /// Families, with commas between: weibull, exponential, lognormal, loglogistic, gamma, normal,
    /// generalised_gamma; for questions of their own three_parameter_weibull, weak_fraction_weibull,
    /// weibull_mixture; `all` fits the first seven
    #[arg(long, value_delimiter = ',', default_value = "weibull")]
    pub family: Vec<String>,
    /// How bounds are made [default: calibrated while failures are few, else profile]
    #[arg(long, value_enum)]
    pub bounds: Option<BoundsArg>,
    /// Two-sided confidence; each end is the one-sided bound at (1 + confidence) / 2
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Shares failed at which to give the life (0.1 is the B10 life)
    #[arg(long, value_delimiter = ',', default_value = "0.1,0.5", value_parser = share, value_name = "P[,P]")]
    pub quantile: Vec<f64>,
    /// Ages at which to give the share surviving
    #[arg(long, value_delimiter = ',', value_parser = above_zero, value_name = "T[,T]")]
    pub at: Vec<f64>,
    /// Ages of seals now, at which to give the time they have left
    #[arg(long, value_delimiter = ',', value_parser = above_zero, value_name = "A[,A]")]
    pub age: Vec<f64>,
    /// Weibull shape taken as known, for few failures
    #[arg(long, value_parser = above_zero, value_name = "X")]
    pub shape: Option<f64>,
    /// Set the failure modes against each other, and show how far removals on condition bend the life
    #[arg(long, conflicts_with = "mode")]
    pub modes: bool,
    /// Give each seal's residuals (JSON)
    #[arg(long)]
    pub residuals: bool,
    /// Seed of the refits and draws behind intervals and tests of fit
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Examples:\n  sealspan compare seals.csv --by material --given site\n  sealspan compare datasets/published/motor-insulation/life.csv --arrhenius temperature_c --family lognormal"
)]
pub struct Compare {
    #[arg(help = INPUT)]
    pub input: PathBuf,
    /// Factor whose levels are compared
    #[arg(long, value_name = "COL")]
    pub by: Option<String>,
    /// Factors held constant in the regression
    #[arg(long, value_delimiter = ',', value_name = "COL[,COL]")]
    pub given: Vec<String>,
    /// Columns that act on ln life as numbers
    #[arg(long, value_delimiter = ',', value_name = "COL[,COL]")]
    pub number: Vec<String>,
    /// Temperature column in °C, with an Arrhenius effect (activation energy in eV)
    #[arg(long, value_name = "COL")]
    pub arrhenius: Option<String>,
    /// Stress column: life falls as a power of it
    #[arg(long, value_name = "COL")]
    pub inverse_power: Option<String>,
    /// Level to compare with, instead of the first in the alphabet
    #[arg(long, value_delimiter = ',', value_name = "COL=LEVEL")]
    pub base: Vec<String>,
    /// Family of the regression
    #[arg(long, default_value = "weibull")]
    pub family: String,
    /// Two-sided confidence
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Time scale of ages [default: the study's, else days]
    #[arg(long, value_enum)]
    pub clock: Option<ClockArg>,
    /// Failure mode of interest: an outcome or a mechanism; others censor
    #[arg(long, value_name = "WORD")]
    pub mode: Option<String>,
    /// Last day the records cover
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub cut_off: Option<String>,
    #[command(flatten)]
    pub format: FormatArgs,
}

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
    #[arg(long, value_parser = not_negative, value_name = "MONEY")]
    pub unit_price: Option<f64>,
    /// Days a seal keeps on the shelf
    #[arg(long, value_parser = above_zero, value_name = "DAYS")]
    pub shelf_life: Option<f64>,
    /// Smallest share of demands to be met at once
    #[arg(long, value_parser = share, value_name = "SHARE")]
    pub target_fill_rate: Option<f64>,
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

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Example:\n  sealspan report datasets/harrow-lane/study.toml --out notebooks-out/harrow-lane"
)]
pub struct Report {
    #[arg(help = INPUT)]
    pub input: PathBuf,
    /// Folder to write [default: notebooks-out/NAME]
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Two-sided confidence [default: the study's, else 0.9]
    #[arg(long, value_parser = share)]
    pub confidence: Option<f64>,
    /// Seed of everything random
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
}

#[derive(Clone, Copy, Default, ValueEnum)]
pub enum TableArg {
    #[default]
    Csv,
    Parquet,
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "Example:\n  sealspan simulate datasets/harrow-lane/scenario.toml --seed 20 --out fleet"
)]
pub struct Simulate {
    /// Scenario file (TOML)
    pub scenario: PathBuf,
    /// Folder to write the records to
    #[arg(long, value_name = "FOLDER")]
    pub out: PathBuf,
    /// Seed: the same seed gives the same bytes
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Format of the records
    #[arg(long, value_enum, default_value_t)]
    pub table: TableArg,
    #[command(flatten)]
    pub format: FormatArgs,
}
