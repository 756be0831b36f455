//! Adaptive Gauss–Kronrod quadrature.

use std::sync::LazyLock;

/// Nodes and weights of the 15-point Kronrod rule with its embedded 7-point Gauss rule on [-1, 1]
/// (Piessens et al., QUADPACK, 1983; from memory, checked in the tests by exactness on polynomials
/// up to degree 22). Positive half; the last node is 0.
const NODES: [f64; 8] = [
    0.991_455_371_120_812_6,
    0.949_107_912_342_758_5,
    0.864_864_423_359_769_1,
    0.741_531_185_599_394_4,
    0.586_087_235_467_691_1,
    0.405_845_151_377_397_2,
    0.207_784_955_007_898_47,
    0.0,
];
const KRONROD: [f64; 8] = [
    0.022_935_322_010_529_224,
    0.063_092_092_629_978_55,
    0.104_790_010_322_250_18,
    0.140_653_259_715_525_92,
    0.169_004_726_639_267_9,
    0.190_350_578_064_785_4,
    0.204_432_940_075_298_89,
    0.209_482_141_084_727_82,
];
/// Gauss weights of nodes 1, 3, 5, 7.
const GAUSS: [f64; 4] = [
    0.129_484_966_168_869_7,
    0.279_705_391_489_276_64,
    0.381_830_050_505_118_9,
    0.417_959_183_673_469_37,
];

/// Nodes and weights of the 14-point Gauss–Legendre rule on [−1, 1], exact for polynomials of degree 27.
pub static LEGENDRE: LazyLock<[(f64, f64); 14]> = LazyLock::new(legendre);

/// Nodes and weights of the N-point Gauss–Legendre rule on [−1, 1], exact for polynomials of degree 2N − 1, from
/// Newton's method on the Legendre polynomial (Abramowitz & Stegun 25.4.29).
///
/// ```
/// let rule = sealspan_numeric::quadrature::legendre::<3>();
/// let fourth: f64 = rule.iter().map(|(x, weight)| weight * x.powi(4)).sum();
/// assert!((fourth - 2.0 / 5.0).abs() < 1e-14);
/// ```
#[must_use]
pub fn legendre<const N: usize>() -> [(f64, f64); N] {
    std::array::from_fn(|i| legendre_node(i, N))
}

fn legendre_node(i: usize, count: usize) -> (f64, f64) {
    let n = count as f64;
    let mut x = (std::f64::consts::PI * (i as f64 + 0.75) / (n + 0.5)).cos();
    let mut slope = 1.0;
    for _ in 0..20 {
        let (mut before, mut here) = (1.0, x);
        for k in 2..=count {
            let k = k as f64;
            (before, here) = (here, ((2.0 * k - 1.0) * x * here - (k - 1.0) * before) / k);
        }
        slope = n * (x * here - before) / (x * x - 1.0);
        x -= here / slope;
    }
    (x, 2.0 / ((1.0 - x * x) * slope * slope))
}

/// A node of the rule for an interval whose ends may be singular, on (0, 1).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EndNode {
    /// Distance from 0, without loss near it.
    pub left: f64,
    /// Distance from 1, without loss near it.
    pub right: f64,
    /// Weight.
    pub weight: f64,
}

/// Half the nodes beside the middle one, and their spacing before the change of variable.
const END_NODES: i32 = 23;
const END_STEP: f64 = 0.18;

/// The double-exponential rule on (0, 1): x = 1/(1 + exp(−π sinh s)) turns powers at the ends into a
/// double-exponential decay, on which the trapezoid rule converges faster than any power (Takahasi & Mori
/// 1974; from memory). Good to 1e-11 and better for |x|^(b−1) with b from 0.3.
pub static END_RULE: LazyLock<Vec<EndNode>> =
    LazyLock::new(|| (-END_NODES..=END_NODES).map(end_node).collect());

fn end_node(i: i32) -> EndNode {
    let s = END_STEP * f64::from(i);
    let y = std::f64::consts::PI * s.sinh();
    let (left, right) = (1.0 / (1.0 + (-y).exp()), 1.0 / (1.0 + y.exp()));
    EndNode {
        left,
        right,
        weight: END_STEP * std::f64::consts::PI * s.cosh() * left * right,
    }
}

