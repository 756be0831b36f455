//! Mean cumulative curves, their difference, trend and intensities.

use super::{Asked, key};
use crate::wire::pairwise::holm;
use crate::wire::positions::{
    CurvePoint, DifferencePoint, GroupCurve, GroupDifference, LogLinearResult, PairDifference,
    PositionsDocument, PowerLawResult, Renewal, TrendResult,
};
use crate::wire::{GroupKey, Number};
use sealspan_life::recurrence::log_linear::log_linear;
use sealspan_life::recurrence::mean_cumulative::{
    Difference, MeanCumulative, differences, mean_cumulative,
};
use sealspan_life::recurrence::power_law::power_law;
use sealspan_life::recurrence::system::History;
use sealspan_life::recurrence::trend::{Trend, laplace, lewis_robinson, mil_hdbk_189};
use sealspan_numeric::special::normal_quantile;
use sealspan_records::positions::PositionLog;
use std::collections::BTreeMap;

/// Below this p-value a trend across successive seals makes renewal doubtful.
const DOUBT: f64 = 0.05;

fn history(log: &PositionLog) -> Option<History> {
    let events: Vec<f64> = log.removals.iter().map(|r| r.time).collect();
    let at_the_end = log.left_empty && events.iter().any(|t| *t >= log.to);
    let history = if at_the_end {
        History::to_last_event(log.from, events).ok()?
    } else {
        History::new(log.from, log.to, events).ok()?
    };
    Some(if log.new_at_start {
        history.new_at_start()
    } else {
        history
    })
}

fn points(curve: &MeanCumulative, level: f64) -> Vec<CurvePoint> {
    let point = |s: &sealspan_life::recurrence::mean_cumulative::Step| {
        let reason = no_spread(curve, s.robust);
        let ends = reason.is_none().then(|| s.interval(level));
        CurvePoint {
            time: s.time,
            mean: s.mean,
            std_error: reason.is_none().then(|| s.robust.sqrt()),
            lower: ends.map(|e| e.0),
            upper: ends.map(|e| e.1),
            reason,
            poisson_std_error: s.naive.sqrt(),
            at_risk: s.at_risk,
        }
    };
    curve.steps.iter().map(point).collect()
}

/// Why the spread between positions gives no interval.
fn no_spread(curve: &MeanCumulative, robust: f64) -> Option<&'static str> {
    if curve.systems < 2 {
        Some("one position shows no spread between positions")
    } else if robust <= 0.0 {
        Some("every position under watch has had as many by then: no spread to be seen")
    } else {
        None
    }
}

/// Fills everything that treats positions as systems with recurring events.
pub(super) fn fill(document: &mut PositionsDocument, logs: &[PositionLog], asked: &Asked) {
    let systems: Vec<History> = logs.iter().filter_map(history).collect();
    let curve = mean_cumulative(&systems);
    document.mean_cumulative = points(&curve, asked.confidence);
    if curve.steps.is_empty() {
        let reason = "no replacement that counts, so the curve stays at 0";
        document.mean_cumulative_reason = Some(reason.to_owned());
    }
    groups(document, logs, asked);
    document.trend = vec![
        trend("laplace", laplace(&systems), "no replacement that counts"),
        trend(
            "mil_hdbk_189",
            mil_hdbk_189(&systems),
            "no replacement that counts",
        ),
        trend(
            "lewis_robinson",
            lewis_robinson(&systems),
            "no position has two whole gaps between replacements that differ",
        ),
    ];
    document.renewal = renewal(lewis_robinson(&systems));
    document.power_law = growth(&systems, asked);
    document.log_linear = exponential(&systems, asked.confidence);
}

fn trend(name: &'static str, found: Option<Trend>, reason: &str) -> TrendResult {
    TrendResult {
        name,
        statistic: found.map(|t| t.statistic),
        df: found.and_then(|t| t.df),
        p_value: found.map(|t| t.p_value),
        reason: found.is_none().then(|| reason.to_owned()),
    }
}

/// Nothing can be said of renewal.
pub(super) fn untold() -> Renewal {
    Renewal {
        doubtful: None,
        reason: "too few successive replacements in any position to see a trend".to_owned(),
    }
}

fn renewal(found: Option<Trend>) -> Renewal {
    let Some(trend) = found else { return untold() };
    let doubtful = trend.p_value < DOUBT;
    let way = if trend.rising { "shorter" } else { "longer" };
    let reason = if doubtful {
        format!(
            "successive seals of a position last ever {way}: renewal is doubtful, so look at time in service before trusting one life for all"
        )
    } else {
        "no trend across successive seals of a position: one life for all of them is not contradicted"
            .to_owned()
    };
    Renewal {
        doubtful: Some(doubtful),
        reason,
    }
}

