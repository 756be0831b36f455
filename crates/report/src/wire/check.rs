//! What was read, used, set aside and found.

use super::assumptions::{Assumption, assumptions};
use sealspan_records::{Answer, Decision, Finding, Form, Question, Records, SetAside};
use serde::Serialize;
use std::collections::BTreeMap;

/// The whole answer.
#[derive(Debug, Clone, Serialize)]
pub struct CheckDocument {
    /// Version of this shape.
    pub schema: &'static str,
    /// Files read.
    pub sources: Vec<SourceFile>,
    /// Rows of the table of lives.
    pub rows_read: u64,
    /// Rows of it that are used.
    pub seals: u64,
    /// Last day the records cover.
    pub cut_off: Option<String>,
    /// Used seals by how their time ended.
    pub outcomes: BTreeMap<String, u64>,
    /// What looks wrong, gravest first.
    pub findings: Vec<Finding>,
    /// Lives by kind.
    pub observations: Observations,
    /// Rows not used, and why.
    pub set_aside: Vec<SetAside>,
    /// What was assumed, in order.
    pub decisions: Vec<Decision>,
    /// How far each class of assumption moves the age by which 10 % have failed.
    pub assumptions: Vec<Assumption>,
    /// Why no question can be answered.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unanswered: Option<String>,
}

/// A file read.
#[derive(Debug, Clone, Serialize)]
pub struct SourceFile {
    /// What it is to the study.
    pub role: &'static str,
    /// Its name.
    pub file: String,
    /// Its format, found by content.
    pub format: &'static str,
    /// Its rows.
    pub rows: u64,
}

/// Lives by kind.
#[derive(Debug, Clone, Copy, Default, Serialize)]
pub struct Observations {
    /// Failed at a known age.
    pub exact: u64,
    /// Running or taken off otherwise.
    pub right: u64,
    /// Failed before the first look.
    pub left: u64,
    /// Failed between two looks.
    pub interval: u64,
    /// Watched only from an age above zero.
    pub truncated: u64,
    /// Rows not used.
    pub set_aside: u64,
}

/// Puts the document together from records and the answer to a question, or the reason why there is
/// none.
#[must_use]
pub fn document(
    records: &Records,
    question: &Question,
    answer: Result<&Answer, String>,
) -> CheckDocument {
    let found = answer.as_ref().ok();
    let set_aside = found.map_or(&records.set_aside, |a| &a.set_aside).clone();
    let more = found.map(|a| a.findings.clone()).unwrap_or_default();
    let mut findings: Vec<Finding> = records.findings.iter().cloned().chain(more).collect();
    findings.sort_by_key(|f| std::cmp::Reverse(f.severity));
    let decided = found.map(|a| a.decisions.clone()).unwrap_or_default();
    let whole = |x: f64| x.round() as u64;
    let tally = found.map(|a| a.tally).unwrap_or_default();
    let rows_used = records.rows_read - set_aside.len() as u64;
    CheckDocument {
        schema: "sealspan.check.v1",
        sources: records
            .sources
            .iter()
            .map(|s| SourceFile {
                role: s.role,
                file: s.path.display().to_string(),
                format: s.format,
                rows: s.rows,
            })
            .collect(),
        rows_read: records.rows_read,
        seals: rows_used,
        cut_off: records.cut_off.map(|d| d.to_string()),
        outcomes: outcomes(records, tally.failures(), tally.right),
        findings,
        observations: Observations {
            exact: whole(tally.exact),
            right: whole(tally.right),
            left: whole(tally.left),
            interval: whole(tally.interval),
            truncated: whole(tally.truncated),
            set_aside: set_aside.len() as u64,
        },
        set_aside,
        decisions: records.decisions.iter().cloned().chain(decided).collect(),
        assumptions: found
            .map(|a| assumptions(records, question, a))
            .unwrap_or_default(),
        unanswered: answer.err(),
    }
}

/// Outcome words of the seals used; failed and running for plain life data.
fn outcomes(records: &Records, failed: f64, running: f64) -> BTreeMap<String, u64> {
    let mut out = BTreeMap::new();
    match records.form {
        Form::Seals => {
            for seal in &records.seals {
                *out.entry(seal.outcome.word().to_owned()).or_insert(0) += 1;
            }
        }
        Form::Life => {
            out.insert("failed".to_owned(), failed.round() as u64);
            out.insert("running".to_owned(), running.round() as u64);
        }
    }
    out
}
