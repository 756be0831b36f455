//! Parameters and samples that every law is tried on.

use sealspan_life::family::Family;
use sealspan_life::fit::{Fit, fit};
use sealspan_life::laws;
use sealspan_life::quantity::Quantity;
use sealspan_life::terms::Terms;
use sealspan_numeric::random::Stream;
use sealspan_records::{Observation, Sample};

/// Runs a test over every law at several θ around a life of 100.
pub fn everywhere(test: impl Fn(&'static dyn Family, &[f64])) {
    for family in laws::all() {
        for theta in thetas(family) {
            test(family, &theta);
        }
    }
}

/// θ₀ is the location of ln life; the others run over both sides of 0 where the law has a life at every
/// share failed there, and elsewhere over where it has.
fn thetas(family: &'static dyn Family) -> Vec<Vec<f64>> {
    let mut out = vec![];
    for location in [3.9, 4.6, 5.4] {
        let others: Vec<Vec<f64>> = match family.name() {
            // A wide normal law has failed in part before age 0.
            "normal" => [-3.4, -3.2, -3.1].map(|x| vec![x]).to_vec(),
            // The failure-free time stays below every age that is tried.
            "three_parameter_weibull" => [(-1.3, -5.0), (-1.0, -6.0)]
                .map(|(sigma, ratio)| vec![sigma, ratio])
                .to_vec(),
            // Nearly all are weak, so that nearly all shares fail; the law's own tests try others.
            "weak_fraction_weibull" => [-1.3, 0.0, 0.6].map(|x| vec![x, 32.0]).to_vec(),
            "weibull_mixture" => [(-1.3, 1.1, -0.4, -1.0), (0.0, -0.5, 0.6, 2.0)]
                .map(|(a, b, c, d)| vec![a, b, c, d])
                .to_vec(),
            _ => [-1.3, -0.4, 0.0, 0.6]
                .map(|x| vec![x; family.dimension() - 1])
                .to_vec(),
        };
        for other in others {
            let mut theta = vec![location];
            theta.extend(other);
            if !out.contains(&theta) {
                out.push(theta);
            }
        }
    }
    out
}

/// A sample that the family can be fitted to, every kind of observation in it; times in `unit`.
pub fn fitting(family: &'static dyn Family, unit: f64) -> Sample {
    if family.dimension() <= 2 && family.name() != "normal" {
        return mixed(unit);
    }
    let theta: &[f64] = match family.name() {
        "normal" => &[4.6, -1.3],
        "generalised_gamma" => &[4.6, -0.7, 0.5],
        "three_parameter_weibull" => &[4.3, -0.8, -0.4],
        "weak_fraction_weibull" => &[4.0, -0.9, 1.4],
        "weibull_mixture" => &[3.4, -0.9, 1.6, -1.5, -0.6],
        other => panic!("no sample for {other}"),
    };
    let rows = (0..400).filter_map(|i| {
        let mut stream = Stream::new(6, i);
        let share = stream.uniform();
        let age = family.ln_age_at(theta, share.ln()).exp();
        let end = 400.0 * stream.uniform().sqrt();
        let entry = if i % 7 == 0 { 20.0 } else { 0.0 };
        let t = |x: f64| x * unit;
        let ended = age < end;
        match i % 5 {
            0 if ended => {
                let look = (age / 15.0).floor() * 15.0;
                Observation::interval(t(look), t(look + 15.0), t(entry), 1.0)
            }
            1 if ended => Observation::exact(t(age), t(entry), 2.0),
            _ if ended => Observation::exact(t(age), t(entry), 1.0),
            _ => Observation::right(t(end), t(entry), 1.0),
        }
        .ok()
    });
    Sample::new(rows.collect())
}

/// The fit, which must exist.
pub fn fitted(family: &'static dyn Family, sample: &Sample) -> Fit {
    fit(family, sample).unwrap_or_else(|why| panic!("{}: {why}", family.name()))
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
    out.push(Quantity::Remaining { age: 60.0, p: 0.5 });
    // A law under which fewer than that share fail has no such age; one whose mean may be infinite has no
    // upper end of it.
    out.retain(|q| fit.estimate(*q).is_finite());
    // None fails before the failure-free time: that survival is 1 without doubt.
    out.retain(|q| fit.scaled_error(*q) > 0.0);
    if ["loglogistic", "generalised_gamma"].contains(&fit.family.name()) {
        out.retain(|q| *q != Quantity::Mean);
    }
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
