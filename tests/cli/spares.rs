//! Spares, demand, money and returns: what programs read, and plain words for what makes no sense.

use super::{file, sealspan};
use serde_json::Value;

const DEMO: &str = "datasets/harrow-lane/study.toml";

fn words(text: &str) -> Vec<&str> {
    text.split(' ').collect()
}

pub fn json(text: &str) -> Value {
    let run = sealspan(&words(&format!("{text} --format json")));
    assert_eq!(run.status, 0, "{text}: {}", run.err);
    run.json()
}

pub fn number(value: &Value, path: &str) -> f64 {
    let here = path
        .split('.')
        .fold(value, |v, key| match key.parse::<usize>() {
            Ok(i) => &v[i],
            Err(_) => &v[key],
        });
    here.as_f64()
        .unwrap_or_else(|| panic!("no number at {path} in {value:.300}"))
}

/// A shelf life: the closed form through the command line, where a long one is none.
#[test]
fn shelf_life_and_lots() {
    let base = "stock --demand-rate 0.05 --lead-time 30 --holding-cost 0.05 --shortage-cost 4 --unit-price 30";
    let none = json(base);
    let long = json(&format!("{base} --shelf-life 100000"));
    let short = json(&format!("{base} --shelf-life 90 --age-on-arrival 30"));
    let at = |v: &Value, key: &str| number(v, &format!("places.0.levels.3.{key}"));
    for key in ["fill_rate", "expected_backorders", "expected_on_hand"] {
        assert!((at(&none, key) - at(&long, key)).abs() < 1e-9, "{key}");
    }
    assert!(at(&short, "fill_rate") < at(&none, "fill_rate"));
    assert!(number(&short, "places.0.best.scrap_rate") > 1e-3);
    assert!(none["places"][0]["best"]["scrap_rate"].is_null());
    // One lot of one seal, two demands expected before its last day: written off with chance e^-2.
    let lots = json(&format!("{base} --lots 40:1"));
    assert!((number(&lots, "write_off.0.chance") - (-2f64).exp()).abs() < 1e-12);
    let varied = json(&format!("{base} --lead-time-deviation 15"));
    assert!(at(&varied, "expected_backorders") > 1.3 * at(&none, "expected_backorders"));
}

/// Stocks and months rest on the same rate of each place, and every part keeps the law that it was fitted over its places:
/// the long run of a place is near its next year.
#[test]
fn stocks_and_months_agree_place_by_place() {
    let stock = json(&format!("stock {DEMO}"));
    let demand = json(&format!("demand {DEMO} --months 12"));
    let ahead = |place: &Value| -> f64 {
        let all = demand["places"].as_array().unwrap().iter();
        let mut own = all.filter(|p| p["place"] == place["place"] && p["part"] == place["part"]);
        let months = own.next().unwrap()["months"].as_array().unwrap();
        let each = months.iter().map(|m| number(m, "unplanned.expected"));
        each.sum()
    };
    let (mut long, mut next) = (0.0, 0.0);
    for place in stock["places"].as_array().unwrap() {
        let (a, b) = (number(place, "unplanned_per_day") * 365.25, ahead(place));
        assert!(
            (a - b).abs() < 0.1 + 0.25 * b,
            "{} {}: {a} {b}",
            place["place"],
            place["part"]
        );
        long += a;
        next += b;
    }
    assert!((long / next - 1.0).abs() < 0.1, "{long} {next}");
}

#[test]
fn a_budget_over_places() {
    let answer = json(&format!("stock {DEMO} --budget 1500"));
    let budget = &answer["budget"];
    assert!(
        number(budget, "spent") <= 1500.0
            && number(budget, "bound") <= number(budget, "expected_backorders")
    );
    let seals: u64 = budget["stock"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| s["stock"].as_u64().unwrap())
        .sum();
    assert!((seals as f64 * 38.0 - number(budget, "spent")).abs() < 1e-6);
}

