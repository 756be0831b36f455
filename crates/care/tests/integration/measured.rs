//! Seals whose condition is measured: evaluator against simulator, closed forms, and known limits.

use sealspan_care::evaluate::{Prepared, evaluate};
use sealspan_care::plan::{Limits, MeasuredQuestion, best_measured};
use sealspan_care::policy::{CarePolicy, Looks, Turn};
use sealspan_care::replacement::Goal;
use sealspan_care::seal::{FailureSign, Paths, Seal};
use sealspan_care::simulate::play;
use sealspan_care::terms::{Event, Terms};
use sealspan_life::degradation::{Limit, Scale};
use sealspan_life::life::Life;
use sealspan_numeric::quadrature::integrate;
use sealspan_numeric::random::Stream;
use sealspan_numeric::special::ln_normal_survival;

fn phi(z: f64) -> f64 {
    ln_normal_survival(-z).exp()
}

const THIN: Limit = Limit {
    value: 4.5,
    rising: false,
};

/// Thickness 8 when new, going to 4.5 in about a year, at rates that differ by a third.
fn gasket(noise: f64) -> Paths {
    let among = (0.015, 2e-5, 9e-6);
    Paths::new(THIN, Scale::Plain, (8.0, -0.0095), among, noise).unwrap()
}

fn terms() -> Terms {
    let event = |money: f64, down: f64| Event { money, down };
    Terms {
        planned: event(90.0, 0.1),
        failed: event(2500.0, 0.5),
        found: event(90.0, 0.1),
        damaged: event(90.0, 0.1),
        opening: event(12.0, 0.02),
        look: 6.0,
        turn: 3.0,
        ..Terms::default()
    }
}

fn limit(step: f64, within: f64, replace_at: f64) -> CarePolicy {
    CarePolicy {
        looks: Looks::Every(step),
        replace_within: Some(within),
        replace_at: Some(replace_at),
        ..CarePolicy::run_to_failure()
    }
}

/// Without looks the share failed by an age is that of the normal law of distances, and the time in service its
/// integral.
#[test]
fn without_looks_the_closed_form() {
    let paths = gasket(0.25);
    let seal = Seal::measured(paths);
    for age in [100.0, 300.0, 700.0, 2000.0] {
        let got = evaluate(&seal, &CarePolicy::replace_at(age), &terms()).unwrap();
        assert!((got.failed - paths.past_by(age)).abs() < 1e-8, "{age}");
        let survival = |t: f64| 1.0 - paths.past_by(t);
        let service = integrate(survival, 0.0, age, 1e-12).value;
        assert!((got.mean_service / service - 1.0).abs() < 1e-8, "{age}");
    }
}

/// One look: the share read within the limit is one integral over the distance there.
#[test]
fn one_look_by_an_integral() {
    let noise = 0.25;
    let seal = Seal::measured(gasket(noise));
    for (step, within) in [(200.0, 1.0), (320.0, 0.3), (320.0, -0.2)] {
        let got = evaluate(&seal, &limit(step, within, 1.5 * step), &terms()).unwrap();
        // Level alone is far from the limit: D₀ > 0 for all but 1e-180 of seals.
        let mean = 3.5 - 0.0095 * step;
        let sd = (0.015 + 2.0 * 2e-5 * step + 9e-6 * step * step).sqrt();
        let found = |d: f64| {
            let z = (d - mean) / sd;
            (-0.5 * z * z).exp() / (sd * std::f64::consts::TAU.sqrt()) * phi((within - d) / noise)
        };
        let parts = 40;
        let want: f64 = (0..parts)
            .map(|i| {
                let at = |i: f64| 8.0 * i / f64::from(parts);
                integrate(found, at(f64::from(i)), at(f64::from(i + 1)), 1e-12).value
            })
            .sum();
        assert!((got.found - want).abs() < 1e-8, "{} {want}", got.found);
        assert!((got.inspections_per_cycle - phi(mean / sd)).abs() < 1e-8);
    }
}

