//! Fleets for the scenario tests.

use sealspan_care::scenario::{Fleet, Scenario, SealRow, simulate};

/// The demo's scenario.
pub const HARROW_LANE: &str = include_str!("../../../../datasets/harrow-lane/scenario.toml");

/// The seed the demo's records were made with.
pub const SEED: u64 = 2024;

/// One site, one material, every tank alike and at reference conditions.
pub const SMALL: &str = r#"
title = "small"
records_from = "2020-01-01"
cut_off = "2024-12-31"
burn_in_days = 900
sectors = 4
wear = { reference_c = 60.0, reference_cycles_per_week = 5.0, cycle_share = 0.5 }
gauge = { new_mm = 8.0, loss_at_defect_mm = 2.0, noise_mm = 0.1 }
supply = { shelf_days = 30, suppliers = ["supplier A"] }

[[material]]
symbol = "NBR"
part_no = "N"
defect = { shape = 2.5, scale_days = 300.0 }
delay = { shape = 2.0, scale_days = 100.0 }
activation_energy_kj_per_mol = 40.0
mechanisms = { abraded = 1.0 }

[[site]]
code = "AA"
name = "Site AA"

[site.practice]
mix = { NBR = 1.0 }
inspect_every_days = 50.0
detection = 0.7
handling_damage = 0.05

[[site.group]]
model = "test"
tanks = 30
positions = ["top", "lower", "side", "end"]
cycles_per_week = 5.0
cycles_spread = 0.0
temperature_c = 60.0
"#;

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
