//! Spares against event-by-event play and against plain enumeration.

use crate::lots::{LOTS, RULES};
use sealspan_care::pipeline::Pipeline;
use sealspan_care::spares::budget::{Part, efficient_curve, to_reach, within};
use sealspan_care::spares::depot::{Chain, Method, Site};
use sealspan_care::spares::last_buy::LastBuy;
use sealspan_care::spares::play::{Lead, Played, Rules, Seen, play_stock};
use sealspan_care::spares::shelf::Shelf;
use sealspan_care::spares::transfer::{Member, Together, play_together};
use sealspan_care::stock::{Shortage, StockTerms};
use sealspan_numeric::random::Stream;

fn agree(what: &str, seen: Seen, value: f64) {
    let off = (seen.value - value).abs();
    assert!(
        off <= 4.5 * seen.error + 1e-9,
        "{what}: played {} ± {}, worked out {value}",
        seen.value,
        seen.error
    );
}

fn play(rules: Rules) -> Played {
    play_stock(&rules, 400_000, 11)
}

/// Seals that go out of date: the closed form against play, waiting and urgent.
#[test]
fn shelf_life() {
    for urgent in [false, true] {
        for (usable, stock) in [(40.0, 1), (60.0, 3), (25.0, 5), (200.0, 4)] {
            let shelf = Shelf {
                demand_rate: 0.05,
                lead_time: 30.0,
                usable,
                urgent,
            };
            let kept = shelf.kept(stock);
            let seen = play(Rules {
                reorder_point: stock as i64 - 1,
                usable: Some(usable),
                urgent,
                ..RULES
            });
            agree("fill rate", seen.fill_rate, kept.fill_rate);
            agree("waiting", seen.backorders, kept.expected_backorders);
            agree("on hand", seen.on_hand, kept.expected_on_hand);
            agree("scrap", seen.scrap_rate, kept.scrap_rate);
        }
    }
}

/// Independent exponential lead times: only their mean counts (Palm).
#[test]
fn random_lead_times() {
    let x = Pipeline::new(0.05, 30.0).unwrap();
    let seen = play(Rules {
        lead: Lead::Exponential(30.0),
        ..RULES
    });
    agree("fill rate", seen.fill_rate, x.fill_rate(3));
    agree("waiting", seen.backorders, x.backorders(3));
    // Lead times that vary from spell to spell do harm: the demand during one, drawn here directly.
    let y = Pipeline::in_turn(0.05, 30.0, 15.0).unwrap();
    assert!(y.backorders(3) > 1.3 * x.backorders(3));
    let (mut short, runs) = (0.0, 200_000u64);
    for i in 0..runs {
        let mut stream = Stream::new(3, i);
        // A gamma lead time of shape 4: four exponentials.
        let lead: f64 = (0..4).map(|_| 7.5 * stream.exponential()).sum();
        let (mut t, mut n) = (20.0 * stream.exponential(), 0u32);
        while t < lead {
            n += 1;
            t += 20.0 * stream.exponential();
        }
        short += f64::from(n.saturating_sub(3));
    }
    let mean = short / runs as f64;
    assert!(
        (mean / y.backorders(3) - 1.0).abs() < 0.02,
        "{mean} {}",
        y.backorders(3)
    );
}

/// Lots with urgent supply, with and without a shelf life; the bound on scrap holds and is close.
#[test]
fn lots_with_urgent_supply() {
    for shelf_life in [None, Some(400.0), Some(150.0)] {
        let terms = StockTerms { shelf_life, ..LOTS };
        let best = terms.advised().unwrap();
        let quantity = best.order_quantity.unwrap();
        assert!(quantity > 1 && best.reorder_point < quantity as i64);
        let seen = play(Rules {
            reorder_point: best.reorder_point,
            quantity,
            usable: shelf_life,
            urgent: true,
            ..RULES
        });
        let scrap = best.scrap_rate.unwrap_or(0.0);
        assert!(seen.scrap_rate.value <= scrap + 4.0 * seen.scrap_rate.error + 1e-12);
        assert!(
            seen.scrap_rate.value + 4.0 * seen.scrap_rate.error >= 0.8 * scrap,
            "{shelf_life:?}: {scrap} {seen:?}"
        );
        if shelf_life != Some(150.0) {
            agree("fill rate", seen.fill_rate, best.level.fill_rate);
            agree("on hand", seen.on_hand, best.level.expected_on_hand);
        }
    }
    let sizes = |shelf_life| {
        StockTerms { shelf_life, ..LOTS }
            .advised()
            .unwrap()
            .order_quantity
            .unwrap()
    };
    assert!(sizes(Some(60.0)) < sizes(Some(150.0)) && sizes(Some(150.0)) <= sizes(None));
}