/// A limit at the functional limit takes off nothing in time but what the error of measurement lets in: less and less
/// as it goes to 0, and nothing where the limit lies a dozen errors beyond.
#[test]
fn a_limit_at_the_functional_limit_prevents_nothing() {
    let found = |noise: f64, within: f64| {
        let seal = Seal::measured(gasket(noise));
        evaluate(&seal, &limit(60.0, within, 900.0), &terms()).unwrap()
    };
    let by_error: Vec<f64> = [0.2, 0.05, 0.0125].map(|n| found(n, 0.0).found).to_vec();
    assert!(
        by_error.windows(2).all(|w| w[1] < 0.5 * w[0]),
        "{by_error:?}"
    );
    assert!(by_error[2] < 0.01 && by_error[0] > 0.03, "{by_error:?}");
    let never = found(0.2, -12.0 * 0.2);
    let blind = evaluate(
        &Seal::measured(gasket(0.2)),
        &CarePolicy {
            replace_within: None,
            ..limit(60.0, 0.0, 900.0)
        },
        &terms(),
    )
    .unwrap();
    assert!(never.found < 1e-12);
    assert!((never.cost_rate / blind.cost_rate - 1.0).abs() < 1e-9);
}

/// A limit at the value of a new seal, and a spread and some errors more, replaces at the first look.
#[test]
fn a_limit_at_the_new_value_replaces_at_the_first_look() {
    let paths = gasket(0.2);
    let seal = Seal::measured(paths);
    let policy = limit(150.0, paths.new_distance() + 5.0, 900.0);
    let got = evaluate(&seal, &policy, &terms()).unwrap();
    let by_age = evaluate(&seal, &CarePolicy::replace_at(150.0), &terms()).unwrap();
    assert!((got.found - by_age.preventive).abs() < 1e-9);
    assert!((got.failed - by_age.failed).abs() < 1e-9 && got.preventive < 1e-9);
    assert!((got.mean_service - by_age.mean_service).abs() < 1e-6);
    assert!((got.inspections_per_cycle - by_age.preventive).abs() < 1e-9);
    // In the middle half are read within the limit at a look soon after fitting.
    let half = evaluate(&seal, &limit(1e-3, paths.new_distance(), 1.5e-3), &terms()).unwrap();
    assert!((half.found - 0.5).abs() < 1e-3, "{}", half.found);
}

/// Ages in weeks and thickness in tenths: the same policy.
#[test]
fn units_do_not_matter() {
    let seal = Seal::measured(gasket(0.25));
    let t = terms();
    let a = evaluate(&seal, &limit(56.0, 0.8, 800.0), &t).unwrap();
    // In weeks; tenths, thousandths and millionths of the unit, and thousands of it.
    let week = 1.0 / 7.0;
    for unit in [10.0, 1e3, 1e6, 1e-3] {
        let own_limit = Limit {
            value: 4.5 * unit,
            rising: false,
        };
        let among = (
            0.015 * unit * unit,
            2e-5 * unit * unit / week,
            9e-6 * unit * unit / week / week,
        );
        let mean = (8.0 * unit, -0.0095 * unit / week);
        let other = Paths::new(own_limit, Scale::Plain, mean, among, 0.25 * unit).unwrap();
        let in_weeks = |e: Event| Event {
            down: e.down * week,
            ..e
        };
        let weeks = Terms {
            planned: in_weeks(t.planned),
            failed: in_weeks(t.failed),
            found: in_weeks(t.found),
            damaged: in_weeks(t.damaged),
            opening: in_weeks(t.opening),
            ..t
        };
        let policy = limit(8.0, 0.8 * unit, 800.0 * week);
        let b = evaluate(&Seal::measured(other), &policy, &weeks).unwrap();
        let off = a.cost_rate / (b.cost_rate * week) - 1.0;
        assert!(off.abs() < 1e-9, "{unit}: {off}");
        assert!((a.found - b.found).abs() < 1e-9 && (a.failed - b.failed).abs() < 1e-9);
    }
}

/// A property that rises to its limit, and one straight in its logarithm.
#[test]
fn rising_and_logarithmic_paths() {
    let hard = Limit {
        value: 90.0,
        rising: true,
    };
    let up = Paths::new(hard, Scale::Plain, (70.0, 0.05), (4.0, 0.01, 4e-4), 1.0).unwrap();
    assert!((up.distance_at(85.0).unwrap() - 5.0).abs() < 1e-12);
    assert!((up.value_at(5.0) - 85.0).abs() < 1e-12);
    // A seal that starts harder hardens faster: the covariance of distance and speed is negative.
    let fast = Paths::new(hard, Scale::Plain, (70.0, 0.05), (4.0, -0.01, 4e-4), 1.0).unwrap();
    assert!(up.past_by(300.0) > fast.past_by(300.0));
    let thin = Paths::new(
        THIN,
        Scale::Log,
        (8.0_f64.ln(), -0.0015),
        (1e-4, 0.0, 1e-7),
        0.03,
    );
    let thin = thin.unwrap();
    assert!((thin.value_at(thin.distance_at(6.0).unwrap()) - 6.0).abs() < 1e-12);
    assert!(Paths::new(THIN, Scale::Plain, (4.0, -0.01), (1.0, 0.0, 1.0), 1.0).is_err());
}

