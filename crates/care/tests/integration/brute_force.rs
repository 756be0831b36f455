//! Choices held against every other one tried, and sums against their parts.

use crate::lots::LOTS;
use crate::prices::costs;
use sealspan_care::ahead::fleet::{Fleet, Joining};
use sealspan_care::calendar::Calendar;
use sealspan_care::demand::fleet_demand;
use sealspan_care::evaluate::Prepared;
use sealspan_care::joint::fleet::joint;
use sealspan_care::joint::one_seal::OneSpare;
use sealspan_care::plan::{Choice, Limits, Planner, Request};
use sealspan_care::policy::{CarePolicy, Policy};
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::seal::Seal;
use sealspan_care::spares::budget::{Part, efficient_curve};
use sealspan_care::spares::depot::{Chain, Method, Site};
use sealspan_care::stock::{Shortage, StockTerms};
use sealspan_care::terms::{Event, Handling, Terms};
use sealspan_care::weigh::common_practice;
use sealspan_life::life::Life;
use sealspan_numeric::quadrature::integrate;

fn weibull(shape: f64, scale: f64) -> Life {
    Life::weibull(shape, scale).unwrap()
}

/// Positions that join from a time on and before another.
#[test]
fn those_join_between_two_times_who_join_then() {
    let joining = [(0.0, 1.0), (10.0, 2.0), (20.0, 4.0), (30.0, 8.0)];
    let fleet = Fleet {
        joining: joining
            .map(|(at, positions)| Joining { at, positions })
            .to_vec(),
        ..Fleet::default()
    };
    assert_eq!(fleet.joining(0.0, 10.0), 1.0);
    assert_eq!(fleet.joining(5.0, 30.0), 6.0);
    assert_eq!(fleet.joining(10.0, 31.0), 14.0);
    assert_eq!(fleet.joining(31.0, 90.0), 0.0);
}

/// Cost rate of a spare ordered at `w` and fitted at `age` if the seal lasts: its parts by integrals over the life.
fn rate(t: &OneSpare, life: &Life, w: f64, age: f64) -> f64 {
    let arrival = w + t.lead_time;
    let over = |f: &dyn Fn(f64) -> f64, from: f64, to: f64| integrate(f, from, to, 1e-12).value;
    let alive = |x: f64| life.survival(x);
    let failed = 1.0 - if age.is_finite() { alive(age) } else { 0.0 };
    let end = if age.is_finite() {
        age
    } else {
        life.quantile(1.0 - 1e-12)
    };
    // Failed before the order: the whole lead time; after it what is left of it.
    let waits = t.lead_time - over(&alive, w, arrival);
    let on_shelf = over(&alive, arrival, end);
    let time = over(&alive, 0.0, w) + t.lead_time + on_shelf;
    let money = t.failed * failed + t.planned * (1.0 - failed);
    (money + t.waiting * waits + t.holding * on_shelf) / time
}

/// Age by its own costs first, then the order: the cheapest order day for that age of all days, or ordering on failure
/// where a seal that does not wear is never replaced.
#[test]
fn apart_the_order_day_is_the_cheapest_for_the_age() {
    for (shape, planned, holding) in [
        (3.0, 15.0, 1.0),
        (1.0, 15.0, 1.0),
        (1.0, 15.0, 200.0),
        (2.0, 60.0, 0.2),
    ] {
        let life = weibull(shape, 36.0);
        let terms = OneSpare {
            planned,
            failed: 120.0,
            holding,
            waiting: 40.0,
            lead_time: 6.0,
        };
        let joint = terms.best(&life).unwrap();
        let alone = Evaluator::new(&life, &costs(planned, 120.0), Goal::Cost).unwrap();
        let age = alone.best_age().unwrap();
        let late = (120.0 + 40.0 * 6.0) / (life.mean() + 6.0);
        let most = age.map_or(300.0, |age| age - 6.0);
        let least = (0..=3000)
            .map(|i| most * f64::from(i) / 3000.0)
            .map(|w| rate(&terms, &life, w, age.unwrap_or(f64::INFINITY)))
            .fold(f64::INFINITY, f64::min);
        let want = if age.is_none() {
            least.min(late)
        } else {
            least
        };
        let found = joint.apart.cost_rate;
        assert!(
            (found / want - 1.0).abs() < 1e-4,
            "{shape} {holding} {found} {want}"
        );
        assert_eq!(joint.apart.replace_at.is_some(), age.is_some());
        assert_eq!(
            joint.apart.order_at.is_none(),
            age.is_none() && late < least
        );
    }
}

/// Chances of 0, 1, 2, ... of a Poisson number.
fn poisson(mean: f64) -> Vec<f64> {
    let mut p = vec![(-mean).exp()];
    for k in 1..(2.0 * mean) as usize + 80 {
        p.push(p[k - 1] * mean / k as f64);
    }
    p
}

