//! How sure the life under several modes is: draws of each mode's law from its posterior, put together.

use crate::bounds::{Bounds, NoEnd};
use crate::competing::life::CompetingLife;
use crate::fit::Fit;
use crate::intervals::draws_reach;
use crate::life::Life;
use crate::posterior::Posterior;
use rayon::prelude::*;
use sealspan_numeric::random::Stream;

/// Draws of the life under all modes. The modes' likelihoods share no parameter, so their posteriors are independent
/// and are drawn from apart.
///
/// ```
/// use sealspan_life::competing::draws::CompetingDraws;
/// use sealspan_life::{fit::fit, laws::by_name};
/// use sealspan_records::{Observation, Sample};
/// // 400 failures of mean 100 by each of two modes: together they come twice as fast.
/// let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(t, 0.0, 100.0).unwrap());
/// let mode = fit(by_name("exponential").unwrap(), &Sample::new(ages.into())).unwrap();
/// let draws = CompetingDraws::new(&[&mode, &mode], 1000, 1).unwrap();
/// let both = draws.median(|life| life.quantile(0.5));
/// let wanted = 50.0 * 2.0_f64.ln();
/// assert!((both / wanted - 1.0).abs() < 0.02, "{both}");
/// let ends = draws.interval(0.9, |life| life.quantile(0.5));
/// assert!(ends.lower.unwrap() < wanted && wanted < ends.upper.unwrap());
/// // A share of 5 % among 1,000 draws.
/// let error = draws.simulation_error(0.9).unwrap();
/// assert!((error - (0.05_f64 * 0.95 / 1000.0).sqrt()).abs() < 1e-12);
/// // One mode removed, the other is left; no mode is not a life.
/// let one = draws.without(0).unwrap();
/// assert!((one.median(|life| life.quantile(0.5)) / (2.0 * wanted) - 1.0).abs() < 0.02);
/// assert!(one.without(0).is_none());
/// ```
#[derive(Debug, Clone)]
pub struct CompetingDraws {
    lives: Vec<CompetingLife>,
}

impl CompetingDraws {
    /// `count` draws under the weak priors of each mode's law. `None` without a mode, or where a posterior has no
    /// mode that could be reached.
    #[must_use]
    pub fn new(fits: &[&Fit], count: usize, seed: u64) -> Option<Self> {
        let mut by_mode = vec![];
        for (m, fit) in fits.iter().enumerate() {
            let posterior =
                Posterior::new(fit.family, &fit.terms, &fit.theta, &fit.free, seed).ok()?;
            let mut lives = posterior.lives(count, seed);
            // They come in the order of the grid: mixed, no mode's long lives meet another's.
            shuffle(&mut lives, &mut Stream::new(seed, 1 + m as u64));
            by_mode.push(lives);
        }
        let lives = (0..count)
            .map(|i| {
                let modes: Vec<Life> = by_mode.iter().filter_map(|m| m.get(i).cloned()).collect();
                CompetingLife::new(modes)
            })
            .collect::<Option<_>>()?;
        Some(Self { lives })
    }

    /// The draws with `mode` removed. `None` when there is no such mode or no other.
    #[must_use]
    pub fn without(&self, mode: usize) -> Option<Self> {
        let lives = self.lives.iter().map(|l| l.without(mode));
        Some(Self {
            lives: lives.collect::<Option<_>>()?,
        })
    }

    /// Whether there is a draw beyond each end of an interval at confidence `level`.
    #[must_use]
    pub(crate) fn reaches(&self, level: f64) -> bool {
        draws_reach(self.lives.len() as f64, level)
    }

