//! What to look at first: seals probably past their limit, and doors out of line.

use super::words::capital;
use crate::analysis::run::{Part, Results};
use crate::column::spoken;
use crate::number;
use crate::wire::condition::RunningSeal;

/// Chance of being past the limit from which a seal is named.
const PROBABLY: f64 = 0.5;
/// Named one by one.
const NAMED: usize = 5;

/// The sentence; `None` where nothing calls for it.
pub(super) fn look_first(results: &Results) -> Option<String> {
    let told: Vec<String> = past_limit(results)
        .into_iter()
        .chain(doors(results))
        .collect();
    (!told.is_empty()).then(|| {
        let told = told.join("; ");
        format!("{}.", capital(&told))
    })
}

fn list(mut names: Vec<String>) -> String {
    let more = names.len().saturating_sub(NAMED);
    names.truncate(NAMED);
    if more > 0 {
        names.push(format!("{more} more"));
    }
    names.join(", ")
}

fn past_limit(results: &Results) -> Vec<String> {
    let Some(Part::Found(document)) = &results.condition else {
        return vec![];
    };
    let measure = spoken(&document.measure);
    let running: Vec<&RunningSeal> = document.groups.iter().flat_map(|g| &g.running).collect();
    let later = |s: &RunningSeal| s.past_at_next_look.filter(|_| s.past_now < PROBABLY);
    let now = |s: &RunningSeal| Some(s.past_now);
    let days = document
        .groups
        .iter()
        .find_map(|g| Some(g.by_next_look.as_ref()?.after));
    let soon = days.map_or_else(String::new, |days| {
        format!(
            "replace those probably past it within {} {} (",
            number::significant(days, 2),
            results.unit
        )
    });
    [
        (
            format!("replace the seals probably past the limit of their {measure} ("),
            probable(&running, now),
        ),
        (soon, probable(&running, later)),
    ]
    .into_iter()
    .filter(|(_, names)| !names.is_empty())
    .map(|(words, names)| format!("{words}{})", list(names)))
    .collect()
}

/// Seals with an even chance or more, the likeliest first.
fn probable(running: &[&RunningSeal], chance: impl Fn(&RunningSeal) -> Option<f64>) -> Vec<String> {
    let mut seals: Vec<(&str, f64)> = running
        .iter()
        .filter_map(|s| Some((s.seal.as_str(), chance(s)?)))
        .filter(|s| s.1 >= PROBABLY)
        .collect();
    seals.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(b.0)));
    let names = seals.iter();
    names
        .map(|(seal, chance)| format!("{seal} ({})", number::percent(*chance)))
        .collect()
}

fn doors(results: &Results) -> Option<String> {
    let all = &results.positions.found()?.positions;
    let names = all.iter().filter(|p| p.out_of_line).map(|p| {
        let own = p
            .position
            .as_ref()
            .map_or_else(String::new, |at| format!(" {at}"));
        format!("{}{own}", p.asset)
    });
    let names: Vec<String> = names.collect();
    (!names.is_empty()).then(|| format!("mend the doors out of line ({})", list(names)))
}
