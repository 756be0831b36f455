//! What is drawn at random has the law that it is said to have, and what is said of chance is what chance does.

use sealspan_life::batches::{self, limit};
use sealspan_life::defects::simulate::{LookPlan, simulate};
use sealspan_life::imputation::FromRegression;
use sealspan_life::imputation::rubin::chi_squares;
use sealspan_life::intervals::draws_reach;
use sealspan_life::laws;
use sealspan_life::life::Life;
use sealspan_life::regression::{Cell, Place, regress};
use sealspan_life::sectors::rayleigh::rayleigh;
use sealspan_life::sectors::severity::{Shape, draws};
use sealspan_life::terms::Terms;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::{Observation, Sample};
use std::sync::Arc;

#[test]
fn the_error_of_a_rate_of_false_alarms_is_that_of_a_binomial_number() {
    // Twelve charts alike, each of which alarms in a run or not; 60 seeds of 150 runs.
    let found: Vec<_> = (0..60)
        .map(|seed| limit(&[4.0; 12], 2.0, 0.5, 2.0, 150, seed))
        .collect();
    let mean = |of: fn(&batches::Limit) -> f64| found.iter().map(of).sum::<f64>() / 60.0;
    let p = mean(|l| l.false_alarms_per_year) * 2.0 / 12.0;
    let want = (12.0 * p * (1.0 - p) / 150.0).sqrt() / 2.0;
    let error = mean(|l| l.std_error);
    assert!((error / want - 1.0).abs() < 0.05, "{error} {want}");
}

/// Chance that n unit steps in random directions reach farther than √(n z): 1 − r ∫ J₁(r t) J₀(t)ⁿ dt (Kluyver 1906,
/// from memory), by mpmath's quadrature in 25 digits.
const FARTHER: [(f64, f64, f64); 6] = [
    (8.0, 1.0, 0.380_399_228_5),
    (8.0, 3.0, 0.044_597_828_94),
    (10.0, 1.0, 0.377_663_668),
    (10.0, 3.0, 0.045_643_570_41),
    (20.0, 3.0, 0.047_826_505_41),
    (20.0, 5.0, 0.005_431_214_928),
];

#[test]
fn directions_by_chance_reach_as_far_as_a_random_walk() {
    for (n, z, p) in FARTHER {
        let half_angle = (z / n).sqrt().acos();
        let found = rayleigh(&[(half_angle, 0.5 * n), (-half_angle, 0.5 * n)]).unwrap();
        assert!((found.z - z).abs() < 1e-12 && found.direction < 1e-9);
        assert!(
            (found.p_series / p - 1.0).abs() < 4e-3,
            "{n} {z}: {found:?}"
        );
        assert!((found.p_root / p - 1.0).abs() < 2e-2, "{n} {z}: {found:?}");
        // The law of large numbers of steps, farther off the fewer they are.
        assert!((found.p_limit - (-z).exp()).abs() < 1e-15);
    }
}

#[test]
fn drawn_shares_of_sectors_are_those_of_a_dirichlet_law() {
    let counts = [0, 1, 3, 12];
    let known = Shape {
        estimate: 1.0,
        ln_error: 0.0,
    };
    let all = draws(&counts, known, 20_000, 5);
    let n = all.len() as f64;
    // At shape 1 severity is the share times the number of sectors; half a failure is added to each count.
    let whole: f64 = counts.iter().map(|c| f64::from(*c) + 0.5).sum();
    for (i, count) in counts.iter().enumerate() {
        let own = f64::from(*count) + 0.5;
        let shares = || all.iter().map(|d| d.severity[i] / 4.0);
        let mean = shares().sum::<f64>() / n;
        let variance = shares().map(|s| (s - mean).powi(2)).sum::<f64>() / n;
        let want = own * (whole - own) / (whole * whole * (whole + 1.0));
        assert!((mean - own / whole).abs() < 4.0 * (want / n).sqrt());
        assert!(
            (variance / want - 1.0).abs() < 0.05,
            "{i}: {variance} {want}"
        );
    }
}