/// Cost per day and fill rate of lots of `quantity` at a reorder point of `low` − 1, by sums over the demand: the position
/// is even on `low` .. `low` + `quantity`, seal i of a lot meets demand number R + i after it was ordered.
fn lots(terms: &StockTerms, low: usize, quantity: usize) -> (f64, f64) {
    let Shortage::Backorder { cost_per_day } = terms.shortage else {
        unreachable!()
    };
    let (rate, n) = (terms.demand_rate, quantity as f64);
    let lead = poisson(rate * terms.lead_time);
    let mean = |f: &dyn Fn(f64, f64) -> f64| {
        let of = |y: usize| -> f64 {
            let each = lead.iter().enumerate();
            each.map(|(x, p)| p * f(y as f64, x as f64)).sum()
        };
        (low..low + quantity).map(of).sum::<f64>() / n
    };
    let scrap = terms.shelf_life.map_or(0.0, |usable| {
        let kept = poisson(rate * (terms.lead_time + usable));
        let late = |demand: usize| kept[..demand].iter().sum::<f64>();
        (low..low + quantity).map(late).sum::<f64>() * rate / n
    });
    let cost = terms.holding_cost * mean(&|y, x| (y - x).max(0.0))
        + cost_per_day * mean(&|y, x| (x - y).max(0.0))
        + rate * terms.order_cost / n
        + scrap * (terms.unit_price.unwrap_or(0.0) + terms.order_cost / n);
    (cost, mean(&|y, x| f64::from(u8::from(x < y))))
}

/// Lots of demands that wait: of all reorder points and quantities within the target none is cheaper, whether they keep for
/// ever or not.
#[test]
fn no_lot_is_cheaper_than_the_one_advised() {
    let mut seen = 0;
    for (cost_per_day, order_cost, holding_cost) in [(3.0, 6.0, 0.05), (0.4, 20.0, 0.02)] {
        for (target_fill_rate, shelf_life) in [
            (None, None),
            (Some(0.9), None),
            (Some(0.95), None),
            (None, Some(400.0)),
            (None, Some(150.0)),
            (None, Some(60.0)),
            (Some(0.95), Some(200.0)),
        ] {
            let terms = StockTerms {
                demand_rate: 0.06,
                lead_time: 30.0,
                holding_cost,
                shortage: Shortage::Backorder { cost_per_day },
                order_cost,
                unit_price: Some(30.0),
                target_fill_rate,
                shelf_life,
                age_on_arrival: 0.0,
                lead_time_deviation: 0.0,
            };
            let allowed = |fill: f64| target_fill_rate.is_none_or(|t| fill >= t);
            let least = (0..11)
                .flat_map(|low| (1..40).map(move |n| (low, n)))
                .map(|(low, n)| (lots(&terms, low, n), low, n))
                .filter(|(here, ..)| allowed(here.1))
                .min_by(|a, b| a.0.0.total_cmp(&b.0.0))
                .unwrap();
            let best = terms.advised().unwrap();
            let quantity = best.order_quantity.unwrap();
            let cost = best.level.cost_rate;
            assert!(
                cost <= least.0.0 * (1.0 + 1e-9),
                "{terms:?} {best:?} {least:?}"
            );
            // One by one is worked out in full, not by the bound for what is scrapped.
            if quantity == 1 {
                continue;
            }
            seen += 1;
            let low = usize::try_from(best.reorder_point + 1).unwrap();
            let (own, fill) = lots(&terms, low, quantity);
            assert!((cost / own - 1.0).abs() < 1e-9, "{terms:?} {cost} {own}");
            assert!(allowed(fill + 1e-12) && cost >= least.0.0 * (1.0 - 1e-9));
        }
    }
    assert!(seen > 8, "{seen}");
}

/// A fleet's age and stock: no age of a fine grid with the stock that is best for it is cheaper.
#[test]
fn no_age_is_cheaper_than_that_of_age_and_stock_together() {
    let life = weibull(2.5, 400.0);
    let evaluator = Evaluator::new(&life, &costs(80.0, 900.0), Goal::Cost).unwrap();
    let terms = StockTerms {
        demand_rate: 0.0,
        lead_time: 60.0,
        holding_cost: 3.0,
        shortage: Shortage::Backorder {
            cost_per_day: 900.0,
        },
        order_cost: 0.0,
        unit_price: None,
        ..LOTS
    };
    let found = joint(&evaluator, 12, 1.0, &terms).unwrap().together;
    let cost = |age: f64| {
        let demand = fleet_demand(&evaluator, Policy::ReplaceAtAge(age), 12, 1.0).unwrap();
        let here = StockTerms {
            demand_rate: demand.unplanned_per_day,
            ..terms
        };
        12.0 * evaluator.cost_rate(age) + here.advised().unwrap().level.cost_rate
    };
    let age = found.replace_at.unwrap();
    assert!((cost(age) / found.cost_rate - 1.0).abs() < 1e-12);
    for i in 1..=400 {
        let other = cost(0.004 * age * f64::from(i));
        assert!(
            found.cost_rate <= other * (1.0 + 1e-9),
            "{i} {other} {found:?}"
        );
    }
}

