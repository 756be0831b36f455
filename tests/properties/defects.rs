//! The two-stage defect model: what can happen to a seal, and fits to drawn histories.

use super::drawn;
use proptest::prelude::*;
use sealspan_life::defects::simulate::{LookPlan, simulate};
use sealspan_life::defects::{DefectFit, Model, StageLaw, Theta, fit};
use sealspan_life::life::Life;
use sealspan_numeric::quadrature::integrate;
use sealspan_numeric::random::Stream;
use sealspan_records::history::{Ended, History};

/// Where the detection stands in the parameters.
const DETECTION: usize = 4;

fn law() -> impl Strategy<Value = StageLaw> {
    prop::sample::select(vec![
        StageLaw::Exponential,
        StageLaw::Weibull,
        StageLaw::Lognormal,
        StageLaw::LogLogistic,
    ])
}

/// A model with parameters over a wide range: scales of 50 to 1,100 and 7 to 400 days, shapes of 0.6 to 9.
fn told() -> impl Strategy<Value = (Model, Theta)> {
    let stage = |from, to| (law(), from..to, -2.2..0.5_f64);
    (stage(4.0, 7.0), stage(2.0, 6.0), 0.0..=1.0_f64).prop_map(
        |((defect, mu, spread), (delay, late, narrow), detection)| {
            let model = Model {
                defect,
                delay,
                detection: Some(detection),
            };
            (model, model.pinned([mu, spread, late, narrow, 0.0]))
        },
    )
}

fn at_detection(model: Model, theta: Theta, detection: f64) -> Theta {
    let detection = Some(detection);
    Model { detection, ..model }.pinned(theta)
}

/// When a seal was looked at from an age on, to an end.
#[derive(Debug, Clone)]
struct Watch {
    entry: f64,
    looks: Vec<f64>,
    end: f64,
}

fn watch() -> impl Strategy<Value = Watch> {
    let gaps = prop::collection::vec(1..300_u32, 0..7);
    (prop::option::of(0..600_u32), gaps, 1..400_u32).prop_map(|(entry, gaps, last)| {
        let mut age = 0.0;
        let mut later = |gap| {
            age += f64::from(gap);
            age
        };
        let looks: Vec<f64> = gaps.into_iter().map(&mut later).collect();
        let end = later(last);
        // Between looks, which are in whole days.
        let entry = entry.map_or(0.0, |e| f64::from(e) + 0.5);
        Watch {
            entry: if entry < end { entry } else { 0.0 },
            looks,
            end,
        }
    })
}

/// All that can happen to a seal under watch, each with the looks that had found it sound: it fails between two looks,
/// or is found, or is running at the end.
fn ways(watch: &Watch) -> (Vec<History>, Vec<History>) {
    let (mut failed, mut others) = (vec![], vec![]);
    let mut from = watch.entry;
    for (at, next) in watch.looks.iter().chain([&watch.end]).enumerate() {
        if *next <= watch.entry {
            continue;
        }
        let sound = watch.looks[..at].to_vec();
        let way = |ended| History::new(watch.entry, sound.clone(), ended, 1.0).unwrap();
        failed.push(way(Ended::FailedBetween(from, *next)));
        others.push(if at == watch.looks.len() {
            way(Ended::Running(*next))
        } else {
            way(Ended::Found(*next))
        });
        from = *next;
    }
    (failed, others)
}

fn chance(model: &Model, theta: &Theta, ways: &[History]) -> f64 {
    let one = |way| model.log_likelihood(theta, std::slice::from_ref(way)).exp();
    ways.iter().map(one).sum()
}