#[test]
fn ages_drawn_within_an_interval_follow_the_fitted_law() {
    // 4,000 seals of a Weibull law, so that the estimate itself hardly scatters.
    let life = Life::weibull(2.5, 400.0).unwrap();
    let seal = |i: u32| life.quantile((f64::from(i) + 0.5) / 4000.0);
    let sample = Sample::new(
        (0..4000)
            .map(|i| Observation::exact(seal(i), 0.0, 1.0).unwrap())
            .collect(),
    );
    let cell = Cell {
        row: vec![1.0],
        terms: Arc::new(Terms::new(&sample)),
    };
    let fit = regress(
        laws::by_name("weibull").unwrap(),
        &["intercept".into()],
        &[cell],
    )
    .unwrap();
    let place = Place {
        row: vec![(0, 1.0)],
        offset: 0.0,
        stratum: 0,
    };
    for (lower, upper) in [(0.0, 200.0), (150.0, 600.0), (500.0, 900.0)] {
        let mut sum = 0.0;
        for copy in 0..2000 {
            let places = std::slice::from_ref(&place);
            let mut from = FromRegression::new(&fit, places, 7, copy).unwrap();
            let age = from.draw(0, lower, upper);
            assert!(age > lower && age <= upper, "{age}");
            let survival = |t: f64| life.survival(t);
            sum += (survival(lower) - survival(age)) / (survival(lower) - survival(upper));
        }
        // Even between 0 and 1: mean one half, standard deviation 1/√12.
        let error = (1.0 / 12.0 / 2000.0_f64).sqrt();
        assert!((sum / 2000.0 - 0.5).abs() < 4.0 * error, "{lower}: {sum}");
    }
}

#[test]
fn invented_seals_are_watched_as_planned() {
    let never = Life::weibull(2.0, 1e9).unwrap();
    let plan = |skipped: f64, every: f64| LookPlan {
        every,
        jitter: 0.0,
        skipped,
        until: (200.0, 500.0),
        entry: 100.0,
        detection: 1.0,
    };
    let mut stream = Stream::new(9, 0);
    let mut many = |plan: &LookPlan| -> Vec<(f64, f64, f64)> {
        (0..2000)
            .map(|_| simulate(&never, &never, plan, &mut stream).unwrap())
            .map(|h| {
                (
                    h.entry(),
                    h.ended().last() - h.entry(),
                    h.looks().len() as f64,
                )
            })
            .collect()
    };
    let all = many(&plan(0.0, 10.0));
    let mean = |of: &dyn Fn(&(f64, f64, f64)) -> f64| all.iter().map(of).sum::<f64>() / 2000.0;
    assert!(all.iter().all(|s| (0.0..100.0).contains(&s.0)));
    assert!(all.iter().all(|s| (200.0..=500.0).contains(&s.1)));
    // Even over 100 and over 300: four standard errors are 2.6 and 7.7.
    assert!((mean(&|s| s.0) - 50.0).abs() < 2.6);
    assert!((mean(&|s| s.1) - 350.0).abs() < 7.7);
    // Looks that stray by up to 4 to either side come 6 to 14 apart, 10 on average.
    let strayed = LookPlan {
        jitter: 4.0,
        ..plan(0.0, 10.0)
    };
    let seal = simulate(&never, &never, &strayed, &mut Stream::new(4, 0)).unwrap();
    let gaps: Vec<f64> = seal.looks().windows(2).map(|w| w[1] - w[0]).collect();
    assert!(gaps.iter().all(|gap| (6.0..=14.0).contains(gap)));
    assert!(gaps.iter().any(|gap| *gap < 9.0) && gaps.iter().any(|gap| *gap > 11.0));
    let skipped = many(&plan(0.4, 10.0));
    let looks = |all: &[(f64, f64, f64)]| all.iter().map(|s| s.2).sum::<f64>();
    assert!((looks(&skipped) / looks(&all) - 0.6).abs() < 0.02);
}

#[test]
fn ends_are_drawn_where_a_draw_is_expected_beyond_them() {
    // n draws make n + 1 gaps of equal chance: 19 draws for five in a hundred, 39 for half as many.
    for (level, enough) in [(0.9, 19.0), (0.95, 39.0), (0.5, 3.0)] {
        assert!(draws_reach(enough + 0.5, level) && !draws_reach(enough - 0.5, level));
    }
}

#[test]
fn chi_squares_of_completed_samples_are_put_together() {
    // The formula of Li, Meng, Raghunathan & Rubin (1991, from memory) and F tails by scipy 1.
    let first = chi_squares(&[5.1, 6.3, 4.2, 7.7, 5.5], 2.0).unwrap();
    let second = chi_squares(&[12.0, 9.5, 14.2], 3.0).unwrap();
    for ((statistic, p), want) in [
        (first, (5.041_421_992, 0.081_704_399_0)),
        (second, (9.463_378_873, 0.036_492_029_1)),
    ] {
        assert!((statistic / want.0 - 1.0).abs() < 1e-8);
        assert!((p / want.1 - 1.0).abs() < 1e-8, "{p}");
    }
    // Samples that agree are one sample: its statistic, and exp(−x/2) for two degrees of freedom.
    let (statistic, p) = chi_squares(&[6.0; 4], 2.0).unwrap();
    assert!((statistic - 6.0).abs() < 1e-6 && (p - (-3.0_f64).exp()).abs() < 1e-6);
    assert!(chi_squares(&[6.0], 2.0).is_none());
}
