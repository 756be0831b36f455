//! The integral over the age at which the defect appeared, piece by piece between the looks.

use super::moments::{DETECTION, PARAMETERS, Sum};
use super::stage::{Kernel, Local, Stage};
use crate::law::Law;
use sealspan_numeric::quadrature::{END_RULE, EndNode, legendre};
use std::f64::consts::LN_2;
use std::sync::LazyLock;

/// Change of the integrand, as a power of e, over a piece, and its bend, that the rules still take to
/// 1e-11: inside, and of the other stage at a singular end.
const SPREAD: f64 = 10.0;
const BEND: f64 = 2.0;
const END_SPREAD: f64 = 4.0;
const END_BEND: f64 = 0.7;
/// Longest piece, in σ of ln age, over which a share failed may turn from its rise to 1, and weight of such a length where a
/// share surviving turns from 1 to its fall: where a delay is narrow, between probes whose values hardly differ; by trial on
/// drawn laws (`steep.rs`). A share failed is still far below 1, or 1 to rounding, from these logarithms on.
const TURN: f64 = 2.0;
const FALL: f64 = 1.0 / 3.0;
const UNFAILED: f64 = -3.0;
const ALL_FAILED: f64 = -1e-12;
/// Longest piece at a singular end: as a share of the range, and of the width of the law singular there.
const WIDEST: f64 = 0.26;
const REGULAR: f64 = 0.7;
/// Powers of e that the probes may have passed over.
const MARGIN: f64 = 20.0;
/// A piece may be this many times as long as its distance to an end where the integrand is singular.
const REACH: f64 = 3.0;
/// Halvings of a piece for the sake of its spread.
const DEEPEST: u32 = 9;
/// A piece below e^−70 of the rest is left out.
const NEGLIGIBLE: f64 = 70.0;
/// Where in a piece its spread is measured.
const PROBES: [f64; 3] = [0.02, 0.5, 0.98];

/// A rule with the logarithms of its weights.
type Smooth<const N: usize> = LazyLock<[(f64, f64); N]>;
/// The rules inside, and how they thin out.
static FULL: Smooth<14> = LazyLock::new(|| legendre().map(|(x, w)| (x, w.ln())));
static HALF: Smooth<7> = LazyLock::new(|| legendre().map(|(x, w)| (x, w.ln())));
static FIVE: Smooth<5> = LazyLock::new(|| legendre().map(|(x, w)| (x, w.ln())));
static THREE: Smooth<3> = LazyLock::new(|| legendre().map(|(x, w)| (x, w.ln())));
static SINGULAR: LazyLock<Vec<(EndNode, f64)>> =
    LazyLock::new(|| END_RULE.iter().map(|n| (*n, n.weight.ln())).collect());
/// Every second node of the rule for singular ends: a trapezoid rule of twice the step.
static SPARSE: LazyLock<Vec<(EndNode, f64)>> = LazyLock::new(|| {
    let nodes = END_RULE.iter().skip(1).step_by(2);
    nodes.map(|n| (*n, (2.0 * n.weight).ln())).collect()
});

/// Nodes at each end of the rule for singular ends with weights below 1e-14, and of its sparse form below 1e-10.
const OUTERMOST: usize = 6;
const SPARSE_OUTERMOST: usize = 4;

/// Change and bend over an inner piece, its length over the distance to a singular end, and its turn, up to which fewer
/// nodes do: by the error of Gauss's rule on e^(a x − b x²), on a power whose branch point lies that far off, and on
/// 1 − e^(−e^z), which grows without limit beyond an imaginary part of π/2; 1e-11 and better.
const TAME: (f64, f64, f64, f64) = (3.0, 0.2, 0.75, 1.0);
const TAMER: (f64, f64, f64, f64) = (1.0, 0.03, 0.3, 0.5);

/// The parameters at one point, taken apart.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point {
    pub(super) defect: Stage,
    pub(super) delay: Stage,
    /// Probability that a look finds a defect that is there.
    pub(super) detection: f64,
    /// ln of the probability that it does not.
    pub(super) ln_missed: f64,
    /// Whether integrals to about 1e-5 are enough: on the way to a point, for draws and for replays.
    pub(super) rough: bool,
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
            rough: false,
        }
    }

    /// The same, for integrals to about 1e-5.
    pub(super) fn rough(theta: &[f64; PARAMETERS]) -> Self {
        Self {
            rough: true,
            ..Self::new(theta)
        }
    }
}

