//! The simulator keeps its promises: same bytes, sound logs, and truths that can be found again.

use crate::fleet::{HARROW_LANE, SMALL, clean_sites, days, demo, lives};
use sealspan_care::scenario::{Fleet, Format, Scenario, SealRow, simulate, write};

fn small(text: &str, seed: u64) -> Fleet {
    simulate(&Scenario::from_toml(text).unwrap(), seed)
}

fn threads(count: usize) -> Fleet {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(count)
        .build()
        .unwrap();
    pool.install(demo)
}

#[test]
fn the_same_seed_gives_the_same_fleet_on_any_number_of_threads() {
    let one = threads(1);
    assert_eq!(one, threads(3));
    assert_ne!(one, simulate(&Scenario::from_toml(HARROW_LANE).unwrap(), 1));
}

#[test]
fn the_committed_records_are_what_the_simulator_writes() {
    let out = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("harrow-lane");
    let paths = write(&demo(), &out, Format::Csv).unwrap();
    let kept = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../datasets/harrow-lane");
    assert_eq!(paths.len(), 3);
    for path in paths {
        let name = path.file_name().unwrap();
        let same = std::fs::read(&path).unwrap() == std::fs::read(kept.join(name)).unwrap();
        assert!(
            same,
            "{name:?} differs; regenerate it as the data set's README says"
        );
    }
}

#[test]
fn parquet_is_repeatable_and_leaves_no_part_files() {
    let out = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("parquet");
    let fleet = small(SMALL, 3);
    let first: Vec<Vec<u8>> = write(&fleet, &out, Format::Parquet)
        .unwrap()
        .iter()
        .map(|path| std::fs::read(path).unwrap())
        .collect();
    let again = write(&fleet, &out, Format::Parquet).unwrap();
    for (path, bytes) in again.iter().zip(&first) {
        assert!(bytes.starts_with(b"PAR1") && *bytes == std::fs::read(path).unwrap());
    }
    assert_eq!(std::fs::read_dir(&out).unwrap().count(), 3);
}

#[test]
fn another_site_changes_no_tank() {
    let site = SMALL.split("[[site]]").nth(1).unwrap().replace("AA", "BB");
    let both = small(&format!("{SMALL}\n[[site]]{site}"), 5);
    let alone = small(SMALL, 5);
    assert_eq!(
        both.seals.len(),
        alone.seals.len()
            + both
                .seals
                .iter()
                .filter(|r| r.asset.starts_with("BB"))
                .count()
    );
    assert_eq!(both.seals.get(..alone.seals.len()).unwrap(), alone.seals);
    assert_eq!(
        both.inspections.get(..alone.inspections.len()).unwrap(),
        alone.inspections
    );
}

#[test]
fn a_careless_clerk_changes_no_life() {
    let mess = "[site.mess]\nmonth_dates = 0.3\nquarter_dates = 0.2\nunknown_outcome = 0.2\n\
        swapped_readings = 0.2\nduplicates = 0.2\nmissing_fitted = 0.1\n";
    let (clean, messy) = (small(SMALL, 7), small(&format!("{SMALL}\n{mess}"), 7));
    let ends = |fleet: &Fleet| {
        let mut rows: Vec<_> = fleet
            .seals
            .iter()
            .map(|r| (r.seal.clone(), r.removed.map(|d| d.day)))
            .collect();
        rows.dedup();
        rows
    };
    assert_eq!(ends(&clean), ends(&messy));
    assert!(messy.seals.len() > clean.seals.len());
    let share = |test: fn(&SealRow) -> bool| {
        messy.seals.iter().filter(|r| test(r)).count() as f64 / messy.seals.len() as f64
    };
    // four standard errors of a share of about 900 rows: 0.06
    assert!((share(|r| r.outcome == "unknown") - 0.2).abs() < 0.06);
    assert!((share(|r| r.fitted.is_none()) - 0.1).abs() < 0.05);
    assert!((share(|r| r.fitted.is_some_and(|d| d.to_string().len() < 10)) - 0.45).abs() < 0.07);
}

#[test]
fn clean_logs_hold_together() {
    let fleet = demo();
    let rows: Vec<&SealRow> = clean_sites(&fleet).collect();
    assert!(rows.len() > 1000);
    for row in &rows {
        let fitted = row.fitted.unwrap().day;
        assert_eq!(
            row.removed.is_none(),
            row.outcome == "in_service",
            "{}",
            row.seal
        );
        assert_eq!(row.removed_reading.is_none(), row.removed.is_none());
        let defective = matches!(row.outcome.as_str(), "failed" | "worn");
        assert_eq!(row.sector.is_some(), defective, "{}", row.seal);
        if let Some(removed) = row.removed {
            assert!(removed.day >= fitted && row.removed_reading >= row.fitted_reading);
            assert!(
                row.last_known_good
                    .is_none_or(|good| good >= fitted && good <= removed.day)
            );
        }
        for look in fleet
            .inspections
            .iter()
            .filter(|look| look.seal == row.seal)
        {
            assert!(look.date >= fitted && row.removed.is_none_or(|end| look.date <= end.day));
        }
    }
    for pair in rows.windows(2) {
        let [before, after] = pair else { continue };
        if before.asset == after.asset && before.position == after.position {
            assert_eq!(
                before.removed.unwrap().day,
                after.fitted.unwrap().day,
                "{}",
                after.seal
            );
        } else {
            assert_eq!(before.outcome, "in_service");
        }
    }
}

