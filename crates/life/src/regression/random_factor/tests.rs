//! Levels as draws, against plain sums, quadrature and the plain regression.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use crate::batches::{Cell, levels};
use crate::laws::by_name;
use crate::life::Life;
use crate::regression::Penalty;
use crate::terms::Terms;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::{Observation, Sample};
use std::sync::Arc;

/// Lives of many levels, shifted by normals of a spread, half of them by 0.4 for a factor of two levels.
fn fleet(count: usize, seals: usize, tau: f64, seed: u64) -> Vec<(usize, f64, Sample)> {
    let life = Life::weibull(2.0, 500.0).unwrap();
    let mut stream = Stream::new(seed, 0);
    (0..count)
        .map(|level| {
            let (shift, x) = (tau * stream.normal(), (level % 2) as f64);
            let rows = (0..seals).map(|_| {
                let age = (shift + 0.4 * x).exp() * life.sample(stream.uniform());
                let end = 900.0 * stream.uniform();
                if age <= end {
                    Observation::exact(age, 0.0, 1.0).unwrap()
                } else {
                    Observation::right(end, 0.0, 1.0).unwrap()
                }
            });
            (level, x, Sample::new(rows.collect()))
        })
        .collect()
}

fn design(fleet: &[(usize, f64, Sample)], with_x: bool) -> (Design, Vec<usize>) {
    let mut names = vec!["intercept".to_owned()];
    names.extend(with_x.then(|| "x".to_owned()));
    let line = |(_, x, sample): &(usize, f64, Sample)| {
        let mut row = vec![(0, 1.0)];
        row.extend((with_x && *x != 0.0).then_some((1, *x)));
        Line {
            row,
            offset: 0.0,
            stratum: 0,
            terms: Arc::new(Terms::new(sample)),
        }
    };
    let design = Design {
        names,
        lines: fleet.iter().map(line).collect(),
        strata: 1,
        penalties: vec![],
    };
    (design, fleet.iter().map(|f| f.0).collect())
}

/// Three thousand levels: the spread, the effect beside it and the shape are recovered.
#[test]
fn many_levels_give_back_what_was_put_in() {
    let fleet = fleet(3000, 8, 0.3, 5);
    let (design, level_of) = design(&fleet, true);
    let family = by_name("weibull").unwrap();
    let found = random_factor(family, &design, &level_of, 3000, 0.9, None).unwrap();
    let (effect, error) = found.regression.combination(&found.regression.unit(1));
    assert!((effect - 0.4).abs() < 4.0 * error, "{effect} {error}");
    let tau = found.spread.tau;
    assert!((tau - 0.3).abs() < 0.04, "{tau}");
    assert!(found.spread.lower < tau && tau < found.spread.upper.unwrap());
    let (sigma, ..) = found.regression.sigma(0.9).unwrap();
    assert!((sigma - 0.5).abs() < 0.02, "{sigma}");
}

/// Levels of three seals each, fewer than two failures among them: the climb with σ free has no maximum there.
#[test]
fn levels_of_a_failure_or_two_are_answered() {
    let fleet = fleet(2000, 3, 0.3, 21);
    let (design, level_of) = design(&fleet, true);
    let family = by_name("weibull").unwrap();
    let found = random_factor(family, &design, &level_of, 2000, 0.9, None).unwrap();
    let tau = found.spread.tau;
    assert!((tau - 0.3).abs() < 0.08, "{tau}");
    let (sigma, ..) = found.regression.sigma(0.9).unwrap();
    assert!((sigma - 0.5).abs() < 0.04, "{sigma}");
}

/// A stated spread is used as it is: levels are drawn in the more, the smaller it is.
#[test]
fn a_stated_spread_is_honoured() {
    let fleet = fleet(300, 8, 0.3, 5);
    let (design, level_of) = design(&fleet, true);
    let family = by_name("weibull").unwrap();
    let widest = |tau: f64| {
        let found = random_factor(family, &design, &level_of, 300, 0.9, Some(tau)).unwrap();
        assert_eq!(found.spread.tau, tau);
        let shifts = found.levels.iter().map(|l| l.shift.abs());
        shifts.fold(0.0, f64::max)
    };
    assert!(widest(0.05) < 0.3 * widest(0.5));
}

