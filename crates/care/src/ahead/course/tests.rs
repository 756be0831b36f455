//! Seals that end and seals in place are all there are, and stretched lives are lives of another scale.
#![allow(clippy::unwrap_used)]
use super::*;
use crate::policy::Looks;

fn weibull(shape: f64, scale: f64) -> Life {
    Life::weibull(shape, scale).unwrap()
}

fn seals(factor: f64) -> Vec<Seal> {
    let life = weibull(2.0, 400.0 * factor);
    let two = Seal::two_stage(life.clone(), weibull(1.5, 150.0 * factor));
    let ring = Seal::one_stage(life.clone())
        .with_severities(&[2.0, 1.0, 1.0, 0.5])
        .unwrap();
    let one = Seal::one_stage(life);
    [one.clone(), one, two.clone(), two, ring]
        .into_iter()
        .enumerate()
        .map(|(i, seal)| Seal {
            detection: 0.7,
            handling_damage: 0.05,
            failure: if i % 2 == 1 {
                FailureSign::Hidden
            } else {
                FailureSign::Evident
            },
            ..seal
        })
        .collect()
}

fn policy(replace_at: Option<f64>) -> CarePolicy {
    CarePolicy {
        looks: Looks::Every(60.0),
        replace_at,
        ..CarePolicy::run_to_failure()
    }
}

#[test]
fn what_ended_and_what_is_in_place_is_all() {
    for (i, seal) in seals(1.0).iter().enumerate() {
        for replace_at in [None, Some(300.0)] {
            let course = Course::new(seal, (1.0, 1.0), 10.0, 60).unwrap();
            let mut state = course.fitted();
            let mut ended = 0.0;
            for step in course.run(&mut state, &policy(replace_at), 50) {
                assert!(step.ended.unplanned >= 0.0 && step.ended.planned >= 0.0);
                ended += step.ended.unplanned + step.ended.planned;
            }
            let all = ended + course.in_place(&state);
            assert!((all - 1.0).abs() < 1e-12, "{i} {replace_at:?} {all}");
        }
    }
}

#[test]
fn lives_stretched_are_lives_of_another_scale() {
    for (i, (seal, longer)) in seals(1.0).iter().zip(&seals(1.6)).enumerate() {
        let stretched = Course::new(seal, (1.6, 1.0), 10.0, 60).unwrap();
        let plain = Course::new(longer, (1.0, 1.0), 10.0, 60).unwrap();
        let steps = [stretched, plain].map(|course| {
            let mut state = course.fitted();
            course.run(&mut state, &policy(Some(450.0)), 50)
        });
        for (a, b) in steps[0].iter().zip(&steps[1]) {
            let off = (a.ended.unplanned - b.ended.unplanned).abs()
                + (a.ended.planned - b.ended.planned).abs();
            assert!(off < 1e-12, "{i} {a:?} {b:?}");
        }
    }
}
