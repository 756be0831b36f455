//! Which damage goes with a condition that stands out: what most of its seals show and hardly any of the others.

use super::Screened;
use sealspan_records::{Question, Records, ask};
use serde::Serialize;
use std::collections::BTreeSet;

/// Fewest seals with the damage, the share of them among those with the condition, and at most so much elsewhere (rules of
/// ours).
const FEWEST: f64 = 5.0;
const MOST_OF_THEM: f64 = 0.5;
const ELSEWHERE: f64 = 0.1;

/// A damage that goes with a condition, among removals with a known damage.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Damage {
    /// Which, as the records name it.
    pub mechanism: String,
    /// Seals with the condition that show it.
    pub with: f64,
    /// Of so many with the condition.
    pub of: f64,
    /// Others of the same group that show it.
    pub elsewhere: f64,
    /// Of so many others.
    pub of_elsewhere: f64,
}

/// Adds to every condition the damage that goes with it.
pub(in crate::analysis) fn add_damage(
    records: &Records,
    question: &Question,
    found: &mut [Screened],
) {
    let words = records.seals.iter().filter_map(|s| s.mechanism);
    let words: BTreeSet<&str> = words.map(|m| m.word()).collect();
    for one in found {
        one.damage = damage(records, question, one, &words);
    }
}

fn damage(
    records: &Records,
    question: &Question,
    one: &Screened,
    words: &BTreeSet<&str>,
) -> Option<Damage> {
    let within = one.within.as_ref();
    let by = within.map(|(column, _)| column.clone());
    let by: Vec<String> = by.into_iter().chain([one.column.clone()]).collect();
    let count = |mechanism: &str| -> Option<[f64; 2]> {
        let asked = Question {
            by: by.clone(),
            mode: Some(mechanism.to_owned()),
            ..question.clone()
        };
        let answer = ask(records, &asked).ok()?;
        let mut out = [0.0; 2];
        for group in &answer.groups {
            let (last, first) = group.key.split_last()?;
            let same = within.is_none_or(|(_, level)| first.iter().all(|f| f.1 == *level));
            if same {
                let [with, elsewhere] = &mut out;
                let own = if last.1 == one.level { with } else { elsewhere };
                *own += group.sample.tally().failures();
            }
        }
        Some(out)
    };
    let counts: Vec<(&str, [f64; 2])> = words
        .iter()
        .filter_map(|word| Some((*word, count(word)?)))
        .collect();
    let [of, of_elsewhere] = [0, 1].map(|side: usize| {
        let all = counts.iter().filter_map(|(_, n)| n.get(side));
        all.sum::<f64>()
    });
    let most = counts.iter().max_by(|a, b| a.1[0].total_cmp(&b.1[0]))?;
    let (mechanism, [with, elsewhere]) = *most;
    let stands_out =
        with >= FEWEST && with >= MOST_OF_THEM * of && elsewhere <= ELSEWHERE * of_elsewhere;
    (stands_out && of_elsewhere > 0.0).then(|| Damage {
        mechanism: mechanism.to_owned(),
        with,
        of,
        elsewhere,
        of_elsewhere,
    })
}