/// Laplace's approximation against the integrals by quadrature, where levels have failures enough.
#[test]
fn agrees_with_quadrature() {
    let fleet = fleet(40, 60, 0.25, 8);
    let (design, level_of) = design(&fleet, false);
    let family = by_name("weibull").unwrap();
    let found = random_factor(family, &design, &level_of, 40, 0.9, None).unwrap();
    let cells: Vec<Cell> = fleet
        .iter()
        .map(|(level, _, sample)| Cell {
            stratum: 0,
            level: *level,
            sample: sample.clone(),
        })
        .collect();
    let exact = levels(family, 1, 40, &cells, 0.9).unwrap();
    assert!((found.spread.tau / exact.spread.tau - 1.0).abs() < 0.02);
    for (a, b) in found.levels.iter().zip(&exact.levels) {
        assert!((a.shift - b.ratio.ln()).abs() < 0.02, "{a:?} {b:?}");
    }
}

/// Like levels: no spread, and the regression is the plain one.
#[test]
fn without_spread_it_is_the_plain_regression() {
    let fleet = fleet(300, 10, 0.0, 12);
    let (design, level_of) = design(&fleet, true);
    let family = by_name("weibull").unwrap();
    let found = random_factor(family, &design, &level_of, 300, 0.9, None).unwrap();
    assert!(found.spread.test.p_value > 0.05);
    let plain = fit_design(family, &design).unwrap().regression;
    for (a, b) in found.regression.x.iter().zip(&plain.x) {
        assert!((a - b).abs() < 0.02, "{a} {b}");
    }
}

/// Two strata, known shifts and a coefficient held by a penalty: with hardly any spread the regression is the plain
/// one, and its log-likelihood that of the lives alone.
#[test]
fn strata_shifts_and_penalties_are_those_of_the_plain_regression() {
    let fleet = fleet(40, 12, 0.0, 33);
    let (mut design, level_of) = design(&fleet, true);
    for (at, line) in design.lines.iter_mut().enumerate() {
        line.stratum = (at / 2) % 2;
        line.offset = 0.02 * at as f64;
    }
    design.strata = 2;
    design.penalties = vec![Penalty {
        at: 1,
        mean: 1.0,
        sd: 0.1,
    }];
    let family = by_name("weibull").unwrap();
    let found = random_factor(family, &design, &level_of, 40, 0.9, Some(LEAST)).unwrap();
    let plain = fit_design(family, &design).unwrap().regression;
    assert_eq!(plain.x.len(), 4);
    for (a, b) in found.regression.x.iter().zip(&plain.x) {
        assert!(
            (a - b).abs() < 1e-3,
            "{:?} {:?}",
            found.regression.x,
            plain.x
        );
    }
    let fallen = found.regression.log_likelihood - plain.log_likelihood;
    assert!(fallen.abs() < 1e-2, "{fallen}");
}

/// A law of three parameters has its third where the plain regression has it, with hardly any spread.
#[test]
fn a_third_parameter_is_that_of_the_plain_regression() {
    let fleet = fleet(20, 25, 0.0, 4);
    let (design, level_of) = design(&fleet, false);
    let family = by_name("generalised_gamma").unwrap();
    let found = random_factor(family, &design, &level_of, 20, 0.9, Some(LEAST)).unwrap();
    let plain = fit_design(family, &design).unwrap().regression;
    for (a, b) in found.regression.x.iter().zip(&plain.x) {
        assert!(
            (a - b).abs() < 2e-2,
            "{:?} {:?}",
            found.regression.x,
            plain.x
        );
    }
}

