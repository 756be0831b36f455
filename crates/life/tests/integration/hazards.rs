//! Which way the failure rate of each law goes, and what is left after a failure between looks, against numbers worked
//! out from the survival alone.

use sealspan_life::goodness::statistics;
use sealspan_life::hazards::Shared;
use sealspan_life::law::HazardShape;
use sealspan_life::laws::by_name;
use sealspan_life::product_limit::at_risk;
use sealspan_life::residuals::residuals_at;
use sealspan_life::terms::Terms;
use sealspan_records::observation::{Observation, Sample};

/// The way of the hazard, from rises of the cumulative hazard over ages that grow by a hundredth.
fn seen(name: &str, theta: &[f64]) -> Vec<bool> {
    let family = by_name(name).unwrap();
    let cumulative = |t: f64| -family.ln_survival(theta, t);
    let ages: Vec<f64> = (-1500..1500)
        .map(|i| (0.01 * f64::from(i)).exp())
        .filter(|t| (1e-4..25.0).contains(&cumulative(*t)))
        .collect();
    assert!(ages.len() > 50, "{name}: {} ages", ages.len());
    let rates: Vec<f64> = ages
        .windows(2)
        .map(|w| (cumulative(w[1]) - cumulative(w[0])) / (w[1] - w[0]))
        .collect();
    let mut ways: Vec<bool> = rates
        .windows(2)
        .filter(|w| (w[1] / w[0] - 1.0).abs() > 1e-7)
        .map(|w| w[1] > w[0])
        .collect();
    ways.dedup();
    ways
}

fn said(shape: HazardShape) -> Vec<bool> {
    match shape {
        HazardShape::Constant => vec![],
        HazardShape::Rising => vec![true],
        HazardShape::Falling => vec![false],
        HazardShape::RisingThenFalling => vec![true, false],
        HazardShape::FallingThenRising => vec![false, true],
        HazardShape::Turning => panic!("no single way"),
    }
}

/// Location 0; every region of the other parameters, and its borders.
#[test]
fn a_hazard_goes_the_way_that_is_said() {
    let ln = f64::ln;
    let cases: [(&str, &[f64]); 22] = [
        ("exponential", &[0.0]),
        ("weibull", &[0.0, ln(0.4)]),
        ("weibull", &[0.0, 0.0]),
        ("weibull", &[0.0, ln(2.5)]),
        ("lognormal", &[0.0, ln(0.5)]),
        ("loglogistic", &[0.0, ln(0.4)]),
        ("loglogistic", &[0.0, 0.0]),
        ("loglogistic", &[0.0, ln(1.6)]),
        ("gamma", &[0.0, ln(3.0)]),
        ("gamma", &[0.0, ln(0.4)]),
        ("three_parameter_weibull", &[0.0, ln(0.5), 0.5]),
        ("three_parameter_weibull", &[0.0, ln(2.0), 0.5]),
        // σ, then q: above and below 1/σ, and above and below σ.
        ("generalised_gamma", &[0.0, ln(0.4), 2.0]),
        ("generalised_gamma", &[0.0, ln(0.5), 2.0]),
        ("generalised_gamma", &[0.0, ln(0.8), 2.0]),
        ("generalised_gamma", &[0.0, 0.0, 0.3]),
        ("generalised_gamma", &[0.0, ln(2.0), 0.5]),
        ("generalised_gamma", &[0.0, ln(2.0), 1.0]),
        ("generalised_gamma", &[0.0, ln(2.0), 2.0]),
        ("generalised_gamma", &[0.0, 0.0, 1.0]),
        ("generalised_gamma", &[0.0, ln(0.5), -1.0]),
        ("generalised_gamma", &[0.0, ln(0.5), 0.0]),
    ];
    for (name, theta) in cases {
        let shape = by_name(name).unwrap().hazard_shape(theta);
        assert_eq!(said(shape), seen(name, theta), "{name} at {theta:?}");
    }
}

