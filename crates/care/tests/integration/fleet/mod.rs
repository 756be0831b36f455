//! Fleets for the scenario tests.

use sealspan_care::scenario::{Fleet, Scenario, SealRow, simulate};

/// The demo's scenario.
pub const HARROW_LANE: &str = include_str!("../../../../../datasets/harrow-lane/scenario.toml");

/// The seed the demo's records were made with.
pub const SEED: u64 = 2024;

/// One site, one material, every tank alike and at reference conditions.
pub const SMALL: &str = include_str!("../../../../../tests/coverage/alike.toml");

/// The demo's records.
pub fn demo() -> Fleet {
    simulate(&Scenario::from_toml(HARROW_LANE).unwrap(), SEED)
}

/// Rows of the sites that keep their books well.
pub fn clean_sites(fleet: &Fleet) -> impl Iterator<Item = &SealRow> {
    let sites = ["HL1", "HL2", "HL3"];
    fleet
        .seals
        .iter()
        .filter(move |row| sites.iter().any(|site| row.asset.starts_with(site)))
}

/// Days from fitting to removal, if both are written.
pub fn days(row: &SealRow) -> Option<f64> {
    let (fitted, removed) = (row.fitted?.day, row.removed?.day);
    Some(fitted.duration_until(removed).as_secs_f64() / 86_400.0)
}

/// Crude lives of the clean sites' defective seals.
pub fn lives(fleet: &Fleet, keep: &dyn Fn(&SealRow) -> bool) -> Vec<f64> {
    clean_sites(fleet)
        .filter(|row| matches!(row.outcome.as_str(), "failed" | "worn") && keep(row))
        .filter_map(days)
        .collect()
}
