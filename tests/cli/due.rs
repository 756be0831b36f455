//! What is due first, and ages that reach no further than seals were seen.

use super::{file, sealspan};
use serde_json::Value;

const DEMO: &str = "datasets/harrow-lane/study.toml";

fn list<'a>(json: &'a Value, name: &str) -> &'a [Value] {
    json[name].as_array().map_or(&[], Vec::as_slice)
}

/// Seals with something urgent stay whatever the span asked for, and carry no chance by their age.
#[test]
fn what_is_urgent_is_listed_whatever_the_span() {
    let whole = sealspan(&["due", DEMO, "--format", "json"]).json();
    let soon = sealspan(&["due", DEMO, "--within", "0", "--format", "json"]).json();
    let urgent = |json: &Value| -> Vec<Value> {
        let all = list(json, "seals").iter();
        all.filter(|s| !list(s, "urgent").is_empty())
            .map(|s| s["seal"].clone())
            .collect()
    };
    assert!(urgent(&whole).len() >= 5);
    assert_eq!(urgent(&whole), urgent(&soon));
    for seal in list(&soon, "seals") {
        let act = seal["act"].as_str();
        assert_eq!(act.is_some(), !list(seal, "urgent").is_empty(), "{seal}");
        assert!(
            act.is_some() || seal["due_in"].as_f64().unwrap() <= 0.0,
            "{seal}"
        );
        let door = seal["urgent"].to_string().contains("door out of line");
        assert!(!door || act == Some("now"), "{seal}");
    }
    // In the text such a line has words in place of a chance and of a day.
    let text = sealspan(&["due", DEMO, "--within", "0"]).out;
    for name in urgent(&whole) {
        let line = text.lines().find(|l| l.contains(name.as_str().unwrap()));
        let line = line.unwrap();
        assert!(line.contains("not told by its age"), "{line}");
        assert!(line.contains("now") || line.contains("before the next look"));
    }
}

/// A longer age of a place's or a duty's own is taken only where ten seals were watched at it.
#[test]
fn longer_ages_of_their_own_were_seen() {
    let json = sealspan(&["money", DEMO, "--months", "12", "--format", "json"]).json();
    let (mut taken, mut refused) = (0, 0);
    for found in ["own_ages", "own_ages_by_duty"] {
        for age in list(&json[found], "ages") {
            let (Some(own), Some(planned)) = (age["own_age"].as_f64(), age["planned_age"].as_f64())
            else {
                continue;
            };
            let watched = age["watched_then"].as_f64().unwrap();
            // Copper Yard takes every seal off by 120 days.
            if age["at"] == "Copper Yard" && own > 121.0 {
                assert_eq!(watched, 0.0, "{age}");
            }
            if own > planned && age["taken"] == true {
                assert!(watched >= 10.0, "{age}");
                taken += 1;
            } else if own > planned && watched < 10.0 {
                refused += 1;
            }
        }
    }
    assert!(taken > 0 && refused > 0, "{taken} {refused}");
}

/// Seals watched at the interval stated are those whose time goes as far.
#[test]
fn seals_watched_at_an_interval_are_counted() {
    let ages: Vec<u32> = (0..40).map(|i| 20 + 11 * i).collect();
    let rows: Vec<String> = ages.iter().map(|age| format!("{age},failed")).collect();
    let path = file(
        "watched.csv",
        format!("time,status\n{}\n", rows.join("\n")).as_bytes(),
    );
    let json = sealspan(&["intervals", path.to_str().unwrap(), "--format", "json"]).json();
    let clock = &json["groups"][0]["clocks"][0];
    let state = clock["state"]["age"].as_f64().unwrap();
    let wanted = ages.iter().filter(|age| f64::from(**age) >= state).count();
    assert_eq!(clock["watched_then"], wanted as f64, "{clock}");
    assert!(wanted > 0 && wanted < 40, "{wanted} at {state}");
}

