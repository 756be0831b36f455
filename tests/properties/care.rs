//! What a policy costs: worked out, played, and in its parts.

use super::drawn;
use proptest::prelude::*;
use sealspan_care::evaluate::evaluate;
use sealspan_care::policy::CarePolicy;
use sealspan_care::seal::Seal;
use sealspan_care::simulate::play;
use sealspan_care::terms::{Event, Terms};
use sealspan_life::life::Life;
use sealspan_numeric::quadrature::integrate;

fn life() -> impl Strategy<Value = Life> {
    let weibull = (0.7..4.0_f64, 60.0..900.0_f64).prop_map(|(b, n)| Life::weibull(b, n).unwrap());
    let lognormal = (4.0..6.5_f64, 0.3..1.0_f64).prop_map(|(m, s)| Life::lognormal(m, s).unwrap());
    prop_oneof![weibull, lognormal]
}

/// Money of every event; nothing takes time, so that money is all that differs.
fn prices() -> impl Strategy<Value = Terms> {
    prop::array::uniform8(0.0..500.0_f64).prop_map(|m| {
        let event = |money| Event { money, down: 0.0 };
        Terms {
            planned: event(m[0]),
            failed: event(m[1] + m[0]),
            found: event(m[2]),
            damaged: event(m[3]),
            opportunity: event(m[4]),
            opening: event(m[5]),
            look: m[6],
            turn: m[7],
            undetected: 0.0,
        }
    })
}

fn sum(a: Terms, b: Terms) -> Terms {
    let event = |x: Event, y: Event| Event {
        money: x.money + y.money,
        down: x.down + y.down,
    };
    Terms {
        planned: event(a.planned, b.planned),
        failed: event(a.failed, b.failed),
        found: event(a.found, b.found),
        damaged: event(a.damaged, b.damaged),
        opportunity: event(a.opportunity, b.opportunity),
        opening: event(a.opening, b.opening),
        look: a.look + b.look,
        turn: a.turn + b.turn,
        undetected: a.undetected + b.undetected,
    }
}

/// Looks, and a replacement age on top.
fn policy() -> impl Strategy<Value = CarePolicy> {
    (20.0..200.0_f64, prop::option::of(50.0..600.0_f64)).prop_map(|(step, replace_at)| CarePolicy {
        replace_at,
        ..CarePolicy::inspect_every(step)
    })
}

fn seal() -> impl Strategy<Value = Seal> {
    (life(), life(), 0.2..1.0_f64, 0.0..0.05_f64).prop_map(|(onset, delay, detection, damage)| {
        let mut seal = Seal::two_stage(onset, delay);
        seal.detection = detection;
        seal.handling_damage = damage;
        seal
    })
}

proptest! {
    #![proptest_config(drawn(40))]

    #[test]
    fn money_adds_up(seal in seal(), policy in policy(), a in prices(), b in prices()) {
        let cost = |terms: &Terms| evaluate(&seal, &policy, terms).unwrap().cost_rate;
        let (each, both) = (cost(&a) + cost(&b), cost(&sum(a, b)));
        prop_assert!((each - both).abs() <= 1e-9 * both.abs(), "{each} {both}");
    }

    #[test]
    fn every_seal_ends_in_one_way(seal in seal(), policy in policy(), terms in prices()) {
        let o = evaluate(&seal, &policy, &terms).unwrap();
        let ways = [o.found, o.failed, o.preventive, o.damaged, o.opportunity];
        prop_assert!(ways.iter().all(|w| (-1e-9..=1.0 + 1e-9).contains(w)), "{ways:?}");
        prop_assert!((ways.iter().sum::<f64>() - 1.0).abs() < 1e-6, "{ways:?}");
        prop_assert!((0.0..=1.0 + 1e-12).contains(&o.availability));
    }

    #[test]
    fn looks_that_find_nothing_and_spoil_nothing_prevent_nothing(seal in seal(), policy in policy(), terms in prices()) {
        let (mut blind, mut keen) = (seal.clone(), seal);
        (blind.detection, blind.handling_damage) = (0.0, 0.0);
        keen.handling_damage = 0.0;
        let never = CarePolicy { replace_at: policy.replace_at, ..CarePolicy::run_to_failure() };
        let failed = |seal: &Seal, policy: &CarePolicy| evaluate(seal, policy, &terms).unwrap().failed;
        let without = failed(&keen, &never);
        prop_assert!((failed(&blind, &policy) - without).abs() < 1e-6);
        prop_assert!(failed(&keen, &policy) <= without + 1e-9);
    }

    #[test]
    fn replacement_by_age_costs_what_its_formula_says(life in life(), share in 0.05..0.95_f64, planned in 1.0..100.0_f64, more in 0.0..900.0_f64) {
        let age = life.quantile(share);
        let event = |money| Event { money, down: 0.0 };
        let terms = Terms { planned: event(planned), failed: event(planned + more), ..Terms::default() };
        let found = evaluate(&Seal::one_stage(life.clone()), &CarePolicy::replace_at(age), &terms).unwrap();
        // Barlow & Proschan 1965: money of a cycle over its mean length.
        let length = integrate(|t| life.survival(t), 0.0, age, 1e-10).value;
        let rate = (planned + more * life.failed(age)) / length;
        prop_assert!((found.cost_rate - rate).abs() <= 1e-6 * rate, "{} {rate}", found.cost_rate);
    }
}

proptest! {
    #![proptest_config(drawn(12))]

    #[test]
    fn what_is_worked_out_is_what_is_played(seal in seal(), policy in policy(), terms in prices(), seed in any::<u64>()) {
        let exact = evaluate(&seal, &policy, &terms).unwrap();
        let played = play(&seal, &policy, &terms, 40_000, seed).unwrap();
        let off = (played.cost_rate - exact.cost_rate).abs();
        // Five standard errors: of twelve comparisons one in a hundred thousand would stray so far.
        prop_assert!(off <= 5.0 * played.std_error + 1e-9, "{exact:?} {played:?}");
    }
}
