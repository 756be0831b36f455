//! The simulator against closed forms and against the evaluator, seal by seal of every kind, quick enough for every
//! build. Seeds are fixed; a difference of four standard errors is a failure.

use crate::terms::terms;
use sealspan_care::evaluate::{Prepared, evaluate};
use sealspan_care::policy::{CarePolicy, Looks, OnFinding, Turn};
use sealspan_care::seal::{FailureSign, Paths, Seal};
use sealspan_care::simulate::{Played, play, play_present_value};
use sealspan_life::degradation::{Limit, Scale};
use sealspan_life::life::Life;

const SEALS: usize = 20_000;
const DELTA: f64 = 6e-4;

#[track_caller]
fn near(got: f64, want: f64, error: f64, what: &str) {
    let off = (got - want) / error;
    assert!(
        error > 0.0 && off.abs() < 4.0,
        "{what}: {got} {want} {error}"
    );
}

/// A hidden failure at a constant rate, found by the first look after it: the cycle is a geometric number of
/// stretches, and all of it but the mean life is spent failed unseen.
#[test]
fn hidden_failures_at_a_constant_rate() {
    let (mean, every, t) = (250.0, 90.0, terms());
    let mut seal = Seal::one_stage(Life::exponential(mean).unwrap());
    seal.failure = FailureSign::Hidden;
    let got = play(&seal, &CarePolicy::inspect_every(every), &t, SEALS, 3).unwrap();
    let fails = -(-every / mean).exp_m1();
    let looks = 1.0 / fails;
    let n = SEALS as f64;
    // Geometric: variance (1 − p)/p².
    let looks_error = ((1.0 - fails) / n).sqrt() / fails;
    near(got.inspections_per_cycle, looks, looks_error, "looks");
    let cycle = looks * (every + t.opening.down) + t.failed.down;
    let per_look = every + t.opening.down;
    near(got.mean_cycle, cycle, per_look * looks_error, "cycle");
    // The share of time up hangs on the stretches by their fractional part only: its error is below that of the life.
    near(
        got.availability,
        mean / cycle,
        mean / cycle / n.sqrt(),
        "up",
    );
    let unseen = looks * every - mean;
    let money = looks * (t.opening.money + t.look) + t.failed.money + unseen * t.undetected;
    near(got.cost_rate, money / cycle, got.std_error, "cost");
    assert!((got.failed - 1.0).abs() < 1e-12 && got.std_error < 0.02 * got.cost_rate);
}

/// A ring that wears evenly, replaced at an age, looked at and turned on the way: turns change nothing, and shares and
/// counts are those of the law alone.
#[test]
fn counts_of_looks_and_turns_follow_the_law() {
    let life = Life::weibull(2.0, 300.0).unwrap();
    let seal = Seal::one_stage(life.clone());
    let seal = seal.with_severities(&[1.0, 1.0]).unwrap();
    let policy = CarePolicy {
        turn: Some(Turn {
            every: 200.0,
            by: 1,
        }),
        replace_at: Some(350.0),
        ..CarePolicy::inspect_every(100.0)
    };
    let got = play(&seal, &policy, &terms(), SEALS, 4).unwrap();
    let n = SEALS as f64;
    let share = |share: f64, got: f64, what: &str| {
        near(got, share, (share * (1.0 - share) / n).sqrt(), what);
    };
    share(1.0 - life.survival(350.0), got.failed, "failed");
    share(life.survival(350.0), got.preventive, "preventive");
    share(life.survival(200.0), got.turns_per_cycle, "turns");
    let [a, b, c] = [100.0, 200.0, 300.0].map(|age| life.survival(age));
    // The count is at least 1, 2 and 3 with these chances: its mean is their sum, its mean square a + 3b + 5c.
    let looks = a + b + c;
    let error = ((a + 3.0 * b + 5.0 * c - looks * looks) / n).sqrt();
    near(got.inspections_per_cycle, looks, error, "looks");
}

