//! Probabilities of intervals: consistent, accurate in both tails, never above one.

use crate::support::{close, everywhere, ln_between, ln_probability, quantile};
use crate::tolerances::{ARITHMETIC, LIMIT, NARROW, TAIL};
use sealspan_records::Observation;

fn ln_sum(a: f64, b: f64) -> f64 {
    let (large, small) = if a > b { (a, b) } else { (b, a) };
    large + (small - large).exp().ln_1p()
}

#[test]
fn parts_of_an_interval_add_up_to_it() {
    everywhere(|family, theta| {
        let shares = [1e-12, 1e-6, 0.2, 0.5, 0.8, 1.0 - 1e-6, 1.0 - 1e-12];
        let ages = shares.map(|p| quantile(family, theta, p));
        for w in ages.windows(3) {
            let parts = ln_sum(
                ln_between(family, theta, w[0], w[1]),
                ln_between(family, theta, w[1], w[2]),
            );
            let whole = ln_between(family, theta, w[0], w[2]);
            close(
                parts,
                whole,
                ARITHMETIC,
                &format!("{} {theta:?} {w:?}", family.name()),
            );
        }
        // Everything from birth to the last age, and what outlives it.
        let last = ages[6];
        let all = ln_sum(
            ln_between(family, theta, 0.0, last),
            family.ln_survival(theta, last),
        );
        close(
            all,
            0.0,
            ARITHMETIC,
            &format!("{} {theta:?}", family.name()),
        );
    });
}

#[test]
fn an_interval_in_the_middle_is_the_difference_of_survivals() {
    everywhere(|family, theta| {
        let (a, b) = (quantile(family, theta, 0.3), quantile(family, theta, 0.7));
        let survival = |t: f64| family.ln_survival(theta, t).exp();
        let got = ln_between(family, theta, a, b).exp();
        close(got, survival(a) - survival(b), ARITHMETIC, family.name());
        close(got, 0.4, ARITHMETIC, family.name());
    });
}

/// A naive 1 − F or S(a) − S(b) has lost every digit here.
#[test]
fn an_interval_deep_in_a_tail_keeps_its_digits() {
    everywhere(|family, theta| {
        for (low, high) in [(1e-14, 2e-14), (1e-100, 3e-100)] {
            let (a, b) = (quantile(family, theta, low), quantile(family, theta, high));
            // Too small for a number, or nearer to the failure-free time than numbers lie.
            if !a.is_normal() || family.ln_density(theta, a) == f64::NEG_INFINITY || a == b {
                continue;
            }
            let got = ln_between(family, theta, a, b);
            let slope = (family.ln_density(theta, b) + b.ln()).exp() / high;
            let want = high.ln() + (-low / high).ln_1p();
            let tolerance = 4.0 * TAIL * slope.max(1.0) / want.abs();
            close(
                got,
                want,
                tolerance,
                &format!("{} {theta:?} {low}", family.name()),
            );
        }
        let last = quantile(family, theta, 1.0 - 1e-12);
        let (alive, later) = (
            family.ln_survival(theta, last),
            family.ln_survival(theta, 1.5 * last),
        );
        let got = ln_between(family, theta, last, 1.5 * last);
        let want = alive + (-(later - alive).exp()).ln_1p();
        close(
            got,
            want,
            ARITHMETIC,
            &format!("{} {theta:?} upper tail", family.name()),
        );
    });
}

/// Where even the logarithm of the share failed has become 0.
#[test]
fn an_interval_beyond_the_range_of_the_survival_has_a_logarithm() {
    everywhere(|family, theta| {
        let mut age = quantile(family, theta, 0.99);
        while family.ln_survival(theta, age) > -2000.0 {
            age *= 1.5;
            if age > 1e100 {
                return; // a heavy tail does not get there
            }
        }
        let (alive, later) = (
            family.ln_survival(theta, age),
            family.ln_survival(theta, 1.2 * age),
        );
        let want = alive + (-(later - alive).exp()).ln_1p();
        let got = ln_between(family, theta, age, 1.2 * age);
        close(
            got,
            want,
            ARITHMETIC,
            &format!("{} {theta:?} {age}", family.name()),
        );
    });
}

#[test]
fn a_shrinking_interval_becomes_an_exact_age() {
    everywhere(|family, theta| {
        for p in [1e-9, 0.01, 0.5, 0.99, 1.0 - 1e-9] {
            let middle = quantile(family, theta, p);
            let half = 0.5 * NARROW * middle;
            let (a, b) = (middle - half, middle + half);
            let got = ln_between(family, theta, a, b) - (b - a).ln();
            let want = family.ln_density(theta, middle);
            close(
                got,
                want,
                LIMIT,
                &format!("{} {theta:?} {p}", family.name()),
            );
        }
    });
}

#[test]
fn late_entry_divides_by_the_survival_of_the_entry_age() {
    everywhere(|family, theta| {
        let entry = 35.0;
        let survived = family.ln_survival(theta, entry);
        let pairs = [
            (
                Observation::exact(90.0, entry, 1.0),
                Observation::exact(90.0, 0.0, 1.0),
            ),
            (
                Observation::right(90.0, entry, 1.0),
                Observation::right(90.0, 0.0, 1.0),
            ),
            (
                Observation::interval(50.0, 90.0, entry, 1.0),
                Observation::interval(50.0, 90.0, 0.0, 1.0),
            ),
        ];
        for (late, new) in pairs {
            let got = ln_probability(family, theta, late.unwrap());
            let want = ln_probability(family, theta, new.unwrap()) - survived;
            close(
                got,
                want,
                ARITHMETIC,
                &format!("{} {theta:?}", family.name()),
            );
        }
    });
}

#[test]
fn an_entry_at_no_age_is_no_entry() {
    everywhere(|family, theta| {
        let late = Observation::exact(90.0, 1e-300, 1.0).unwrap();
        let new = Observation::exact(90.0, 0.0, 1.0).unwrap();
        let got = ln_probability(family, theta, late);
        close(
            got,
            ln_probability(family, theta, new),
            ARITHMETIC,
            family.name(),
        );
    });
}

/// Left-censored after a late entry means failed in (entry, upper] given alive at entry.
#[test]
fn late_entry_and_left_censoring_never_give_a_probability_above_one() {
    everywhere(|family, theta| {
        for entry in [1e-6, 1.0, 40.0, 160.0, 500.0] {
            let mut before = f64::NEG_INFINITY;
            for stretch in [1e-6, 0.01, 0.5, 2.0, 10.0, 100.0] {
                let upper = entry * (1.0 + stretch);
                let left = Observation::interval(0.0, upper, entry, 1.0).unwrap();
                let got = ln_probability(family, theta, left);
                let what = format!("{} {theta:?} ({entry}, {upper}]", family.name());
                let rounding = 4.0 * f64::EPSILON * family.ln_survival(theta, entry).abs();
                assert!(got <= rounding && got >= before - rounding, "{what}: {got}");
                before = got;
                let outlived = Observation::right(upper, entry, 1.0).unwrap();
                let rest = ln_probability(family, theta, outlived);
                close(ln_sum(got, rest), 0.0, ARITHMETIC, &what);
            }
        }
    });
}