/// An integral and the estimate of its absolute error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Integral {
    /// Value.
    pub value: f64,
    /// Estimated absolute error.
    pub error: f64,
}

fn rule(f: &impl Fn(f64) -> f64, a: f64, b: f64) -> Integral {
    let (centre, half) = (0.5 * (a + b), 0.5 * (b - a));
    let (mut kronrod, mut gauss) = (0.0, 0.0);
    for (i, (x, w)) in NODES.iter().zip(KRONROD).enumerate() {
        let pair = if *x == 0.0 {
            f(centre)
        } else {
            f(centre - half * x) + f(centre + half * x)
        };
        kronrod += w * pair;
        if i % 2 == 1 {
            gauss += GAUSS.get(i / 2).copied().unwrap_or(0.0) * pair;
        }
    }
    Integral {
        value: kronrod * half,
        error: ((kronrod - gauss) * half).abs(),
    }
}

/// Most pieces an interval is cut into before the answer is given as it stands.
const PIECES: usize = 4000;

/// Integral of `f` over [a, b] to relative tolerance `rel`, halving the worst piece first.
/// The error returned is an estimate and usually far too large for smooth functions.
///
/// ```
/// let i = sealspan_numeric::quadrature::integrate(|x| (-x * x).exp(), 0.0, 10.0, 1e-12);
/// assert!((i.value - std::f64::consts::PI.sqrt() / 2.0).abs() < 1e-12);
/// ```
pub fn integrate(f: impl Fn(f64) -> f64, a: f64, b: f64, rel: f64) -> Integral {
    if a == b {
        return Integral {
            value: 0.0,
            error: 0.0,
        };
    }
    let mut pieces = vec![(a, b, rule(&f, a, b))];
    loop {
        let value: f64 = pieces.iter().map(|p| p.2.value).sum();
        let error: f64 = pieces.iter().map(|p| p.2.error).sum();
        let worst = pieces
            .iter()
            .enumerate()
            .max_by(|x, y| x.1.2.error.total_cmp(&y.1.2.error));
        let done = error <= rel * value.abs() || !error.is_finite() || pieces.len() >= PIECES;
        let Some((at, &(lo, hi, _))) = worst.filter(|_| !done) else {
            return Integral { value, error };
        };
        let middle = 0.5 * (lo + hi);
        if middle <= lo || middle >= hi {
            return Integral { value, error };
        }
        pieces.swap_remove(at);
        pieces.push((lo, middle, rule(&f, lo, middle)));
        pieces.push((middle, hi, rule(&f, middle, hi)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_on_polynomials() {
        for degree in (0..=22).step_by(2) {
            let got = rule(&|x: f64| x.powi(degree), -1.0, 1.0).value;
            assert!(
                (got - 2.0 / f64::from(degree + 1)).abs() < 1e-14,
                "degree {degree}"
            );
        }
    }

    #[test]
    fn legendre_is_exact_on_polynomials() {
        for degree in (0..28).step_by(2) {
            let got: f64 = LEGENDRE.iter().map(|(x, w)| w * x.powi(degree)).sum();
            assert!(
                (got - 2.0 / f64::from(degree + 1)).abs() < 1e-14,
                "degree {degree}"
            );
        }
    }

    #[test]
    fn powers_at_the_ends() {
        for power in [0.3, 0.5, 1.0, 1.7, 2.5, 9.3] {
            let left: f64 = END_RULE
                .iter()
                .map(|n| n.weight * n.left.powf(power - 1.0))
                .sum();
            let right: f64 = END_RULE
                .iter()
                .map(|n| n.weight * n.right.powf(power - 1.0))
                .sum();
            for got in [left, right] {
                assert!(
                    (got * power - 1.0).abs() < 1e-11,
                    "{power}: {}",
                    got * power
                );
            }
        }
    }

    #[test]
    fn a_kink_and_a_spike() {
        let kink = integrate(|x: f64| (x - 0.3).abs(), 0.0, 1.0, 1e-10).value;
        assert!((kink - (0.09 + 0.49) / 2.0).abs() < 1e-10);
        let spike = integrate(|x: f64| (-(x - 0.5).powi(2) * 1e6).exp(), 0.0, 1.0, 1e-10).value;
        assert!((spike / (std::f64::consts::PI / 1e6).sqrt() - 1.0).abs() < 1e-10);
    }
}
