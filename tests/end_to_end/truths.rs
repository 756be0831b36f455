//! A few fleets of the demo's scenario: what is planted is found in each, and hardly anything else is.

use super::top;
use sealspan_care::scenario::{Format, Scenario, simulate, write};
use sealspan_life::laws::by_name;
use sealspan_records::{LoadOptions, Question, Records, load};
use sealspan_report::analysis::positions::{PositionsOptions, answer};
use sealspan_report::wire::batches::{BatchesOptions, batches};

fn fleet(of: &str, seed: u64) -> Records {
    let demo = top().join("datasets/harrow-lane");
    let scenario = std::fs::read_to_string(demo.join("scenario.toml")).unwrap();
    let folder = super::folder(&format!("truth-{of}-{seed}"));
    let fleet = simulate(&Scenario::from_toml(&scenario).unwrap(), seed);
    write(&fleet, &folder, Format::Csv).unwrap();
    std::fs::copy(demo.join("study.toml"), folder.join("study.toml")).unwrap();
    let records = load(&folder.join("study.toml"), &LoadOptions::default()).unwrap();
    std::fs::remove_dir_all(&folder).unwrap();
    records
}

#[test]
fn the_short_lived_batch_is_found_and_hardly_any_other() {
    let options = BatchesOptions {
        given: None,
        adjust: true,
        family: by_name("weibull").unwrap(),
        confidence: 0.9,
        false_discoveries: 0.1,
        false_alarms_per_year: 0.1,
        tuned_to: 2.0,
        runs: 100,
        seed: 1,
    };
    let mut others = vec![];
    for seed in 1..=4 {
        let document = batches(&fleet("batch", seed), &Question::default(), &options).unwrap();
        assert!(document.adjusted_for.contains(&"site".to_owned()));
        let [batch, cured] = document.columns.as_slice() else {
            panic!("{} columns", document.columns.len());
        };
        let short_lived = |l: &&String| **l == "EPDM-222";
        assert!(
            batch.differing.iter().any(|l| short_lived(&l)),
            "seed {seed}: {:?}",
            batch.differing
        );
        others.extend(batch.differing.iter().filter(|l| !short_lived(l)).cloned());
        // Its quarter holds other batches and materials, which are as good as the rest: nothing there differs by itself.
        assert_eq!(cured.without, batch.differing);
        others.extend(cured.differing.iter().cloned());
    }
    // Eight lists, a tenth of whose claims may be false.
    assert!(others.len() <= 2, "{others:?}");
}

#[test]
fn habits_and_hungry_doors_are_found_and_hardly_any_other() {
    let mut others = vec![];
    let mut doors = 0;
    for seed in 1..=3 {
        let records = fleet("habit", seed);
        let said = answer(&records, &PositionsOptions::default()).unwrap();
        let early: Vec<_> = said
            .habits
            .replaced
            .iter()
            .filter(|r| r.too_early)
            .collect();
        assert!(
            early
                .iter()
                .any(|r| r.site.as_deref() == Some("Copper Yard"))
        );
        for row in early {
            if row.site.as_deref() != Some("Copper Yard") {
                others.push(format!("too early: {:?} {:?}", row.site, row.group));
            }
            let thrown = &row.thrown_away;
            assert!(thrown.lower.unwrap() <= thrown.estimate.unwrap());
            assert!(thrown.estimate.unwrap() <= thrown.upper.unwrap());
            assert!(row.yearly_cost.estimate.unwrap() > 0.0, "{row:?}");
        }
        let unseen = said.habits.looks.iter().filter(|l| l.never_inspects);
        let unseen: Vec<&str> = unseen.map(|l| l.site.as_str()).collect();
        assert_eq!(unseen, ["Copper Yard", "Tern Quay"]);
        for site in ["Copper Yard", "Tern Quay"] {
            assert!(said.sentences.iter().any(|s| s.starts_with(site)), "{site}");
        }
        assert!(said.held_constant.contains(&"temperature_c".to_owned()));
        let hungry = said.positions.iter().filter(|p| p.hungry);
        for position in hungry {
            match position.asset.as_str() {
                "HL1-T17" | "HL3-T34" => doors += 1,
                other => others.push(other.to_owned()),
            }
        }
    }
    assert!(doors >= 4, "{doors} of 6");
    // Six lists, a tenth of whose claims may be false.
    assert!(others.len() <= 1, "{others:?}");
    // Held against their material alone, positions at hot and busy places look hungry.
    let crude = PositionsOptions {
        not_adjusted: true,
        ..PositionsOptions::default()
    };
    let crude = answer(&fleet("crude", 1), &crude).unwrap();
    let blamed: Vec<&str> = crude
        .positions
        .iter()
        .filter(|p| p.hungry && !matches!(p.asset.as_str(), "HL1-T17" | "HL3-T34"))
        .map(|p| p.asset.as_str())
        .collect();
    assert!(blamed.len() > others.len(), "{blamed:?}");
    assert!(crude.held_constant.is_empty());
}
