//! Arguments of `care`.

use super::intervals::CalendarArg;
use super::{FormatArgs, QuestionArgs, above_zero, finite, not_negative, share};
use clap::{Args, ValueEnum};
use sealspan_care::plan::{Choice, Request};
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

/// Prices and chances of inspecting and turning.
#[derive(Args)]
#[command(next_help_heading = "Inspecting and turning")]
pub struct HandlingArgs {
    /// Money for the labour of one inspection
    #[arg(long, value_parser = not_negative, value_name = "MONEY")]
    pub inspection_cost: Option<f64>,
    /// Money for the labour of one turn
    #[arg(long, value_parser = not_negative, value_name = "MONEY")]
    pub turn_cost: Option<f64>,
    /// Hours down for one opening (cooling, look or turn, closing); a look and a turn at once share it
    #[arg(long, value_parser = not_negative, value_name = "HOURS")]
    pub inspection_hours: Option<f64>,
    /// Chance that an inspection notices a defect or hidden failure that is there
    #[arg(long, value_parser = chance, value_name = "CHANCE")]
    pub detection: Option<f64>,
    /// Chance that an opening spoils the seal
    #[arg(long, value_parser = chance, value_name = "CHANCE")]
    pub handling_damage: Option<f64>,
    /// Money per unit of time that a failure goes unseen; with it failures are hidden
    #[arg(long, value_parser = not_negative, value_name = "MONEY")]
    pub undetected_cost: Option<f64>,
    /// Hours down waiting for a spare when a replacement was not planned
    #[arg(long, value_parser = not_negative, value_name = "HOURS")]
    pub spare_wait_hours: Option<f64>,
    /// Relative wear of equal sectors of the frame, such as 2,1,1,1; the life stated is that of a seal never turned
    #[arg(long, value_delimiter = ',', value_parser = not_negative, value_name = "W,W,...")]
    pub sector_severity: Vec<f64>,
    /// Sectors moved by one turn, fewer than the ring has
    #[arg(long, default_value_t = 1, value_name = "N")]
    pub turn_by: usize,
}

/// A policy that is given, and limits on one that is searched.
/// Parts of a policy that are stated instead of found.
#[derive(Args)]
pub struct Steps {
    /// Time between inspections, or `never`, instead of the best one
    #[arg(long, value_parser = choice, value_name = "T")]
    pub inspect_every: Option<Choice>,
    /// Time between turns, or `never`, instead of the best one
    #[arg(long, value_parser = choice, value_name = "T")]
    pub turn_every: Option<Choice>,
    /// Age at which to replace, or `never`, instead of the best one
    #[arg(long, value_parser = choice, value_name = "T")]
    pub replace_at: Option<Choice>,
}

impl Steps {
    /// What is left to be found.
    pub fn request(&self) -> Request {
        Request {
            inspect: self.inspect_every.unwrap_or(Choice::Free),
            turn: self.turn_every.unwrap_or(Choice::Free),
            replace: self.replace_at.unwrap_or(Choice::Free),
            ..Request::default()
        }
    }
}

#[derive(Args)]
#[command(next_help_heading = "Policy")]
pub struct PolicyArgs {
    #[command(flatten)]
    pub steps: Steps,
    /// What to aim for
    #[arg(long, value_enum, default_value_t)]
    pub goal: GoalArg,
    /// Least share of time up that a plan must keep
    #[arg(long, value_parser = share, value_name = "SHARE")]
    pub least_availability: Option<f64>,
    /// Largest share of seals that may fail before they are taken off
    #[arg(long, value_parser = share, value_name = "SHARE")]
    pub most_failure_probability: Option<f64>,
}

/// How plans from records are weighed.
#[derive(Args)]
#[command(next_help_heading = "Plans from records")]
pub struct WeighArgs {
    /// Step of the service calendar on the clock of days; lives of a few steps take a finer one [default: months]
    #[arg(long, value_enum)]
    pub calendar: Option<CalendarArg>,
    /// Least time between two openings, replacements among them, that the site can do
    #[arg(long, value_parser = above_zero, value_name = "T")]
    pub least_between_openings: Option<f64>,
    /// Range over which stated prices, hours and chances are moved, as a share either way [default: 0.25]
    #[arg(long, value_parser = share, value_name = "SHARE")]
    pub price_range: Option<f64>,
    /// Plan with failures that come without warning, whatever the looks say
    #[arg(long)]
    pub one_stage: bool,
    /// Property measured at looks, to replace by a measured limit [default: the study's condition.measure]
    #[arg(long, value_name = "COL", requires = "functional_limit")]
    pub measure: Option<String>,
    /// Value of that property at which function is lost [default: the study's condition.limit]
    #[arg(long, value_name = "X", value_parser = finite)]
    pub functional_limit: Option<f64>,
    /// Reading at which to replace, instead of the best one
    #[arg(long, value_name = "X", value_parser = finite)]
    pub measured_limit: Option<f64>,
}

