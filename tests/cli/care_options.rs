//! Options of the care commands: honoured, or refused in words; and what `care` says from records.

use super::sealspan;

const DEMO: &str = "datasets/harrow-lane/study.toml";
const PRICES: &str = "--planned-cost 300 --failure-cost 3000 --failure-hours 24 --inspection-cost 20 --inspection-hours 1 --downtime-cost 60";

fn run(line: &str) -> super::Run {
    sealspan(&line.split_whitespace().collect::<Vec<_>>())
}

fn refused(line: &str, word: &str) {
    let run = run(line);
    assert_eq!(run.status, 2, "{line}: {}{}", run.out, run.err);
    assert!(run.err.contains(word), "{line}: {}", run.err);
}

/// An option that nothing would heed is refused.
#[test]
fn options_without_a_use() {
    let life = format!("care --life weibull:shape=2.5,scale=300 {PRICES}");
    for option in [
        "--calendar weeks",
        "--least-between-openings 100",
        "--price-range 0.1",
        "--one-stage",
        "--measure thickness_mm --functional-limit 4.5",
        "--by material",
        "--mode failed",
        "--family lognormal",
        "--cut-off 2024-01-01",
    ] {
        let name = option.split(' ').next().unwrap();
        refused(&format!("{life} {option}"), name);
    }
    // Plain lives hold no looks or calendars either.
    let plain = format!("care datasets/published/nist-weibull/life.csv {PRICES}");
    refused(&format!("{plain} --one-stage"), "--one-stage");
    refused("trial --ratio 1.5 --shape 2.5 --life 300", "--duration");
    let hours = run(&format!("defects {DEMO} --clock hours"));
    assert_eq!(hours.status, 1);
    assert!(hours.err.contains("no age in hours"), "{}", hours.err);
    let idle = run(&format!("{life} --detection 0.5"));
    assert_eq!(idle.status, 0);
    assert!(idle.out.contains("--detection is not used"), "{}", idle.out);
}

/// Sectors that the ring does not have.
#[test]
fn sectors_out_of_the_ring() {
    let ring =
        format!("care --life weibull:shape=2.5,scale=300 {PRICES} --sector-severity 2,1,1,1");
    let gap = "--stop-gap-days 5 --age 200";
    refused(&format!("{ring} --turn-by 4"), "sectors turned");
    refused(&format!("{ring} --turn-by 9"), "sectors turned");
    refused(&format!("{ring} {gap} --worn-sector 9"), "worn sector");
    let even = format!("care --life weibull:shape=2.5,scale=300 {PRICES} {gap}");
    refused(&format!("{even} --worn-sector 2"), "worn sector");
    assert_eq!(
        run(&format!("{ring} {gap} --worn-sector 4 --turn-by 3")).status,
        0
    );
}

