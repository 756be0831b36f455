//! The failure modes of one group, in text.

use super::cell;
use crate::table::table;
use sealspan_report::number::{self, Unit};
use sealspan_report::wire::Number;
use sealspan_report::wire::fit::{
    AgeAt, Ends, FitDocument, GroupModes, MeanLife, ModeResult, SurvivalAt,
};
use sealspan_report::wire::mode_tests::ASKS_ALONE;

pub(super) fn text(g: &GroupModes, d: &FitDocument) -> String {
    let mut out = format!("{}: failure modes\n", g.group.words());
    if !g.modes.is_empty() {
        out.push_str(&format!(
            "  each mode by itself, the others taken as removals; life in {}:\n",
            d.unit
        ));
        out.push_str(&own_table(g));
        out.push('\n');
        out.push_str(&shares_words(g));
        out.push_str(&own_words(g));
        if !g.all_modes.is_empty() {
            out.push_str(&format!(
                "  all modes at work together, and with one removed, in {}:\n",
                d.unit
            ));
            out.push_str(&together_table(g, d.unit));
            out.push('\n');
        }
        if let Some(how) = g.bounds {
            let error = g.simulation_error.map_or_else(
                || "these do not reach so far out at this confidence".to_owned(),
                |e| {
                    format!(
                        "simulation error of each end's confidence {}",
                        number::percent(e)
                    )
                },
            );
            let estimates = g.estimates.map(|e| format!("; the lives are {e}"));
            out.push_str(&format!(
                "  intervals of these lives by {how}; {error}{}\n",
                estimates.unwrap_or_default()
            ));
        }
        out.push_str(&format!("  {}\n", g.caution));
    }
    if !g.not_seen.is_empty() {
        out.push_str(&format!(
            "  no seal here ended by {}: left out, which takes its rate here as 0\n",
            g.not_seen.join(", ")
        ));
    }
    if let Some(reason) = &g.reason {
        out.push_str(&format!("  {reason}\n"));
    }
    if let Some(r) = &g.removals {
        let age =
            |a: Option<f64>| a.map_or_else(|| "none".to_owned(), |a| number::significant(a, 3));
        out.push_str(&format!(
            "  {} taken off worn: {} failed by {} {} if they had gone on like the rest, by {} {3} if all had failed that day. {}\n",
            number::counted(r.worn, "seal"),
            number::level(r.p),
            age(r.as_sound),
            d.unit,
            age(r.as_failed),
            r.sentence
        ));
        for (reading, why) in [
            ("if they had gone on", &r.as_sound_reason),
            ("if all had failed", &r.as_failed_reason),
        ] {
            if let Some(why) = why {
                out.push_str(&format!("  no age {reading}: {why}\n"));
            }
        }
    }
    out
}

/// Whether equal shares fail by each mode in all groups.
pub(super) fn tests(d: &FitDocument) -> String {
    if d.mode_tests.is_empty() {
        return String::new();
    }
    let rows: Vec<Vec<String>> = d
        .mode_tests
        .iter()
        .flat_map(|m| m.tests.iter().map(|t| (m.mode.clone(), t)))
        .filter_map(|(mode, t)| {
            let statistic = number::fixed(t.statistic?, 2);
            let df = format!("{:.0}", t.df?);
            Some(vec![mode, statistic, df, number::p_value(t.p_value?)])
        })
        .collect();
    let mut out = format!("\nmodes between the groups\n  {ASKS_ALONE}\n");
    if !rows.is_empty() {
        let head = ["mode", "chi-square", "df", "p-value"];
        out.push_str(&format!("{}\n", table(&head, &rows)));
    }
    if rows.len() > 1 {
        out.push_str(&format!(
            "  {} modes are tested: to be wrong about any of them at most once in 20 times, count only p-values below {}\n",
            rows.len(),
            number::significant(0.05 / rows.len() as f64, 2),
        ));
    }
    for m in &d.mode_tests {
        if let Some(doubt) = m.doubt() {
            out.push_str(&format!("  {doubt}\n"));
        }
        for reason in m.tests.iter().filter_map(|t| t.reason.as_ref()) {
            out.push_str(&format!("  no test of {}: {reason}\n", m.mode));
        }
    }
    if let Some(drawn) = d.mode_tests.iter().find_map(|m| m.drawn_ages.as_ref()) {
        out.push_str(&format!("  {}\n", drawn.words));
    }
    out
}

