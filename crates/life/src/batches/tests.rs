#![allow(clippy::unwrap_used)]

use super::*;
use crate::laws::by_name;
use crate::life::Life;
use crate::regression::{Design, Line};
use crate::terms::Terms;
use sealspan_numeric::random::Stream;
use std::sync::Arc;

/// Levels of seals of one Weibull life, the first lasting `first` times as long.
fn fleet(levels: usize, seals: usize, first: f64, seed: u64) -> Vec<Cell> {
    let life = Life::weibull(2.0, 500.0).unwrap();
    let mut stream = Stream::new(seed, 0);
    (0..levels)
        .map(|level| {
            let times = if level == 0 { first } else { 1.0 };
            let rows = (0..seals).map(|_| {
                let (age, end) = (
                    times * life.sample(stream.uniform()),
                    700.0 * stream.uniform(),
                );
                if age <= end {
                    Observation::exact(age, 0.0, 1.0).unwrap()
                } else {
                    Observation::right(end, 0.0, 1.0).unwrap()
                }
            });
            Cell {
                stratum: 0,
                level,
                sample: Sample::new(rows.collect()),
            }
        })
        .collect()
}

/// Every level against the rest, one law for all strata's seals each.
fn apart(cells: &[Cell], count: usize) -> Vec<Differing> {
    let strata = 1 + cells.iter().map(|c| c.stratum).max().unwrap();
    let marked: Vec<Marked> = cells
        .iter()
        .map(|c| Marked {
            line: Line {
                row: match c.stratum {
                    0 => vec![(0, 1.0)],
                    s => vec![(0, 1.0), (s, 1.0)],
                },
                offset: 0.0,
                stratum: c.stratum,
                terms: Arc::new(Terms::new(&c.sample)),
            },
            sample: c.sample.clone(),
            level: Some(c.level),
        })
        .collect();
    let base = Design {
        names: (0..strata).map(|s| s.to_string()).collect(),
        strata,
        ..Design::default()
    };
    let family = by_name("weibull").unwrap();
    differing(family, &base, &marked, count).unwrap().0
}

#[test]
fn a_short_lived_level_is_found_and_drawn_towards_one() {
    let family = by_name("weibull").unwrap();
    let cells = fleet(12, 40, 0.35, 4);
    let found = apart(&cells, 12);
    for (level, d) in found.iter().enumerate() {
        assert_eq!(
            d.false_discovery.unwrap() <= 0.1,
            level == 0,
            "{level}: {d:?}"
        );
    }
    // The information of r failures on ln life at the likeliest place of a Weibull law is r/σ², σ = 1/2 here.
    let failures = cells[0].sample.tally().failures();
    let error = found[0].std_error.unwrap() * failures.sqrt() / 0.5;
    assert!((error - 1.0).abs() < 0.15, "{error}");
    let all = levels(family, 1, 12, &cells, 0.9).unwrap();
    assert!(all.spread.test.p_value < 1e-3 && all.spread.lower > 0.0);
    let (drawn, alone) = (all.levels[0].ratio, found[0].ratio.unwrap());
    assert!(alone < drawn && drawn < 0.7, "{alone} {drawn}");
    assert!(all.levels[0].upper < 1.0);
}

#[test]
fn like_levels_show_no_spread_and_few_discoveries() {
    let mut false_ones = 0;
    for seed in 0..40 {
        let cells = fleet(8, 25, 1.0, 100 + seed);
        let found = apart(&cells, 8);
        false_ones += u32::from(found.iter().any(|d| d.false_discovery.unwrap() <= 0.1));
    }
    // At most a tenth of the fleets, and twice the binomial error above.
    assert!(false_ones <= 8, "{false_ones} of 40");
}

#[test]
fn failures_expected_under_the_fitted_law_add_up_to_those_seen() {
    let family = by_name("weibull").unwrap();
    let cells = fleet(5, 30, 1.0, 9);
    let all = levels(family, 1, 5, &cells, 0.9).unwrap();
    if all.spread.tau == 0.0 {
        let expected: f64 = all.levels.iter().map(|l| l.expected).sum();
        let failures: f64 = all.levels.iter().map(|l| l.failures).sum();
        assert!((expected - failures).abs() < 1e-6 * failures);
    }
    assert!((between(0.3, 0.3 + 1e-9) - 0.3).abs() < 1e-8);
    assert!((between(0.0, 40.0) - 1.0).abs() < 1e-12);
}

