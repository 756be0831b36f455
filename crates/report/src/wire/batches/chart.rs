//! Running charts over the calendar.

use super::lives::Placed;
use super::{BatchesOptions, ColumnResult, Told};
use crate::chart::{Axis, Chart, Layer, Mark, Marker, Stroke, Tone};
use crate::column::spoken;
use crate::scale::Tick;
use sealspan_life::batches::{Course, Exposed, limit, path, watch};
use sealspan_records::Seen;
use sealspan_records::dates::text_of_day;
use serde::Serialize;

const DAYS_PER_YEAR: f64 = 365.25;
/// Charts drawn in one figure.
const MOST_DRAWN: usize = 5;

/// Charts of a family of levels, and the limit they share: cumulative sums of the failures seen against those that the laws
/// expect, day by day ([`watch`]; the limit by simulation, [`limit`](fn@limit)). Where there are no charts all but
/// `reason` is `None` or empty.
#[derive(Debug, Clone, Serialize)]
pub struct Watched {
    /// The limit of the statistic, in failures.
    pub limit: Option<f64>,
    /// False alarms a year that were allowed, over all charts.
    pub false_alarms_per_year_asked: Option<f64>,
    /// False alarms a year at this limit under no change, by simulation.
    pub false_alarms_per_year: Option<f64>,
    /// Its Monte-Carlo standard error.
    pub std_error: Option<f64>,
    /// Simulated runs.
    pub runs: Option<usize>,
    /// The rise of the failure rate it is quickest to see.
    pub tuned_to: Option<f64>,
    /// Years of 365.25 days from the first day under watch to the last.
    pub years: Option<f64>,
    /// Why there are no charts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Levels that reached the limit, earliest first.
    pub alarms: Vec<Alarm>,
    /// Every chart.
    pub charts: Vec<ChartResult>,
}

/// A level that reached the limit.
#[derive(Debug, Clone, Serialize)]
pub struct Alarm {
    /// The level.
    pub level: String,
    /// Day on which it first did.
    pub date: String,
}

/// A level's chart.
#[derive(Debug, Clone, Serialize)]
pub struct ChartResult {
    /// The level.
    pub level: String,
    /// Day of the first alarm; `None`: the limit was never reached.
    pub alarm: Option<String>,
    /// At every failure and at the end: date, failures and expected failures so far, and the statistic
    /// compared with the limit.
    pub points: Vec<PointResult>,
    #[serde(skip)]
    course: Course,
    /// The statistic between failures too, of those that are drawn.
    #[serde(skip)]
    path: Vec<(f64, f64)>,
}

/// A point of a chart.
#[derive(Debug, Clone, Serialize)]
pub struct PointResult {
    date: String,
    failures: f64,
    expected: f64,
    statistic: f64,
}

/// A law that suits the records expects about the failures that were seen; one that expects so many times as many
/// does not.
const FAR_OFF: f64 = 100.0;

impl Watched {
    pub(super) fn none(reason: &str) -> Self {
        Self {
            limit: None,
            false_alarms_per_year_asked: None,
            false_alarms_per_year: None,
            std_error: None,
            runs: None,
            tuned_to: None,
            years: None,
            reason: Some(reason.to_owned()),
            alarms: vec![],
            charts: vec![],
        }
    }
}

fn exposed(p: &Placed, level: usize, law: &[f64]) -> Option<Exposed> {
    let o = p.observation;
    let end = match o.seen() {
        Seen::Exact(t) | Seen::Right(t) => (t, t),
        Seen::Interval(a, b) => (a, b),
    };
    let mut law = law.to_vec();
    if let Some(location) = law.first_mut() {
        *location += p.shift;
    }
    Some(Exposed {
        level,
        fitted: p.fitted?,
        entry: o.entry(),
        end,
        failed: o.ended(),
        law,
    })
}

/// Charts of a column's levels.
pub(super) fn column(
    told: &Told<'_>,
    laws: &[Vec<f64>],
    days: bool,
    options: &BatchesOptions,
) -> Watched {
    let each = told.used.iter();
    let seals = each.filter_map(|(p, stratum, level)| exposed(p, *level, laws.get(*stratum)?));
    charts(&told.names, &seals.collect::<Vec<_>>(), days, options)
}

