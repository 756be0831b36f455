//! Openings and ages where something begins or ends: failure-free times, replacement between looks, turns at looks.

use crate::terms::terms;
use sealspan_care::evaluate::pooled::Pool;
use sealspan_care::evaluate::{Prepared, evaluate};
use sealspan_care::policy::{CarePolicy, Looks, Turn};
use sealspan_care::seal::{FailureSign, Seal};
use sealspan_care::simulate::play;
use sealspan_care::terms::Terms;
use sealspan_life::life::Life;
use sealspan_numeric::special::ln_gamma;

#[track_caller]
fn close(got: f64, want: f64, relative: f64) {
    assert!((got / want - 1.0).abs() < relative, "{got} for {want}");
}

fn exponential(mean: f64) -> Life {
    Life::exponential(mean).unwrap()
}

/// Sums over one cycle of looks that each find a defect with the chance `finds`.
#[derive(Default)]
struct Cycle {
    service: f64,
    found: f64,
    failed: f64,
    looks: f64,
}

/// A time free of onsets, then onsets at a constant rate, and delays without memory: sound and defective seals from stop to
/// stop, in closed form.
fn looked_at(free: f64, (onset, delay): (f64, f64), (every, finds): (f64, f64)) -> Cycle {
    let (rate, gone) = (1.0 / onset, 1.0 / delay);
    let mut cycle = Cycle::default();
    let (mut sound, mut defective) = (1.0, 0.0);
    let mut age = 0.0;
    for k in 1..20_000 {
        let look = every * f64::from(k);
        for to in [free.clamp(age, look), look] {
            let length: f64 = to - age;
            let now = if to <= free { 0.0 } else { rate };
            let stays = (-gone * length).exp();
            let still = sound * (-now * length).exp();
            // Onsets of the stretch that still hold at its end.
            let new = sound * now * ((-now * length).exp() - stays) / (gone - now);
            let after = defective * stays + new;
            // What leaves the defective state by failing, by balance.
            let failed = sound + defective - still - after;
            cycle.failed += failed;
            let sound_time = if now > 0.0 {
                (sound - still) / now
            } else {
                sound * length
            };
            cycle.service += sound_time + failed * delay;
            (sound, defective, age) = (still, after, to);
        }
        cycle.looks += sound + defective;
        cycle.found += finds * defective;
        defective *= 1.0 - finds;
        if sound + defective < 1e-15 {
            break;
        }
    }
    cycle
}

/// Looks on either side of a failure-free time of the onset, and one on it; the law has a kink there, and a jump of its
/// density.
#[test]
fn looks_about_a_failure_free_time_are_worked_out_to_the_last_digit() {
    let (onset, delay, finds, t) = (300.0, 45.0, 0.7, terms());
    for free in [20.0, 75.0, 90.0, 131.0] {
        let law = format!("three_parameter_weibull:shape=1,scale={onset},failure_free_time={free}");
        let seal = Seal {
            detection: finds,
            ..Seal::two_stage(Life::parse(&law).unwrap(), exponential(delay))
        };
        let model = Prepared::new(&seal).unwrap();
        let got = model
            .evaluate(&CarePolicy::inspect_every(30.0), &t)
            .unwrap();
        let want = looked_at(free, (onset, delay), (30.0, finds));
        close(got.mean_service, want.service, 1e-7);
        close(got.found, want.found, 1e-7);
        close(got.failed, want.failed, 1e-7);
        close(got.inspections_per_cycle, want.looks, 1e-7);
        let quick = model
            .rough(&CarePolicy::inspect_every(30.0), &t, None)
            .unwrap();
        close(quick.failed, want.failed, 1e-4);
    }
}

