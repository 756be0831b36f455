//! The likelihood of straight lines that differ from seal to seal, and its maximum.
//!
//! y = (b₀ + u₀) + (b₁ + u₁) t + e, with (u₀, u₁) normal of covariance σ²LLᵀ among seals and e normal
//! of variance σ². Each seal enters by six sums, so the cost does not grow with the measurements.
//! With V = σ²(I + Z LLᵀ Zᵀ) and M = I + LᵀZᵀZL: ln|V| = n ln σ² + ln|M| and
//! V⁻¹ = σ⁻²(I − Z L M⁻¹ Lᵀ Zᵀ) (matrix determinant and inversion lemmas). Over the seals only L has to be followed:
//! the line and σ enter the sums gathered at one L in closed form.

pub use super::mixed_sums::Sums;

use super::mixed_sums::Gathered;
use crate::fit::NoFit;
use crate::maximise::{LogLikelihood, Maximum, maximise};
use crate::quantity::Derivatives;
use sealspan_numeric::jet::{Jet, Scalar};

/// In what the seals differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Structure {
    /// Level and rate, correlated.
    Correlated,
    /// Level and rate, independent.
    Independent,
    /// The rate alone.
    Rate,
    /// The level alone.
    Level,
    /// In nothing: one line for all.
    Alike,
}

/// Every structure, the richest first.
pub const STRUCTURES: [Structure; 5] = [
    Structure::Correlated,
    Structure::Independent,
    Structure::Rate,
    Structure::Level,
    Structure::Alike,
];

/// A spread among seals to start from, in units of σ.
const SMALL: f64 = 0.1;

impl Structure {
    /// Number of parameters, b₀, b₁ and σ included.
    #[must_use]
    pub(crate) fn parameters(self) -> usize {
        match self {
            Self::Correlated => 6,
            Self::Independent => 5,
            Self::Rate | Self::Level => 4,
            Self::Alike => 3,
        }
    }

    /// In words.
    ///
    /// ```
    /// use sealspan_life::degradation::mixed_fit::Structure;
    /// assert_eq!(Structure::Rate.words(), "the rate differs from seal to seal");
    /// assert_eq!(Structure::Alike.words(), "all seals go the same way");
    /// ```
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Correlated => "level and rate differ from seal to seal, together",
            Self::Independent => "level and rate differ from seal to seal, each by itself",
            Self::Rate => "the rate differs from seal to seal",
            Self::Level => "the level differs from seal to seal, the rate does not",
            Self::Alike => "all seals go the same way",
        }
    }

    /// The three entries of L from the free parameters after b₀, b₁, ln σ.
    fn root<S: Scalar>(self, free: &[S]) -> [S; 3] {
        let zero = S::constant(0.0);
        let at = |i: usize| free.get(i).copied().unwrap_or(zero);
        match self {
            Self::Correlated => [at(0), at(1), at(2)],
            Self::Independent => [at(0), zero, at(1)],
            Self::Rate => [zero, zero, at(0)],
            Self::Level => [at(0), zero, zero],
            Self::Alike => [zero, zero, zero],
        }
    }

    /// The structure in which level and rate both differ, and a point of it near `x` of this one; itself where
    /// they do already.
    #[must_use]
    pub(crate) fn widened(self, x: &[f64]) -> (Self, Vec<f64>) {
        if matches!(self, Self::Correlated | Self::Independent) {
            return (self, x.to_vec());
        }
        let [level, _, rate] = self.root_of(x);
        let start = |l: f64| if l == 0.0 { SMALL } else { l };
        let fixed = x.iter().take(3).copied();
        let point = fixed.chain([start(level), start(rate)]).collect();
        (Self::Independent, point)
    }

    /// The entries of L as numbers.
    #[must_use]
    pub(crate) fn root_of(self, x: &[f64]) -> [f64; 3] {
        self.root(x.get(3..).unwrap_or(&[]))
    }
}

