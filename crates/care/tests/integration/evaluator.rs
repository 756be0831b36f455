//! The evaluator to its stated accuracy, against closed forms and other ways of integrating, and at its
//! limits.

use sealspan_care::evaluate::Prepared;
use sealspan_care::policy::{CarePolicy, Looks, OnFinding, Turn};
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::seal::{FailureSign, Seal};
use sealspan_care::terms::{Event, Terms};
use sealspan_life::life::Life;
use sealspan_numeric::quadrature::integrate;

const ACCURACY: f64 = 1e-8;

fn terms() -> Terms {
    let event = |money: f64, down: f64| Event { money, down };
    Terms {
        planned: event(100.0, 0.3),
        failed: event(1500.0, 1.2),
        found: event(140.0, 0.5),
        damaged: event(150.0, 0.6),
        opportunity: event(80.0, 0.0),
        opening: event(6.0, 0.1),
        look: 9.0,
        turn: 4.0,
        undetected: 3.0,
    }
}

#[track_caller]
fn close(got: f64, want: f64) {
    assert!((got / want - 1.0).abs() < ACCURACY, "{got} against {want}");
}

/// Exponential onset and delay make a chain with closed steps between looks: sound → defective →
/// failed, with imperfect looks, damage, an age limit, evident and hidden.
#[test]
fn exponential_chain() {
    let (onset, delay, every, r, damage) = (1.0 / 300.0, 1.0 / 60.0, 40.0, 0.7, 0.02);
    let t = terms();
    for hidden in [false, true] {
        for (age, looks) in [(470.0, 11), (480.0, 11)] {
            let mut seal = Seal::two_stage(
                Life::exponential(1.0 / onset).unwrap(),
                Life::exponential(1.0 / delay).unwrap(),
            );
            seal.detection = r;
            seal.handling_damage = damage;
            if hidden {
                seal.failure = FailureSign::Hidden;
            }
            let policy = CarePolicy {
                replace_at: Some(age),
                ..CarePolicy::inspect_every(every)
            };
            // Steps of length x from (sound, defective, unseen): exact for the chain.
            let (mut s, mut d, mut u) = (1.0, 0.0, 0.0);
            let (mut service, mut unseen, mut failed, mut found, mut spoilt, mut n) =
                (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
            for k in 0..=looks {
                let x = if k < looks {
                    every
                } else {
                    age - every * looks as f64
                };
                let (es, ed) = ((-onset * x).exp(), (-delay * x).exp());
                let grown = onset / (delay - onset) * (es - ed);
                let sound_time = s * (1.0 - es) / onset;
                let (s2, d2) = (s * es, s * grown + d * ed);
                // Balance of the defective: what came in less what stayed, over the rate.
                let defective_time = (d + s - s2 - d2) / delay;
                if hidden {
                    let all = s + d + u;
                    service += all * x;
                    unseen += all * x - sound_time - defective_time;
                    u = all - s2 - d2;
                } else {
                    service += sound_time + defective_time;
                    failed += s + d - s2 - d2;
                }
                (s, d) = (s2, d2);
                if k < looks {
                    n += s + d + u;
                    found += r * d;
                    failed += r * u;
                    d *= 1.0 - r;
                    u *= 1.0 - r;
                    spoilt += damage * (s + d + u);
                    s *= 1.0 - damage;
                    d *= 1.0 - damage;
                    u *= 1.0 - damage;
                }
            }
            failed += u;
            let preventive = s + d;
            let got = Prepared::new(&seal).unwrap().evaluate(&policy, &t).unwrap();
            close(got.mean_service, service);
            close(got.failed, failed);
            close(got.found, found);
            close(got.damaged, spoilt);
            close(got.preventive, preventive);
            close(got.inspections_per_cycle, n);
            let cycle = service
                + failed * t.failed.down
                + found * t.found.down
                + spoilt * t.damaged.down
                + preventive * t.planned.down
                + n * t.opening.down;
            let money = failed * t.failed.money
                + found * t.found.money
                + spoilt * t.damaged.money
                + preventive * t.planned.money
                + n * (t.opening.money + t.look)
                + unseen * t.undetected;
            close(got.mean_cycle, cycle);
            close(got.cost_rate, money / cycle);
            close(got.availability, (service - unseen) / cycle);
        }
    }
}

/// Other laws, one interval at a time, by adaptive quadrature of the plain formulas: perfect looks, so
/// that a defect is found or fails before the next look.
#[test]
fn perfect_looks_by_adaptive_quadrature() {
    let t = Terms {
        opening: Event::default(),
        ..terms()
    };
    for (onset, delay, every) in [
        (
            Life::weibull(2.3, 400.0).unwrap(),
            Life::weibull(1.4, 90.0).unwrap(),
            70.0,
        ),
        (
            Life::weibull(0.8, 200.0).unwrap(),
            Life::lognormal(3.0, 0.8).unwrap(),
            25.0,
        ),
        (
            Life::lognormal(5.5, 0.5).unwrap(),
            Life::weibull(3.0, 10.0).unwrap(),
            60.0,
        ),
    ] {
        let (mut found, mut failed, mut service, mut n) = (0.0, 0.0, 0.0, 0.0);
        let mut from = 0.0;
        while onset.survival(from) > 1e-13 {
            let to = from + every;
            let left = if from == 0.0 { 1e-9 } else { from };
            let seen = integrate(
                |u| onset.density(u) * delay.survival(to - u),
                left,
                to,
                1e-11,
            )
            .value;
            let all = onset.survival(from) - onset.survival(to);
            found += seen;
            failed += all - seen;
            n += onset.survival(to) + seen;
            service += integrate(|u| onset.survival(u), from, to, 1e-11).value;
            service += integrate(
                |u| {
                    let spent = integrate(|h| delay.survival(h), 0.0, to - u, 1e-11).value;
                    onset.density(u) * spent
                },
                left,
                to,
                1e-10,
            )
            .value;
            from = to;
        }
        let seal = Seal::two_stage(onset, delay);
        let got = Prepared::new(&seal)
            .unwrap()
            .evaluate(&CarePolicy::inspect_every(every), &t)
            .unwrap();
        assert!((got.found - found).abs() < 2e-8, "{} {found}", got.found);
        assert!(
            (got.failed - failed).abs() < 2e-8,
            "{} {failed}",
            got.failed
        );
        assert!((got.mean_service / service - 1.0).abs() < 2e-8);
        assert!((got.inspections_per_cycle / n - 1.0).abs() < 2e-8);
    }
}

/// One stage without looks is the age evaluator, whose values are published ones.
#[test]
fn one_stage_is_age_replacement() {
    use sealspan_care::costs::{Costs, Prices};
    use sealspan_care::terms::Handling;
    let prices = Prices {
        planned_cost: 120.0,
        failure_cost: 400.0,
        planned_hours: 6.0,
        failure_hours: 40.0,
        downtime_cost: 15.0,
        discount_rate: 0.0,
    };
    let costs = Costs::new(prices, sealspan_records::observation::Clock::Days).unwrap();
    let t = Terms::new(&costs, &Handling::default()).unwrap();
    for life in [
        Life::weibull(2.5, 400.0).unwrap(),
        Life::lognormal(5.5, 0.6).unwrap(),
    ] {
        let ages = Evaluator::new(&life, &costs, Goal::Cost).unwrap();
        let model = Prepared::new(&Seal::one_stage(life)).unwrap();
        for age in [50.0, 300.0, 900.0] {
            let got = model.evaluate(&CarePolicy::replace_at(age), &t).unwrap();
            close(got.cost_rate, ages.cost_rate(age));
        }
        let run = model.evaluate(&CarePolicy::run_to_failure(), &t).unwrap();
        close(run.cost_rate, ages.run_to_failure_rate());
        close(
            run.availability,
            ages.run_to_failure().availability.unwrap(),
        );
    }
}

fn two_stage() -> Seal {
    Seal::two_stage(
        Life::weibull(2.0, 270.0).unwrap(),
        Life::weibull(1.5, 100.0).unwrap(),
    )
}

/// Detection 0, or leaving what is found, is no inspection but for its price.
#[test]
fn blind_looks_find_nothing() {
    let t = Terms {
        look: 0.0,
        opening: Event::default(),
        ..terms()
    };
    let plain = Prepared::new(&two_stage()).unwrap();
    let alone = plain.evaluate(&CarePolicy::replace_at(300.0), &t).unwrap();
    let looked = CarePolicy {
        replace_at: Some(300.0),
        ..CarePolicy::inspect_every(45.0)
    };
    let blind = Prepared::new(&Seal {
        detection: 0.0,
        ..two_stage()
    })
    .unwrap();
    close(
        blind.evaluate(&looked, &t).unwrap().cost_rate,
        alone.cost_rate,
    );
    let left = CarePolicy {
        on_finding: OnFinding::Leave,
        ..looked
    };
    close(
        plain.evaluate(&left, &t).unwrap().cost_rate,
        alone.cost_rate,
    );
}

/// Free perfect looks ever more often: every defect is found when it appears, so the rate tends to
/// that of replacing on the defect.
#[test]
fn free_perfect_looks_approach_the_defect() {
    let t = Terms {
        look: 0.0,
        opening: Event::default(),
        ..terms()
    };
    let model = Prepared::new(&two_stage()).unwrap();
    let limit = t.found.money / (model.mean_onset() + t.found.down);
    let mut last = f64::INFINITY;
    for every in [32.0, 16.0, 8.0, 4.0, 2.0, 1.0] {
        let off = model
            .evaluate(&CarePolicy::inspect_every(every), &t)
            .unwrap()
            .cost_rate
            / limit
            - 1.0;
        assert!(off > 0.0 && off < 0.75 * last, "{every}: {off}");
        last = off;
    }
    assert!(last < 0.02, "{last}");
}

/// Equal severities make turning worthless; uneven ones give at most the power-mean ratio, reached as
/// the step goes to zero; shape 1 gains nothing.
#[test]
fn turning_limits() {
    let life = Life::weibull(2.5, 400.0).unwrap();
    let mean = |severities: &[f64], shape: f64, every: f64| {
        let life = Life::weibull(shape, 400.0).unwrap();
        let seal = Seal::one_stage(life).with_severities(severities).unwrap();
        let turned = CarePolicy::turn_every(every);
        Prepared::new(&seal)
            .unwrap()
            .evaluate(&turned, &Terms::default())
            .unwrap()
            .mean_service
    };
    close(mean(&[1.0; 4], 2.5, 37.0), life.mean());
    let uneven = [2.0, 1.0, 1.0, 1.0];
    close(mean(&uneven, 1.0, 37.0), 400.0);
    let seal = Seal::one_stage(life.clone())
        .with_severities(&uneven)
        .unwrap();
    let limit = seal.ring().unwrap().limit_ratio() * life.mean();
    let mut last = f64::INFINITY;
    for every in [40.0, 20.0, 10.0, 5.0, 2.5] {
        let off = (mean(&uneven, 2.5, every) / limit - 1.0).abs();
        assert!(off < last, "{every}: {off}");
        last = off;
    }
    assert!(last < 1e-3, "{last}");
    assert!(mean(&uneven, 2.5, 40.0) > life.mean());
    // Later than any seal lives, turning does nothing.
    close(mean(&uneven, 2.5, 4000.0), life.mean());
}

/// Cost per unit does not depend on the unit: days against hours.
#[test]
fn units_do_not_matter() {
    let scaled = |unit: f64| {
        let seal = Seal::two_stage(
            Life::weibull(2.0, 270.0 * unit).unwrap(),
            Life::lognormal(4.0 + unit.ln(), 0.7).unwrap(),
        );
        let seal = Seal {
            detection: 0.8,
            handling_damage: 0.01,
            ..seal.with_severities(&[2.0, 1.0, 1.0]).unwrap()
        };
        let mut t = terms();
        for event in [
            &mut t.planned,
            &mut t.failed,
            &mut t.found,
            &mut t.damaged,
            &mut t.opening,
        ] {
            event.down *= unit;
        }
        let policy = CarePolicy {
            looks: Looks::Every(50.0 * unit),
            turn: Some(Turn {
                every: 75.0 * unit,
                by: 1,
            }),
            replace_at: Some(400.0 * unit),
            ..CarePolicy::run_to_failure()
        };
        Prepared::new(&seal).unwrap().evaluate(&policy, &t).unwrap()
    };
    let (days, hours) = (scaled(1.0), scaled(24.0));
    close(hours.cost_rate * 24.0, days.cost_rate);
    close(hours.mean_cycle, days.mean_cycle * 24.0);
    close(hours.found, days.found);
}

#[test]
fn endless_cycles_are_refused() {
    let hidden = Seal {
        failure: FailureSign::Hidden,
        ..two_stage()
    };
    let model = Prepared::new(&hidden).unwrap();
    let error = model
        .evaluate(&CarePolicy::run_to_failure(), &terms())
        .unwrap_err();
    assert!(error.is_no_answer() && error.to_string().contains("never come to light"));
    assert!(
        model
            .evaluate(&CarePolicy::replace_at(100.0), &terms())
            .is_ok()
    );
    let bad = Seal {
        detection: 1.5,
        ..two_stage()
    };
    assert!(Prepared::new(&bad).unwrap_err().is_input());
    let always = model
        .evaluate(&CarePolicy::inspect_every(1e-4), &terms())
        .unwrap_err();
    assert!(always.to_string().contains("60,000"));
}

#[test]
fn looks_find_only_what_shows_and_only_when_they_can() {
    let life = Life::weibull(2.0, 100.0).unwrap();
    let can = |seal: &Seal| {
        sealspan_care::evaluate::Prepared::new(seal)
            .unwrap()
            .looks_can_find()
    };
    assert!(!can(&Seal::one_stage(life.clone())), "nothing shows");
    let mut two = Seal::two_stage(life.clone(), life);
    assert!(can(&two));
    two.detection = 0.0;
    assert!(!can(&two), "looks see nothing");
}