/// Spares so many that hardly a position ever waits: the split is still the best of all.
#[test]
fn spares_are_split_best_where_hardly_any_waits() {
    let site = |demand_rate| Site {
        demand_rate,
        transit: 4.0,
        weight: 1.0,
    };
    let sites = vec![site(0.01), site(0.02)];
    let chain = Chain {
        sites,
        depot_lead: 40.0,
    };
    let best = chain.best_splits(16, Method::Exact).unwrap();
    for total in [10, 16] {
        let each = (0..=total).flat_map(|a| (0..=total - a).map(move |b| [a, b]));
        let least = each
            .map(|at| chain.given(total - at[0] - at[1], &at, Method::Exact))
            .map(|split| split.unwrap().backorders)
            .fold(f64::INFINITY, f64::min);
        let found = best[total].backorders;
        assert!(found <= least * (1.0 + 1e-9), "{total} {found} {least}");
    }
    assert!(best[16].backorders < 1e-7 && best[16].depot.stock > 0);
}

/// Common practice with the replacement age that goes best with it, of all whole numbers of looks up to three lives, for a
/// seal whose delay is most of its life.
#[test]
fn common_practice_is_replaced_at_its_best_age() {
    let seal = Seal {
        detection: 0.1,
        ..Seal::two_stage(weibull(1.0, 200.0), weibull(4.0, 300.0))
    };
    let model = Prepared::new(&seal).unwrap();
    let event = |money| Event { money, down: 0.0 };
    let terms = Terms {
        planned: event(100.0),
        found: event(100.0),
        failed: event(3000.0),
        look: 5.0,
        ..Terms::default()
    };
    let step = 2.0 * Calendar::Months.days();
    let cost = |replace_at: Option<f64>| {
        let policy = CarePolicy {
            replace_at,
            ..CarePolicy::inspect_every(step)
        };
        model.evaluate(&policy, &terms).unwrap().cost_rate
    };
    let most = (3.0 * (200.0 + weibull(4.0, 300.0).mean()) / step).ceil() as u32;
    let ages = (2..=most).map(|m| Some(step * f64::from(m)));
    let best = std::iter::once(None)
        .chain(ages)
        .min_by(|a, b| cost(*a).total_cmp(&cost(*b)))
        .unwrap();
    let asked = (Goal::Cost, &Limits::default());
    let plan = CarePolicy::inspect_every(step);
    let found = common_practice(&model, &terms, asked, &plan).unwrap();
    assert_eq!(found.policy.replace_at, best);
    assert!(best.is_some() && (found.measure / cost(best) - 1.0).abs() < 1e-3);
}

/// Seals bought one by one: as many steps as are allowed, and no further than a seal takes off a share of 1e-12.
#[test]
fn the_curve_of_a_budget_ends_where_nothing_is_taken_off() {
    let part = Part {
        on_order: 1.0,
        price: 10.0,
        weight: 1.0,
    };
    let above = |s: usize| poisson(1.0)[s + 1..].iter().sum::<f64>();
    let worth = (0..).take_while(|s| above(*s) > 1e-12).count();
    for most in [3, 1000] {
        let curve = efficient_curve(&[part], most).unwrap();
        assert_eq!(curve.len(), 1 + worth.min(most));
    }
}

/// Looks with a replacement age, found by moving both in turn: no step with any age is cheaper on a grid round the plan.
#[test]
fn no_step_and_age_are_cheaper_than_the_plan() {
    let request = Request {
        turn: Choice::Never,
        ..Request::default()
    };
    for (detection, inspection_cost, failed) in [(0.8, 15.0, 2500.0), (1.0, 15.0, 2500.0)] {
        let seal = Seal {
            detection,
            ..Seal::two_stage(weibull(1.3, 300.0), weibull(1.0, 60.0))
        };
        let handling = Handling {
            inspection_cost,
            ..Handling::default()
        };
        let planner = Planner::new(&seal, &costs(60.0, failed), &handling, request).unwrap();
        let plan = planner.best().unwrap();
        let step = plan.policy.looks.after(0.0).unwrap();
        let cost = |step: f64, replace_at: Option<f64>| {
            let policy = CarePolicy {
                replace_at,
                ..CarePolicy::inspect_every(step)
            };
            planner.evaluate(&policy).unwrap().cost_rate
        };
        for i in -6..=6 {
            let step = step * (1.0 + 0.05 * f64::from(i));
            let ages = (2..25).map(|k| Some(0.5 * step * f64::from(k)));
            for age in ages.chain([None]) {
                let other = cost(step, age);
                assert!(
                    plan.outcome.cost_rate <= other * (1.0 + 1e-6),
                    "{detection} {step} {age:?}: {other} {plan:?}"
                );
            }
        }
    }
}