/// What cannot be worked out is refused in words.
#[test]
fn refusals() {
    let seal = Seal::measured(gasket(0.2));
    let endless = CarePolicy {
        replace_at: None,
        ..limit(60.0, 1.0, 1.0)
    };
    assert!(evaluate(&seal, &endless, &terms()).is_err());
    assert!(play(&seal, &endless, &terms(), 1000, 1).is_err());
    let life = Seal::one_stage(Life::weibull(2.0, 300.0).unwrap());
    let measured = limit(60.0, 1.0, 400.0);
    assert!(evaluate(&life, &measured, &terms()).is_err());
    assert!(play(&life, &measured, &terms(), 1000, 1).is_err());
    assert!(Prepared::new(&seal).is_err());
}

/// The plan is no dearer than a grid of policies, and pays where measuring is cheap and sharp.
#[test]
fn the_best_limit_beats_a_grid() {
    let question = MeasuredQuestion {
        steps: vec![30.0, 60.0, 90.0, 120.0, 180.0],
        ages: (1..=30).map(|i| 30.0 * f64::from(i)).collect(),
        replace_at: None,
        limit: None,
        resolution: 0.0,
        goal: Goal::Cost,
        limits: Limits::default(),
    };
    let seal = Seal::measured(gasket(0.1));
    let cheap = Terms {
        opening: Event {
            money: 2.0,
            down: 0.0,
        },
        look: 1.0,
        ..terms()
    };
    let best = best_measured(&seal, &cheap, &question).unwrap();
    let mut least = f64::INFINITY;
    for step in [30.0, 60.0, 90.0, 120.0, 180.0] {
        for within in [0.2, 0.5, 0.8, 1.2] {
            for ages in [6.0, 10.0] {
                let policy = limit(step, within, step * ages);
                least = least.min(evaluate(&seal, &policy, &cheap).unwrap().cost_rate);
            }
        }
    }
    let plan = best.plan.outcome.cost_rate;
    assert!(plan <= least * 1.0005, "{plan} {least}");
    assert!(plan < 0.9 * best.by_age.outcome.cost_rate, "{best:?}");
    assert!((4.5..8.0).contains(&best.limit));
    // To the readings of a gauge in tenths, and under a limit on failures.
    let coarse = MeasuredQuestion {
        resolution: 0.1,
        limits: Limits {
            most_failure_probability: Some(0.02),
            ..Limits::default()
        },
        ..question
    };
    let kept = best_measured(&seal, &cheap, &coarse).unwrap();
    assert!(kept.plan.outcome.failed <= 0.02 + 1e-6);
    assert!((kept.limit * 10.0 - (kept.limit * 10.0).round()).abs() < 1e-9);
}

struct Draws(Stream);

impl Draws {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.uniform()
    }

    fn seal(&mut self) -> Seal {
        let rising = self.0.uniform() < 0.5;
        let limit = Limit {
            value: 10.0,
            rising,
        };
        let life = self.between(100.0, 800.0);
        let distance = self.between(1.0, 5.0);
        let level = 10.0 - limit.side() * distance;
        let speed = distance / life;
        let (sd_level, sd_rate) = (
            distance * self.between(0.01, 0.4),
            speed * self.between(0.05, 0.7),
        );
        let correlation = self.between(-0.8, 0.8);
        let among = (
            sd_level * sd_level,
            correlation * sd_level * sd_rate,
            sd_rate * sd_rate,
        );
        let mean = (level, limit.side() * speed);
        let noise = distance * self.between(0.02, 0.2);
        let paths = Paths::new(limit, Scale::Plain, mean, among, noise).unwrap();
        let hidden = self.0.uniform() < 0.3;
        Seal {
            handling_damage: if self.0.uniform() < 0.5 {
                self.between(0.0, 0.08)
            } else {
                0.0
            },
            detection: self.between(0.2, 1.0),
            failure: if hidden {
                FailureSign::Hidden
            } else {
                FailureSign::Evident
            },
            ..Seal::measured(paths)
        }
    }

    fn policy(&mut self) -> CarePolicy {
        let step = self.between(20.0, 200.0);
        CarePolicy {
            looks: if self.0.uniform() < 0.3 {
                Looks::bent(step, self.between(0.6, 1.3), 900.0)
            } else {
                Looks::Every(step)
            },
            turn: (self.0.uniform() < 0.2).then_some(Turn {
                every: 2.0 * step,
                by: 1,
            }),
            replace_within: Some(self.between(-0.5, 2.5)),
            replace_at: Some(step * self.between(1.2, 9.0)),
            ..CarePolicy::run_to_failure()
        }
    }
}

