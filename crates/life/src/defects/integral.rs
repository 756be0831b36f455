//! The integral over the age at which the defect appeared, piece by piece between the looks.

use super::moments::{DETECTION, Moments, PARAMETERS};
use super::stage::{Kernel, Local, Stage};
use crate::law::Law;
use sealspan_numeric::quadrature::{END_RULE, EndNode, LEGENDRE};
use std::sync::LazyLock;

/// Change of the integrand, as a power of e, over a piece, and its bend, that the rules still take to
/// 1e-11.
const SPREAD: f64 = 10.0;
const BEND: f64 = 2.0;
/// A piece may be this many times as long as its distance to an end where the integrand is singular.
const REACH: f64 = 3.0;
/// Halvings of a piece for the sake of its spread.
const DEEPEST: u32 = 9;
/// A piece below e^−70 of the rest is left out.
const NEGLIGIBLE: f64 = 70.0;
/// Where in a piece its spread is measured.
const PROBES: [f64; 3] = [0.02, 0.5, 0.98];

/// The two rules with the logarithms of their weights.
static SMOOTH: LazyLock<[(f64, f64); 14]> = LazyLock::new(|| LEGENDRE.map(|(x, w)| (x, w.ln())));
static SINGULAR: LazyLock<Vec<(EndNode, f64)>> =
    LazyLock::new(|| END_RULE.iter().map(|n| (*n, n.weight.ln())).collect());

/// The parameters at one point, taken apart.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point {
    pub(super) defect: Stage,
    pub(super) delay: Stage,
    /// Probability that a look finds a defect that is there.
    pub(super) detection: f64,
    /// ln of the probability that it does not.
    pub(super) ln_missed: f64,
}

impl Point {
    /// The logit of detection may be ±∞: looks that find always, or never.
    pub(super) fn new(theta: &[f64; PARAMETERS]) -> Self {
        let logit = theta[DETECTION];
        let ln_missed = if logit > 0.0 {
            -logit - (-logit).exp().ln_1p()
        } else {
            -logit.exp().ln_1p()
        };
        Self {
            defect: Stage::new(theta[0], theta[1]),
            delay: Stage::new(theta[2], theta[3]),
            detection: 1.0 / (1.0 + (-logit).exp()),
            ln_missed,
        }
    }
}

/// ∫ f_U(u) K(end − u) (1 − r)^(looks after u) du over (0, end), added to `total`. The looks lie in
/// (0, end], in order. `D`: with derivatives.
pub(super) fn add_integral<U: Law<2>, H: Law<2>, const D: bool>(
    total: &mut Moments,
    point: &Point,
    kernel: Kernel,
    looks: &[f64],
    end: f64,
) {
    // From the last piece back: it mostly weighs most, and shows what can be left out.
    let mut upper = end;
    let mut missed = 0.0;
    for lower in looks.iter().rev().copied().chain([0.0]) {
        if upper > lower {
            let ln = if missed > 0.0 {
                missed * point.ln_missed
            } else {
                0.0
            };
            if ln == f64::NEG_INFINITY {
                return;
            }
            let mut piece = Piece::<U, H, D> {
                point,
                kernel,
                from: 0.0,
                end,
                floor: total.ln_value() - ln - NEGLIGIBLE,
                sum: Moments::EMPTY,
                laws: std::marker::PhantomData,
            };
            piece.cover(lower, upper, 0);
            let r = point.detection;
            let (slope, bend) = (-missed * r, -missed * r * (1.0 - r));
            total.add_all(&piece.sum, ln, slope, bend);
        }
        upper = lower;
        missed += 1.0;
    }
}

/// The same over (from, end) with the share failed by `end` as kernel: a defect that came and failed between two ages.
pub(super) fn add_within<U: Law<2>, H: Law<2>, const D: bool>(
    total: &mut Moments,
    point: &Point,
    from: f64,
    end: f64,
) {
    let mut piece = Piece::<U, H, D> {
        point,
        kernel: Kernel::Failed,
        from: 0.0,
        end,
        floor: total.ln_value() - NEGLIGIBLE,
        sum: Moments::EMPTY,
        laws: std::marker::PhantomData,
    };
    piece.cover(from, end, 0);
    total.add_all(&piece.sum, 0.0, 0.0, 0.0);
}

