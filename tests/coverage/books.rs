//! A simulated fleet as its sites would hand it over.

use sealspan_care::scenario::{Format, Scenario, simulate, write};
use sealspan_records::{LoadOptions, Records, load};
use std::error::Error;

/// Simulates a fleet, writes its books as its sites do, and reads them back.
pub fn records(scenario: &Scenario, study: &str, seed: u64) -> Result<Records, Box<dyn Error>> {
    let folder = std::env::temp_dir().join(format!("sealspan-books-{}-{seed}", std::process::id()));
    write(&simulate(scenario, seed), &folder, Format::Csv)?;
    let path = folder.join("study.toml");
    std::fs::write(&path, study)?;
    let records = load(&path, &LoadOptions::default());
    std::fs::remove_dir_all(&folder)?;
    Ok(records?)
}
