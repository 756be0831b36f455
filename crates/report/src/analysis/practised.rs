//! What one position costs as it is cared for today, and under the plan.

use super::lives::GroupLife;
use super::prices;
use crate::wire::GroupKey;
use crate::wire::care::GroupCare;
use sealspan_care::costs::Costs;
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_records::{Clock, Study};
use serde::Serialize;

/// Yearly cost of one position under today's stated practice, the best age, and on failure only.
#[derive(Debug, Clone, Serialize)]
pub struct Practice {
    /// Group.
    pub group: GroupKey,
    /// Positions with a seal running now.
    pub positions: f64,
    /// Whether the rates are those of the practice measured from the records and of the whole plan, averaged over what
    /// the estimates leave open; else of replacement ages alone, by the life to failure.
    pub whole_plan: bool,
    /// Today's stated replacement age.
    pub today_age: Option<f64>,
    /// Money per unit of the clock today; on failure only when no age is stated.
    pub today_rate: f64,
    /// Money per unit of the clock at the best age.
    pub best_rate: f64,
}

/// Today's practice and the plan, for every group with a life.
pub(super) fn practice(
    lives: &[GroupLife],
    costs: &Costs,
    study: &Study,
    plans: &[GroupCare],
) -> Vec<Practice> {
    let today_age = study
        .practice
        .replace_at_days
        .filter(|_| costs.clock() == Clock::Days);
    let of = |group: &GroupLife| {
        let fitted = group.trusted().ok()?;
        let own = costs.dearer(prices::dearer(&study.costs, &group.key));
        let evaluator = Evaluator::new(&fitted.life, &own, Goal::Cost).ok()?;
        let best = evaluator.best().ok()?;
        let plan = plans.iter().find(|p| p.group == group.key);
        let weighed = plan.and_then(|p| Some(&p.block.as_ref()?.plan.as_ref()?.weighed));
        let today = weighed.and_then(|w| w.today.as_ref());
        if let (Some(w), Some(today)) = (weighed, today) {
            return Some(Practice {
                group: group.key.clone(),
                positions: group.running.iter().map(|r| r.count).sum(),
                whole_plan: true,
                today_age: None,
                today_rate: today.now.mean,
                best_rate: w.then.mean,
            });
        }
        Some(Practice {
            group: group.key.clone(),
            positions: group.running.iter().map(|r| r.count).sum(),
            whole_plan: false,
            today_age,
            today_rate: today_age.map_or_else(
                || evaluator.run_to_failure().cost_rate,
                |age| evaluator.cost_rate(age),
            ),
            best_rate: best.cost_rate,
        })
    };
    lives.iter().filter_map(of).collect()
}
