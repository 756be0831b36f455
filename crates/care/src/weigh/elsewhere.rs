//! A plan in a world that it was not weighed in: an input moved, or another law.

use super::Weighing;
use super::judge::first_least;
use super::menu::{Candidate, Menu};
use super::table::{Table, measure};
use crate::evaluate::{Prepared, Shared};
use crate::plan::Request;
use crate::seal::Seal;
use crate::terms::Terms;
use serde::Serialize;

/// What a plan comes to there, beside the best policy of the same menu. Measures are money per unit of the clock, or the
/// share of time down.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Elsewhere {
    /// Measure of the plan.
    pub plan: f64,
    /// Whether it keeps the limits there.
    pub keeps_limits: bool,
    /// Measure of the best policy within the limits.
    pub best: f64,
    /// That policy.
    #[serde(rename = "best_policy")]
    pub policy: Candidate,
}

impl Elsewhere {
    /// From a table of one world; `None` where the plan is not in it, or no policy keeps the limits.
    pub(crate) fn of(table: &Table, request: &Request, plan: &Candidate) -> Option<Self> {
        let broken = table.broken(&request.limits);
        let all: Vec<(f64, f64)> = table
            .outcomes
            .iter()
            .zip(&broken)
            .map(|(of, broken)| {
                let own = of.first();
                let own = own.map_or(f64::INFINITY, |o| measure(request.goal, o));
                (own, *broken)
            })
            .collect();
        let own = table.policies.iter().position(|p| p == plan)?;
        let (plan, out_of_limits) = all.get(own).copied()?;
        let kept = |own: f64, broken: f64| if broken > 0.0 { f64::INFINITY } else { own };
        let best = first_least(all.iter().map(|(own, broken)| kept(*own, *broken)))?;
        Some(Self {
            plan,
            keeps_limits: out_of_limits <= 0.0,
            best: all.get(best)?.0,
            policy: *table.policies.get(best)?,
        })
    }
}

/// A plan and the best policy of the same menu, both in money (or share of time down) per unit of the clock; a plan weighed at `weighing.seal` for another seal; `None` where it cannot be worked out for that one.
#[must_use]
pub fn elsewhere(weighing: &Weighing, plan: &Candidate, seal: &Seal) -> Option<Elsewhere> {
    let request = &weighing.request;
    let menu = Menu::new(
        &Prepared::new(weighing.seal).ok()?,
        request,
        weighing.costs.clock(),
        weighing.calendar,
        weighing.shortest,
    )
    .ok()?;
    let terms = Terms::new(weighing.costs, &weighing.handling).ok()?;
    let model = Prepared::new(seal).ok()?;
    let table = Table::alone(&menu, &model, &terms, &mut Shared::default());
    Elsewhere::of(&table, request, plan)
}