    /// Two-sided interval of a quantity at confidence `level`; infinite values count as largest, and an infinite end
    /// is none. Without ends where the draws do not reach so far out.
    #[must_use]
    pub fn interval(
        &self,
        level: f64,
        asked: impl Fn(&CompetingLife) -> f64 + Sync + Send,
    ) -> Bounds {
        if !self.reaches(level) {
            return Bounds::none(NoEnd::BeyondDraws);
        }
        let values = self.sorted(asked);
        let side = 0.5 * (1.0 - level);
        let last = values.len().saturating_sub(1) as f64;
        let end = |share: f64| {
            let x = share * last;
            let y = |i: usize| values.get(i).or(values.last()).copied();
            let (a, b) = (y(x as usize)?, y(x.ceil() as usize)?);
            Some(a + x.fract() * (b - a)).filter(|v| v.is_finite())
        };
        Bounds::of([side, 1.0 - side].map(|share| end(share).ok_or(NoEnd::NoLimit)))
    }

    /// Median of a quantity; infinite values count as largest.
    #[must_use]
    pub fn median(&self, asked: impl Fn(&CompetingLife) -> f64 + Sync + Send) -> f64 {
        let values = self.sorted(asked);
        values
            .get(values.len() / 2)
            .copied()
            .unwrap_or(f64::INFINITY)
    }

    fn sorted(&self, asked: impl Fn(&CompetingLife) -> f64 + Sync + Send) -> Vec<f64> {
        let mut values: Vec<f64> = self.lives.par_iter().map(asked).collect();
        values.sort_by(f64::total_cmp);
        values
    }

    /// Monte-Carlo standard error of the confidence of each end; `None` where the draws do not reach it.
    #[must_use]
    pub fn simulation_error(&self, level: f64) -> Option<f64> {
        let side = 0.5 * (1.0 - level);
        self.reaches(level)
            .then(|| (side * (1.0 - side) / self.lives.len() as f64).sqrt())
    }
}

