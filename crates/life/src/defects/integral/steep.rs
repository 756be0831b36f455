//! Delays so narrow that the share failed rises from next to none to all between two probes, against sums of many small
//! panels.
#![allow(clippy::unwrap_used)]
use super::*;
use crate::defects::moments::Plain;
use crate::laws::lognormal::Lognormal;
use crate::laws::weibull::Weibull;
use sealspan_numeric::random::Stream;

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

/// A piece is cut to a length of three times its distance to an end where the integrand is singular, at either end.
#[test]
fn pieces_near_an_end_are_cut_by_their_distance_to_it() {
    let point = Point::new(&[
        100.0_f64.ln(),
        0.5_f64.ln(),
        100.0_f64.ln(),
        0.5_f64.ln(),
        0.0,
    ]);
    let piece = Piece::<Weibull, Weibull, Plain> {
        point: &point,
        kernel: Kernel::Survival,
        end: 100.0,
        floor: f64::NEG_INFINITY,
        sum: Plain::EMPTY,
        laws: std::marker::PhantomData,
    };
    assert_eq!(piece.graded(1.0, 50.0), Some(4.0));
    assert_eq!(piece.graded(50.0, 99.0), Some(96.0));
    assert_eq!(piece.graded(30.0, 70.0), None);
    // At an end itself by a quarter until narrow.
    assert_eq!(piece.graded(0.0, 60.0), Some(15.0));
    assert_eq!(piece.graded(40.0, 100.0), Some(85.0));
    assert_eq!(
        (piece.graded(0.0, 20.0), piece.graded(80.0, 100.0)),
        (None, None)
    );
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

/// Drawn looks and laws, delays as narrow as a fit admits and wider. A failure between looks that next to no seal can have
/// is told less exactly; it weighs nothing beside the others of its history.
#[test]
fn failures_between_drawn_looks_are_worked_out() {
    for seed in 0..60 {
        let mut stream = Stream::new(seed, 0);
        let mut between = |low: f64, high: f64| low + (high - low) * stream.uniform();
        let (from, gap) = (between(20.0, 820.0), between(10.0, 510.0));
        let median = gap * between(0.2, 1.5) + from * between(0.0, 0.2);
        let sigma = between(0.1, 0.5);
        let defect = (between(50.0, 1050.0), between(0.3, 1.3));
        let theta = [defect.0.ln(), defect.1.ln(), median.ln(), sigma.ln(), 0.0];
        let look = (from, from + gap);
        for found in [
            off::<Weibull, Weibull>(theta, look),
            off::<Weibull, Lognormal>(theta, look),
            off::<Lognormal, Lognormal>(theta, look),
        ] {
            let [within, before, rough, rough_before] = found;
            let case = format!("{seed} {theta:?} {look:?}: {found:?}");
            assert!(before.abs() < 1e-10 && rough_before.abs() < 2e-5, "{case}");
            let seldom = gap < 0.3 * median;
            assert!(seldom || within.abs() < 1e-10, "{case}");
            assert!(seldom || rough.abs() < 2e-5, "{case}");
        }
    }
}
