#![allow(clippy::unwrap_used)]

use super::*;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Observation;

fn names(n: usize) -> Vec<String> {
    (0..n).map(|j| format!("x{j}")).collect()
}

fn life(observation: Observation, design: usize) -> WatchedLife {
    WatchedLife {
        observation,
        design,
        stratum: 0,
        cluster: design,
    }
}

fn exact(t: f64, design: usize) -> WatchedLife {
    life(Observation::exact(t, 0.0, 1.0).unwrap(), design)
}

fn right(t: f64, design: usize) -> WatchedLife {
    life(Observation::right(t, 0.0, 1.0).unwrap(), design)
}

fn two_groups(lives: &[WatchedLife]) -> Result<HazardsFit, NoHazards> {
    Prepared::new(&names(1), &[vec![0.0], vec![1.0]], lives).and_then(|d| fit(d, Ties::Efron))
}

#[test]
fn trouble_is_named() {
    let running = [right(5.0, 0), right(6.0, 1)];
    assert_eq!(two_groups(&running).unwrap_err(), NoHazards::NoFailures);
    assert_eq!(two_groups(&[]).unwrap_err(), NoHazards::Empty);
    let alike = [exact(5.0, 0), exact(6.0, 0)];
    assert!(matches!(
        two_groups(&alike),
        Err(NoHazards::NoContrast { .. })
    ));
    let tied = [exact(5.0, 0), exact(5.0, 1), exact(5.0, 1)];
    // All fail at once, whatever their group: no difference.
    assert!(two_groups(&tied).unwrap().estimates()[0].abs() < 1e-12);
    let apart = [exact(1.0, 1), exact(2.0, 1), exact(8.0, 0), exact(9.0, 0)];
    let why = two_groups(&apart).unwrap_err();
    let wanted = NoHazards::Separated {
        column: "x0".to_owned(),
        side: "highest",
    };
    assert_eq!(why, wanted);
    let silent = [exact(1.0, 0), exact(2.0, 0), right(8.0, 1), right(9.0, 1)];
    assert!(
        two_groups(&silent)
            .unwrap_err()
            .to_string()
            .contains("lowest")
    );
    let looks = life(Observation::interval(1.0, 3.0, 0.0, 2.0).unwrap(), 0);
    assert_eq!(
        two_groups(&[looks, exact(3.0, 1)]).unwrap_err(),
        NoHazards::Interval { rows: 2.0 }
    );
    let part = life(Observation::exact(1.0, 0.0, 1.5).unwrap(), 0);
    assert!(matches!(
        two_groups(&[part]),
        Err(NoHazards::PartSeals { .. })
    ));
    assert_eq!(
        fit(
            Prepared::new(&[], &[vec![]], &[exact(1.0, 0)]).unwrap(),
            Ties::Efron
        )
        .unwrap_err(),
        NoHazards::NoColumns
    );
}

#[test]
fn lives_that_never_met_say_nothing() {
    // The first is gone before the second comes under watch.
    let late = life(Observation::exact(9.0, 5.0, 1.0).unwrap(), 1);
    let lives = [exact(3.0, 0), late];
    assert!(matches!(
        two_groups(&lives),
        Err(NoHazards::NoContrast { .. })
    ));
    // Nor do they add anything to those that met.
    let met = [exact(1.0, 0), exact(2.0, 1), exact(3.0, 0), right(4.0, 1)];
    let alone = two_groups(&met).unwrap();
    let gone = life(Observation::exact(19.0, 15.0, 1.0).unwrap(), 1);
    let more: Vec<_> = met.iter().copied().chain([gone]).collect();
    let both = two_groups(&more).unwrap();
    assert!((alone.estimates()[0] - both.estimates()[0]).abs() < 1e-11);
}

#[test]
fn collinear_columns_are_named() {
    let design = [vec![0.0, 1.0], vec![1.0, -1.0], vec![2.0, -3.0]];
    let lives = [exact(1.0, 0), exact(2.0, 1), exact(3.0, 2), exact(4.0, 0)];
    let why = Prepared::new(&names(2), &design, &lives).and_then(|d| fit(d, Ties::Efron));
    let wanted = NoHazards::Determined {
        column: "x1".to_owned(),
    };
    assert_eq!(why.unwrap_err(), wanted);
}

