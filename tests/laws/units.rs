//! Every fit, bound and reason is the same in days, hours, years or any other unit.

use crate::support::fitting;
use sealspan_life::bounds::{Bounds, Method};
use sealspan_life::family::Family;
use sealspan_life::fit::fit;
use sealspan_life::intervals::Intervals;
use sealspan_life::law::Dimension;
use sealspan_life::laws;
use sealspan_life::quantity::Quantity;
use sealspan_records::{Observation, Sample, Seen};

const UNITS: [f64; 4] = [24.0, 1.0 / 365.25, 1e-6, 1e6];
/// Relative, of ends and estimates.
const SAME: f64 = 1e-9;

/// Ten failures and ten seals still running (NIST/SEMATECH e-Handbook 8.4.1.3), which hardly fix more than two
/// parameters.
fn few() -> Sample {
    let ages = [
        54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0,
    ];
    let failed = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
    let running = Observation::right(500.0, 0.0, 10.0).unwrap();
    Sample::new(failed.into_iter().chain([running]).collect())
}

fn in_unit(sample: &Sample, unit: f64) -> Sample {
    let moved = |o: &Observation| {
        let (entry, count) = (o.entry() * unit, o.count());
        match o.seen() {
            Seen::Exact(t) => Observation::exact(t * unit, entry, count),
            Seen::Right(t) => Observation::right(t * unit, entry, count),
            Seen::Interval(a, b) => Observation::interval(a * unit, b * unit, entry, count),
        }
    };
    Sample::new(sample.rows().iter().map(|o| moved(o).unwrap()).collect())
}

/// A quantity asked in another unit, and its value back in the first.
fn asked(quantity: Quantity, unit: f64) -> Quantity {
    match quantity {
        Quantity::Survival(t) => Quantity::Survival(t * unit),
        Quantity::Remaining { age, p } => Quantity::Remaining { age: age * unit, p },
        other => other,
    }
}

fn back(family: &dyn Family, quantity: Quantity, value: f64, unit: f64) -> f64 {
    let dimension = match quantity {
        Quantity::Parameter(i) => family.reported()[i].dimension,
        Quantity::Survival(_) => Dimension::None,
        _ => Dimension::Time,
    };
    match dimension {
        Dimension::None => value,
        Dimension::Time => value / unit,
        Dimension::PerTime => value * unit,
        Dimension::LnTime => value - unit.ln(),
    }
}

fn near(a: f64, b: f64) -> bool {
    a == b || (a - b).abs() <= SAME * (1.0 + a.abs().max(b.abs()))
}

/// Ends and estimates of every quantity by a method; the reason where the law has no estimate.
fn answers(
    family: &'static dyn Family,
    sample: &Sample,
    method: Method,
    unit: f64,
) -> Result<Vec<(f64, Bounds)>, String> {
    let sample = in_unit(sample, unit);
    let fit = fit(family, &sample).map_err(|why| why.to_string())?;
    let intervals = Intervals::new(&fit, &sample, method, 0.9, 11);
    let in_first = fit.family;
    let one = |quantity: Quantity| {
        let of = |value: f64| back(in_first, quantity, value, unit);
        let quantity = asked(quantity, unit);
        let b = intervals.of(quantity).bounds;
        let ends = Bounds {
            lower: b.lower.map(of),
            upper: b.upper.map(of),
            ..b
        };
        (of(fit.estimate(quantity)), ends)
    };
    let parameters = (0..family.reported().len()).map(Quantity::Parameter);
    let others = [
        Quantity::Quantile(0.1),
        Quantity::Quantile(0.5),
        Quantity::Mean,
        Quantity::Survival(60.0),
        Quantity::Remaining { age: 80.0, p: 0.1 },
    ];
    Ok(parameters.chain(others).map(one).collect())
}

fn compare(family: &'static dyn Family, sample: &Sample, method: Method, name: &str) {
    let first = answers(family, sample, method, 1.0);
    for unit in UNITS {
        let what = format!("{} {method:?} {name} in units of {unit}", family.name());
        match (&first, answers(family, sample, method, unit)) {
            (Err(a), Err(b)) => assert_eq!(*a, b, "{what}"),
            (Ok(a), Ok(b)) => {
                for (i, ((x, p), (y, q))) in a.iter().zip(&b).enumerate() {
                    assert!(near(*x, *y), "{what}, number {i}: {x} {y}");
                    let ends = |a: Option<f64>, b: Option<f64>| match (a, b) {
                        (Some(a), Some(b)) => near(a, b),
                        (a, b) => a == b,
                    };
                    assert!(
                        ends(p.lower, q.lower)
                            && ends(p.upper, q.upper)
                            && (p.no_lower, p.no_upper) == (q.no_lower, q.no_upper),
                        "{what}, number {i}: {p:?} {q:?}"
                    );
                }
            }
            (a, b) => panic!("{what}: {:?} {:?}", a.as_ref().err(), b.err()),
        }
    }
}

#[test]
fn no_unit_moves_an_end_that_the_likelihood_gives() {
    for family in laws::all() {
        for method in [Method::Profile, Method::Wald] {
            compare(family, &few(), method, "few failures");
            compare(family, &fitting(family, 1.0), method, "every kind");
        }
    }
}

#[test]
fn no_unit_moves_an_end_from_refits_or_a_posterior() {
    for family in laws::all() {
        for method in [Method::Calibrated, Method::Bootstrap, Method::Posterior] {
            compare(family, &few(), method, "few failures");
        }
    }
    // Looks, late entries and seals still running in one sample.
    let weibull = laws::by_name("weibull").unwrap();
    for method in [Method::Calibrated, Method::Bootstrap, Method::Posterior] {
        compare(weibull, &fitting(weibull, 1.0), method, "every kind");
    }
}
