//! `manual`: the manual as man pages, one a command, without a date.

use crate::Answer;
use crate::args::{Cli, Manual};
use crate::failure::Failure;
use crate::output::Output;
use clap::CommandFactory as _;
use clap_mangen::Man;
use serde::Serialize;
use std::path::Path;

#[derive(Serialize)]
struct Written {
    schema: &'static str,
    folder: String,
    files: Vec<String>,
}

pub fn run(args: &Manual) -> Answer {
    let out = &args.out;
    std::fs::create_dir_all(out).map_err(|e| failed(out, &e))?;
    let mut top = Cli::command();
    top.build();
    let mut files = vec![page(&top, "sealspan", out)?];
    for command in top.get_subcommands().filter(|c| c.get_name() != "help") {
        let name = format!("sealspan-{}", command.get_name());
        files.push(page(command, &name, out)?);
    }
    let written = Written {
        schema: "sealspan.manual.v1",
        folder: out.display().to_string(),
        files,
    };
    Ok(Output::new(args.format.format, written, |w| {
        format!("{} pages are in {}", w.files.len(), w.folder)
    }))
}

/// Writes the page of one command; gives back its file's name.
fn page(command: &clap::Command, name: &str, out: &Path) -> Result<String, Failure> {
    let file = format!("{name}.1");
    let path = out.join(&file);
    let mut bytes = vec![];
    Man::new(command.clone())
        .title(name)
        .render(&mut bytes)
        .map_err(|e| failed(&path, &e))?;
    sealspan_records::write::write_bytes(&bytes, &path)?;
    Ok(file)
}

fn failed(path: &Path, error: &std::io::Error) -> Failure {
    Failure::input(
        format!("{} cannot be written: {error}", path.display()),
        "choose another --out",
    )
}
