//! Which policy is best on average, how sure that is, and what knowing more would be worth.

use serde::Serialize;

/// A policy costs no more than this share over the best one: nobody would tell them apart.
pub(crate) const CLOSE: f64 = 0.02;
/// Expected regret, as a share of the plan's measure, below which a choice is safe (a rule of ours).
const SAFE: f64 = 0.01;
/// Watching beyond this many times the records is not promised.
const MOST_TIMES: f64 = 100.0;

/// Measures of the policies that may be chosen, policy by world, and which of them is best on average.
pub(crate) struct Judge {
    measures: Vec<Vec<f64>>,
    means: Vec<f64>,
    chosen: usize,
    least: Vec<f64>,
}

/// What choosing one policy for all worlds costs over choosing the best in each, in the measure of [`super::Weighed`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Regret {
    /// Mean: also the most that knowing the laws exactly would be worth.
    pub mean: f64,
    /// 90 % of the worlds cost no more than this.
    pub quantile_90: f64,
    /// The mean over the plan's own measure.
    pub mean_share: f64,
    /// Share of worlds in which another policy would cost over 2 % less.
    pub chance_of_being_wrong: f64,
}

/// How long to go on watching before the choice is safe.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MoreWatching {
    /// Seal-time watched so far, units of the clock.
    pub watched: f64,
    /// Seal-time more until the expected regret is at most 1 % of the plan; 0 when it is already.
    pub seal_time: Option<f64>,
    /// The same in seal-months, on the clock of days.
    pub seal_months: Option<f64>,
    /// Why it is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<&'static str>,
    /// Measure saved per unit of the clock, on average, by choosing anew after as much watching again as
    /// the records hold.
    pub value_of_as_much_again: f64,
    /// How it was worked out.
    pub method: &'static str,
}

/// How [`MoreWatching`] is worked out.
const METHOD: &str = "normal approximation: after n more beside the n0 watched, each policy's expected cost moves from its average towards its cost in a world by the root of n/(n + n0); exact where costs are linear in a normal estimate (Jalal & Alarid-Escudero 2018, from memory)";

impl Judge {
    /// `None` without policies or worlds.
    pub fn new(measures: Vec<Vec<f64>>) -> Option<Self> {
        let means: Vec<f64> = measures
            .iter()
            .map(|m| super::table::mean(m.iter().copied()))
            .collect();
        let chosen = first_least(means.iter().copied())?;
        let worlds = measures.first()?.len();
        let least = (0..worlds)
            .map(|d| column(&measures, d).fold(f64::INFINITY, f64::min))
            .collect();
        Some(Self {
            measures,
            means,
            chosen,
            least,
        })
    }

    pub fn chosen(&self) -> usize {
        self.chosen
    }

    pub fn means(&self) -> &[f64] {
        &self.means
    }

    fn of_chosen(&self) -> &[f64] {
        self.measures.get(self.chosen).map_or(&[], Vec::as_slice)
    }

    pub fn mean_of_chosen(&self) -> f64 {
        self.means.get(self.chosen).copied().unwrap_or(f64::NAN)
    }

    /// Chance of each policy to be the best one.
    pub fn chances(&self) -> Vec<f64> {
        let worlds = self.least.len();
        let mut wins = vec![0.0; self.measures.len()];
        for d in 0..worlds {
            let best = first_least(column(&self.measures, d));
            if let Some(count) = best.and_then(|i| wins.get_mut(i)) {
                *count += 1.0 / worlds as f64;
            }
        }
        wins
    }

    pub fn regret(&self) -> Regret {
        let all: Vec<f64> = self
            .of_chosen()
            .iter()
            .zip(&self.least)
            .map(|(mine, best)| mine - best)
            .collect();
        let wrong = all
            .iter()
            .zip(&self.least)
            .filter(|(r, best)| **r > CLOSE * **best);
        let mean = super::table::mean(all.iter().copied());
        Regret {
            mean,
            mean_share: mean / self.mean_of_chosen(),
            chance_of_being_wrong: wrong.count() as f64 / all.len().max(1) as f64,
            quantile_90: quantile(all, 0.9),
        }
    }

    /// Expected saving from choosing anew when a share `v` of what is open has been learnt.
    fn saving(&self, v: f64) -> f64 {
        let root = v.sqrt();
        let worlds = self.least.len();
        let after = (0..worlds).map(|d| {
            let pairs = column(&self.measures, d).zip(&self.means);
            pairs
                .map(|(cost, mean)| mean + root * (cost - mean))
                .fold(f64::INFINITY, f64::min)
        });
        self.mean_of_chosen() - super::table::mean(after)
    }

    /// How much more watching makes the choice safe, when `watched` seal-time gave the estimate.
    pub fn more_watching(&self, watched: f64) -> MoreWatching {
        let whole = self.regret().mean;
        let target = SAFE * self.mean_of_chosen();
        let left = |v: f64| whole - self.saving(v);
        let most = MOST_TIMES / (1.0 + MOST_TIMES);
        let (mut low, mut high) = (0.0, most);
        let seal_time = if whole <= target {
            Some(0.0)
        } else if left(most) > target {
            None
        } else {
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if left(middle) > target {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            Some(watched * high / (1.0 - high))
        };
        MoreWatching {
            watched,
            seal_time,
            seal_months: None,
            reason: seal_time
                .is_none()
                .then_some("not even a hundred times these records would make the choice safe"),
            value_of_as_much_again: self.saving(0.5).max(0.0),
            method: METHOD,
        }
    }
}

fn column(measures: &[Vec<f64>], world: usize) -> impl Iterator<Item = f64> + '_ {
    let at = move |m: &Vec<f64>| m.get(world).copied().unwrap_or(f64::INFINITY);
    measures.iter().map(at)
}

