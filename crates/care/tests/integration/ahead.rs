//! Demand period by period: against the renewal function, event-by-event play, and fleets of known life.

use sealspan_care::ahead::ending::{Ending, Removal};
use sealspan_care::ahead::first::first_failures;
use sealspan_care::ahead::fleet::{Cohort, Fleet, Joining};
use sealspan_care::ahead::months::{Ahead, Months};
use sealspan_care::ahead::play::play_fleet;
use sealspan_care::block::Renewals;
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::forecast::{Outlook, Running};
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Clock;

fn ahead(ending: &Ending, draws: &[Ending], fleet: &Fleet, period: f64, periods: usize) -> Months {
    question(ending, draws, fleet, period, periods)
        .answer()
        .unwrap()
}

fn question<'a>(
    ending: &'a Ending,
    draws: &'a [Ending],
    fleet: &'a Fleet,
    period: f64,
    periods: usize,
) -> Ahead<'a> {
    Ahead {
        ending,
        draws,
        fleet,
        period,
        periods,
        confidence: 0.9,
        batch_spread: 0.0,
        seed: 3,
    }
}

fn weibull(shape: f64, scale: f64) -> Life {
    Life::weibull(shape, scale).unwrap()
}

fn new_seals(count: usize) -> Fleet {
    Fleet::of(&[Running { age: 0.0, count }])
}

/// New seals run to failure ask for the renewal function, period by period.
#[test]
fn renewal_function() {
    for shape in [1.0, 2.5, 4.0] {
        let life = weibull(shape, 300.0);
        let got = ahead(
            &Ending::new(&life, None).unwrap(),
            &[],
            &new_seals(100),
            30.0,
            24,
        );
        let m = Renewals::new(&life, 720.0).unwrap();
        for month in &got.months {
            let want = 100.0 * (m.mean(month.until) - m.mean(month.from));
            let off = (month.unplanned.expected - want).abs();
            assert!(
                off < 2e-3 * want + 2e-3,
                "shape {shape}: {month:?} against {want}"
            );
            assert_eq!(month.planned.expected, 0.0);
        }
        assert!((got.total.unplanned.expected / (100.0 * m.mean(720.0)) - 1.0).abs() < 5e-4);
    }
}

/// Means, variances and interval ends against playing the fleet: replaced at an age, another removal going on, some
/// seals overdue, some joining.
#[test]
fn against_play() {
    let mut ending = Ending::new(&weibull(2.2, 260.0), Some(210.0)).unwrap();
    ending.others = vec![Removal {
        life: weibull(1.3, 900.0),
        rate: 1.4,
    }];
    ending.failure_rate = 0.8;
    let fleet = Fleet {
        batches: vec![
            [
                (0.0, 6.0),
                (40.0, 5.0),
                (130.0, 8.0),
                (205.0, 4.0),
                (250.0, 3.0),
            ]
            .map(|(age, count)| Cohort { age, count })
            .to_vec(),
        ],
        marks: vec![],
        joining: vec![Joining {
            at: 100.0,
            positions: 5.0,
        }],
        leaving: 0.0,
    };
    let got = ahead(&ending, &[], &fleet, 30.4375, 12);
    let cases = question(&ending, &[], &fleet, 30.4375, 12).cases().unwrap();
    let runs = 20_000;
    let played = play_fleet(&ending, &fleet, 30.4375, 12, runs, 7).unwrap();
    let n = runs as f64;
    for (i, month) in got.months.iter().enumerate() {
        for (kind, expected, pick) in [
            (
                0,
                month.unplanned.expected,
                (|p: (u32, u32)| p.0) as fn((u32, u32)) -> u32,
            ),
            (1, month.planned.expected, |p| p.1),
            (2, month.all.expected, |p| p.0 + p.1),
        ] {
            let seen: Vec<f64> = played.iter().map(|run| f64::from(pick(run[i]))).collect();
            let mean = seen.iter().sum::<f64>() / n;
            let variance = seen.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n;
            let error = (variance / n).sqrt();
            // A replacement age within a step is held at its middle: a small part moves to the next period.
            assert!(
                (mean - expected).abs() < 4.5 * error + 0.04,
                "{i} {kind}: {mean} {expected}"
            );
            let worked = cases.best[i].counts[kind].variance;
            assert!(
                (variance - worked).abs() < 0.06 * variance + 0.06,
                "{i} {kind}: {variance} {worked}"
            );
        }
    }
    let totals: Vec<f64> = played
        .iter()
        .map(|run| run.iter().map(|p| f64::from(p.0)).sum())
        .collect();
    let inside = totals
        .iter()
        .filter(|t| {
            (got.total.unplanned.lower as f64..=got.total.unplanned.upper as f64).contains(t)
        })
        .count() as f64;
    assert!((0.9..0.97).contains(&(inside / n)), "{}", inside / n);
    assert_eq!(got.months[3].joining, 5.0);
}

