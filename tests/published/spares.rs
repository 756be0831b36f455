//! Spares against published models: base stock, depot and sites, order quantities, last buys, budgets, and the
//! replacement age chosen with the order time. Sources and generators stand in the expected files.

use crate::support::close::Check;
use crate::support::expected::{number, numbers, read};
use crate::support::tolerances::{ESTIMATE, POLICY, POLICY_STEP, TWELVE_DIGITS};
use sealspan_care::joint::one_seal::OneSpare;
use sealspan_care::pipeline::Pipeline;
use sealspan_care::spares::budget::{Part, availability, efficient_curve, within};
use sealspan_care::spares::depot::{Chain, Method, Site};
use sealspan_care::spares::last_buy::{LastBuy, demand};
use sealspan_care::spares::order_size::{cost_of_missing, economic, economic_with_waiting};
use sealspan_care::stock::{Shortage, StockTerms};
use sealspan_life::life::Life;
use serde_json::Value;

fn rows<'a>(case: &'a Value, key: &str) -> &'a [Value] {
    case[key].as_array().unwrap()
}

fn whole(value: &Value, key: &str) -> usize {
    value[key].as_u64().unwrap() as usize
}

fn wholes(value: &Value, key: &str) -> Vec<usize> {
    numbers(value, key).iter().map(|x| *x as usize).collect()
}

#[test]
fn base_stock() {
    let case = read("base-stock");
    let mut checks = Check::new("base stock");
    for row in rows(&case, "table") {
        let x = Pipeline::new(number(row, "on_order") / 20.0, 20.0).unwrap();
        let s = whole(row, "stock");
        let what = format!("{} on order, {s} held", number(row, "on_order"));
        let mut same = |key: &str, ours: f64| {
            checks.value(
                &format!("{what}: {key}"),
                ours,
                number(row, key),
                TWELVE_DIGITS,
            );
        };
        same("fill_rate", x.fill_rate(s));
        same("ready_rate", x.at_most(s));
        same("backorders", x.backorders(s));
        same("backorder_variance", x.backorder_variance(s));
        same("on_hand", x.on_hand(s));
    }
    for row in rows(&case, "required") {
        let x = Pipeline::new(number(row, "on_order"), 1.0).unwrap();
        let target = number(row, "target");
        assert_eq!(x.stock_for_ready_rate(target), whole(row, "for_ready_rate"));
        assert_eq!(x.stock_for_fill_rate(target), whole(row, "for_fill_rate"));
    }
    checks.finish(640);
}

fn chain(case: &Value) -> Chain {
    let sites = numbers(case, "rates")
        .into_iter()
        .zip(numbers(case, "transit"));
    Chain {
        sites: sites
            .map(|(demand_rate, transit)| Site {
                demand_rate,
                transit,
                weight: 1.0,
            })
            .collect(),
        depot_lead: number(case, "lead"),
    }
    .checked()
    .unwrap()
}

#[test]
fn depot_and_sites() {
    let case = read("two-echelon");
    let mut checks = Check::new("depot and sites");
    for wanted in rows(&case, "cases") {
        let chain = chain(wanted);
        let (depot, stock) = (whole(wanted, "depot_stock"), wholes(wanted, "stock"));
        let split = |method| chain.given(depot, &stock, method).unwrap();
        let exact = split(Method::Exact);
        checks.value(
            "depot backorders",
            exact.depot.expected_backorders,
            number(wanted, "depot_backorders"),
            ESTIMATE,
        );
        checks.value(
            "their variance",
            exact.depot.variance,
            number(wanted, "depot_variance"),
            ESTIMATE,
        );
        checks.value(
            "depot delay",
            exact.depot.mean_delay,
            number(wanted, "depot_delay"),
            ESTIMATE,
        );
        let (mean, two) = (split(Method::Mean), split(Method::TwoMoments));
        for (i, site) in rows(wanted, "sites").iter().enumerate() {
            let what = format!("site {i} of {depot} {stock:?}");
            let found = [
                ("on_order", mean.sites[i].on_order),
                ("variance", exact.sites[i].variance),
                ("backorders_mean", mean.sites[i].expected_backorders),
                ("backorders_two_moments", two.sites[i].expected_backorders),
                ("backorders_exact", exact.sites[i].expected_backorders),
                ("fill_mean", mean.sites[i].fill_rate),
                ("fill_exact", exact.sites[i].fill_rate),
            ];
            for (field, value) in found {
                checks.value(&what, value, number(site, field), ESTIMATE);
            }
        }
    }
    let best = &case["best_split"];
    let splits = chain(best).best_splits(10, Method::Exact).unwrap();
    for row in rows(best, "rows") {
        let ours = &splits[whole(row, "total")];
        let mut split = vec![ours.depot.stock];
        split.extend(ours.sites.iter().map(|s| s.stock));
        assert_eq!(split, wholes(row, "split"), "{row}");
        checks.value(
            "best split",
            ours.backorders,
            number(row, "backorders"),
            ESTIMATE,
        );
    }
    checks.finish(110);
}

