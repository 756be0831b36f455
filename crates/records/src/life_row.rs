//! One row of the `life` form as ages, or what is wrong with it.

use crate::cells::{Cells, NotANumber, clip};
use crate::finding::{Finding, Severity};
use crate::observation::{NotAnObservation, Observation};
use crate::study::Names;
use crate::words::{nearest, normal};

/// What is wrong with a row.
pub(crate) struct Fault {
    pub(crate) kind: &'static str,
    pub(crate) severity: Severity,
    pub(crate) column: &'static str,
    pub(crate) message: String,
    pub(crate) mend: String,
}

impl Fault {
    fn new(kind: &'static str, column: &'static str, message: String, mend: &str) -> Self {
        Self {
            kind,
            severity: Severity::Error,
            column,
            message,
            mend: mend.to_owned(),
        }
    }

    /// The fault of a row, `column` by the file's own name.
    pub(crate) fn finding(&self, file: &str, row: u64, column: &str) -> Finding {
        Finding::new(self.kind, self.severity, self.message.clone())
            .file(file)
            .row(row)
            .column(column)
            .mend(self.mend.clone())
    }

    fn number(e: &NotANumber, column: &'static str) -> Self {
        Self::new(e.kind(), column, e.message(), e.mend())
    }
}

/// The columns of the life form, ready to be read.
pub(crate) struct Reading<'a> {
    pub(crate) spans: bool,
    pub(crate) first: Cells<'a>,
    pub(crate) second: Cells<'a>,
    pub(crate) entry: Cells<'a>,
    pub(crate) count: Cells<'a>,
    pub(crate) has_entry: bool,
    pub(crate) has_count: bool,
    pub(crate) words: &'a Names,
}

