//! Draws every kind of chart with invented numbers, for looking at.
//!
//! `cargo run -p sealspan-report --example gallery -- FOLDER`

#![allow(clippy::print_stderr)]

mod charts;
mod document;

use std::path::PathBuf;

use sealspan_report::figures::{Look, Width, png, svg};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args_os().nth(1).map_or_else(
        || std::env::temp_dir().join("sealspan-gallery"),
        PathBuf::from,
    );
    std::fs::create_dir_all(&folder)?;
    for chart in charts::all() {
        let alone = svg(&chart, &Look::alone())?;
        std::fs::write(folder.join(format!("{}.svg", chart.id)), &alone)?;
        std::fs::write(folder.join(format!("{}.png", chart.id)), png(&alone, 2.0)?)?;
        let narrow = Look {
            width: Width::Narrow,
            ..Look::alone()
        };
        let narrow = png(&svg(&chart, &narrow)?, 2.0)?;
        std::fs::write(folder.join(format!("{}-narrow.png", chart.id)), narrow)?;
    }
    let report = sealspan_report::render::html::html(&document::sample())?;
    std::fs::write(folder.join("report.html"), report)?;
    eprintln!("wrote {}", folder.display());
    Ok(())
}
