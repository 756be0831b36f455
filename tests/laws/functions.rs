//! Survival, density, quantile and mean of one law agree with each other.

use crate::support::{close, everywhere, ln_between, quantile};
use crate::tolerances::{ARITHMETIC, QUADRATURE, QUADRATURE_ASKED, TAIL};
use sealspan_life::life::Life;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::quadrature::integrate;

/// From deep in the lower tail to deep in the upper one.
const SHARES: [f64; 11] = [
    1e-12,
    1e-9,
    1e-6,
    1e-3,
    0.1,
    0.5,
    0.9,
    0.999,
    1.0 - 1e-6,
    1.0 - 1e-9,
    1.0 - 1e-12,
];

#[test]
fn quantile_inverts_both_tails() {
    everywhere(|family, theta| {
        for p in SHARES {
            let age = quantile(family, theta, p);
            let what = format!("{} {theta:?} {p}", family.name());
            // 1 − p is exact in floating point for p ≥ 1/2.
            let (got, want) = if p < 0.5 {
                (ln_between(family, theta, 0.0, age), p.ln())
            } else {
                (family.ln_survival(theta, age), (1.0 - p).ln())
            };
            let slope = (family.ln_density(theta, age) + age.ln() - want).exp();
            close(got, want, TAIL * slope.max(1.0), &what);
        }
    });
}

#[test]
fn survival_only_falls_and_is_one_at_age_zero() {
    everywhere(|family, theta| {
        assert_eq!(family.ln_survival(theta, 0.0), 0.0);
        let (low, high) = (
            quantile(family, theta, 1e-9).ln(),
            quantile(family, theta, 1.0 - 1e-12).ln(),
        );
        let values: Vec<f64> = (0..=400)
            .map(|i| family.ln_survival(theta, (low + (high - low) * f64::from(i) / 400.0).exp()))
            .collect();
        assert!(
            values.windows(2).all(|w| w[1] < w[0]),
            "{} {theta:?}",
            family.name()
        );
        assert!(
            values.iter().all(|v| *v < 0.0),
            "{} {theta:?}",
            family.name()
        );
    });
}

#[test]
fn density_integrates_to_the_share_failed() {
    everywhere(|family, theta| {
        let density = |ln_t: f64| (family.ln_density(theta, ln_t.exp()) + ln_t).exp();
        let ends = [1e-9, 0.01, 0.3, 0.6, 0.99, 1.0 - 1e-9].map(|p| quantile(family, theta, p));
        for w in ends.windows(2) {
            let area = integrate(density, w[0].ln(), w[1].ln(), QUADRATURE_ASKED).value;
            let want =
                family.ln_survival(theta, w[0]).exp() - family.ln_survival(theta, w[1]).exp();
            close(
                area / want,
                1.0,
                QUADRATURE,
                &format!("{} {theta:?}", family.name()),
            );
        }
    });
}

#[test]
fn mean_is_the_area_under_survival() {
    everywhere(|family, theta| {
        let under = |ln_t: f64| (family.ln_survival(theta, ln_t.exp()) + ln_t).exp();
        let middle = quantile(family, theta, 0.5).ln();
        // In pieces of ln age from where nothing has failed to where nothing is left.
        let piece = |i: i32| {
            let from = middle + 2.0 * f64::from(i);
            integrate(under, from, from + 2.0, QUADRATURE_ASKED).value
        };
        let area: f64 = (-20..45).map(piece).sum();
        let mean = family.quantity(theta, Quantity::Mean).value.exp();
        if mean.is_infinite() {
            // The area keeps growing.
            let beyond: f64 = (45..50).map(piece).sum();
            assert!(beyond > 0.1 * area, "{} {theta:?}", family.name());
            return;
        }
        close(
            area / mean,
            1.0,
            QUADRATURE,
            &format!("{} {theta:?}", family.name()),
        );
    });
}

#[test]
fn survival_index_leads_back_to_survival() {
    everywhere(|family, theta| {
        for age in [5.0, 60.0, 140.0, 300.0] {
            let quantity = Quantity::Survival(age);
            let index = family.quantity(theta, quantity).value;
            let back = family.unscale(quantity, index);
            let want = family.ln_survival(theta, age).exp();
            close(
                back,
                want,
                ARITHMETIC,
                &format!("{} {theta:?} {age}", family.name()),
            );
        }
    });
}

#[test]
fn stating_the_reported_parameters_gives_the_life_back() {
    everywhere(|family, theta| {
        let mut theta = theta.to_vec();
        if family.name() == "weak_fraction_weibull" {
            // A share of all but one in 10¹⁴ loses its digits when it is stated.
            theta[2] = 0.4;
        }
        let life = Life::new(family, theta);
        // A law may report one θ twice (rate and mean); state as many as there are θ.
        let mut stated = life.parameters();
        stated.truncate(family.dimension());
        let again = Life::named(family.name(), &stated).unwrap();
        for age in [20.0, 100.0, 300.0] {
            close(
                again.ln_survival(age),
                life.ln_survival(age),
                ARITHMETIC,
                family.name(),
            );
        }
    });
}
