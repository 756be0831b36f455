//! Misses of an interval's ends, with little noise from few samples.
//!
//! Whether an end misses hangs almost wholly on the signed root of the likelihood ratio at the truth, which is
//! cheap. So its law is learnt from many samples, intervals are made for few, and the share of misses is summed
//! over classes of the signed root (post-stratification; Cochran 1977, "Sampling Techniques", section 5A.9, from
//! memory). Samples whose signed roots all lie well inside every cut-off are hardly ever in doubt: of those one
//! in [`DULL`] is taken and counts for as many.

use crate::design::Design;
use rayon::prelude::*;
use sealspan_life::bounds::Method;
use sealspan_life::calibrate::signed_root;
use sealspan_life::fit::fit;
use sealspan_life::intervals::Intervals;
use sealspan_life::laws::by_name;

/// Two-sided confidence of every interval.
const LEVEL: f64 = 0.9;
/// One in so many samples well inside every cut-off is taken.
const DULL: u64 = 8;
/// Signed roots nearer to 0 lie well inside every cut-off.
const INSIDE: f64 = 1.15;
/// Classes of signed roots on each side: so wide, so many, and all that lies beyond.
const WIDTH: f64 = 0.125;
const ON_A_SIDE: usize = 11;
/// The class between the sides.
const MIDDLE: usize = 2 * ON_A_SIDE;
/// Both sides, the middle, and those without a signed root.
const CLASSES: usize = MIDDLE + 2;

/// Signed roots of the three quantities at the truth.
type Roots = [Option<f64>; 3];

/// A share in per cent with its standard error.
#[derive(Clone, Copy)]
pub struct Share {
    pub value: f64,
    pub error: f64,
}

/// Misses of one quantity's intervals.
#[derive(Clone, Copy)]
pub struct Misses {
    /// The lower end lay above the truth.
    pub below: Share,
    /// The upper end lay below the truth.
    pub above: Share,
}

impl Misses {
    /// Per cent of intervals that hold the truth.
    pub fn held(&self) -> f64 {
        100.0 - self.below.value - self.above.value
    }
}

/// Signed roots of many samples of a design.
pub struct Cheap {
    roots: Vec<Option<Roots>>,
}

impl Cheap {
    pub fn of(design: &Design, samples: u64) -> Option<Self> {
        let family = by_name(design.life.family())?;
        let asked = design.asked();
        let roots = (0..samples).into_par_iter().map(|number| {
            let fit = fit(family, &design.sample(number)).ok()?;
            Some(asked.map(|(quantity, _)| signed_root(&fit, quantity, design.life.theta())))
        });
        Some(Self {
            roots: roots.collect(),
        })
    }

    /// Per cent of samples of which the law has no maximum.
    pub fn without_estimate(&self) -> f64 {
        let none = self.roots.iter().filter(|r| r.is_none()).count();
        100.0 * none as f64 / self.roots.len() as f64
    }

    /// Misses of a method, from intervals of the first `samples`, and how many intervals were made.
    pub fn misses(&self, design: &Design, method: Method, samples: u64) -> ([Misses; 3], usize) {
        let taken: Vec<(Roots, f64, [[bool; 2]; 3])> = (0..samples)
            .into_par_iter()
            .filter_map(|number| {
                let roots = (*self.roots.get(number as usize)?)?;
                let weight = weight(&roots, number)?;
                Some((roots, weight, ends(design, method, number)?))
            })
            .collect();
        let misses = [0, 1, 2].map(|q| {
            let side = |side: usize| {
                let seen = taken
                    .iter()
                    .map(|(roots, weight, missed)| (class(roots[q]), *weight, missed[q][side]));
                self.share(q, seen)
            };
            Misses {
                below: side(0),
                above: side(1),
            }
        });
        (misses, taken.len())
    }

    /// The share of misses, summed over classes of signed roots of quantity `q`.
    fn share(&self, q: usize, seen: impl Iterator<Item = (usize, f64, bool)>) -> Share {
        let mut all = [0.0; CLASSES];
        for roots in self.roots.iter().flatten() {
            all[class(roots[q])] += 1.0;
        }
        let total: f64 = all.iter().sum();
        // Weights, weights of misses, squared weights.
        let mut sums = [[0.0_f64; 3]; CLASSES];
        for (class, weight, missed) in seen {
            let s = &mut sums[class];
            s[0] += weight;
            s[1] += if missed { weight } else { 0.0 };
            s[2] += weight * weight;
        }
        let (mut value, mut variance, mut among) = (0.0, 0.0, 0.0);
        for (class, (n, [weight, missed, squares])) in all.iter().zip(sums).enumerate() {
            if *n == 0.0 || weight == 0.0 {
                continue;
            }
            let (part, p) = (n / total, missed / weight);
            value += part * p;
            among += part * p * p;
            let taken = weight * weight / squares;
            // All of a few missed, or none, is no proof that all or none do: half a sample is put on either side.
            // Not in the middle, where none can miss unless a cut-off lies below [`INSIDE`].
            let rough = match class {
                MIDDLE => p,
                _ => (p * taken + 0.5) / (taken + 1.0),
            };
            variance += part * part * rough * (1.0 - rough) / taken;
        }
        variance += (among - value * value).max(0.0) / total;
        Share {
            value: 100.0 * value,
            error: 100.0 * variance.sqrt(),
        }
    }
}

/// The class of a signed root: the middle, one of a side, or the one of those without.
fn class(root: Option<f64>) -> usize {
    let Some(r) = root else {
        return CLASSES - 1;
    };
    let beyond = (r.abs() - INSIDE) / WIDTH;
    if beyond < 0.0 {
        return MIDDLE;
    }
    let side = if r < 0.0 { 0 } else { ON_A_SIDE };
    side + (beyond as usize).min(ON_A_SIDE - 1)
}

/// How much a sample counts for; `None` for one that is left out.
fn weight(roots: &Roots, number: u64) -> Option<f64> {
    let near = |r: &Option<f64>| r.is_none_or(|r| r.abs() >= INSIDE);
    if roots.iter().any(near) {
        Some(1.0)
    } else {
        number.is_multiple_of(DULL).then_some(DULL as f64)
    }
}

/// Which ends miss, for each quantity; an open end holds everything on its side.
fn ends(design: &Design, method: Method, number: u64) -> Option<[[bool; 2]; 3]> {
    let sample = design.sample(number);
    let fit = fit(by_name(design.life.family())?, &sample).ok()?;
    let intervals = Intervals::new(&fit, &sample, method, LEVEL, number);
    Some(design.asked().map(|(quantity, truth)| {
        let b = intervals.of(quantity).bounds;
        [
            b.lower.is_some_and(|l| l > truth),
            b.upper.is_some_and(|u| u < truth),
        ]
    }))
}
