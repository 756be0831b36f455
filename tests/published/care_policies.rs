//! Care policies against published models: block replacement, hidden failures, the delay-time model,
//! warning times, turning, minimal repair. Replacement by age is checked in `crates/care/tests`.

use crate::support::close::Check;
use crate::support::expected::{fraction, number, read};
use crate::support::tolerances::{POLICY, POLICY_STEP, printed};
use sealspan_care::block::{Renewals, best_block, local_blocks};
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::evaluate::Prepared;
use sealspan_care::evaluate::pooled::{Pool, missed};
use sealspan_care::minimal_repair;
use sealspan_care::plan::{Choice, Planner, Request};
use sealspan_care::policy::CarePolicy;
use sealspan_care::seal::{FailureSign, Ring, Seal};
use sealspan_care::terms::{Event, Handling, Terms};
use sealspan_life::life::Life;
use sealspan_records::observation::Clock;
use serde_json::Value;

fn rows<'a>(case: &'a Value, key: &str) -> &'a Vec<Value> {
    case[key]
        .as_array()
        .unwrap_or_else(|| panic!("no list `{key}`"))
}

/// The renewal function for shapes 0.8 to 4, by series and by integral equation, and the values that
/// Tijms prints. At 0.8 mean lives and a squared variation of 1/4 the table has 0.4141, which is 0.00005
/// above the value (0.414049), so that one is compared to three decimals.
#[test]
fn renewal_function() {
    let case = read("block-replacement");
    let mut checks = Check::new("renewal function");
    for (shape, values) in case["renewal_function"].as_object().unwrap() {
        let life = Life::weibull(shape.parse().unwrap(), 1.0).unwrap();
        let renewals = Renewals::new(&life, 3.0).unwrap();
        for (t, want) in values.as_object().unwrap() {
            let ours = renewals.mean(t.parse().unwrap());
            checks.value(
                &format!("shape {shape} at {t}"),
                ours,
                want.as_f64().unwrap(),
                POLICY,
            );
        }
    }
    for row in rows(&case, "tijms_table_8_1_1") {
        let life = Life::weibull(number(row, "shape"), 1.0).unwrap();
        let t = number(row, "t_over_mean") * life.mean();
        let ours = Renewals::new(&life, t).unwrap().mean(t);
        checks.value(&row.to_string(), ours, number(row, "computed"), POLICY);
        let value = number(row, "printed");
        let decimals = if value < 1.0 && value != 0.4141 { 4 } else { 3 };
        checks.value(
            &format!("printed {row}"),
            ours,
            value,
            printed(value, decimals),
        );
    }
    checks.finish(90);
}

/// Best blocks, and the local ones that lose to replacing on failure only.
#[test]
fn block_replacement() {
    let case = read("block-replacement");
    let mut checks = Check::new("block replacement");
    let mut local = 0;
    for row in rows(&case, "block") {
        let (shape, ratio) = (number(row, "shape"), number(row, "cf_over_cp"));
        let life = Life::weibull(shape, 1.0).unwrap();
        let found = local_blocks(&life, 1.0, ratio).unwrap();
        let prices = Prices {
            planned_cost: 1.0,
            failure_cost: ratio,
            ..Prices::default()
        };
        let best = best_block(&life, &Costs::new(prices, Clock::Days).unwrap()).unwrap();
        if row["note"].is_string() {
            assert!(best.every.is_none(), "{row}: {best:?}");
            continue;
        }
        let (every, rate) = (number(row, "T_over_eta"), number(row, "B_eta_over_cp"));
        let nearest = found
            .iter()
            .min_by(|a, b| (a.0 - every).abs().total_cmp(&(b.0 - every).abs()))
            .unwrap();
        checks.value(&format!("T {row}"), nearest.0, every, POLICY_STEP);
        checks.value(&format!("B {row}"), nearest.1, rate, POLICY);
        if row["local_only"] == true {
            local += 1;
            assert!(best.every.is_none(), "{row}: {best:?}");
            assert!(
                best.reason
                    .unwrap()
                    .contains("more than replacing on failure only")
            );
        } else {
            checks.some(&format!("best {row}"), best.every, every, POLICY_STEP);
        }
    }
    assert!(local >= 2);
    checks.finish(70);
}

#[test]
fn minimal_repair_is_right_though_not_offered() {
    let case = read("minimal-repair");
    let mut checks = Check::new("minimal repair");
    for row in rows(&case, "cases") {
        let at = |key: &str| number(row, key);
        let (age, rate) =
            minimal_repair::best_age(at("shape"), at("eta"), at("cr"), at("cm")).unwrap();
        checks.value("T", age, at("T"), POLICY);
        checks.value("C", rate, at("C"), POLICY);
    }
    checks.finish(8);
    assert!(minimal_repair::best_age(0.9, 100.0, 1.0, 1.0).is_err());
}