#[test]
fn order_quantities() {
    let case = read("order-quantities");
    let mut checks = Check::new("order quantities");
    for row in rows(&case, "economic") {
        let (quantity, cost) = economic(
            number(row, "demand"),
            number(row, "order_cost"),
            number(row, "holding"),
        )
        .unwrap();
        checks.value("quantity", quantity, number(row, "quantity"), ESTIMATE);
        checks.value("cost", cost, number(row, "cost"), ESTIMATE);
    }
    // Twice the best quantity costs a quarter more.
    checks.value("twice", cost_of_missing(2.0), 1.25, ESTIMATE);
    for row in rows(&case, "reorder") {
        let terms = StockTerms {
            demand_rate: number(row, "rate"),
            lead_time: number(row, "lead"),
            holding_cost: number(row, "holding"),
            shortage: Shortage::Backorder {
                cost_per_day: number(row, "shortage"),
            },
            order_cost: number(row, "order_cost"),
            unit_price: None,
            target_fill_rate: None,
            shelf_life: None,
            age_on_arrival: 0.0,
            lead_time_deviation: 0.0,
        };
        let best = terms.answer().unwrap().best.unwrap();
        assert_eq!(best.reorder_point, number(row, "reorder_point") as i64);
        assert_eq!(best.order_quantity, Some(whole(row, "quantity")));
        checks.value("cost", best.level.cost_rate, number(row, "cost"), ESTIMATE);
        checks.value(
            "backorders",
            best.level.expected_backorders,
            number(row, "backorders"),
            ESTIMATE,
        );
        checks.value(
            "on hand",
            best.level.expected_on_hand,
            number(row, "on_hand"),
            ESTIMATE,
        );
        checks.value(
            "fill rate",
            best.level.fill_rate,
            number(row, "fill_rate"),
            ESTIMATE,
        );
        let (rate, order) = (terms.demand_rate, terms.order_cost);
        let (thrifty, _) = economic(rate, order, terms.holding_cost).unwrap();
        checks.value("economic", thrifty, number(row, "economic"), ESTIMATE);
        let waiting =
            economic_with_waiting(rate, order, terms.holding_cost, number(row, "shortage"))
                .unwrap();
        checks.value(
            "economic, waiting",
            waiting,
            number(row, "economic_with_waiting"),
            ESTIMATE,
        );
    }
    for row in rows(&case, "last_buy") {
        let terms = LastBuy {
            short_cost: number(row, "short"),
            left_cost: number(row, "left"),
        };
        let mean = number(row, "mean");
        let answer = terms.answer(&demand(mean, 0.0).unwrap()).unwrap();
        assert_eq!(answer.best.quantity, whole(row, "quantity"));
        checks.value("cost", answer.best.cost, number(row, "cost"), ESTIMATE);
        let uncertain = terms.answer(&demand(mean, 0.4).unwrap()).unwrap();
        assert_eq!(uncertain.best.quantity, whole(row, "quantity_cv_0_4"));
    }
    checks.finish(34);
}