proptest! {
    #![proptest_config(drawn(150))]

    #[test]
    fn all_that_can_happen_sums_to_one((model, theta) in told(), watch in watch()) {
        let (failed, others) = ways(&watch);
        let sum = chance(&model, &theta, &failed) + chance(&model, &theta, &others);
        prop_assert!((sum - 1.0).abs() < 1e-6, "{sum}");
    }

    #[test]
    fn looks_that_see_more_let_fewer_fail((model, theta) in told(), watch in watch(), r in 0.0..=1.0_f64, more in 0.0..=1.0_f64) {
        let (failed, _) = ways(&watch);
        let at = |r: f64| chance(&model, &at_detection(model, theta, r), &failed);
        let (few, many) = (at(r.min(more)), at(r.max(more)));
        prop_assert!(many <= few + 1e-7, "{few} {many}");
        // Looks that see nothing find nothing: as many fail as without a look.
        let none = Watch { looks: watch.looks.iter().copied().filter(|look| *look < watch.entry).collect(), ..watch };
        let (blind, without) = (at(0.0), chance(&model, &at_detection(model, theta, 0.0), &ways(&none).0));
        prop_assert!((blind - without).abs() < 1e-6, "{blind} {without}");
    }

    #[test]
    fn the_density_adds_up_to_the_chance_between_looks((model, theta) in told(), first in 1.0..300.0_f64, gap in 1.0..300.0_f64) {
        let to = first + gap;
        let way = |ended| [History::new(0.0, vec![first], ended, 1.0).unwrap()];
        let density = |t: f64| model.log_likelihood(&theta, &way(Ended::Failed(t))).exp();
        // From where the look is no longer on the day of the failure.
        let from = first + 1e-6;
        let sum = integrate(density, from, to, 1e-8).value;
        let whole = chance(&model, &theta, &way(Ended::FailedBetween(first, to)));
        prop_assert!((sum - whole).abs() < 1e-5, "{sum} {whole}");
    }
}

/// A fleet of seals of drawn laws, looked at by a drawn plan.
fn fleet() -> impl Strategy<Value = Vec<History>> {
    let life = |low, high| {
        (0.8..4.0_f64, low..high).prop_map(|(shape, scale)| Life::weibull(shape, scale).unwrap())
    };
    let sizes = prop::sample::select(vec![8_usize, 40, 80]);
    let looks = (20.0..150.0_f64, 0.0..0.5_f64, 0.0..200.0_f64, 0.3..=1.0_f64);
    (
        life(200.0, 900.0),
        life(30.0, 300.0),
        looks,
        sizes,
        any::<u64>(),
    )
        .prop_map(
            |(defect, delay, (every, skipped, entry, detection), size, seed)| {
                let plan = LookPlan {
                    every,
                    jitter: 0.3 * every,
                    skipped,
                    until: (300.0, 1000.0),
                    entry,
                    detection,
                };
                let mut stream = Stream::new(seed, 0);
                let seals = (0..size).filter_map(|_| simulate(&defect, &delay, &plan, &mut stream));
                seals.collect()
            },
        )
}

/// Histories of seals that no law made, of which something may be missing: with 0 none failed, with 1 none was found
/// defective, with 2 no look found one sound.
fn histories_that_lack(what: std::ops::Range<u8>) -> impl Strategy<Value = Vec<History>> {
    let looks = prop::collection::vec(0..400_u32, 0..6);
    let one = (0..4_u8, 1..400_u32, 0..100_u32, 0..300_u32, looks, 1..4_u32);
    (what, prop::collection::vec(one, 0..25)).prop_map(|(lacking, list)| {
        let t = f64::from;
        let seals = list.into_iter();
        let seals = seals.filter_map(|(kind, age, width, entry, looks, count)| {
            let ended = match kind {
                0 => Ended::Failed(t(age)),
                1 => Ended::FailedBetween(t(age - age.min(width)), t(age)),
                2 => Ended::Found(t(age)),
                _ => Ended::Running(t(age)),
            };
            let missing = match lacking {
                0 => kind < 2,
                1 => kind == 2,
                _ => false,
            };
            let looks = if lacking == 2 { vec![] } else { looks };
            let looks = looks.into_iter().map(t).collect();
            let history = History::new(t(entry.min(age / 2)), looks, ended, t(count));
            history.ok().filter(|_| !missing)
        });
        seals.collect()
    })
}

fn models() -> impl Strategy<Value = Model> {
    let stated = prop::option::of(0.3..=1.0_f64);
    (law(), law(), stated).prop_map(|(defect, delay, detection)| Model {
        defect,
        delay,
        detection,
    })
}