/// First failures alone are those of the forecast of first failures.
#[test]
fn first_failures_are_those_of_the_forecast() {
    let life = weibull(2.0, 500.0);
    let running: Vec<Running> = (0..40)
        .map(|i| Running {
            age: 15.0 * f64::from(i),
            count: 3,
        })
        .collect();
    let cohorts: Vec<Cohort> = running
        .iter()
        .map(|r| Cohort {
            age: r.age,
            count: 3.0,
        })
        .collect();
    let (counts, expected) =
        first_failures(&Ending::new(&life, None).unwrap(), &[], &cohorts, 100.0).unwrap();
    let outlook = Outlook {
        running: &running,
        life: &life,
        draws: &[],
        horizon: 100.0,
        periods: 1,
        confidence: 0.9,
        oldest_seen: None,
        with_renewals: false,
    };
    let known = outlook.forecast().unwrap();
    assert!((expected / known.expected - 1.0).abs() < 1e-12);
    assert_eq!(
        (counts.quantile(0.05), counts.quantile(0.95)),
        (known.lower, known.upper)
    );
}

/// Positions that leave take their demand with them; a batch spread and unknown lives widen the interval.
#[test]
fn leaving_batches_and_estimation_error() {
    let life = weibull(2.0, 400.0);
    let ending = Ending::new(&life, None).unwrap();
    let old = Fleet {
        batches: vec![vec![Cohort {
            age: 150.0,
            count: 400.0,
        }]],
        ..Fleet::default()
    };
    let plain = ahead(&ending, &[], &old, 30.0, 12);
    let fewer = Fleet {
        leaving: 0.001,
        ..old.clone()
    };
    let left = ahead(&ending, &[], &fewer, 30.0, 12);
    for (a, b) in plain.months.iter().zip(&left.months) {
        let kept = 0.999_f64.powf(0.5 * (a.from + a.until));
        assert!((b.all.expected / a.all.expected - kept).abs() < 1e-9);
    }
    let width = |m: &Months| m.total.unplanned.upper - m.total.unplanned.lower;
    let mut stream = Stream::new(1, 0);
    let draws: Vec<Ending> = (0..200)
        .map(|_| Ending::new(&weibull(2.0, 400.0 * (0.08 * stream.normal()).exp()), None).unwrap())
        .collect();
    let drawn = ahead(&ending, &draws, &old, 30.0, 12);
    assert!(width(&drawn) as f64 > 1.5 * width(&plain) as f64);
    let same = vec![ending.clone(); 200];
    let shared = Ahead {
        batch_spread: 0.2,
        ..question(&ending, &same, &old, 30.0, 12)
    };
    assert!(width(&shared.answer().unwrap()) as f64 > 2.0 * width(&plain) as f64);
    // Many small batches: their qualities cancel.
    let split = Fleet {
        batches: vec![
            vec![Cohort {
                age: 150.0,
                count: 4.0
            }];
            100
        ],
        ..Fleet::default()
    };
    let many = Ahead {
        fleet: &split,
        periods: 4,
        ..shared.clone()
    };
    let one = Ahead {
        periods: 4,
        ..shared
    };
    assert!(width(&many.answer().unwrap()) < width(&one.answer().unwrap()));
    assert!(
        Ahead {
            batch_spread: 0.2,
            ..question(&ending, &[], &old, 30.0, 12)
        }
        .answer()
        .is_err()
    );
}

/// Intervals from draws of a fitted life hold the failures to come about as often as they say.
#[test]
fn intervals_are_calibrated() {
    use sealspan_life::{draws::lives, fit::fit, laws::by_name};
    use sealspan_records::observation::{Observation, Sample};
    let truth = weibull(2.0, 500.0);
    let (mut inside, mut mass, trials) = (0, 0.0, 160);
    for trial in 0..trials {
        let mut stream = Stream::new(77, trial);
        let mut rows = vec![];
        let mut running = vec![];
        for _ in 0..60 {
            let (age, entry) = (truth.sample(stream.uniform()), 600.0 * stream.uniform());
            if age <= entry {
                rows.push(Observation::exact(age, 0.0, 1.0).unwrap());
            } else {
                rows.push(Observation::right(entry, 0.0, 1.0).unwrap());
                running.push((entry, age));
            }
        }
        let fit = fit(by_name("weibull").unwrap(), &Sample::new(rows)).unwrap();
        let draws: Vec<Ending> = lives(&fit, 200, trial)
            .iter()
            .map(|l| Ending::new(l, None).unwrap())
            .collect();
        let cohorts: Vec<Cohort> = running
            .iter()
            .map(|(age, _)| Cohort {
                age: *age,
                count: 1.0,
            })
            .collect();
        let centre = Ending::new(&fit.life(), None).unwrap();
        let (counts, _) = first_failures(&centre, &draws, &cohorts, 180.0).unwrap();
        let (low, high) = (counts.quantile(0.05), counts.quantile(0.95));
        let seen = running
            .iter()
            .filter(|(entry, age)| *age <= entry + 180.0)
            .count();
        inside += u32::from((low..=high).contains(&seen));
        mass += (low..=high).map(|k| counts.probability(k)).sum::<f64>();
    }
    let (share, stated) = (f64::from(inside) / trials as f64, mass / trials as f64);
    // Whole numbers make the intervals hold a little more than 0.9; 4 standard errors of 160 trials.
    assert!(
        stated > 0.9
            && (share - stated).abs() < 4.0 * (stated * (1.0 - stated) / trials as f64).sqrt(),
        "{share} {stated}"
    );
}