/// Each extra spare takes off hours, the dearest first; more looks leave fewer failures; or it is said why not.
fn bought(answer: &Value) {
    let steps = answer["extra_spares"].as_array().unwrap();
    assert!(steps.len() > 20);
    for (n, two) in (0..).zip(steps.windows(2)) {
        assert_eq!(number(&two[1], "investment"), 38.0 * f64::from(n + 1));
        let hours = "downtime_hours_per_year";
        let saved = number(&two[0], hours) - number(&two[1], hours);
        let last = number(&two[1], "saves_hours_per_year");
        assert!(last > 0.0 && (saved - last).abs() < 1e-9, "{two:?}");
        if n > 0 {
            assert!(last <= number(&two[0], "saves_hours_per_year") * (1.0 + 1e-9));
        }
    }
    let parts = answer["looks"].as_array().unwrap();
    assert_eq!(parts.len(), 4);
    let judged = parts.iter().filter(|p| p["reason"].is_null());
    let mut seen = 0;
    for part in judged {
        let rows = part["rows"].as_array().unwrap();
        for two in rows.windows(2) {
            assert!(number(&two[0], "looks_per_year") > number(&two[1], "looks_per_year"));
            assert!(number(&two[0], "failures_per_year") < number(&two[1], "failures_per_year"));
        }
        for row in rows {
            let cost = number(row, "cost_per_year");
            assert!(number(row, "cost_lower") < cost && cost < number(row, "cost_upper"));
        }
        assert_eq!(number(&rows[2], "dearer_per_year"), 0.0);
        seen += 1;
    }
    // Looks at EPDM are put at finding a quarter of the defects, those at the others three quarters and more.
    let doubted = parts.iter().find(|p| p["part"] == "EPDM").unwrap();
    assert!(
        doubted["reason"]
            .as_str()
            .unwrap()
            .contains("one of them cannot be right")
    );
    assert!(seen >= 2);
}

/// Without prices the finance page says so, and there is no workbook.
#[test]
fn a_report_without_prices() {
    let out = file("priceless/x", b"").parent().unwrap().join("report");
    let run = sealspan(&[
        "report",
        "datasets/published/nist-weibull/life.csv",
        "--out",
        out.to_str().unwrap(),
        "--format",
        "json",
    ]);
    assert_eq!(run.status, 0, "{}", run.err);
    let files = run.json()["files"].to_string();
    assert!(files.contains("report.html") && !files.contains("plan.xlsx"));
    let page = std::fs::read_to_string(out.join("report.html")).unwrap();
    let said = "Months are not budgeted: the study gives no `costs.seal_price`.";
    assert!(page.contains(said));
}

/// Money: the months add up to the present value, an item left out leaves it, and the workbook is the same twice.
#[test]
fn money_adds_up() {
    let answer = json(&format!("money {DEMO} --months 12"));
    let months = answer["by_month"].as_array().unwrap();
    let sum: f64 = months.iter().map(|m| number(m, "discounted")).sum();
    assert!((sum - number(&answer, "present_value")).abs() < 1e-6);
    assert!(
        number(&answer, "present_value_lower") < sum
            && sum < number(&answer, "present_value_upper")
    );
    let loss = number(&answer, "chance_of_loss");
    assert!((0.0..=1.0).contains(&loss));
    let items = answer["build_up"]["items"].as_array().unwrap();
    let built: f64 = items.iter().map(|i| number(i, "per_failure")).sum();
    assert!((built - number(&answer, "build_up.failure")).abs() < 1e-9);
    bought(&answer);
    let without = json(&format!(
        "money {DEMO} --months 12 --leave-out scrap_and_restart"
    ));
    let gap = number(&answer, "build_up.failure") - number(&without, "build_up.failure");
    assert!((gap - 1800.0).abs() < 1e-9);
    let path = |name: &str| file(name, b"").display().to_string();
    let (a, b) = (path("a.xlsx"), path("b.xlsx"));
    for to in [&a, &b] {
        let run = sealspan(&["money", DEMO, "--months", "12", "--spreadsheet", to]);
        assert_eq!(run.status, 0, "{}", run.err);
    }
    let bytes = std::fs::read(&a).unwrap();
    assert!(bytes.starts_with(b"PK") && bytes == std::fs::read(&b).unwrap());
}