fn hidden(life: Life) -> Seal {
    Seal {
        failure: FailureSign::Hidden,
        ..Seal::one_stage(life)
    }
}

fn terms(row: &Value, renewal: f64) -> Terms {
    Terms {
        failed: Event {
            money: renewal,
            down: 0.0,
        },
        look: number(row, "ci"),
        undetected: number(row, "cd"),
        ..Terms::default()
    }
}

/// Expected cost to detection: the money of a cycle without the renewal.
fn to_detection(life: &Life, row: &Value, every: f64) -> f64 {
    let model = Prepared::new(&hidden(life.clone())).unwrap();
    let o = model
        .evaluate(&CarePolicy::inspect_every(every), &terms(row, 0.0))
        .unwrap();
    o.cost_rate * o.mean_cycle
}

#[test]
fn hidden_failures_cost_to_detection() {
    let case = read("hidden-failures");
    let mut checks = Check::new("hidden failures, cost to detection");
    for row in rows(&case, "exponential") {
        let life = Life::exponential(1.0 / number(row, "rate")).unwrap();
        let best = to_detection(&life, row, number(row, "T"));
        checks.value(
            &row.to_string(),
            best,
            number(row, "cost_to_detection"),
            POLICY,
        );
        for off in [0.99, 1.01] {
            assert!(to_detection(&life, row, off * number(row, "T")) > best);
        }
    }
    for row in rows(&case, "weibull_total") {
        let life = Life::weibull(number(row, "shape"), number(row, "eta")).unwrap();
        let every = number(row, "T");
        checks.value(
            &row.to_string(),
            to_detection(&life, row, every),
            number(row, "cost"),
            POLICY,
        );
        let late = to_detection(&life, row, 1.25 * every);
        checks.value(
            &format!("late {row}"),
            late,
            number(row, "cost_at_125pct"),
            POLICY,
        );
    }
    for row in rows(&case["second_route"], "weibull") {
        let life = Life::weibull(number(row, "shape"), number(row, "eta")).unwrap();
        let ours = to_detection(&life, row, number(row, "T_to_detection"));
        checks.value(&row.to_string(), ours, number(row, "to_detection"), POLICY);
        let model = Prepared::new(&hidden(life)).unwrap();
        let o = model
            .evaluate(&CarePolicy::inspect_every(200.0), &terms(row, 0.0))
            .unwrap();
        checks.value(
            "unavailability",
            1.0 - o.availability,
            number(row, "unavailability_at_200"),
            POLICY,
        );
    }
    for row in rows(&case, "unavailability") {
        let model = Prepared::new(&hidden(Life::exponential(1.0).unwrap())).unwrap();
        let every = CarePolicy::inspect_every(number(row, "lambda_T"));
        let o = model.evaluate(&every, &Terms::default()).unwrap();
        checks.value(
            &row.to_string(),
            1.0 - o.availability,
            number(row, "exact"),
            POLICY,
        );
    }
    checks.finish(19);
}

/// The best step by the planner, and the rate there.
#[test]
fn hidden_failures_cost_rate() {
    let case = read("hidden-failures");
    let mut checks = Check::new("hidden failures, cost rate");
    let mut one = |row: &Value, every: f64, rate: f64| {
        let life = Life::weibull(number(row, "shape"), number(row, "eta")).unwrap();
        let renewal = number(row, "cr");
        let prices = Prices {
            planned_cost: renewal,
            failure_cost: renewal,
            ..Prices::default()
        };
        let handling = Handling {
            inspection_cost: number(row, "ci"),
            undetected_cost: number(row, "cd"),
            ..Handling::default()
        };
        let costs = Costs::new(prices, Clock::Days).unwrap();
        let request = Request {
            replace: Choice::Never,
            ..Request::default()
        };
        let planner = Planner::new(&hidden(life), &costs, &handling, request).unwrap();
        let inspect = planner.inspect().unwrap();
        checks.some(&format!("T {row}"), inspect.every, every, POLICY_STEP);
        checks.value(
            &format!("rate {row}"),
            inspect.figures.cost_rate,
            rate,
            POLICY,
        );
        inspect.figures.undetected_time / inspect.figures.mean_cycle
    };
    let mut shares = vec![];
    for row in rows(&case, "weibull_rate") {
        let share = one(row, number(row, "T"), number(row, "cost_rate"));
        shares.push((share, number(row, "fraction_time_failed_undetected")));
    }
    for row in rows(&case["second_route"], "weibull") {
        one(row, number(row, "T_rate"), number(row, "rate"));
    }
    for (share, want) in shares {
        checks.value("share of time failed unseen", share, want, POLICY_STEP);
    }
    checks.finish(13);
}