/// A piece of the range in the making.
struct Piece<'a, U, H, const D: bool> {
    point: &'a Point,
    kernel: Kernel,
    /// Singular ends.
    from: f64,
    end: f64,
    floor: f64,
    sum: Moments,
    laws: std::marker::PhantomData<(U, H)>,
}

impl<U: Law<2>, H: Law<2>, const D: bool> Piece<'_, U, H, D> {
    /// Adds the integral over (a, b), cut up until the rules are exact enough.
    fn cover(&mut self, a: f64, b: f64, depth: u32) {
        let width = b - a;
        let (left, right) = (a - self.from, self.end - b);
        // Near a singular end pieces grow with their distance from it.
        let cut = if left * REACH < width && !(left == 0.0 && self.is_end(width)) {
            if left > 0.0 {
                a + REACH * left
            } else {
                a + 0.25 * width
            }
        } else if right * REACH < width && !(right == 0.0 && self.is_end(width)) {
            if right > 0.0 {
                b - REACH * right
            } else {
                b - 0.25 * width
            }
        } else {
            f64::NAN
        };
        if cut > a && cut < b {
            self.cover(cut, b, depth);
            self.cover(a, cut, depth);
            return;
        }
        let [low, middle, high] = PROBES.map(|x| self.probe(a + x * width, b, width * (1.0 - x)));
        let top = low.max(middle).max(high);
        // Twenty powers of e for what the probes may have passed over.
        if top + 20.0 + width.ln() < self.floor {
            return;
        }
        let spread = top - low.min(middle).min(high);
        let bend = (middle - 0.5 * (low + high)).abs();
        let fine = spread <= SPREAD && bend <= BEND;
        let halfway = a + 0.5 * width;
        if !fine && depth < DEEPEST && halfway > a && halfway < b {
            self.cover(halfway, b, depth + 1);
            self.cover(a, halfway, depth + 1);
        } else if left == 0.0 || right == 0.0 {
            self.singular(a, b);
        } else {
            self.smooth(a, b);
        }
    }

    /// A quarter or less of the whole range, touching a singular end.
    fn is_end(&self, width: f64) -> bool {
        width <= 0.26 * (self.end - self.from) || width <= f64::MIN_POSITIVE
    }

    /// ln of the integrand at `u`, `short` of the piece's upper end `b`.
    fn probe(&self, u: f64, b: f64, short: f64) -> f64 {
        let h = (self.end - b) + short;
        self.point.defect.ln_density_value::<U>(u.ln())
            + self.point.delay.ln_kernel_value::<H>(self.kernel, h)
    }

    fn smooth(&mut self, a: f64, b: f64) {
        let (centre, half) = (0.5 * (a + b), 0.5 * (b - a));
        let ln_half = half.ln();
        for (x, ln_weight) in SMOOTH.iter() {
            let u = centre + half * x;
            self.node(u, self.end - u, ln_weight + ln_half);
        }
    }

    fn singular(&mut self, a: f64, b: f64) {
        let width = b - a;
        let ln_width = width.ln();
        for (node, ln_weight) in SINGULAR.iter() {
            let u = if a == 0.0 {
                width * node.left
            } else {
                a + width * node.left
            };
            let h = (self.end - b) + width * node.right;
            self.node(u, h, ln_weight + ln_width);
        }
    }

    fn node(&mut self, u: f64, h: f64, ln_weight: f64) {
        let (defect, delay) = (&self.point.defect, &self.point.delay);
        let ln_u = u.ln();
        if !D {
            let ln = defect.ln_density_value::<U>(ln_u)
                + delay.ln_kernel_value::<H>(self.kernel, h)
                + ln_weight;
            if ln > self.floor {
                self.sum.add_value(ln);
            }
            return;
        }
        let a: Local = defect.ln_density::<U>(ln_u);
        let b: Local = delay.ln_kernel::<H>(self.kernel, h);
        let ln = a.value + b.value + ln_weight;
        // Also false for what is no number, at the far ends of the scale.
        if ln > self.floor {
            self.sum.add(ln, &a, &b);
        }
    }
}