fn groups(document: &mut PositionsDocument, logs: &[PositionLog], asked: &Asked) {
    if asked.question.by.is_empty() {
        document.difference_reason = Some("no --by: one group".to_owned());
        return;
    }
    let mut by: BTreeMap<Vec<(String, String)>, Vec<&PositionLog>> = BTreeMap::new();
    for log in logs {
        match &log.group {
            Some(group) => by.entry(group.clone()).or_default().push(log),
            None => document.in_several_groups += 1,
        }
    }
    let mut curves: Vec<(GroupKey, MeanCumulative, f64)> = vec![];
    for (group, logs) in by {
        let systems: Vec<History> = logs.iter().filter_map(|l| history(l)).collect();
        let end = systems.iter().map(History::to).fold(0.0, f64::max);
        let curve = mean_cumulative(&systems);
        document.groups.push(GroupCurve {
            group: key(&group),
            positions: logs.len(),
            replacements: logs.iter().map(|l| l.removals.len() as u64).sum(),
            mean_cumulative: points(&curve, asked.confidence),
        });
        curves.push((key(&group), curve, end));
    }
    match curves.as_slice() {
        [(of, first, a), (to, second, b)] => {
            document.difference = Some(difference(
                (of, first),
                (to, second),
                a.min(*b),
                asked.confidence,
            ));
        }
        many => {
            document.difference_reason = Some(match many.len() {
                0 | 1 => "a difference is between two groups, and there is one at most".to_owned(),
                n if n <= MOST_GROUPS => format!("{n} groups: see the pairs under differences"),
                n => {
                    format!("{n} groups make more pairs than can be read: choose a coarser column")
                }
            });
            if many.len() <= MOST_GROUPS {
                document.differences = pairs(many, asked.confidence);
            }
        }
    }
}

/// Groups up to which every pair is set against each other (a rule of ours).
const MOST_GROUPS: usize = 8;
const NO_PAIR: &str = "no replacement while both are under watch, or no spread between positions to judge the difference by";

/// Every pair of groups at the last time both are under watch.
fn pairs(curves: &[(GroupKey, MeanCumulative, f64)], level: f64) -> Vec<PairDifference> {
    let mut out = vec![];
    for (i, (of, first, a)) in curves.iter().enumerate() {
        for (to, second, b) in curves.iter().skip(i + 1) {
            let at = a.min(*b);
            let last = differences(first, second, at).pop();
            let p_value = last.as_ref().and_then(Difference::p_value);
            let ends = last
                .as_ref()
                .map(|d| d.interval(level))
                .filter(|_| p_value.is_some());
            out.push(PairDifference {
                of: of.clone(),
                to: to.clone(),
                at,
                difference: Number {
                    estimate: last.map(|d| d.difference),
                    lower: ends.map(|e| e.0),
                    upper: ends.map(|e| e.1),
                    reason: p_value.is_none().then(|| NO_PAIR.to_owned()),
                },
                p_value,
                adjusted_p_value: None,
                reason: p_value.is_none().then_some(NO_PAIR),
            });
        }
    }
    let known: Vec<f64> = out.iter().filter_map(|d| d.p_value).collect();
    let adjusted = holm(&known);
    let judged = out.iter_mut().filter(|d| d.p_value.is_some());
    for (pair, p) in judged.zip(adjusted) {
        pair.adjusted_p_value = Some(p);
    }
    out
}

fn difference(
    (of, first): (&GroupKey, &MeanCumulative),
    (to, second): (&GroupKey, &MeanCumulative),
    end: f64,
    level: f64,
) -> GroupDifference {
    let list = differences(first, second, end);
    let point = |d: &Difference| {
        let (lower, upper) = d.interval(level);
        DifferencePoint {
            time: d.time,
            difference: d.difference,
            std_error: d.std_error,
            lower,
            upper,
        }
    };
    let p_value = list.last().and_then(|d| d.p_value());
    GroupDifference {
        of: of.clone(),
        to: to.clone(),
        at: end,
        p_value,
        reason: p_value.is_none().then_some(NO_PAIR),
        points: list.iter().map(point).collect(),
    }
}

fn growth(systems: &[History], asked: &Asked) -> PowerLawResult {
    let Some(law) = power_law(systems) else {
        let reason = "a power law needs a replacement before the end of a watch".to_owned();
        let none = Number {
            reason: Some(reason.clone()),
            ..Number::default()
        };
        return PowerLawResult {
            growth: none.clone(),
            scale: none,
            reason: Some(reason),
            ..PowerLawResult::default()
        };
    };
    let (lower, upper) = law.growth_interval(asked.confidence);
    let z = normal_quantile(0.5 + 0.5 * asked.confidence);
    let factor = (z * law.ln_scale_error()).exp();
    let goodness = law.goodness(asked.seed);
    PowerLawResult {
        growth: Number {
            estimate: Some(law.growth),
            lower: Some(lower),
            upper: Some(upper),
            reason: None,
        },
        bias_corrected_growth: law.bias_corrected(),
        scale: Number {
            estimate: Some(law.scale()),
            lower: Some(law.scale() / factor),
            upper: Some(law.scale() * factor),
            reason: None,
        },
        cramer_von_mises: goodness.map(|g| g.cramer_von_mises),
        fit_p_value: goodness.map(|g| g.p_value),
        constant_p_value: Some(law.against_constant().1),
        log_likelihood: Some(law.log_likelihood),
        reason: goodness
            .is_none()
            .then(|| "one replacement only: no correction of bias and no test of fit".to_owned()),
    }
}

fn exponential(systems: &[History], level: f64) -> LogLinearResult {
    let Some(law) = log_linear(systems) else {
        let reason = "no replacement that counts, or all at one end of the watch".to_owned();
        return LogLinearResult {
            slope: Number {
                reason: Some(reason.clone()),
                ..Number::default()
            },
            reason: Some(reason),
            ..LogLinearResult::default()
        };
    };
    let reach = normal_quantile(0.5 + 0.5 * level) * law.slope_error;
    LogLinearResult {
        slope: Number {
            estimate: Some(law.slope),
            lower: Some(law.slope - reach),
            upper: Some(law.slope + reach),
            reason: None,
        },
        intercept: Some(law.intercept),
        log_likelihood: Some(law.log_likelihood),
        reason: None,
    }
}
