//! The money of the whole study, on the plans and stocks already found.

use super::endings::{Aim, part_laws};
use super::extra_spares::extra_spares;
use super::lives::{GroupLife, groups};
use super::money::{Question, document};
use super::money_prices::pair;
use super::money_stock::{lines, urgent_hours};
use super::planned::question_of;
use super::plans::{Evidence, Facts, Worlds, part_looks, worlds};
use super::{demand::Outlook, prices};
use crate::wire::care::GroupCare;
use crate::wire::looks::PartLooks;
use crate::wire::money::MoneyDocument;
use crate::wire::stock::StockDocument;
use sealspan_care::costs::Costs;
use sealspan_care::terms::Terms;
use sealspan_life::family::Family;
use sealspan_records::practice::practice;
use sealspan_records::{Clock, Error, Form, Question as Asked, Records, ask};

/// Months of the saving.
const MONTHS: usize = 24;
/// Draws of the lives that its intervals rest on: they hardly move with more.
const DRAWS: usize = 100;

/// What the study has already answered.
pub struct Found<'a> {
    /// Lives of the groups on the clock of days.
    pub lives: &'a [GroupLife],
    /// Their whole plans.
    pub plans: &'a [GroupCare],
    /// Stocks under the plans.
    pub stock: Option<&'a StockDocument>,
    /// Costs.
    pub costs: &'a Costs,
}

/// The money of a study grouped by `asked`.
///
/// # Errors
/// In words, when the records or the clock do not allow it.
pub fn money(
    records: &Records,
    asked: &Asked,
    family: &'static dyn Family,
    found: &Found,
    (confidence, seed): (f64, u64),
) -> Result<MoneyDocument, String> {
    if records.form != Form::Seals {
        return Err("plain lives do not say what was changed by schedule".to_owned());
    }
    if asked.clock != Clock::Days {
        return Err("money month by month is worked out on the clock of days".to_owned());
    }
    let study = &records.study;
    let (failure, planned) = pair(&study.costs);
    let aim = Aim {
        failure,
        planned,
        stated_age: None,
    };
    let words = |e: Error| e.to_string();
    let (mut laws, left_out) = part_laws(records, &asked.by, family, aim, seed).map_err(words)?;
    for here in laws.iter_mut().flat_map(|part| &mut part.places) {
        here.plan.draws.truncate(DRAWS);
        here.today.draws.truncate(DRAWS);
    }
    let habits = practice(records, &asked.by, Clock::Days).map_err(words)?;
    let question = Question {
        outlook: Outlook {
            months: MONTHS,
            confidence,
            leaving_per_year: 0.0,
            joining: vec![],
            batch_spread: 0.0,
            seed,
        },
        left_out: vec![],
    };
    let mut answer =
        document(study, &laws, left_out, &habits, &question).map_err(|e| e.to_string())?;
    if let Some(stock) = found.stock {
        // One answer on stock: that of the whole plans.
        answer.stock = lines(&stock.places);
        answer.stock_reason = None;
        answer.extra_spares = extra_spares(&stock.places, urgent_hours(study));
    }
    let terms = Terms::new(found.costs, &prices::handling(study)).map_err(|e| e.to_string())?;
    let looks = found.lives.iter().map(|group| {
        let mine = found.plans.iter().find(|p| p.group == group.key);
        let plan = mine.and_then(|p| p.block.as_ref()?.plan.as_ref());
        let worlds = plan.map(|p| &p.worlds);
        let worlds = worlds.ok_or_else(|| "it has no plan that could be weighed".to_owned());
        part_looks(group, worlds, &terms, confidence)
    });
    answer.looks = looks.collect();
    Ok(answer)
}

/// What more or fewer looks come to in every group, from the records alone.
///
/// # Errors
/// As [`ask`], and when a price is out of range.
pub fn looks(
    records: &Records,
    by: &[String],
    family: &'static dyn Family,
    confidence: f64,
    seed: u64,
) -> Result<Vec<PartLooks>, sealspan_care::error::Error> {
    let unanswerable = |e: Error| sealspan_care::error::Error::unanswerable(&e.to_string());
    let study = &records.study;
    let costs = Costs::new(prices::replacement(study), Clock::Days)?;
    let question = question_of(study, &costs, confidence, seed);
    let asked = Asked {
        by: by.to_vec(),
        clock: Clock::Days,
        mode: study.question.mode.clone(),
    };
    let lives = groups(&ask(records, &asked).map_err(unanswerable)?, family, seed);
    let facts = Facts {
        measured: None,
        ..Facts::of(study)
    };
    let evidence = Evidence::read(records, by, Clock::Days, &facts);
    let terms = Terms::new(&costs, &question.handling)?;
    let one = |group: &GroupLife| {
        let found: Result<Worlds, String> = worlds(group, &evidence, &facts, &question);
        let known = found.as_ref().map_err(Clone::clone);
        part_looks(group, known, &terms, confidence)
    };
    Ok(lives.iter().map(one).collect())
}
