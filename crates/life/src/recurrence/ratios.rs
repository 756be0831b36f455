//! How positions differ in the rate at which their seals fail, and a position's ratio drawn towards the others'.
//!
//! Most ratios follow a gamma law round the fleet's mean, whose spread the data give (empirical Bayes, Robbins 1956;
//! Clayton & Kaldor 1987; from memory). A single such law would draw a position that is truly apart far in, because
//! the many that are alike set its spread; so a small share may follow a second, wide law (a two-group model, as in
//! Efron 2008; from memory), where the counts bear it out.

use super::hungry::{Count, whole};
use sealspan_numeric::optimise::minimise_bracketed;
use sealspan_numeric::roots::bracketed;
use sealspan_numeric::special::{chi_square_quantile, chi_square_survival};

/// How positions differ in their ratio of seen to expected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Mean ratio of the many.
    pub mean: f64,
    /// Shape of their gamma law; `None` when their counts differ no more than by chance.
    pub shape: Option<f64>,
    /// The few that stand apart, where the counts bear them out.
    pub apart: Option<Apart>,
}

/// The few that stand apart: their ratios follow an exponential law, the widest of a given mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Apart {
    /// Their share.
    pub share: f64,
    /// Their mean ratio.
    pub mean: f64,
}

/// A ratio drawn towards the fleet's: posterior mean and equal-tailed interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawn {
    /// Mean.
    pub estimate: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// Shapes beyond this are no spread: a standard deviation of 5 % of the mean. A ratio drawn in by a lesser one would
/// have an interval of next to no width, as if it were known.
const NO_SPREAD: f64 = 400.0;
/// Mean of those apart over that of the many: what is tried (a rule of ours).
const APART: [f64; 8] = [3.0, 4.5, 7.0, 10.0, 15.0, 22.0, 33.0, 50.0];
/// The few are fewer than this (a rule of ours).
const FEW: f64 = 0.3;
/// A chance of standing apart below which a position of a fleet without spread is simply one of the many.
const ONE_OF_MANY: f64 = 0.05;
/// Gain in log-likelihood that the second law must bring: one for each of its two numbers (Akaike).
const GAIN: f64 = 2.0;

/// Gamma law of ratios.
#[derive(Clone, Copy)]
struct Gamma {
    shape: f64,
    rate: f64,
}

impl Gamma {
    fn new(shape: f64, mean: f64) -> Self {
        Self {
            shape,
            rate: shape / mean,
        }
    }

    /// ln P(seen), less what is the same for every law of ratios.
    fn ln_mass(self, c: &Count) -> f64 {
        // ln Γ(shape + n)/Γ(shape) as a sum: no cancellation when the shape is large.
        let rise: f64 = whole(c.seen).map(|i| (self.shape + i).ln()).sum();
        rise - self.shape * (c.expected / self.rate).ln_1p()
            - c.seen * (self.rate + c.expected).ln()
    }

    fn posterior(self, c: Count) -> Self {
        Self {
            shape: self.shape + c.seen,
            rate: self.rate + c.expected,
        }
    }

    fn mean(self) -> f64 {
        self.shape / self.rate
    }

    fn quantile(self, p: f64) -> f64 {
        chi_square_quantile(p, 2.0 * self.shape) / (2.0 * self.rate)
    }

    fn below(self, x: f64) -> f64 {
        1.0 - chi_square_survival(2.0 * self.rate * x, 2.0 * self.shape)
    }
}

/// The spread by maximum likelihood; `None` without replacements.
///
/// ```
/// use sealspan_life::recurrence::{hungry::Count, ratios::spread};
/// let counts: Vec<Count> = [1.0, 2.0, 4.0, 9.0, 12.0].map(|seen| Count { seen, expected: 4.0 }).into();
/// let fleet = spread(&counts).unwrap();
/// // A place with thrice what was expected is drawn towards the others.
/// let drawn = fleet.draw(counts[4], 0.9).unwrap();
/// assert!(drawn.estimate < 3.0 && drawn.estimate > 1.5 && drawn.lower > 1.0);
/// ```
#[must_use]
pub fn spread(counts: &[Count]) -> Option<Spread> {
    let (seen, expected) = counts
        .iter()
        .fold((0.0, 0.0), |(s, e), c| (s + c.seen, e + c.expected));
    if seen <= 0.0 || expected <= 0.0 {
        return None;
    }
    let mean = seen / expected;
    let (ln_shape, lost) = minimise_bracketed(
        |ln_shape| -total(counts, Gamma::new(ln_shape.exp(), mean)),
        -4.0,
        NO_SPREAD.ln(),
        1e-10,
    );
    let one = Spread {
        mean,
        shape: told(ln_shape.exp()),
        apart: None,
    };
    let two = two_groups(counts, mean).filter(|(_, ln)| *ln > GAIN - lost);
    Some(two.map_or(one, |(spread, _)| spread))
}

