//! The parts of the report that need more than lives: batches, one asset's material, measured condition, ovens.

use super::ageing::{Ageing, AgeingQuestion, ageing};
use super::condition::{Condition, ConditionQuestion, condition};
use super::materials::{MaterialsQuestion, Money, materials};
use super::materials_field::{Where, field};
use super::materials_here::here;
use super::prices;
use super::run::CONFIDENCE;
use crate::wire::batches::{
    BatchesDocument, BatchesOptions, FALSE_ALARMS_PER_YEAR, FALSE_DISCOVERIES, SpreadResult,
    batches,
};
use crate::wire::materials::MaterialsDocument;
use sealspan_care::screening::Tables;
use sealspan_life::ageing::curve::Curve;
use sealspan_life::degradation::choose::KINDS;
use sealspan_life::family::Family;
use sealspan_records::material_words::material;
use sealspan_records::study::Costs;
use sealspan_records::words::Material;
use sealspan_records::{Clock, Question, Records, lab, measured};
use std::collections::BTreeMap;
use std::path::Path;

/// Kelvin either side of an asset's temperature from which field lives are taken.
const WITHIN: f64 = 10.0;
/// Shares of new seals whose ages at the limit are told.
const SHARES: [f64; 2] = [0.1, 0.5];
/// Simulated runs behind the charts' limit.
const RUNS: usize = 4000;

/// Which batches differ, as the command `batches` weighs them when nothing else is asked.
///
/// # Errors
/// In words.
pub(crate) fn watched(
    records: &Records,
    question: &Question,
    family: &'static dyn Family,
    confidence: f64,
    seed: u64,
) -> Result<BatchesDocument, String> {
    if !records.seals.iter().any(|s| s.batch.is_some()) {
        return Err("no batch is recorded".to_owned());
    }
    let options = BatchesOptions {
        given: None,
        adjust: true,
        family,
        confidence,
        false_discoveries: FALSE_DISCOVERIES,
        false_alarms_per_year: FALSE_ALARMS_PER_YEAR,
        tuned_to: 2.0,
        runs: RUNS,
        seed,
    };
    let question = Question {
        by: vec![],
        ..question.clone()
    };
    batches(records, &question, &options).map_err(|why| why.to_string())
}

/// The price of one seal of every material that has one of its own; names that are no material are left out.
#[must_use]
pub fn own_prices(costs: &Costs) -> BTreeMap<Material, f64> {
    let each = costs.seal_prices.iter();
    each.filter_map(|(name, price)| Some((material(name)?, *price)))
        .collect()
}

/// How far recorded batches lie apart on the clock of days ([`batches`], places allowed for, 90 % intervals), and those left
/// out of that, as they are listed as different.
///
/// # Errors
/// In words, when no batch is recorded, or the batches tell no spread.
pub fn recorded_spread(
    records: &Records,
    family: &'static dyn Family,
    seed: u64,
) -> Result<(SpreadResult, Vec<String>), String> {
    let question = Question {
        by: vec![],
        clock: Clock::Days,
        mode: records.study.question.mode.clone(),
    };
    let found = watched(records, &question, family, CONFIDENCE, seed)?;
    let column = found.columns.into_iter().find(|c| c.column == "batch");
    let column = column.ok_or("no batch is recorded")?;
    let (why, without) = (column.reason, column.spread_without);
    let spread = column.spread;
    let spread =
        spread.ok_or_else(|| why.unwrap_or_else(|| "the batches tell no spread".to_owned()));
    Ok((spread?, without))
}

/// Material advice for one asset.
///
/// # Errors
/// In words.
pub(crate) fn advised(
    records: &Records,
    asset: &str,
    confidence: f64,
    seed: u64,
) -> Result<MaterialsDocument, String> {
    let money = Money {
        currency: records.study.currency.clone(),
        seal_price: records.study.costs.seal_price,
        prices: records
            .study
            .costs
            .seal_price
            .map(|_| prices::replacement(&records.study)),
    };
    let mut question = MaterialsQuestion {
        celsius: None,
        media: vec![],
        confidence,
        prices: own_prices(&records.study.costs),
        seed,
    };
    let place = Where {
        within: WITHIN,
        ..Where::default()
    };
    let words = |e: sealspan_records::Error| e.message().to_owned();
    let tables = Tables::with_own(vec![]).map_err(words)?;
    let here = here(records, &mut question, Some(asset), &place, &money)
        .map_err(words)?
        .ok_or("the records name no temperature and no medium of any asset")?;
    let field = field(records, &tables, &question, &place).map_err(words)?;
    Ok(materials(
        &tables,
        Some(&field),
        &money,
        &question,
        Some(here),
    ))
}

/// Measured condition, where the study names a property and its limit.
#[must_use]
pub(crate) fn measured_condition(
    records: &Records,
    question: &Question,
    confidence: f64,
) -> Option<Result<Condition, String>> {
    let asked = &records.study.condition;
    let (measure, limit) = (asked.measure.as_ref()?, asked.limit?);
    let every = records.study.practice.inspect_every_days;
    let of = || {
        let measured = measured(records, measure, question.clock, &question.by)
            .map_err(|e| e.message().to_owned())?;
        if measured.seals.is_empty() {
            return Err(format!("no seal in use has a measurement of {measure}"));
        }
        let question = ConditionQuestion {
            measure: measure.clone(),
            unit: question.clock.unit(),
            limit,
            rising: None,
            kinds: KINDS.map(|k| k.0).to_vec(),
            confidence,
            shares: SHARES.to_vec(),
            next_look: every.filter(|_| question.clock == Clock::Days),
        };
        Ok(condition(&measured, &question))
    };
    Some(of())
}

/// How the property of the ovens goes with time.
pub const OVEN_CURVE: Curve = Curve::BetweenLnTime;

/// Laboratory ageing, where the study names the table and the limit.
///
/// # Errors
/// Inside the answer: in words, where the table cannot be read or the ovens give no line.
#[must_use]
pub(crate) fn ovens(records: &Records, confidence: f64) -> Option<Result<Ageing, String>> {
    let study = &records.study;
    let (path, limit) = (study.files.lab.as_ref()?, study.ageing.limit?);
    let source = records.sources.iter().find(|s| s.role == "study")?;
    let folder = source.path.parent().unwrap_or(Path::new(""));
    let of = || {
        let measure = study.ageing.measure.as_deref();
        let lab =
            lab::lab(&folder.join(path), measure, None).map_err(|e| e.message().to_owned())?;
        let question = AgeingQuestion {
            limit,
            rising: None,
            curve: OVEN_CURVE,
            start: None,
            end: None,
            weighted: false,
            confidence,
            at: study.ageing.at_temperature_c.clone(),
            for_hours: vec![],
            duty: vec![],
        };
        ageing(&lab, &question)
    };
    Some(of())
}