#[test]
fn several_parts_under_a_budget() {
    let case = read("marginal-analysis");
    let mut checks = Check::new("several parts");
    let parts: Vec<Part> = rows(&case, "parts")
        .iter()
        .map(|p| Part {
            on_order: number(p, "on_order"),
            price: number(p, "price"),
            weight: 1.0,
        })
        .collect();
    let places: Vec<u32> = rows(&case, "parts")
        .iter()
        .map(|p| whole(p, "positions") as u32)
        .collect();
    let steps = efficient_curve(&parts, 22).unwrap();
    let mut held = [0usize; 4];
    for (step, row) in steps.iter().zip(rows(&case, "path")) {
        if let Some(part) = step.part {
            held[part] += 1;
        }
        assert_eq!(held.to_vec(), wholes(row, "stock"));
        checks.value("spent", step.spent, number(row, "spent"), ESTIMATE);
        checks.value(
            "backorders",
            step.backorders,
            number(row, "backorders"),
            ESTIMATE,
        );
        let waiting: Vec<(f64, u32)> = parts
            .iter()
            .zip(held)
            .zip(&places)
            .map(|((p, n), z)| (Pipeline::new(p.on_order, 1.0).unwrap().backorders(n), *z))
            .collect();
        checks.value(
            "availability",
            availability(&waiting, 10),
            number(row, "availability"),
            ESTIMATE,
        );
    }
    for row in rows(&case, "budgets") {
        let answer = within(&parts, number(row, "budget")).unwrap();
        let as_list = |stock: &[u32]| stock.iter().map(|n| *n as usize).collect::<Vec<_>>();
        assert_eq!(as_list(&answer.best.stock), wholes(row, "stock"), "{row}");
        assert_eq!(
            as_list(&answer.efficient.stock),
            wholes(row, "efficient"),
            "{row}"
        );
        checks.value("spent", answer.best.spent, number(row, "spent"), ESTIMATE);
        checks.value(
            "backorders",
            answer.best.backorders,
            number(row, "backorders"),
            ESTIMATE,
        );
        assert!(answer.exact && answer.bound <= answer.best.backorders + 1e-12);
    }
    checks.finish(80);
}

#[test]
fn age_with_order_time() {
    let case = read("joint-age-order");
    let mut checks = Check::new("replacement age with order time");
    for row in rows(&case, "cases") {
        let life = Life::weibull(number(row, "shape"), number(row, "scale")).unwrap();
        let terms = OneSpare {
            planned: number(row, "planned"),
            failed: number(row, "failed"),
            holding: number(row, "holding"),
            waiting: number(row, "waiting"),
            lead_time: number(row, "lead"),
        };
        let joint = terms.best(&life).unwrap();
        checks.value(
            "cost",
            joint.together.cost_rate,
            number(row, "cost"),
            POLICY,
        );
        checks.value(
            "order at",
            joint.together.order_at.unwrap(),
            number(row, "order_at"),
            POLICY_STEP,
        );
        checks.value(
            "replace at",
            joint.together.replace_at.unwrap(),
            number(row, "replace_at"),
            POLICY_STEP,
        );
        checks.value(
            "age by itself",
            joint.apart.replace_at.unwrap(),
            number(row, "apart_replace_at"),
            POLICY_STEP,
        );
        checks.value(
            "cost apart",
            joint.apart.cost_rate,
            number(row, "apart_cost"),
            POLICY_STEP,
        );
        assert_eq!(joint.on_arrival, row["on_arrival"].as_bool().unwrap());
    }
    for row in rows(&case, "exponential") {
        let life = Life::exponential(1.0 / number(row, "hazard")).unwrap();
        let terms = OneSpare {
            planned: 1.0,
            failed: number(row, "failed"),
            holding: number(row, "holding"),
            waiting: number(row, "waiting"),
            lead_time: number(row, "lead"),
        };
        // Planned replacements never pay at a steady hazard unless they are cheaper than nothing: cost as a failure.
        let terms = OneSpare {
            planned: terms.failed,
            ..terms
        };
        let best = terms.best(&life).unwrap().together;
        let (stocked, late) = (number(row, "stocked"), number(row, "on_failure"));
        checks.value("steady hazard", best.cost_rate, stocked.min(late), POLICY);
        assert_eq!(best.order_at.is_none(), late < stocked, "{best:?}");
    }
    checks.finish(17);
}
