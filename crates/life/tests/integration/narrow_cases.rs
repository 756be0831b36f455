//! Cases at the border between two ways of working an answer out, each beside a formula or a sum written out.

use sealspan_life::few::LowerBounds;
use sealspan_life::fit::{Model, fit_terms};
use sealspan_life::hazards::{Prepared, Ties, WatchedLife, fit as hazards};
use sealspan_life::imputation::copies;
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;
use sealspan_life::ranks::plotted;
use sealspan_life::terms::Terms;
use sealspan_records::observation::{Observation, Sample};
use std::sync::Arc;

/// Ages are drawn 100 times for up to 20,000 lives, 40 times for up to 200,000 and 20 times beyond.
#[test]
fn fewer_copies_are_drawn_of_very_many_lives() {
    for (lives, want) in [
        (4.0, 100),
        (20_000.0, 100),
        (50_000.0, 40),
        (200_000.0, 40),
        (300_000.0, 20),
    ] {
        let row = Observation::interval(40.0, 50.0, 0.0, lives).unwrap();
        assert_eq!(copies(&[row]), want, "{lives}");
    }
}

/// Of a known shape 2 and a scale of 100: √((age/100)² − ln(1 − p)) scales by which so many have failed, less the age;
/// a new seal has the age by which they fail.
#[test]
fn what_is_left_with_a_known_shape_is_its_formula() {
    let bound = LowerBounds {
        shape: 2.0,
        confidence: 0.9,
        scale: 100.0,
    };
    for age in [0.0, 1e-3, 50.0, 180.0] {
        for p in [0.01, 0.5, 0.9] {
            let hazard: f64 = (age / 100.0f64).powi(2) - f64::ln_1p(-p);
            let want = 100.0 * hazard.sqrt() - age;
            let got = bound.remaining(age, p);
            assert!((got / want - 1.0).abs() < 1e-9, "{age} {p}: {got} {want}");
        }
    }
}

/// Failures found at one look of two: a plot has the middle of each step, over its stretch.
#[test]
fn a_plot_of_failures_between_looks_has_a_point_for_each_stretch() {
    let looks = [(0.0, 10.0), (10.0, 20.0)];
    let rows = looks.map(|(a, b)| Observation::interval(a, b, 0.0, 2.0).unwrap());
    let points = plotted(&Sample::new(rows.into()));
    assert_eq!(points.len(), 2);
    for (point, (failed, (from, to))) in points.iter().zip([0.25, 0.75].into_iter().zip(looks)) {
        assert!((point.failed - failed).abs() < 1e-6, "{point:?}");
        assert_eq!((point.from, point.time), (from, to));
    }
}

/// A stated scale is held where it is stated, and the shape is the likeliest with it: Σ ln(t/η)(1 − (t/η)^β) = −n/β.
#[test]
fn a_stated_scale_stays_where_it_is_stated() {
    let ages = [150.0, 190.0, 240.0, 250.0, 310.0];
    let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
    let model = Model {
        family: by_name("weibull").unwrap(),
        stated: Some(("scale", 300.0)),
    };
    let terms = Arc::new(Terms::new(&Sample::new(rows.into())));
    let fit = fit_terms(model, &terms).unwrap();
    let scale = fit.estimate(Quantity::Parameter(1));
    assert!((scale / 300.0 - 1.0).abs() < 1e-12, "{scale}");
    let shape = fit.estimate(Quantity::Parameter(0));
    let slope = ages.map(|t| (t / 300.0f64).ln() * (1.0 - (t / 300.0f64).powf(shape)));
    let slope = slope.iter().sum::<f64>() + 5.0 / shape;
    assert!(slope.abs() < 1e-6, "{shape}: {slope}");
}

/// Two of a thousand seals are of a kind; one of them fails first, and the other outlives fifty. From no effect Newton's
/// whole step goes to a ratio of e^18, far downhill: the answer is where the slope written out is 0.
#[test]
fn a_step_that_goes_downhill_is_halved() {
    let life = |observation, design| WatchedLife {
        observation,
        design,
        stratum: 0,
        cluster: 0,
    };
    let exact = |t: f64| Observation::exact(t, 0.0, 1.0).unwrap();
    let right = |n: f64| Observation::right(100.0, 0.0, n).unwrap();
    let mut lives = vec![
        life(exact(1.0), 1),
        life(right(1.0), 1),
        life(right(948.0), 0),
    ];
    lives.extend((0..50).map(|i| life(exact(2.0 + f64::from(i)), 0)));
    let data = Prepared::new(&["kind".to_owned()], &[vec![0.0], vec![1.0]], &lives).unwrap();
    let found = hazards(data, Ties::Efron).unwrap().estimates()[0];
    let slope = |beta: f64| {
        let ratio = beta.exp();
        let others = (0..50).map(|i| ratio / (998.0 - f64::from(i) + ratio));
        1.0 - 2.0 * ratio / (998.0 + 2.0 * ratio) - others.sum::<f64>()
    };
    assert!(slope(0.0) / -(slope(0.5) - slope(-0.5)) > 10.0);
    assert!(
        slope(found - 1e-6) > 0.0 && slope(found + 1e-6) < 0.0,
        "{found}"
    );
}
