//! How far each class of assumption moves the life: the same Weibull fit under another reading, all groups together.

use sealspan_life::fit::fit;
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;
use sealspan_records::{Answer, Form, Observation, Question, Records, Sample, Seen, ask};
use serde::Serialize;

/// One class of assumption.
#[derive(Debug, Clone, Serialize)]
pub struct Assumption {
    /// What is assumed, and what is tried instead.
    pub assumed: &'static str,
    /// Seals it touches.
    pub seals: f64,
    /// Age by which 10 % have failed, as read.
    pub b10: Option<f64>,
    /// The same under the other reading.
    pub b10_otherwise: Option<f64>,
    /// Why a number is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// Every class of assumption that the records give occasion for, all groups together.
#[must_use]
pub(crate) fn assumptions(
    records: &Records,
    question: &Question,
    answer: &Answer,
) -> Vec<Assumption> {
    let rows: Vec<Observation> = all_rows(answer);
    let as_read = b10(rows.clone());
    let class = |assumed, seals: f64, other: Vec<Observation>| {
        let otherwise = b10(other);
        (seals > 0.0).then(|| Assumption {
            assumed,
            seals,
            reason: as_read.clone().err().or(otherwise.clone().err()),
            b10: as_read.clone().ok(),
            b10_otherwise: otherwise.ok(),
        })
    };
    let count = |f: &dyn Fn(&Observation) -> bool| -> f64 {
        rows.iter().filter(|o| f(o)).map(Observation::count).sum()
    };
    let found = |o: &Observation| matches!(o.seen(), Seen::Interval(..));
    let late = |o: &Observation| o.entry() > 0.0;
    let mut out = vec![];
    out.extend(class(
        "a failure found at a look lies between the last good look and that day; tried: on that day",
        count(&found),
        rows.iter()
            .filter_map(|o| match o.seen() {
                Seen::Interval(_, b) => Observation::exact(b, o.entry(), o.count()).ok(),
                _ => Some(*o),
            })
            .collect(),
    ));
    out.extend(class(
        "a seal already in place when the records begin is watched from its age then; tried: from its fitting",
        count(&late),
        rows.iter().filter_map(from_new).collect(),
    ));
    if records.form == Form::Seals {
        for (mode, assumed) in [
            (
                "unknown",
                "a removal of unknown outcome is no failure; tried: all are failures",
            ),
            (
                "worn",
                "a seal taken off worn would have gone on like the rest; tried: all count as failures when found",
            ),
        ] {
            let question = Question {
                mode: Some(mode.to_owned()),
                ..question.clone()
            };
            let Ok(other) = ask(records, &question) else {
                continue;
            };
            let ended = all_rows(&other);
            if ended.len() != rows.len() {
                continue;
            }
            let touched: f64 = ended
                .iter()
                .filter(|o| o.ended())
                .map(Observation::count)
                .sum();
            let mixed = rows
                .iter()
                .zip(&ended)
                .map(|(own, other)| if other.ended() { *other } else { *own })
                .collect();
            out.extend(class(assumed, touched, mixed));
        }
    }
    out
}

fn all_rows(answer: &Answer) -> Vec<Observation> {
    let groups = answer.groups.iter();
    groups
        .flat_map(|g| g.sample.rows().iter().copied())
        .collect()
}

fn from_new(o: &Observation) -> Option<Observation> {
    match o.seen() {
        Seen::Exact(t) => Observation::exact(t, 0.0, o.count()),
        Seen::Right(t) => Observation::right(t, 0.0, o.count()),
        Seen::Interval(a, b) => Observation::interval(a, b, 0.0, o.count()),
    }
    .ok()
}

fn b10(rows: Vec<Observation>) -> Result<f64, String> {
    let family = by_name("weibull").ok_or("no such family")?;
    fit(family, &Sample::new(rows))
        .map_err(|why| why.to_string())?
        .finite_estimate(Quantity::Quantile(0.1))
        .ok_or_else(|| "no finite age under this law".to_owned())
}