#[test]
fn seals_older_than_the_records_are_there_and_none_removed_before() {
    let fleet = demo();
    let from = |row: &SealRow| {
        fleet
            .assets
            .iter()
            .find(|a| a.asset == row.asset)
            .unwrap()
            .records_from
    };
    let mut older = 0;
    for row in clean_sites(&fleet) {
        older += usize::from(row.fitted.unwrap().day < from(row));
        assert!(row.removed.is_none_or(|end| end.day >= from(row)));
    }
    assert_eq!(
        older, 160,
        "one in place on each of the three sites' 160 tanks"
    );
}

/// Renewals of one material on even tanks, never inspected: mean life is the sum of the stage means,
/// 300 Γ(1.4) + 100 Γ(1.5) = 266.2 + 88.6 days, variance (113.9² + 46.3²).
#[test]
fn run_to_failure_lives_have_the_stated_mean() {
    let text = SMALL
        .replace("inspect_every_days = 50.0", "")
        .replace("cut_off = \"2024-12-31\"", "cut_off = \"2069-12-31\"")
        .replace("handling_damage = 0.05", "");
    let fleet = small(&text, 9);
    // Seals fitted well before the end, all of which have failed: no length bias.
    let ages: Vec<f64> = fleet
        .seals
        .iter()
        .filter(|r| {
            let year = r.fitted.unwrap().day.year();
            (2021..2065).contains(&year)
        })
        .map(|r| days(r).unwrap())
        .collect();
    let mean = ages.iter().sum::<f64>() / ages.len() as f64;
    let error = (113.9_f64.powi(2) + 46.3_f64.powi(2)).sqrt() / (ages.len() as f64).sqrt();
    assert!(
        ages.len() > 800 && (mean - 354.8).abs() < 4.0 * error,
        "{mean} ± {error}"
    );
}

#[test]
fn the_planted_batch_and_the_attack_shorten_life() {
    let fleet = demo();
    let mean = |keep: &dyn Fn(&SealRow) -> bool| {
        let ages = lives(&fleet, keep);
        assert!(ages.len() >= 15, "{} lives", ages.len());
        ages.iter().sum::<f64>() / ages.len() as f64
    };
    let plain = |r: &SealRow| r.material == "EPDM" && r.batch != "EPDM-222";
    let bad = mean(&|r| r.batch == "EPDM-222");
    let rest = mean(&plain);
    assert!(bad < 0.65 * rest, "batch {bad}, rest {rest}");

    let product = |r: &SealRow| {
        let place = fleet
            .conditions
            .iter()
            .position(|name| name == "product")
            .unwrap();
        let tank = fleet.assets.iter().find(|a| a.asset == r.asset).unwrap();
        tank.conditions.get(place).cloned().flatten()
    };
    let at =
        |r: &SealRow, word: &str| r.asset.starts_with("HL3") && product(r).as_deref() == Some(word);
    let hops = mean(&|r| plain(r) && at(r, "dry hopped"));
    let ale = mean(&|r| plain(r) && at(r, "ale"));
    assert!(hops < 0.75 * ale, "dry hopped {hops}, ale {ale}");
    let swollen = fleet
        .seals
        .iter()
        .filter(|r| r.mechanism.as_deref() == Some("swollen"));
    assert!(swollen.clone().count() > 20 && swollen.clone().all(|r| at(r, "dry hopped")));
}

#[test]
fn defects_gather_at_the_tight_arc_of_the_two_uneven_doors() {
    let fleet = demo();
    let frame_arcs = |asset: &str| {
        let mut counts = [0_usize; 4];
        for row in fleet
            .seals
            .iter()
            .filter(|r| r.asset == asset && r.sector.is_some())
        {
            let looks = fleet
                .inspections
                .iter()
                .filter(|look| look.seal == row.seal);
            let turned: i64 = looks.map(|look| look.turned).sum();
            counts[usize::try_from((row.sector.unwrap() - 1 + turned) % 4).unwrap()] += 1;
        }
        counts
    };
    for (asset, arc) in [("HL1-T17", 2), ("HL3-T34", 0)] {
        let counts = frame_arcs(asset);
        let total: usize = counts.iter().sum();
        // By chance half or more of seven or more at one given arc: below 0.08; both tanks 0.006.
        assert!(
            total >= 7 && 2 * counts[arc] >= total,
            "{asset}: {counts:?}"
        );
    }
    let others = clean_sites(&fleet)
        .map(|r| r.asset.clone())
        .filter(|a| a != "HL1-T17" && a != "HL3-T34");
    let others: std::collections::BTreeSet<String> = others.collect();
    let mut sum = [0_usize; 4];
    for asset in &others {
        sum.iter_mut()
            .zip(frame_arcs(asset))
            .for_each(|(sum, count)| *sum += count);
    }
    let expected = sum.iter().sum::<usize>() as f64 / 4.0;
    let chi: f64 = sum
        .iter()
        .map(|n| (*n as f64 - expected).powi(2) / expected)
        .sum();
    assert!(
        expected > 100.0 && chi < 16.27,
        "chi-square(3) 99.9 %: {chi}, {sum:?}"
    );
}

