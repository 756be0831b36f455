//! Intervals by duty: what a seal meets (the column `product`, else `cleaning`) splits every group, and the duties that
//! need a shorter interval are found.

use super::intervals::{SheetQuestion, clocks, sheet};
use crate::wire::GroupKey;
use crate::wire::intervals::{ClockIntervals, GroupIntervals, IntervalsDocument};
use sealspan_records::{Answer, Question, Records, ask};
use serde::Serialize;

/// Columns that say what a seal meets; the first that the records have is taken.
const DUTIES: [&str; 2] = ["product", "cleaning"];

/// The column of temperatures, °C.
const TEMPERATURE: &str = "temperature_c";

/// The columns of the groups, where the last of these is one of duties.
pub(super) fn of_groups(by: &[String]) -> Option<&[String]> {
    let (last, rest) = by.split_last()?;
    (!rest.is_empty() && DUTIES.contains(&last.as_str())).then_some(rest)
}

/// The question by group and duty, the column of the duties last, with its answer; `None` where the records name no duty
/// or all seals have one.
pub(super) fn finer(records: &Records, question: &Question) -> Option<(Question, Answer)> {
    let new = |c: &&&str| !question.by.iter().any(|by| by == **c);
    DUTIES.iter().filter(new).find_map(|column| {
        let by: Vec<String> = question
            .by
            .iter()
            .cloned()
            .chain([(*column).to_owned()])
            .collect();
        let finer = Question {
            by,
            ..question.clone()
        };
        let answer = ask(records, &finer).ok()?;
        let values: std::collections::BTreeSet<&str> = answer
            .groups
            .iter()
            .filter_map(|g| Some(g.key.last()?.1.as_str()))
            .collect();
        (values.len() > 1).then_some((finer, answer))
    })
}

/// The sheet by group and duty; `None` as [`finer`].
pub(super) fn by_duty(
    records: &Records,
    question: &Question,
    stated: &SheetQuestion,
) -> Option<IntervalsDocument> {
    let (finer, answer) = finer(records, question)?;
    let (clocks, one) = clocks(records, &finer, &answer);
    Some(sheet(records, &clocks, one, (&finer.by, stated)))
}

/// The temperatures at which the seals of a group by duty were seen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DutyTemperatures {
    /// The group, the duty last.
    pub group: GroupKey,
    /// The lowest, °C.
    pub low_c: f64,
    /// The highest, °C.
    pub high_c: f64,
}

/// The temperatures of every group by duty; empty as [`finer`] is none, and where no temperature is recorded.
pub(super) fn temperatures(records: &Records, question: &Question) -> Vec<DutyTemperatures> {
    let Some((mut finer, _)) = finer(records, question) else {
        return vec![];
    };
    finer.by.push(TEMPERATURE.to_owned());
    let Ok(answer) = ask(records, &finer) else {
        return vec![];
    };
    let mut out: Vec<DutyTemperatures> = vec![];
    for group in &answer.groups {
        let Some((last, duty)) = group.key.split_last() else {
            continue;
        };
        let Ok(celsius) = last.1.trim().parse::<f64>() else {
            continue;
        };
        match out.iter_mut().find(|d| d.group.0 == duty) {
            Some(d) => {
                d.low_c = d.low_c.min(celsius);
                d.high_c = d.high_c.max(celsius);
            }
            None => out.push(DutyTemperatures {
                group: GroupKey(duty.to_vec()),
                low_c: celsius,
                high_c: celsius,
            }),
        }
    }
    out
}

/// Groups by duty whose interval is shorter than that of the group they are of, with the clocks on which it is.
#[must_use]
pub(crate) fn shorter(
    duties: &IntervalsDocument,
    groups: &IntervalsDocument,
) -> Vec<GroupIntervals> {
    let of = |duty: &GroupIntervals| {
        let (_, rest) = duty.group.0.split_last()?;
        groups.groups.iter().find(|g| g.group.0 == rest)
    };
    let age = |c: &ClockIntervals| Some(c.state?.age);
    let less = |duty: &GroupIntervals| {
        let group = of(duty)?;
        let clocks = duty.clocks.iter().filter(|c| {
            let whole = group.clocks.iter().find(|w| w.unit == c.unit);
            age(c).zip(whole.and_then(age)).is_some_and(|(a, b)| a < b)
        });
        let clocks: Vec<ClockIntervals> = clocks.cloned().collect();
        (!clocks.is_empty()).then(|| GroupIntervals {
            clocks,
            ..duty.clone()
        })
    };
    duties.groups.iter().filter_map(less).collect()
}

/// Duties for which no interval can be stated, mostly for want of failures, with the clocks on which it cannot.
pub(crate) fn unknown(
    duties: &IntervalsDocument,
) -> impl Iterator<Item = (&GroupIntervals, Vec<&str>)> {
    let lacking = |g: &GroupIntervals| -> Vec<&str> {
        let none = g.clocks.iter().filter(|c| c.state.is_none());
        none.map(|c| c.unit).collect()
    };
    let all = duties.groups.iter().map(move |g| (g, lacking(g)));
    all.filter(|(g, clocks)| g.state.is_none() || !clocks.is_empty())
}
