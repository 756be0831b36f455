//! What a place does to the rate at which its seals end.
//!
//! Looks, habits and duty differ by place, and with them the rates of failures and of removals for any one reason. A
//! place's factor on the rate that all places have in common is shrunk towards 1 by as much as places are alike: with
//! O endings seen where E were expected, O is Poisson with mean E f, and f is gamma with mean 1 and shape a. The shape
//! is not known either: every one of a grid of shapes counts by its likelihood, ln a even (the gamma-Poisson model of
//! textbooks, from memory; the even grid is ours).
//!
//! Parts at several places have laws of their own, each fitted to all its places together. A place's factor is common to
//! its parts; each part's own is the one that leaves its expected number as its law has it, so that a part found at one
//! place only keeps its law ([`factors_of_parts`]).

use sealspan_numeric::random::Stream;
use sealspan_numeric::special::{chi_square_quantile, ln_gamma};

/// Endings at a place: those seen, and those expected of its seals by the rate of all places.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Seen {
    /// Endings that happened.
    pub happened: f64,
    /// Expected: the sum of each seal's cumulative rate from where it came under watch to its end.
    pub expected: f64,
}

/// A factor on the rate for each place.
#[derive(Debug, Clone, PartialEq)]
pub struct Factors {
    /// Posterior mean, place by place.
    pub centre: Vec<f64>,
    /// Draws; each holds one factor a place.
    pub drawn: Vec<Vec<f64>>,
}

/// Shapes tried, evenly in ln a: factors of standard deviation 1.4 down to 0.1. That places differ by at least a tenth is
/// taken as known; a handful of places that look alike do not show that they are.
const SHAPES: usize = 31;
const FEWEST: f64 = 0.5;
const MOST: f64 = 100.0;

/// The factors, with `draws` draws from their posterior: at shape a, gamma of shape a + O and mean (a + O)/(a + E). One place alone has nothing to differ from.
///
/// ```
/// use sealspan_care::ahead::places::{Seen, factors};
/// let place = |happened, expected| Seen { happened, expected };
/// let found = factors(&[place(30.0, 10.0), place(9.0, 10.0), place(11.0, 10.0)], 50, 1);
/// // A place with thrice the failures is drawn towards the others, and keeps most of its own rate.
/// assert!(found.centre[0] > 1.5 && found.centre[0] < 3.0 && found.centre[1] < found.centre[2]);
/// ```
#[must_use]
pub fn factors(seen: &[Seen], draws: usize, seed: u64) -> Factors {
    if seen.len() < 2 {
        return Factors {
            centre: vec![1.0; seen.len()],
            drawn: vec![vec![1.0; seen.len()]; draws],
        };
    }
    let shapes = shapes(seen);
    let mean = |s: &Seen| {
        let each = shapes.iter().map(|(a, w)| w * posterior_mean(*a, s));
        each.sum()
    };
    let one = |i: usize| {
        let mut stream = Stream::new(seed, i as u64);
        let mut left = stream.uniform();
        let picked = shapes.iter().find(|(_, w)| {
            left -= w;
            left <= 0.0
        });
        let a = picked.or(shapes.last()).map_or(MOST, |(a, _)| *a);
        let of = |s: &Seen| {
            // A gamma of shape k is half a chi-square of 2k degrees of freedom.
            let degrees = 2.0 * (a + s.happened);
            0.5 * chi_square_quantile(stream.uniform(), degrees) / (a + s.expected)
        };
        seen.iter().map(of).collect()
    };
    Factors {
        centre: seen.iter().map(mean).collect(),
        drawn: (0..draws).map(one).collect(),
    }
}

/// Rounds of [`factors_of_parts`] at most, and the change that ends them.
const ROUNDS: usize = 200;
const SETTLED: f64 = 1e-12;

/// A factor for every part at every place, and `draws` draws of it.
#[derive(Debug, Clone, PartialEq)]
pub struct PartFactors {
    /// Factors by part, then by place.
    pub centre: Vec<Vec<f64>>,
    /// The same draw by draw.
    pub drawn: Vec<Vec<Vec<f64>>>,
}

