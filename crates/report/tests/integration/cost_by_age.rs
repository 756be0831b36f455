//! The curve of cost against replacement age: for the largest group, at the price of its own seal.

#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use sealspan_records::{LoadOptions, load};
use sealspan_report::analysis::run::{RunOptions, run};
use sealspan_report::document::Cell;
use sealspan_report::story::tables;
use std::fmt::Write as _;
use std::path::PathBuf;

/// Invented: FKM and EPDM at two sites, most seals in service of FKM at south, which costs ten times the usual price.
fn study() -> PathBuf {
    let folder = std::env::temp_dir().join(format!("sealspan-cost-by-age-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let mut rows = "seal,asset,position,material,fitted,removed,outcome\n".to_owned();
    let mut assets = "asset,site\n".to_owned();
    let (start, end) = (
        jiff::civil::date(2020, 1, 1),
        jiff::civil::date(2023, 12, 31),
    );
    for tank in 0..10_i32 {
        let (site, material) = match tank {
            0..2 => ("north", "EPDM"),
            2..5 => ("north", "FKM"),
            _ => ("south", "FKM"),
        };
        writeln!(assets, "tank {tank},{site}").unwrap();
        let (mut fitted, mut seal) = (start, 0);
        loop {
            let life = 200 + 60 * ((3 * tank + 5 * seal) % 8);
            let off = fitted + jiff::Span::new().days(life);
            let name = format!("{tank}-{seal}");
            if off > end {
                writeln!(
                    rows,
                    "{name},tank {tank},door,{material},{fitted},,in_service"
                )
                .unwrap();
                break;
            }
            writeln!(
                rows,
                "{name},tank {tank},door,{material},{fitted},{off},failed"
            )
            .unwrap();
            (fitted, seal) = (off, seal + 1);
        }
    }
    let study = r#"
currency = "EUR"
records_from = "2020-01-01"
cut_off = "2023-12-31"
[files]
seals = "seals.csv"
assets = "assets.csv"
[question]
by = ["material", "site"]
[costs]
seal_price = 40.0
seal_prices = { FKM = 400.0 }
fitting_labour = 60.0
planned_hours = 1.0
failure_hours = 9.0
downtime_cost_per_hour = 250.0
"#;
    for (name, text) in [
        ("study.toml", study),
        ("seals.csv", &rows),
        ("assets.csv", &assets),
    ] {
        std::fs::write(folder.join(name), text).unwrap();
    }
    folder
}

#[test]
fn the_curve_is_that_of_the_largest_group_at_its_own_price() {
    let folder = study();
    let records = load(&folder.join("study.toml"), &LoadOptions::default()).unwrap();
    std::fs::remove_dir_all(&folder).unwrap();
    let options = RunOptions {
        confidence: None,
        seed: 1,
    };
    let results = run(&records, options).unwrap();
    let care = results.care.found().unwrap();
    let name = "material FKM, site south";
    let own = care.groups.iter().find(|g| g.group.words() == name);
    let replace = &own.unwrap().block.as_ref().unwrap().replace;
    let tables = tables(&results);
    let curve = tables.iter().find(|t| t.name == "cost-by-age").unwrap();
    assert!(curve.rows.iter().all(|r| r[0] == Cell::from(name)));
    let costs = curve.rows.iter().filter_map(|r| match r[2] {
        Cell::Number(cost) => cost,
        Cell::Text(_) => None,
    });
    // The least of the curve is the least cost found for the group, to the steps between its points.
    let least = costs.fold(f64::INFINITY, f64::min) / 365.25;
    assert!((least / replace.cost_rate - 1.0).abs() < 0.01, "{least}");
}