/// ∫ f_U(u) K(end − u) (1 − r)^(looks after u) du over (0, end), added to `total`. The looks lie in
/// (0, end], in order.
pub(super) fn add_integral<U: Law<2>, H: Law<2>, S: Sum>(
    total: &mut S,
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
            let mut piece = Piece::<U, H, S> {
                point,
                kernel,
                end,
                floor: total.ln_value() - ln - NEGLIGIBLE,
                sum: S::EMPTY,
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
pub(super) fn add_within<U: Law<2>, H: Law<2>, S: Sum>(
    total: &mut S,
    point: &Point,
    from: f64,
    end: f64,
) {
    let mut piece = Piece::<U, H, S> {
        point,
        kernel: Kernel::Failed,
        end,
        floor: total.ln_value() - NEGLIGIBLE,
        sum: S::EMPTY,
        laws: std::marker::PhantomData,
    };
    piece.cover(from, end, 0);
    total.add_all(&piece.sum, 0.0, 0.0, 0.0);
}

/// Whether values at the probes change and bend no more than a rule takes.
fn is_tame([low, middle, high]: [f64; 3], spread: f64, bend: f64) -> bool {
    let (top, bottom) = (low.max(middle).max(high), low.min(middle).min(high));
    top - bottom <= spread && (middle - 0.5 * (low + high)).abs() <= bend
}

/// A piece of the range in the making.
struct Piece<'a, U, H, S> {
    point: &'a Point,
    kernel: Kernel,
    /// Where the delay's part is singular; the defect's is at 0.
    end: f64,
    floor: f64,
    sum: S,
    laws: std::marker::PhantomData<(U, H)>,
}

impl<U: Law<2>, H: Law<2>, S: Sum> Piece<'_, U, H, S> {
    /// Adds the integral over (a, b), cut up until the rules are exact enough.
    fn cover(&mut self, a: f64, b: f64, depth: u32) {
        let width = b - a;
        if let Some(cut) = self.graded(a, b).filter(|cut| *cut > a && *cut < b) {
            self.cover(cut, b, depth);
            self.cover(a, cut, depth);
            return;
        }
        let probes = PROBES.map(|x| self.probe(a + x * width, b, width * (1.0 - x)));
        let both = probes.map(|(u, h)| u + h);
        let top = both.into_iter().fold(f64::NEG_INFINITY, f64::max);
        let ln_width = width.ln();
        self.floor = self.floor.max(self.sum.ln_value() - NEGLIGIBLE);
        if top + MARGIN + ln_width < self.floor {
            return;
        }
        // An end piece is narrow beside the law that is singular there: only the other can vary too much.
        let (at_start, at_end) = (a <= 0.0, b >= self.end);
        let fine = match (at_start, at_end) {
            (true, _) => is_tame(probes.map(|p| p.1), END_SPREAD, END_BEND),
            (_, true) => is_tame(probes.map(|p| p.0), END_SPREAD, END_BEND),
            _ => is_tame(both, SPREAD, BEND),
        };
        let turn = self.turn(a, b);
        let fine = fine && turn <= TURN;
        let halfway = a + 0.5 * width;
        if !fine && depth < DEEPEST && halfway > a && halfway < b {
            self.cover(halfway, b, depth + 1);
            self.cover(a, halfway, depth + 1);
        } else if at_start || at_end {
            self.singular(a, b, ln_width);
        } else {
            self.smooth((a, b), ln_width, both, turn);
        }
    }

    /// How quickly the kernel turns in a piece from a share failed that rises to one that is 1, or from all surviving to
    /// a fall: the piece's length in σ of ln age, of a fall a third of it; else 0.
    fn turn(&self, a: f64, b: f64) -> f64 {
        let (near, far) = (self.end - b, self.end - a);
        let delay = &self.point.delay;
        let failed = |h: f64| delay.ln_kernel_value::<H>(Kernel::Failed, h);
        let over = |past: f64| {
            let (near, far) = (near + past, far + past);
            let turns = near > 0.0 && failed(near) < ALL_FAILED && failed(far) > UNFAILED;
            if turns { delay.apart(near, far) } else { 0.0 }
        };
        match self.kernel {
            Kernel::Density => 0.0,
            Kernel::Failed => over(0.0),
            Kernel::Survival => FALL * over(0.0),
            Kernel::Between(gap) => over(gap).max(FALL * over(0.0)),
        }
    }

    /// Where to cut a piece that is too long for its distance to a singular end, or at such an end too wide.
    fn graded(&self, a: f64, b: f64) -> Option<f64> {
        let (width, right) = (b - a, self.end - b);
        let narrow = |stage: &Stage| width <= (WIDEST * self.end).min(REGULAR * stage.width());
        if a <= 0.0 && !narrow(&self.point.defect) {
            Some(a + 0.25 * width)
        } else if right <= 0.0 && !narrow(&self.point.delay) {
            Some(b - 0.25 * width)
        } else if a > 0.0 && a * REACH < width {
            Some(a + REACH * a)
        } else if right > 0.0 && right * REACH < width {
            Some(b - REACH * right)
        } else {
            None
        }
    }

    /// ln of the two stages' parts of the integrand at `u`, `short` of the piece's upper end `b`.
    fn probe(&self, u: f64, b: f64, short: f64) -> (f64, f64) {
        let h = (self.end - b) + short;
        (
            self.point.defect.ln_density_value::<U>(u.ln()),
            self.point.delay.ln_kernel_value::<H>(self.kernel, h),
        )
    }

    fn smooth(&mut self, (a, b): (f64, f64), ln_width: f64, probes: [f64; 3], turn: f64) {
        let width = b - a;
        let off = a.min(self.end - b);
        let fits = |(spread, bend, reach, turns): (f64, f64, f64, f64)| {
            is_tame(probes, spread, bend) && width <= reach * off && turn <= turns
        };
        let nodes: &[(f64, f64)] = match (fits(TAMER), fits(TAME), self.point.rough) {
            (true, _, false) | (false, true, true) => &*FIVE,
            (true, _, true) => &*THREE,
            (false, true, false) | (false, false, true) => &*HALF,
            (false, false, false) => &*FULL,
        };
        let (centre, half) = (0.5 * (a + b), 0.5 * (b - a));
        let ln_half = ln_width - LN_2;
        let [_, middle, _] = probes;
        for (i, (x, ln_weight)) in nodes.iter().enumerate() {
            let ln_weight = ln_weight + ln_half;
            if !S::SLOPES && 2 * i + 1 == nodes.len() {
                // The node in the middle is a probe.
                self.value(middle + ln_weight);
            } else {
                let u = centre + half * x;
                self.node(u, self.end - u, ln_weight);
            }
        }
    }

    fn singular(&mut self, a: f64, b: f64, ln_width: f64) {
        let width = b - a;
        // Where the integrand is bounded at the ends, the outermost nodes weigh nothing.
        let delay_bounded = self.kernel != Kernel::Density || self.point.delay.is_bounded();
        let (rule, spare) = if self.point.rough {
            (&*SPARSE, SPARSE_OUTERMOST)
        } else {
            (&*SINGULAR, OUTERMOST)
        };
        let bounded = self.point.defect.is_bounded() && delay_bounded;
        let spare = if bounded { spare } else { 0 };
        let nodes = rule.get(spare..rule.len() - spare);
        for (node, ln_weight) in nodes.unwrap_or_default() {
            let u = a + width * node.left;
            let h = (self.end - b) + width * node.right;
            self.node(u, h, ln_weight + ln_width);
        }
    }

    /// Adds a term without derivatives. Not what is no number, at the far ends of the scale.
    fn value(&mut self, ln: f64) {
        if ln > self.floor {
            self.sum.add_value(ln);
        }
    }

    fn node(&mut self, u: f64, h: f64, ln_weight: f64) {
        let (defect, delay) = (&self.point.defect, &self.point.delay);
        let ln_u = u.ln();
        if !S::SLOPES {
            let ln = defect.ln_density_value::<U>(ln_u)
                + delay.ln_kernel_value::<H>(self.kernel, h)
                + ln_weight;
            self.value(ln);
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

#[cfg(test)]
mod steep;
