//! Where a cell that a grouping holds stands in its file.

use crate::cells::Cells;
use crate::load::Records;
use crate::table::Table;
use crate::words::normal;

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

impl Records {
    /// The first row in which a column holds this text. `None` where no file has it as a cell.
    #[must_use]
    pub fn place_of(&self, column: &str, text: &str) -> Option<Place> {
        // Rows that were counted have no place of their own.
        let life = self.life.as_ref().filter(|l| !l.is_counted());
        let life = life.map(|l| &l.table);
        let seals = self.seal_table.as_ref().map(|(t, _)| t);
        let assets = self.asset_table.as_ref().map(|(t, _)| t);
        let tables = [life, seals, assets].into_iter().flatten();
        tables.filter_map(|t| place_in(t, column, text)).next()
    }
}

fn place_in(table: &Table, column: &str, text: &str) -> Option<Place> {
    let same = |name: &&str| *name == column || normal(name) == normal(column);
    let column = table.names().into_iter().find(same)?.to_owned();
    let cells = Cells::of(table, Some(&column));
    let holds = |at: &usize| cells.text(*at).is_some_and(|t| t.trim() == text.trim());
    let at = (0..table.frame.height()).find(holds)?;
    Some(Place {
        file: table.file.clone(),
        row: table.rows.number(at),
        column,
    })
}