#[test]
fn broken_rules_name_their_key() {
    for (from, to, key) in [
        (
            "detection = 0.7",
            "detection = 1.5",
            "site[AA].practice.detection",
        ),
        (
            "mix = { NBR = 1.0 }",
            "mix = { CR = 1.0 }",
            "site[AA].practice.mix",
        ),
        (
            "cut_off = \"2024-12-31\"",
            "cut_off = \"2019-12-31\"",
            "cut_off",
        ),
        ("tanks = 30", "tanks = 0", "site[AA].group.tanks"),
        ("shape = 2.5", "shape = nan", "material[NBR].defect.shape"),
        (
            "temperature_c = 60.0",
            "temperature_c = 900.0",
            "site[AA].group.temperature_c",
        ),
        (
            "cycles_per_week = 5.0\ncycles_spread",
            "cycles_per_week = 1e9\ncycles_spread",
            "site[AA].group",
        ),
    ] {
        assert!(SMALL.contains(from), "{from}");
        let error = Scenario::from_toml(&SMALL.replace(from, to)).unwrap_err();
        assert_eq!(error.key(), Some(key), "{error}");
        assert!(error.is_bad_input());
    }
    let renamed = format!("{SMALL}\n[columns.seals]\nbatch = \"seal\"\n");
    let twice = small(&renamed, 1).frames().unwrap_err();
    assert!(
        twice.is_bad_input() && twice.to_string().contains("seal"),
        "{twice}"
    );
    let unknown = Scenario::from_toml(&SMALL.replace("burn_in_days", "burnin_days")).unwrap_err();
    assert!(unknown.to_string().contains("burnin_days"), "{unknown}");
    let date = Scenario::from_toml(&SMALL.replace("2020-01-01", "01.01.2020")).unwrap_err();
    assert!(date.to_string().contains("01.01.2020"), "{date}");
}

#[test]
fn the_study_reads_its_records_and_finds_their_faults() {
    let study = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../datasets/harrow-lane/study.toml");
    let records =
        sealspan_records::load(&study, &sealspan_records::LoadOptions::default()).unwrap();
    let fleet = demo();
    assert_eq!(records.rows_read, fleet.seals.len() as u64);
    assert_eq!(
        records.rows_read,
        records.rows_used() + records.set_aside.len() as u64
    );
    assert_eq!(records.inspections.len(), fleet.inspections.len());
    assert!(records.study.invented);
    let mut kinds: Vec<String> = records
        .findings
        .iter()
        .map(|f| f.kind.to_string())
        .collect();
    kinds.sort();
    kinds.dedup();
    for kind in [
        "duplicate_seal",
        "fitting_unknown",
        "position_missing",
        "removal_before_fitting",
    ] {
        assert!(kinds.iter().any(|k| k == kind), "{kind} not in {kinds:?}");
    }
    assert!(
        !kinds.iter().any(|k| k.contains("word")),
        "a word is not mapped: {kinds:?}"
    );
}

/// Where nothing is said of it a look sees every defect that is there.
#[test]
fn looks_see_all_unless_it_is_said() {
    let few = SMALL.replace("tanks = 30", "tanks = 3");
    let with = |line: &str| small(&few.replace("detection = 0.7", line), 4);
    let (unsaid, all) = (with(""), with("detection = 1.0"));
    assert_eq!(unsaid, all);
    assert_ne!(unsaid, with("detection = 0.2"));
}

/// Seals of the tank that is used most must last a day: at half the wear by cycles, 5 a week with 90 % more are
/// 0.5 + 0.5 · 1.9 = 1.45 times the wear.
#[test]
fn the_busiest_tank_decides_whether_seals_last_a_day() {
    let of = |days: f64| {
        let text = SMALL.replace("cycles_spread = 0.0", "cycles_spread = 0.9");
        Scenario::from_toml(&text.replace("scale_days = 300.0", &format!("scale_days = {days}")))
    };
    assert!(of(1.46).is_ok());
    let why = of(1.44).unwrap_err().to_string();
    assert!(why.contains("at least 1 is needed"), "{why}");
}