/// On the invented fleet: replacements keep the least time between openings, common practice is judged by the limits,
/// the booked cost is explained, the doors' wear has an interval, and the measured limit is offered and confirmed.
#[test]
fn care_from_records() {
    refused(
        &format!("care {DEMO} --least-between-openings 200 --replace-at 150"),
        "sooner than",
    );
    let line = format!(
        "care {DEMO} --least-between-openings 200 --most-failure-probability 0.4 --format json"
    );
    let run = run(&line);
    assert_eq!(run.status, 0, "{}", run.err);
    let json = run.json();
    let groups = json["groups"].as_array().unwrap();
    let mut measured = 0;
    for group in groups {
        let plan = &group["plan"];
        let number = |v: &serde_json::Value| v.as_f64();
        for key in ["inspect_every", "turn_every", "replace_at"] {
            assert!(
                number(&plan["plan"][key]).is_none_or(|t| t >= 200.0),
                "{}",
                plan["plan"]
            );
        }
        for option in plan["options"].as_array().unwrap() {
            assert!(
                number(&option["replace_at"]).is_none_or(|t| t >= 200.0),
                "{option}"
            );
        }
        let common = &group["common_practice"];
        assert!(
            common.is_null() || common["keeps_limits"].is_boolean(),
            "{common}"
        );
        let booked = number(&plan["practice"]["booked_rate"]).unwrap();
        let error = number(&plan["practice"]["booked_error"]).unwrap();
        assert!(error > 0.0 && error < 0.5 * booked, "{error} {booked}");
        let said = plan["sentences"].to_string();
        assert!(
            said.contains("chance alone moves the booked figure"),
            "{said}"
        );
        let wear = plan["turning"]["severities"].as_array().unwrap();
        let ends = plan["turning"]["severity_intervals"].as_array().unwrap();
        for (w, end) in wear.iter().zip(ends) {
            let (w, low, high) = (number(w), number(&end[0]), number(&end[1]));
            assert!(low < w && w < high, "{low:?} {w:?} {high:?}");
        }
        let limit = &group["measured_limit"];
        if limit.is_null() {
            assert!(group["measured_limit_reason"].is_string(), "{group}");
            continue;
        }
        measured += 1;
        let reading = number(&limit["replace_at_reading"]).unwrap();
        assert!((4.5..8.1).contains(&reading), "{reading}");
        assert!(number(&limit["inspect_every"]).unwrap() >= 200.0);
        let worked = number(&limit["figures"]["cost_rate"]).unwrap();
        let played = number(&limit["simulated"]["cost_rate"]).unwrap();
        let error = number(&limit["simulated"]["std_error"]).unwrap();
        assert!(
            (worked - played).abs() < 4.0 * error,
            "{worked} {played} {error}"
        );
    }
    assert!(measured >= 3, "{measured} groups with a measured limit");
}

/// A reading given is judged instead of the best one.
#[test]
fn a_given_reading_is_judged() {
    let given = run(&format!(
        "care {DEMO} --by material --measured-limit 5.5 --one-stage --format json"
    ));
    assert_eq!(given.status, 0, "{}", given.err);
    let json = given.json();
    let groups = json["groups"].as_array().unwrap();
    let mut seen = 0;
    for group in groups {
        if let Some(reading) = group["measured_limit"]["replace_at_reading"].as_f64() {
            assert!((reading - 5.5).abs() < 1e-9, "{reading}");
            seen += 1;
        }
    }
    assert!(seen >= 3);
}

/// The interval sheet says how removals for wear are read.
#[test]
fn intervals_say_how_worn_removals_are_read() {
    let run = run(&format!("intervals {DEMO} --format json"));
    let json = run.json();
    let notes = json["notes"].to_string();
    assert!(
        notes.contains("taken off worn") && notes.contains("too short rather than too long"),
        "{notes}"
    );
    // Where the log tells no defects, removals count as failures: the bound is below that of reading them as sound.
    let groups = json["groups"].as_array().unwrap();
    let blind = groups.iter().find(|g| g["group"]["material"] == "VMQ");
    let days = &blind.unwrap()["clocks"][0];
    assert_eq!(days["basis"], "failed_when_removed");
    let sound = super::sealspan(&[
        "fit",
        DEMO,
        "--by",
        "material",
        "--quantile",
        "0.1",
        "--format",
        "json",
    ])
    .json();
    let sound = sound["groups"].as_array().unwrap().iter();
    let mut sound = sound.filter(|g| g["group"]["material"] == "VMQ");
    let long = sound.next().unwrap()["fits"][0]["quantiles"][0]["lower"].as_f64();
    let stated = days["at_most_share"]["age"].as_f64().unwrap();
    assert!(
        stated < 0.9 * long.unwrap() && stated > 20.0,
        "{stated} {long:?}"
    );
}