/// Log-likelihood at b₀, b₁, ln σ and L; restricted (REML) subtracts ½ ln|Σ ZᵀV⁻¹Z| and adds ln 2π.
///
/// ```
/// use sealspan_life::degradation::mixed_fit::{Sums, ln_likelihood};
/// // Two points on the line 0 + 1 t, with σ = 1 and no spread among seals: two normal densities at their middle.
/// let seal = Sums::of([(0.0, 0.0), (1.0, 1.0)].into_iter());
/// assert_eq!((seal.n, seal.t, seal.ty), (2.0, 1.0, 1.0));
/// let found = ln_likelihood(&[seal], [0.0, 1.0, 0.0], [0.0; 3], false);
/// assert!((found + std::f64::consts::TAU.ln()).abs() < 1e-12);
/// ```
#[must_use]
pub fn ln_likelihood(
    seals: &[Sums],
    [b0, b1, ln_sigma]: [f64; 3],
    root: [f64; 3],
    restricted: bool,
) -> f64 {
    Gathered::of(seals, [b0, b1], root).ln_likelihood([0.0; 2], ln_sigma, restricted)
}

/// A structure's likelihood, ready to be maximised.
pub struct Problem<'a> {
    /// The seals' sums.
    pub seals: &'a [Sums],
    /// In what they differ.
    pub structure: Structure,
    /// Whether the restricted likelihood is maximised.
    pub restricted: bool,
}

impl Problem<'_> {
    /// The `N` parameters, `K` of them those of L.
    fn jets<const N: usize, const K: usize>(&self, x: &[f64]) -> Derivatives {
        let mut point = [0.0; N];
        point.iter_mut().zip(x).for_each(|(p, v)| *p = *v);
        let mut spreads = [0.0; K];
        let own = x.iter().skip(N - K);
        spreads.iter_mut().zip(own).for_each(|(p, v)| *p = *v);
        let jet = match Jet::<N>::variables(point).as_slice() {
            [b0, b1, ln_sigma, ..] => {
                let (line, root) = ([b0.value, b1.value], Jet::<K>::variables(spreads));
                let root = self.structure.root(&root);
                let gathered = Gathered::of(self.seals, line, root).placed::<N>();
                let off = [*b0 - b0.value, *b1 - b1.value];
                gathered.ln_likelihood(off, *ln_sigma, self.restricted)
            }
            _ => Jet::constant(f64::NAN),
        };
        Derivatives {
            value: jet.value,
            gradient: jet.gradient.to_vec(),
            hessian: jet.hessian.iter().map(|row| row.to_vec()).collect(),
        }
    }

    /// Finds the maximum: from level, rate and ln σ with spreads as large as σ, and with other spreads if that fails.
    ///
    /// # Errors
    /// As [`maximise`].
    pub(crate) fn solve(&self, fixed: [f64; 3]) -> Result<Maximum, NoFit> {
        let free = self.structure.parameters() - 3;
        let mut lost = NoFit::Ridge;
        for size in [1.0, 0.1, 10.0] {
            let spread = match self.structure {
                Structure::Correlated => vec![size, 0.0, size],
                _ => vec![size; free],
            };
            let start: Vec<f64> = fixed.into_iter().chain(spread).collect();
            match maximise(self, &start) {
                Ok(maximum) => return Ok(maximum),
                Err(why) => lost = why.why,
            }
        }
        Err(lost)
    }

    /// Finds the maximum from a point near it, by Newton's steps; from afar where that fails.
    ///
    /// # Errors
    /// As [`maximise`].
    pub(crate) fn solve_near(&self, x: &[f64]) -> Result<Maximum, NoFit> {
        maximise(self, x)
            .or_else(|_| self.solve([0, 1, 2].map(|i| x.get(i).copied().unwrap_or(0.0))))
    }
}