impl Reading<'_> {
    /// Lower, upper (infinite when running), entry, count. Sets `coded` on a status of 1 or 0.
    pub(crate) fn row(&self, at: usize, coded: &mut bool) -> Result<(f64, f64, f64, f64), Fault> {
        let (lower, upper) = if self.spans {
            self.span(at)?
        } else {
            self.time_and_status(at, coded)?
        };
        let entry = if self.has_entry {
            self.entry
                .number(at)
                .map_err(|e| Fault::number(&e, "entry"))?
                .unwrap_or(0.0)
        } else {
            0.0
        };
        let count = self.counted(at)?;
        let column = if self.spans { "upper" } else { "time" };
        Observation::interval(lower, upper, entry, count)
            .map_err(|e| refused(e, column, self.spans))?;
        if upper.is_infinite() && entry > 0.0 && entry >= lower {
            let e = NotAnObservation::EntryAfterEnd { entry, last: lower };
            return Err(refused(e, column, self.spans));
        }
        Ok((lower, upper, entry, count))
    }

    fn span(&self, at: usize) -> Result<(f64, f64), Fault> {
        let lower = self
            .first
            .number(at)
            .map_err(|e| Fault::number(&e, "lower"))?;
        let upper = self
            .second
            .number(at)
            .map_err(|e| Fault::number(&e, "upper"))?;
        match (lower, upper) {
            (None, None) => Err(Fault::new(
                "no_age",
                "lower",
                "lower and upper are both empty".into(),
                "give lower for a running life, upper for one that ended before it",
            )),
            (Some(lower), None) => Ok((lower, f64::INFINITY)),
            (lower, Some(upper)) => Ok((lower.unwrap_or(0.0), upper)),
        }
    }

    fn time_and_status(&self, at: usize, coded: &mut bool) -> Result<(f64, f64), Fault> {
        let time = self
            .first
            .number(at)
            .map_err(|e| Fault::number(&e, "time"))?
            .ok_or_else(|| {
                Fault::new(
                    "no_age",
                    "time",
                    "time is empty".into(),
                    "give the age at the end of watching",
                )
            })?;
        if self.failed(at, coded)? {
            Ok((time, time))
        } else {
            Ok((time, f64::INFINITY))
        }
    }

    fn failed(&self, at: usize, coded: &mut bool) -> Result<bool, Fault> {
        if let Cells::Number(column) = self.second {
            *coded = true;
            return match column.get(at) {
                Some(1.0) => Ok(true),
                Some(0.0) => Ok(false),
                Some(other) => Err(self.unknown_status(&other.to_string())),
                None => Err(self.unknown_status("")),
            };
        }
        let text = self.second.text(at).unwrap_or_default();
        match text.as_ref() {
            "failed" => Ok(true),
            "running" => Ok(false),
            "1" | "0" => {
                *coded = true;
                Ok(text == "1")
            }
            other => self.in_other_words(other),
        }
    }

    fn in_other_words(&self, text: &str) -> Result<bool, Fault> {
        let word = normal(text);
        let ours = self.words.iter().find(|(theirs, _)| normal(theirs) == word);
        match ours.map_or(word.as_str(), |(_, ours)| ours.as_str()) {
            "failed" => Ok(true),
            "running" => Ok(false),
            _ => Err(self.unknown_status(text)),
        }
    }

    fn unknown_status(&self, text: &str) -> Fault {
        let near = nearest(text, &["failed", "running"])
            .map_or(String::new(), |w| format!("did you mean \"{w}\"? "));
        let message = if text.is_empty() {
            "status is empty".to_owned()
        } else {
            format!("\"{}\" is no status", clip(text))
        };
        let mend = format!("{near}write failed or running, or map the word under [words.status]");
        Fault::new("unknown_status", "status", message, &mend)
    }

    fn counted(&self, at: usize) -> Result<f64, Fault> {
        if !self.has_count {
            return Ok(1.0);
        }
        let count = self
            .count
            .number(at)
            .map_err(|e| Fault::number(&e, "count"))?;
        match count {
            None => Ok(1.0),
            Some(0.0) => Err(Fault {
                severity: Severity::Warning,
                ..Fault::new(
                    "zero_count",
                    "count",
                    "count is 0: nothing was seen".into(),
                    "leave the row out",
                )
            }),
            Some(c) if c < 0.0 || c.fract() != 0.0 => Err(Fault::new(
                "bad_count",
                "count",
                format!("count {c} is not a whole number of seals"),
                "write how many seals the row stands for: 1, 2, 3 ...",
            )),
            Some(c) if c > 1e12 => Err(Fault::new(
                "bad_count",
                "count",
                format!("count {c:e} is more seals than there are"),
                "write how many seals the row stands for",
            )),
            Some(c) => Ok(c),
        }
    }
}

fn refused(e: NotAnObservation, column: &'static str, spans: bool) -> Fault {
    let message = if spans {
        e.to_string()
    } else {
        e.to_string().replacen("lower is", "time is", 1)
    };
    match e {
        NotAnObservation::NotFinite { .. } => Fault::new(
            "not_finite",
            column,
            message,
            "leave the cell empty when there is no such age",
        ),
        NotAnObservation::Negative { what, .. } => {
            let column = match what {
                "entry" => "entry",
                _ if spans && what != "upper" => "lower",
                _ => column,
            };
            Fault::new(
                "negative_time",
                column,
                message,
                "correct the age; ages count from fitting",
            )
        }
        NotAnObservation::FailureAtZero => Fault::new(
            "zero_time",
            column,
            "failed at age 0".into(),
            "give the first age at which the failure could have been seen as upper, lower empty",
        ),
        NotAnObservation::Reversed { .. } => Fault::new(
            "lower_above_upper",
            "lower",
            message,
            "swap them or correct one",
        ),
        NotAnObservation::EntryAfterEnd { .. } => Fault::new(
            "entry_not_below_exit",
            "entry",
            message,
            "correct the entry age, or leave the row out: nothing was watched",
        ),
        NotAnObservation::BadCount(_) => Fault::new(
            "bad_count",
            "count",
            message,
            "write a whole number of seals",
        ),
    }
}
