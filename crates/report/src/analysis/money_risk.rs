//! What moves the saving: inputs moved one at a time, and three futures.

use super::demand::Outlook;
use super::futures::PartFuture;
use super::money::{Question, Worlds, present_value, worlds};
use super::money_prices::MOVED;
use crate::wire::money::{Scenario, Swing};
use sealspan_care::error::Result;
use sealspan_care::money::worth::Terms;
use sealspan_records::study::Costs;

/// Range of each input of money moved by itself, as in the whole plan; and of the lives.
const MONEY_RANGE: f64 = 0.25;
const LIFE_RANGE: (f64, f64) = (0.8, 1.25);

/// Each input moved by itself, the widest swing first.
pub(super) fn swings(
    futures: &[PartFuture],
    both: &[Worlds],
    costs: &Costs,
    terms: &Terms,
    question: &Question,
) -> Result<Vec<Swing>> {
    let months = question.outlook.months;
    let (low, high) = (1.0 - MONEY_RANGE, 1.0 + MONEY_RANGE);
    let value = |costs: &Costs| present_value(both, terms, months, costs);
    let mut out: Vec<Swing> = MOVED
        .iter()
        .map(|(input, moved)| Swing {
            input,
            low,
            high,
            at_low: value(&moved(costs, low)),
            at_high: value(&moved(costs, high)),
        })
        .collect();
    let (short, long) = LIFE_RANGE;
    out.push(Swing {
        input: "life to failure",
        low: short,
        high: long,
        at_low: stretched(futures, short, costs, terms, question)?,
        at_high: stretched(futures, long, costs, terms, question)?,
    });
    let width = |s: &Swing| (s.at_high - s.at_low).abs();
    out.retain(|s| width(s) > 0.0);
    out.sort_by(|a, b| width(b).total_cmp(&width(a)));
    Ok(out)
}

/// The saving with all lives so many times as long.
fn stretched(
    futures: &[PartFuture],
    factor: f64,
    costs: &Costs,
    terms: &Terms,
    question: &Question,
) -> Result<f64> {
    // Expected figures alone: a spread of batches would ask for draws.
    let question = Question {
        outlook: Outlook {
            batch_spread: 0.0,
            ..question.outlook.clone()
        },
        ..question.clone()
    };
    let worlds = worlds(futures, &question, factor)?;
    let months = question.outlook.months;
    Ok(present_value(&worlds, terms, months, costs))
}

/// Three futures.
pub(super) fn scenarios(
    futures: &[PartFuture],
    both: &[Worlds],
    costs: &Costs,
    terms: &Terms,
    question: &Question,
) -> Result<Vec<Scenario>> {
    let [_, _, (_, downtime), ..] = MOVED;
    let one = |name, assumes, hour: f64, life: f64| -> Result<Scenario> {
        Ok(Scenario {
            name,
            assumes,
            present_value: stretched(futures, life, &downtime(costs, hour), terms, question)?,
        })
    };
    let as_estimated = Scenario {
        name: "as estimated",
        assumes: "prices as stated, lives as fitted",
        present_value: present_value(both, terms, question.outlook.months, costs),
    };
    Ok(vec![
        one(
            "stops cheaper, seals better",
            "an hour down costs a quarter less, and seals last a tenth longer",
            0.75,
            1.1,
        )?,
        as_estimated,
        one(
            "stops dearer, seals worse",
            "an hour down costs a quarter more, and seals last a tenth less",
            1.25,
            0.9,
        )?,
    ])
}