/// Factors from what was `seen` by part, then by place, every part with the same places; a place without a part has
/// nothing expected there.
///
/// ```
/// use sealspan_care::ahead::places::{Seen, factors_of_parts};
/// let place = |happened, expected| Seen { happened, expected };
/// let parts = [
///     vec![place(240.0, 160.0), place(80.0, 160.0)],
///     vec![place(50.0, 50.0), place(0.0, 0.0)],
/// ];
/// let found = factors_of_parts(&parts, 0, 1).centre;
/// // The first part is worse at the first place, and both together keep what its law expects: (a + b)/2 = 1.
/// assert!(found[0][0] > 1.3 && ((found[0][0] + found[0][1]) / 2.0 - 1.0).abs() < 1e-12);
/// // A part at one place only keeps its law there.
/// assert!((found[1][0] - 1.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn factors_of_parts(seen: &[Vec<Seen>], draws: usize, seed: u64) -> PartFactors {
    let places = seen.first().map_or(0, Vec::len);
    let mut own = vec![1.0; seen.len()];
    for _ in 0..ROUNDS {
        let centre = factors(&of_places(seen, &own, places), 0, seed).centre;
        let next: Vec<f64> = seen.iter().map(|part| kept(part, &centre)).collect();
        let moved = next.iter().zip(&own).map(|(a, b)| (a - b).abs());
        let most = moved.fold(0.0, f64::max);
        own = next;
        if most < SETTLED {
            break;
        }
    }
    let all = factors(&of_places(seen, &own, places), draws, seed);
    let each = |of: &[f64]| -> Vec<Vec<f64>> {
        let part = |part: &Vec<Seen>| {
            let own = kept(part, of);
            of.iter().map(|f| own * f).collect()
        };
        seen.iter().map(part).collect()
    };
    PartFactors {
        centre: each(&all.centre),
        drawn: all.drawn.iter().map(|d| each(d)).collect(),
    }
}

/// All parts together, place by place, each part's expected number times its own factor.
fn of_places(seen: &[Vec<Seen>], own: &[f64], places: usize) -> Vec<Seen> {
    let mut out = vec![Seen::default(); places];
    for (part, own) in seen.iter().zip(own) {
        for (sum, here) in out.iter_mut().zip(part) {
            sum.happened += here.happened;
            sum.expected += own * here.expected;
        }
    }
    out
}

/// The factor of a part that keeps its expected number under the factors of its places.
fn kept(part: &[Seen], factors: &[f64]) -> f64 {
    let expected: f64 = part.iter().map(|s| s.expected).sum();
    let moved: f64 = part.iter().zip(factors).map(|(s, f)| f * s.expected).sum();
    if moved > 0.0 { expected / moved } else { 1.0 }
}

fn posterior_mean(a: f64, s: &Seen) -> f64 {
    (a + s.happened) / (a + s.expected)
}

/// Shapes with their weights, which sum to 1.
fn shapes(seen: &[Seen]) -> Vec<(f64, f64)> {
    let step = (MOST / FEWEST).ln() / (SHAPES - 1) as f64;
    let all: Vec<(f64, f64)> = (0..SHAPES)
        .map(|i| FEWEST * (step * i as f64).exp())
        .map(|a| (a, seen.iter().map(|s| ln_likelihood(a, s)).sum()))
        .collect();
    let top = all.iter().map(|s| s.1).fold(f64::NEG_INFINITY, f64::max);
    let whole: f64 = all.iter().map(|s| (s.1 - top).exp()).sum();
    all.into_iter()
        .map(|(a, ln)| (a, (ln - top).exp() / whole))
        .collect()
}

/// ln of the negative binomial probability of what happened, but for what does not hang on the shape.
fn ln_likelihood(a: f64, s: &Seen) -> f64 {
    ln_gamma(a + s.happened) - ln_gamma(a) + a * a.ln() - (a + s.happened) * (a + s.expected).ln()
}
