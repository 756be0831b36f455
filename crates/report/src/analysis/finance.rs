//! The money of the whole study, on the plans and stocks already found.

use super::detections;
use super::endings::Aim;
use super::futures::{PartFuture, futures};
use super::lives::GroupLife;
use super::money::{Question, counted_in_all, document};
use super::money_prices::{counted, pair};
use super::own_ages;
use super::plans::part_looks;
use super::{demand::Outlook, prices};
use crate::wire::care::GroupCare;
use crate::wire::money::MoneyDocument;
use crate::wire::stock::StockDocument;
use jiff::ToSpan;
use sealspan_care::costs::Costs;
use sealspan_care::plan::Choice;
use sealspan_care::terms::Terms;
use sealspan_life::family::Family;
use sealspan_records::practice::{practice, practice_since};
use sealspan_records::{Clock, Error, Form, Question as Asked, Records};

/// Days of the last year counted.
const DAYS_OF_A_YEAR: i64 = 365;
/// Months of account of the saving, unless told.
pub const MONTHS: usize = 24;

/// What the study has already answered, at the costs that are counted.
pub struct Found<'a> {
    /// Lives of the groups on the clock of days.
    pub lives: &'a [GroupLife],
    /// Their whole plans.
    pub plans: &'a [GroupCare],
    /// Stocks under the plans, or why there are none.
    pub stock: Result<&'a StockDocument, String>,
    /// Costs.
    pub costs: &'a Costs,
}

/// How it is worked out.
#[derive(Debug, Clone)]
pub struct Options {
    /// Months ahead.
    pub months: usize,
    /// Two-sided level of the intervals, between 0 and 1.
    pub confidence: f64,
    /// Seed of everything drawn.
    pub seed: u64,
    /// Replacement age of parts without a whole plan.
    pub replace: Choice,
    /// Standard deviation of ln life between batches; 0 for none.
    pub batch_spread: f64,
    /// Items of cost left out, by their keys in the study.
    pub left_out: Vec<String>,
}

/// The money of a study, with what it follows.
pub struct Followed {
    /// The answer.
    pub money: MoneyDocument,
    /// Its parts, place by place.
    pub parts: Vec<PartFuture>,
}

/// The money of a study grouped by `asked`; what is found must rest on the costs that are counted. How each figure is worked
/// out stands at the fields of [`MoneyDocument`]; no position leaves or joins.
///
/// # Errors
/// In words, when the records are plain lives, the clock is not that of days, no part can be followed or a price is out
/// of range.
pub fn money(
    records: &Records,
    asked: &Asked,
    family: &'static dyn Family,
    found: &Found,
    options: &Options,
) -> Result<Followed, String> {
    if records.form != Form::Seals {
        return Err("plain lives do not say what was changed by schedule".to_owned());
    }
    if asked.clock != Clock::Days {
        return Err("money month by month is worked out on the clock of days".to_owned());
    }
    let study = &records.study;
    let (failure, planned) = pair(&counted(&study.costs, &options.left_out));
    let aim = Aim {
        failure,
        planned,
        replace: options.replace,
    };
    let words = |e: Error| e.to_string();
    let known = (found.lives, found.plans);
    let (parts, left_out) =
        futures(records, asked, known, (family, aim), options.seed).map_err(words)?;
    let habits = practice(records, &asked.by, Clock::Days).map_err(words)?;
    let question = Question {
        outlook: Outlook {
            months: options.months,
            confidence: options.confidence,
            leaving_per_year: 0.0,
            joining: vec![],
            batch_spread: options.batch_spread,
            seed: options.seed,
        },
        left_out: options.left_out.clone(),
        starts: records.cut_off,
    };
    let stock = found.stock.as_ref().map(|s| s.places.as_slice());
    let stock = stock.map_err(Clone::clone);
    let mut answer =
        document(study, &parts, left_out, &habits, stock, &question).map_err(|e| e.to_string())?;
    let since = records
        .cut_off
        .and_then(|day| day.checked_sub(DAYS_OF_A_YEAR.days()).ok());
    answer.last_year_reason = since.is_none().then_some("the records have no last day");
    if since.is_some() {
        let recent = practice_since(records, &asked.by, Clock::Days, since).map_err(words)?;
        let stated = counted(&study.costs, &options.left_out);
        answer.last_year = Some(counted_in_all(&recent, &stated));
    }
    let handling = prices::handling(study);
    let terms = Terms::new(found.costs, &handling).map_err(|e| e.to_string())?;
    let odd = detections::odd(found.plans, options.confidence);
    let looks = found.lives.iter().map(|group| {
        let mine = found.plans.iter().find(|p| p.group == group.key);
        let plan = mine.and_then(|p| p.block.as_ref()?.plan.as_ref());
        let worlds = plan.map(|p| &p.worlds);
        let worlds = worlds.ok_or_else(|| "it has no plan that could be weighed".to_owned());
        let doubted = odd
            .iter()
            .find(|o| o.is(&group.key))
            .map(detections::Odd::reason);
        let worlds = doubted.map_or(worlds, Err);
        part_looks(group, worlds, &terms, options.confidence)
    });
    answer.looks = looks.collect();
    let asked_ages = own_ages::Asked {
        plans: found.plans,
        costs: found.costs,
        stated: &study.costs,
        handling: &handling,
        confidence: options.confidence,
    };
    answer.own_ages = own_ages::own_ages((records, asked), &parts, &asked_ages);
    answer.own_ages_by_duty =
        own_ages::own_ages_by_duty(records, asked, &asked_ages, (family, options.seed));
    answer.own_ages_by_duty_reason = answer
        .own_ages_by_duty
        .is_none()
        .then_some(own_ages::NO_DUTIES);
    answer.own_ages_reason = answer.own_ages.is_none().then_some(own_ages::NONE);
    Ok(Followed {
        money: answer,
        parts,
    })
}
