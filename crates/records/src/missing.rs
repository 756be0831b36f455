//! Words that stand for an empty cell: `n/a`, `-` and their like.

use crate::cells::clip;
use crate::finding::Finding;
use crate::study::Words;
use crate::table::Table;
use crate::words::normal;
use polars::prelude::*;
use std::collections::BTreeSet;

/// The usual words, in lower case. Words that a record may mean (`none`, `unknown`) are not among them.
const WORDS: [&str; 17] = [
    "n/a",
    "#n/a",
    "n.a.",
    "n.a",
    "na",
    "n/k",
    "null",
    "nil",
    "missing",
    "not recorded",
    "not known",
    "-",
    "--",
    "---",
    "–",
    "—",
    "?",
];

/// Bytes of the longest word.
const LONGEST: usize = 12;

fn is_missing(text: &str) -> bool {
    let text = text.trim();
    text.len() <= LONGEST && WORDS.contains(&text.to_lowercase().as_str())
}

/// Words the study gives a meaning of its own.
fn meant(words: &Words) -> BTreeSet<String> {
    let lists = [
        &words.outcome,
        &words.material,
        &words.mechanism,
        &words.finding,
        &words.status,
    ];
    let all = lists.into_iter().flat_map(|names| names.keys());
    all.map(|word| normal(word)).collect()
}

/// Takes cells that hold such a word as empty, and notes where.
pub(crate) fn clear(table: &mut Table, words: &Words) {
    let meant = meant(words);
    let missing = |text: &str| is_missing(text) && !meant.contains(&normal(text));
    let mut cleared = vec![];
    for column in table.frame.columns() {
        let Ok(cells) = column.str() else { continue };
        let mut found = cells.iter().enumerate();
        let Some((at, Some(word))) = found.find(|(_, t)| t.is_some_and(missing)) else {
            continue;
        };
        let count = cells.iter().flatten().filter(|t| missing(t)).count();
        let cells: StringChunked = cells.iter().map(|t| t.filter(|t| !missing(t))).collect();
        let finding = Finding::note(
            "missing_word",
            format!(
                "{count} cell(s) hold \"{}\" or the like: taken as empty",
                clip(word.trim())
            ),
        )
        .file(&table.file)
        .row(table.rows.number(at))
        .column(column.name())
        .mend("leave such cells empty; if the word means something, map it under [words] of the study file");
        cleared.push((
            cells.with_name(column.name().clone()).into_column(),
            finding,
        ));
    }
    for (column, finding) in cleared {
        // The column is as long as the one it replaces.
        if table.frame.with_column(column).is_ok() {
            table.notes.push(finding);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_whole_cells_of_usual_words_are_missing() {
        for word in ["n/a", "N/A", " - ", "#N/A", "NULL", "?"] {
            assert!(is_missing(word), "{word}");
        }
        for word in [
            "none",
            "unknown",
            "NaN",
            "-5",
            "0",
            "nab",
            "a-b",
            "in_service",
        ] {
            assert!(!is_missing(word), "{word}");
        }
    }
}