/// Where the log tells defects from failures, the interval is that of seals nobody takes off: one in ten has failed by an
/// age whose lower end `defects` finds by its profile likelihood. Read as sound until removed, FKM had 335 days.
#[test]
fn intervals_rest_on_the_defect_model() {
    let sheet = run(&format!("intervals {DEMO} --share 0.1 --format json")).json();
    let defects = run(&format!("defects {DEMO} --by material --format json")).json();
    let mut held = 0;
    for group in sheet["groups"].as_array().unwrap() {
        let days = &group["clocks"][0];
        let name = &group["group"]["material"];
        if days["basis"] != "defects" {
            assert!(days["basis_reason"].is_string(), "{name}");
            continue;
        }
        let all = defects["groups"].as_array().unwrap().iter();
        let mut own = all.filter(|g| g["group"]["material"] == *name);
        let lower = own.next().unwrap()["model"]["life"][0]["lower"].as_f64();
        let stated = days["at_most_share"]["age"].as_f64().unwrap();
        assert!(
            (stated / lower.unwrap() - 1.0).abs() < 0.06,
            "{name}: {stated}"
        );
        held += 1;
    }
    assert!(held >= 3, "{sheet}");
}

/// A policy stated in full is no choice, and is not called safe.
#[test]
fn a_stated_policy_is_not_praised() {
    let told = run(&format!(
        "care {DEMO} --inspect-every 60.875 --turn-every never --replace-at 365.25"
    ));
    assert!(
        told.out.contains("were stated, so nothing was chosen"),
        "{}",
        told.out
    );
    for praise in ["safe as it is", "Chance of being wrong", "advice holds"] {
        assert!(!told.out.contains(praise), "{praise}: {}", told.out);
    }
}

/// Where a plan lets most seals run past the oldest age seen, it is no advice, and no choice is called safe.
#[test]
fn lives_past_the_records_are_no_advice() {
    let answer = run(&format!("care {DEMO} --by material,site --format json")).json();
    let groups = answer["groups"].as_array().unwrap();
    let beyond = groups
        .iter()
        .filter(|g| g["plan"]["beyond_records"].is_number());
    let mut seen = 0;
    for group in beyond {
        let plan = &group["plan"];
        let at = &plan["plan"]["replace_at"];
        let oldest = group["plan"]["beyond_records"].as_f64().unwrap();
        assert!((0.2..=1.0).contains(&oldest) && (at.is_null() || at.as_f64() > Some(1000.0)));
        let told = plan["sentences"].to_string();
        assert!(told.contains("Not advice beyond what was seen"), "{told}");
        assert!(!told.contains("safe as it is"), "{told}");
        seen += 1;
    }
    assert!(
        seen > 0 && seen < groups.len(),
        "{seen} of {}",
        groups.len()
    );
}

/// A limit that all seals together cannot keep does not silence the group that can.
#[test]
fn a_group_that_keeps_a_limit_is_answered() {
    let mut rows = "time,status,kind\n".to_owned();
    for i in 0..15 {
        rows.push_str(&format!("{},failed,long\n", 900 + 20 * i));
        rows.push_str(&format!("{},failed,short\n", 2 + i % 5));
    }
    let file = super::file("two-kinds.csv", rows.as_bytes());
    let line = format!(
        "care {} --by kind {PRICES} --planned-hours 8 --least-availability 0.9992",
        file.display()
    );
    let text = run(&line);
    assert_eq!(text.status, 0, "{}", text.err);
    assert!(text.out.contains("all seals: no advice:"), "{}", text.out);
    let json = run(&format!("{line} --format json")).json();
    assert!(
        json["reason"].as_str().unwrap().contains("0.9992"),
        "{json}"
    );
    let groups = json["groups"].as_array().unwrap();
    let answered: Vec<bool> = groups.iter().map(|g| g["reason"].is_null()).collect();
    assert_eq!(answered, [true, false], "{json}");
    // Where no group can, nor can all together, the question has no answer.
    let none = run(&line.replace("0.9992", "0.99999"));
    assert_eq!(none.status, 1, "{}", none.out);
}