fn kinds() -> Vec<(&'static str, Seal, CarePolicy)> {
    let two_stage = || {
        Seal::two_stage(
            Life::weibull(2.2, 300.0).unwrap(),
            Life::weibull(1.5, 70.0).unwrap(),
        )
    };
    let hidden = Seal {
        detection: 0.7,
        handling_damage: 0.03,
        failure: FailureSign::Hidden,
        ..two_stage()
    };
    let ring = Seal {
        detection: 0.8,
        ..two_stage().with_severities(&[2.0, 1.0, 0.5]).unwrap()
    };
    let shared = Seal {
        opportunity_rate: 1.0 / 120.0,
        ..Seal::one_stage(Life::weibull(2.5, 400.0).unwrap())
    };
    let turned = CarePolicy {
        turn: Some(Turn { every: 80.0, by: 1 }),
        replace_at: Some(600.0),
        ..CarePolicy::inspect_every(40.0)
    };
    let until = |age: f64| CarePolicy {
        replace_at: Some(age),
        ..CarePolicy::inspect_every(45.0)
    };
    vec![
        ("hidden", hidden.clone(), until(500.0)),
        (
            "hidden, defects left on",
            hidden,
            CarePolicy {
                on_finding: OnFinding::Leave,
                ..until(430.0)
            },
        ),
        ("uneven ring", ring, turned),
        (
            "opportunities",
            shared,
            CarePolicy {
                opportunity_from: Some(200.0),
                ..CarePolicy::replace_at(500.0)
            },
        ),
    ]
}

/// Shares, times and money a cycle, and money now for all cycles to come.
#[test]
fn every_kind_of_seal_is_played_as_it_is_worked_out() {
    for (at, (name, seal, policy)) in kinds().into_iter().enumerate() {
        let seed = 20 + at as u64;
        let model = Prepared::new(&seal).unwrap();
        let want = model.evaluate(&policy, &terms()).unwrap();
        let got = play(&seal, &policy, &terms(), SEALS, seed).unwrap();
        near(got.cost_rate, want.cost_rate, got.std_error, name);
        shares(&got, [want.failed, want.found, want.preventive], name);
        let present = model.present_value(&policy, &terms(), DELTA).unwrap();
        let (played, error) =
            play_present_value(&seal, &policy, &terms(), DELTA, SEALS, seed).unwrap();
        near(played, present, error, name);
        assert!(error < 0.02 * present, "{name}: {error} of {present}");
    }
}

#[track_caller]
fn shares(got: &Played, want: [f64; 3], name: &str) {
    for (own, want) in [got.failed, got.found, got.preventive]
        .into_iter()
        .zip(want)
    {
        let error = (want * (1.0 - want) / SEALS as f64).sqrt();
        // A share of 0 has no error, and is met as it is.
        assert!(
            (own - want).abs() <= 4.0 * error + 1e-9,
            "{name}: {own} {want}"
        );
    }
}

/// A measured seal that is replaced where a look reads it near its limit.
#[test]
fn a_measured_seal_is_played_as_it_is_worked_out() {
    let thin = Limit {
        value: 4.5,
        rising: false,
    };
    let among = (0.015, 2e-5, 9e-6);
    let paths = Paths::new(thin, Scale::Plain, (8.0, -0.0095), among, 0.25).unwrap();
    let policy = CarePolicy {
        looks: Looks::Every(60.0),
        replace_within: Some(0.6),
        replace_at: Some(700.0),
        ..CarePolicy::run_to_failure()
    };
    let mut seal = Seal {
        handling_damage: 0.04,
        ..Seal::measured(paths)
    };
    for sign in [FailureSign::Evident, FailureSign::Hidden] {
        seal.failure = sign;
        let want = evaluate(&seal, &policy, &terms()).unwrap();
        let got = play(&seal, &policy, &terms(), SEALS, 9).unwrap();
        near(got.cost_rate, want.cost_rate, got.std_error, "measured");
        shares(&got, [want.failed, want.found, want.preventive], "measured");
        let error = (want.damaged * (1.0 - want.damaged) / SEALS as f64).sqrt();
        near(got.damaged, want.damaged, error, "measured, damaged");
        let time = (got.availability / want.availability - 1.0).abs();
        assert!(time < 0.01, "{got:?} {want:?}");
    }
}