/// Lives with three columns, ties, delayed entry, two strata.
fn many(n: usize, seed: u64) -> (Vec<Vec<f64>>, Vec<WatchedLife>) {
    let mut stream = Stream::new(seed, 0);
    let (mut design, mut lives) = (vec![], vec![]);
    for i in 0..n {
        let row = vec![
            stream.normal(),
            100.0 + 20.0 * stream.uniform(),
            f64::from(u8::from(stream.below(3) == 0)),
        ];
        let ln_rate = 0.5 * row[0] - 0.02 * (row[1] - 110.0) + 0.8 * row[2];
        let age = (40.0 * stream.exponential() * (-ln_rate).exp()).ceil();
        let end = 10.0 + (60.0 * stream.uniform()).ceil();
        let entry = if stream.below(4) == 0 {
            (age.min(end) * stream.uniform()).floor()
        } else {
            0.0
        };
        let observation = if age <= end {
            Observation::exact(age, entry, 1.0)
        } else {
            Observation::right(end, entry, 1.0)
        };
        design.push(row);
        lives.push(WatchedLife {
            observation: observation.unwrap(),
            design: i,
            stratum: i % 2,
            cluster: i / 3,
        });
    }
    (design, lives)
}

#[test]
fn slope_and_information_are_the_derivatives_of_the_value() {
    let (design, lives) = many(60, 3);
    let data = Prepared::new(&names(3), &design, &lives).unwrap();
    for ties in [Ties::Efron, Ties::Breslow] {
        let at = nalgebra::DVector::from_column_slice(&[0.3, -0.2, 0.4]);
        let d = partial::derivatives(&data, ties, &at);
        for j in 0..3 {
            let moved = |h: f64| {
                let mut x = at.clone();
                x[j] += h;
                partial::derivatives(&data, ties, &x)
            };
            let h = 1e-4;
            let (up, down) = (moved(h), moved(-h));
            let slope = (up.value - down.value) / (2.0 * h);
            assert!((slope - d.slope[j]).abs() < 1e-6, "{slope} {}", d.slope[j]);
            for k in 0..3 {
                let second = -(up.slope[k] - down.slope[k]) / (2.0 * h);
                assert!((second - d.information[(j, k)]).abs() < 1e-6);
            }
        }
    }
}

#[test]
fn counts_units_and_order_do_not_matter() {
    let (design, lives) = many(80, 5);
    let fitted = |lives: &[WatchedLife], design: &[Vec<f64>]| {
        fit(
            Prepared::new(&names(3), design, lives).unwrap(),
            Ties::Efron,
        )
        .unwrap()
    };
    let plain = fitted(&lives, &design);
    let backwards: Vec<_> = lives.iter().rev().copied().collect();
    let moved: Vec<Vec<f64>> = design
        .iter()
        .map(|r| vec![r[0], 10.0 * r[1] + 7.0, r[2]])
        .collect();
    let other = fitted(&backwards, &moved);
    assert!((plain.log_likelihood - other.log_likelihood).abs() < 1e-10);
    assert!((plain.estimates()[1] - 10.0 * other.estimates()[1]).abs() < 1e-10);
    let doubled: Vec<_> = lives.iter().chain(&lives).copied().collect();
    let counted: Vec<_> = lives
        .iter()
        .map(|l| WatchedLife {
            observation: l.observation.with_count(2.0).unwrap(),
            ..*l
        })
        .collect();
    let (a, b) = (fitted(&doubled, &design), fitted(&counted, &design));
    assert!((a.log_likelihood - b.log_likelihood).abs() < 1e-10);
    let (va, vb) = (
        a.cluster_covariance().unwrap(),
        b.cluster_covariance().unwrap(),
    );
    assert!((va - vb).amax() < 1e-12);
}

#[test]
fn score_residuals_add_up_to_nothing_and_expected_failures_to_those_seen() {
    let (design, lives) = many(90, 11);
    for ties in [Ties::Efron, Ties::Breslow] {
        let data = Prepared::new(&names(3), &design, &lives).unwrap();
        let f = fit(data, ties).unwrap();
        let total: nalgebra::DVector<f64> = f.cluster_scores().into_iter().sum();
        assert!(total.amax() < 1e-9, "{total}");
        let pasts = cluster::past(&f.data, ties, &f.beta);
        let mut expected = 0.0;
        for (stratum, past) in f.data.strata.iter().zip(&pasts) {
            for (line, _, eta) in cluster::linear(&f.data, stratum, &f.beta) {
                expected += line.count * past.expected(line, eta);
            }
        }
        assert!((expected - f.data.failures).abs() < 1e-9);
    }
}