/// Chance that a defect becomes a failure, and the interval of least time down.
#[test]
fn delay_time() {
    let case = read("delay-time");
    let mut checks = Check::new("delay-time model");
    for row in rows(&case, "exponential") {
        let delay = Life::exponential(1.0 / number(row, "mu")).unwrap();
        let ours = missed(&delay, number(row, "T"), number(row, "r")).unwrap();
        checks.value(&row.to_string(), ours, number(row, "b"), POLICY);
    }
    for row in rows(&case, "weibull_numeric") {
        let delay = Life::weibull(number(row, "shape"), number(row, "scale")).unwrap();
        let ours = missed(&delay, number(row, "T"), number(row, "r")).unwrap();
        checks.value(&row.to_string(), ours, number(row, "b"), POLICY);
    }
    for row in rows(&case, "optimum") {
        let delay = Life::exponential(1.0 / number(row, "mu")).unwrap();
        let pool = Pool {
            defect_rate: number(row, "k"),
            detection: number(row, "r"),
            look_down: number(row, "di"),
            failure_down: number(row, "db"),
        };
        let (every, down) = pool.best_interval(&delay).unwrap();
        checks.value(&format!("T {row}"), every, number(row, "T"), POLICY_STEP);
        checks.value(&format!("D {row}"), down, number(row, "D"), POLICY);
    }
    checks.finish(33);
}

/// What the rule "look at half the warning time" misses when that time varies.
#[test]
fn warning_time() {
    let case = read("warning-time");
    let mut checks = Check::new("warning time");
    for row in rows(&case, "random_D") {
        let shape = number(row, "delay_shape");
        let unit = Life::weibull(shape, 1.0).unwrap().mean();
        let delay = Life::weibull(shape, 1.0 / unit).unwrap();
        let ours = missed(&delay, 1.0 / number(row, "mean_over_T"), number(row, "q")).unwrap();
        checks.value(&row.to_string(), ours, number(row, "miss"), POLICY);
    }
    checks.finish(18);
}

/// A ring that wears without chance, in fractions.
#[test]
fn ring_turning() {
    let case = read("ring-turning");
    let mut checks = Check::new("ring turning");
    let age = |severities: &[f64], limit: f64, every: f64, by: usize| {
        let ring = Ring::new(&Life::weibull(2.0, 1.0).unwrap(), severities).unwrap();
        // Severities are kept relative to their mean; so is the limit here.
        let mean = severities.iter().sum::<f64>() / severities.len() as f64;
        ring.age_at_limit(limit / mean, every, by).unwrap()
    };
    let hot = [2.0, 1.0, 1.0, 1.0];
    for row in rows(&case, "sawtooth") {
        let ours = age(&hot, 1.0, fraction(row, "tau"), 1);
        checks.value(&row.to_string(), ours, fraction(row, "life"), POLICY);
    }
    for row in rows(&case, "general") {
        let severities: Vec<f64> = rows(row, "rates")
            .iter()
            .map(|x| x.as_f64().unwrap())
            .collect();
        let limit = fraction(row, "limit");
        let ours = age(&severities, 1.0, limit / severities.len() as f64, 1);
        checks.value(
            &row.to_string(),
            ours,
            fraction(row, "life_with_k_equal_turns"),
            POLICY,
        );
        checks.value(
            "never",
            age(&severities, 1.0, 1e6, 1),
            fraction(row, "L0"),
            POLICY,
        );
        // The limit ratio is max(w)/mean(w) as the shape grows.
        let steep = Ring::new(&Life::weibull(4000.0, 1.0).unwrap(), &severities).unwrap();
        assert!((steep.limit_ratio() / number(row, "ratio") - 1.0).abs() < 1e-3);
    }
    let half = &case["half_turn"];
    let ours = age(&hot, 1.0, fraction(half, "best_tau"), 2);
    checks.value("half turn", ours, fraction(half, "life"), POLICY);
    for key in ["misjudged", "misjudged_fine"] {
        for row in rows(&case, key) {
            let limit: f64 = row["true_D"].as_str().unwrap().parse().unwrap();
            let ours = age(&hot, limit, fraction(row, "tau"), 1);
            checks.value(&row.to_string(), ours, number(row, "life"), POLICY);
        }
    }
    checks.finish(42);
}