/// Where demand waits, every seal asked for is ordered: a demand's worth of orders in as many lots.
#[test]
fn orders_are_as_many_as_lots_are_asked_for() {
    for quantity in [1, 4, 7] {
        let rules = Rules { quantity, ..RULES };
        let seen = play_stock(&rules, 40_000, 3).orders;
        let want = RULES.demand_rate / quantity as f64;
        agree("orders", seen, want);
        assert!(seen.error < 0.02 * want, "{seen:?}");
    }
}

/// No reorder point and quantity with one order out played at random costs less than the advised.
#[test]
fn lots_with_urgent_supply_are_best() {
    let best = LOTS.advised().unwrap();
    for quantity in 1..16usize {
        for point in 0..quantity.min(6) {
            let seen = play_stock(
                &Rules {
                    reorder_point: point as i64,
                    quantity,
                    urgent: true,
                    ..RULES
                },
                60_000,
                5,
            );
            let cost = 0.05 * seen.on_hand.value
                + 0.05 * (1.0 - seen.fill_rate.value) * 40.0
                + 6.0 * seen.orders.value;
            assert!(
                cost > best.level.cost_rate * 0.985,
                "{point} {quantity}: {cost} {best:?}"
            );
        }
    }
}

/// Waiting demands with lots that go out of date.
#[test]
fn lots_with_waiting_and_shelf_life() {
    let terms = StockTerms {
        shortage: Shortage::Backorder { cost_per_day: 3.0 },
        shelf_life: Some(250.0),
        ..LOTS
    };
    let best = terms.advised().unwrap();
    let quantity = best.order_quantity.unwrap();
    let seen = play(Rules {
        reorder_point: best.reorder_point,
        quantity,
        usable: Some(250.0),
        ..RULES
    });
    let scrap = best.scrap_rate.unwrap();
    assert!(seen.scrap_rate.value <= scrap * 1.05 + 1e-6 && seen.scrap_rate.value > 0.7 * scrap);
    let long = StockTerms {
        shelf_life: Some(1e6),
        ..terms
    }
    .advised()
    .unwrap();
    let none = StockTerms {
        shelf_life: None,
        ..terms
    }
    .advised()
    .unwrap();
    assert_eq!(
        (long.reorder_point, long.order_quantity),
        (none.reorder_point, none.order_quantity)
    );
}

/// Random parts and budgets against every mix there is.
#[test]
fn budgets_against_enumeration() {
    let mut stream = Stream::new(8, 0);
    for _ in 0..60 {
        let parts: Vec<Part> = (0..3)
            .map(|_| Part {
                on_order: 0.1 + 2.5 * stream.uniform(),
                price: (1.0 + 40.0 * stream.uniform()).round(),
                weight: 0.5 + stream.uniform(),
            })
            .collect();
        let budget = 40.0 + 120.0 * stream.uniform();
        let answer = within(&parts, budget).unwrap();
        let x: Vec<Pipeline> = parts
            .iter()
            .map(|p| Pipeline::new(p.on_order, 1.0).unwrap())
            .collect();
        let late = |i: usize, n: usize| parts[i].weight * x[i].backorders(n);
        let most = |i: usize| (budget / parts[i].price) as usize;
        let mut least = f64::INFINITY;
        for a in 0..=most(0) {
            for b in 0..=most(1) {
                let left = budget - a as f64 * parts[0].price - b as f64 * parts[1].price;
                if left >= 0.0 {
                    let c = (left / parts[2].price) as usize;
                    least = least.min(late(0, a) + late(1, b) + late(2, c));
                }
            }
        }
        assert!(
            (answer.best.backorders - least).abs() < 1e-9,
            "{parts:?} {budget}: {least} {answer:?}"
        );
        assert!(answer.exact && answer.bound <= least + 1e-9 && answer.best.spent <= budget);
        assert!(answer.efficient.backorders >= least - 1e-9);
        // No point of the curve is beaten by a mix that is as cheap.
        for step in efficient_curve(&parts, 12).unwrap() {
            let as_cheap = within(&parts, step.spent.max(41.0)).unwrap().best;
            assert!(step.spent < 41.0 || as_cheap.backorders >= step.backorders - 1e-9);
        }
    }
}

