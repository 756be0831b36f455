//! Double-exponential quadrature on (0, 1), whose nodes crowd at both ends: singular ends do no harm.
//!
//! x = 1/(1 + e^(−π sinh t)), trapezoidal rule in t (Takahasi & Mori 1974, from memory; checked in the
//! tests on integrals with algebraic ends).

use crate::quadrature::LEGENDRE;
use std::sync::LazyLock;

/// A node: its distances from both ends, each with all its digits, and its weight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Node {
    /// Distance from 0.
    pub left: f64,
    /// Distance from 1.
    pub right: f64,
    /// Weight.
    pub weight: f64,
}

/// A rule: the nodes for an integrand that may be singular at 0 come first in its list, those for one that
/// is not last; the two may overlap.
///
/// ```
/// use sealspan_numeric::double_exponential::Rule;
/// for rule in [Rule::of_level(5), Rule::quick()] {
///     // ∫ x^(−1/2) dx = 2 with its singular end at 0, ∫ x² dx = 1/3 without one.
///     let singular: f64 = rule.from_singular_end().iter().map(|n| n.weight / n.left.sqrt()).sum();
///     let ordinary: f64 = rule.ordinary().iter().map(|n| n.weight * n.left * n.left).sum();
///     assert!((singular - 2.0).abs() < 1e-4, "{singular}");
///     assert!((ordinary - 1.0 / 3.0).abs() < 1e-8, "{ordinary}");
///     assert_eq!(rule.nodes()[rule.inner()].left, rule.ordinary()[0].left);
/// }
/// ```
#[derive(Debug, Clone)]
pub struct Rule {
    nodes: Vec<Node>,
    singular: usize,
    inner: usize,
}

/// Coarsest and finest level; the step in t is 2^−level.
const COARSEST: u32 = 2;
/// Finest level.
pub const FINEST: u32 = 10;

/// Where weights of an ordinary end have sunk below rounding, in t.
const ORDINARY: f64 = 3.1;
/// The same for an end where x^−0.7 is still to be integrated.
const SINGULAR: f64 = 4.5;

static RULES: LazyLock<Vec<Rule>> = LazyLock::new(|| (0..=FINEST).map(Rule::new).collect());

impl Rule {
    /// The rule of a level; levels beyond the finest are the finest.
    #[must_use]
    pub fn of_level(level: u32) -> &'static Self {
        static EMPTY: Rule = Rule {
            nodes: vec![],
            singular: 0,
            inner: 0,
        };
        RULES
            .get(level.clamp(COARSEST, FINEST) as usize)
            .unwrap_or(&EMPTY)
    }

    /// A quick rule for searches: level 3 at a singular end, elsewhere 14 Gauss-Legendre nodes.
    #[must_use]
    pub fn quick() -> &'static Self {
        static QUICK: LazyLock<Rule> = LazyLock::new(|| {
            let mut nodes = Rule::of_level(3).from_singular_end().to_vec();
            let singular = nodes.len();
            nodes.extend(LEGENDRE.iter().map(|(x, weight)| Node {
                left: 0.5 * (1.0 + x),
                right: 0.5 * (1.0 - x),
                weight: 0.5 * weight,
            }));
            Rule {
                nodes,
                singular,
                inner: singular,
            }
        });
        &QUICK
    }

    fn new(level: u32) -> Self {
        let step = 0.5f64.powi(level as i32);
        let count = |reach: f64| (reach / step).ceil() as i32;
        let nodes: Vec<Node> = (-count(SINGULAR)..=count(ORDINARY))
            .map(|i| {
                let t = f64::from(i) * step;
                let s = std::f64::consts::PI * t.sinh();
                let (left, right) = (1.0 / (1.0 + (-s).exp()), 1.0 / (1.0 + s.exp()));
                Node {
                    left,
                    right,
                    weight: step * std::f64::consts::PI * t.cosh() * left * right,
                }
            })
            .collect();
        Self {
            singular: nodes.len(),
            nodes,
            inner: (count(SINGULAR) - count(ORDINARY)) as usize,
        }
    }

    /// All nodes.
    #[must_use]
    pub fn nodes(&self) -> &[Node] {
        &self.nodes
    }

    /// The nodes for an integrand that may be singular at 0: the first of all.
    #[must_use]
    pub fn from_singular_end(&self) -> &[Node] {
        self.nodes.get(..self.singular).unwrap_or_default()
    }

    /// The nodes for an integrand that is finite at 0: the last of all.
    #[must_use]
    pub fn ordinary(&self) -> &[Node] {
        self.nodes.get(self.inner..).unwrap_or_default()
    }

    /// Place of the first of [`Rule::ordinary`] among all nodes.
    #[must_use]
    pub fn inner(&self) -> usize {
        self.inner
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn algebraic_ends() {
        let rule = Rule::of_level(4);
        let root: f64 = rule
            .from_singular_end()
            .iter()
            .map(|n| n.weight * n.left.powf(-0.7))
            .sum();
        assert!((root - 1.0 / 0.3).abs() < 1e-10, "{root}");
        let smooth: f64 = rule
            .ordinary()
            .iter()
            .map(|n| n.weight * n.left.exp())
            .sum();
        assert!((smooth - 1f64.exp_m1()).abs() < 1e-13, "{smooth}");
        let far: f64 = rule
            .ordinary()
            .iter()
            .map(|n| n.weight * n.right.sqrt())
            .sum();
        assert!((far - 2.0 / 3.0).abs() < 1e-13, "{far}");
    }

    /// Levels are nested and sum to one.
    #[test]
    fn weights() {
        let quick: f64 = Rule::quick().ordinary().iter().map(|n| n.weight).sum();
        assert!((quick - 1.0).abs() < 1e-13);
        for level in 3..=8 {
            let sum: f64 = Rule::of_level(level)
                .ordinary()
                .iter()
                .map(|n| n.weight)
                .sum();
            assert!((sum - 1.0).abs() < 1e-13, "level {level}: {sum}");
        }
    }
}