/// Fisher and Yates' shuffle.
fn shuffle<T>(items: &mut [T], stream: &mut Stream) {
    for last in (1..items.len()).rev() {
        let other = (stream.uniform() * (last + 1) as f64) as usize;
        items.swap(last, other.min(last));
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::fit::fit;
    use crate::laws::by_name;
    use crate::quantity::Quantity;
    use sealspan_records::observation::{Observation, Sample};

    /// `n` lives at the middles of equal shares of a Weibull law, and as many running on to `end`.
    fn mode(shape: f64, scale: f64, n: u32, end: f64) -> Fit {
        let life = Life::weibull(shape, scale).unwrap();
        let rows = (0..n).map(|i| {
            let t = life.quantile((f64::from(i) + 0.5) / f64::from(n));
            if t < end {
                Observation::exact(t, 0.0, 1.0).unwrap()
            } else {
                Observation::right(end, 0.0, 1.0).unwrap()
            }
        });
        fit(by_name("weibull").unwrap(), &Sample::new(rows.collect())).unwrap()
    }

    #[test]
    fn one_mode_has_its_posteriors_own_quantiles() {
        let only = mode(2.0, 100.0, 30, 120.0);
        let draws = CompetingDraws::new(&[&only], 4000, 1).unwrap();
        let posterior =
            Posterior::new(only.family, &only.terms, &only.theta, &only.free, 1).unwrap();
        let own = posterior.quantiles(Quantity::Quantile(0.1), &[0.05, 0.95]);
        let ours = draws.interval(0.9, |l| l.quantile(0.1));
        for (a, b) in [ours.lower, ours.upper].iter().zip(own) {
            assert!((a.unwrap() / b.unwrap() - 1.0).abs() < 0.02, "{ours:?}");
        }
    }

    #[test]
    fn few_draws_do_not_reach_far_ends() {
        let only = mode(2.0, 100.0, 30, 120.0);
        let draws = CompetingDraws::new(&[&only], 1000, 1).unwrap();
        assert!(draws.simulation_error(0.99).unwrap() < 0.01);
        // Of a share of half a per cent among a thousand draws.
        let want = (0.005_f64 * 0.995 / 1000.0).sqrt();
        assert!((draws.simulation_error(0.99).unwrap() / want - 1.0).abs() < 1e-9);
        assert_eq!(draws.simulation_error(0.9999), None);
        let none = draws.interval(0.9999, |l| l.quantile(0.1));
        assert_eq!(
            (none.lower, none.no_lower),
            (None, Some(NoEnd::BeyondDraws))
        );
    }

    /// Large samples: ln of the age at which ΣH = −ln(1 − p) has the delta method's standard error, each mode's
    /// share of it weighed by its share of the hazard there.
    #[test]
    fn two_modes_agree_with_the_delta_method() {
        let (a, b) = (mode(2.0, 100.0, 400, 150.0), mode(1.2, 300.0, 400, 150.0));
        let life = CompetingLife::new(vec![a.life(), b.life()]).unwrap();
        let age = life.quantile(0.1);
        let variance: f64 = [&a, &b]
            .iter()
            .map(|f| {
                let own = f.life();
                let h = -own.ln_survival(age);
                // d ln age = −dH/(t h): H(t) = exp(index).
                (h * f.scaled_error(Quantity::Survival(age)) / (age * life.hazard(age))).powi(2)
            })
            .sum();
        let draws = CompetingDraws::new(&[&a, &b], 4000, 1).unwrap();
        let ours = draws.interval(0.9, |l| l.quantile(0.1));
        let width = (ours.upper.unwrap() / ours.lower.unwrap()).ln();
        let wanted = 2.0 * 1.644_853_627 * variance.sqrt();
        assert!((width / wanted - 1.0).abs() < 0.06, "{width} {wanted}");
        // Without the first mode the interval is the second's alone.
        let rest = draws.without(0).unwrap().interval(0.9, |l| l.quantile(0.1));
        let alone = CompetingDraws::new(&[&b], 4000, 1).unwrap();
        let alone = alone.interval(0.9, |l| l.quantile(0.1));
        assert!((rest.lower.unwrap() / alone.lower.unwrap() - 1.0).abs() < 0.02);
        assert!(draws.without(2).is_none());
    }

    /// Means of 1 to 41 in equal steps: a share of them lies below 1 + 40 times that share, between draws too.
    #[test]
    fn ends_between_two_draws_are_taken_in_proportion() {
        let life =
            |mean: i32| CompetingLife::new(vec![Life::exponential(f64::from(mean)).unwrap()]);
        let draws = CompetingDraws {
            lives: (1..=41).rev().map(|mean| life(mean).unwrap()).collect(),
        };
        for level in [0.5, 0.61, 0.8] {
            let found = draws.interval(level, |life| life.mean().unwrap());
            let tail = 40.0 * 0.5 * (1.0 - level);
            assert!(
                (found.lower.unwrap() - (1.0 + tail)).abs() < 1e-6,
                "{found:?}"
            );
            assert!(
                (found.upper.unwrap() - (41.0 - tail)).abs() < 1e-6,
                "{found:?}"
            );
        }
    }

    /// Three in a row come out in each of their six orders equally often.
    #[test]
    fn every_order_is_equally_likely() {
        let mut stream = Stream::new(19, 0);
        let mut seen = std::collections::BTreeMap::new();
        for _ in 0..6000 {
            let mut items = [0, 1, 2];
            shuffle(&mut items, &mut stream);
            *seen.entry(items).or_insert(0.0) += 1.0;
        }
        assert_eq!(seen.len(), 6);
        // Four binomial standard errors of 1000.
        for (order, count) in seen {
            assert!((count - 1000.0_f64).abs() < 120.0, "{order:?} {count}");
        }
    }

    /// Three modes of one law: together they are one whose failures come three times as fast, so that ages are 3^(−1/2) of
    /// one's.
    #[test]
    fn three_modes_are_drawn_together() {
        let one = mode(2.0, 100.0, 400, 150.0);
        let draws = CompetingDraws::new(&[&one, &one, &one], 400, 1).unwrap();
        assert_eq!(draws.lives.len(), 400);
        assert!(draws.lives.iter().all(|life| life.modes().len() == 3));
        let alone = CompetingDraws::new(&[&one], 400, 1).unwrap();
        let median = |draws: &CompetingDraws| draws.median(|life| life.quantile(0.5));
        let ratio = median(&draws) / median(&alone);
        assert!((ratio * 3f64.sqrt() - 1.0).abs() < 0.02, "{ratio}");
    }
}
