//! What sets peaks of a mixture aside.
#![allow(clippy::unwrap_used)]
use super::*;
use crate::laws::by_name;
use sealspan_records::observation::{Observation, Sample};

fn exact(ages: &[f64]) -> Terms {
    let rows = ages
        .iter()
        .map(|t| Observation::exact(*t, 0.0, 1.0).unwrap());
    Terms::new(&Sample::new(rows.collect()))
}

/// θ of two parts by their shapes and scales, the first with `share` of the seals.
fn theta(share: f64, [shape, scale]: [f64; 2], [shape_2, scale_2]: [f64; 2]) -> [f64; 5] {
    let odds: f64 = share / (1.0 - share);
    [
        scale.ln(),
        -shape.ln(),
        scale_2.ln() - scale.ln(),
        -shape_2.ln(),
        odds.ln(),
    ]
}

/// Parts so far apart that each age is of one of them count their distinct ages; shared ages count by the squares.
#[test]
fn distinct_ages_are_counted_by_their_chances() {
    let terms = exact(&[10.0, 10.5, 10.5, 11.0, 900.0, 1000.0, 1100.0, 1200.0]);
    let apart = theta(0.5, [20.0, 10.6], [8.0, 1050.0]);
    // Two of one age are a weight of two: (1 + 2 + 1)²/(1 + 4 + 1).
    assert!((distinct_ages(apart, &terms, 0) - 16.0 / 6.0).abs() < 1e-6);
    assert!((distinct_ages(apart, &terms, 1) - 4.0).abs() < 1e-6);
    // Two parts that overlap: densities of two Weibull laws by hand.
    let (share, one, two) = (0.3, [2.0, 300.0], [4.0, 700.0]);
    let density = |[shape, scale]: [f64; 2], t: f64| {
        shape / scale * (t / scale).powf(shape - 1.0) * (-(t / scale).powf(shape)).exp()
    };
    let ages = [150.0, 280.0, 400.0, 610.0, 720.0];
    let chances: Vec<f64> = ages
        .iter()
        .map(|t| {
            let (a, b) = (share * density(one, *t), (1.0 - share) * density(two, *t));
            a / (a + b)
        })
        .collect();
    for part in 0..2 {
        let p = chances.iter().map(|p| if part == 0 { *p } else { 1.0 - p });
        let (sum, squares) = p.fold((0.0, 0.0), |(s, q), p| (s + p, q + p * p));
        let found = distinct_ages(theta(share, one, two), &exact(&ages), part);
        assert!((found / (sum * sum / squares) - 1.0).abs() < 1e-9);
    }
}

/// A part needs three distinct ages, and five where it is much narrower than the other.
#[test]
fn a_part_that_holds_too_few_is_set_aside() {
    let of = |first: &[f64], theta: [f64; 5]| {
        let rest = [700.0, 800.0, 900.0, 1000.0, 1100.0, 1200.0];
        let terms = exact(&[first, rest.as_slice()].concat());
        (holds_too_few(theta, &terms), terms)
    };
    let like = theta(0.3, [8.0, 100.0], [6.0, 1000.0]);
    let narrow = theta(0.3, [40.0, 100.0], [6.0, 1000.0]);
    let three = [95.0, 100.0, 105.0];
    let five = [97.0, 98.5, 100.0, 101.0, 102.0];
    assert!(!of(&three, like).0 && of(&three[..2], like).0);
    assert!(of(&three, narrow).0 && !of(&five, narrow).0);
    let mixture = by_name("weibull_mixture").unwrap();
    for (ages, at) in [(&three[..], like), (&five[..], narrow)] {
        let terms = of(ages, at).1;
        assert!(!mixture.closes_in(&at, &terms));
    }
    for (ages, at) in [(&three[..2], like), (&three[..], narrow)] {
        let terms = of(ages, at).1;
        assert!(mixture.closes_in(&at, &terms));
    }
    // The same told the other way round: the later part is the narrow one.
    let early = exact(&[50.0, 70.0, 90.0, 110.0, 130.0, 150.0, 995.0, 1000.0, 1005.0]);
    assert!(holds_too_few(
        theta(0.7, [3.0, 100.0], [60.0, 1000.0]),
        &early
    ));
    assert!(!holds_too_few(
        theta(0.7, [3.0, 100.0], [9.0, 1000.0]),
        &early
    ));
}

