//! Writes the records of a scenario: `simulate SCENARIO SEED FOLDER`.

use std::path::Path;

use sealspan_care::scenario::{Format, Scenario, simulate, write};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [file, seed, folder] = words.as_slice() else {
        return Err("usage: simulate SCENARIO SEED FOLDER".into());
    };
    let scenario = Scenario::from_toml(&std::fs::read_to_string(file)?)?;
    write(
        &simulate(&scenario, seed.parse()?),
        Path::new(folder),
        Format::Csv,
    )?;
    Ok(())
}