/// A place's recorded failures are those of its own rows, and the rate put at a place is held against them.
#[test]
fn a_places_forecast_is_held_against_its_own_log() {
    let json = sealspan(&["money", DEMO, "--months", "12", "--format", "json"]).json();
    let top = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../datasets/harrow-lane");
    let table = |name: &str| std::fs::read_to_string(top.join(name)).unwrap();
    let assets = table("assets.csv");
    let seals = table("seals.csv");
    let column = |text: &str, name: &str| {
        let head = text.lines().next().unwrap();
        head.split(',').position(|c| c == name).unwrap()
    };
    let cell = |line: &str, at: usize| line.split(',').nth(at).unwrap_or("").to_owned();
    let (asset, site) = (column(&assets, "asset"), column(&assets, "site"));
    let (of, end) = (column(&seals, "asset"), column(&seals, "outcome"));
    // Two sites that keep clean books, so that every row counts once.
    for name in ["Long Barn", "Copper Yard"] {
        let own = assets.lines().filter(|l| cell(l, site) == name);
        let own: std::collections::BTreeSet<String> = own.map(|l| cell(l, asset)).collect();
        let failed = seals.lines().skip(1).filter(|l| {
            let words = ["failed", "blown", "leaking", "gone"];
            own.contains(&cell(l, of)) && words.contains(&cell(l, end).as_str())
        });
        let places = list(&json, "places").iter();
        let place = places.into_iter().find(|p| p["place"] == name).unwrap();
        let recorded = &place["recorded"];
        assert_eq!(recorded["counted"], failed.count() as f64, "{place}");
        // Failures expected over the past stand to those recorded as the two rates do.
        let ratio = |a: &Value, b: &Value| a.as_f64().unwrap() / b.as_f64().unwrap();
        let past = ratio(&recorded["expected"], &recorded["counted"]);
        let ahead = ratio(&place["today"]["failures"], &recorded["per_year"]);
        assert!((past / ahead - 1.0).abs() < 0.5, "{past} {ahead}");
        assert_eq!(
            recorded["p_value"].as_f64().unwrap() < 0.05 / 6.0,
            name == "Long Barn"
        );
    }
    let text = sealspan(&["money", DEMO, "--months", "12"]).out;
    assert!(text.contains("Long Barn counted 5 failures"), "{text}");
}

/// Looks are forecast at the places whose log has them, and nowhere else.
#[test]
fn openings_are_forecast_where_the_log_has_them() {
    let json = sealspan(&["money", DEMO, "--months", "12", "--format", "json"]).json();
    let top = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../datasets/harrow-lane");
    let table = |name: &str| std::fs::read_to_string(top.join(name)).unwrap();
    let (assets, looks) = (table("assets.csv"), table("inspections.csv"));
    let cells = |line: &str| -> Vec<String> { line.split(',').map(str::to_owned).collect() };
    let at = |text: &str, name: &str| {
        let head = cells(text.lines().next().unwrap());
        head.iter().position(|c| c == name).unwrap()
    };
    let (asset, site, of) = (
        at(&assets, "asset"),
        at(&assets, "site"),
        at(&looks, "asset"),
    );
    for place in list(&json, "places") {
        let here = assets.lines().skip(1).map(cells);
        let here = here.filter(|a| place["place"] == *a[site]);
        let own: std::collections::BTreeSet<String> = here.map(|a| a[asset].clone()).collect();
        let seen = looks.lines().skip(1).map(cells);
        let seen = seen.filter(|l| own.contains(&l[of])).count();
        let openings = place["today"]["openings"].as_f64().unwrap();
        let money = place["today"]["handled_money"].as_f64().unwrap();
        if seen == 0 {
            assert_eq!((openings, money), (0.0, 0.0), "{place}");
        } else {
            assert!(openings > 10.0 && money > 0.0, "{place}");
        }
    }
    let never = |name: &str| {
        let mut all = list(&json, "places").iter();
        let place = all.find(|p| p["place"] == name).unwrap();
        place["today"]["openings"] == 0.0
    };
    assert!(never("Copper Yard") && never("Tern Quay") && !never("Long Barn"));
}
