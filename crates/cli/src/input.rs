//! From the arguments to records and their answer. Only here is the machine's clock read.

use crate::args::{ClockArg, QuestionArgs};
use crate::failure::Failure;
use crate::page;
use crate::progress::Progress;
use jiff::civil::Date;
use sealspan_life::family::Family;
use sealspan_life::laws;
use sealspan_records::{
    Answer, Finding, Form, LoadOptions, Needs, Question, Records, UNKNOWN_MATERIAL, ask, load,
};
use std::io::Write;
use std::path::Path;
use std::time::SystemTime;

/// Records, and the answer to the question asked of them.
pub struct Asked {
    pub records: Records,
    pub question: Question,
    pub answer: Answer,
}

/// Reads the records, with a word on standard error where materials are in it that nobody knows.
pub fn records(path: &Path, cut_off: Option<&str>) -> Result<Records, Failure> {
    loud(path, cut_off, None)
}

fn loud(path: &Path, cut_off: Option<&str>, needs: Option<Needs>) -> Result<Records, Failure> {
    let records = read(path, cut_off, needs)?;
    let unknown: Vec<&Finding> = records
        .findings
        .iter()
        .filter(|f| f.kind == UNKNOWN_MATERIAL)
        .collect();
    for finding in unknown.iter().take(WARNED) {
        warn(finding);
    }
    if let Some(more) = unknown.len().checked_sub(WARNED).filter(|n| *n > 0) {
        let mut err = std::io::stderr();
        let _ = writeln!(err, "warning: {more} more such words: see `sealspan check`");
    }
    Ok(records)
}

/// Words shown one by one.
const WARNED: usize = 3;

fn warn(finding: &Finding) {
    let place = finding.row.map(|row| format!(", row {row}"));
    let text = format!(
        "warning: {}\n  at: {}{}, column `{}`\nmend: {}",
        finding.message,
        finding.file.as_deref().unwrap_or_default(),
        place.unwrap_or_default(),
        finding.column.as_deref().unwrap_or_default(),
        finding.mend
    );
    // Standard error may be closed; the answer stands all the same.
    let _ = writeln!(std::io::stderr(), "{}", page::plain(&text));
}

/// Reads the records.
pub fn quietly(path: &Path, cut_off: Option<&str>) -> Result<Records, Failure> {
    read(path, cut_off, None)
}

fn read(path: &Path, cut_off: Option<&str>, needs: Option<Needs>) -> Result<Records, Failure> {
    let cut_off: Option<Date> = cut_off
        .map(|text| {
            text.parse().map_err(|_| {
                Failure::argument(
                    format!("--cut-off {text} is not a date"),
                    "write it as YYYY-MM-DD",
                )
            })
        })
        .transpose()?;
    let _progress = Progress::start("reading records");
    let options = LoadOptions {
        today: today(),
        cut_off,
        progress: None,
        needs,
    };
    let records = load(path, &options)?;
    if options.cut_off.is_some() && records.form == Form::Life {
        return Err(Failure::argument(
            "--cut-off: plain lives carry no dates, so there is no day to end them at",
            "leave it out; a life that still ran on that day has `running` for its status, or no `upper`",
        ));
    }
    Ok(records)
}

/// Reads the records and asks the question; lives in Parquet are counted while they are read, unless `each` row
/// is needed.
pub fn asked(path: &Path, args: &QuestionArgs, modes: bool, each: bool) -> Result<Asked, Failure> {
    let mut needs = needs(&args.by, args.mode.as_deref());
    needs.mode |= modes;
    let records = loud(path, args.cut_off.as_deref(), (!each).then_some(needs))?;
    of_records(records, args.by.clone(), args.clock, args.mode.as_deref())
}

fn needs(by: &[String], mode: Option<&str>) -> Needs {
    Needs {
        by: by.to_vec(),
        mode: mode.is_some(),
    }
}

/// Reads the records and asks the question, by the study's own groups when none are named.
pub fn asked_by_study(path: &Path, args: &QuestionArgs) -> Result<Asked, Failure> {
    let needs = needs(&args.by, args.mode.as_deref());
    let records = loud(path, args.cut_off.as_deref(), Some(needs))?;
    let by = if args.by.is_empty() {
        records.study.question.by.clone()
    } else {
        args.by.clone()
    };
    of_records(records, by, args.clock, args.mode.as_deref())
}

