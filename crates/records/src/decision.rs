//! The decision log: each rule applied, the rows it touched, and what was assumed.

use serde::Serialize;

/// Row numbers listed with a decision; the count beside them is always whole.
pub const ROWS_LISTED: usize = 10;

/// One rule applied while reading or asking.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Decision {
    /// A stable word for the rule, in snake case.
    pub rule: &'static str,
    /// What was assumed or done, in a sentence.
    pub assumed: String,
    /// How many rows (seals, looks) it touched; 0 for a rule about a whole file.
    pub count: u64,
    /// The file's own numbers of the first rows it touched, 10 at most; empty where they were counted only.
    pub rows: Vec<u64>,
    /// The file the rows are in, where it is about one.
    pub file: Option<String>,
}

/// Decisions in the order first taken, one entry a rule, wording and file.
#[derive(Debug, Clone, Default)]
pub(crate) struct Log {
    list: Vec<Decision>,
}

impl Log {
    /// Notes that `rule` touched `row`.
    pub(crate) fn row(&mut self, rule: &'static str, assumed: &str, file: &str, row: u64) {
        let found = self
            .list
            .iter_mut()
            .find(|d| d.rule == rule && d.assumed == assumed && d.file.as_deref() == Some(file));
        if let Some(decision) = found {
            decision.count += 1;
            if decision.rows.len() < ROWS_LISTED {
                decision.rows.push(row);
            }
        } else {
            self.list.push(Decision {
                rule,
                assumed: assumed.to_owned(),
                count: 1,
                rows: vec![row],
                file: Some(file.to_owned()),
            });
        }
    }

    /// Notes a rule that touched `count` rows, or a whole file (`count` 0).
    pub(crate) fn whole(
        &mut self,
        rule: &'static str,
        assumed: impl Into<String>,
        file: Option<&str>,
        count: u64,
    ) {
        self.list.push(Decision {
            rule,
            assumed: assumed.into(),
            count,
            rows: Vec::new(),
            file: file.map(str::to_owned),
        });
    }

    pub(crate) fn finish(self) -> Vec<Decision> {
        self.list
    }
}