/// Many parts: what is filled in lies between the bound and the efficient point; and plain refusals.
#[test]
fn many_parts_and_refusals() {
    let parts: Vec<Part> = (0..400)
        .map(|i| Part {
            on_order: 0.05 + 0.01 * f64::from(i % 70),
            price: 5.0 + f64::from((i * 37) % 113),
            weight: 1.0,
        })
        .collect();
    let answer = within(&parts, 9_000.0).unwrap();
    assert!(
        answer.bound <= answer.best.backorders
            && answer.best.backorders <= answer.efficient.backorders
    );
    assert!(answer.best.spent <= 9_000.0 && answer.best.backorders - answer.bound < 0.05);
    let sum: f64 = answer
        .best
        .stock
        .iter()
        .zip(&parts)
        .map(|(n, p)| {
            Pipeline::new(p.on_order, 1.0)
                .unwrap()
                .backorders(*n as usize)
        })
        .sum();
    assert!((sum - answer.best.backorders).abs() < 1e-9);
    let reached = to_reach(&parts, answer.efficient.backorders).unwrap();
    assert!((reached.spent - answer.efficient.spent).abs() < 1e-9);
    let poor = within(&parts, 4.0).unwrap_err();
    assert!(
        poor.is_no_answer() && poor.to_string().contains("cheapest costs 5"),
        "{poor}"
    );
    let free = Part {
        price: 0.0,
        ..parts[0]
    };
    assert!(within(&[free], 4.0).unwrap_err().is_input());
    assert!(within(&parts, -1.0).unwrap_err().is_input());
    // A mean far beyond where e^-mean is 0.
    let big = within(
        &[Part {
            on_order: 2_000.0,
            price: 1.0,
            weight: 1.0,
        }],
        2_100.0,
    )
    .unwrap();
    let exact = Pipeline::new(2_000.0, 1.0).unwrap().backorders(2_100);
    assert!(
        (big.best.backorders - exact).abs() < 1e-8,
        "{big:?} {exact}"
    );
}

/// Two sites: without help each is Palm's stock; with help in no time and urgent supply one pooled Erlang system.
#[test]
fn transfers() {
    let members = [
        Member {
            demand_rate: 0.06,
            stock: 2,
        },
        Member {
            demand_rate: 0.02,
            stock: 1,
        },
        Member {
            demand_rate: 0.04,
            stock: 0,
        },
    ];
    let alone = Together {
        lead_time: 25.0,
        transfer_time: None,
        urgent: false,
    };
    let seen = play_together(&members, alone, 400_000, 2).unwrap();
    let x: Vec<(f64, Pipeline, usize)> = members
        .iter()
        .map(|m| {
            (
                m.demand_rate,
                Pipeline::new(m.demand_rate, 25.0).unwrap(),
                m.stock,
            )
        })
        .collect();
    agree(
        "waiting",
        seen.waiting,
        x.iter().map(|(_, x, n)| x.backorders(*n)).sum(),
    );
    agree(
        "own",
        seen.own,
        x.iter().map(|(r, x, n)| r / 0.12 * x.fill_rate(*n)).sum(),
    );
    assert_eq!(seen.transferred.value, 0.0);

    let pooled = Together {
        transfer_time: Some(0.0),
        urgent: true,
        ..alone
    };
    let seen = play_together(&members, pooled, 400_000, 2).unwrap();
    let mut blocked = 1.0;
    for s in 1..=3 {
        blocked = 3.0 * blocked / (f64::from(s) + 3.0 * blocked);
    }
    let met = Seen {
        value: seen.own.value + seen.transferred.value,
        error: seen.own.error + seen.transferred.error,
    };
    agree("met somewhere", met, 1.0 - blocked);

    // Help that takes a day cuts the waiting, but not below one common shelf.
    let helped = play_together(
        &members,
        Together {
            transfer_time: Some(1.0),
            ..alone
        },
        400_000,
        2,
    )
    .unwrap();
    let common = Pipeline::new(0.12, 25.0).unwrap().backorders(3);
    let apart: f64 = x.iter().map(|(_, x, n)| x.backorders(*n)).sum();
    assert!(
        helped.waiting.value < 0.95 * apart && helped.waiting.value > common,
        "{helped:?}"
    );
    assert!(play_together(&[], alone, 10_000, 1).is_err());
}

/// Rates that cannot be: each named.
#[test]
fn nonsense_is_refused() {
    let site = Site {
        demand_rate: 0.1,
        transit: 2.0,
        weight: 1.0,
    };
    let chain = |sites: Vec<Site>, depot_lead| Chain { sites, depot_lead }.checked();
    assert!(
        chain(vec![], 3.0)
            .unwrap_err()
            .to_string()
            .contains("number of sites")
    );
    assert!(
        chain(vec![site], -3.0)
            .unwrap_err()
            .to_string()
            .contains("lead time of the depot")
    );
    assert!(
        chain(
            vec![Site {
                demand_rate: 0.0,
                ..site
            }],
            3.0
        )
        .unwrap_err()
        .is_input()
    );
    let two = chain(vec![site, site], 3.0).unwrap();
    assert!(two.given(1, &[1], Method::Exact).unwrap_err().is_input());
    let stale = StockTerms {
        shelf_life: Some(300.0),
        age_on_arrival: 300.0,
        ..LOTS
    };
    assert!(
        stale
            .answer()
            .unwrap_err()
            .to_string()
            .contains("out of date on arrival")
    );
    let free = StockTerms {
        unit_price: Some(0.0),
        ..LOTS
    };
    assert!(free.answer().unwrap_err().is_input());
    let none = LastBuy {
        short_cost: 0.0,
        left_cost: 1.0,
    };
    assert!(
        none.answer(&sealspan_care::spares::last_buy::demand(3.0, 0.0).unwrap())
            .is_err()
    );
}