const CASES: u64 = 120;
const SEALS: usize = 8_192;

/// 120 random measured seals and policies, differences in units of the simulation's standard error: close to standard
/// normal if both are right. Asked: at most four beyond 3 (chance gives 0.6 of 240 on average), none beyond 5, and a
/// mean square within 5 of its own standard errors of 1.
#[test]
fn evaluator_and_simulator_agree() {
    let n = SEALS as f64;
    let mut scores = vec![];
    let mut found_ones = 0;
    for case in 0..CASES {
        let mut draws = Draws(Stream::new(20_261_126, case));
        let (seal, policy) = (draws.seal(), draws.policy());
        let mut terms = terms();
        terms.undetected = 3.0;
        let what = format!("case {case}: {seal:?} {policy:?}");
        let want = evaluate(&seal, &policy, &terms).unwrap_or_else(|e| panic!("{what}: {e}"));
        let seen = play(&seal, &policy, &terms, SEALS, case).unwrap();
        let shares = want.failed + want.found + want.preventive + want.damaged;
        assert!((shares - 1.0).abs() < 1e-8, "{what}: shares {shares}");
        for (share, other) in [
            (want.failed, seen.failed),
            (want.found, seen.found),
            (want.preventive, seen.preventive),
        ] {
            let fewest = n * share.min(1.0 - share);
            if fewest >= 60.0 {
                let z = (other - share) / (share * (1.0 - share) / n).sqrt();
                assert!(z.abs() < 5.0, "{what}: {other} against {share}");
                scores.push(z);
            }
        }
        if n * want.failed.min(1.0 - want.failed) >= 60.0 {
            let z = (seen.cost_rate - want.cost_rate) / seen.std_error;
            assert!(z.abs() < 5.0, "{what}: cost z = {z}");
            scores.push(z);
        }
        let relative = seen.mean_cycle / want.mean_cycle - 1.0;
        assert!(relative.abs() < 0.04, "{what}: cycle {relative}");
        let looks = seen.inspections_per_cycle - want.inspections_per_cycle;
        assert!(
            looks.abs() < 0.04 * want.inspections_per_cycle + 0.02,
            "{what}"
        );
        assert!(
            (seen.availability - want.availability).abs() < 0.02,
            "{what}"
        );
        found_ones += u32::from(want.found > 0.1);
    }
    let count = scores.len() as f64;
    let beyond = scores.iter().filter(|z| z.abs() > 3.0).count();
    let square = scores.iter().map(|z| z * z).sum::<f64>() / count;
    assert!(count > 240.0 && found_ones > 40, "{count} {found_ones}");
    assert!(beyond <= 4, "{beyond} of {count}");
    assert!(
        (square - 1.0).abs() < 5.0 * (2.0 / count).sqrt(),
        "mean square {square} of {count}"
    );
}

/// Looks that take nothing off, and cost nothing, leave the time in service as the law has it, stop by stop.
#[test]
fn looks_without_a_limit_change_no_time_in_service() {
    let paths = gasket(0.25);
    let seal = Seal::measured(paths);
    let age = 520.0;
    let policy = CarePolicy {
        looks: Looks::Every(130.0),
        ..CarePolicy::replace_at(age)
    };
    let got = evaluate(&seal, &policy, &terms()).unwrap();
    let survival = |t: f64| 1.0 - paths.past_by(t);
    let service = integrate(survival, 0.0, age, 1e-12).value;
    assert!((got.mean_service / service - 1.0).abs() < 1e-8);
    assert!((got.failed - paths.past_by(age)).abs() < 1e-8);
}