#[test]
fn discoveries_follow_benjamini_and_hochberg() {
    let q = discoveries(&[0.01, 0.04, 0.03, 0.5]);
    let wanted = [0.04, 0.16 / 3.0, 0.16 / 3.0, 0.5];
    for (a, b) in q.iter().zip(wanted) {
        assert!((a - b).abs() < 1e-15, "{q:?}");
    }
}

/// Fleets over the calendar under no change: charts with the true law must alarm as often as stated.
#[test]
fn false_alarms_come_at_the_stated_rate() {
    let family = by_name("weibull").unwrap();
    let law = Life::weibull(2.0, 400.0).unwrap();
    let theta = family.stated(&[(0, 2.0), (1, 400.0)]).unwrap();
    let (fleets, levels, years) = (300_u64, 6, 4.0);
    let expect = |seals: &[Exposed]| -> Vec<f64> {
        let courses = watch(family, levels, seals, 2.0, f64::INFINITY);
        courses
            .iter()
            .map(|c| c.points.last().map_or(0.0, |p| p.expected))
            .collect()
    };
    let (mut alarms, mut stated) = (0.0, 0.0);
    for fleet in 0..fleets {
        let mut stream = Stream::new(77, fleet);
        let seals: Vec<Exposed> = (0..levels * 20)
            .map(|i| {
                let fitted = 365.25 * years * 0.7 * stream.uniform();
                let (age, most) = (law.sample(stream.uniform()), 365.25 * years - fitted);
                Exposed {
                    level: i % levels,
                    fitted,
                    entry: 0.0,
                    end: (age.min(most), age.min(most)),
                    failed: age <= most,
                    law: theta.clone(),
                }
            })
            .collect();
        let limit = limit(&expect(&seals), years, 0.25, 2.0, 400, fleet);
        let courses = watch(family, levels, &seals, 2.0, limit.limit);
        alarms += courses.iter().filter(|c| c.alarm.is_some()).count() as f64;
        stated += limit.false_alarms_per_year * years;
    }
    let error = stated.sqrt();
    assert!(
        (alarms - stated).abs() < 3.5 * error,
        "{alarms} alarms, {stated} stated"
    );
}

/// A level's ratio by itself is its maximum-likelihood shift against the rest: for a Weibull, that of a regression
/// on the level with the rest's law.
#[test]
fn a_level_far_off_is_measured_against_the_rest_alone() {
    let cells = fleet(6, 400, 0.4, 21);
    let found = apart(&cells, 6);
    let ratio = found[0].ratio.unwrap();
    assert!((0.36..0.44).contains(&ratio), "{ratio}");
    // The others are judged without it, so none looks long-lived for its sake.
    for other in &found[1..] {
        assert!((other.ratio.unwrap() - 1.0).abs() < 0.1, "{other:?}");
    }
}

/// Levels in two strata: a level that differs in one of them only is found too.
#[test]
fn a_level_off_in_one_of_its_strata_is_found() {
    let mut cells = fleet(10, 60, 0.4, 33);
    cells.extend(
        fleet(10, 60, 1.0, 34)
            .into_iter()
            .map(|c| Cell { stratum: 1, ..c }),
    );
    let found = apart(&cells, 10);
    for (level, d) in found.iter().enumerate() {
        assert_eq!(
            d.false_discovery.unwrap() <= 0.1,
            level == 0,
            "{level}: {d:?}"
        );
    }
}

/// p-values of like levels are spread evenly: as many below each bound as it says, within the binomial error.
#[test]
fn p_values_of_like_levels_are_even() {
    let mut p: Vec<f64> = vec![];
    for seed in 0..60 {
        let found = apart(&fleet(10, 30, 1.0, 700 + seed), 10);
        p.extend(found.iter().filter_map(|d| d.p_value));
    }
    for bound in [0.05, 0.2, 0.5] {
        let below = p.iter().filter(|p| **p <= bound).count() as f64;
        let n = p.len() as f64;
        let error = (n * bound * (1.0 - bound)).sqrt();
        assert!(
            (below - n * bound).abs() < 3.5 * error,
            "{below} of {n} below {bound}"
        );
    }
}

