//! The arguments, typed: what commands share here, one file a command beside.

mod ageing;
mod batch_spread;
mod batches;
mod care;
mod check;
mod compare;
mod completions;
mod condition;
mod defects;
mod demand;
mod depot;
mod due;
mod fit;
mod forecast;
mod intervals;
mod last_buy;
mod manual;
mod materials;
mod money;
mod positions;
mod reduction;
mod report;
mod returns;
mod simulate;
mod stock;
mod trial;

pub use ageing::{Ageing, DirectionArg};
pub use batch_spread::BatchSpread;
pub use batches::Batches;
pub use care::{Care, GoalArg, PriceArgs, Steps};
pub use check::Check;
pub use compare::{Compare, RegressionBounds};
pub use completions::Completions;
pub use condition::Condition;
pub use defects::{Defects, DetectionArg};
pub use demand::{Demand, PolicyArg};
pub use depot::Depot;
pub use due::Due;
pub use fit::Fit;
pub use forecast::Forecast;
pub use intervals::Intervals;
pub use last_buy::LastBuy;
pub use manual::Manual;
pub use materials::Materials;
pub use money::Money;
pub use positions::Positions;
pub use reduction::Reduction;
pub use report::Report;
pub use returns::Returns;
pub use simulate::{Simulate, TableArg};
pub use stock::{ShortageArg, Stock};
pub use trial::Trial;

use crate::output::Format;
use clap::{Args, Parser, Subcommand, ValueEnum};
use sealspan_records::observation::Clock;

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
    Compare(Box<Compare>),
    /// Find batches and cure months that differ from their material, and since when
    Batches(Batches),
    /// Say when defects come, how long until they leak, and how many a look finds
    Defects(Defects),
    /// Find how often to inspect and turn a seal and when to replace it, from records or stated lives
    Care(Box<Care>),
    /// Find how many spare seals to hold, from a study or a stated demand
    Stock(Stock),
    /// Split spares between one depot and its sites, and see what transfers between sites save
    Depot(Depot),
    /// Say how many seals to lay in of a part that will no longer be made
    LastBuy(LastBuy),
    /// For makers: say what will come back of batches shipped, the reserve, and service kits
    Returns(Box<Returns>),
    /// Turn laboratory ageing into an Arrhenius line and a life in service
    Ageing(Ageing),
    /// Follow a measured property of each seal to its limit
    Condition(Condition),
    /// Weigh elastomers for a duty: limits, your own lives, cost per year
    Materials(Materials),
    /// Say how many of the seals running now will fail within a time
    Forecast(Forecast),
    /// Say how many seals each place will ask for month by month, and how such forecasts did before
    Demand(Box<Demand>),
    /// List what is due: seals past the plan's age, the likeliest to fail first, and when the others fall due
    Due(Due),
    /// Say what the plan saves against today's practice, month by month, with its risk; write plan.xlsx
    Money(Box<Money>),
    /// Give the interval to state for each material and condition: rounded down, with how far it was tested
    Intervals(Intervals),
    /// Plan a trial: how many seals for how long show a life, or tell two materials apart
    Trial(Trial),
    /// Find positions that consume too many seals, and doors that are out of line
    Positions(Positions),
    /// Run a whole study and write its report folder
    Report(Report),
    /// Print SQL that reduces a database's tables to counts of lives, for fleets too large for one machine
    Reduction(Reduction),
    /// Write the records of an invented fleet from a scenario file
    Simulate(Simulate),
    /// Write a script that completes commands and options in your shell
    Completions(Completions),
    /// Write the manual as man pages
    Manual(Manual),
}

impl Command {
    /// The format of the answer.
    pub fn format(&self) -> Format {
        match self {
            Self::Check(a) => a.format.format,
            Self::Fit(a) => a.format.format,
            Self::Compare(a) => a.format.format,
            Self::Batches(a) => a.format.format,
            Self::Defects(a) => a.format.format,
            Self::Care(a) => a.format.format,
            Self::Stock(a) => a.format.format,
            Self::Depot(a) => a.format.format,
            Self::LastBuy(a) => a.format.format,
            Self::Returns(a) => a.format.format,
            Self::Ageing(a) => a.format.format,
            Self::Condition(a) => a.format.format,
            Self::Materials(a) => a.format.format,
            Self::Forecast(a) => a.format.format,
            Self::Money(a) => a.format.format,
            Self::Demand(a) => a.format.format,
            Self::Due(a) => a.format.format,
            Self::Intervals(a) => a.format.format,
            Self::Trial(a) => a.format.format,
            Self::Positions(a) => a.format.format,
            Self::Report(a) => a.format.format,
            Self::Simulate(a) => a.format.format,
            Self::Reduction(_) | Self::Completions(_) => Format::Text,
            Self::Manual(a) => a.format.format,
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

/// How ages are read, for commands that make no groups by `--by`.
#[derive(Args)]
pub struct ReadArgs {
    /// Time scale of ages [default: the study's, else days]
    #[arg(long, value_enum)]
    pub clock: Option<ClockArg>,
    /// Failure mode of interest: an outcome or a mechanism; others censor
    #[arg(long, value_name = "WORD")]
    pub mode: Option<String>,
    /// Last day the records cover
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

const INPUT: &str = "Study file (TOML), or a table of seals or lives (CSV, Parquet or XLSX)";

/// A share strictly between 0 and 1.
fn share(text: &str) -> Result<f64, String> {
    let value: f64 = text
        .parse()
        .map_err(|_| format!("`{text}` is not a number"))?;
    if value > 0.0 && value < 1.0 {
        Ok(value)
    } else {
        let percent = if value > 1.0 && value < 100.0 {
            let share = (value * 1e10).round() / 1e12;
            format!("; write {text} % as {share}")
        } else {
            String::new()
        };
        Err(format!(
            "{text} must lie between 0 and 1, and be neither: nothing is certain{percent}"
        ))
    }
}

/// No money, age or rate is larger.
const LARGEST: f64 = 1e15;

/// A finite number.
fn finite(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(format!("`{text}` is not a finite number")),
    }
}

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
