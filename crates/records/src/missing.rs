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

/// The cells of one column that were taken as empty.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Cleared {
    pub(crate) column: String,
    /// The word of the first of them, and the file's own number of its row.
    pub(crate) word: String,
    pub(crate) row: u64,
    pub(crate) cells: u64,
}

impl Cleared {
    pub(crate) fn note(&self, file: &str) -> Finding {
        Finding::note(
            "missing_word",
            format!(
                "{} cell(s) hold \"{}\" or the like: taken as empty",
                self.cells,
                clip(self.word.trim())
            ),
        )
        .file(file)
        .row(self.row)
        .column(&self.column)
        .mend("leave such cells empty; if the word means something, map it under [words] of the study file")
    }
}

/// Takes cells that hold such a word as empty, and notes where.
pub(crate) fn clear(table: &mut Table, words: &Words) {
    let cleared = cleared(table, words, |_| 1);
    let notes: Vec<Finding> = cleared.iter().map(|c| c.note(&table.file)).collect();
    table.notes.extend(notes);
}

/// Takes cells that hold such a word as empty, and tells of each column; row `at` of the table stands for
/// `rows(at)` of the file.
pub(crate) fn cleared(
    table: &mut Table,
    words: &Words,
    rows: impl Fn(usize) -> u64,
) -> Vec<Cleared> {
    let meant = meant(words);
    let missing = |text: &str| is_missing(text) && !meant.contains(&normal(text));
    let mut out = vec![];
    let mut emptied = vec![];
    for column in table.frame.columns() {
        let Ok(cells) = column.str() else { continue };
        let mut found = cells.iter().enumerate();
        let Some((at, Some(word))) = found.find(|(_, t)| t.is_some_and(missing)) else {
            continue;
        };
        let all = cells.iter().enumerate();
        let hit = all.filter(|(_, t)| t.is_some_and(missing));
        out.push(Cleared {
            column: column.name().to_string(),
            word: word.to_owned(),
            row: table.rows.number(at),
            cells: hit.map(|(at, _)| rows(at)).sum(),
        });
        let cells: StringChunked = cells.iter().map(|t| t.filter(|t| !missing(t))).collect();
        emptied.push(cells.with_name(column.name().clone()).into_column());
    }
    for column in emptied {
        // The column is as long as the one it replaces, so this cannot fail.
        let _ = table.frame.with_column(column);
    }
    out
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