/// Charts of the strata themselves: did a material as a whole change?
pub(super) fn strata(
    placed: &[Placed],
    strata: &[&str],
    laws: &[Vec<f64>],
    days: bool,
    options: &BatchesOptions,
) -> Watched {
    let seals = placed.iter().filter_map(|p| {
        let at = strata.iter().position(|s| *s == p.stratum)?;
        exposed(p, at, laws.get(at)?)
    });
    charts(strata, &seals.collect::<Vec<_>>(), days, options)
}

fn charts(names: &[&str], seals: &[Exposed], days: bool, options: &BatchesOptions) -> Watched {
    if !days {
        return Watched::none("ages are not in days, so failures cannot be placed on the calendar");
    }
    let first = seals
        .iter()
        .map(|s| s.fitted + s.entry)
        .fold(f64::INFINITY, f64::min);
    let last = seals
        .iter()
        .map(|s| s.fitted + s.end.1)
        .fold(f64::NEG_INFINITY, f64::max);
    let years = (last - first) / DAYS_PER_YEAR;
    if !years.is_finite() || years <= 0.0 {
        return Watched::none("the records have no dates to place failures on the calendar");
    }
    let ratio = options.tuned_to;
    let open = watch(options.family, names.len(), seals, ratio, f64::INFINITY);
    let expected: Vec<f64> = open
        .iter()
        .map(|c| c.points.last().map_or(0.0, |p| p.expected))
        .collect();
    let failures: f64 = open
        .iter()
        .filter_map(|c| c.points.last())
        .map(|p| p.failures)
        .sum();
    let foreseen: f64 = expected.iter().sum();
    if !foreseen.is_finite() || foreseen > FAR_OFF * (failures + 1.0) {
        return Watched::none(
            "the regression behind the charts expects far more failures than there were, as where its columns cannot be told apart: no chart can be held against it",
        );
    }
    let asked = options.false_alarms_per_year;
    let limit = limit(&expected, years, asked, ratio, options.runs, options.seed);
    let date = |day: f64| text_of_day(day).unwrap_or_default();
    let mut alarms: Vec<(f64, Alarm)> = vec![];
    let mut charts = vec![];
    for (name, mut course) in names.iter().zip(open) {
        course.alarm = course
            .points
            .iter()
            .find(|p| p.statistic >= limit.limit)
            .map(|p| p.day);
        if let Some(day) = course.alarm {
            let alarm = Alarm {
                level: (*name).to_owned(),
                date: date(day),
            };
            alarms.push((day, alarm));
        }
        charts.push(ChartResult {
            level: (*name).to_owned(),
            alarm: course.alarm.map(date),
            points: course
                .points
                .iter()
                .map(|p| PointResult {
                    date: date(p.day),
                    failures: p.failures,
                    expected: p.expected,
                    statistic: p.statistic,
                })
                .collect(),
            course,
            path: vec![],
        });
    }
    let mut drawn: Vec<(f64, usize)> = charts.iter().map(top).zip(0..).collect();
    drawn.sort_by(|a, b| b.0.total_cmp(&a.0));
    for (_, level) in drawn.into_iter().take(MOST_DRAWN) {
        if let Some(c) = charts.get_mut(level) {
            c.path = path(options.family, level, seals, ratio, &c.course);
        }
    }
    alarms.sort_by(|a, b| a.0.total_cmp(&b.0));
    Watched {
        limit: Some(limit.limit),
        false_alarms_per_year_asked: Some(asked),
        false_alarms_per_year: Some(limit.false_alarms_per_year),
        std_error: Some(limit.std_error),
        runs: Some(limit.runs),
        tuned_to: Some(ratio),
        years: Some(years),
        reason: None,
        alarms: alarms.into_iter().map(|a| a.1).collect(),
        charts,
    }
}

/// The greatest statistic of a chart.
fn top(c: &ChartResult) -> f64 {
    let each = c.course.points.iter().map(|p| p.statistic);
    each.fold(0.0, f64::max)
}

