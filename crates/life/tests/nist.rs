//! Quick check of the whole path on the NIST/SEMATECH e-Handbook Weibull example (8.4.1.3).
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use sealspan_life::bounds::{Method, bounds};
use sealspan_life::fit::fit;
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;
use sealspan_records::observation::{Observation, Sample};

fn sample() -> Sample {
    let ages = [
        54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0,
    ];
    let mut rows: Vec<_> = ages
        .iter()
        .map(|t| Observation::exact(*t, 0.0, 1.0).unwrap())
        .collect();
    rows.push(Observation::right(500.0, 0.0, 10.0).unwrap());
    Sample::new(rows)
}

#[test]
fn weibull_profile_bounds() {
    let fit = fit(by_name("weibull").unwrap(), &sample()).unwrap();
    assert!((fit.log_likelihood + 75.13461816447487).abs() < 1e-10);
    for (q, lo, hi) in [
        (
            Quantity::Parameter(0),
            0.9056453587521907,
            2.885737865741303,
        ),
        (
            Quantity::Parameter(1),
            437.55674539405817,
            1118.8776246985792,
        ),
        (
            Quantity::Quantile(0.1),
            59.85455424941491,
            271.9495175553157,
        ),
        (
            Quantity::Quantile(0.01),
            4.8186605572762495,
            113.63681850329816,
        ),
        (
            Quantity::Survival(200.0),
            0.6998840010960553,
            0.9533755186865637,
        ),
    ] {
        let b = bounds(&fit, q, Method::Profile, 0.95);
        assert!((b.lower.unwrap() / lo - 1.0).abs() < 1e-8, "{q:?} {b:?}");
        assert!((b.upper.unwrap() / hi - 1.0).abs() < 1e-8, "{q:?} {b:?}");
    }
}
