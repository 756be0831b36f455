//! What must hold for recurring replacements whatever the data.

use crate::support::close;
use crate::tolerances::ARITHMETIC;
use sealspan_life::recurrence::hungry::Count;
use sealspan_life::recurrence::many::{false_discovery, worth_testing};
use sealspan_life::recurrence::mean_cumulative::{differences, mean_cumulative};
use sealspan_life::recurrence::power_law::power_law;
use sealspan_life::recurrence::ratios::spread;
use sealspan_life::recurrence::system::History;
use sealspan_life::recurrence::trend::{Trend, laplace, lewis_robinson, mil_hdbk_189};
use sealspan_numeric::random::Stream;

/// A system of Poisson events at a steady rate.
fn steady(stream: &mut Stream, rate: f64, from: f64, to: f64) -> History {
    let (mut t, mut events) = (from, vec![]);
    loop {
        t += stream.exponential() / rate;
        if t > to {
            return History::new(from, to, events).unwrap().new_at_start();
        }
        events.push(t);
    }
}

fn fleet(seed: u64, systems: usize) -> Vec<History> {
    let mut stream = Stream::new(seed, 0);
    (0..systems)
        .map(|_| {
            let from = 200.0 * stream.uniform();
            let to = 800.0 + 400.0 * stream.uniform();
            steady(&mut stream, 0.004, from, to)
        })
        .collect()
}

#[test]
fn one_system_is_its_own_step_function() {
    let one = History::new(10.0, 90.0, vec![30.0, 50.0, 50.0, 70.0]).unwrap();
    let curve = mean_cumulative(&[one]);
    let steps: Vec<_> = curve.steps.iter().map(|s| (s.time, s.mean)).collect();
    assert_eq!(steps, [(30.0, 1.0), (50.0, 3.0), (70.0, 4.0)]);
    assert!(curve.steps.iter().all(|s| s.robust == 0.0 && s.naive > 0.0));
}

#[test]
fn the_order_of_systems_and_the_unit_of_time_do_not_matter() {
    let systems = fleet(1, 30);
    let mut turned = systems.clone();
    turned.reverse();
    let (a, b) = (mean_cumulative(&systems), mean_cumulative(&turned));
    for (x, y) in a.steps.iter().zip(&b.steps) {
        close(x.mean, y.mean, ARITHMETIC, "mean");
        close(x.robust, y.robust, ARITHMETIC, "variance");
    }
    let hours: Vec<History> = systems
        .iter()
        .map(|s| {
            let events = s.events().iter().map(|t| 24.0 * t).collect();
            History::new(24.0 * s.from(), 24.0 * s.to(), events)
                .unwrap()
                .new_at_start()
        })
        .collect();
    for test in [laplace, mil_hdbk_189, lewis_robinson] {
        let (x, y) = (test(&systems).unwrap(), test(&hours).unwrap());
        close(x.statistic, y.statistic, 1e-10, "statistic");
    }
    let (x, y) = (power_law(&systems).unwrap(), power_law(&hours).unwrap());
    close(x.growth, y.growth, 1e-10, "growth");
    close(24.0 * x.scale(), y.scale(), 1e-9, "scale");
}

#[test]
fn a_difference_has_the_other_sign_the_other_way_round() {
    let (a, b) = (
        mean_cumulative(&fleet(2, 20)),
        mean_cumulative(&fleet(3, 25)),
    );
    for (x, y) in differences(&a, &b, 700.0)
        .iter()
        .zip(differences(&b, &a, 700.0))
    {
        assert_eq!(
            (x.time, x.difference, x.std_error),
            (y.time, -y.difference, y.std_error)
        );
    }
}

#[test]
fn the_variance_is_that_of_simulated_fleets() {
    // Half of the systems from the start: a robust variance needs more than a few under watch.
    let late = |seed: u64| -> Vec<History> {
        let mut stream = Stream::new(seed, 1);
        (0..40)
            .map(|i| {
                let from = if i % 2 == 0 {
                    0.0
                } else {
                    200.0 * stream.uniform()
                };
                let to = 800.0 + 400.0 * stream.uniform();
                steady(&mut stream, 0.004, from, to)
            })
            .collect()
    };
    let means: Vec<f64> = (0..400)
        .map(|i| mean_cumulative(&late(100 + i)).at(700.0))
        .collect();
    let mean = means.iter().sum::<f64>() / 400.0;
    let variance = means.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / 399.0;
    let told = (0..400)
        .map(|i| mean_cumulative(&late(100 + i)).variance(700.0))
        .sum::<f64>()
        / 400.0;
    // The sample variance of 400 has a relative error of 7 %; four of those.
    assert!((told / variance - 1.0).abs() < 0.28, "{told} {variance}");
    assert!(
        (mean - 2.8).abs() < 4.0 * (variance / 400.0).sqrt(),
        "{mean}"
    );
}