/// The statistic of the levels that came closest to the limit, and the limit; `None` without charts.
#[must_use]
pub fn picture(result: &ColumnResult) -> Option<Chart> {
    let watch = &result.watch;
    let limit = watch.limit?;
    let mut shown: Vec<&ChartResult> = watch
        .charts
        .iter()
        .filter(|c| top(c) > 0.0 && !c.path.is_empty())
        .collect();
    shown.sort_by(|a, b| top(b).total_cmp(&top(a)));
    shown.truncate(MOST_DRAWN);
    let days = || {
        shown
            .iter()
            .flat_map(|c| c.course.points.iter().map(|p| p.day))
    };
    let (from, to) = (
        days().fold(f64::INFINITY, f64::min),
        days().fold(f64::NEG_INFINITY, f64::max),
    );
    let mut layers = vec![Layer::HLine {
        at: limit,
        stroke: Stroke::dashed(Tone::Ink),
        label: Some("limit".to_owned()),
    }];
    for (n, c) in shown.iter().enumerate() {
        layers.push(Layer::Line {
            name: c.level.clone(),
            points: c.path.clone(),
            stroke: Stroke::group(n),
            label: Some(c.level.clone()),
        });
        let at = |day: f64| c.course.points.iter().find(|p| p.day == day);
        if let Some(p) = c.course.alarm.and_then(at) {
            layers.push(Layer::Points {
                name: format!("first alarm of {}", c.level),
                marks: vec![Mark::at(p.day, p.statistic)],
                tone: Tone::Group(n),
                marker: Marker::group(n),
                label: None,
            });
        }
    }
    let words = match watch.alarms.as_slice() {
        [] => format!(
            "No {} fails beyond the limit of its running chart",
            spoken(&result.column)
        ),
        [one] => format!("{} fails too often: seen on {}", one.level, one.date),
        some => format!(
            "{} levels of {} fail too often: {} seen first, on {}",
            some.len(),
            spoken(&result.column),
            some.iter()
                .min_by(|a, b| a.date.cmp(&b.date))
                .map_or("", |a| a.level.as_str()),
            some.iter()
                .map(|a| a.date.as_str())
                .min()
                .unwrap_or_default()
        ),
    };
    Some(Chart {
        id: format!("batches-{}", result.column.replace('_', "-")),
        alt: format!(
            "{words}. Statistic of each level over the calendar, with the limit {limit:.2}."
        ),
        title: words,
        x: Axis::linear("date", "")
            .of_dates()
            .with_ticks(years(from, to)),
        y: Axis::linear("failures beyond those expected", "seals"),
        layers,
        at_risk: None,
        notes: vec![format!(
            "Marks: first alarms. A line jumps at every failure and falls between them as failures are expected. Failures less {} times those expected, never below 0; the limit allows {} false alarms a year over all charts, {} over the {} years watched.",
            crate::number::significant((watch.tuned_to? - 1.0) / watch.tuned_to?.ln(), 3),
            crate::number::significant(watch.false_alarms_per_year_asked?, 2),
            crate::number::significant(watch.false_alarms_per_year_asked? * watch.years?, 2),
            crate::number::significant(watch.years?, 2)
        )],
    })
}

/// A tick at every new year.
fn years(from: f64, to: f64) -> Vec<Tick> {
    let text = |day: f64| text_of_day(day).and_then(|t| t.get(..4)?.parse::<i32>().ok());
    let (Some(first), Some(last)) = (text(from), text(to)) else {
        return vec![];
    };
    (first..=last + 1)
        .map(|year| {
            // Days from 1970 to the first of January.
            let y = f64::from(year - 1);
            let days = 365.0 * f64::from(year - 1970) + (y / 4.0).floor() - (y / 100.0).floor()
                + (y / 400.0).floor()
                - 477.0;
            (year, days)
        })
        .filter(|(_, day)| *day >= from - 200.0 && *day <= to + 200.0)
        .map(|(year, at)| Tick {
            at,
            text: year.to_string(),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sealspan_life::laws::by_name;

    fn seals(scale: f64) -> Vec<Exposed> {
        let one = |i: u32| Exposed {
            level: 0,
            fitted: 19_000.0,
            entry: 0.0,
            end: (100.0 + f64::from(i), 100.0 + f64::from(i)),
            failed: i.is_multiple_of(2),
            law: vec![f64::ln(scale), 0.0],
        };
        (0..20).map(one).collect()
    }

    /// A law that expects a million failures where ten were seen is said to be no ground for a chart.
    #[test]
    fn charts_need_a_law_that_suits() {
        let options = BatchesOptions::few(by_name("weibull").unwrap());
        let fair = charts(&["a"], &seals(200.0), true, &options);
        assert!(fair.reason.is_none() && fair.limit.unwrap() > 1.0);
        let far_off = charts(&["a"], &seals(0.002), true, &options);
        assert!(far_off.limit.is_none() && far_off.reason.unwrap().contains("far more failures"));
    }
}