/// Slopes and curvatures against differences of values and of slopes.
fn derivatives_are_those_of_the_value(terms: &impl crate::maximise::LogLikelihood, x: &[f64]) {
    let d = terms.derivatives(x);
    for j in 0..x.len() {
        let at = |h: f64| {
            let mut y = x.to_vec();
            y[j] += h;
            terms.derivatives(&y)
        };
        let h = 1e-4;
        let (up, down) = (at(h), at(-h));
        let slope = (up.value - down.value) / (2.0 * h);
        assert!(
            (slope - d.gradient[j]).abs() < 1e-5 * (1.0 + slope.abs()),
            "{x:?} {j}: {slope} {}",
            d.gradient[j]
        );
        for k in 0..x.len() {
            let second = (up.gradient[k] - down.gradient[k]) / (2.0 * h);
            assert!(
                (second - d.hessian[j][k]).abs() < 1e-5 * (1.0 + second.abs()),
                "{x:?} {j} {k}: {second} {}",
                d.hessian[j][k]
            );
        }
    }
}

#[test]
fn weibull_frailty_has_the_derivatives_of_its_value() {
    let (design, lives) = many(60, 17);
    let data = Prepared::new(&names(3), &design, &lives).unwrap();
    let terms = weibull_terms::WeibullTerms::new(&data);
    for ln_theta in [-9.0, -0.5, 1.5] {
        let x = [3.5, 0.1, -0.2, 0.3, -0.3, ln_theta];
        derivatives_are_those_of_the_value(&terms, &x);
    }
}

#[test]
fn frailty_needs_clusters_of_several() {
    let lives = [exact(1.0, 0), exact(2.0, 1), exact(3.0, 0), right(4.0, 1)];
    let apart: Vec<_> = (0..)
        .zip(lives)
        .map(|(cluster, l)| WatchedLife { cluster, ..l })
        .collect();
    let f = two_groups(&apart).unwrap();
    assert!(matches!(frailty(&f, 0.9), Err(NoHazards::Clusters(_))));
    assert!(matches!(
        weibull_frailty(&f.data.clone().into(), 0.9),
        Err(NoHazards::Clusters(_))
    ));
    let (design, lives) = many(60, 23);
    let late = fit(
        Prepared::new(&names(3), &design, &lives).unwrap(),
        Ties::Efron,
    )
    .unwrap();
    assert!(
        frailty(&late, 0.9)
            .unwrap_err()
            .to_string()
            .contains("survivors")
    );
    assert!(weibull_frailty(&late.data().clone().into(), 0.9).is_ok());
}

/// Lives of clusters with a planted frailty; with looks at `every`, failures known only between two.
fn clustered(clusters: usize, seed: u64, every: Option<f64>) -> (Vec<Vec<f64>>, Vec<WatchedLife>) {
    let mut stream = Stream::new(seed, 3);
    let design = vec![vec![0.0], vec![1.0]];
    let mut lives = vec![];
    for cluster in 0..clusters {
        // A gamma of shape 2 as a sum of two exponentials, scaled to mean 1: variance 0.5.
        let frailty = 0.5 * (stream.exponential() + stream.exponential());
        for seal in 0..6 {
            let own = seal % 2;
            let scale = if own == 1 { 150.0 } else { 100.0 };
            let life = scale * (stream.exponential() / frailty).powf(0.5);
            let end = 220.0;
            let observation = match every {
                _ if life > end => Observation::right(end, 0.0, 1.0),
                None => Observation::exact(life, 0.0, 1.0),
                Some(every) => {
                    let before = (life / every).floor() * every;
                    Observation::interval(before, before + every, 0.0, 1.0)
                }
            };
            lives.push(WatchedLife {
                observation: observation.unwrap(),
                design: own,
                stratum: 0,
                cluster,
            });
        }
    }
    (design, lives)
}

#[test]
fn frailty_between_looks_has_the_derivatives_of_its_value() {
    let (design, lives) = clustered(8, 5, Some(60.0));
    let data = WithLooks::new(&names(1), &design, &lives).unwrap().0;
    let terms = weibull_terms::WeibullTerms::new(&data);
    for ln_theta in [-7.5, -2.0, 0.7, 2.5] {
        let x = [4.6, 0.2, -0.6, ln_theta];
        derivatives_are_those_of_the_value(&terms, &x);
    }
}

