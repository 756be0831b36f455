//! Cases close to where a method would fail: steps too long, columns nearly alike, clusters alike, shares that round to 1.

use sealspan_life::defects::{DefectQuantity, Model as DefectModel, StageLaw, scaled};
use sealspan_life::degradation::choose::Model;
use sealspan_life::degradation::mixed::fit_among;
use sealspan_life::degradation::mixed_fit::Structure;
use sealspan_life::degradation::{Limit, Scale};
use sealspan_life::demonstration::share_interval;
use sealspan_life::hazards::{
    NoHazards, Prepared, Ties, WatchedLife, WithLooks, fit, frailty, weibull_frailty,
};
use sealspan_life::laws::{all, by_name};
use sealspan_numeric::random::Stream;
use sealspan_records::Observation;

fn exact(t: f64, count: f64, design: usize, cluster: usize) -> WatchedLife {
    WatchedLife {
        observation: Observation::exact(t, 0.0, count).unwrap(),
        design,
        stratum: 0,
        cluster,
    }
}

fn names(n: usize) -> Vec<String> {
    (0..n).map(|j| format!("x{j}")).collect()
}

/// Ten lives among a thousand with thirty times the rate: Newton's first step is far too long. The coefficient is where
/// the slope of the partial likelihood of two groups, written out, is 0.
#[test]
fn a_few_lives_with_thirty_times_the_rate_are_fitted() {
    let quantile = |i: usize, n: usize| -(-(i as f64 + 0.5) / n as f64).ln_1p();
    let many = (0..990).map(|i| (quantile(i, 990), 0));
    let few = (0..10).map(|i| (quantile(i, 10) / 30.0, 1));
    let mut ages: Vec<(f64, usize)> = many.chain(few).collect();
    ages.sort_by(|a, b| a.0.total_cmp(&b.0));
    let lives: Vec<WatchedLife> = ages
        .iter()
        .map(|(t, group)| exact(*t, 1.0, *group, 0))
        .collect();
    let data = Prepared::new(&names(1), &[vec![0.0], vec![1.0]], &lives).unwrap();
    let found = fit(data, Ties::Efron).unwrap().estimates()[0];
    let slope = |b: f64| {
        let mut left = [990.0, 10.0];
        let mut sum = 0.0;
        for (_, group) in &ages {
            let share = left[1] * b.exp() / (left[0] + left[1] * b.exp());
            sum += *group as f64 - share;
            left[*group] -= 1.0;
        }
        sum
    };
    let (mut low, mut high) = (0.0, 10.0);
    while high - low > 1e-11 {
        let middle = 0.5 * (low + high);
        if slope(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    assert!((low - 30.0_f64.ln()).abs() < 0.2, "{low}");
    assert!((found - low).abs() < 1e-8, "{found} {low}");
}

/// Lives by two drawn columns and a third made of them.
fn columns(
    lives: usize,
    count: f64,
    third: impl Fn(f64, f64) -> f64,
) -> (Vec<Vec<f64>>, Vec<WatchedLife>) {
    let mut stream = Stream::new(11, 0);
    let rows: Vec<Vec<f64>> = (0..lives)
        .map(|_| {
            let (a, b) = (stream.normal(), stream.normal());
            vec![a, b, third(a, b)]
        })
        .collect();
    let lives = rows.iter().enumerate().map(|(i, row)| {
        let age = stream.exponential() * (-0.5 * row[0] + 0.3 * row[1]).exp();
        exact(age, count, i, i / 4)
    });
    let lives = lives.collect();
    (rows, lives)
}

/// A column that two others determine is named in a log of 20,000 lives as well, whatever rounding leaves of it.
#[test]
fn a_determined_column_is_named_in_a_large_log() {
    for factor in [0.1, 0.7, 1.3, 2.9, 3.1, 7.7] {
        let (rows, lives) = columns(200, 100.0, |a, b| factor * a - 0.3 * b);
        let why = Prepared::new(&names(3), &rows, &lives).and_then(|d| fit(d, Ties::Breslow));
        let wanted = NoHazards::Determined {
            column: "x2".to_owned(),
        };
        assert_eq!(why.unwrap_err(), wanted, "{factor}");
    }
}

/// A column and the same with a ten-thousandth of another: their coefficients are those of the two they are made of.
#[test]
fn columns_nearly_alike_have_the_fit_of_those_they_are_made_of() {
    let (rows, lives) = columns(200, 1.0, |_, _| 0.0);
    let apart: Vec<Vec<f64>> = rows.iter().map(|r| r[..2].to_vec()).collect();
    let near: Vec<Vec<f64>> = rows
        .iter()
        .map(|r| vec![r[0], r[0] + 1e-4 * r[1]])
        .collect();
    let fitted = |design: &[Vec<f64>]| {
        let data = Prepared::new(&names(2), design, &lives).unwrap();
        fit(data, Ties::Efron).unwrap()
    };
    let (apart, near) = (fitted(&apart), fitted(&near));
    let ([a, b], [x, y]) = (
        [0, 1].map(|i| apart.estimates()[i]),
        [0, 1].map(|i| near.estimates()[i]),
    );
    assert!(
        (1e-4 * y - b).abs() < 1e-5 && (x + y - a).abs() < 1e-5,
        "{a} {b}: {x} {y}"
    );
    assert!((apart.log_likelihood - near.log_likelihood).abs() < 1e-7);
}

/// Clusters of the same lives have no variance between them, with the baseline left open and by Weibull lives.
#[test]
fn clusters_alike_have_no_variance() {
    let lives: Vec<WatchedLife> = (0..6)
        .flat_map(|cluster| {
            let ages = [20.0, 60.0, 100.0, 220.0].into_iter().enumerate();
            ages.map(move |(i, t)| exact(t, 1.0, i % 2, cluster))
        })
        .collect();
    let design = [vec![0.0], vec![1.0]];
    let open = Prepared::new(&names(1), &design, &lives).unwrap();
    let found = frailty(&fit(open, Ties::Efron).unwrap(), 0.9).unwrap();
    assert_eq!(
        (found.theta, found.interval.0, found.test.p_value),
        (0.0, 0.0, 1.0)
    );
    let data = WithLooks::new(&names(1), &design, &lives).unwrap();
    let found = weibull_frailty(&data, 0.9).unwrap();
    assert_eq!((found.theta, found.interval.0), (0.0, 0.0));
}

/// A path of one look tells no rate, though rates differ; where they do not, no path is out of line by its rate.
#[test]
fn a_seal_is_judged_by_its_rate_where_it_has_one() {
    let path = |rate: f64, error: f64| -> Vec<(f64, f64)> {
        let at = |i: i32| {
            (
                f64::from(i),
                1.0 + rate * f64::from(i) + error * f64::from(i % 2),
            )
        };
        (0..6).map(at).collect()
    };
    let paths = [
        path(1.0, 0.1),
        path(2.0, -0.1),
        path(3.0, 0.1),
        path(2.5, -0.1),
    ];
    let limit = Limit {
        value: 20.0,
        rising: true,
    };
    let of = |structure| {
        let found = fit_among(&paths, Scale::Plain, &[structure]).unwrap();
        Model::Mixed(Box::new(found))
    };
    let (differ, alike) = (of(Structure::Rate), of(Structure::Alike));
    assert_eq!(differ.p_value(&[(3.0, 5.0)], limit), None);
    let p = differ.p_value(&[(0.0, 1.0), (5.0, 40.0)], limit).unwrap();
    assert!(p < 0.01, "{p}");
    assert_eq!(alike.p_value(&[(0.0, 1.0), (5.0, 40.0)], limit), None);
}

/// No seals, or more failures than seals, have no share.
#[test]
fn a_share_needs_seals_and_no_more_failures_than_those() {
    assert_eq!(share_interval(0, 0, 0.9), None);
    assert_eq!(share_interval(3, 2, 0.9), None);
    assert!(share_interval(2, 2, 0.9).is_some());
}

/// Along q the likelihood of the generalised gamma may have several peaks: it is looked at on both sides of 0.
#[test]
fn the_generalised_gamma_alone_is_looked_at_along_q() {
    for family in all() {
        let scanned = family.scanned();
        assert_eq!(
            scanned.is_some(),
            family.name() == "generalised_gamma",
            "{}",
            family.name()
        );
    }
    let (at, looks) = by_name("generalised_gamma").unwrap().scanned().unwrap();
    assert_eq!(at, 2);
    assert!(looks.iter().any(|q| *q < 0.0) && looks.iter().any(|q| *q > 0.0));
}

/// Looks every day that miss nothing catch every defect of a thousand days, as far as numbers tell: the share rounds to
/// 1, and neither it nor its slopes are without limit.
#[test]
fn a_share_caught_that_rounds_to_one_stays_finite() {
    let model = DefectModel {
        defect: StageLaw::Weibull,
        delay: StageLaw::Weibull,
        detection: Some(1.0),
    };
    let theta = model.pinned([7.0, -1.0, 1000_f64.ln(), -f64::ln(6.0), 0.0]);
    let found = scaled(&model, &theta, DefectQuantity::Caught { every: 1.0 }).unwrap();
    // The guard holds 1 − share at 1e-15.
    assert!(
        found.value.is_finite() && found.value > 30.0,
        "{}",
        found.value
    );
    assert!(
        found.gradient.iter().take(4).all(|g| g.is_finite()),
        "{:?}",
        found.gradient
    );
}
