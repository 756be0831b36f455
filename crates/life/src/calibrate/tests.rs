//! Cut-offs and control variates by hand.
use super::*;

/// The chance beyond an end z of its spreads out, and what errors of mean and spread make of it, by differences.
#[test]
fn errors_of_ends_are_those_of_mean_and_spread() {
    let of = |mean: f64, sd: f64| Calibration {
        mean,
        sd,
        mean_error: 0.02,
        sd_error: 0.03,
        refits: 500,
        roots: None,
    };
    let (mean, sd, level) = (0.1, 1.3, 0.9);
    let found = of(mean, sd).depths(level);
    let z = 1.644_853_626_951_472_7;
    assert!((found.lower - (mean + z * sd)).abs() < 1e-12);
    assert!((found.upper - (z * sd - mean)).abs() < 1e-12);
    // The signed root is normal with this mean and spread: how the chance of a root beyond the cut-off moves.
    let chance =
        |mean: f64, sd: f64| sealspan_numeric::special::normal_survival((found.lower - mean) / sd);
    let by_mean = (chance(mean + 1e-4, sd) - chance(mean - 1e-4, sd)) / 2e-4;
    let by_sd = (chance(mean, sd + 1e-4) - chance(mean, sd - 1e-4)) / 2e-4;
    let want = (by_mean * 0.02).hypot(by_sd * 0.03);
    assert!(
        (found.error / want - 1.0).abs() < 1e-6,
        "{} {want}",
        found.error
    );
}

/// Roots spread evenly over the expected places of 999: the p-th quantile is the p-th place, and the deeper end counts.
#[test]
fn the_roots_own_quantiles_count_where_they_are_deeper() {
    let roots: Vec<f64> = (1..1000).map(|i| f64::from(i) * 0.01 - 5.0).collect();
    let of = |mean: f64, sd: f64| {
        let own = Calibration {
            mean,
            sd,
            mean_error: 0.0,
            sd_error: 0.0,
            refits: 999,
            roots: Some(roots.clone()),
        };
        own.depths(0.9)
    };
    let wide = of(0.0, 1.0);
    // The 950th and the 50th of 999: 4.5 and −4.5; the error of a share of 5 %.
    assert!((wide.lower - 4.5).abs() < 1e-9 && (wide.upper - 4.5).abs() < 1e-9);
    assert!((wide.error - (0.05_f64 * 0.95 / 999.0).sqrt()).abs() < 1e-12);
    let narrow = of(0.0, 4.0);
    assert!((narrow.lower - 4.0 * 1.644_853_626_951_472_7).abs() < 1e-9);
}

/// The constant of the regression of f(r) on f(u) − known, with its residual spread, by the normal equations.
#[test]
fn what_is_shared_with_the_score_is_taken_out() {
    let pairs = [
        (0.3, 0.1),
        (-1.0, -0.8),
        (1.4, 1.9),
        (0.2, -0.4),
        (-0.6, -0.9),
        (2.2, 1.5),
    ];
    for (power, known) in [(1, 0.0), (2, 1.0)] {
        let f = |x: f64| x.powi(power);
        let n = pairs.len() as f64;
        let sum = |g: &dyn Fn(f64, f64) -> f64| -> f64 {
            pairs.iter().map(|(r, u)| g(f(*r), f(*u) - known)).sum()
        };
        let (y, x) = (sum(&|y, _| y), sum(&|_, x| x));
        let (xy, xx) = (sum(&|y, x| x * y), sum(&|_, x| x * x));
        let det = n * xx - x * x;
        let (constant, slope) = ((y * xx - x * xy) / det, (n * xy - x * y) / det);
        let rest = sum(&|y, x| (y - constant - slope * x).powi(2)) / n;
        let (mean, error) = controlled(&pairs, f, known);
        assert!((mean - constant).abs() < 1e-12);
        assert!((error - (rest / n).sqrt()).abs() < 1e-12, "{error}");
    }
}