/// Shares of p-values below 0.1, 0.25 and 0.5 of tests without a trend are near those.
fn uniform(name: &str, p: &[f64]) {
    for level in [0.1, 0.25, 0.5] {
        let share = p.iter().filter(|p| **p < level).count() as f64 / p.len() as f64;
        let error = (level * (1.0 - level) / p.len() as f64).sqrt();
        assert!(
            (share - level).abs() < 4.0 * error,
            "{name}: {share} below {level}"
        );
    }
}

#[test]
fn tests_of_trend_keep_their_level_without_one() {
    let p = |test: fn(&[History]) -> Option<Trend>| -> Vec<f64> {
        (0..1000)
            .map(|i| test(&fleet(5000 + i, 12)).unwrap().p_value)
            .collect()
    };
    uniform("Laplace", &p(laplace));
    uniform("MIL-HDBK-189C", &p(mil_hdbk_189));
    uniform("Lewis-Robinson", &p(lewis_robinson));
}

#[test]
fn a_test_of_fit_keeps_its_level_under_its_law() {
    let p: Vec<f64> = (0..300)
        .map(|i| {
            power_law(&fleet(9000 + i, 4))
                .unwrap()
                .goodness(i)
                .unwrap()
                .p_value
        })
        .collect();
    uniform("Cramér–von Mises", &p);
}

#[test]
fn poisson_tails_add_up() {
    for expected in [0.01, 0.7, 3.0, 40.0] {
        for seen in [1.0, 2.0, 5.0, 60.0] {
            let upper = |n| Count { seen: n, expected }.p_value();
            let mass = (seen * f64::ln(expected)
                - expected
                - sealspan_numeric::special::ln_gamma(seen + 1.0))
            .exp();
            close(upper(seen) - upper(seen + 1.0), mass, ARITHMETIC, "mass");
            let middle = Count { seen, expected }.mid_p_value();
            close(
                middle,
                0.5 * (upper(seen) + upper(seen + 1.0)),
                ARITHMETIC,
                "mid-p",
            );
        }
        assert_eq!(
            Count {
                seen: 0.0,
                expected
            }
            .p_value(),
            1.0
        );
    }
}

#[test]
fn shrinkage_lies_between_the_fleet_and_the_position() {
    let counts: Vec<Count> = [0.0, 1.0, 1.0, 2.0, 9.0, 12.0]
        .iter()
        .map(|seen| Count {
            seen: *seen,
            expected: 4.0,
        })
        .collect();
    let fleet = spread(&counts).unwrap();
    for count in &counts {
        let drawn = fleet.draw(*count, 0.9).unwrap();
        let own = count.seen / count.expected;
        assert!(
            (drawn.estimate - own) * (drawn.estimate - fleet.mean) <= 0.0,
            "{own} {drawn:?}"
        );
        assert!(drawn.lower < drawn.estimate && drawn.estimate < drawn.upper);
    }
    let even = vec![
        Count {
            seen: 4.0,
            expected: 4.0
        };
        6
    ];
    assert_eq!(spread(&even).unwrap().shape, None);
}

#[test]
fn adjusted_p_values_keep_order_and_grow() {
    let mut stream = Stream::new(4, 4);
    let p: Vec<f64> = (0..50).map(|_| stream.uniform()).collect();
    let adjusted = false_discovery(&p);
    for (a, x) in adjusted.iter().zip(&p) {
        assert!(*a >= *x && *a <= 1.0);
        for (b, y) in adjusted.iter().zip(&p) {
            assert!(x > y || a <= b);
        }
    }
    // 150 tests, of which only the last two could ever be small enough.
    let mut least = vec![0.06; 148];
    least.extend([1e-3, 1e-4]);
    assert_eq!(worth_testing(&least, 0.1).iter().filter(|t| **t).count(), 2);
    assert_eq!(worth_testing(&[0.01, 0.02], 0.1), [true, true]);
}
