//! All that reading has to say besides the rows themselves.

use crate::decision::Log;
use crate::error::Error;
use crate::finding::{Finding, Findings, SetAside};
use crate::table::Table;
use std::collections::BTreeMap;

/// Findings, decisions and set-aside rows in the making.
#[derive(Debug, Default)]
pub(crate) struct Notes {
    pub(crate) findings: Findings,
    pub(crate) log: Log,
    /// Rows of the table of lives that are not used.
    pub(crate) set_aside: Vec<SetAside>,
    /// Rows of the other tables that are not used.
    pub(crate) context_set_aside: Vec<SetAside>,
    /// Materials nobody knows, by word: the finding at the first row, and how many seals have it.
    pub(crate) materials: BTreeMap<String, (Finding, u64)>,
    /// Why no question can be answered, where something must be asked first.
    pub(crate) refusal: Option<Error>,
}

impl Notes {
    /// Sets a row of the table of lives aside.
    pub(crate) fn aside(&mut self, finding: Finding) {
        self.set_aside.push(row_of(&finding));
        self.findings.push(finding);
    }

    /// Sets a row of another table aside.
    pub(crate) fn context_aside(&mut self, finding: Finding) {
        self.context_set_aside.push(row_of(&finding));
        self.findings.push(finding);
    }

    /// Keeps the first reason to stop and ask.
    pub(crate) fn refuse(&mut self, error: Error) {
        if self.refusal.is_none() {
            self.refusal = Some(error);
        }
    }

    /// Turns the materials nobody knows into findings, one a word.
    pub(crate) fn close_materials(&mut self) {
        for (first, seals) in std::mem::take(&mut self.materials).into_values() {
            let message = match seals {
                1 => first.message.clone(),
                n => format!("{} ({n} seals, the first of them here)", first.message),
            };
            self.findings.push(Finding { message, ..first });
        }
    }

    /// Takes over what the reader of a table noted; `main` for the table of lives.
    pub(crate) fn take(&mut self, table: &mut Table, main: bool) {
        self.findings.extend(std::mem::take(&mut table.notes));
        for odd in &table.misshapen {
            let finding = Finding::error(
                "wrong_number_of_fields",
                format!(
                    "the row has {} fields, the header has {}",
                    odd.fields, odd.expected
                ),
            )
            .file(&table.file)
            .row(odd.row)
            .mend("add or remove separators; put quotes round a field that holds one");
            if main {
                self.aside(finding);
            } else {
                self.context_aside(finding);
            }
        }
    }
}

fn row_of(finding: &Finding) -> SetAside {
    SetAside {
        file: finding.file.clone().unwrap_or_default(),
        row: finding.row.unwrap_or(0),
        column: finding.column.clone(),
        reason: finding.message.clone(),
    }
}
