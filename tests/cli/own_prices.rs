//! Parts whose seal has a price of its own.

use super::spares::{json, number};
use super::{file, sealspan};
use std::path::Path;

const DEMO: &str = "datasets/harrow-lane";

/// The demo's study with other lines on costs, beside its tables.
fn study(name: &str, costs: &str) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(DEMO);
    let text = std::fs::read_to_string(root.join("study.toml")).unwrap();
    assert!(text.contains("seal_price = 38.0"));
    for table in std::fs::read_dir(&root).unwrap() {
        let table = table.unwrap().path();
        if table.is_file() {
            let bytes = std::fs::read(&table).unwrap();
            let own = table.file_name().unwrap().to_str().unwrap();
            file(&format!("{name}/{own}"), &bytes);
        }
    }
    let text = text.replace("seal_price = 38.0", costs);
    let at = file(&format!("{name}/study.toml"), text.as_bytes());
    at.display().to_string()
}

/// A part with its own price is planned, held and paid for as if all seals cost that; the others as before.
#[test]
fn as_if_all_cost_that() {
    let usual = study("usual", "seal_price = 38.0");
    let mixed = study("mixed", "seal_price = 38.0\nseal_prices = { FKM = 900.0 }");
    let dear = study("dear", "seal_price = 900.0");
    let [usual, mixed, dear] = [usual, mixed, dear].map(|study| json(&format!("care {study}")));
    for (i, group) in mixed["groups"].as_array().unwrap().iter().enumerate() {
        let fkm = group["group"]["material"] == "FKM";
        let like = if fkm { &dear } else { &usual };
        let cost = |answer: &serde_json::Value| number(answer, "plan.then.mean");
        assert_eq!(cost(group), cost(&like["groups"][i]), "{}", group["group"]);
    }
    let fkm = |answer: &serde_json::Value| answer["groups"][1]["plan"]["plan"].clone();
    assert_ne!(
        fkm(&mixed),
        fkm(&usual),
        "at 900 a seal another plan is best"
    );
}

/// A name that no group goes by is refused, with those that there are.
#[test]
fn a_slip_in_a_name() {
    let slip = study("slip", "seal_price = 38.0\nseal_prices = { FKN = 95.0 }");
    let run = sealspan(&["check", &slip]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("costs.seal_prices.FKN"), "{}", run.err);
    assert!(run.err.contains("EPDM, FKM, NBR, VMQ"), "{}", run.err);
}

/// Stocks and months take the part's own price.
#[test]
fn stocks_and_months() {
    let mixed = study("months", "seal_price = 38.0\nseal_prices = { FKM = 95.0 }");
    let stock = json(&format!("stock {mixed}"));
    for place in stock["places"].as_array().unwrap() {
        let want = if place["part"] == "FKM" { 95.0 } else { 38.0 };
        assert_eq!(number(place, "levels.1.investment"), want, "one seal held");
    }
    let money = json(&format!("money {mixed} --months 12"));
    let (mut own, mut seals) = (0.0, 0.0);
    for part in money["parts"].as_array().unwrap() {
        let price = if part["part"] == "FKM" { 95.0 } else { 38.0 };
        assert_eq!(number(part, "seal_price"), price);
        let plan = &part["plan"];
        let each = number(&money, "build_up.planned") + price - 38.0;
        let want = each * number(plan, "planned");
        assert!((number(plan, "planned_money") - want).abs() < 1e-6 * want);
        if part["part"] == "FKM" {
            own = number(plan, "own_price_money");
            seals = number(plan, "planned") + number(plan, "failures");
        }
    }
    assert!((own / (95.0 * seals) - 1.0).abs() < 1e-6);
    let months = money["by_month"].as_array().unwrap();
    let each = months.iter().map(|m| number(&m["plan"], "own_price_money"));
    assert!((each.sum::<f64>() / own - 1.0).abs() < 1e-6);
}