/// Further questions.
#[derive(Args)]
#[command(next_help_heading = "Further questions")]
pub struct MoreArgs {
    /// Chance that a worn seal lasts this many days until a new one comes, left as it lies or turned now
    #[arg(long, value_parser = above_zero, value_name = "DAYS", requires = "age")]
    pub stop_gap_days: Option<f64>,
    /// Age of that worn seal, never turned so far
    #[arg(long, value_parser = above_zero, value_name = "T", requires = "stop_gap_days")]
    pub age: Option<f64>,
    /// Its age when last found sound
    #[arg(long, value_parser = not_negative, value_name = "T", requires = "stop_gap_days")]
    pub sound_at: Option<f64>,
    /// Frame sector, from 1, against which its worn place lies
    #[arg(long, value_name = "N", requires = "stop_gap_days")]
    pub worn_sector: Option<usize>,
    /// Mean time between other openings of the asset: from which age to replace at one
    #[arg(long, value_parser = above_zero, value_name = "T")]
    pub opportunity_every: Option<f64>,
    /// Best replacement age over this time only, until the equipment is given up
    #[arg(long, value_parser = above_zero, value_name = "T")]
    pub horizon: Option<f64>,
    /// Judge replacing a whole group of seals at fixed times
    #[arg(long)]
    pub block: bool,
}

#[derive(Clone, Copy, Default, ValueEnum)]
pub enum GoalArg {
    /// Least cost per unit of time
    #[default]
    Cost,
    /// Greatest share of time up
    Availability,
}

/// A step or age above zero, or `never`.
fn choice(text: &str) -> Result<Choice, String> {
    if text.eq_ignore_ascii_case("never") {
        return Ok(Choice::Never);
    }
    above_zero(text)
        .map(Choice::At)
        .map_err(|why| format!("{why}; or write never"))
}

/// A chance from 0 to 1.
fn chance(text: &str) -> Result<f64, String> {
    let value: f64 = text
        .parse()
        .map_err(|_| format!("`{text}` is not a number"))?;
    if (0.0..=1.0).contains(&value) {
        Ok(value)
    } else {
        Err(format!("{text} must be from 0 to 1; write 90 % as 0.9"))
    }
}

#[derive(Args)]
#[command(
    allow_negative_numbers = true,
    after_help = "What is not given is searched for.\n\nExamples:\n  sealspan care datasets/harrow-lane/study.toml --by material\n  sealspan care --life weibull:shape=2.5,scale=1000 --planned-cost 120 --failure-cost 900 --failure-hours 6 --downtime-cost 400\n  sealspan care --defect weibull:shape=2.5,scale=300 --delay weibull:shape=2,scale=90 --sector-severity 2,1,1,1 --planned-cost 80 --failure-cost 2500 --inspection-cost 20 --inspection-hours 2 --downtime-cost 40 --detection 0.9\n  sealspan care --life weibull:shape=2.5,scale=300 --sector-severity 2,1,1,1 --planned-cost 80 --failure-cost 900 --stop-gap-days 5 --age 250"
)]
pub struct Care {
    #[arg(help = "Study file or table of records; leave out with --life or --defect")]
    pub input: Option<PathBuf>,
    #[command(flatten)]
    pub question: QuestionArgs,
    /// A stated life, such as weibull:shape=2.5,scale=1000, exponential:mean=500 or lognormal:mu=6,sigma=0.5
    #[arg(long, value_name = "LAW", conflicts_with = "input")]
    pub life: Option<String>,
    /// Instead of a life: the law of the age at which a defect can first be seen, with --delay
    #[arg(long, value_name = "LAW", requires = "delay", conflicts_with_all = ["input", "life"])]
    pub defect: Option<String>,
    /// The law of the time from defect to failure
    #[arg(long, value_name = "LAW", requires = "defect")]
    pub delay: Option<String>,
    #[command(flatten)]
    pub prices: PriceArgs,
    /// Family fitted to records [default: weibull]
    #[arg(long, value_name = "FAMILY")]
    pub family: Option<String>,
    /// Two-sided confidence of intervals
    #[arg(long, default_value = "0.9", value_parser = share)]
    pub confidence: f64,
    /// Seed of the simulation that checks the arithmetic
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[command(flatten)]
    pub format: FormatArgs,
    #[command(flatten)]
    pub handling: HandlingArgs,
    #[command(flatten)]
    pub policy: PolicyArgs,
    #[command(flatten)]
    pub weigh: WeighArgs,
    #[command(flatten)]
    pub more: MoreArgs,
}
