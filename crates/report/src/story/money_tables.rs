//! Money of the finance page as tables of values.

use super::tables::table;
use crate::analysis::run::Results;
use crate::document::{Cell, DataTable};
use crate::wire::money::MoneyDocument;
use crate::wire::money_places::{OwnAge, OwnAges, PlaceMoney};

fn rows(results: &Results, of: impl Fn(&MoneyDocument) -> Vec<Vec<Cell>>) -> Vec<Vec<Cell>> {
    results.money.found().map(of).unwrap_or_default()
}

/// Budget by month.
pub fn budget(results: &Results) -> DataTable {
    let of = |d: &MoneyDocument| {
        let row = |m: &crate::wire::money::MoneyMonth| {
            vec![
                (m.month as f64).into(),
                m.plan.planned.into(),
                m.plan.planned_money.into(),
                m.plan.failures.into(),
                m.plan.failures_money.into(),
                m.plan.looks.into(),
                m.plan.turns.into(),
                m.plan.handled_money.into(),
                m.plan.cost.into(),
                m.plan_lower.into(),
                m.plan_upper.into(),
                m.today.cost.into(),
                m.discounted.into(),
            ]
        };
        d.by_month.iter().map(row).collect()
    };
    let columns = [
        "month",
        "planned_changes",
        "planned_money",
        "failures",
        "failures_money",
        "looks",
        "turns",
        "looks_and_turns_money",
        "to_budget",
        "lower",
        "upper",
        "as_practice_goes_on",
        "saving_worth_now",
    ];
    table("budget", &columns, rows(results, of))
}

/// What each extra spare buys.
pub fn spares(results: &Results) -> DataTable {
    let of = |d: &MoneyDocument| {
        let row = |s: &crate::wire::stock::ExtraSpare| {
            vec![
                (s.seals as f64).into(),
                s.place.clone().unwrap_or_default().into(),
                s.part.clone().unwrap_or_default().into(),
                s.investment.into(),
                s.downtime_hours_per_year.into(),
                s.saves_hours_per_year.into(),
                s.cost_per_year.into(),
            ]
        };
        d.extra_spares.iter().map(row).collect()
    };
    let columns = [
        "spares_held",
        "last_at",
        "part",
        "money_tied_up",
        "hours_down_per_year",
        "last_takes_off_hours_per_year",
        "cost_per_year",
    ];
    table("extra-spares", &columns, rows(results, of))
}

/// What each extra look buys.
pub fn looks(results: &Results) -> DataTable {
    let of = |d: &MoneyDocument| {
        let parts = d.looks.iter();
        let each = parts.flat_map(|p| p.rows.iter().map(move |r| (p, r)));
        each.map(|(p, r)| {
            vec![
                p.part.clone().into(),
                r.times_today.into(),
                r.every.into(),
                r.looks_per_year.into(),
                r.failures_per_year.into(),
                r.hours_down_per_year.into(),
                r.cost_per_year.into(),
                r.cost_lower.into(),
                r.cost_upper.into(),
                r.dearer_per_year.into(),
                r.dearer_lower.into(),
                r.dearer_upper.into(),
            ]
        })
        .collect()
    };
    let columns = [
        "part",
        "times_today",
        "days_between_looks",
        "looks_per_year",
        "failures_per_year",
        "hours_down_per_year",
        "cost_per_year",
        "cost_lower",
        "cost_upper",
        "dearer_per_year",
        "dearer_lower",
        "dearer_upper",
    ];
    table("extra-looks", &columns, rows(results, of))
}

/// What every place costs a year.
pub fn places(results: &Results) -> DataTable {
    let of = |d: &MoneyDocument| {
        let row = |p: &PlaceMoney| {
            vec![
                p.place.clone().into(),
                p.positions.into(),
                p.recorded.map(|r| r.per_year).into(),
                p.today.failures.into(),
                p.today.cost.into(),
                p.plan.failures.into(),
                p.plan.cost.into(),
                p.saving.into(),
                p.saving_lower.into(),
                p.saving_upper.into(),
            ]
        };
        d.places.iter().map(row).collect()
    };
    let columns = [
        "place",
        "seals",
        "failures_per_year_as_recorded",
        "failures_per_year_as_practice_goes_on",
        "cost_per_year_as_practice_goes_on",
        "failures_per_year_under_the_plan",
        "cost_per_year_under_the_plan",
        "saving_per_year",
        "saving_lower",
        "saving_upper",
    ];
    table("saving-by-place", &columns, rows(results, of))
}

/// Replacement ages of a place's own.
pub fn own_ages(results: &Results) -> DataTable {
    ages(results, ("own-ages", "place"), |d| d.own_ages.as_ref())
}

/// Replacement ages of a duty's own.
pub fn own_ages_by_duty(results: &Results) -> DataTable {
    ages(results, ("own-ages-by-duty", "duty"), |d| {
        d.own_ages_by_duty.as_ref()
    })
}

fn ages(
    results: &Results,
    (name, at): (&str, &str),
    found: impl Fn(&MoneyDocument) -> Option<&OwnAges>,
) -> DataTable {
    let of = |d: &MoneyDocument| {
        let row = |o: &OwnAge| {
            vec![
                o.at.clone().into(),
                o.part.clone().into(),
                o.positions.into(),
                o.rate.into(),
                o.rate_lower.into(),
                o.rate_upper.into(),
                o.planned_age.into(),
                o.own_age.into(),
                o.failed_planned.into(),
                o.failed_own.into(),
                o.saving.into(),
                o.saving_lower.into(),
                o.saving_upper.into(),
                o.chance_dearer.into(),
                if o.taken { "yes" } else { "no" }.into(),
            ]
        };
        let ages = found(d).into_iter().flat_map(|all| &all.ages);
        ages.map(row).collect()
    };
    let columns = [
        at,
        "part",
        "seals",
        "rate_over_that_of_all",
        "rate_lower",
        "rate_upper",
        "planned_age_days",
        "own_age_days",
        "failed_before_the_planned_age",
        "failed_before_its_own_age",
        "saving_per_year",
        "saving_lower",
        "saving_upper",
        "chance_dearer",
        "taken",
    ];
    table(name, &columns, rows(results, of))
}
