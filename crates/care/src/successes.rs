//! How many of many independent seals fail, each group with its own chance: the Poisson-binomial law.

use crate::counts::Counts;
use sealspan_life::life::Life;
use sealspan_numeric::special::ln_normal_survival;

/// Seals alike: how many, and the chance that one fails.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Group {
    /// Number of seals.
    pub count: usize,
    /// Chance of each.
    pub chance: f64,
}

/// How much work a distribution may cost before a closer or rougher approximation takes over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effort {
    /// Multiplications allowed for the exact convolution.
    pub multiplications: f64,
    /// Variance from which the normal law with skewness correction stands in.
    pub normal_from: f64,
    /// Distinct chances kept when groups are pooled instead.
    pub pools: usize,
}

impl Effort {
    /// For one answer: errors below 1e-5 in any probability.
    pub const CAREFUL: Self = Self {
        multiplications: 2e7,
        normal_from: 1e4,
        pools: 128,
    };
    /// For one of many draws that are averaged: errors below 1e-3 in any probability.
    pub const QUICK: Self = Self {
        multiplications: 6e4,
        normal_from: 400.0,
        pools: 16,
    };
}

/// How a distribution was worked out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Method {
    /// Convolution of the groups' binomials; the error is rounding.
    Exact,
    /// Convolution after pooling neighbouring chances at their mean; the mean is exact, the
    /// variance too large by this share.
    Pooled(f64),
    /// Normal law with continuity and skewness correction, of this variance.
    Normal(f64),
}

/// Terms below this share of a binomial's greatest one are left out.
const LEAST: f64 = 1e-20;
/// Probability cut off on each side after each convolution.
pub(crate) const CUT: f64 = 1e-18;
/// Standard deviations kept on each side, with a few whole numbers more.
const REACH: f64 = 9.5;
const MARGIN: f64 = 30.0;

/// Distribution of the number of failures, and how it was found.
///
/// ```
/// use sealspan_care::successes::{Effort, Group, number_failing};
/// let groups = [Group { count: 2, chance: 0.5 }, Group { count: 1, chance: 0.1 }];
/// let (counts, _) = number_failing(&groups, Effort::CAREFUL);
/// assert!((counts.probability(0) - 0.225).abs() < 1e-15);
/// assert!((counts.probability(3) - 0.025).abs() < 1e-15);
/// ```
#[must_use]
pub fn number_failing(groups: &[Group], effort: Effort) -> (Counts, Method) {
    let variance: f64 = groups.iter().map(variance).sum();
    if work(groups, variance) <= effort.multiplications {
        return (convolved(groups), Method::Exact);
    }
    if variance >= effort.normal_from {
        return (normal(groups, variance), Method::Normal(variance));
    }
    let pools = pooled(groups, effort.pools);
    let wider: f64 = pools.iter().map(self::variance).sum();
    (convolved(&pools), Method::Pooled(wider / variance - 1.0))
}

fn variance(group: &Group) -> f64 {
    group.count as f64 * group.chance * (1.0 - group.chance)
}

pub(crate) fn width(count: f64, variance: f64) -> f64 {
    (count + 1.0).min(2.0 * REACH * variance.sqrt() + MARGIN)
}

/// Multiplications of the exact convolution, about.
fn work(groups: &[Group], total_variance: f64) -> f64 {
    let seals: f64 = groups.iter().map(|g| g.count as f64).sum();
    let whole = width(seals, total_variance);
    groups
        .iter()
        .map(|g| width(g.count as f64, variance(g)) * whole)
        .sum()
}

fn convolved(groups: &[Group]) -> Counts {
    groups.iter().fold(Counts::zero(), |sum, g| {
        sum.plus(&Counts::binomial(g.count, g.chance, LEAST))
            .trimmed(CUT)
    })
}

/// Groups gathered into `pools` equal steps of chance, each at its mean.
fn pooled(groups: &[Group], pools: usize) -> Vec<Group> {
    let low = groups.iter().map(|g| g.chance).fold(1.0, f64::min);
    let high = groups.iter().map(|g| g.chance).fold(0.0, f64::max);
    let mut bins = vec![(0_usize, 0.0); pools];
    for g in groups {
        let place = ((g.chance - low) / (high - low) * pools as f64) as usize;
        if let Some((count, sum)) = bins.get_mut(place.min(pools - 1)) {
            *count += g.count;
            *sum += g.count as f64 * g.chance;
        }
    }
    bins.into_iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, sum)| Group {
            count,
            chance: (sum / count as f64).min(1.0),
        })
        .collect()
}

fn normal(groups: &[Group], variance: f64) -> Counts {
    let mean: f64 = groups.iter().map(|g| g.count as f64 * g.chance).sum();
    let third: f64 = groups
        .iter()
        .map(|g| self::variance(g) * (1.0 - 2.0 * g.chance))
        .sum();
    let seals: usize = groups.iter().map(|g| g.count).sum();
    refined_normal(mean, variance, third, seals)
}

