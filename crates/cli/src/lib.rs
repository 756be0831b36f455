//! The sealspan command line: arguments in, one answer out, an exit status that programs can rely on.

#![warn(clippy::indexing_slicing, clippy::string_slice)]

mod args;
mod cautioned;
mod commands;
mod failure;
mod input;
mod lines;
mod output;
mod page;
mod progress;
mod rows;
mod spark;
mod table;
mod written;

use clap::Parser;
use failure::Failure;
use output::{Format, Output};
use std::ffi::OsString;
use std::process::ExitCode;

/// Runs the command line on this process's arguments. Exit status 0: answered; 1: the question can't be
/// answered from this data (said why); 2: bad usage or input.
#[must_use]
pub fn main() -> ExitCode {
    quiet_decoders();
    let raw: Vec<OsString> = std::env::args_os().collect();
    let (format, result) = match args::Cli::try_parse_from(&raw) {
        Ok(cli) => (cli.command.format(), commands::run(&raw, cli.command)),
        Err(error) if !error.use_stderr() => return help(&error),
        Err(error) => (wanted_format(&raw), Err(Failure::usage(&error))),
    };
    let outcome = match result {
        Ok(output) => output.print(),
        Err(failure) => failure.print(format),
    };
    ExitCode::from(outcome)
}

/// Leaves out what a decoder's panic would print on a damaged file: the reader says what is wrong. Our own crates'
/// are printed.
fn quiet_decoders() {
    let print = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        let ours = |place: &std::panic::Location<'_>| place.file().starts_with("crates/");
        if !sealspan_records::decoding() || panic.location().is_none_or(ours) {
            print(panic);
        }
    }));
}

/// Help and version go to standard output with status 0; a reader that has gone away is no error.
fn help(error: &clap::Error) -> ExitCode {
    let _ = error.print();
    ExitCode::SUCCESS
}

/// The format asked for, found without parsing the rest.
fn wanted_format(raw: &[OsString]) -> Format {
    let words: Vec<String> = raw
        .iter()
        .map(|w| w.to_string_lossy().into_owned())
        .collect();
    let json = words.iter().any(|w| w == "--format=json")
        || words
            .windows(2)
            .any(|w| matches!(w, [a, b] if a == "--format" && b == "json"));
    if json { Format::Json } else { Format::Text }
}

/// What a command gives back.
type Answer = Result<Output, Failure>;
