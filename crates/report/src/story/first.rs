//! What to look at first: seals probably past their limit, and doors out of line.

use super::words::capital;
use crate::analysis::run::{Part, Results};
use crate::column::spoken;
use crate::number;

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

fn past_limit(results: &Results) -> Option<String> {
    let Some(Part::Found(document)) = &results.condition else {
        return None;
    };
    let mut seals: Vec<_> = document
        .groups
        .iter()
        .flat_map(|g| &g.running)
        .filter(|s| s.past_now >= PROBABLY)
        .collect();
    seals.sort_by(|a, b| b.past_now.total_cmp(&a.past_now).then(a.seal.cmp(&b.seal)));
    let names = seals
        .iter()
        .map(|s| format!("{} ({})", s.seal, number::percent(s.past_now)));
    let names: Vec<String> = names.collect();
    (!names.is_empty()).then(|| {
        format!(
            "seals probably past the limit of their {} ({})",
            spoken(&document.measure),
            list(names)
        )
    })
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
    (!names.is_empty()).then(|| format!("doors out of line ({})", list(names)))
}
