//! The end of a cycle where it is known in closed form.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::evaluate::Prepared;
use crate::policy::CarePolicy;
use crate::seal::Seal;
use sealspan_life::life::Life;

const FOUND: f64 = 0.7;
const DELAY: f64 = 90.0;
const STEP: f64 = 60.0;

fn model(onset: Life) -> Prepared {
    let seal = Seal {
        detection: FOUND,
        ..Seal::two_stage(onset, Life::exponential(DELAY).unwrap())
    };
    let policy = CarePolicy::inspect_every(STEP);
    Prepared::new(&seal).unwrap().under(&policy).unwrap()
}

/// Share found, looks and time defective of defects that come evenly within a gap, with exponential delays: each look
/// meets e^(−time since onset) of them, and all others fail.
fn known() -> (f64, f64, f64) {
    let gap = (-STEP / DELAY).exp();
    let looks = DELAY / STEP * (1.0 - gap) / (1.0 - (1.0 - FOUND) * gap);
    let found = FOUND * looks;
    (found, looks, DELAY * (1.0 - found))
}

#[test]
fn a_defect_between_two_looks_ends_as_a_delay_without_memory_does() {
    let model = model(Life::weibull(2.0, 400.0).unwrap());
    let mut walk = Walk::new(&model, SEARCH_LEVEL + 3, None);
    walk.age = 1000.0;
    let fate = walk.fate(STEP).unwrap();
    let (found, looks, time) = known();
    assert!(
        (fate.found / found - 1.0).abs() < 1e-9,
        "{} {found}",
        fate.found
    );
    assert!(
        (fate.looks / looks - 1.0).abs() < 1e-9,
        "{} {looks}",
        fate.looks
    );
    assert!(
        (fate.time / time - 1.0).abs() < 1e-9,
        "{} {time}",
        fate.time
    );
}

/// Sound time by Simpson's rule in the logarithm of age as far as the oldest age that is considered, looks one by one.
#[test]
fn what_is_left_of_a_cycle_is_counted_once() {
    for onset in [
        Life::exponential(4000.0).unwrap(),
        Life::parse("loglogistic:shape=2.5,scale=300").unwrap(),
    ] {
        let model = model(onset.clone());
        let mut walk = Walk::new(&model, SEARCH_LEVEL + 3, None);
        // Far enough, with less than a millionth left.
        walk.age = onset.quantile(1.0 - 5e-7).max(1001.0 * STEP);
        let (age, left) = (walk.age, onset.survival(walk.age));
        (walk.sound, walk.defective) = (left, 0.0);
        assert!(walk.close(STEP));
        let n = 40_000;
        let h = (model.oldest() / age).ln() / f64::from(n);
        let at = |i: i32| {
            let t = age * (h * f64::from(i)).exp();
            let weight = if i == 0 || i == n {
                1.0
            } else {
                f64::from(2 + 2 * (i % 2))
            };
            weight * t * onset.survival(t)
        };
        let sound: f64 = h / 3.0 * (0..=n).map(at).sum::<f64>();
        let (found, looks, time) = known();
        let totals = &walk.totals;
        assert!((totals.found / (left * found) - 1.0).abs() < 1e-9);
        assert!((totals.failed / (left * (1.0 - found)) - 1.0).abs() < 1e-9);
        let service = sound + left * time;
        assert!(
            (totals.service / service - 1.0).abs() < 1e-7,
            "{} {service}",
            totals.service
        );
        // Sound at each look as far as the oldest age.
        let most = ((model.oldest() - age) / STEP) as u32;
        let met = (1..=most).map(|k| onset.survival(age + STEP * f64::from(k)));
        let want = met.sum::<f64>() + left * looks;
        assert!(
            (totals.looks / want - 1.0).abs() < 1e-5,
            "{} {want}",
            totals.looks
        );
        // Each look is an opening.
        assert_eq!(totals.openings, totals.looks);
    }
}

/// What is left out is of the size of the share left over the gaps in the age. A search may stop where that is 1e-5; an
/// answer, exact to 1e-8, where it is 1e-9.
#[test]
fn an_answer_goes_on_where_a_search_may_stop() {
    let model = model(Life::exponential(4000.0).unwrap());
    let closes = |level: u32, left: f64, gaps: f64| {
        let mut walk = Walk::new(&model, level, None);
        (walk.age, walk.sound) = (gaps * STEP, left);
        walk.close(STEP)
    };
    for (left, gaps, search, answer) in [
        (0.9e-3, 101.0, true, false),
        (0.9e-6, 999.0, true, false),
        (1.1e-6, 1001.0, true, false),
        (0.9e-6, 1001.0, true, true),
        (1.1e-3, 1001.0, false, false),
        (0.9e-6, 99.0, false, false),
    ] {
        assert_eq!(closes(SEARCH_LEVEL, left, gaps), search, "{left} {gaps}");
        assert_eq!(
            closes(SEARCH_LEVEL + 1, left, gaps),
            answer,
            "{left} {gaps}"
        );
    }
}
