//! A few fleets of the demo's scenario: the short-lived batch is found in each, and hardly anything else is.

use super::top;
use sealspan_care::scenario::{Format, Scenario, simulate, write};
use sealspan_life::laws::by_name;
use sealspan_records::{LoadOptions, Question, Records, load};
use sealspan_report::wire::batches::{BatchesOptions, batches};

fn fleet(seed: u64) -> Records {
    let demo = top().join("datasets/harrow-lane");
    let scenario = std::fs::read_to_string(demo.join("scenario.toml")).unwrap();
    let folder = super::folder(&format!("truth-{seed}"));
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
        false_alarms_per_year: 0.5,
        tuned_to: 2.0,
        runs: 100,
        seed: 1,
    };
    let mut others = vec![];
    for seed in 1..=4 {
        let document = batches(&fleet(seed), &Question::default(), &options).unwrap();
        assert!(document.adjusted_for.contains(&"site".to_owned()));
        for (column, truth) in document.columns.iter().zip(["EPDM-222", "2022-Q2"]) {
            let listed = |l: &&String| **l == truth;
            assert!(
                column.differing.iter().any(|l| listed(&l)),
                "seed {seed}: {:?}",
                column.differing
            );
            let rest = column.differing.iter().filter(|l| !listed(l));
            others.extend(rest.cloned());
        }
    }
    // Eight lists, a tenth of whose claims may be false.
    assert!(others.len() <= 2, "{others:?}");
}
