//! `completions`: a script that completes commands and options in a shell.

use crate::args::{Cli, Completions};
use crate::output::Output;
use clap::CommandFactory as _;

pub fn run(args: &Completions) -> Output {
    let mut script = vec![];
    clap_complete::generate(args.shell, &mut Cli::command(), "sealspan", &mut script);
    Output::bytes(script)
}
