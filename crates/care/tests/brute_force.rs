//! Choices held against every other one tried, and sums against their parts.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod prices;

use prices::costs;
use sealspan_care::ahead::fleet::{Fleet, Joining};
use sealspan_care::joint::one_seal::OneSpare;
use sealspan_care::replacement::{Evaluator, Goal};
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