/// What the search is offered beside a policy of looks: replaced at the stop instead, or between the first ones at a
/// quarter, a half and three quarters, and each comes to what the evaluator gives for that age.
#[test]
fn ages_offered_between_looks_cost_what_they_are_said_to() {
    let seal = Seal {
        detection: 0.8,
        handling_damage: 0.02,
        ..Seal::two_stage(Life::weibull(2.0, 260.0).unwrap(), exponential(60.0))
    };
    let (every, t) = (40.0, terms());
    let model = Prepared::new(&seal).unwrap();
    let policy = CarePolicy::inspect_every(every);
    let mut offered = vec![];
    model.rough(&policy, &t, Some(&mut offered)).unwrap();
    let ages: Vec<f64> = offered.iter().map(|c| c.age / every).collect();
    let want = (1..=24).map(|quarter| 0.25 * f64::from(quarter));
    for (got, want) in ages.iter().zip(want) {
        close(*got, want, 1e-12);
    }
    for cutoff in offered.iter().take(30) {
        let at = CarePolicy {
            replace_at: Some(cutoff.age),
            ..policy.clone()
        };
        let exact = model.evaluate(&at, &t).unwrap();
        close(cutoff.outcome.cost_rate, exact.cost_rate, 1e-5);
        close(cutoff.outcome.preventive, exact.preventive, 1e-5);
        close(cutoff.outcome.mean_cycle, exact.mean_cycle, 1e-5);
    }
}

/// Turned at each look: all that were looked at but those found, whatever damage does afterwards. Turned alone: all.
#[test]
fn seals_found_at_a_look_are_not_turned() {
    let seal = Seal {
        detection: 0.8,
        handling_damage: 0.02,
        ..Seal::two_stage(Life::weibull(2.0, 260.0).unwrap(), exponential(60.0))
    };
    let ring = seal.with_severities(&[1.5, 1.0, 0.7]).unwrap();
    let model = Prepared::new(&ring).unwrap();
    let turned = CarePolicy {
        turn: Some(Turn { every: 40.0, by: 1 }),
        replace_at: Some(600.0),
        ..CarePolicy::inspect_every(40.0)
    };
    let got = model.evaluate(&turned, &terms()).unwrap();
    assert!(got.found > 0.3);
    close(
        got.turns_per_cycle,
        got.inspections_per_cycle - got.found,
        1e-12,
    );
    let only = CarePolicy {
        looks: Looks::Never,
        ..turned
    };
    let got = model.evaluate(&only, &terms()).unwrap();
    close(got.turns_per_cycle, got.openings_per_cycle, 1e-12);
}

/// Run to failure in two stages a seal lasts for both, and money paid at the end of each cycle is worth
/// E/(1 − E) of it, E = 1/((1 + δθ)(1 + δμ)).
#[test]
fn a_seal_run_to_failure_lasts_for_both_stages() {
    let t = terms();
    let terms = Terms {
        failed: sealspan_care::terms::Event {
            down: 0.0,
            ..t.failed
        },
        ..t
    };
    for (onset, delay) in [(300.0, 40.0), (120.0, 450.0)] {
        let seal = Seal::two_stage(exponential(onset), exponential(delay));
        let model = Prepared::new(&seal).unwrap();
        let policy = CarePolicy::run_to_failure();
        let got = model.evaluate(&policy, &terms).unwrap();
        close(got.mean_service, onset + delay, 1e-8);
        close(got.cost_rate, terms.failed.money / (onset + delay), 1e-8);
        for delta in [1e-5, 1e-3, 0.05] {
            let worth = 1.0 / ((1.0 + delta * onset) * (1.0 + delta * delay));
            let want = terms.failed.money * worth / (1.0 - worth);
            close(
                model.present_value(&policy, &terms, delta).unwrap(),
                want,
                1e-7,
            );
        }
    }
}

/// A seal of one stage replaced at an age is played the quick way: shares and time down of both ends are those of the law,
/// long as the times down are here.
#[test]
fn time_down_of_both_ends_takes_from_the_availability_played() {
    let (life, age, t) = (Life::weibull(2.0, 40.0).unwrap(), 30.0, terms());
    let seals = 100_000;
    let seal = Seal::one_stage(life.clone());
    let played = play(&seal, &CarePolicy::replace_at(age), &t, seals, 5).unwrap();
    let fails = 1.0 - life.survival(age);
    // Service to the age, by Simpson's rule.
    let n = 2000;
    let sum: f64 = (0..=n)
        .map(|i| {
            let weight = if i == 0 || i == n {
                1.0
            } else {
                f64::from(2 + 2 * (i % 2))
            };
            weight * life.survival(age * f64::from(i) / f64::from(n))
        })
        .sum();
    let service = sum * age / (3.0 * f64::from(n));
    let down = fails * t.failed.down + (1.0 - fails) * t.planned.down;
    // Four standard errors: of a share, and of a mean cycle no seal of which is farther off than its own length.
    let error = 1.0 / (seals as f64).sqrt();
    assert!((played.failed - fails).abs() < 2.0 * error);
    assert!((played.failed + played.preventive - 1.0).abs() < 1e-12);
    close(played.mean_cycle, service + down, 2.0 * error);
    close(
        1.0 - played.availability,
        down / (service + down),
        4.0 * error,
    );
}