/// A failure between two looks stands where half of the stretch's chance lies: of an exponential life of mean 100 that
/// entered at 20 and failed between 50 and 150, at −ln((e^−0.5 + e^−1.5)/2) mean lives, less the 0.2 before its entry.
#[test]
fn a_failure_between_looks_stands_at_half_its_chance() {
    let sample = Sample::new(vec![Observation::interval(50.0, 150.0, 20.0, 1.0).unwrap()]);
    let found = residuals_at(by_name("exponential").unwrap(), &[100.0_f64.ln()], &sample);
    let wanted = -(0.5 * ((-0.5_f64).exp() + (-1.5_f64).exp())).ln() - 0.2;
    assert!((found[0].cox_snell - wanted).abs() < 1e-12);
    // Deviance: sign(m) √(−2 (m + ln(1 − m))) with m the martingale residual 1 − wanted.
    let m = 1.0 - wanted;
    let deviance = m.signum() * (-2.0 * (m + (1.0 - m).ln())).sqrt();
    assert!((found[0].deviance - deviance).abs() < 1e-12);
}

/// A shared frailty of mean 1 and variance 1 has an exponential law, of mean 3 and variance 4.5 an Erlang law of two
/// stages of 1.5, whose share above x is e^(−x/1.5)(1 + x/1.5).
#[test]
fn a_shared_frailty_has_the_ends_of_its_gamma_law() {
    let (low, high) = Shared {
        mean: 1.0,
        variance: 1.0,
    }
    .interval(0.9);
    assert!((low + 0.95_f64.ln()).abs() < 1e-9 && (high + 0.05_f64.ln()).abs() < 1e-9);
    let (low, high) = Shared {
        mean: 3.0,
        variance: 4.5,
    }
    .interval(0.8);
    let above = |x: f64| (-x / 1.5).exp() * (1.0 + x / 1.5);
    assert!((above(low) - 0.9).abs() < 1e-9 && (above(high) - 0.1).abs() < 1e-9);
    let known = Shared {
        mean: 1.3,
        variance: 0.0,
    };
    assert_eq!(known.interval(0.9), (1.3, 1.3));
}

/// Just before an age those are under watch who came under watch before it, or new, and were there up to it.
#[test]
fn under_watch_is_who_came_before_and_stayed() {
    let sample = Sample::new(vec![
        Observation::right(10.0, 0.0, 2.0).unwrap(),
        Observation::exact(10.0, 4.0, 3.0).unwrap(),
        Observation::exact(30.0, 10.0, 5.0).unwrap(),
    ]);
    assert_eq!(
        at_risk(&sample, &[0.0, 4.0, 5.0, 10.0, 10.5, 30.0, 30.5]),
        vec![2.0, 2.0, 5.0, 5.0, 5.0, 5.0, 0.0]
    );
}

/// A failure between looks is placed in the middle of the chances of failing by either: both statistics are those of
/// exact ages there.
#[test]
fn goodness_places_failures_between_looks_in_the_middle_of_their_chances() {
    let law = by_name("exponential").unwrap();
    let age = |failed: f64| -100.0 * (-failed).ln_1p();
    let looks = [(0.0, 0.2), (0.1, 0.5), (0.3, 0.4), (0.5, 0.9)];
    let between = looks.map(|(a, b)| Observation::interval(age(a), age(b), 0.0, 1.0).unwrap());
    let middle = looks.map(|(a, b)| Observation::exact(age(0.5 * (a + b)), 0.0, 1.0).unwrap());
    let of = |rows: [Observation; 4]| {
        let terms = Terms::new(&Sample::new(rows.into()));
        statistics(law, &[100.0_f64.ln()], &terms).unwrap()
    };
    let (got, want) = (of(between), of(middle));
    assert!((got.cramer_von_mises - want.cramer_von_mises).abs() < 1e-12);
    assert!((got.anderson_darling - want.anderson_darling).abs() < 1e-12);
}
