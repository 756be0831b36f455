//! Do the groups of the study differ?

use super::run::Part;
use crate::wire::GroupKey;
use crate::wire::compare::{CompareDocument, CompareOptions, More, compare};
use sealspan_life::family::Family;
use sealspan_records::{Answer, Question, Records, ask};

/// Compares the groups; intervals that allow for like seals of one asset stand beside where assets are recorded.
pub(super) fn compared(
    records: &Records,
    answer: &Answer,
    question: &Question,
    family: &'static dyn Family,
    confidence: f64,
) -> Part<CompareDocument> {
    let [by] = question.by.as_slice() else {
        return Part::Missing {
            reason: "the study does not group by one column".to_owned(),
        };
    };
    let by_asset = Question {
        by: vec![by.clone(), "asset".to_owned()],
        ..question.clone()
    };
    let has_assets = by != "asset" && records.seals.iter().any(|s| s.asset.is_some());
    let apart = has_assets.then(|| ask(records, &by_asset).ok()).flatten();
    let options = CompareOptions {
        by: Some(by.clone()),
        given: vec![],
        number: vec![],
        arrhenius: None,
        inverse_power: None,
        base: vec![],
        family,
        confidence,
        more: More {
            cluster: apart.as_ref().map(|_| "asset".to_owned()),
            ..More::default()
        },
    };
    let keyed: Vec<_> = apart
        .as_ref()
        .unwrap_or(answer)
        .groups
        .iter()
        .map(|g| (GroupKey(g.key.clone()), g.sample.clone()))
        .collect();
    Part::of(compare(question.clock.unit(), &keyed, &options))
}