/// With a wide spread σ is far from that of the plain regression: where it is found, the likelihood with the levels
/// integrated out by plain sums is higher than with a smaller or a larger one.
#[test]
fn sigma_is_where_the_integrated_likelihood_is_highest() {
    let fleet = fleet(30, 12, 1.2, 7);
    let (design, level_of) = design(&fleet, false);
    let (family, tau) = (by_name("weibull").unwrap(), 1.2);
    let found = random_factor(family, &design, &level_of, 30, 0.9, Some(tau)).unwrap();
    let [middle, ln_sigma] = found.regression.x[..] else {
        panic!("{:?}", found.regression.x);
    };
    let plain = fit_design(family, &design).unwrap().regression;
    assert!(plain.x[1] - ln_sigma > 0.3, "{} {ln_sigma}", plain.x[1]);
    let integrated = |ln_sigma: f64| -> f64 {
        let each = fleet.iter().map(|(.., sample)| {
            let terms = Terms::new(sample);
            let ln = |step: i32| {
                let shift = 0.02 * f64::from(step);
                let theta = [middle + shift, ln_sigma];
                family.log_likelihood(&theta, &terms) - 0.5 * (shift / tau).powi(2)
            };
            let top = (-300..=300).map(ln).fold(f64::NEG_INFINITY, f64::max);
            top + (-300..=300).map(|i| (ln(i) - top).exp()).sum::<f64>().ln()
        });
        each.sum()
    };
    let [low, here, high] = [-0.06, 0.0, 0.06].map(|step| integrated(ln_sigma + step));
    assert!(here > low && here > high, "{low} {here} {high}");
}

/// A step of the bordered system is that of the whole one.
#[test]
fn a_step_is_that_of_the_whole_system() {
    let cross = [[0.4, -0.2], [0.1, 0.3], [-0.5, 0.2]];
    let system = System {
        value: 0.0,
        slope: DVector::from_column_slice(&[0.7, -1.1]),
        own: DMatrix::from_row_slice(2, 2, &[3.0, 0.5, 0.5, 2.0]),
        level_slope: vec![0.3, -0.6, 0.9],
        level_own: vec![1.5, 2.5, 4.0],
        cross: cross.iter().map(|c| c.to_vec()).collect(),
    };
    let mut whole = DMatrix::zeros(5, 5);
    whole.view_mut((0, 0), (2, 2)).copy_from(&system.own);
    for (at, row) in cross.iter().enumerate() {
        whole[(2 + at, 2 + at)] = system.level_own[at];
        for (i, value) in row.iter().enumerate() {
            whole[(2 + at, i)] = *value;
            whole[(i, 2 + at)] = *value;
        }
    }
    let slope = DVector::from_column_slice(&[0.7, -1.1, 0.3, -0.6, 0.9]);
    let inverse = whole.try_inverse().unwrap();
    let want = &inverse * slope;
    let (covariance, dx, shifts) = system.step(2).unwrap();
    let got: Vec<f64> = dx.iter().copied().chain(shifts).collect();
    assert!(
        got.iter()
            .zip(want.iter())
            .all(|(a, b)| (a - b).abs() < 1e-12)
    );
    assert!((covariance - inverse.view((0, 0), (2, 2))).amax() < 1e-12);
}

/// Of an exponential law the information of the middle and of the levels is that of their expected failures, with
/// 1/τ² for each level: a level's error is the root of its place in the whole inverse.
#[test]
fn errors_of_levels_are_those_of_the_whole_information() {
    let fleet = fleet(5, 30, 0.4, 17);
    let (design, level_of) = design(&fleet, false);
    let (family, tau) = (by_name("exponential").unwrap(), 0.4);
    let found = random_factor(family, &design, &level_of, 5, 0.9, Some(tau)).unwrap();
    let middle = found.regression.x[0];
    let expected: Vec<f64> = fleet
        .iter()
        .zip(&found.levels)
        .map(|((.., sample), level)| {
            let time: f64 = sample.rows().iter().map(|o| o.last()).sum();
            time * (-(middle + level.shift)).exp()
        })
        .collect();
    let mut whole = DMatrix::zeros(6, 6);
    for (at, e) in (1..).zip(&expected) {
        whole[(0, 0)] += e;
        whole[(0, at)] = *e;
        whole[(at, 0)] = *e;
        whole[(at, at)] = e + 1.0 / (tau * tau);
    }
    let inverse = whole.try_inverse().unwrap();
    for (at, (level, e)) in (1..).zip(found.levels.iter().zip(&expected)) {
        let tally = fleet[at - 1].2.tally();
        assert_eq!((level.seals, level.failures), (30.0, tally.failures()));
        // Where it stands: failures expected less those seen are what the level's own law pulls back.
        assert!((e - level.failures - level.shift / (tau * tau)).abs() < 1e-3 * level.failures);
        let want = inverse[(at, at)].sqrt();
        assert!(
            (level.std_error / want - 1.0).abs() < 1e-3,
            "{level:?} {want}"
        );
    }
}

