//! `simulate`: the records of an invented fleet from a scenario file.

use crate::Answer;
use crate::args::{Simulate, TableArg};
use crate::failure::Failure;
use crate::output::Output;
use crate::progress::Progress;
use sealspan_care::scenario::{Format, Scenario, simulate, write};
use serde::Serialize;

#[derive(Serialize)]
struct Document {
    schema: &'static str,
    title: String,
    seed: u64,
    invented: bool,
    assets: usize,
    seals: usize,
    inspections: usize,
    files: Vec<String>,
}

pub fn run(args: &Simulate) -> Answer {
    let at = |failure: Failure| failure.in_file(&args.scenario);
    let text = std::fs::read_to_string(&args.scenario).map_err(|error| {
        at(Failure::input(
            format!("the scenario cannot be read: {error}"),
            "give a scenario file (TOML)",
        ))
    })?;
    let scenario = Scenario::from_toml(&text)
        .map_err(|error| at(Failure::input(error.to_string(), "correct the key named")))?;
    let _progress = Progress::start("living through the scenario");
    let fleet = simulate(&scenario, args.seed);
    let format = match args.table {
        TableArg::Csv => Format::Csv,
        TableArg::Parquet => Format::Parquet,
    };
    let files = write(&fleet, &args.out, format).map_err(|error| {
        Failure::input(error.to_string(), "choose a folder that can be written to")
    })?;
    let document = Document {
        schema: "sealspan.simulate.v1",
        title: scenario.title().to_owned(),
        seed: args.seed,
        invented: true,
        assets: fleet.assets.len(),
        seals: fleet.seals.len(),
        inspections: fleet.inspections.len(),
        files: files.iter().map(|f| f.display().to_string()).collect(),
    };
    Ok(Output::new(args.format.format, document, |d| {
        format!(
            "{} (invented data), seed {}: {} tanks, {} seals, {} inspections\n{}",
            d.title,
            d.seed,
            d.assets,
            d.seals,
            d.inspections,
            d.files.join("\n")
        )
    }))
}