/// Looks so close that ages are known: the closed form again, but for the widths that turn a density into a chance.
#[test]
fn frailty_between_close_looks_is_that_of_exact_ages() {
    let (design, exact) = clustered(40, 9, None);
    let width = 1e-4;
    let close: Vec<WatchedLife> = exact
        .iter()
        .map(|l| {
            let o = l.observation;
            let observation = match o.ended() {
                true => {
                    let (a, b) = (o.last() - 0.5 * width, o.last() + 0.5 * width);
                    Observation::interval(a, b, 0.0, 1.0).unwrap()
                }
                false => o,
            };
            WatchedLife { observation, ..*l }
        })
        .collect();
    let fitted = |lives: &[WatchedLife]| {
        weibull_frailty(&WithLooks::new(&names(1), &design, lives).unwrap(), 0.9).unwrap()
    };
    let (a, b) = (fitted(&exact), fitted(&close));
    let failures = exact.iter().filter(|l| l.observation.ended()).count() as f64;
    let ln_width = failures * f64::ln(width);
    assert!(a.theta > 0.2, "{}", a.theta);
    assert!(
        (a.theta / b.theta - 1.0).abs() < 1e-4,
        "{} {}",
        a.theta,
        b.theta
    );
    assert!((a.log_likelihood + ln_width - b.log_likelihood).abs() < 1e-3);
    for (x, y) in a.x.iter().zip(&b.x) {
        assert!((x - y).abs() < 1e-4, "{x} {y}");
    }
    for (x, y) in a.shared.iter().zip(&b.shared) {
        assert!((x.mean / y.mean - 1.0).abs() < 1e-3);
        assert!((x.variance / y.variance - 1.0).abs() < 1e-2);
    }
    let mean = a.shared.iter().map(|s| s.mean).sum::<f64>() / a.shared.len() as f64;
    assert!((mean - 1.0).abs() < 1e-6, "frailties have mean 1: {mean}");
}

/// Many clusters with wide looks: the planted variance of 0.5 is found.
#[test]
fn frailty_between_wide_looks_finds_what_was_planted() {
    let (design, lives) = clustered(400, 21, Some(70.0));
    let data = WithLooks::new(&names(1), &design, &lives).unwrap();
    let found = weibull_frailty(&data, 0.99).unwrap();
    let (lower, upper) = found.interval;
    assert!(
        lower < 0.5 && upper.unwrap() > 0.5 && lower > 0.2,
        "{:?}",
        found.interval
    );
    assert!(found.test.p_value < 1e-6);
}

/// Both ends of a Weibull frailty's variance lie about the estimate, and those of a higher level about them.
#[test]
fn the_variance_of_a_weibull_frailty_lies_between_its_ends() {
    let (design, lives) = clustered(60, 5, None);
    let data = WithLooks::new(&names(1), &design, &lives).unwrap();
    let at = |level: f64| {
        let found = weibull_frailty(&data, level).unwrap();
        let (lower, upper) = found.interval;
        assert!(lower < found.theta && found.theta < upper.unwrap());
        (lower, upper.unwrap())
    };
    let (narrow, wide) = (at(0.5), at(0.8));
    assert!(
        wide.0 < narrow.0 && narrow.1 < wide.1,
        "{narrow:?} {wide:?}"
    );
    assert!(wide.0 > 0.0);
}

/// Clusters of lives of a Weibull law: with the law and without one much the same variance comes out, both likelihoods
/// integrated over the frailty, and much the same gain over none.
#[test]
fn frailties_with_and_without_a_law_agree() {
    let (design, lives) = clustered(150, 31, None);
    let with_law = WithLooks::new(&names(1), &design, &lives).unwrap();
    let with_law = weibull_frailty(&with_law, 0.9).unwrap();
    let data = Prepared::new(&names(1), &design, &lives).unwrap();
    let free = frailty::frailty(&fit(data, Ties::Efron).unwrap(), 0.9).unwrap();
    assert!(
        (free.theta / with_law.theta - 1.0).abs() < 0.15,
        "{} {}",
        free.theta,
        with_law.theta
    );
    let gain = with_law.log_likelihood - with_law.log_likelihood_null;
    let gain_free = free.log_likelihood - free.log_likelihood_null;
    assert!((gain_free / gain - 1.0).abs() < 0.25, "{gain_free} {gain}");
}