/// Each mode's own life.
fn own_table(g: &GroupModes) -> String {
    let quantiles = g.modes.first().map_or(&[][..], |m| &m.life.quantiles);
    let shares = quantiles
        .iter()
        .map(|q| format!("{} failed by", number::level(q.p)));
    let head: Vec<String> = ["mode", "failures", "share failed by it so far"]
        .into_iter()
        .map(str::to_owned)
        .chain(shares)
        .chain(["mean life".to_owned()])
        .collect();
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    let rows: Vec<Vec<String>> = g.modes.iter().map(own_row).collect();
    table(&head, &rows)
}

fn own_row(m: &ModeResult) -> Vec<String> {
    let so_far = m.incidence.last().map_or_else(
        || "none".to_owned(),
        |p| {
            let number = Number {
                estimate: Some(p.incidence),
                lower: p.lower,
                upper: p.upper,
                reason: None,
            };
            cell(&number, Ends::default(), &Unit::Share)
        },
    );
    let life = |n: &Number, ends: Ends| {
        if m.life.withheld {
            "not shown".to_owned()
        } else {
            cell(n, ends, &Unit::None)
        }
    };
    let quantiles = m.life.quantiles.iter().map(|q| life(&q.number, q.ends));
    [m.mode.clone(), number::fixed(m.failures, 0), so_far]
        .into_iter()
        .chain(quantiles)
        .chain([life(&m.life.mean_life, m.life.mean_life_ends)])
        .collect()
}

/// How the shares failed so far were made.
fn shares_words(g: &GroupModes) -> String {
    if let Some(why) = g.modes.iter().find_map(|m| m.incidence_reason.as_ref()) {
        return format!("  no share failed so far: {why}\n");
    }
    let way = match g.incidence_method {
        Some("looks") => "likeliest shares given the looks, without a family",
        _ => "Aalen and Johansen's shares, without a family",
    };
    let bounds = g.incidence_bounds.as_ref();
    let bounds = bounds.map_or_else(String::new, |b| format!("; intervals by {b}"));
    let error = g.incidence_simulation_error.map_or_else(String::new, |e| {
        format!(
            "; simulation error of each end's confidence {}",
            number::percent(e)
        )
    });
    format!("  share failed so far: {way}, all modes at work{bounds}{error}\n")
}

/// How the modes' own intervals were made, and doubts.
fn own_words(g: &GroupModes) -> String {
    let mut out = String::new();
    for m in &g.modes {
        let fit = &m.life;
        if fit.withheld {
            out.push_str(&format!(
                "  {}: fewer than 5 failures fix no shape; --shape or --bounds posterior say more; in the lives below the prior of its shape does the rest\n",
                m.mode
            ));
        } else if let Some(method) = fit.bounds {
            out.push_str(&format!("  {}: intervals by {}\n", m.mode, method.words()));
        }
        if let Some(reason) = fit.reason.as_ref().filter(|_| !fit.withheld) {
            out.push_str(&format!("  {}: {reason}\n", m.mode));
        }
        for warning in fit.poor_fit.iter().chain(&fit.warnings) {
            out.push_str(&format!("  {}: {warning}\n", m.mode));
        }
    }
    out
}

/// The life under all modes and without each.
fn together_table(g: &GroupModes, unit: &str) -> String {
    let shares = g
        .all_modes
        .iter()
        .map(|a| format!("{} failed by", number::level(a.p)));
    let ages = g.all_modes_survival.iter();
    let ages = ages.map(|s| format!("share surviving {} {unit}", number::tidy(s.time)));
    let head: Vec<String> = ["modes".to_owned()]
        .into_iter()
        .chain(shares)
        .chain(["mean life".to_owned()])
        .chain(ages)
        .collect();
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    let survival = g.all_modes_survival.iter();
    let all = ["all at work".to_owned()]
        .into_iter()
        .chain(g.all_modes.iter().map(age))
        .chain([mean(&g.all_modes_mean)])
        .chain(survival.map(surviving))
        .collect();
    let mut rows: Vec<Vec<String>> = vec![all];
    for m in g.modes.iter().filter(|m| !m.without.is_empty()) {
        let own = [format!("without {}", m.mode)]
            .into_iter()
            .chain(m.without.iter().map(age))
            .chain([mean(&m.without_mean)])
            .chain(m.without_survival.iter().map(surviving));
        rows.push(own.collect());
    }
    table(&head, &rows)
}

fn mean(m: &MeanLife) -> String {
    cell(&m.number, m.ends, &Unit::None)
}

fn surviving(s: &SurvivalAt) -> String {
    cell(&s.number, s.ends, &Unit::Share)
}

fn age(a: &AgeAt) -> String {
    let number = Number {
        estimate: a.age,
        lower: a.lower,
        upper: a.upper,
        reason: None,
    };
    cell(&number, a.ends, &Unit::None)
}
