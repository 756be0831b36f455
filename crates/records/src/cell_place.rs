//! Where a cell that a grouping holds stands in its file.

use crate::cells::Cells;
use crate::keys::NONE;
use crate::load::Records;
use crate::table::Table;
use crate::words::normal;
use serde::Serialize;

/// A row of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The file.
    pub file: String,
    /// The file's own row number.
    pub row: u64,
    /// The column, as the file calls it.
    pub column: String,
}

/// A column, and what its cell holds, [`NONE`] for an empty one; `None` for whatever it holds.
pub type Cell = (String, Option<String>);

/// The rows of a file whose cells hold what was asked for, rows set aside included.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RowsHeld {
    /// The file.
    pub file: String,
    /// The columns, as the file calls them.
    pub columns: Vec<String>,
    /// How many rows.
    pub rows: u64,
    /// The file's own numbers of the first and the last row of each stretch of them, in order.
    pub stretches: Vec<(u64, u64)>,
}

/// Stretches of rows named one by one in words; the rest is counted.
const STRETCHES: usize = 8;

impl RowsHeld {
    fn new(file: &str, columns: Vec<String>, rows: impl Iterator<Item = u64>) -> Self {
        let mut stretches: Vec<(u64, u64)> = vec![];
        for row in rows {
            match stretches.last_mut() {
                Some((_, last)) if *last + 1 == row => *last = row,
                _ => stretches.push((row, row)),
            }
        }
        Self {
            file: file.to_owned(),
            columns,
            rows: stretches.iter().map(|(a, b)| b - a + 1).sum(),
            stretches,
        }
    }

    /// The rows in words: "rows 2 to 11 and 14 of lives.csv, column `heat`"; stretches after the eighth as "N more".
    #[must_use]
    pub fn words(&self) -> String {
        let named = self.stretches.iter().take(STRETCHES);
        let told: u64 = named.clone().map(|(a, b)| b - a + 1).sum();
        let mut parts: Vec<String> = named
            .map(|(a, b)| match b - a {
                0 => a.to_string(),
                _ => format!("{a} to {b}"),
            })
            .collect();
        if self.rows > told {
            parts.push(format!("{} more", self.rows - told));
        }
        let last = parts.pop().unwrap_or_default();
        let list = if parts.is_empty() {
            last
        } else {
            format!("{} and {last}", parts.join(", "))
        };
        let row = if self.rows == 1 { "row" } else { "rows" };
        let columns: Vec<String> = self.columns.iter().map(|c| format!("`{c}`")).collect();
        let s = if columns.len() == 1 { "" } else { "s" };
        format!(
            "{row} {list} of {}, column{s} {}",
            self.file,
            columns.join(" and ")
        )
    }
}

impl Records {
    /// The rows in which all of these cells stand, of the first file that has such: the lives, then the assets. `None` where
    /// no file has all the columns, no row holds them, or no cell is asked for; lives that were counted while they were read
    /// have no rows here. Columns are named in any case, with spaces, hyphens or underscores; cells are compared as trimmed
    /// text.
    #[must_use]
    pub fn rows_holding(&self, cells: &[Cell]) -> Option<RowsHeld> {
        self.tables().find_map(|t| rows_in(t, cells))
    }

    /// The files that a grouping's columns can be in.
    fn tables(&self) -> impl Iterator<Item = &Table> {
        // Rows that were counted have no place of their own.
        let life = self.life.as_ref().filter(|l| !l.is_counted());
        let life = life.map(|l| &l.table);
        let seals = self.seal_table.as_ref().map(|(t, _)| t);
        let assets = self.asset_table.as_ref().map(|(t, _)| t);
        [life, seals, assets].into_iter().flatten()
    }

    /// The first row in which a column holds this text, looked for as by [`rows_holding`](Records::rows_holding). `None`
    /// where no file has it as a cell; an empty cell is none.
    #[must_use]
    pub fn place_of(&self, column: &str, text: &str) -> Option<Place> {
        self.tables().find_map(|t| place_in(t, column, text))
    }
}

/// A column by the file's own name for it.
fn own_name(table: &Table, column: &str) -> Option<String> {
    let same = |name: &&str| *name == column || normal(name) == normal(column);
    table.names().into_iter().find(same).map(str::to_owned)
}

fn rows_in(table: &Table, wanted: &[Cell]) -> Option<RowsHeld> {
    let columns: Option<Vec<String>> = wanted.iter().map(|(c, _)| own_name(table, c)).collect();
    let columns = columns.filter(|c| !c.is_empty())?;
    let cells: Vec<Cells<'_>> = columns.iter().map(|c| Cells::of(table, Some(c))).collect();
    let holds = |at: usize| {
        cells.iter().zip(wanted).all(|(cells, (_, wanted))| {
            wanted.as_ref().is_none_or(|wanted| {
                let text = cells.text(at);
                text.as_deref().map_or(NONE, str::trim) == wanted.trim()
            })
        })
    };
    let at = (0..table.frame.height()).filter(|at| holds(*at));
    let held = RowsHeld::new(&table.file, columns, at.map(|at| table.rows.number(at)));
    (held.rows > 0).then_some(held)
}

fn place_in(table: &Table, column: &str, text: &str) -> Option<Place> {
    let column = own_name(table, column)?;
    let cells = Cells::of(table, Some(&column));
    let holds = |at: &usize| cells.text(*at).is_some_and(|t| t.trim() == text.trim());
    let at = (0..table.frame.height()).find(holds)?;
    Some(Place {
        file: table.file.clone(),
        row: table.rows.number(at),
        column,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn held(rows: &[u64]) -> String {
        let columns = vec!["heat".to_owned()];
        RowsHeld::new("lives.csv", columns, rows.iter().copied()).words()
    }

    #[test]
    fn rows_are_told_in_stretches() {
        assert_eq!(held(&[7]), "row 7 of lives.csv, column `heat`");
        assert_eq!(
            held(&[2, 3, 4, 9, 11, 12]),
            "rows 2 to 4, 9 and 11 to 12 of lives.csv, column `heat`"
        );
        let odd: Vec<u64> = (0..12).map(|i| 2 * i + 3).collect();
        assert!(held(&odd).contains("17 and 4 more of"), "{}", held(&odd));
    }
}
