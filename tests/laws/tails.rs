//! Survival and share failed down to e^-690 (1e-300) in both tails against 60-digit arithmetic.

use crate::support::ln_between;
use sealspan_life::laws;

/// Relative error of survival and of the share failed: of the smaller one by the difference of its logarithm, and of that
/// logarithm itself, which is the other one where it is small.
const TAIL: f64 = 1e-10;

#[test]
fn both_tails_of_every_law() {
    let rows: &[(&str, &[f64], f64, f64, f64)] = &include!("tails.in");
    for family in laws::all() {
        let own = rows.iter().filter(|r| r.0 == family.name());
        let mut seen = 0;
        for (name, theta, age, ln_survival, ln_failed) in own {
            seen += 1;
            let got = [
                (family.ln_survival(theta, *age), *ln_survival),
                (ln_between(family, theta, 0.0, *age), *ln_failed),
            ];
            for (got, want) in got {
                let off = (got / want - 1.0).abs().max((got - want).abs());
                assert!(
                    off < TAIL,
                    "{name} at {age}: {got:?} against {want:?}, off by {off:.1e}"
                );
            }
        }
        assert!(seen >= 5, "{}: {seen} ages", family.name());
    }
}