/// With a stated penalty Newton's step goes by the slopes and bends of what is climbed: by differences of it.
#[test]
fn a_stated_penalty_has_the_derivatives_of_its_value() {
    let fleet = fleet(12, 4, 0.3, 3);
    let (mut design, level_of) = design(&fleet, true);
    design.penalties = vec![Penalty {
        at: 1,
        mean: 0.1,
        sd: 0.3,
    }];
    let family = by_name("weibull").unwrap();
    let problem = Problem {
        family,
        design: &design,
        level_of: &level_of,
        count: 12,
        size: 3,
    };
    let state = |x: f64| State {
        x: vec![6.1, x, -0.6],
        shifts: (0..12).map(|i| 0.05 * f64::from(i - 6)).collect(),
    };
    let (tau, here, h) = (0.8, 0.45, 1e-4);
    let at = |x: f64| problem.system(&state(x), tau);
    let slope =
        (problem.value(&state(here + h), tau) - problem.value(&state(here - h), tau)) / (2.0 * h);
    assert!((at(here).slope[1] - slope).abs() < 1e-5, "{slope}");
    let bend = (at(here - h).slope[1] - at(here + h).slope[1]) / (2.0 * h);
    assert!((at(here).own[(1, 1)] - bend).abs() < 1e-5, "{bend}");
}

/// The same lives in another unit: with ages in thousands the log-likelihood is above 0, and only the middle moves.
#[test]
fn another_unit_moves_the_middle_alone() {
    let here = fleet(40, 8, 0.5, 5);
    let there: Vec<(usize, f64, Sample)> = here
        .iter()
        .map(|(level, x, sample)| {
            let rows = sample.rows().iter().map(|o| match o.seen() {
                sealspan_records::observation::Seen::Exact(t) => {
                    Observation::exact(1e-6 * t, 0.0, 1.0).unwrap()
                }
                _ => Observation::right(1e-6 * o.last(), 0.0, 1.0).unwrap(),
            });
            (*level, *x, Sample::new(rows.collect()))
        })
        .collect();
    let family = by_name("weibull").unwrap();
    let [here, there] = [&here, &there].map(|fleet| {
        let (design, level_of) = design(fleet, true);
        random_factor(family, &design, &level_of, 40, 0.9, Some(0.5)).unwrap()
    });
    assert!(there.regression.log_likelihood > 100.0);
    let moved = [1e-6_f64.ln(), 0.0, 0.0];
    for ((a, b), by) in there.regression.x.iter().zip(&here.regression.x).zip(moved) {
        assert!((a - b - by).abs() < 1e-4, "{a} {b}");
    }
    let widest = here.levels.iter().map(|l| l.shift.abs());
    assert!(widest.fold(0.0, f64::max) > 0.3);
    for (a, b) in there.levels.iter().zip(&here.levels) {
        assert!((a.shift - b.shift).abs() < 1e-4, "{a:?} {b:?}");
        assert!((a.std_error - b.std_error).abs() < 1e-4, "{a:?} {b:?}");
    }
}

/// A level whose ten seals all failed at a thousandth of the others' life, far beyond one step of Newton's: each level
/// stands where its own score is 0.
#[test]
fn a_level_far_from_the_others_stands_at_its_own_score() {
    let mut fleet = fleet(30, 12, 0.3, 6);
    let early = (0..10).map(|i| Observation::exact(0.5 + 0.01 * f64::from(i), 0.0, 1.0).unwrap());
    fleet.push((30, 0.0, Sample::new(early.collect())));
    let (design, level_of) = design(&fleet, false);
    let (family, tau) = (by_name("weibull").unwrap(), 1.2);
    let found = random_factor(family, &design, &level_of, 31, 0.9, Some(tau)).unwrap();
    let [middle, ln_sigma] = found.regression.x[..] else {
        panic!("{:?}", found.regression.x);
    };
    assert!(found.levels[30].shift < -3.0, "{:?}", found.levels[30]);
    for ((.., sample), level) in fleet.iter().zip(&found.levels) {
        // ln f has the slope (e^z − 1)/σ in the shift, ln S the slope e^z/σ.
        let z = |t: f64| (t.ln() - middle - level.shift) / ln_sigma.exp();
        let expected: f64 = sample.rows().iter().map(|o| z(o.last()).exp()).sum();
        let score = (expected - level.failures) / ln_sigma.exp() - level.shift / (tau * tau);
        assert!(
            score.abs() < 1e-3 * (1.0 + level.failures),
            "{score} {level:?}"
        );
    }
}

