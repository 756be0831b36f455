//! Lives with the levels, stratum and dates that the question needs.

use crate::analysis::alike::{ln_duty, place, place_columns};
use crate::wire::GroupKey;
use sealspan_records::{Form, NONE, Observation, Question, Records, Seal, ask};
use std::collections::BTreeMap;

/// The column made of cure dates.
pub(super) const CURE_MONTH: &str = "cure_month";

/// One life (or several alike).
pub(super) struct Placed {
    /// Level of each column asked for; `None` where it is not recorded.
    pub levels: Vec<Option<String>>,
    /// Its stratum in words.
    pub stratum: String,
    /// What was seen, at the ages it had.
    pub observation: Observation,
    /// Shift of ln life of the place where it sat, against its stratum as a whole.
    pub shift: f64,
    /// The place where it sat: the values of the columns that tell places apart.
    pub place: String,
    /// Ln duty of the asset where it sat, 0 where none is known.
    pub ln_duty: f64,
    /// Day it was fitted, where the records have dates.
    pub fitted: Option<f64>,
}

/// What could be placed, and what to say of the rest.
pub(super) struct Lives {
    pub columns: Vec<String>,
    pub given: Vec<String>,
    /// Columns that tell apart the places where seals sit.
    pub places: Vec<String>,
    /// Whether the duties of the assets are known.
    pub duty: bool,
    pub placed: Vec<Placed>,
    pub remarks: Vec<String>,
}

fn words(key: Vec<(String, String)>) -> String {
    GroupKey(key).words()
}

/// Places every life. `given` states the columns held constant; when not stated, the material if there is one.
pub(super) fn lives(
    records: &Records,
    question: &Question,
    given: Option<&[String]>,
) -> Result<Lives, sealspan_records::Error> {
    let first = if records.form == Form::Life {
        "batch"
    } else {
        "seal"
    };
    let asked = |given: &[String], places: &[String]| {
        let by = std::iter::once(first.to_owned())
            .chain(given.iter().cloned())
            .chain(places.iter().cloned());
        let question = Question {
            by: by.collect(),
            ..question.clone()
        };
        ask(records, &question)
    };
    let material = vec!["material".to_owned()];
    let (answer, given) = match given {
        Some(given) => (asked(given, &[]), given.to_vec()),
        None => match asked(&material, &[]) {
            Ok(answer) => (Ok(answer), material),
            Err(_) => (asked(&[], &[]), vec![]),
        },
    };
    let places = if first == "seal" {
        place_columns(records, &given)
    } else {
        vec![]
    };
    let answer = if places.is_empty() {
        answer
    } else {
        asked(&given, &places)
    };
    let answer = answer?;
    let mut out = Lives {
        columns: vec!["batch".to_owned()],
        given,
        places,
        duty: false,
        placed: vec![],
        remarks: vec![],
    };
    if first == "batch" {
        for group in answer.groups {
            let level = group.key.first().map(|k| k.1.clone()).filter(|v| v != NONE);
            let stratum = words(group.key.into_iter().skip(1).collect());
            out.placed
                .extend(group.sample.rows().iter().map(|o| Placed {
                    levels: vec![level.clone()],
                    stratum: stratum.clone(),
                    observation: *o,
                    shift: 0.0,
                    place: String::new(),
                    ln_duty: 0.0,
                    fitted: None,
                }));
        }
        return Ok(out);
    }
    let mut by_name: BTreeMap<&str, Vec<&Seal>> = BTreeMap::new();
    for seal in &records.seals {
        by_name.entry(&seal.seal).or_default().push(seal);
    }
    out.columns.push(CURE_MONTH.to_owned());
    let duty = ln_duty(records, question.clock);
    out.duty = duty.is_some();
    let mut twice = 0;
    for group in answer.groups {
        let name = group.key.first().map(|k| k.1.clone()).unwrap_or_default();
        let mut key = group.key;
        let place = place(&key.split_off((1 + out.given.len()).min(key.len())));
        let stratum = words(key.into_iter().skip(1).collect());
        let known = by_name.get(name.as_str()).map(Vec::as_slice);
        let ([observation], Some([seal])) = (group.sample.rows(), known) else {
            twice += group.rows_used;
            continue;
        };
        out.placed.push(Placed {
            levels: vec![
                seal.batch.clone(),
                seal.cure_date.map(|d| d.by_month().to_string()),
            ],
            stratum,
            observation: *observation,
            shift: 0.0,
            place,
            ln_duty: seal
                .asset
                .as_deref()
                .and_then(|a| duty.as_ref()?.get(a).copied())
                .unwrap_or(0.0),
            fitted: Some(seal.fitted.middle_day()),
        });
    }
    if twice > 0 {
        out.remarks.push(format!(
            "{twice} seals are left out: their name is missing or written on more than one row, so their batch and dates cannot be told"
        ));
    }
    Ok(out)
}