/// A fit of finite numbers, or a refusal in words with a cure.
fn fitted(model: Model, list: &[History]) -> Result<Option<DefectFit>, TestCaseError> {
    match fit(model, list.to_vec()) {
        Ok(found) => {
            let free = &found.theta[..DETECTION];
            prop_assert!(free.iter().all(|x| x.is_finite()), "{:?}", found.theta);
            prop_assert!(found.detection() > 0.0 && found.detection() <= 1.0);
            prop_assert!(found.covariance.iter().all(|v| v.is_finite()));
            prop_assert!(found.covariance.diagonal().iter().all(|v| *v >= 0.0));
            prop_assert!(found.log_likelihood.is_finite());
            Ok(Some(found))
        }
        Err(why) => {
            prop_assert!(!why.to_string().is_empty() && !why.cure().is_empty());
            Ok(None)
        }
    }
}

/// No parameters some standard errors away are likelier.
fn is_highest(found: &DefectFit, steps: &[[f64; 5]]) -> Result<(), TestCaseError> {
    let at = found.model.log_likelihood(&found.theta, &found.histories);
    prop_assert!(
        (at - found.log_likelihood).abs() < 1e-6,
        "{at} {}",
        found.log_likelihood
    );
    for step in steps {
        let mut theta = found.theta;
        for (i, (slot, far)) in theta.iter_mut().zip(step).enumerate() {
            // Nought where a parameter is held.
            let error = found.covariance[(i, i)].sqrt();
            if error > 0.0 {
                *slot += far * error;
            }
        }
        let there = found.model.log_likelihood(&theta, &found.histories);
        prop_assert!(there <= at + 1e-4, "{step:?}: {there} {at}");
    }
    Ok(())
}

fn steps() -> impl Strategy<Value = Vec<[f64; 5]>> {
    let far = prop::sample::select(vec![0.05, 0.5, 2.0]);
    let step =
        (far, prop::array::uniform5(-1.0..1.0_f64)).prop_map(|(far, step)| step.map(|s| far * s));
    prop::collection::vec(step, 12)
}

fn in_hours(history: &History) -> History {
    let t = |days: f64| 24.0 * days;
    let ended = match history.ended() {
        Ended::Failed(a) => Ended::Failed(t(a)),
        Ended::FailedBetween(a, b) => Ended::FailedBetween(t(a), t(b)),
        Ended::Found(a) => Ended::Found(t(a)),
        Ended::Running(a) => Ended::Running(t(a)),
    };
    let looks = history.looks().iter().map(|look| t(*look)).collect();
    History::new(t(history.entry()), looks, ended, history.count()).unwrap()
}

proptest! {
    #![proptest_config(drawn(8))]

    #[test]
    fn fits_are_the_highest_about_them_in_any_order_and_unit(model in models(), list in fleet(), steps in steps(), turn in 0..100_usize) {
        let days = fitted(model, &list)?;
        let mut turned = list.clone();
        turned.rotate_left(turn % list.len().max(1));
        turned.reverse();
        let again = fitted(model, &turned)?;
        prop_assert_eq!(again.as_ref().map(|f| f.theta), days.as_ref().map(|f| f.theta));
        let hours = fitted(model, &list.iter().map(in_hours).collect::<Vec<_>>())?;
        prop_assert_eq!(days.is_some(), hours.is_some());
        if let Some((days, hours)) = days.zip(hours) {
            is_highest(&days, &steps)?;
            prop_assert_eq!((days.detection_at_edge, days.delay_at_edge), (hours.detection_at_edge, hours.delay_at_edge));
            for i in 0..DETECTION {
                let moved = if i % 2 == 0 { 24f64.ln() } else { 0.0 };
                let off = hours.theta[i] - days.theta[i] - moved;
                let error = days.covariance[(i, i)].sqrt();
                prop_assert!(off.abs() <= 1e-3 * error + 1e-12, "{i}: {:?} {:?}", days.theta, hours.theta);
            }
        }
    }
}

proptest! {
    #![proptest_config(drawn(100))]

    #[test]
    fn what_the_histories_lack_is_told(model in models(), list in histories_that_lack(0..3)) {
        prop_assert!(fitted(model, &list)?.is_none());
    }
}

proptest! {
    // A refusal of few seals may take some seconds.
    #![proptest_config(drawn(10))]

    #[test]
    fn any_histories_are_fitted_or_refused_in_words(model in models(), list in histories_that_lack(3..4)) {
        fitted(model, &list)?;
    }
}
