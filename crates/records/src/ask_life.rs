//! Plain life data to observations.

use crate::ask::{Group, InService, Question, Remarks};
use crate::cells::Cells;
use crate::columns::Known;
use crate::error::{Error, Kind};
use crate::finding::Finding;
use crate::keys::{self, Factor};
use crate::life::Life;
use crate::observation::{Observation, Sample};
use crate::words::normal;
use rayon::prelude::*;
use std::collections::BTreeSet;

/// The groups of a question.
pub(crate) fn groups(
    life: &Life,
    question: &Question,
    remarks: &mut Remarks,
) -> Result<Vec<Group>, Error> {
    let others = match &question.mode {
        Some(mode) => Some(other_ends(life, mode, remarks)?),
        None => None,
    };
    let others = others.as_deref();
    let used = || (0..life.len()).filter(|at| life.is_used(*at));
    remarks.log.whole(
        "clock_as_told",
        format!("ages are taken to be in {}", question.clock.unit()),
        Some(&life.table.file),
        0,
    );
    if question.by.is_empty() {
        let rows: Vec<Observation> = (0..life.len())
            .into_par_iter()
            .with_min_len(1 << 14)
            .map(|at| observation(life, at, others).unwrap_or(Observation::NOTHING))
            .collect();
        let in_service = in_service(life, used(), others);
        return Ok(vec![Group {
            key: Vec::new(),
            rows_used: rows
                .par_iter()
                .enumerate()
                .filter(|(_, o)| o.count() > 0.0)
                .map(|(at, _)| life.stands_for(at))
                .sum(),
            sample: Sample::new(rows),
            in_service,
        }]);
    }
    let factors = question
        .by
        .iter()
        .map(|name| factor(life, name, remarks))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(keys::bunches(&factors, used())
        .into_iter()
        .map(|(key, rows)| {
            let seen = rows
                .iter()
                .filter_map(|at| Some((observation(life, *at, others)?, life.stands_for(*at))));
            let (sample, rows_used): (Vec<Observation>, Vec<u64>) = seen.unzip();
            Group {
                key,
                rows_used: rows_used.iter().sum(),
                in_service: in_service(life, rows.into_iter(), others),
                sample: Sample::new(sample),
            }
        })
        .collect())
}

/// One used row; `others` marks rows that ended by another mode, which censors at the lower age.
fn observation(life: &Life, at: usize, others: Option<&[bool]>) -> Option<Observation> {
    if !life.is_used(at) {
        return None;
    }
    let (lower, upper, entry, count) = life.row(at);
    let upper = if is_other(others, at) {
        f64::INFINITY
    } else {
        upper
    };
    Observation::interval(lower, upper, entry, count).ok()
}

fn is_other(others: Option<&[bool]>, at: usize) -> bool {
    others.and_then(|o| o.get(at)).copied().unwrap_or(false)
}

fn in_service(
    life: &Life,
    rows: impl Iterator<Item = usize>,
    others: Option<&[bool]>,
) -> InService {
    if others.is_none() {
        return InService::Censored;
    }
    InService::Ages(
        rows.map(|at| life.row(at))
            .filter(|(_, upper, _, _)| upper.is_infinite())
            .map(|(lower, _, _, count)| (lower, count))
            .collect(),
    )
}

/// For each row, whether it ended by a mode other than the one asked for.
fn other_ends(life: &Life, mode: &str, remarks: &mut Remarks) -> Result<Vec<bool>, Error> {
    let Some(column) = life.known.theirs("mode") else {
        return Err(Error::new(
            Kind::UnknownMode,
            format!("the mode \"{mode}\" is asked for, but there is no column `mode`"),
            "add the column, or ask without a mode",
        )
        .in_file(&life.table.path)
        .at_row(life.table.header_row)
        .in_column("mode"));
    };
    let cells = Cells::of(&life.table, Some(column));
    let wanted = normal(mode);
    let mut modes = BTreeSet::new();
    let (mut unnamed, mut count) = (0_u64, 0_u64);
    let mut other = Vec::with_capacity(life.len());
    for at in 0..life.len() {
        let ended = life.is_used(at) && life.row(at).1.is_finite();
        let word = cells.text(at).map(|w| normal(&w));
        let stands_for = life.stands_for(at);
        unnamed += if ended && word.is_none() {
            stands_for
        } else {
            0
        };
        let differs = ended && word.as_deref() != Some(wanted.as_str());
        count += if differs { stands_for } else { 0 };
        other.push(differs);
        if let Some(word) = word.filter(|w| ended && !modes.contains(w)) {
            modes.insert(word);
        }
    }
    if !modes.contains(&wanted) {
        let list: Vec<&str> = modes.iter().map(String::as_str).collect();
        return Err(Error::new(
            Kind::UnknownMode,
            format!("no life ended by the mode \"{mode}\""),
            format!("the modes are: {}", list.join(", ")),
        )
        .in_file(&life.table.path)
        .in_column(column));
    }
    remarks.log.whole(
        "other_modes_censor",
        format!("ends by a mode other than {wanted} censor at the age known"),
        Some(&life.table.file),
        count,
    );
    if unnamed > 0 {
        remarks.findings.push(
            Finding::note(
                "mode_missing",
                format!("{unnamed} ended lives name no mode; they censor"),
            )
            .file(&life.table.file)
            .column(column)
            .mend("record the mode of each failure"),
        );
    }
    Ok(other)
}

fn factor(life: &Life, name: &str, remarks: &mut Remarks) -> Result<Factor, Error> {
    let names = life.table.names();
    let column = group_column(&life.known, name, &names)?;
    let cells = Cells::of(&life.table, Some(column));
    Ok(Factor::weighed(
        name,
        (0..life.len()).map(|at| (cells.text(at), life.stands_for(at))),
        remarks,
    ))
}

/// The table's name for a column to group by.
pub(crate) fn group_column<'a>(
    known: &'a Known,
    name: &str,
    names: &[&'a str],
) -> Result<&'a str, Error> {
    known
        .theirs(&normal(name))
        .or_else(|| keys::pick(name, names))
        .ok_or_else(|| keys::unknown(name, names))
}
