//! A question to the records, and the observations that answer it.

use crate::decision::{Decision, Log};
use crate::error::{Error, Kind};
use crate::finding::{Finding, Findings, SetAside};
use crate::load::{Form, Records};
use crate::observation::{Clock, Sample, Seen, Tally};

/// What is asked: which groups, on which time scale, which failure mode.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Question {
    /// Columns to group by; none for one group of all.
    pub by: Vec<String>,
    /// The time scale.
    pub clock: Clock,
    /// The mode of interest: of seals an outcome or a mechanism of their failure, of plain lives a word of the column
    /// `mode`. Other ends censor at the age surely reached. When not given, all failures of seals (other outcomes
    /// censor), all ends of plain lives.
    pub mode: Option<String>,
}

/// A seal still in service: neither removed nor found failed by a look.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Running {
    /// Its name; `None` in plain life data.
    pub seal: Option<String>,
    /// The asset.
    pub asset: Option<String>,
    /// The position.
    pub position: Option<String>,
    /// The material's symbol.
    pub material: Option<String>,
    /// The site of its asset, or where that has none the seal's own column `site`.
    pub site: Option<String>,
    /// The batch of the seal.
    pub batch: Option<String>,
    /// The age it has surely reached at the cut-off, or at the end of its asset's records where that is earlier, in the
    /// unit of the answer's clock.
    pub age: f64,
    /// How many seals alike.
    pub count: f64,
}

/// Where the running seals of a group are kept.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum InService {
    /// One by one.
    Each(Vec<Running>),
    /// Plain lives: every right-censored row of the sample.
    Censored,
    /// Plain lives with a mode: age and count.
    Ages(Vec<(f64, f64)>),
}

/// The lives of one group.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Column and value, in the order asked; empty without `by`.
    pub key: Vec<(String, String)>,
    /// What was observed.
    pub sample: Sample,
    /// Rows of the table of lives in this group.
    pub rows_used: u64,
    pub(crate) in_service: InService,
}

impl Group {
    /// The seals still in service. In plain life data these are all lives that had not ended,
    /// whatever they were taken out for.
    #[must_use]
    pub fn running(&self) -> Vec<Running> {
        let plain = |(age, count): (f64, f64)| Running {
            age,
            count,
            ..Running::default()
        };
        match &self.in_service {
            InService::Each(list) => list.clone(),
            InService::Ages(list) => list.iter().copied().map(plain).collect(),
            InService::Censored => self
                .sample
                .rows()
                .iter()
                .filter_map(|o| match o.seen() {
                    Seen::Right(age) => Some(plain((age, o.count()))),
                    _ => None,
                })
                .collect(),
        }
    }
}

/// The observations that answer a question.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The time scale of every age.
    pub clock: Clock,
    /// The groups, sorted by key: values that are all numbers by size, others as words; an empty cell is
    /// [`NONE`](crate::NONE).
    pub groups: Vec<Group>,
    /// Counts of seals by kind over all groups.
    pub tally: Tally,
    /// Rows of the table of lives used; rows read = used + set aside.
    pub rows_used: u64,
    /// Rows not used for this question, those not used for any included, by row.
    pub set_aside: Vec<SetAside>,
    /// What was found while answering.
    pub findings: Vec<Finding>,
    /// What was assumed while answering.
    pub decisions: Vec<Decision>,
}

/// What answering has to say besides the groups.
#[derive(Debug, Default)]
pub(crate) struct Remarks {
    pub(crate) findings: Findings,
    pub(crate) log: Log,
    pub(crate) set_aside: Vec<SetAside>,
}

/// Turns records into observations.
///
/// # Errors
/// When something must be settled first (see [`Records::refusal`]), a column or mode is unknown, the readings do not
/// count what the clock asks for, or no row is left.
///
/// ```
/// use sealspan_records::{LoadOptions, Question, ask, load};
/// let path = std::env::temp_dir().join(format!("sealspan-doc-{}.csv", std::process::id()));
/// std::fs::write(&path, "time,status\n120,failed\n300,running\n")?;
/// let records = load(&path, &LoadOptions::default())?;
/// let answer = ask(&records, &Question::default())?;
/// assert_eq!(answer.tally.failures(), 1.0);
/// # std::fs::remove_file(&path)?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn ask(records: &Records, question: &Question) -> Result<Answer, Error> {
    if let Some(refusal) = &records.refusal {
        return Err(refusal.clone());
    }
    clock_kept(records, question.clock)?;
    let mut remarks = Remarks::default();
    let groups = match (records.form, &records.life) {
        (Form::Life, Some(life)) => crate::ask_life::groups(life, question, &mut remarks)?,
        _ => crate::ask_seals::groups(records, question, &mut remarks)?,
    };
    let mut tally = Tally::default();
    let mut rows_used = 0;
    for group in &groups {
        let t = group.sample.tally();
        tally.exact += t.exact;
        tally.right += t.right;
        tally.left += t.left;
        tally.interval += t.interval;
        tally.truncated += t.truncated;
        rows_used += group.rows_used;
    }
    let mut set_aside = records.set_aside.clone();
    set_aside.extend(remarks.set_aside);
    set_aside.sort_by_key(|s| s.row);
    if rows_used == 0 {
        return Err(nothing_left(records, question.clock, &set_aside));
    }
    Ok(Answer {
        clock: question.clock,
        groups,
        tally,
        rows_used,
        set_aside,
        findings: remarks.findings.finish(),
        decisions: remarks.log.finish(),
    })
}

/// Refuses a clock that the readings do not keep.
pub(crate) fn clock_kept(records: &Records, clock: Clock) -> Result<(), Error> {
    if let Some(count) = records.study.question.readings
        && clock != Clock::Days
        && clock != count
    {
        return Err(Error::new(
            Kind::ClockMissing,
            format!(
                "the readings count {}, so there is no age in {}",
                count.unit(),
                clock.unit()
            ),
            format!("ask on the clock of {} or of days", count.unit()),
        ));
    }
    Ok(())
}

fn nothing_left(records: &Records, clock: Clock, set_aside: &[SetAside]) -> Error {
    let first = set_aside.first();
    let why = first.map_or(String::new(), |s| format!("; row {}: {}", s.row, s.reason));
    let some_on_days = records.rows_used() > 0;
    let (kind, what) = if some_on_days {
        (
            Kind::ClockMissing,
            format!("no row can be read on the clock of {}", clock.unit()),
        )
    } else {
        (Kind::NothingLeft, "no row can be used".to_owned())
    };
    let mut error = Error::new(
        kind,
        format!("{what}: all {} rows are set aside{why}", records.rows_read),
        "run the check, mend the rows it shows, or choose another clock",
    );
    if let Some(first) = first {
        error = error
            .in_file(std::path::Path::new(&first.file))
            .at_row(first.row);
    }
    error
}