/// A profile that is a parabola of ln θ about 2: its ends lie where it has fallen by half of 2.705543 (chi-square tables,
/// 90 %, one degree of freedom); the lower at 0 where no variation is admitted.
#[test]
fn ends_of_a_variance_lie_where_the_profile_has_fallen() {
    let profile = |theta: f64| 10.0 - 2.0 * (theta.ln() - 2f64.ln()).powi(2);
    let off = (0.5f64 * 2.705543 / 2.0).sqrt();
    for (null, lower) in [(5.0, 2.0 * (-off).exp()), (9.5, 0.0)] {
        let found = frailty::interval(profile, 2.0, [10.0, null], 0.9, 1e-9, [None; 2]);
        assert!((found.0 - lower).abs() < 1e-5, "{null}: {}", found.0);
        assert!((found.1.unwrap() - 2.0 * off.exp()).abs() < 1e-5);
    }
}

/// Seals that all fail at ages of their own: the share failed just before each is its rank, and the test against it
/// does not change when ages are stretched unevenly; that against age itself does not when all are moved on.
#[test]
fn drift_with_age_is_judged_on_the_scale_named() {
    let mut stream = Stream::new(41, 0);
    let ages: Vec<(f64, usize)> = (0..60)
        .map(|i| (100.0 * stream.exponential(), i % 2))
        .collect();
    let fitted = |of: &dyn Fn(f64) -> f64| {
        let lives: Vec<WatchedLife> = ages.iter().map(|(t, x)| exact(of(*t), *x)).collect();
        two_groups(&lives).unwrap()
    };
    let statistic =
        |fit: &HazardsFit, scale| fit.proportionality(scale).unwrap().columns[0].clone();
    let of = |fit: &HazardsFit, scale| statistic(fit, scale).test.statistic;
    let plain = fitted(&|t| t);
    let ranks = |t: f64| ages.iter().filter(|a| a.0 <= t).count() as f64;
    let (moved, ranked) = (fitted(&|t| t + 1000.0), fitted(&ranks));
    let share = of(&plain, TimeScale::ShareFailed);
    assert!((of(&ranked, TimeScale::ShareFailed) / share - 1.0).abs() < 1e-9);
    assert!((of(&ranked, TimeScale::Age) / share - 1.0).abs() < 1e-9);
    let age = of(&plain, TimeScale::Age);
    assert!((of(&moved, TimeScale::Age) / age - 1.0).abs() < 1e-9);
    assert!((of(&plain, TimeScale::LnAge) / age - 1.0).abs() > 1e-3);
}

/// Seals of the second group that fail ever more often beside the first: their effect grows with age.
#[test]
fn an_effect_that_grows_with_age_is_said_to() {
    // At each age one of either group fails at first, then two of the second to one of the first, ever more.
    let drift = |grows: bool| {
        let lives: Vec<WatchedLife> = (0..80)
            .map(|i| {
                let late = if grows { i >= 40 } else { i < 40 };
                let second = if late { i % 4 != 0 } else { i % 4 == 0 };
                exact(f64::from(i) + 1.0, usize::from(second))
            })
            .chain((0..60).map(|i| right(81.0, i % 2)))
            .collect();
        let found = two_groups(&lives)
            .unwrap()
            .proportionality(TimeScale::Age)
            .unwrap();
        found.columns[0].direction
    };
    assert_eq!((drift(true), drift(false)), (1.0, -1.0));
}

/// Where a column's 0 lies changes no coefficient, and one that never differs is named wherever it lies.
#[test]
fn the_zero_of_a_column_does_not_matter() {
    let lives = [exact(1.0, 0), exact(2.0, 1), exact(3.0, 0), exact(4.0, 1)];
    let fitted = |a: f64, b: f64| {
        let data = Prepared::new(&names(1), &[vec![a], vec![b]], &lives);
        fit(data.unwrap(), Ties::Efron).unwrap()
    };
    let plain = fitted(0.0, 2.0);
    // About 0 itself, where the mean is 0, and far from it.
    for (a, b) in [(-1.0, 1.0), (40.0, 42.0)] {
        let moved = fitted(a, b);
        assert!((moved.estimates()[0] - plain.estimates()[0]).abs() < 1e-10);
        assert!((moved.log_likelihood - plain.log_likelihood).abs() < 1e-12);
    }
    for value in [0.0, 0.1, 5.0] {
        let same = [vec![value], vec![value]];
        let why = WithLooks::new(&names(1), &same, &lives).unwrap_err();
        assert!(matches!(why, NoHazards::NoContrast { .. }), "{value}");
    }
}