impl LogLikelihood for Problem<'_> {
    fn value(&self, x: &[f64]) -> f64 {
        match x {
            [b0, b1, ln_sigma, free @ ..] => {
                let root = self.structure.root(free);
                ln_likelihood(self.seals, [*b0, *b1, *ln_sigma], root, self.restricted)
            }
            _ => f64::NAN,
        }
    }

    fn derivatives(&self, x: &[f64]) -> Derivatives {
        match self.structure.parameters() {
            6 => self.jets::<6, 3>(x),
            5 => self.jets::<5, 2>(x),
            4 => self.jets::<4, 1>(x),
            _ => self.jets::<3, 0>(x),
        }
    }

    fn weight(&self) -> f64 {
        self.seals.iter().map(|s| s.n).sum()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// Seals measured at uneven ages, values made up.
    fn seals() -> Vec<Sums> {
        (0..7)
            .map(|i| {
                let i = f64::from(i);
                let points = (0..4).map(|j| {
                    let t = 0.1 + 0.2 * f64::from(j) + 0.03 * i;
                    (t, 1.2 - 0.5 * t + 0.1 * (3.0 * i + 5.0 * t).sin())
                });
                Sums::of(points)
            })
            .collect()
    }

    /// Slopes and bends against differences of the values, in every structure.
    #[test]
    fn derivatives_agree_with_differences() {
        let seals = seals();
        for structure in STRUCTURES {
            for restricted in [false, true] {
                let problem = Problem {
                    seals: &seals,
                    structure,
                    restricted,
                };
                let all = [1.1, -0.4, -1.9, 0.8, 0.5, 0.7];
                let x: Vec<f64> = all.into_iter().take(structure.parameters()).collect();
                let here = problem.derivatives(&x);
                let value = problem.value(&x);
                assert!((here.value / value - 1.0).abs() < 1e-13, "{structure:?}");
                let step = 1e-5;
                for i in 0..x.len() {
                    let moved = |by: f64| {
                        let mut there = x.clone();
                        there[i] += by;
                        there
                    };
                    let (up, down) = (moved(step), moved(-step));
                    let slope = (problem.value(&up) - problem.value(&down)) / (2.0 * step);
                    let scale = 1.0 + slope.abs();
                    assert!(
                        (slope - here.gradient[i]).abs() < 1e-7 * scale,
                        "{structure:?} {i}"
                    );
                    let (up, down) = (problem.derivatives(&up), problem.derivatives(&down));
                    for j in 0..x.len() {
                        let bend = (up.gradient[j] - down.gradient[j]) / (2.0 * step);
                        let scale = 1.0 + bend.abs();
                        let off = (bend - here.hessian[i][j]).abs();
                        assert!(off < 1e-7 * scale, "{structure:?} {i} {j}");
                    }
                }
            }
        }
    }

    /// The line of least squares is where the likelihood is flat in it.
    #[test]
    fn line_of_least_squares_is_the_maximum() {
        let (seals, root, ln_sigma) = (seals(), [0.8, 0.5, 0.7], -1.9);
        let gathered = Gathered::of(&seals, [1.0, 0.0], root);
        let (off, _) = gathered.line().unwrap();
        let problem = Problem {
            seals: &seals,
            structure: Structure::Correlated,
            restricted: true,
        };
        let [l1, l2, l3] = root;
        let there = problem.derivatives(&[1.0 + off.x, off.y, ln_sigma, l1, l2, l3]);
        assert!(there.gradient[0].abs() < 1e-9 && there.gradient[1].abs() < 1e-9);
        let by_line = gathered.ln_likelihood([off.x, off.y], ln_sigma, true);
        assert!((by_line / there.value - 1.0).abs() < 1e-12);
    }

    /// A structure widened lets level and rate differ, holds what differed already, and starts near the point given.
    #[test]
    fn widened_structures_hold_the_point_they_start_from() {
        for structure in STRUCTURES {
            let all = [1.1, -0.4, -1.9, 0.8, 0.5, 0.7];
            let x: Vec<f64> = all.into_iter().take(structure.parameters()).collect();
            let (wide, from) = structure.widened(&x);
            assert_eq!(from.len(), wide.parameters(), "{structure:?}");
            assert_eq!(from[..3], x[..3], "{structure:?}");
            let (before, [level, both, rate]) = (structure.root_of(&x), wide.root_of(&from));
            assert!(level != 0.0 && rate != 0.0, "{structure:?}");
            for (was, is) in before.into_iter().zip([level, both, rate]) {
                assert!(
                    was == is || (was == 0.0 && is.abs() <= SMALL),
                    "{structure:?}"
                );
            }
        }
    }

    /// A search's patience goes by the number of measurements.
    #[test]
    fn the_weight_is_the_number_of_measurements() {
        let problem = Problem {
            seals: &seals(),
            structure: Structure::Alike,
            restricted: true,
        };
        assert_eq!(problem.weight(), 28.0);
    }
}