/// P(X ≤ k) ≈ Φ(x) + γ (1 − x²) φ(x) / 6 at x = (k + ½ − mean) / sd, γ the skewness from the third
/// central moment (refined normal approximation, Volkova 1996, from memory), for a count of at most
/// `most`; the error falls as 1 / variance.
pub(crate) fn refined_normal(mean: f64, variance: f64, third: f64, most: usize) -> Counts {
    let sd = variance.sqrt();
    let skew = third / (variance * sd);
    let below = |k: f64| {
        let x = (k + 0.5 - mean) / sd;
        let density = (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt();
        ln_normal_survival(-x).exp() + skew * (1.0 - x * x) * density / 6.0
    };
    let first = (mean - REACH * sd).floor().max(0.0) as usize;
    let last = ((mean + REACH * sd).ceil() as usize).min(most);
    let mut before = below(first as f64 - 1.0);
    let mut pmf: Vec<f64> = (first..=last)
        .map(|k| {
            let here = below(k as f64);
            (here - std::mem::replace(&mut before, here)).max(0.0)
        })
        .collect();
    let total: f64 = pmf.iter().sum();
    pmf.iter_mut().for_each(|p| *p /= total);
    Counts::new(first, pmf)
}

/// Chance that a seal running at `age` fails within `span`: 1 − S(age + span) / S(age), from the
/// difference of ln S so that small chances keep their digits.
///
/// ```
/// use sealspan_care::successes::chance_of_failing;
/// use sealspan_life::life::Life;
/// // Lives without memory: 1 − e^(−span/mean) at any age.
/// let chance = chance_of_failing(&Life::exponential(100.0).unwrap(), 50.0, 10.0);
/// assert!((chance + (-0.1f64).exp_m1()).abs() < 1e-15);
/// ```
#[must_use]
pub fn chance_of_failing(life: &Life, age: f64, span: f64) -> f64 {
    let step = life.ln_survival(age + span) - life.ln_survival(age);
    // Both −∞: no seal of this life gets to `age`; one that did is past its end.
    if step.is_nan() {
        1.0
    } else {
        -step.min(0.0).exp_m1()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mixed() -> Vec<Group> {
        (0..400)
            .map(|i| Group {
                count: 1 + i % 7,
                chance: 0.02 + 0.6 * (i as f64 / 400.0).powi(2),
            })
            .collect()
    }

    fn greatest_gap(a: &Counts, b: &Counts) -> f64 {
        let (mut x, mut y, mut gap) = (0.0, 0.0, 0.0_f64);
        for k in 0..=a.last().max(b.last()) {
            x += a.probability(k);
            y += b.probability(k);
            gap = gap.max((x - y).abs());
        }
        gap
    }

    #[test]
    fn approximations_against_the_exact_law() {
        let groups = mixed();
        let exact = convolved(&groups);
        let variance: f64 = groups.iter().map(variance).sum();
        assert!((exact.variance() / variance - 1.0).abs() < 1e-12);
        let rough = normal(&groups, variance);
        let gap = greatest_gap(&exact, &rough);
        assert!(gap < 0.1 / variance, "normal: {gap} at variance {variance}");
        let pools = pooled(&groups, 16);
        let gap = greatest_gap(&exact, &convolved(&pools));
        assert!(gap < 1e-3, "16 pools: {gap}");
        assert!((convolved(&pools).mean() / exact.mean() - 1.0).abs() < 1e-12);
        let gap = greatest_gap(&exact, &convolved(&pooled(&groups, 128)));
        assert!(gap < 1e-5, "128 pools: {gap}");
    }

    #[test]
    fn methods_take_over_as_stated() {
        let groups = mixed();
        let pick = |multiplications, normal_from| {
            number_failing(
                &groups,
                Effort {
                    multiplications,
                    normal_from,
                    pools: 16,
                },
            )
            .1
        };
        assert_eq!(pick(1e9, 1.0), Method::Exact);
        assert!(matches!(pick(1.0, 1.0), Method::Normal(_)));
        assert!(matches!(pick(1.0, 1e9), Method::Pooled(x) if x > 0.0 && x < 0.01));
    }

    #[test]
    fn a_hundred_million_seals() {
        let groups: Vec<Group> = (0..4000)
            .map(|i| Group {
                count: 25_000,
                chance: 0.001 + 0.0001 * f64::from(i),
            })
            .collect();
        let (counts, method) = number_failing(&groups, Effort::CAREFUL);
        assert!(matches!(method, Method::Normal(_)));
        let mean: f64 = groups.iter().map(|g| g.count as f64 * g.chance).sum();
        assert!((counts.mean() / mean - 1.0).abs() < 1e-9);
    }

    #[test]
    fn certain_and_impossible() {
        let sure = [
            Group {
                count: 3,
                chance: 1.0,
            },
            Group {
                count: 5,
                chance: 0.0,
            },
        ];
        let (counts, _) = number_failing(&sure, Effort::CAREFUL);
        assert_eq!((counts.first(), counts.last()), (3, 3));
        assert_eq!(number_failing(&[], Effort::CAREFUL).0, Counts::zero());
    }

    /// Chances spread evenly over a pool scatter by its width over √12, which is all that is added to the variance.
    #[test]
    fn pools_are_equal_steps_of_chance_wherever_they_lie() {
        let (low, high) = (0.3, 0.9);
        let groups: Vec<Group> = (0..400)
            .map(|i| Group {
                count: 1,
                chance: low + (high - low) * (f64::from(i) + 0.5) / 400.0,
            })
            .collect();
        let of = |groups: &[Group]| groups.iter().map(variance).sum::<f64>();
        let exact = convolved(&groups);
        for (pools, off) in [(16, 1e-3), (40, 1e-4)] {
            let few = pooled(&groups, pools);
            assert_eq!(few.len(), pools);
            let step = (high - low) / pools as f64;
            let more = of(&few) - of(&groups);
            assert!((more / (400.0 * step * step / 12.0) - 1.0).abs() < 0.03);
            assert!(greatest_gap(&exact, &convolved(&few)) < off);
        }
    }
}
