//! Every law in a regression: a group that lives twice as long is found.

use crate::support::fitting;
use sealspan_life::laws;
use sealspan_life::regression::{Cell, regress};
use sealspan_life::terms::Terms;
use std::sync::Arc;

#[test]
fn twice_the_life_is_a_coefficient_of_ln_two() {
    let names = ["intercept", "kind=B"].map(str::to_owned);
    for family in laws::all() {
        let cell = |unit: f64, b: f64| Cell {
            row: vec![1.0, b],
            terms: Arc::new(Terms::new(&fitting(family, unit))),
        };
        // The same lives in another unit: exactly twice as long.
        let cells = [cell(1.0, 0.0), cell(2.0, 1.0)];
        let fit = regress(family, &names, &cells)
            .unwrap_or_else(|why| panic!("{}: {why}", family.name()));
        let effect = &fit.coefficients(0.9)[1];
        let off = (effect.estimate - 2f64.ln()).abs();
        assert!(off < 1e-9, "{}: {}", family.name(), effect.estimate);
        let error = effect.std_error;
        assert!(error > 0.01 && error < 1.0, "{}: {error}", family.name());
        assert!(effect.lower < 2f64.ln() && effect.upper > 2f64.ln());
    }
}
