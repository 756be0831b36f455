//! Forecast of the bearing cages: 1703 units, 6 failures. Counts from memory (Abernethy et al. 1983;
//! Meeker & Escobar 1998): they sum to 1703, and the Weibull fit gives the shape 2.035, scale 11792
//! and the 5.06 failures in 300 h remembered as published. Expected values: 40-digit fit, exact sums.

use crate::table::{close, rows};
use sealspan_care::forecast::{Forecast, Outlook, Running};
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;

const SHAPE: f64 = 2.03531861011;
const SCALE: f64 = 11792.1781734;
const FAILURES: [f64; 6] = [230.0, 334.0, 423.0, 990.0, 1009.0, 1510.0];
fn running() -> Vec<(f64, f64)> {
    rows(include_str!("data/bearing_cages_running.csv"))
        .into_iter()
        .map(|[age, count]| (age, count))
        .collect()
}

fn forecast(horizon: f64, draws: &[Life]) -> Forecast {
    let running: Vec<Running> = running()
        .into_iter()
        .map(|(age, count)| Running {
            age,
            count: count as usize,
        })
        .collect();
    Outlook {
        running: &running,
        life: &Life::weibull(SHAPE, SCALE).unwrap(),
        draws,
        horizon,
        periods: 3,
        confidence: 0.9,
        oldest_seen: Some(2050.0),
        with_renewals: false,
    }
    .forecast()
    .unwrap()
}

/// Expected numbers to 1e-9, interval ends exact.
#[test]
fn plug_in() {
    let variance = |pmf: &[f64]| {
        let mean: f64 = pmf.iter().enumerate().map(|(k, p)| k as f64 * p).sum();
        let spread = |(k, p): (usize, &f64)| (k as f64 - mean).powi(2) * p;
        pmf.iter().enumerate().map(spread).sum::<f64>()
    };
    for (horizon, expected, spread, ends) in [
        (300.0, 5.05820884570857, 5.037980663874751, (2, 9)),
        (1000.0, 24.90139591675355, 24.478659048642204, (17, 33)),
    ] {
        let got = forecast(horizon, &[]);
        assert_eq!(got.running, 1697);
        close(got.expected, expected, 1e-9);
        assert_eq!((got.plug_in.lower, got.plug_in.upper), ends);
        assert_eq!((got.lower, got.upper), ends);
        let pmf = got.pmf.unwrap();
        close(pmf.iter().sum(), 1.0, 1e-12);
        close(variance(&pmf), spread, 1e-9);
        let last = got.by_period.last().unwrap();
        assert_eq!((last.until, last.lower), (horizon, ends.0));
    }
}

/// Draws of (ln scale, ln shape) from the normal law of the fit, by the observed information.
fn draws(n: usize) -> Vec<Life> {
    let ages = running().into_iter().map(|(t, n)| (t, n, 0.0));
    let (mut aa, mut ab, mut bb) = (0.0, 0.0, 0.0);
    for (t, count, failed) in ages.chain(FAILURES.map(|t| (t, 1.0, 1.0))) {
        let x = SHAPE * (t / SCALE).ln();
        let z = x.exp() * count;
        aa += SHAPE * SHAPE * z;
        ab += SHAPE * (failed - z - x * z);
        bb += x * z + x * x * z - failed * x;
    }
    let covariance = 1.0 / (aa * bb - ab * ab);
    let (vaa, vab, vbb) = (bb * covariance, -ab * covariance, aa * covariance);
    // Standard errors of ln scale and ln shape of the 40-digit fit.
    close(vaa.sqrt(), 0.83514, 1e-4);
    close(vbb.sqrt(), 0.32706, 1e-4);
    let mut stream = Stream::new(4, 0);
    (0..n)
        .map(|_| {
            let (u, v) = (stream.normal(), stream.normal());
            let scale = SCALE.ln() + vaa.sqrt() * u;
            let rest = (vbb - vab * vab / vaa).sqrt();
            let shape = SHAPE.ln() + vab / vaa.sqrt() * u + rest * v;
            Life::weibull(shape.exp(), scale.exp()).unwrap()
        })
        .collect()
}

/// With the estimation error the 300 h interval is 1 to 31 by 4000 draws of both life and count (the
/// chance of at most 1 is 0.05 within that simulation's error); here within Monte-Carlo error.
#[test]
fn predictive() {
    let got = forecast(300.0, &draws(4000));
    let low: f64 = got.predictive.as_ref().unwrap().pmf.as_ref().unwrap()[..2]
        .iter()
        .sum();
    assert!(
        (low - 0.05).abs() < 4.0 * (0.05_f64 * 0.95 / 4000.0).sqrt(),
        "{low}"
    );
    assert!((29..=33).contains(&got.upper), "{}", got.upper);
    assert_eq!((got.plug_in.lower, got.plug_in.upper), (2, 9));
    let predictive = got.predictive.unwrap();
    assert!(predictive.expected > got.expected);
    let later = forecast(1000.0, &draws(4000));
    assert!((11..=13).contains(&later.lower), "{}", later.lower);
    assert!((190..=220).contains(&later.upper), "{}", later.upper);
}

/// A seal past the oldest age seen is said to be extrapolated.
#[test]
fn extrapolation_is_said() {
    let got = forecast(1000.0, &[]);
    let past: f64 = running().iter().filter(|r| r.0 > 1050.0).map(|r| r.1).sum();
    close(got.beyond_oldest.unwrap(), past / 1697.0, 1e-12);
    assert!(got.notes.iter().any(|n| n.starts_with("Extrapolated")));
}