fn told(shape: f64) -> Option<f64> {
    Some(shape).filter(|s| *s < 0.99 * NO_SPREAD)
}

fn total(counts: &[Count], law: Gamma) -> f64 {
    counts.iter().map(|c| law.ln_mass(c)).sum()
}

/// The two-group law and its log-likelihood. The mean of the many starts at the fleet's and is then that of the
/// positions, each weighed by its chance of being one of them.
fn two_groups(counts: &[Count], mean: f64) -> Option<(Spread, f64)> {
    let mut mean = mean;
    let mut best = None;
    for _ in 0..3 {
        let found = two_groups_at(counts, mean)?;
        mean = mean_of_many(counts, &found.0).unwrap_or(mean);
        best = Some(found);
    }
    best
}

fn two_groups_at(counts: &[Count], mean: f64) -> Option<(Spread, f64)> {
    let tried = APART.iter().map(|factor| {
        let far = Gamma::new(1.0, factor * mean);
        let apart: Vec<f64> = counts.iter().map(|c| far.ln_mass(c)).collect();
        let (ln_shape, lost) = minimise_bracketed(
            |ln_shape| -mixed(counts, Gamma::new(ln_shape.exp(), mean), &apart).1,
            -1.0,
            NO_SPREAD.ln(),
            1e-6,
        );
        let share = mixed(counts, Gamma::new(ln_shape.exp(), mean), &apart).0;
        let spread = Spread {
            mean,
            shape: told(ln_shape.exp()),
            apart: (share > 0.0).then_some(Apart {
                share,
                mean: factor * mean,
            }),
        };
        (spread, -lost)
    });
    tried
        .filter(|(s, _)| s.apart.is_some())
        .max_by(|a, b| a.1.total_cmp(&b.1))
}