/// A number beside the factor, with hardly any spread: its error is that of the plain regression.
#[test]
fn errors_beside_a_number_are_those_of_the_plain_regression() {
    let mut fleet = fleet(42, 12, 0.0, 9);
    for (at, line) in fleet.iter_mut().enumerate() {
        line.1 = [0.5, 1.0, 2.0][at % 3];
    }
    let (design, level_of) = design(&fleet, true);
    let family = by_name("weibull").unwrap();
    let found = random_factor(family, &design, &level_of, 42, 0.9, Some(LEAST)).unwrap();
    let plain = fit_design(family, &design).unwrap().regression;
    for at in 0..3 {
        let of = |r: &Regression| r.covariance[(at, at)].sqrt();
        let (a, b) = (of(&found.regression), of(&plain));
        assert!((a / b - 1.0).abs() < 5e-3, "{at} {a} {b}");
    }
}

/// σ is where the likelihood with the levels integrated out is highest: a hundredth to either side it is lower.
#[test]
fn no_sigma_a_hundredth_beside_is_likelier() {
    let family = by_name("weibull").unwrap();
    for (seed, spread, tau) in [(7, 1.2, 1.2), (8, 0.4, 0.4), (9, 0.8, 0.5)] {
        let fleet = fleet(30, 12, spread, seed);
        let (design, level_of) = design(&fleet, false);
        let plain = fit_design(family, &design).unwrap().regression;
        let problem = Problem {
            family,
            design: &design,
            level_of: &level_of,
            count: 30,
            size: 2,
        };
        let start = State {
            x: plain.x,
            shifts: vec![0.0; 30],
        };
        let (state, value) = problem.best(tau, &start).unwrap();
        for step in [-0.01, 0.01] {
            let beside = problem.climb(tau, &problem.wider(&state, step), true);
            let beside = beside.unwrap().1.marginal(tau);
            assert!(beside < value, "{seed} {step}: {beside} {value}");
        }
    }
}

/// A level whose two hundred seals failed at a thousandth of where the climb starts: a whole step of Newton's leads out of
/// reach, and the halved ones to where its score is 0.
#[test]
fn a_step_that_leads_too_far_is_halved() {
    let mut fleet = fleet(10, 12, 0.3, 6);
    let early = (0..200).map(|i| Observation::exact(0.5 + 0.001 * f64::from(i), 0.0, 1.0).unwrap());
    fleet.push((10, 0.0, Sample::new(early.collect())));
    let (design, level_of) = design(&fleet, false);
    let problem = Problem {
        family: by_name("weibull").unwrap(),
        design: &design,
        level_of: &level_of,
        count: 11,
        size: 2,
    };
    let (tau, ln_sigma) = (3.0_f64, 0.5_f64.ln());
    let start = State {
        x: vec![500.0_f64.ln(), ln_sigma],
        shifts: vec![0.0; 11],
    };
    let (state, ..) = problem.climb(tau, &start, true).unwrap();
    for ((.., sample), shift) in fleet.iter().zip(&state.shifts) {
        let z = |t: f64| (t.ln() - state.x[0] - shift) / ln_sigma.exp();
        let expected: f64 = sample.rows().iter().map(|o| z(o.last()).exp()).sum();
        let failures = sample.tally().failures();
        let score = (expected - failures) / ln_sigma.exp() - shift / (tau * tau);
        assert!(score.abs() < 1e-3 * (1.0 + failures), "{score} {shift}");
    }
}
