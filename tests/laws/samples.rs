//! The same lives written differently, in another unit, counted or compressed, say the same.

use crate::support::{close, everywhere, fitted, fitting, mixed};
use crate::tolerances::{ARITHMETIC, ESTIMATE};
use sealspan_life::bounds::Method;
use sealspan_life::fit::{Fit, Model, fit, fit_terms};
use sealspan_life::intervals::Intervals;
use sealspan_life::law::Age;
use sealspan_life::laws;
use sealspan_life::life::Life;
use sealspan_life::quantity::Quantity;
use sealspan_life::terms::{Point, Terms};
use sealspan_numeric::random::Stream;
use sealspan_records::{Observation, Sample, Seen};
use std::sync::Arc;

/// Exactly known ends of [`mixed`], counts included: each brings a density per unit of time.
const DENSITIES: f64 = 5.0;

#[test]
fn another_unit_moves_the_location_and_the_densities_only() {
    for unit in [1.0_f64 / 24.0, 24.0, 3600.0] {
        everywhere(|family, theta| {
            let mut moved = theta.to_vec();
            moved[0] += unit.ln();
            let got = family.log_likelihood(&moved, &Terms::new(&mixed(unit)));
            let want =
                family.log_likelihood(theta, &Terms::new(&mixed(1.0))) - DENSITIES * unit.ln();
            close(
                got,
                want,
                ARITHMETIC,
                &format!("{} {theta:?}", family.name()),
            );
        });
        for family in laws::all() {
            let (one, other) = (
                fitted(family, &fitting(family, 1.0)),
                fitted(family, &fitting(family, unit)),
            );
            let mut moved = one.theta.clone();
            moved[0] += unit.ln();
            for (got, want) in other.theta.iter().zip(&moved) {
                close(*got, *want, ESTIMATE, family.name());
            }
            same_covariance(&other, &one);
        }
    }
}

fn same_covariance(got: &Fit, want: &Fit) {
    for (a, b) in got.covariance.iter().zip(want.covariance.iter()) {
        close(*a, *b, ESTIMATE, got.family.name());
    }
}

fn same(got: &Fit, want: &Fit) {
    for (a, b) in got.theta.iter().zip(&want.theta) {
        close(*a, *b, ESTIMATE, got.family.name());
    }
    same_covariance(got, want);
    close(
        got.log_likelihood,
        want.log_likelihood,
        ESTIMATE,
        got.family.name(),
    );
}

#[test]
fn counts_and_the_order_of_rows_change_no_bit() {
    for family in laws::all() {
        let counted: Vec<Observation> = fitting(family, 1.0)
            .rows()
            .iter()
            .enumerate()
            .map(|(i, o)| o.with_count((i % 3 + 1) as f64).unwrap())
            .collect();
        let mut one_by_one: Vec<Observation> = counted
            .iter()
            .flat_map(|o| std::iter::repeat_n(o.with_count(1.0).unwrap(), o.count() as usize))
            .collect();
        let places = one_by_one.len();
        let mut stream = Stream::new(8, 0);
        (1..places).for_each(|i| one_by_one.swap(i, stream.below(i + 1)));
        assert!(one_by_one.len() > counted.len());
        let (counted, one_by_one) = (Sample::new(counted), Sample::new(one_by_one));
        let (a, b) = (fitted(family, &counted), fitted(family, &one_by_one));
        assert_eq!(a.theta, b.theta);
        assert_eq!(a.covariance, b.covariance);
        assert_eq!(a.log_likelihood, b.log_likelihood);
        // Intervals from samples drawn under the pattern of watching, looks included.
        if family.name() == "weibull" {
            let ends = |fit: &Fit, sample: &Sample| {
                let intervals = Intervals::new(fit, sample, Method::Calibrated, 0.9, 4);
                intervals.of(Quantity::Quantile(0.1))
            };
            assert_eq!(ends(&a, &counted), ends(&b, &one_by_one));
        }
    }
}

/// 60,000 lives of a known law, about half of them censored, some watched late.
fn large() -> Sample {
    let life = Life::weibull(2.2, 900.0).unwrap();
    let rows = (0..60_000).filter_map(|i| {
        let mut stream = Stream::new(20, i);
        let (age, end) = (life.sample(stream.uniform()), 1800.0 * stream.uniform());
        let entry = if i % 4 == 0 {
            300.0 * stream.uniform()
        } else {
            0.0
        };
        let seen = if age <= end {
            Observation::exact(age, entry, 1.0)
        } else {
            Observation::right(end, entry, 1.0)
        };
        // Lives that end before watching begins are never seen.
        seen.ok()
    });
    Sample::new(rows.collect())
}

/// The sample's terms, one for each row.
fn raw(sample: &Sample) -> Terms {
    let mut terms = Terms::new(sample);
    (terms.density, terms.survival) = (vec![], vec![]);
    for o in sample.rows() {
        let point = |t: f64, weight: f64| Point {
            age: Age::new(t),
            weight,
        };
        match o.seen() {
            Seen::Exact(t) => terms.density.push(point(t, o.count())),
            Seen::Right(t) => terms.survival.push(point(t, o.count())),
            Seen::Interval(..) => unreachable!("no intervals here"),
        }
        if o.entry() > 0.0 {
            terms.survival.push(point(o.entry(), -o.count()));
        }
    }
    terms
}

#[test]
fn compression_changes_no_estimate() {
    let sample = large();
    let (short, long) = (Terms::new(&sample), raw(&sample));
    let points = |t: &Terms| t.density.len() + t.survival.len();
    assert!(
        sample.rows().len() > 50_000 && points(&short) * 2 < points(&long),
        "nothing was compressed"
    );
    let (short, long) = (Arc::new(short), Arc::new(long));
    for name in [
        "weibull",
        "exponential",
        "lognormal",
        "loglogistic",
        "normal",
    ] {
        let model = Model::free(laws::by_name(name).unwrap());
        same(
            &fit_terms(model, &short).unwrap(),
            &fit_terms(model, &long).unwrap(),
        );
    }
}

#[test]
fn a_large_sample_of_a_law_gives_its_parameters_back() {
    let fit = fit(laws::by_name("weibull").unwrap(), &large()).unwrap();
    for (i, truth) in [900f64.ln(), -(2.2f64.ln())].into_iter().enumerate() {
        let off = (fit.theta[i] - truth) / fit.covariance[(i, i)].sqrt();
        assert!(off.abs() < 4.0, "θ{i} is {off} standard errors off");
    }
}
