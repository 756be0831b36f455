//! Every law in a regression: a group that lives twice as long is found.

use crate::support::fitting;
use sealspan_life::laws;
use sealspan_life::regression::{AddedColumn, Cell, Design, Line, Penalty, fit_design, regress};
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

/// Every law with a shape of its own in each stratum is the fit of each stratum by itself, and a known shift of ln
/// life comes off the intercept.
#[test]
fn strata_and_offsets_for_every_law() {
    let names = ["intercept", "kind=B"].map(str::to_owned);
    for family in laws::all() {
        let line = |unit: f64, b: f64, offset: f64, stratum: usize| Line {
            row: [(0, 1.0), (1, b)]
                .into_iter()
                .filter(|(_, v)| *v != 0.0)
                .collect(),
            offset,
            stratum,
            terms: Arc::new(Terms::new(&fitting(family, unit))),
        };
        let design = |strata: usize, offset: f64| Design {
            names: names.to_vec(),
            lines: vec![
                line(1.0, 0.0, offset, 0),
                line(2.0, 1.0, offset, strata - 1),
            ],
            strata,
            penalties: vec![],
        };
        let fitted = |d: Design| {
            fit_design(family, &d)
                .unwrap_or_else(|why| panic!("{}: {why}", family.name()))
                .regression
        };
        let (common, apart) = (fitted(design(1, 0.0)), fitted(design(2, 0.0)));
        // The same lives in another unit: the strata come out alike, and nothing is gained.
        let off = (common.log_likelihood - apart.log_likelihood).abs();
        assert!(
            off < 1e-7 * common.log_likelihood.abs(),
            "{}: {off}",
            family.name()
        );
        assert_eq!(apart.x.len(), 2 + 2 * (family.dimension() - 1));
        let shifted = fitted(design(1, 0.7));
        let off = (shifted.x[0] + 0.7 - common.x[0]).abs();
        assert!(off < 1e-7, "{}: {off}", family.name());
    }
}

/// A penalty pulls a coefficient between its estimate and where it is held, by their precisions, when both are
/// sharp enough for the likelihood to be a parabola.
#[test]
fn a_penalty_weighs_like_a_normal_prior() {
    let family = laws::by_name("weibull").unwrap();
    let names = ["intercept", "kind=B"].map(str::to_owned);
    let cell = |unit: f64, b: f64| Cell {
        row: vec![1.0, b],
        terms: Arc::new(Terms::new(&fitting(family, unit))),
    };
    let mut design = Design::of_cells(&names, &[cell(1.0, 0.0), cell(2.0, 1.0)]);
    let free = fit_design(family, &design).unwrap().regression;
    let error = free.covariance[(1, 1)].sqrt();
    let (mean, sd) = (free.x[1] + 0.02 * error, 0.5 * error);
    design.penalties.push(Penalty { at: 1, mean, sd });
    let held = fit_design(family, &design).unwrap().regression;
    let (own, prior) = (error.powi(-2), sd.powi(-2));
    let wanted = (own * free.x[1] + prior * mean) / (own + prior);
    assert!(
        (held.x[1] - wanted).abs() < 1e-4 * error,
        "{} {wanted}",
        held.x[1]
    );
    assert!((held.covariance[(1, 1)] - 1.0 / (own + prior)).abs() < 1e-3 * sd * sd);
    assert!(held.log_likelihood < free.log_likelihood);
}

/// The score test of a column agrees with the likelihood ratio where the effect is small, and its share of own
/// information is 1 − R² of the column on the others.
#[test]
fn an_added_column_is_judged_without_a_refit() {
    let family = laws::by_name("lognormal").unwrap();
    let names = ["intercept", "kind=B"].map(str::to_owned);
    let cell = |unit: f64, b: f64| Cell {
        row: vec![1.0, b],
        terms: Arc::new(Terms::new(&fitting(family, unit))),
    };
    let cells: Vec<Cell> = [(1.0, 0.0), (1.03, 0.0), (1.0, 1.0), (1.04, 1.0)]
        .map(|(u, b)| cell(u, b))
        .to_vec();
    let design = Design::of_cells(&names, &cells);
    let fit = fit_design(family, &design).unwrap().regression;
    let added = AddedColumn::new(&fit, &design);
    let column = vec![(1, 1.0), (3, 1.0)];
    let score = added.test(&column);
    let mut more = design.clone();
    more.names.push("more".to_owned());
    for (at, value) in &column {
        more.lines[*at].row.push((2, *value));
    }
    let full = fit_design(family, &more).unwrap().regression;
    let ratio = 2.0 * (full.log_likelihood - fit.log_likelihood);
    assert!(
        (score.statistic / ratio - 1.0).abs() < 0.05,
        "{} {ratio}",
        score.statistic
    );
    assert!(score.direction > 0.0 && score.own_share > 0.3, "{score:?}");
    // What the design already has, has nothing of its own.
    assert!(added.test(&vec![(2, 1.0), (3, 1.0)]).own_share < 1e-6);
    assert!((added.correlation((&column, &score), (&column, &score)) - 1.0).abs() < 1e-9);
}