/// Narrow beside the spread of all failures' ln lives: σ below a fiftieth of it.
#[test]
fn a_part_narrower_than_a_fiftieth_of_the_spread_has_shrunk() {
    let ages = [100.0, 101.0, 102.0, 103.0, 104.0, 105.0];
    let terms = exact(&ages);
    let ln: Vec<f64> = ages.iter().map(|t: &f64| t.ln()).collect();
    let spread = terms.ln_spread();
    // The spread is that of the six logarithms, between half their range and all of it.
    let range = ln[5] - ln[0];
    assert!(spread > 0.2 * range && spread <= range);
    assert!(too_narrow((0.019 * spread).ln(), &terms));
    assert!(!too_narrow((0.021 * spread).ln(), &terms));
    // At most one: a wider spread asks for no more.
    let wide = exact(&[1e-3, 1.0, 1e3, 1e6]);
    assert!(too_narrow(0.019_f64.ln(), &wide) && !too_narrow(0.021_f64.ln(), &wide));
    let mixture = by_name("weibull_mixture").unwrap();
    let at = theta(0.5, [20.0 / spread, 102.0], [60.0 / spread, 103.0]);
    assert!(mixture.edge(&at, &terms).is_some());
}

/// The parts in another order are the same law.
#[test]
fn the_order_of_the_parts_does_not_change_the_law() {
    let long_first = theta(0.3, [2.0, 900.0], [1.4, 150.0]);
    let ordered = WeibullMixture::in_order(long_first);
    assert!(long_first[2] < 0.0 && ordered[2] > 0.0);
    for t in [1.0, 80.0, 200.0, 700.0, 1500.0] {
        let ln = |theta| WeibullMixture::ln_survival(theta, Age::new(t));
        assert!(
            (ln(long_first) / ln(ordered) - 1.0_f64).abs() < 1e-12,
            "{t}"
        );
    }
}

/// Failures between two looks count by the chances of each part to fail between them, by hand.
#[test]
fn looks_are_counted_by_their_chances() {
    let (share, one, two) = (0.3, [2.0, 300.0], [4.0, 700.0]);
    let alive = |[shape, scale]: [f64; 2], t: f64| (-(t / scale).powf(shape)).exp();
    let looks = [(0.0, 250.0), (250.0, 450.0), (450.0, 600.0), (600.0, 900.0)];
    let rows = looks.map(|(a, b)| Observation::interval(a, b, 0.0, 1.0).unwrap());
    let terms = Terms::new(&Sample::new(rows.into()));
    let chances = looks.map(|(a, b)| {
        let within = |law| alive(law, a) - alive(law, b);
        let (first, second) = (share * within(one), (1.0 - share) * within(two));
        first / (first + second)
    });
    let sum: f64 = chances.iter().sum();
    let squares: f64 = chances.iter().map(|p| p * p).sum();
    let found = distinct_ages(theta(share, one, two), &terms, 0);
    assert!(
        (found / (sum * sum / squares) - 1.0).abs() < 1e-9,
        "{found}"
    );
}

/// Where all entered late the likelihood is held against a power of age from each entry on: with d failures over a sum of
/// ln(age/entry) of w it is (d/w)^d e^−d over the ages. Looks that fix a share alone are held against that share.
#[test]
fn a_mixture_is_held_against_its_limits() {
    let rows = [
        Observation::exact(150.0, 100.0, 1.0),
        Observation::exact(260.0, 200.0, 1.0),
        Observation::right(400.0, 120.0, 1.0),
    ];
    let terms = Terms::new(&Sample::new(rows.map(Result::unwrap).into()));
    let watched: f64 = [1.5f64, 1.3, 400.0 / 120.0].map(f64::ln).iter().sum();
    let want = 2.0 * (2.0 / watched).ln() - 2.0 - 150f64.ln() - 260f64.ln();
    let limits = WeibullMixture::limits(&terms);
    assert_eq!(limits.len(), 1);
    assert!((limits[0].value - want).abs() < 1e-6, "{}", limits[0].value);
    let looks = [
        Observation::interval(0.0, 50.0, 0.0, 4.0),
        Observation::right(80.0, 0.0, 6.0),
    ];
    let terms = Terms::new(&Sample::new(looks.map(Result::unwrap).into()));
    let want = 4.0 * 0.4f64.ln() + 6.0 * 0.6f64.ln();
    let limits = WeibullMixture::limits(&terms);
    assert_eq!(limits.len(), 1);
    assert!((limits[0].value - want).abs() < 1e-9, "{}", limits[0].value);
}

/// A part on too few failures is told by what it holds: stretches between looks, or ages.
#[test]
fn a_part_of_too_few_is_told_by_what_it_holds() {
    let mixture = by_name("weibull_mixture").unwrap();
    let ages = [95.0, 105.0, 700.0, 800.0, 900.0, 1000.0, 1100.0, 1200.0];
    let looks = ages.map(|t| Observation::interval(t - 2.0, t + 2.0, 0.0, 1.0).unwrap());
    let looks = Terms::new(&Sample::new(looks.into()));
    let at = theta(0.25, [8.0, 100.0], [6.0, 1000.0]);
    let of_ages = mixture.edge(&at, &exact(&ages)).unwrap();
    assert!(of_ages.contains("a few failure ages"), "{of_ages}");
    let of_looks = mixture.edge(&at, &looks).unwrap();
    assert!(of_looks.contains("a few stretches"), "{of_looks}");
}