/// A column that differs between strata only says nothing, however many failed and whatever rounding leaves of it.
#[test]
fn a_column_of_strata_is_named_among_very_many_failures() {
    for value in [0.1, 0.7, 1.3, 11.7] {
        let design = [vec![value], vec![3.0 * value], vec![-0.9]];
        let of = |t: f64, stratum: usize| WatchedLife {
            observation: Observation::exact(t, 0.0, 3e6).unwrap(),
            design: stratum,
            stratum,
            cluster: 0,
        };
        let lives: Vec<WatchedLife> = (0..3)
            .flat_map(|s| [of(1.0, s), of(2.0, s), of(5.0, s)])
            .collect();
        let data = Prepared::new(&names(1), &design, &lives).unwrap();
        let why = fit(data, Ties::Breslow).unwrap_err();
        let column = "x0".to_owned();
        assert_eq!(why, NoHazards::NoContrast { column }, "{value}");
    }
}

/// An effect's p-value is the level at which its interval ends at 0.
#[test]
fn a_p_value_goes_with_the_interval() {
    let lives = [exact(1.0, 1), exact(2.0, 0), exact(3.0, 1), exact(4.0, 0)];
    let found = two_groups(&lives).unwrap();
    let covariance = found.covariance();
    let p = found.effects(&covariance, 0.9)[0].p_value;
    assert!(p > 0.05 && p < 0.95, "{p}");
    let ends = &found.effects(&covariance, 1.0 - p)[0];
    assert!(ends.lower.abs() < 1e-6 || ends.upper.abs() < 1e-6);
}

/// Two clusters of the same lives have no variance between them; its upper end lies where the likelihood, written out
/// and climbed by plain steps, has fallen by half the square of 1.645.
#[test]
fn clusters_alike_have_an_upper_end_of_their_variance() {
    let ages = [20.0, 60.0, 100.0, 220.0];
    let of = |cluster: usize| {
        (0..4).map(move |i: usize| WatchedLife {
            cluster,
            ..exact(ages[i], i % 2)
        })
    };
    let lives: Vec<WatchedLife> = of(0).chain(of(1)).collect();
    let data = WithLooks::new(&names(1), &[vec![0.0], vec![1.0]], &lives).unwrap();
    let found = weibull_frailty(&data, 0.9).unwrap();
    assert_eq!((found.theta, found.interval.0), (0.0, 0.0));
    let upper = found.interval.1.unwrap();
    // One cluster: Σ (z − ln σ − ln t) + Σ ln(1 + iθ) − (1/θ + 4) ln(1 + θ Σ e^z).
    let value = |x: &[f64; 3]| {
        let z = |i: usize| (ages[i].ln() - x[0] - x[1] * (i % 2) as f64) / x[2].exp();
        let failed: f64 = (0..4).map(|i| z(i) - x[2] - ages[i].ln()).sum();
        let rising: f64 = (1..4).map(|i| (f64::from(i) * upper).ln_1p()).sum();
        let hazard: f64 = (0..4).map(|i| z(i).exp()).sum();
        2.0 * (failed + rising - (1.0 / upper + 4.0) * (upper * hazard).ln_1p())
    };
    let (mut x, mut wide) = ([4.0, 0.0, 0.0], 1.0);
    while wide > 1e-7 {
        let steps = (0..3).flat_map(|j| [(j, wide), (j, -wide)]);
        let better = steps
            .map(|(j, by)| {
                let mut next = x;
                next[j] += by;
                next
            })
            .find(|next| value(next) > value(&x));
        match better {
            Some(next) => x = next,
            None => wide *= 0.5,
        }
    }
    let fallen = found.log_likelihood - value(&x);
    assert!(
        (fallen - 0.5 * 1.644_853_627_f64.powi(2)).abs() < 1e-5,
        "{fallen}"
    );
}
