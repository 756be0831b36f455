//! Lives with the levels, stratum and dates that the question needs.

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
    pub observation: Observation,
    /// Day it was fitted, where the records have dates.
    pub fitted: Option<f64>,
}

/// What could be placed, and what to say of the rest.
pub(super) struct Lives {
    pub columns: Vec<String>,
    pub given: Vec<String>,
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
) -> Result<Lives, String> {
    let first = if records.form == Form::Life {
        "batch"
    } else {
        "seal"
    };
    let asked = |given: &[String]| {
        let by = std::iter::once(first.to_owned()).chain(given.iter().cloned());
        let question = Question {
            by: by.collect(),
            ..question.clone()
        };
        ask(records, &question)
    };
    let material = vec!["material".to_owned()];
    let (answer, given) = match given {
        Some(given) => (asked(given), given.to_vec()),
        None => match asked(&material) {
            Ok(answer) => (Ok(answer), material),
            Err(_) => (asked(&[]), vec![]),
        },
    };
    let answer = answer.map_err(|e| format!("{}; {}", e.message(), e.mend()))?;
    let mut out = Lives {
        columns: vec!["batch".to_owned()],
        given,
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
    let mut twice = 0;
    for group in answer.groups {
        let name = group.key.first().map(|k| k.1.clone()).unwrap_or_default();
        let stratum = words(group.key.into_iter().skip(1).collect());
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
