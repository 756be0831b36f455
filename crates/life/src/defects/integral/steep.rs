//! Delays so narrow that the share failed rises from next to none to all between two probes, against sums of many small
//! panels.
#![allow(clippy::unwrap_used)]
use super::*;
use crate::defects::moments::Plain;
use crate::laws::lognormal::Lognormal;
use crate::laws::weibull::Weibull;

/// ∫ f(u) du over (a, b) by 3,000 panels of five nodes.
fn panels(a: f64, b: f64, f: impl Fn(f64) -> f64) -> f64 {
    let nodes = legendre::<5>();
    let width = (b - a) / 3_000.0;
    let panel = |i: u32| {
        let middle = a + width * (f64::from(i) + 0.5);
        let node = |(x, w): &(f64, f64)| 0.5 * width * w * f(middle + 0.5 * width * x);
        nodes.iter().map(node).sum::<f64>()
    };
    (0..3_000).map(panel).sum()
}

fn off<U: Law<2>, H: Law<2>>(theta: [f64; PARAMETERS], (from, to): (f64, f64)) -> [f64; 4] {
    let (fine, rough) = (Point::new(&theta), Point::rough(&theta));
    let density = |u: f64| fine.defect.ln_density_value::<U>(u.ln());
    let kernel = |kind: Kernel, h: f64| fine.delay.ln_kernel_value::<H>(kind, h);
    let within = panels(from, to, |u| {
        (density(u) + kernel(Kernel::Failed, to - u)).exp()
    });
    let gap = Kernel::Between(to - from);
    // Evenly in the fourth root: the density bends without limit at age 0.
    let before = panels(0.0, 1.0, |v: f64| {
        let u = from * v.powi(4);
        4.0 * from * v.powi(3) * (density(u) + kernel(gap, from - u)).exp()
    });
    let ln_within = |point: &Point| {
        let mut sum = Plain::EMPTY;
        add_within::<U, H, Plain>(&mut sum, point, from, to);
        sum.ln_value() - within.ln()
    };
    let ln_before = |point: &Point| {
        let mut sum = Plain::EMPTY;
        add_integral::<U, H, Plain>(&mut sum, point, gap, &[], from);
        sum.ln_value() - before.ln()
    };
    [
        ln_within(&fine),
        ln_before(&fine),
        ln_within(&rough),
        ln_before(&rough),
    ]
}

#[test]
fn failures_between_looks_are_worked_out_for_narrow_delays() {
    let defect = [
        (992.0_f64.ln(), 0.5_f64.ln()),
        (300.0_f64.ln(), 0.9_f64.ln()),
    ];
    for (mu, ln_sigma) in defect {
        for (scale, sigma) in [
            (55.0_f64, 0.11_f64),
            (55.0, 0.05),
            (120.0, 0.2),
            (18.7, 0.08),
            (70.0, 0.4),
        ] {
            let theta = [mu, ln_sigma, scale.ln(), sigma.ln(), 0.0];
            for look in [(400.0, 600.0), (90.0, 150.0), (100.0, 1000.0)] {
                for found in [
                    off::<Weibull, Weibull>(theta, look),
                    off::<Weibull, Lognormal>(theta, look),
                ] {
                    let [within, before, rough, rough_before] = found;
                    let case = format!("{theta:?} {look:?}: {found:?}");
                    assert!(within.abs() < 1e-10 && before.abs() < 1e-10, "{case}");
                    assert!(rough.abs() < 1e-5 && rough_before.abs() < 1e-5, "{case}");
                }
            }
        }
    }
}
