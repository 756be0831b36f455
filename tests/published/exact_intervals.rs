//! Calibrated intervals of complete samples against the exact ones of textbooks: Student's t for a mean,
//! chi-square for a standard deviation, non-central t for a quantile (Hahn & Meeker 1991, chapter 4; from
//! memory), worked out with scipy for the ball bearings of Lieblein & Zelen (1956).

use sealspan_life::bounds::Method;
use sealspan_life::fit::fit;
use sealspan_life::intervals::Intervals;
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;

const NORMAL_MEAN: (f64, f64) = (58.80154396466886, 85.64715168750506);
const NORMAL_SIGMA: (f64, f64) = (30.18946086574496, 50.05979325643234);
const NORMAL_B10: (f64, f64) = (2.1571368814254726, 39.10103559764383);
const LOGNORMAL_MU: (f64, f64) = (3.9594805450536397, 4.3414284427340215);
const LOGNORMAL_SIGMA: (f64, f64) = (0.42952281910782697, 0.7122294637548581);
const LOGNORMAL_B10: (f64, f64) = (23.419476240232918, 39.6142968409922);

/// Share of the interval's width that the simulation may be off at an end: three standard errors of an end
/// whose confidence is known to 0.4 points.
const OFF: f64 = 0.03;

#[test]
fn normal_and_lognormal_lives_of_ball_bearings() {
    let sample = crate::support::data::all("ball-bearings");
    let wanted = [
        (
            "normal",
            [
                (Quantity::Parameter(0), NORMAL_MEAN),
                (Quantity::Parameter(1), NORMAL_SIGMA),
                (Quantity::Quantile(0.1), NORMAL_B10),
            ],
        ),
        (
            "lognormal",
            [
                (Quantity::Parameter(0), LOGNORMAL_MU),
                (Quantity::Parameter(1), LOGNORMAL_SIGMA),
                (Quantity::Quantile(0.1), LOGNORMAL_B10),
            ],
        ),
    ];
    for (name, exact) in wanted {
        let fit = fit(by_name(name).unwrap(), &sample).unwrap();
        let calibrated = Intervals::new(&fit, &sample, Method::Calibrated, 0.9, 1);
        for (quantity, (lower, upper)) in exact {
            let interval = calibrated.of(quantity);
            assert_eq!(interval.method, Method::Calibrated);
            let b = interval.bounds;
            let width = upper - lower;
            for (got, want) in [(b.lower.unwrap(), lower), (b.upper.unwrap(), upper)] {
                let off = (got - want).abs() / width;
                assert!(
                    off < OFF,
                    "{name} {quantity:?}: {got} against {want}, off by {off:.3} widths"
                );
            }
        }
    }
}