/// The best interval of looks at many seals together: no other of five hundred, from a hundredth to a hundred mean delays,
/// is down less.
#[test]
fn no_interval_of_a_fine_grid_is_down_less_than_the_best() {
    for (detection, delay, (rate, look, failure)) in [
        (1.0, exponential(20.0), (0.1, 0.5, 5.0)),
        (0.6, Life::weibull(2.5, 40.0).unwrap(), (0.02, 0.2, 12.0)),
        (0.9, Life::lognormal(3.0, 0.6).unwrap(), (0.4, 0.01, 0.7)),
        (0.4, Life::weibull(1.2, 90.0).unwrap(), (0.01, 1.0, 30.0)),
    ] {
        let pool = Pool {
            defect_rate: rate,
            detection,
            look_down: look,
            failure_down: failure,
        };
        let (best, least) = pool.best_interval(&delay).unwrap();
        close(pool.time_down(&delay, best).unwrap(), least, 1e-9);
        let down = |i: i32| {
            let interval = delay.mean() * 100f64.powf(f64::from(i) / 250.0);
            pool.time_down(&delay, interval).unwrap()
        };
        for i in -250..=250 {
            assert!(down(i) >= least * (1.0 - 1e-9), "{detection} {i}");
        }
        // It is a valley: a tenth more or less is down longer.
        for by in [0.9, 1.1] {
            assert!(pool.time_down(&delay, by * best).unwrap() > least * (1.0 + 1e-6));
        }
    }
}

/// Run to failure a seal lasts its failure-free time and the mean of the rest, scale × Γ(1 + 1/shape), by ln Γ.
#[test]
fn a_failure_free_time_is_served_in_full() {
    for (free, scale, shape) in [(500.0, 300.0, 1.3), (50.0, 900.0, 0.7), (900.0, 20.0, 2.6)] {
        let law =
            format!("three_parameter_weibull:shape={shape},scale={scale},failure_free_time={free}");
        let model = Prepared::new(&Seal::one_stage(Life::parse(&law).unwrap())).unwrap();
        let got = model
            .evaluate(&CarePolicy::run_to_failure(), &terms())
            .unwrap();
        let want = free + scale * ln_gamma(1.0 + 1.0 / shape).exp();
        close(got.mean_service, want, 1e-8);
    }
}

/// Opportunities are worked out for seals of one stage that fail evidently; for others they are refused where taken.
#[test]
fn opportunities_are_refused_for_two_stages_and_for_hidden_failures() {
    let one = Seal {
        opportunity_rate: 0.02,
        ..Seal::one_stage(Life::weibull(2.0, 260.0).unwrap())
    };
    let policy = CarePolicy {
        opportunity_from: Some(100.0),
        ..CarePolicy::replace_at(300.0)
    };
    let two = Seal {
        delay: Some(exponential(60.0)),
        ..one.clone()
    };
    let hidden = Seal {
        failure: FailureSign::Hidden,
        ..one.clone()
    };
    let asked = |seal: &Seal, policy: &CarePolicy| evaluate(seal, policy, &terms());
    assert!(asked(&one, &policy).unwrap().opportunity > 0.1);
    for seal in [two, hidden] {
        let error = asked(&seal, &policy).unwrap_err();
        assert!(error.to_string().contains("Opportunities"), "{error}");
        assert!(asked(&seal, &CarePolicy::replace_at(300.0)).is_ok());
    }
}