/// The same; records of seals without groups of their own are taken by material.
pub fn asked_by_study_or_material(path: &Path, args: &QuestionArgs) -> Result<Asked, Failure> {
    let needs = needs(&args.by, args.mode.as_deref());
    let records = loud(path, args.cut_off.as_deref(), Some(needs))?;
    let own = &records.study.question.by;
    let by = if !args.by.is_empty() {
        args.by.clone()
    } else if own.is_empty() && records.seals.iter().any(|s| s.material.is_some()) {
        vec!["material".to_owned()]
    } else {
        own.clone()
    };
    of_records(records, by, args.clock, args.mode.as_deref())
}

/// The same, with the group columns stated apart.
pub fn asked_by(
    path: &Path,
    by: Vec<String>,
    clock: Option<ClockArg>,
    mode: Option<&str>,
    cut_off: Option<&str>,
) -> Result<Asked, Failure> {
    of_records(
        loud(path, cut_off, Some(needs(&by, mode)))?,
        by,
        clock,
        mode,
    )
}

fn of_records(
    records: Records,
    by: Vec<String>,
    clock: Option<ClockArg>,
    mode: Option<&str>,
) -> Result<Asked, Failure> {
    let study = &records.study.question;
    let question = Question {
        by,
        clock: clock.map(Into::into).or(study.clock).unwrap_or_default(),
        mode: mode.map(str::to_owned).or_else(|| study.mode.clone()),
    };
    let answer = ask(&records, &question)?;
    Ok(Asked {
        records,
        question,
        answer,
    })
}

/// No day before this one is today: the program was written then.
const WRITTEN: Date = jiff::civil::date(2026, 1, 1);

/// The day of a clock, in UTC; none when it is plainly wrong (unset, or before the program was written).
fn day_of(clock: SystemTime) -> Option<Date> {
    let now = jiff::Timestamp::try_from(clock).ok()?;
    let day = now.to_zoned_datetime(jiff::tz::TimeZone::UTC).date();
    Some(day).filter(|d| *d >= WRITTEN)
}

/// Today's date by the machine's clock, with a word on standard error where the clock is wrong.
fn today() -> Option<Date> {
    let today = day_of(SystemTime::now());
    if today.is_none() {
        let _ = writeln!(
            std::io::stderr(),
            "warning: this machine's clock is wrong, so dates in the future are not looked for\n\
             mend: set the clock, or say with --cut-off where the records end"
        );
    }
    today
}

/// A family by name.
pub fn family(name: &str) -> Result<&'static dyn Family, Failure> {
    laws::by_name(name).ok_or_else(|| {
        let names: Vec<&str> = laws::all().iter().map(|f| f.name()).collect();
        Failure::argument(
            format!("there is no family `{name}`"),
            format!("choose from {}", names.join(", ")),
        )
    })
}

/// Families by name; `all` for those that are compared without a special question.
pub fn families(names: &[String]) -> Result<Vec<&'static dyn Family>, Failure> {
    let mut out: Vec<&'static dyn Family> = vec![];
    for name in names {
        let asked = if name.eq_ignore_ascii_case("all") {
            laws::usual().to_vec()
        } else {
            vec![family(name)?]
        };
        for one in asked {
            if out.iter().all(|known| known.name() != one.name()) {
                out.push(one);
            }
        }
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::{WRITTEN, day_of};
    use jiff::civil::date;
    use std::time::{Duration, SystemTime};

    const DAY: Duration = Duration::from_secs(86_400);

    #[test]
    fn a_clock_that_is_plainly_wrong_says_no_day() {
        let epoch = SystemTime::UNIX_EPOCH;
        assert_eq!(day_of(epoch), None);
        assert_eq!(day_of(epoch - 365 * DAY), None, "before 1970");
        assert_eq!(day_of(epoch - 1_000_000 * DAY), None, "before the calendar");
        let last = SystemTime::UNIX_EPOCH + 20_453 * DAY;
        assert_eq!(day_of(last), None, "the day before");
        assert_eq!(day_of(last + DAY), Some(WRITTEN));
        assert_eq!(day_of(last + 60 * DAY), Some(date(2026, 3, 1)));
        assert_eq!(day_of(epoch + 4_000_000 * DAY), None, "after the calendar");
    }
}
