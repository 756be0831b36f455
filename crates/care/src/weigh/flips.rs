//! Each input moved by itself: what the plan then costs, what would be best, and how far it has to move
//! until another policy is clearly better.

use super::Weighing;
use super::elsewhere::Elsewhere;
use super::inputs::{Input, Situation, of_seal};
use super::judge::{CLOSE, quantile};
use super::menu::{Candidate, Menu};
use super::table::Table;
use crate::evaluate::{Prepared, Shared};
use rayon::prelude::*;
use serde::Serialize;

/// One input over its range, all others at their estimates. Its values are in its own unit: of the clock, money, hours, or
/// a share; costs are money (or share of time down) per unit of the clock.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Swing {
    /// Which.
    pub input: Input,
    /// Its value in the plan.
    pub value: f64,
    /// Lower end of the range.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Where the range comes from: `interval` of the estimate, or `taken` as a share of the value.
    pub range: &'static str,
    /// What the plan costs (or its time down) at each end.
    pub plan_at_low: f64,
    /// At the upper end.
    pub plan_at_high: f64,
    /// What the best policy there costs.
    pub best_at_low: f64,
    /// At the upper end.
    pub best_at_high: f64,
    /// The best policy at each end.
    pub policy_at_low: Candidate,
    /// At the upper end.
    pub policy_at_high: Candidate,
    /// Nearest value below at which another policy is over 2 % better, with that policy.
    pub flips_below: Option<Flip>,
    /// Nearest value above.
    pub flips_above: Option<Flip>,
}

/// An input moved until the decision flips.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Flip {
    /// The value, in the input's own unit.
    pub at: f64,
    /// The value over that in the plan.
    pub factor: f64,
    /// What is better from there on.
    pub to: Candidate,
}

/// Factors at which a flip is looked for, and halvings that place it.
const FACTORS: [f64; 6] = [1.2, 1.5, 2.0, 2.5, 3.3, 5.0];
const HALVINGS: usize = 5;

/// The seal at its estimate with the whole menu worked out.
struct Centre<'a> {
    weighing: &'a Weighing<'a>,
    menu: &'a Menu,
    situation: Situation,
    table: Table,
    plan: Candidate,
    /// Of the seal at its estimate.
    shared: Shared,
}

/// All swings, the widest first.
pub(crate) fn swings(weighing: &Weighing, menu: &Menu, plan: &Candidate) -> Vec<Swing> {
    let situation = Situation {
        seal: weighing.seal.clone(),
        costs: *weighing.costs,
        handling: weighing.handling,
    };
    let mut shared = Shared::default();
    let Some(table) = table_of(&situation, menu, &mut shared) else {
        return vec![];
    };
    let centre = Centre {
        weighing,
        menu,
        table,
        plan: *plan,
        situation,
        shared,
    };
    let inputs: Vec<(Input, f64)> = centre.situation.inputs().collect();
    let mut list: Vec<Swing> = inputs
        .par_iter()
        .filter_map(|(input, value)| centre.swing(*input, *value))
        .collect();
    let width = |s: &Swing| (s.plan_at_high - s.plan_at_low).abs();
    list.sort_by(|a, b| width(b).total_cmp(&width(a)));
    list
}

fn table_of(situation: &Situation, menu: &Menu, shared: &mut Shared) -> Option<Table> {
    let model = Prepared::new(&situation.seal).ok()?;
    let terms = situation.terms().ok()?;
    Some(Table::alone(menu, &model, &terms, shared))
}

impl Centre<'_> {
    fn at(&self, input: Input, value: f64) -> Option<Elsewhere> {
        let moved = self.situation.with(input, value)?;
        let table = if input.of_the_seal() {
            let (onset, delay) = input.moves();
            let mut shared = self.shared.still_known(!onset, !delay);
            table_of(&moved, self.menu, &mut shared)?
        } else {
            self.table.priced(&moved.terms().ok()?)
        };
        Elsewhere::of(&table, &self.weighing.request, &self.plan)
    }

    /// Ends of the range of an input, and where they come from.
    fn range(&self, input: Input, value: f64) -> (f64, f64, &'static str) {
        let drawn: Vec<f64> = self
            .weighing
            .draws
            .iter()
            .filter_map(|seal| of_seal(seal, input))
            .collect();
        let spread = |drawn: &[f64]| {
            let first = drawn.first().copied().unwrap_or(value);
            drawn.iter().any(|x| (x / first - 1.0).abs() > 1e-9)
        };
        if input.of_the_seal() && spread(&drawn) {
            let tail = 0.5 - 0.5 * self.weighing.confidence;
            return (
                quantile(drawn.clone(), tail),
                quantile(drawn, 1.0 - tail),
                "interval",
            );
        }
        let part = self.weighing.price_range;
        let high = input.within(value * (1.0 + part));
        (value * (1.0 - part), high, "taken")
    }

    fn swing(&self, input: Input, value: f64) -> Option<Swing> {
        let (low, high, range) = self.range(input, value);
        let (below, above) = (self.at(input, low)?, self.at(input, high)?);
        Some(Swing {
            input,
            value,
            low,
            high,
            range,
            plan_at_low: below.plan,
            plan_at_high: above.plan,
            best_at_low: below.best,
            best_at_high: above.best,
            policy_at_low: below.policy,
            policy_at_high: above.policy,
            flips_below: self.flip(input, value, |f| 1.0 / f),
            flips_above: self.flip(input, value, |f| f),
        })
    }

    /// The policy that is clearly better when the input has moved by a factor.
    fn better(&self, input: Input, at: f64) -> Option<Candidate> {
        let there = self.at(input, at)?;
        let clearly = !there.keeps_limits || there.plan > there.best * (1.0 + CLOSE);
        clearly.then_some(there.policy)
    }

    fn flip(&self, input: Input, value: f64, side: impl Fn(f64) -> f64) -> Option<Flip> {
        let mut inside = 1.0;
        for factor in FACTORS {
            let raw = value * side(factor);
            let at = input.within(raw);
            if let Some(mut to) = self.better(input, at) {
                let mut outside = at / value;
                for _ in 0..HALVINGS {
                    let middle = f64::sqrt(inside * outside);
                    match self.better(input, value * middle) {
                        Some(better) => (outside, to) = (middle, better),
                        None => inside = middle,
                    }
                }
                return Some(Flip {
                    at: value * outside,
                    factor: outside,
                    to,
                });
            }
            if input.at_end(raw) {
                return None;
            }
            inside = at / value;
        }
        None
    }
}
