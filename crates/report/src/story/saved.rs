//! What the plans save against today's practice, part by part and in all.

use super::last_year;
use super::plans::{all, positions};
use super::words::per_year;
use crate::analysis::run::Results;
use crate::number;
use crate::wire::GroupKey;
use crate::wire::care::GroupCare;
use crate::wire::plan::WholePlan;

/// A part whose plan stands against today's practice: money of all its positions in the period of account.
pub(super) struct Saved<'a> {
    pub group: &'a GroupCare,
    pub plan: &'a WholePlan,
    pub positions: f64,
    pub now: f64,
    pub then: f64,
    /// Estimate and ends.
    pub saving: [f64; 3],
    pub chance_dearer: f64,
}

impl Saved<'_> {
    /// Money as exact as the saving is known.
    fn money(&self, amount: f64, currency: &str) -> String {
        let [_, low, high] = self.saving;
        number::money_to(amount, high - low, currency)
    }

    /// Today's cost.
    pub fn now_words(&self, currency: &str) -> String {
        self.money(self.now, currency)
    }

    /// Cost under the plan.
    pub fn then_words(&self, currency: &str) -> String {
        self.money(self.then, currency)
    }

    /// The saving with its interval.
    pub fn words(&self, currency: &str) -> String {
        let [saving, low, high] = self.saving;
        let ends = [low, high].map(|x| self.money(x, ""));
        format!(
            "{} ({} to {})",
            self.money(saving, currency),
            ends[0],
            ends[1]
        )
    }
}

/// Every part with a plan and a practice of today.
pub(super) fn saved(results: &Results) -> Vec<Saved<'_>> {
    let (units, _) = per_year(results);
    let list = all(results).into_iter().filter_map(|(group, plan)| {
        let today = plan.weighed.today.as_ref()?;
        let positions = positions(results, group);
        let each = positions * units;
        Some(Saved {
            group,
            plan,
            positions,
            now: today.now.mean * each,
            then: plan.weighed.then.mean * each,
            saving: [today.saving.mean, today.saving.lower, today.saving.upper].map(|x| x * each),
            chance_dearer: today.chance_dearer,
        })
    });
    list.collect()
}

/// The sum of estimates with their ends where each is estimated by itself: distances of ends add up as the sides of
/// right angles do (Zou & Donner 2008, from memory).
pub(super) fn added(all: &[[f64; 3]]) -> [f64; 3] {
    let [mut sum, mut low, mut high] = [0.0; 3];
    for [estimate, lower, upper] in all {
        sum += estimate;
        low += (estimate - lower).powi(2);
        high += (upper - estimate).powi(2);
    }
    [sum, sum - low.sqrt(), sum + high.sqrt()]
}

/// What all parts cost now, what they cost `under` the plan, and the saving with its interval.
pub(super) fn saved_in_all(list: &[Saved], results: &Results, under: &str) -> String {
    let (_, per) = per_year(results);
    let sum = |of: &dyn Fn(&Saved) -> f64| list.iter().map(of).sum::<f64>();
    let [saving, low, high] = added(&list.iter().map(|s| s.saving).collect::<Vec<_>>());
    let (now, then) = (sum(&|s| s.now), sum(&|s| s.then));
    let m = |x: f64| number::money_to(x, high - low, &results.currency);
    let gain = if saving < 0.0 {
        format!("{} more", m(-saving))
    } else {
        format!("{} less", m(saving))
    };
    let apart = if low < 0.0 && high > 0.0 {
        ", so it is not told apart from no saving"
    } else {
        ""
    };
    format!(
        "Cared for as today, seals cost {} per {per} in the long run; {under} {}: {gain} ({} interval {} to {}{apart}).{}",
        m(now),
        m(then),
        number::level(results.confidence),
        m(low),
        m(high),
        left_out(list, results)
    )
}

/// Parts in service that these figures leave out.
fn left_out(list: &[Saved], results: &Results) -> String {
    let counted = |key: &GroupKey| list.iter().any(|s| s.group.group == *key);
    let out = results.lives.iter().filter(|l| !counted(&l.key));
    let out: Vec<String> = out
        .filter_map(|l| {
            let running: f64 = l.running.iter().map(|r| r.count).sum();
            (running > 0.0).then(|| {
                let why = l.trusted().err();
                let why =
                    why.map_or_else(String::new, |w| format!(": {}", w.trim_end_matches('.')));
                format!(
                    "{} ({} in service{why})",
                    l.key.words(),
                    number::fixed(running, 0)
                )
            })
        })
        .collect();
    if out.is_empty() {
        return String::new();
    }
    format!(" Not in these figures: {}.", out.join("; "))
}

/// The same for the head of the report, with what its interval does not hold, a line each.
pub fn in_all(results: &Results) -> Vec<String> {
    let list = saved(results);
    if list.is_empty() {
        return vec![];
    }
    let first = saved_in_all(&list, results, "under the plan");
    std::iter::once(first).chain(outside(results)).collect()
}

/// What the interval of the saving does not hold: the last year of the records, where it differs.
pub(super) fn outside(results: &Results) -> Option<String> {
    results.money.found().and_then(last_year::after)
}

#[cfg(test)]
mod tests {
    use super::added;

    #[test]
    fn independent_errors_add_as_sides_of_right_angles() {
        let all = [[10.0, 7.0, 15.0], [-2.0, -6.0, 10.0]];
        assert_eq!(added(&all), [8.0, 3.0, 21.0]);
        assert_eq!(added(&all[..1]), all[0]);
        assert_eq!(added(&[]), [0.0; 3]);
    }
}