/// Where the data show no spread a level is drawn to 1, but its life is not said to be known.
#[test]
fn like_levels_have_intervals_with_a_width() {
    let family = by_name("weibull").unwrap();
    let fitted = (0..30).map(|seed| levels(family, 1, 4, &fleet(4, 8, 1.0, seed), 0.9).unwrap());
    let none: Vec<RandomLevels> = fitted.filter(|all| all.spread.tau == 0.0).collect();
    assert!(none.len() > 3, "{}", none.len());
    for level in none.iter().flat_map(|all| &all.levels) {
        assert!(level.lower < 0.95 * level.ratio, "{level:?}");
        assert!(level.upper > 1.05 * level.ratio, "{level:?}");
        assert!((0.7..1.4).contains(&level.ratio), "{level:?}");
    }
}

/// The drawn line meets the chart at every failure, and falls between them by what is expected.
#[test]
fn a_drawn_chart_falls_between_failures() {
    let family = by_name("weibull").unwrap();
    let law = Life::weibull(2.0, 500.0).unwrap().theta().to_vec();
    let seal = |fitted: f64, age: f64, failed: bool| Exposed {
        level: 0,
        fitted,
        entry: 0.0,
        end: (age, age),
        failed,
        law: law.clone(),
    };
    let mut seals = vec![
        seal(0.0, 150.0, true),
        seal(10.0, 160.0, true),
        seal(0.0, 300.0, true),
    ];
    seals.extend((0..10).map(|k| seal(f64::from(k), 300.0, false)));
    let course = &watch(family, 1, &seals, 2.0, f64::INFINITY)[0];
    let drawn = path(family, 0, &seals, 2.0, course);
    for point in &course.points {
        let met = drawn.iter().rfind(|p| p.0 == point.day).unwrap();
        assert!((met.1 - point.statistic).abs() < 1e-12, "{point:?} {met:?}");
    }
    assert!(drawn.windows(2).all(|w| w[0].0 <= w[1].0));
    let between: Vec<f64> = drawn
        .iter()
        .filter(|p| p.0 > 170.0 && p.0 < 300.0)
        .map(|p| p.1)
        .collect();
    assert!(between.len() > 3 && between[0] > *between.last().unwrap());
}

/// Two levels beside a number, exponential lives: failures against those expected have the variance that the number
/// and the intercept leave them (Rao's score test; the signed root of the Poisson deviance at so many failures).
#[test]
fn a_level_beside_a_number_is_judged_by_what_the_number_leaves() {
    let mut stream = Stream::new(77, 0);
    let life = Life::exponential(300.0).unwrap();
    // The number is larger at level 1, and does nothing.
    let numbers = [(0, 0.5, 200), (0, 1.5, 90), (1, 1.5, 60), (1, 4.0, 210)];
    let marked: Vec<Marked> = numbers
        .iter()
        .map(|(level, number, seals)| {
            let times = if *level == 1 { 0.85 } else { 1.0 };
            let rows = (0..*seals).map(|_| {
                Observation::exact(times * life.sample(stream.uniform()), 0.0, 1.0).unwrap()
            });
            let sample = Sample::new(rows.collect());
            Marked {
                line: Line {
                    row: vec![(0, 1.0), (1, *number)],
                    offset: 0.0,
                    stratum: 0,
                    terms: Arc::new(Terms::new(&sample)),
                },
                sample,
                level: Some(*level),
            }
        })
        .collect();
    let base = Design {
        names: vec!["intercept".to_owned(), "number".to_owned()],
        strata: 1,
        ..Design::default()
    };
    let family = by_name("exponential").unwrap();
    let (found, fit) = differing(family, &base, &marked, 2).unwrap();
    // Expected failures are time over the mean of the row.
    let expected: Vec<f64> = marked
        .iter()
        .zip(numbers)
        .map(|(m, (_, number, _))| {
            let time: f64 = m.sample.rows().iter().map(|o| o.last()).sum();
            time / (fit.x[0] + fit.x[1] * number).exp()
        })
        .collect();
    let sum = |of: &dyn Fn(usize) -> f64| -> f64 { (0..4).map(|i| expected[i] * of(i)).sum() };
    let x = |i: usize| numbers[i].1;
    for (level, judged) in found.iter().enumerate() {
        let own = |i: usize| f64::from(u8::from(numbers[i].0 == level));
        // Regress the level's mark on intercept and number, weighed by expected failures: what is left is its own.
        let (n, sx, sxx) = (sum(&|_| 1.0), sum(&x), sum(&|i| x(i) * x(i)));
        let (so, sxo) = (sum(&own), sum(&|i| x(i) * own(i)));
        let slope = (n * sxo - sx * so) / (n * sxx - sx * sx);
        let height = (so - slope * sx) / n;
        let left = sum(&|i| (own(i) - height - slope * x(i)).powi(2));
        let seen: f64 = numbers
            .iter()
            .filter(|k| k.0 == level)
            .map(|k| f64::from(k.2))
            .sum();
        let deviance = 2.0 * (seen * (seen / so).ln() - seen + so);
        let z = deviance.sqrt() / (left / so).sqrt();
        let p = 2.0 * sealspan_numeric::special::ln_normal_survival(z).exp();
        let got = judged.p_value.unwrap();
        assert!((got / p - 1.0).abs() < 1e-6, "{level}: {got} {p}");
        assert!(p > 1e-4 && p < 0.5, "{p}");
    }
}

