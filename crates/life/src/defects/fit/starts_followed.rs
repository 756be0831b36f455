//! Which starts are followed uphill, and that the highest hill is stood on.
#![allow(clippy::unwrap_used)]
use super::*;
use crate::defects::simulate::{LookPlan, simulate};
use sealspan_numeric::random::Stream;
use sealspan_records::history::Ended;

/// The best three delays are followed where one detection is stated, and the best of each detection else, the
/// likeliest first.
#[test]
fn three_starts_are_followed_whether_detection_is_stated_or_not() {
    let history = |looks: &[f64], ended: Ended| History::new(0.0, looks.to_vec(), ended, 1.0);
    let histories: Vec<History> = [
        history(&[200.0, 400.0], Ended::Found(600.0)),
        history(&[200.0, 400.0], Ended::Failed(470.0)),
        history(&[200.0, 400.0, 600.0], Ended::Running(650.0)),
    ]
    .map(Result::unwrap)
    .into();
    for detection in [Some(0.7), None] {
        let model = Model {
            defect: StageLaw::Weibull,
            delay: StageLaw::Weibull,
            detection,
        };
        let pinned = |theta: Theta| model.pinned(theta);
        let problem = Problem {
            model,
            histories: &histories,
            base: pinned([0.0; PARAMETERS]),
            free: model.free(),
            seals: 3.0,
            rough: true,
            sharpest: SHARPEST,
        };
        let all = starts(model, &histories);
        let value = |theta: &Theta| problem.value(&problem.pick(theta));
        let best = all
            .iter()
            .flatten()
            .map(value)
            .fold(f64::NEG_INFINITY, f64::max);
        let found = ranked(&problem, all, &pinned);
        assert_eq!(found.len(), 3, "{detection:?}");
        assert_eq!(found[0].0, best);
        assert!(found.windows(2).all(|w| w[0].0 >= w[1].0));
    }
}

/// Invented fleets of a few dozen seals, laws and looks drawn.
fn fleet(seed: u64) -> Vec<History> {
    let mut stream = Stream::new(seed, 0);
    let mut between = |low: f64, high: f64| low + (high - low) * stream.uniform();
    let mut law = |shape: (f64, f64), scale: (f64, f64)| {
        let shape = between(shape.0, shape.1);
        Life::weibull(shape, between(scale.0, scale.1)).unwrap()
    };
    let (defect, delay) = (
        law((1.0, 4.0), (300.0, 1200.0)),
        law((0.8, 4.8), (20.0, 420.0)),
    );
    let plan = LookPlan {
        every: between(30.0, 130.0),
        jitter: between(0.0, 20.0),
        skipped: between(0.0, 0.2),
        until: (300.0, 1200.0),
        entry: 0.0,
        detection: between(0.2, 1.0),
    };
    let seals = 8 + between(0.0, 60.0) as usize;
    (0..seals)
        .map(|_| simulate(&defect, &delay, &plan, &mut stream).unwrap())
        .collect()
}

/// The likelihood of few seals has hills of blind looks and of keen ones: the start that is likeliest itself leads up
/// the lower one here, and the fit stands on the higher.
#[test]
fn of_two_hills_the_higher_is_climbed() {
    let cases = [
        (251, StageLaw::LogLogistic, StageLaw::Exponential),
        (318, StageLaw::Weibull, StageLaw::LogLogistic),
    ];
    for (seed, defect, delay) in cases {
        let model = Model {
            defect,
            delay,
            detection: None,
        };
        let found = fit(model, fleet(seed)).unwrap();
        let histories = &found.histories;
        let pinned = |theta: Theta| model.pinned(theta);
        let mut problem = Problem {
            model,
            histories,
            base: pinned([0.0; PARAMETERS]),
            free: model.free(),
            seals: found.counts.seals,
            rough: true,
            sharpest: SHARPEST,
        };
        let ranked = ranked(&problem, starts(model, histories), &pinned);
        problem.rough = false;
        let mut reached = |theta: &Theta| {
            problem.base = *theta;
            refine(&problem, &problem.pick(theta)).map_or(f64::NEG_INFINITY, |m| m.value)
        };
        let reached: Vec<f64> = ranked.iter().map(|(_, theta)| reached(theta)).collect();
        let highest = reached.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        assert!(reached[0] < highest - 0.1, "{seed}: {reached:?}");
        assert!(
            found.log_likelihood > highest - 1e-6,
            "{seed}: {} {reached:?}",
            found.log_likelihood
        );
    }
}
