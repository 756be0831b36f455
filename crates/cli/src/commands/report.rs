//! `report`: the whole study, written as a folder.

use crate::Answer;
use crate::args::Report;
use crate::failure::Failure;
use crate::input;
use crate::output::Output;
use crate::progress::Progress;
use sealspan_records::Records;
use sealspan_report::analysis::run::{Results, RunOptions, run as run_study};
use sealspan_report::chart::Chart;
use sealspan_report::document::{Block, DataTable, Document, Lead};
use sealspan_report::figures::{Look, png, svg};
use sealspan_report::folder::{self, Entry, Input, Stamp};
use sealspan_report::render::csv::csv;
use sealspan_report::render::html::html;
use sealspan_report::render::notebook::notebook;
use sealspan_report::render::parquet::parquet;
use sealspan_report::render::pdf::one_page;
use sealspan_report::story::{decision, interval_sheet, lead, story, tables};
use sealspan_report::xlsx::workbook;
use serde::Serialize;
use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// Pixels of a PNG per figure unit.
const PNG_SCALE: f32 = 2.0;

#[derive(Serialize)]
struct Written {
    schema: &'static str,
    folder: String,
    report: String,
    answers: Vec<Lead>,
    files: Vec<String>,
}

pub fn run(raw: &[OsString], args: &Report) -> Answer {
    let records = input::records(&args.input, None)?;
    let progress = Progress::start("working the study through");
    let options = RunOptions {
        confidence: args.confidence,
        seed: args.seed,
    };
    let results = run_study(&records, options)?;
    let mut all = inputs(&records);
    if let Some(lab) = &results.ovens {
        all.push(input_of(&lab.source));
    }
    let stamp = Stamp::new(command(raw), args.seed, all);
    progress.now("drawing the report");
    let lines = stamp_lines(&stamp);
    let document = story(&results, lines.clone());
    let mut entries = entries(&results, &document, &records)?;
    entries.push((
        "decision.pdf".to_owned(),
        one_page(&decision(&results, &lines))?,
    ));
    let sheet = interval_sheet(&results, &lines);
    entries.push(("intervals.pdf".to_owned(), one_page(&sheet)?));
    let out = match &args.out {
        Some(out) => out.clone(),
        None => default_folder(&args.input),
    };
    write(&out, &stamp, &entries)?;
    drop(progress);
    let written = Written {
        schema: "sealspan.report.v1",
        folder: out.display().to_string(),
        report: out.join("report.html").display().to_string(),
        answers: lead(&results),
        files: entries.into_iter().map(|(name, _)| name).collect(),
    };
    Ok(Output::new(args.format.format, written, text))
}

/// Writes a folder, and the folders above it where they are missing.
pub(super) fn write(out: &Path, stamp: &Stamp, entries: &[Entry]) -> Result<(), Failure> {
    if let Some(parent) = out.parent().filter(|p| !p.as_os_str().is_empty()) {
        std::fs::create_dir_all(parent).map_err(|e| {
            Failure::input(
                format!("the folder {} cannot be made: {e}", parent.display()),
                "choose another --out",
            )
        })?;
    }
    Ok(folder::write(out, stamp, entries)?)
}

/// The command as typed, by the program's name alone: a report must not depend on where the program is.
pub(super) fn command(raw: &[OsString]) -> String {
    let words = raw.iter().skip(1).map(|w| w.to_string_lossy().into_owned());
    std::iter::once("sealspan".to_owned())
        .chain(words)
        .collect::<Vec<_>>()
        .join(" ")
}

pub(super) fn inputs(records: &Records) -> Vec<Input> {
    records.sources.iter().map(input_of).collect()
}

/// An input by the bytes that were used, whatever has become of the file since.
fn input_of(s: &sealspan_records::Source) -> Input {
    Input {
        role: s.role.to_owned(),
        file: s.path.display().to_string(),
        bytes: s.bytes,
        sha256: s.sha256.clone(),
    }
}

fn stamp_lines(stamp: &Stamp) -> Vec<(String, String)> {
    let mut lines = vec![
        ("version".to_owned(), format!("sealspan {}", stamp.version)),
        ("command".to_owned(), stamp.command.clone()),
        ("seed".to_owned(), stamp.seed.to_string()),
    ];
    for input in &stamp.inputs {
        lines.push((
            input.role.clone(),
            format!("{}, SHA-256 {}", input.file, input.sha256),
        ));
    }
    lines
}

fn entries(
    results: &Results,
    document: &Document,
    records: &Records,
) -> Result<Vec<Entry>, Failure> {
    let mut entries = vec![("report.html".to_owned(), html(document)?.into_bytes())];
    for chart in charts(document) {
        entries.extend(drawn(chart)?);
    }
    let tables = tables(results);
    for table in &tables {
        entries.extend(filed(table)?);
    }
    let png = |name: &str| {
        let path = format!("figures/{name}.png");
        let found = entries.iter().find(|(name, _)| *name == path);
        found.map(|(_, bytes)| bytes.clone())
    };
    let pages = notebook(document, &tables, png)?;
    entries.push(("notebook.ipynb".to_owned(), pages));
    if let Some(money) = results.money.found() {
        let bytes = workbook(money, &records.study).map_err(|why| {
            Failure::unanswerable(
                format!("the workbook cannot be written: {why}"),
                "shorten the names of sites and groups",
            )
        })?;
        entries.push(("plan.xlsx".to_owned(), bytes));
    }
    entries.push(("results.json".to_owned(), folder::json(results)?));
    Ok(entries)
}

/// A figure as PNG and SVG.
pub(super) fn drawn(chart: &Chart) -> Result<[Entry; 2], Failure> {
    let drawing = svg(chart, &Look::alone())?;
    Ok([
        (
            format!("figures/{}.png", chart.id),
            png(&drawing, PNG_SCALE)?,
        ),
        (format!("figures/{}.svg", chart.id), drawing.into_bytes()),
    ])
}

/// A table as CSV and Parquet.
pub(crate) fn filed(table: &DataTable) -> Result<[Entry; 2], Failure> {
    Ok([
        (format!("tables/{}.csv", table.name), csv(table)?),
        (format!("tables/{}.parquet", table.name), parquet(table)?),
    ])
}

fn charts(document: &Document) -> impl Iterator<Item = &Chart> {
    document
        .pages
        .iter()
        .flat_map(|page| &page.blocks)
        .filter_map(|block| match block {
            Block::Figure(chart) => Some(chart.as_ref()),
            _ => None,
        })
}

/// `notebooks-out/NAME`, NAME being the study's folder, or the file without its ending.
fn default_folder(input: &Path) -> PathBuf {
    let folder = input.parent().and_then(Path::file_name);
    let study = input
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("toml"));
    let name = folder
        .filter(|_| study)
        .or(input.file_stem())
        .unwrap_or(input.as_os_str());
    Path::new("notebooks-out").join(name)
}

fn text(w: &Written) -> String {
    let mut out = String::new();
    for answer in &w.answers {
        let lines = answer.lines.iter().map(|line| format!("  {line}\n"));
        out.push_str(&format!(
            "{}\n{}\n",
            answer.label,
            lines.collect::<String>()
        ));
    }
    out.push_str(&format!("open {}\n", w.report));
    out.push_str(crate::cautioned::IN_SHORT);
    out
}