/// Failures expected of a seal are the hazard it lived through: from its entry to its end, or to where it failed between
/// two looks (the mean of the hazard at the failure, by a fine sum).
#[test]
fn failures_expected_are_the_hazard_lived_through() {
    let family = by_name("weibull").unwrap();
    // Shape 2, scale 100.
    let theta = [100f64.ln(), -2f64.ln()];
    let hazard = |t: f64| (t / 100.0).powi(2);
    let of = |o: Observation| expected(family, &theta, &o);
    let right = of(Observation::right(90.0, 40.0, 3.0).unwrap());
    assert!((right - 3.0 * (hazard(90.0) - hazard(40.0))).abs() < 1e-12);
    let exact = of(Observation::exact(90.0, 0.0, 1.0).unwrap());
    assert!((exact - hazard(90.0)).abs() < 1e-12);
    let between = of(Observation::interval(60.0, 120.0, 40.0, 2.0).unwrap());
    let steps = (0..6000).map(|i| 60.0 + 0.01 * (f64::from(i) + 0.5));
    let (sum, mass) = steps.fold((0.0, 0.0), |(s, m), t| {
        let density = 2.0 * t * (-hazard(t)).exp();
        (s + density * hazard(t), m + density)
    });
    let want = 2.0 * (sum / mass - hazard(40.0));
    assert!((between / want - 1.0).abs() < 1e-6, "{between} {want}");
}

/// Lives all of one age, at one level, with a design row.
fn at_once(row: &[(usize, f64)], stratum: usize, age: f64, count: f64, level: usize) -> Marked {
    let sample = Sample::new(vec![Observation::exact(age, 0.0, count).unwrap()]);
    Marked {
        line: Line {
            row: row.to_vec(),
            offset: 0.0,
            stratum,
            terms: Arc::new(Terms::new(&sample)),
        },
        sample,
        level: Some(level),
    }
}

fn design(names: &[&str], strata: usize) -> Design {
    Design {
        names: names.iter().map(|n| (*n).to_owned()).collect(),
        strata,
        ..Design::default()
    }
}

/// Three levels far apart: one is left out, the other two together are the rest; half the levels stay at least.
#[test]
fn at_most_half_the_levels_are_left_out_of_the_rest() {
    let of = |level, age| at_once(&[(0, 1.0)], 0, age, 200.0, level);
    let all = [of(0, 10.0), of(1, 100.0), of(2, 1000.0)];
    let family = by_name("exponential").unwrap();
    let (found, rest) = differing(family, &design(&["intercept"], 1), &all, 3).unwrap();
    // The longest-lived is the plainest: its look has 540 failures expected of 200 seen.
    let mean: f64 = 0.5 * (10.0 + 100.0);
    assert!((rest.x[0] - mean.ln()).abs() < 1e-6, "{:?}", rest.x);
    for (level, age) in found.iter().zip([10.0, 100.0, 1000.0]) {
        assert!((level.ratio.unwrap() / (age / mean) - 1.0).abs() < 1e-6);
    }
}

