//! One file a command.

mod ageing;
mod batches;
mod care;
mod check;
mod compare;
mod completions;
mod condition;
mod cross_check;
mod defects;
mod demand;
mod depot;
mod due;
mod fit;
mod fleet_stock;
mod forecast;
mod intervals;
mod last_buy;
mod manual;
mod materials;
mod money;
mod pairs;
mod positions;
mod reduction;
mod report;
mod returns;
mod simulate;
mod stock;
mod trial;

pub(crate) use report::filed;

use crate::Answer;
use crate::args::Command;
use std::ffi::OsString;

/// Runs a command; `raw` is the command line as given, for the report's stamp.
pub fn run(raw: &[OsString], command: Command) -> Answer {
    match command {
        Command::Check(args) => check::run(&args),
        Command::Fit(args) => fit::run(&args),
        Command::Compare(args) => compare::run(raw, &args),
        Command::Batches(args) => batches::run(raw, &args),
        Command::Defects(args) => defects::run(&args),
        Command::Care(args) => care::run(&args),
        Command::Stock(args) => stock::run(&args),
        Command::Depot(args) => depot::run(&args),
        Command::LastBuy(args) => last_buy::run(&args),
        Command::Returns(args) => returns::run(&args),
        Command::Ageing(args) => ageing::run(raw, &args),
        Command::Condition(args) => condition::run(raw, &args),
        Command::Materials(args) => materials::run(&args),
        Command::Forecast(args) => forecast::run(&args),
        Command::Money(args) => money::run(&args),
        Command::Demand(args) => demand::run(&args),
        Command::Due(args) => due::run(&args),
        Command::Intervals(args) => intervals::run(&args),
        Command::Trial(args) => trial::run(&args),
        Command::Positions(args) => positions::run(raw, &args),
        Command::Report(args) => report::run(raw, &args),
        Command::Reduction(args) => reduction::run(&args),
        Command::Simulate(args) => simulate::run(&args),
        Command::Completions(args) => Ok(completions::run(&args)),
        Command::Manual(args) => manual::run(&args),
    }
}