/// The best age with no other removals is that of the evaluator.
#[test]
fn best_age() {
    let life = weibull(2.5, 400.0);
    let prices = Prices {
        planned_cost: 60.0,
        failure_cost: 400.0,
        ..Prices::default()
    };
    let exact = Evaluator::new(&life, &Costs::new(prices, Clock::Days).unwrap(), Goal::Cost)
        .unwrap()
        .best_age()
        .unwrap()
        .unwrap();
    let mut ending = Ending::new(&life, None).unwrap();
    let found = ending.best_age(1.0, 400.0, 60.0).unwrap();
    assert!((found - exact).abs() <= 1.0, "{found} {exact}");
    assert_eq!(
        Ending::new(&weibull(1.0, 400.0), None)
            .unwrap()
            .best_age(1.0, 400.0, 60.0),
        None
    );
    // Other removals renew seals anyway, so planned replacement is worth less and comes no earlier.
    ending.others = vec![Life::exponential(300.0).unwrap().into()];
    assert!(
        ending
            .best_age(1.0, 400.0, 60.0)
            .is_none_or(|age| age > 0.95 * exact)
    );
}

/// A million ages become a grid; the demand stays the same.
#[test]
fn a_million_seals() {
    let mut stream = Stream::new(2, 0);
    let running: Vec<Running> = (0..100_000)
        .map(|_| Running {
            age: 900.0 * stream.uniform(),
            count: 10,
        })
        .collect();
    let life = weibull(2.0, 600.0);
    let ending = Ending::new(&life, None).unwrap();
    let got = ahead(&ending, &[], &Fleet::of(&running), 30.0, 1);
    let exact: f64 = running
        .iter()
        .map(|r| 10.0 * (1.0 - life.survival(r.age + 30.0) / life.survival(r.age)))
        .sum();
    // Failures of replacements within the month are the difference.
    let rest = got.months[0].unplanned.expected / exact - 1.0;
    assert!(rest > 0.0 && rest < 2e-3, "{rest}");
    // With a replacement age: the overdue go at once, the others as each by itself, but that about five seals whose
    // change falls on the last step are shared with the time beyond.
    let planned = Ending::new(&life, Some(700.0)).unwrap();
    let some: Vec<Running> = running.iter().step_by(100).copied().collect();
    let together = ahead(&planned, &[], &Fleet::of(&some), 30.0, 6);
    let apart = some.chunks(50).map(|few| {
        let answer = ahead(&planned, &[], &Fleet::of(few), 30.0, 6);
        answer.total.all.expected
    });
    let sum: f64 = apart.sum();
    assert!((together.total.all.expected - sum).abs() < 3.5);
}

#[test]
fn nonsense_is_refused() {
    let ending = Ending::new(&weibull(2.0, 400.0), None).unwrap();
    let none = Fleet::default();
    let fleet = new_seals(3);
    let ask = |q: Ahead| q.answer().unwrap_err().to_string();
    assert!(ask(question(&ending, &[], &none, 30.0, 3)).contains("no seal is running"));
    assert!(ask(question(&ending, &[], &fleet, 0.0, 3)).contains("length of a period"));
    assert!(ask(question(&ending, &[], &fleet, 30.0, 0)).contains("number of periods"));
    assert!(
        ask(question(
            &ending,
            std::slice::from_ref(&ending),
            &fleet,
            30.0,
            3
        ))
        .contains("draws")
    );
    assert!(ask(question(&ending, &[], &fleet, 20_000.0, 3)).contains("shorter periods"));
    let gone = Fleet {
        leaving: 1.0,
        ..new_seals(3)
    };
    assert!(ask(question(&ending, &[], &gone, 30.0, 3)).contains("leave"));
    assert!(Ending::new(&weibull(2.0, 400.0), Some(0.0)).is_err());
}

/// Seals that live twice as long, seed by seed.
#[test]
fn a_stretch_is_a_longer_life() {
    let running = [(50.0, 40), (160.0, 10)].map(|(age, count)| Running { age, count });
    let played = |scale: f64, stretch: f64| {
        let life = Life::weibull(3.0, scale).unwrap();
        let ending = Ending::new(&life, Some(300.0)).unwrap().stretched(stretch);
        play_fleet(&ending, &Fleet::of(&running), 30.0, 12, 200, 3).unwrap()
    };
    assert_eq!(played(100.0, 2.0), played(200.0, 1.0));
    assert_ne!(played(100.0, 1.0), played(200.0, 1.0));
}
