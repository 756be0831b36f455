//! A cluster's part against the integral over its frailty by plain sums.
use super::*;

/// Failures between two looks: how many, and the cumulative hazards there.
type Between = (f64, f64, f64);

/// ln ∫ g(u) u^D e^(−uH) Π (e^(−uA) − e^(−uB))ᶜ du, with the mean and variance of u, g the gamma law of mean 1 and
/// variance θ: the trapezoid rule in ln u, far out and in small steps.
fn plain(failed: f64, hazard: f64, looks: &[Between], theta: f64) -> (f64, f64, f64) {
    let nu = 1.0 / theta;
    let step = 1e-3;
    let ln = |v: f64| {
        let u = v.exp();
        let own = nu * nu.ln() - ln_gamma(nu) + nu * v - nu * u;
        let seen = looks
            .iter()
            .map(|(c, a, b)| c * ((-u * a).exp() - (-u * b).exp()).ln());
        own + failed * v - u * hazard + seen.sum::<f64>()
    };
    let nodes = || (-20_000..5_000).map(|i| step * f64::from(i));
    let top = nodes().map(ln).fold(f64::NEG_INFINITY, f64::max);
    let [mut whole, mut first, mut second] = [0.0; 3];
    for v in nodes() {
        let w = (ln(v) - top).exp();
        if w > 0.0 {
            let u = v.exp();
            whole += w;
            first += w * u;
            second += w * u * u;
        }
    }
    let mean = first / whole;
    (
        top + (whole * step).ln(),
        mean,
        second / whole - mean * mean,
    )
}

#[test]
fn a_part_is_the_integral_over_the_frailty() {
    let none = (DVector::zeros(2), DMatrix::zeros(2, 2));
    let cases: [(f64, f64, &[Between]); 6] = [
        (0.0, 0.0, &[(1.0, 0.2, 0.5)]),
        (3.0, 2.0, &[(2.0, 0.1, 0.3), (1.0, 0.0, 0.7)]),
        (40.0, 31.0, &[(5.0, 0.4, 0.45)]),
        (1.0, 0.5, &[(200.0, 0.3, 0.9)]),
        (6.0, 5.9, &[(1.0, 0.9, 1.1)]),
        (0.0, 4.0, &[(30.0, 0.5, 0.5001)]),
    ];
    for (failed, hazard, list) in cases {
        let at = |h: f64| At::new(if h > 0.0 { 1.0 } else { 0.0 }, h.ln());
        let looks: Vec<Looks> = list
            .iter()
            .map(|(count, a, b)| Looks {
                count: *count,
                row: 0,
                first: at(*a),
                last: at(*b),
            })
            .collect();
        let rows = [DVector::from_element(1, 1.0)];
        let cluster = Cluster {
            failed,
            hazard: (hazard, &none.0, &none.1),
            looks: &looks,
            rows: &rows,
        };
        for theta in [0.05, 0.5, 2.0] {
            let found = cluster.part(theta, false);
            let (value, mean, variance) = plain(failed, hazard, list, theta);
            let case = format!("{failed} {hazard} {theta}");
            assert!(
                (found.value - value).abs() < 1e-7 * (1.0 + value.abs()),
                "{case}: {} {value}",
                found.value
            );
            assert!(
                (found.mean / mean - 1.0).abs() < 1e-7,
                "{case}: {} {mean}",
                found.mean
            );
            assert!((found.variance / variance - 1.0).abs() < 1e-6, "{case}");
        }
    }
}