/// The likeliest share of those apart, and the log-likelihood there.
fn mixed(counts: &[Count], many: Gamma, apart: &[f64]) -> (f64, f64) {
    let own: Vec<f64> = counts.iter().map(|c| many.ln_mass(c)).collect();
    // Likelihood ratio less one: the slope in the share p is Σ x / (1 + p x), which only falls.
    let excess: Vec<f64> = own
        .iter()
        .zip(apart)
        .map(|(own, far)| (far - own).min(600.0).exp_m1())
        .collect();
    let slope = |p: f64| -> f64 { excess.iter().map(|x| x / (1.0 + p * x)).sum() };
    let (mut low, mut high) = (0.0, FEW);
    if slope(0.0) <= 0.0 {
        high = 0.0;
    }
    while high - low > 1e-7 {
        let middle = 0.5 * (low + high);
        if slope(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    let share = 0.5 * (low + high);
    let gain: f64 = excess.iter().map(|x| (share * x).ln_1p()).sum();
    (share, own.iter().sum::<f64>() + gain)
}

impl Spread {
    fn many(&self) -> Gamma {
        Gamma::new(self.shape.unwrap_or(NO_SPREAD), self.mean)
    }

    /// Chance that a position is one of those apart.
    ///
    /// ```
    /// use sealspan_life::recurrence::{hungry::Count, ratios::{Apart, Spread}};
    /// let mut fleet = Spread { mean: 1.0, shape: Some(1.0), apart: None };
    /// let count = Count { seen: 2.0, expected: 1.0 };
    /// assert_eq!(fleet.chance_apart(count), 0.0);
    /// // Those apart follow the same law as the many: the count tells nothing, and the chance is their share.
    /// fleet.apart = Some(Apart { share: 0.2, mean: 1.0 });
    /// assert!((fleet.chance_apart(count) - 0.2).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn chance_apart(&self, count: Count) -> f64 {
        let Some(apart) = self.apart else {
            return 0.0;
        };
        let far = Gamma::new(1.0, apart.mean).ln_mass(&count);
        let odds = (far - self.many().ln_mass(&count)).exp() * apart.share / (1.0 - apart.share);
        if odds.is_finite() {
            odds / (1.0 + odds)
        } else {
            1.0
        }
    }

    /// A position's ratio drawn towards the fleet's, at two-sided `level`. `None` when there is no spread to draw
    /// from: the many do not differ, and the position is hardly one of those apart.
    #[must_use]
    pub fn draw(&self, count: Count, level: f64) -> Option<Drawn> {
        let chance = self.chance_apart(count);
        if self.shape.is_none() && chance < ONE_OF_MANY {
            return None;
        }
        let many = self.many().posterior(count);
        let far = self
            .apart
            .map_or(many, |a| Gamma::new(1.0, a.mean).posterior(count));
        let end = |p: f64| {
            let (a, b) = (many.quantile(p), far.quantile(p));
            let below = |x: f64| (1.0 - chance) * many.below(x) + chance * far.below(x) - p;
            bracketed(below, a.min(b), a.max(b), 1e-9).unwrap_or(if chance < 0.5 { a } else { b })
        };
        Some(Drawn {
            estimate: (1.0 - chance) * many.mean() + chance * far.mean(),
            lower: end(0.5 - 0.5 * level),
            upper: end(0.5 + 0.5 * level),
        })
    }
}

/// Mean ratio of the many.
fn mean_of_many(counts: &[Count], spread: &Spread) -> Option<f64> {
    let (seen, expected) = counts.iter().fold((0.0, 0.0), |(s, e), c| {
        let one_of_many = 1.0 - spread.chance_apart(*c);
        (s + one_of_many * c.seen, e + one_of_many * c.expected)
    });
    (seen > 0.0 && expected > 0.0).then_some(seen / expected)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(seen: f64, expected: f64) -> Count {
        Count { seen, expected }
    }

    /// Many alike and two far off: those two keep nearly their own ratios, and the many stay together.
    #[test]
    fn the_few_are_not_drawn_into_the_many() {
        let mut counts: Vec<Count> = (0..280)
            .map(|i| of([2.0, 3.0, 4.0, 3.0, 5.0][i % 5], 3.4))
            .collect();
        counts.extend([of(19.0, 1.7), of(8.0, 1.0)]);
        let fleet = spread(&counts).unwrap_or(Spread {
            mean: 0.0,
            shape: None,
            apart: None,
        });
        let apart = fleet.apart.unwrap_or(Apart {
            share: 0.0,
            mean: 0.0,
        });
        assert!(apart.share > 0.001 && apart.share < 0.03, "{fleet:?}");
        let found = fleet.draw(of(19.0, 1.7), 0.9);
        let found = found.unwrap_or(Drawn {
            estimate: 0.0,
            lower: 0.0,
            upper: 0.0,
        });
        assert!(found.estimate > 9.0 && found.estimate < 12.0, "{found:?}");
        assert!(found.lower > 6.0 && found.upper < 17.0, "{found:?}");
        assert!(fleet.chance_apart(of(4.0, 3.4)) < 0.02);
        // One that may be either: its mean lies between the two, and its interval spans them.
        let either = of(3.0, 0.4);
        let chance = fleet.chance_apart(either);
        assert!(chance > 0.1 && chance < 0.9, "{chance}");
        let between = fleet
            .draw(either, 0.9)
            .map(|d| (d.estimate, d.lower, d.upper));
        assert!(
            between.is_some_and(|(e, l, u)| e > 1.2 && e < 7.0 && l < 1.2 && u > 4.0),
            "{between:?}"
        );
    }

    /// Nothing apart where one gamma law says it all.
    #[test]
    fn one_law_where_it_is_enough() {
        let counts: Vec<Count> = (0..60).map(|i| of(f64::from(i % 9), 4.0)).collect();
        assert!(spread(&counts).is_some_and(|s| s.apart.is_none() && s.shape.is_some()));
        assert!(spread(&[of(0.0, 2.0)]).is_none());
    }

    /// Of many alike the mean ratio is all events over all expected; each counts by its chance to be one of them.
    #[test]
    fn the_mean_of_the_many_counts_each_by_its_chance() {
        let counts = [of(2.0, 3.0), of(5.0, 4.0), of(9.0, 1.0)];
        let alike = Spread {
            mean: 1.0,
            shape: None,
            apart: None,
        };
        assert_eq!(mean_of_many(&counts, &alike), Some(16.0 / 8.0));
        assert_eq!(mean_of_many(&[of(0.0, 3.0)], &alike), None);
        let apart = Spread {
            shape: Some(4.0),
            apart: Some(Apart {
                share: 0.1,
                mean: 8.0,
            }),
            ..alike
        };
        // Counts of a gamma law are negative binomial: of shape a and mean m, C(n + a − 1, n) q^n (1 − q)^a with
        // q/(1 − q) = mE/a. The many's shape is 4 and their mean 1; the few's 1 and 8.
        let chance = |n: i32, e: f64| {
            let ways: f64 = (1..=3).map(|k| f64::from(n + k) / f64::from(k)).product();
            let near = ways * (e / 4.0).powi(n) / (1.0 + e / 4.0).powi(n + 4);
            let far = (8.0 * e).powi(n) / (1.0 + 8.0 * e).powi(n + 1);
            0.9 * near / (0.9 * near + 0.1 * far)
        };
        let own = [chance(2, 3.0), chance(5, 4.0), chance(9, 1.0)];
        let want =
            (2.0 * own[0] + 5.0 * own[1] + 9.0 * own[2]) / (3.0 * own[0] + 4.0 * own[1] + own[2]);
        let got = mean_of_many(&counts, &apart).unwrap_or(f64::NAN);
        assert!((got / want - 1.0).abs() < 1e-9, "{got} {want}");
    }

    /// The shape is the likeliest of negative binomial counts, over a grid.
    #[test]
    fn the_shape_is_the_likeliest_of_negative_binomial_counts() {
        let seen = [1, 2, 4, 9, 12, 0, 3];
        let counts: Vec<Count> = seen.iter().map(|n| of(f64::from(*n), 4.0)).collect();
        let mean = f64::from(seen.iter().sum::<i32>()) / 28.0;
        // Σ_{i<n} ln(a + i) + a ln(a) − (a + n) ln(a + mE), less what no shape changes.
        let value = |a: f64| -> f64 {
            let each = seen.iter().map(|n| {
                let rise: f64 = (0..*n).map(|i| (a + f64::from(i)).ln()).sum();
                rise + a * a.ln() - (a + f64::from(*n)) * (a + 4.0 * mean).ln()
            });
            each.sum()
        };
        let grid = (1..4_000).map(|i| 0.01 * f64::from(i));
        let best = grid.max_by(|a, b| value(*a).total_cmp(&value(*b)));
        let (shape, best) = (spread(&counts).and_then(|s| s.shape), best.unwrap_or(0.0));
        assert!(
            shape.is_some_and(|s| (s - best).abs() < 0.01),
            "{shape:?} {best}"
        );
    }

    /// A count that is surely one of the many, or surely one of those apart, has the ends of that gamma law alone: of
    /// shape a + n and rate a/m + E.
    #[test]
    fn a_count_that_is_surely_of_one_kind_has_its_ends() {
        let fleet = Spread {
            mean: 1.0,
            shape: Some(4.0),
            apart: Some(Apart {
                share: 1e-18,
                mean: 8.0,
            }),
        };
        let far_off = Spread {
            shape: Some(5000.0),
            apart: Some(Apart {
                share: 0.1,
                mean: 8.0,
            }),
            ..fleet
        };
        for i in 0..20 {
            let n = f64::from(200 + i);
            for (fleet, count, shape, rate) in [
                (fleet, of(n, 200.0), 4.0 + n, 4.0 + 200.0),
                (far_off, of(8.0 * n, 200.0), 1.0 + 8.0 * n, 0.125 + 200.0),
            ] {
                let got = fleet.draw(count, 0.9).map(|d| (d.lower, d.upper));
                let want = |p: f64| chi_square_quantile(p, 2.0 * shape) / (2.0 * rate);
                let near = |got: f64, want: f64| (got / want - 1.0).abs() < 1e-6;
                assert!(
                    got.is_some_and(|(l, u)| near(l, want(0.05)) && near(u, want(0.95))),
                    "{n}: {got:?}"
                );
            }
        }
    }
}