/// A level short-lived in one stratum and long-lived in another: its failures are as many as expected, and it differs
/// all the same, by the squares of both roots (a chi-square of two degrees of freedom, whose tail is e to minus half),
/// doubled for the choice.
#[test]
fn a_level_off_both_ways_is_judged_by_squares() {
    let n = 150.0;
    let rows: [&[(usize, f64)]; 2] = [&[(0, 1.0)], &[(0, 1.0), (1, 1.0)]];
    let own = [80.0, 125.0];
    let mut all = vec![];
    for (stratum, (row, age)) in rows.iter().zip(own).enumerate() {
        all.push(at_once(row, stratum, age, n, 0));
        all.extend((1..4).map(|level| at_once(row, stratum, 100.0, n, level)));
    }
    let family = by_name("exponential").unwrap();
    let (found, _) = differing(family, &design(&["all", "second"], 2), &all, 4).unwrap();
    let squares: f64 = own
        .iter()
        .map(|age| {
            let expected = n * age / ((age + 300.0) / 4.0);
            let deviance = 2.0 * (n * (n / expected).ln() - n + expected);
            deviance / (1.0 - expected / (4.0 * n))
        })
        .sum();
    let want = 2.0 * (-0.5 * squares).exp();
    let got = found[0].p_value.unwrap();
    assert!(
        want < 0.02 && (got / want - 1.0).abs() < 1e-6,
        "{got} {want}"
    );
}

/// A level that a column of the design stands for by itself cannot be judged: nothing is left that would tell.
#[test]
fn a_level_with_a_column_of_its_own_is_not_judged() {
    let all = [
        at_once(&[(0, 1.0)], 0, 100.0, 20.0, 0),
        at_once(&[(0, 1.0), (1, 1.0)], 0, 40.0, 20.0, 1),
        at_once(&[(0, 1.0)], 0, 120.0, 20.0, 2),
    ];
    let family = by_name("exponential").unwrap();
    let (found, _) = differing(family, &design(&["all", "own"], 1), &all, 3).unwrap();
    assert_eq!(
        (found[1].p_value, found[1].ratio, found[1].false_discovery),
        (None, None, None)
    );
    assert!(found[0].p_value.is_some() && found[2].p_value.is_some());
}

/// Levels in two strata: seals and failures are counted over both, and each stratum has a law of its own.
#[test]
fn levels_of_two_strata_are_counted_over_both() {
    let family = by_name("weibull").unwrap();
    let first = fleet(3, 30, 1.0, 51);
    let longer = fleet(3, 30, 1.0, 52).into_iter().map(|c| {
        let rows = c.sample.rows().iter().map(|o| {
            let age = 3.0 * o.last();
            if o.ended() {
                Observation::exact(age, 0.0, 1.0).unwrap()
            } else {
                Observation::right(age, 0.0, 1.0).unwrap()
            }
        });
        Cell {
            stratum: 1,
            level: c.level,
            sample: Sample::new(rows.collect()),
        }
    });
    let cells: Vec<Cell> = first.into_iter().chain(longer).collect();
    let found = levels(family, 2, 3, &cells, 0.9).unwrap();
    for (at, level) in found.levels.iter().enumerate() {
        let own = cells.iter().filter(|c| c.level == at);
        let failures: f64 = own.map(|c| c.sample.tally().failures()).sum();
        assert_eq!((level.seals, level.failures), (60.0, failures), "{at}");
        assert!((level.expected / failures - 1.0).abs() < 0.5, "{level:?}");
    }
    let apart = found.laws[1][0] - found.laws[0][0];
    assert!((apart - 3f64.ln()).abs() < 0.3, "{apart}");
}

/// A chart has a point at every failure and at the end of watching, once, and none without a seal; drawn, it begins
/// where watching did.
#[test]
fn a_chart_goes_from_the_first_entry_to_the_last_look() {
    let family = by_name("exponential").unwrap();
    let seal = |level, fitted: f64, entry: f64, age: f64, failed| Exposed {
        level,
        fitted,
        entry,
        end: (age, age),
        failed,
        law: vec![100f64.ln()],
    };
    let seals = [
        seal(0, 0.0, 30.0, 80.0, true),
        seal(0, 50.0, 10.0, 150.0, false),
        seal(2, 5.0, 0.0, 60.0, false),
        seal(2, 0.0, 0.0, 90.0, true),
    ];
    let found = watch(family, 3, &seals, 2.0, f64::INFINITY);
    let days = |level: usize| -> Vec<f64> { found[level].points.iter().map(|p| p.day).collect() };
    assert_eq!(days(0), [80.0, 200.0]);
    assert_eq!(days(1), [0.0; 0]);
    assert_eq!(days(2), [90.0]);
    let drawn = path(family, 0, &seals, 2.0, &found[0]);
    let (first, second) = (drawn[0].0 - 30.0, drawn[1].0 - 30.0);
    assert!((second / first - 2.0).abs() < 1e-12, "{drawn:?}");
    assert!((first * 8.0 - 50.0).abs() < 1e-9, "{drawn:?}");
}