/// Place of the least value; the first one where several are equal to rounding.
pub(crate) fn first_least(values: impl Iterator<Item = f64>) -> Option<usize> {
    let mut best: Option<(usize, f64)> = None;
    for (i, value) in values.enumerate() {
        if value.is_finite() && best.is_none_or(|(_, b)| value < b - 1e-9 * b.abs()) {
            best = Some((i, value));
        }
    }
    best.map(|(i, _)| i)
}

/// The value below which the share `p` lies.
pub(crate) fn quantile(mut values: Vec<f64>, p: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let rank = (p * values.len() as f64).ceil() as usize;
    values
        .get(rank.saturating_sub(1).min(values.len().saturating_sub(1)))
        .copied()
        .unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sealspan_numeric::special::normal_quantile;

    /// Two policies of cost 10 and 10.2 + x, x normal with standard deviation 1: with the share v learnt
    /// the saving is s φ(d/s) − d Φ(−d/s), s = √v, d = 0.2 (unit normal loss, textbook).
    #[test]
    fn two_policies_and_a_normal_world() {
        let n = 20_000;
        let world = |i: i32| normal_quantile((f64::from(i) + 0.5) / f64::from(n));
        let flat = vec![10.0; n as usize];
        let other = (0..n).map(|i| 10.2 + world(i)).collect();
        let judge = Judge::new(vec![flat, other]).unwrap();
        assert_eq!(judge.chosen(), 0);
        let below = |z: f64| {
            let off = |p: f64| normal_quantile(p) - z;
            sealspan_numeric::roots::bracketed(off, 1e-12, 1.0 - 1e-12, 1e-14).unwrap()
        };
        let loss = |s: f64| {
            let z = 0.2 / s;
            let density = (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt();
            s * density - 0.2 * below(-z)
        };
        for v in [0.1, 0.5, 0.9] {
            let got = judge.saving(v);
            assert!((got / loss(v.sqrt()) - 1.0).abs() < 2e-3, "{v}: {got}");
        }
        let regret = judge.regret();
        assert!((regret.mean / loss(1.0) - 1.0).abs() < 2e-3);
        let chance = judge.chances();
        assert!((chance[1] - below(-0.2)).abs() < 1e-3);
        // What is left after the time named is 1 % of the plan.
        let more = judge.more_watching(500.0);
        let v = more.seal_time.unwrap() / (500.0 + more.seal_time.unwrap());
        assert!((regret.mean - judge.saving(v) - 0.1).abs() < 1e-9);
    }

    /// Costs 10 and 10 + x, x of standard deviation 100: with the share v learnt, 100 φ(0) √v is saved and the rest left
    /// open, which even at v = 100/101 is more than 1 % of the plan.
    #[test]
    fn what_a_hundred_times_the_records_leave_open_is_not_promised() {
        let n = 2000;
        let world = |i: i32| normal_quantile((f64::from(i) + 0.5) / f64::from(n));
        let flat = vec![10.0; n as usize];
        let other = (0..n).map(|i| 10.001 + 100.0 * world(i)).collect();
        let judge = Judge::new(vec![flat, other]).unwrap();
        let density = (2.0 * std::f64::consts::PI).sqrt().recip();
        let left = 100.0 * density * (1.0 - (100.0f64 / 101.0).sqrt());
        assert!(left > 0.1);
        let more = judge.more_watching(500.0);
        assert!(
            more.seal_time.is_none() && more.reason.is_some(),
            "{more:?}"
        );
    }

    #[test]
    fn one_policy_leaves_no_regret() {
        let judge = Judge::new(vec![vec![3.0, 5.0]]).unwrap();
        assert_eq!(judge.regret().mean, 0.0);
        assert_eq!(judge.more_watching(10.0).seal_time, Some(0.0));
        assert!(Judge::new(vec![]).is_none());
    }

    #[test]
    fn of_costs_equal_to_rounding_the_first_is_the_least() {
        let least = |values: &[f64]| first_least(values.iter().copied());
        assert_eq!(least(&[7.0, 5.0, 5.0, 6.0]), Some(1));
        // Less by no more than rounding, in either direction; less by more.
        assert_eq!(least(&[5.0, 5.0 - 1e-12, 5.0 + 1e-12]), Some(0));
        assert_eq!(least(&[5.0, 5.0 - 1e-6]), Some(1));
        // In small units too: half of very little is less.
        assert_eq!(least(&[2e-12, 1e-12]), Some(1));
        assert_eq!(least(&[2e-12, 2e-12 * (1.0 - 1e-13)]), Some(0));
        assert_eq!(least(&[f64::NAN, f64::INFINITY, 3.0, 3.0]), Some(2));
        assert_eq!(least(&[f64::INFINITY]), None);
    }
}
