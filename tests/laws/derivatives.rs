//! Gradients and Hessians against Richardson's differences.

use crate::support::{close, everywhere, kinds, mixed};
use crate::tolerances::{ARITHMETIC, DERIVATIVE};
use sealspan_life::family::Family;
use sealspan_life::quantity::{Derivatives, Quantity};
use sealspan_life::terms::Terms;
use sealspan_records::Sample;

/// Rows of Richardson's table and its first step.
const ROWS: usize = 5;
const STEP: f64 = 0.02;

/// dy/dx of every entry of `f` by central differences, extrapolated to step 0.
fn richardson(f: impl Fn(f64) -> Vec<f64>) -> Vec<f64> {
    let difference = |h: f64| -> Vec<f64> {
        f(h).iter()
            .zip(f(-h))
            .map(|(a, b)| (a - b) / (2.0 * h))
            .collect()
    };
    let mut row: Vec<Vec<f64>> = vec![];
    for i in 0..ROWS {
        let mut next = vec![difference(STEP / 2f64.powi(i as i32))];
        for (j, before) in row.iter().enumerate() {
            let factor = 4f64.powi(j as i32 + 1);
            let better = next[j]
                .iter()
                .zip(before)
                .map(|(a, b)| a + (a - b) / (factor - 1.0));
            let better = better.collect();
            next.push(better);
        }
        row = next;
    }
    row.pop().unwrap()
}

/// Checks value, gradient and Hessian of `d` against differences of itself and of `value`.
fn check(
    what: &str,
    theta: &[f64],
    value: impl Fn(&[f64]) -> f64,
    d: impl Fn(&[f64]) -> Derivatives,
) {
    let here = d(theta);
    close(here.value, value(theta), ARITHMETIC, what);
    for i in 0..theta.len() {
        let moved = |h: f64| {
            let mut x = theta.to_vec();
            x[i] += h;
            x
        };
        let slope = richardson(|h| vec![value(&moved(h))]);
        close(
            here.gradient[i],
            slope[0],
            DERIVATIVE,
            &format!("{what}: slope {i} at {theta:?}"),
        );
        let bend = richardson(|h| d(&moved(h)).gradient);
        for (j, bend) in bend.into_iter().enumerate() {
            let what = format!("{what}: curvature {i} {j} at {theta:?}");
            close(here.hessian[i][j], bend, DERIVATIVE, &what);
            close(here.hessian[i][j], here.hessian[j][i], ARITHMETIC, &what);
        }
    }
}

fn check_terms(family: &'static dyn Family, theta: &[f64], name: &str, sample: Sample) {
    let terms = Terms::new(&sample);
    let what = format!("{} {name}", family.name());
    let value = |x: &[f64]| family.log_likelihood(x, &terms);
    // A life of probability e^-1,000,000 is in no sample; the log-gamma laws lose digits there.
    if value(theta) < -1e6 {
        return;
    }
    check(&what, theta, value, |x| {
        family.log_likelihood_derivatives(x, &terms)
    });
}

#[test]
fn log_likelihood_of_every_kind_of_observation() {
    everywhere(|family, theta| {
        for (name, observation) in kinds(1.0) {
            check_terms(family, theta, name, Sample::new(vec![observation]));
        }
        check_terms(family, theta, "mixed", mixed(1.0));
    });
}

#[test]
fn quantities() {
    everywhere(|family, theta| {
        let parameters = (0..family.reported().len()).map(Quantity::Parameter);
        let others = [
            Quantity::Quantile(1e-6),
            Quantity::Quantile(0.1),
            Quantity::Quantile(0.9),
            Quantity::Survival(30.0),
            Quantity::Survival(200.0),
            Quantity::Mean,
            Quantity::Remaining { age: 60.0, p: 0.3 },
        ];
        for quantity in parameters.chain(others) {
            let what = format!("{} {quantity:?}", family.name());
            let value = |x: &[f64]| family.quantity(x, quantity).value;
            if value(theta).is_infinite() {
                continue;
            }
            check(&what, theta, value, |x| family.quantity(x, quantity));
        }
    });
}