#[test]
fn demand_by_place_and_month() {
    let answer = json(&format!("demand {DEMO} --months 6"));
    let total = |list: &str| -> f64 {
        answer[list]
            .as_array()
            .unwrap()
            .iter()
            .map(|p| number(p, "total.all.expected"))
            .sum()
    };
    let all = number(&answer, "all.total.all.expected");
    assert!((total("parts") / all - 1.0).abs() < 1e-9);
    assert!((total("places") / all - 1.0).abs() < 1e-9);
    assert_eq!(answer["all"]["months"].as_array().unwrap().len(), 6);
    let today = json(&format!("demand {DEMO} --months 6 --as practice"));
    assert!(
        number(&today, "all.total.unplanned.expected")
            > number(&answer, "all.total.unplanned.expected")
    );
    let grown = json(&format!("demand {DEMO} --months 6 --joining 30@45"));
    assert!((number(&grown, "all.months.1.joining") - 30.0).abs() < 1e-9);
}

#[test]
fn returns_from_a_table() {
    let shipped = file(
        "shipped.csv",
        b"batch,quantity,age,returned\nA,300,100,1\nB,200,500,9\n",
    );
    let path = shipped.display().to_string();
    let answer = json(&format!(
        "returns {path} --life weibull:shape=2,scale=1500 --horizon 365 --warranty 730 --return-cost 120 --kit-positions 10 --service-every 365"
    ));
    let chance = |age: f64, span: f64| {
        1.0 - ((age / 1500.0).powi(2) - ((age + span) / 1500.0).powi(2)).exp()
    };
    let want = 299.0 * chance(100.0, 365.0) + 191.0 * chance(500.0, 230.0);
    assert!((number(&answer, "expected") - want).abs() < 1e-9);
    assert!(
        number(&answer, "kit.enough") >= 0.95
            && number(&answer, "reserve") > number(&answer, "expected_cost")
    );
    let bad = file("bad-shipped.csv", b"batch,quantity,age\nA,3.5,100\n")
        .display()
        .to_string();
    let run = sealspan(&words(&format!(
        "returns {bad} --life exponential:mean=500 --horizon 30"
    )));
    assert_eq!(run.status, 2);
    assert!(
        run.err.contains("quantity") && run.err.contains("3.5"),
        "{}",
        run.err
    );
}

/// What makes no sense gets words that say what to change.
#[test]
fn nonsense() {
    let stated = "stock --demand-rate 0.1 --lead-time 30 --holding-cost 1 --shortage-cost 3";
    for (args, status, says) in [
        ("stock --demand-rate 0.1 --lead-time -3 --holding-cost 1 --shortage-cost 3".to_owned(), 2, "lead-time"),
        (format!("{stated} --unit-price 0"), 2, "unit-price"),
        (format!("{stated} --target-fill-rate 1.0"), 2, "between 0 and 1"),
        (format!("{stated} --unit-price 50 --budget 20"), 1, "buys no seal"),
        (format!("{stated} --unit-price 50 --budget 120 --target-fill-rate 0.99"), 1, "contradict each other"),
        (format!("{stated} --budget 100"), 1, "price of a seal"),
        (format!("{stated} --shelf-life 30 --age-on-arrival 30"), 1, "out of date on arrival"),
        (format!("{stated} --lots few"), 2, "90:3"),
        (format!("money {DEMO} --leave-out rent"), 2, "no item of cost"),
        (format!("demand {DEMO} --joining many"), 2, "12@90"),
        ("depot --demand-rates 0.1,0.2 --transit 1,2,3 --depot-lead-time 5".to_owned(), 2, "3 transit times"),
        ("last-buy --demand-rate 0.01 --horizon 4000 --short-cost 100 --unit-price 30 --shelf-life 2000".to_owned(), 1, "out of date"),
    ] {
        let run = sealspan(&words(&args));
        assert_eq!(run.status, status, "{args}: {}", run.err);
        assert!(run.err.contains(says), "{args}: {}", run.err);
    }
}
