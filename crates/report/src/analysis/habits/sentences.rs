//! Habits in sentences.

use crate::number;
use crate::wire::habits::{Habits, LooksResult, ReplacedResult};
use sealspan_records::{Clock, Records};
use std::collections::BTreeMap;

/// One sentence or two a site: replaced too early, never inspected.
pub(super) fn sentences(
    habits: &Habits,
    records: &Records,
    confidence: f64,
    clock: Clock,
) -> Vec<String> {
    let mut sites: BTreeMap<Option<&str>, Vec<&ReplacedResult>> = BTreeMap::new();
    for row in habits.replaced.iter().filter(|r| r.too_early) {
        sites.entry(row.site.as_deref()).or_default().push(row);
    }
    let currency = records.study.currency.clone().unwrap_or_default();
    let mut out: Vec<String> = sites
        .into_iter()
        .map(|(site, rows)| early(site, &rows, habits, &currency, confidence, clock))
        .collect();
    out.extend(
        habits
            .looks
            .iter()
            .filter(|l| l.never_inspects)
            .map(never_inspects),
    );
    out
}

fn early(
    site: Option<&str>,
    rows: &[&ReplacedResult],
    habits: &Habits,
    currency: &str,
    confidence: f64,
    clock: Clock,
) -> String {
    let unit = clock.unit();
    let who = site.unwrap_or("The fleet");
    let call = match habits.limit {
        "least_cost" => "the least cost",
        _ => "the age by which one in ten has failed",
    };
    // A site's own age differs from that of the group's plan over all sites.
    let here = site.map_or("", |_| ", for seals as they last there,");
    let each: Vec<String> = rows
        .iter()
        .map(|r| {
            let limit = match (r.limit_age.estimate, r.limit_age.lower, r.limit_age.upper) {
                (Some(e), Some(l), Some(u)) => format!(
                    "{} ({} to {}) {unit}",
                    number::significant(e, 2),
                    number::significant(l, 2),
                    number::significant(u, 2)
                ),
                (Some(e), Some(l), None) => format!(
                    "{} (at least {}) {unit}",
                    number::significant(e, 2),
                    number::significant(l, 2)
                ),
                _ => "waiting for failures".to_owned(),
            };
            let lasted = &r.would_have_lasted;
            let within = lasted.lower.zip(lasted.upper);
            let within = within.map_or_else(String::new, |(low, high)| {
                format!(" ({} to {})", number::percent(low), number::percent(high))
            });
            let lasted = lasted.estimate.map_or_else(String::new, |p| {
                format!(
                    ", to which {}{within} would have lasted",
                    number::percent(p)
                )
            });
            let far = if beyond(r) {
                format!(
                    ", by {} failed or worn and none seen there past {} {unit}: extrapolated",
                    number::fixed(r.gone, 0),
                    number::significant(r.oldest, 3)
                )
            } else {
                String::new()
            };
            format!(
                "{} at {} {unit}, where{here} {call} calls for {limit}{lasted}{far}",
                r.group.words(),
                number::significant(r.practised_age.median, 2)
            )
        })
        .collect();
    let weight: f64 = rows.iter().map(|r| r.replaced).sum();
    let mean = |of: fn(&ReplacedResult) -> Option<f64>| {
        let sum: f64 = rows.iter().map(|r| r.replaced * of(r).unwrap_or(0.0)).sum();
        sum / weight
    };
    let mut out = format!(
        "{who} takes sound seals off too early: {} ({} confidence intervals). That throws away {} ({} to {}) of their service",
        each.join("; "),
        number::level(confidence),
        number::percent(mean(|r| r.thrown_away.estimate)),
        number::percent(mean(|r| r.thrown_away.lower)),
        number::percent(mean(|r| r.thrown_away.upper)),
    );
    // The groups share one regression, so their ends are added as if they moved together: wide rather than narrow.
    let sum = |of: fn(&ReplacedResult) -> Option<f64>| -> Option<f64> {
        rows.iter().map(|r| of(r)).sum()
    };
    if let (Some(cost), Some(low), Some(high)) = (
        sum(|r| r.yearly_cost.estimate),
        sum(|r| r.yearly_cost.lower),
        sum(|r| r.yearly_cost.upper),
    ) {
        let per = if clock == Clock::Days {
            "a year"
        } else {
            "per unit of the clock"
        };
        let m = |x: f64| number::money_to(x, high - low, currency);
        out.push_str(&format!(
            " and costs {} ({} to {}) {per}",
            m(cost),
            m(low),
            m(high)
        ));
    }
    if rows.iter().any(|r| beyond(r)) {
        out.push_str(". An age past all that was seen is no advice: go by the plan, which rests on all sites, and lengthen step by step");
    }
    out.push_str(
        ". Before ages are stretched: the maker's limits and statutory intervals come first.",
    );
    out
}

/// Whether the age called for lies past all that was seen there.
fn beyond(r: &ReplacedResult) -> bool {
    r.limit_age.estimate.is_some_and(|age| age > r.oldest)
}

fn never_inspects(l: &LooksResult) -> String {
    let expected = l.expected.unwrap_or(0.0);
    let ended = l.failed + l.worn;
    let fate = if ended > 0.0 {
        format!(
            "; {} of its {} seals that went wrong were found by failing",
            number::fixed(l.failed, 0),
            number::fixed(ended, 0)
        )
    } else {
        String::new()
    };
    format!(
        "{} never inspects: no look is recorded in {} years of service, where the sites that do look would have made {}{fate}.",
        l.site,
        number::significant(l.years, 3),
        number::significant(expected, 2)
    )
}
