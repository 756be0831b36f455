//! Parameters and samples that every law is tried on.

use sealspan_life::family::Family;
use sealspan_life::fit::Fit;
use sealspan_life::laws;
use sealspan_life::quantity::Quantity;
use sealspan_life::terms::Terms;
use sealspan_records::{Observation, Sample};

/// Runs a test over every law at several θ around a life of 100.
pub fn everywhere(test: impl Fn(&'static dyn Family, &[f64])) {
    for family in laws::all() {
        for theta in thetas(family.dimension()) {
            test(family, &theta);
        }
    }
}

/// θ₀ is the location of ln life; the others run over both sides of 0.
fn thetas(dimension: usize) -> Vec<Vec<f64>> {
    let mut out = vec![];
    for location in [3.9, 4.6, 5.4] {
        for other in [-1.3, -0.4, 0.0, 0.6] {
            let mut theta = vec![other; dimension];
            theta[0] = location;
            if !out.contains(&theta) {
                out.push(theta);
            }
        }
    }
    out
}

/// One observation of every kind, with and without delayed entry, by name.
pub fn kinds(unit: f64) -> Vec<(&'static str, Observation)> {
    let t = |x: f64| x * unit;
    let kinds = [
        ("exact", Observation::exact(t(90.0), 0.0, 1.0)),
        (
            "exact, late entry",
            Observation::exact(t(130.0), t(40.0), 1.0),
        ),
        ("right", Observation::right(t(150.0), 0.0, 1.0)),
        (
            "right, late entry",
            Observation::right(t(200.0), t(60.0), 1.0),
        ),
        ("left", Observation::interval(0.0, t(70.0), 0.0, 1.0)),
        (
            "left, late entry",
            Observation::interval(0.0, t(75.0), t(20.0), 1.0),
        ),
        (
            "interval",
            Observation::interval(t(80.0), t(120.0), 0.0, 1.0),
        ),
        (
            "interval, late entry",
            Observation::interval(t(180.0), t(260.0), t(30.0), 1.0),
        ),
        (
            "early interval",
            Observation::interval(t(2.0), t(5.0), 0.0, 1.0),
        ),
        (
            "late interval",
            Observation::interval(t(700.0), t(800.0), 0.0, 1.0),
        ),
        ("counted", Observation::exact(t(40.0), 0.0, 3.0)),
    ];
    kinds
        .into_iter()
        .map(|(name, o)| (name, o.unwrap()))
        .collect()
}

/// All kinds together.
pub fn mixed(unit: f64) -> Sample {
    Sample::new(kinds(unit).into_iter().map(|k| k.1).collect())
}

/// Log-likelihood of one observation.
pub fn ln_probability(family: &dyn Family, theta: &[f64], observation: Observation) -> f64 {
    family.log_likelihood(theta, &Terms::new(&Sample::new(vec![observation])))
}

/// ln P(lower < T ≤ upper).
pub fn ln_between(family: &dyn Family, theta: &[f64], lower: f64, upper: f64) -> f64 {
    ln_probability(
        family,
        theta,
        Observation::interval(lower, upper, 0.0, 1.0).unwrap(),
    )
}

/// Age by which the share `p` has failed.
pub fn quantile(family: &dyn Family, theta: &[f64], p: f64) -> f64 {
    family.quantity(theta, Quantity::Quantile(p)).value.exp()
}

/// Every quantity that has bounds.
pub fn quantities(fit: &Fit) -> Vec<Quantity> {
    let mut out: Vec<Quantity> = (0..fit.family.reported().len())
        .map(Quantity::Parameter)
        .collect();
    out.extend([0.01, 0.1, 0.5, 0.9].map(Quantity::Quantile));
    out.extend([30.0, 100.0, 250.0].map(Quantity::Survival));
    out.push(Quantity::Mean);
    out
}

/// Fails unless `got` is `want` within `tolerance` of the larger of 1 and `want`; NaN never is.
#[track_caller]
pub fn close(got: f64, want: f64, tolerance: f64, what: &str) {
    let off = (got - want).abs() / want.abs().max(1.0);
    assert!(
        off <= tolerance,
        "{what}: {got:?} against {want:?}, off by {off:.1e}"
    );
}
