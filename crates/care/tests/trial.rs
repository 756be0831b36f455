//! Trials planned ahead, played: how often they do what the plan says.
#![allow(clippy::unwrap_used)]

use sealspan_care::trial::apart::Materials;
use sealspan_care::trial::show::{Claim, Plan};
use sealspan_numeric::random::Stream;
use sealspan_numeric::roots::bracketed;
use sealspan_numeric::special::chi_square_quantile;

const PLAYED: u64 = 4000;

fn weibull(stream: &mut Stream, shape: f64, scale: f64) -> f64 {
    scale * stream.exponential().powf(1.0 / shape)
}

#[test]
fn seals_pass_as_often_as_said() {
    let claim = Claim::new(365.0, 0.9, 2.5).unwrap();
    for (failures_allowed, duration) in [(0, 500.0), (2, 365.0)] {
        let seals = claim.seals(duration, 0.9, failures_allowed).unwrap();
        let plan = Plan {
            seals,
            duration,
            failures_allowed,
        };
        for longer in [1.0, 1.5, 2.0] {
            // Scale at which 90 % are sound at the life to show, times what they live longer.
            let scale = longer * 365.0 / (-0.9f64.ln()).powf(1.0 / 2.5);
            let passed = (0..PLAYED)
                .filter(|i| {
                    let mut stream = Stream::new(11, *i);
                    let failed = (0..seals)
                        .filter(|_| weibull(&mut stream, 2.5, scale) < duration)
                        .count();
                    failed as u64 <= failures_allowed
                })
                .count() as f64;
            let share = passed / PLAYED as f64;
            let said = claim.pass(&plan, longer);
            let error = (said * (1.0 - said) / PLAYED as f64).sqrt();
            assert!((share - said).abs() < 4.0 * error, "{share} against {said}");
        }
    }
}

/// Maximum of the log-likelihood of groups with one shape, and their ln scales: for given β each η is
/// (Σ t^β / r)^(1/β), and β solves one equation.
fn common_shape(groups: &[Vec<(f64, bool)>]) -> Option<(f64, Vec<f64>)> {
    let failures = |g: &[(f64, bool)]| g.iter().filter(|x| x.1).count() as f64;
    if groups.iter().any(|g| failures(g) == 0.0) {
        return None;
    }
    let power = |g: &[(f64, bool)], b: f64| g.iter().map(|x| x.0.powf(b)).sum::<f64>();
    let slope = |b: f64| {
        groups
            .iter()
            .map(|g| {
                let r = failures(g);
                let ln_failed: f64 = g.iter().filter(|x| x.1).map(|x| x.0.ln()).sum();
                let lean: f64 = g.iter().map(|x| x.0.powf(b) * x.0.ln()).sum();
                r / b + ln_failed - r * lean / power(g, b)
            })
            .sum::<f64>()
    };
    let b = bracketed(slope, 0.05, 80.0, 1e-10)?;
    let top = groups
        .iter()
        .map(|g| {
            let r = failures(g);
            let ln_failed: f64 = g.iter().filter(|x| x.1).map(|x| x.0.ln()).sum();
            r * b.ln() - r * (power(g, b) / r).ln() + (b - 1.0) * ln_failed - r
        })
        .sum();
    let ln_scales = groups
        .iter()
        .map(|g| (power(g, b) / failures(g)).ln() / b)
        .collect();
    Some((top, ln_scales))
}

/// Share of played trials that tell the materials apart by the likelihood ratio at 90 %, and the variance of the
/// ln ratio times the seals.
fn played(ratio: f64, shape: f64, time: Option<f64>, seals: u64) -> (f64, f64) {
    let critical = chi_square_quantile(0.9, 1.0);
    let end = time.unwrap_or(f64::INFINITY);
    let (mut told, mut ratios) = (0.0, vec![]);
    for i in 0..PLAYED {
        let mut stream = Stream::new(23, i);
        let groups: Vec<Vec<(f64, bool)>> = [1.0, ratio]
            .iter()
            .map(|scale| {
                (0..seals)
                    .map(|_| {
                        let t = weibull(&mut stream, shape, *scale);
                        (t.min(end), t <= end)
                    })
                    .collect()
            })
            .collect();
        let Some((apart, ln_scales)) = common_shape(&groups) else {
            continue;
        };
        let (one, _) = common_shape(&[groups.concat()]).unwrap();
        told += f64::from(u8::from(2.0 * (apart - one) > critical));
        ratios.push(ln_scales[1] - ln_scales[0]);
    }
    let n = ratios.len() as f64;
    let mean = ratios.iter().sum::<f64>() / n;
    let variance = ratios.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / (n - 1.0);
    (told / PLAYED as f64, variance * seals as f64)
}

/// With many seals the variance is the asymptotic one: 4,000 trials know it to 4 standard errors, 9 %.
#[test]
fn the_variance_holds_with_many_seals() {
    for (ratio, time) in [(1.5, None), (1.5, Some(0.8)), (2.0, Some(1.2))] {
        let said = Materials::new(ratio, 2.5, time).unwrap().variance();
        let (_, seen) = played(ratio, 2.5, time, 200);
        assert!((seen / said - 1.0).abs() < 0.09, "{seen} against {said}");
    }
}

/// The planned seals tell the materials apart about as often as planned, run to failure or stopped.
#[test]
fn planned_seals_tell_materials_apart() {
    for (ratio, time) in [
        (1.5, None),
        (1.25, None),
        (1.5, Some(1.0)),
        (1.5, Some(0.7)),
        (2.0, Some(0.8)),
    ] {
        let materials = Materials::new(ratio, 2.5, time).unwrap();
        let seals = materials.seals(0.8, 0.9).unwrap();
        let said = materials.power(seals, 0.9).unwrap();
        let (told, _) = played(ratio, 2.5, time, seals);
        assert!(said >= 0.8, "{said}");
        assert!((told - said).abs() < 0.05, "{told} against {said}");
    }
}
