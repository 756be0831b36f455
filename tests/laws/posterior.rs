//! Posterior quantiles with few failures against dense integration by `generate/posterior.py`: the posterior is
//! far from normal there, and a grid that stops too soon would cut it off.

use crate::support::{close, fitted};
use sealspan_life::laws;
use sealspan_life::posterior::Posterior;
use sealspan_life::quantity::Quantity;
use sealspan_records::{Observation, Sample};

/// Difference allowed in ln of a quantity whose posterior has a standard deviation near 1.
const GRID: f64 = 2e-3;

#[test]
fn two_failures_among_fifty_two_seals() {
    let sample = Sample::new(vec![
        Observation::exact(80.0, 0.0, 1.0).unwrap(),
        Observation::exact(90.0, 0.0, 1.0).unwrap(),
        Observation::right(100.0, 0.0, 50.0).unwrap(),
    ]);
    // ln of scale or location, ln σ, ln B10 at 5, 50 and 95 %.
    let wanted = [
        (
            "weibull",
            [
                [5.035085881266068, 5.849896154904652, 8.059871277184707],
                [
                    -2.0074304792517457,
                    -1.0025805816641098,
                    0.004870170936961674,
                ],
                [4.634298505500065, 4.989309363639783, 6.020349934462368],
            ],
        ),
        (
            "lognormal",
            [
                [5.009907206940974, 5.680163295926758, 7.564952737497306],
                [-1.409889649521335, -0.5250350372765715, 0.45248318961512574],
                [4.624434895772216, 4.903855021192927, 5.690327654959185],
            ],
        ),
    ];
    for (name, [location, ln_sigma, ln_b10]) in wanted {
        let family = laws::by_name(name).unwrap();
        let fit = fitted(family, &sample);
        let posterior = Posterior::new(family, &fit.terms, &fit.theta, &[0, 1], 1).unwrap();
        let ask = |quantity: Quantity| -> Vec<f64> {
            let found = posterior.quantiles(quantity, &[0.05, 0.5, 0.95]);
            found.into_iter().map(|q| q.unwrap()).collect()
        };
        let (at, sigma) = if name == "weibull" {
            // Shape is 1/σ, scale e^μ.
            let mut shape = ask(Quantity::Parameter(0));
            shape.reverse();
            let scale = ask(Quantity::Parameter(1)).iter().map(|x| x.ln()).collect();
            (scale, shape.iter().map(|x| -x.ln()).collect())
        } else {
            let sigma = ask(Quantity::Parameter(1)).iter().map(|x| x.ln()).collect();
            (ask(Quantity::Parameter(0)), sigma)
        };
        let b10: Vec<f64> = ask(Quantity::Quantile(0.1))
            .iter()
            .map(|x| x.ln())
            .collect();
        let pairs: [(Vec<f64>, [f64; 3]); 3] = [(at, location), (sigma, ln_sigma), (b10, ln_b10)];
        for (got, want) in pairs {
            for (g, w) in got.iter().zip(want) {
                close(*g, w, GRID, name);
            }
        }
    }
}
