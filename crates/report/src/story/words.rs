//! Sentences and numbers in words that several pages share.

use crate::analysis::run::Results;
use crate::analysis::screen::{Screen, Screened};
use crate::column::spoken;
use crate::number::{self, Estimate, IntervalKind, Range, Unit};
use crate::wire::care::CareBlock;
use crate::wire::fit::{FamilyFit, GroupFit};
use crate::wire::habits::ReplacedResult;
use crate::wire::money::MoneyMonth;
use crate::wire::money_places::PlaceMoney;
use crate::wire::{GroupKey, Number};
use sealspan_care::costs::DAYS_PER_YEAR;
use std::collections::BTreeMap;

/// An estimate as the reader sees it.
pub fn estimate(n: &Number, level: f64, unit: Unit) -> Estimate {
    let one_sided = 0.5 + 0.5 * level;
    let range = match (n.lower, n.upper) {
        (Some(lower), Some(upper)) => Range::Between {
            kind: IntervalKind::Confidence,
            level,
            lower,
            upper,
        },
        (Some(lower), None) => Range::AtLeast {
            kind: IntervalKind::Confidence,
            level: one_sided,
            lower,
        },
        (None, Some(upper)) => Range::AtMost {
            kind: IntervalKind::Confidence,
            level: one_sided,
            upper,
        },
        (None, None) => Range::Missing(
            n.reason
                .clone()
                .unwrap_or_else(|| "not estimated".to_owned()),
        ),
    };
    Estimate {
        value: n.estimate,
        range,
        unit,
    }
}

/// "412 (356 to 480)" for a table cell whose head names the unit and the level.
pub fn cell(n: &Number) -> String {
    match (n.estimate, n.lower, n.upper) {
        (Some(e), Some(l), Some(u)) => {
            let w = u - l;
            format!(
                "{} ({} to {})",
                number::to_width(e, w),
                number::to_width(l, w),
                number::to_width(u, w)
            )
        }
        (Some(e), Some(l), None) => {
            format!(
                "{} (at least {})",
                number::significant(e, 3),
                number::significant(l, 3)
            )
        }
        (Some(e), None, Some(u)) => {
            format!(
                "{} (at most {})",
                number::significant(e, 3),
                number::significant(u, 3)
            )
        }
        (Some(e), None, None) => number::significant(e, 3),
        (None, Some(l), _) => format!("at least {}", number::significant(l, 3)),
        (None, None, Some(u)) => format!("at most {}", number::significant(u, 3)),
        (None, None, None) => "not estimable".to_owned(),
    }
}

/// The first family fitted to a group: the one the report speaks of.
pub fn first(group: &GroupFit) -> Option<&FamilyFit> {
    group.fits.first()
}

/// The same where its estimate is to be used: not with fewer than five failures and a shape estimated from them.
pub fn usable(group: &GroupFit) -> Option<&FamilyFit> {
    first(group).filter(|f| !f.withheld)
}

/// Age by which half have failed.
pub fn median(group: &GroupFit) -> Option<&Number> {
    usable(group)?
        .quantiles
        .iter()
        .find(|q| q.p == 0.5)
        .map(|q| &q.number)
}

/// Age by which one in ten has failed.
pub fn tenth(group: &GroupFit) -> Option<&Number> {
    usable(group)?
        .quantiles
        .iter()
        .find(|q| q.p == 0.1)
        .map(|q| &q.number)
}

/// Failures of a group.
pub fn failures(group: &GroupFit) -> f64 {
    group.counts.exact + group.counts.left + group.counts.interval
}

/// Units of the clock in the year of account, where the clock is the calendar.
pub fn per_year(results: &Results) -> (f64, &'static str) {
    if results.unit == "days" {
        (DAYS_PER_YEAR, "year")
    } else {
        (1.0, results.unit.strip_suffix('s').unwrap_or(results.unit))
    }
}

/// Money per year (or per unit of another clock) in words.
pub fn yearly(results: &Results, rate: f64) -> String {
    let (units, per) = per_year(results);
    format!("{} per {per}", money(rate * units, &results.currency))
}

/// Money to three significant digits at least.
pub fn money(amount: f64, currency: &str) -> String {
    number::money(amount, currency)
}

/// With a capital at its start.
pub(super) fn capital(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(|c| c.to_ascii_uppercase());
    first.into_iter().chain(letters).collect()
}

/// "1 spare", "3 spares".
pub fn spares(count: usize) -> String {
    if count == 1 {
        "1 spare".to_owned()
    } else {
        format!("{count} spares")
    }
}

/// One finding of the screen in words.
pub fn screened(s: &Screened, level: f64) -> String {
    let width = s.upper - s.lower;
    let own = format!("{} {}", spoken(&s.column), s.level);
    let (who, whom) = match &s.within {
        Some((_, group)) => (
            format!("{group} seals with {own}"),
            format!("other {group} seals"),
        ),
        None => (format!("seals with {own}"), "their like".to_owned()),
    };
    let or = match s.same_seals.as_slice() {
        [] => String::new(),
        same => format!("; the same seals as {}", same.join(", ")),
    };
    let damage = damage(s);
    format!(
        "{who} last {} times as long as {whom} ({} confidence interval {} to {}; {} failures{or}{damage})",
        number::to_width(s.life_ratio, width),
        number::level(level),
        number::to_width(s.lower, width),
        number::to_width(s.upper, width),
        number::fixed(s.failures, 0)
    )
}

/// The damage that goes with it, behind other words; empty without one.
pub(super) fn damage(s: &Screened) -> String {
    s.damage.as_ref().map_or_else(String::new, |d| {
        format!(
            "; {} of {} of them with a known damage were {}, of the others {} of {}",
            number::fixed(d.with, 0),
            number::fixed(d.of, 0),
            d.mechanism.replace('_', " "),
            number::fixed(d.elsewhere, 0),
            number::fixed(d.of_elsewhere, 0)
        )
    })
}

/// What is held constant, in words; never empty.
pub fn held(adjusted_for: &[String]) -> String {
    if adjusted_for.is_empty() {
        "nothing else".to_owned()
    } else {
        adjusted_for.join(", ")
    }
}

/// Whether the seals of a batch found are all off.
fn is_gone(s: &Screened, results: &Results) -> bool {
    let mut running = results.lives.iter().flat_map(|l| &l.running);
    s.column == "batch" && !running.any(|r| r.batch.as_ref() == Some(&s.level))
}

/// Question 2: what should be changed?
pub fn what_differs(results: &Results) -> Option<String> {
    let screen = results.screen.found()?;
    let worst = screen.found.iter().filter(|s| s.life_ratio < 1.0).take(2);
    let parts = worst.map(|s| {
        let gone = if is_gone(s, results) {
            "; all of them are off, and still they weigh on the lives and laws here"
        } else {
            ""
        };
        format!("{}{gone}", screened(s, results.confidence))
    });
    let parts: Vec<String> = parts.collect();
    let held = held(&screen.adjusted_for);
    Some(if parts.is_empty() {
        let columns: Vec<String> = screen.columns.iter().map(|c| spoken(c)).collect();
        let columns = match columns.as_slice() {
            [] => "value of any other column".to_owned(),
            [rest @ .., last] if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
            [one, ..] => one.clone(),
        };
        format!(
            "No single {columns} stands out, with {held} held constant, once all {} comparisons are allowed for.",
            screen.looks
        )
    } else {
        format!("With {held} held constant, {}.", parts.join("; "))
    })
}

/// Which of the conditions found the records cannot tell from others.
pub fn same_seals(screen: &Screen) -> Option<String> {
    let parts: Vec<String> = screen
        .found
        .iter()
        .filter(|s| !s.same_seals.is_empty())
        .map(|s| {
            format!(
                "{} cannot be told from {}, for (nearly) the same seals have both",
                super::effects::condition(s),
                s.same_seals.join(", ")
            )
        })
        .collect();
    (!parts.is_empty()).then(|| {
        format!(
            "{}. Which of them it is, only the seals taken off, or a change of one without the other, can show.",
            parts.join("; ")
        )
    })
}

/// What was not judged, and why.
pub fn not_told_apart(screen: &Screen) -> Option<String> {
    (!screen.not_told_apart.is_empty()).then(|| {
        format!(
            "Not judged, since {} already tell which seals have them: {}. A difference between those seals and others is as well one of what goes with them.",
            held(&screen.adjusted_for),
            screen.not_told_apart.join(", ")
        )
    })
}

/// The group with the most seals running, among those with advice.
pub fn largest(results: &Results) -> Option<(&GroupKey, &CareBlock)> {
    let care = results.care.found()?;
    let positions = |key: &GroupKey| {
        let group = results.lives.iter().find(|g| g.key == *key);
        group.map_or(0.0, |g| g.running.iter().map(|r| r.count).sum::<f64>())
    };
    let advised = care
        .groups
        .iter()
        .filter_map(|g| Some((&g.group, g.block.as_ref()?)));
    advised.max_by(|a, b| positions(a.0).total_cmp(&positions(b.0)))
}

/// A group before the word seals: "EPDM", "material EPDM, site HL3", "all".
pub fn name_of(group: &GroupKey) -> String {
    match group.0.is_empty() {
        true => "all".to_owned(),
        false => group.words(),
    }
}

/// Question 3: when to replace?
pub fn when(results: &Results) -> Option<String> {
    let Some((group, block)) = largest(results) else {
        return results
            .care
            .reason()
            .map(|why| format!("When to replace is not answered: {why}."));
    };
    Some(advice(results, &name_of(group), block))
}

/// Sites that care for their seals otherwise than the lives call for; the pages say more.
pub fn habits(results: &Results) -> Option<String> {
    let habits = &results.positions.found()?.habits;
    let mut early: BTreeMap<&str, Vec<&ReplacedResult>> = BTreeMap::new();
    for row in habits.replaced.iter().filter(|r| r.too_early) {
        let site = row.site.as_deref().unwrap_or("The fleet");
        early.entry(site).or_default().push(row);
    }
    let mut parts: Vec<String> = early
        .into_iter()
        .map(|(site, rows)| changed_early(results, site, &rows))
        .collect();
    let unseen = habits.looks.iter().filter(|l| l.never_inspects);
    parts.extend(unseen.map(|l| {
        format!(
            "{} never inspects, so what fails there comes without warning",
            l.site
        )
    }));
    (!parts.is_empty()).then(|| format!("{}.", parts.join("; ")))
}

/// A site that replaces too early, with what the plan saves there.
fn changed_early(results: &Results, site: &str, rows: &[&ReplacedResult]) -> String {
    let each: Vec<String> = rows
        .iter()
        .map(|r| {
            format!(
                "{} at {} {}",
                r.group.words(),
                number::significant(r.practised_age.median, 2),
                results.unit
            )
        })
        .collect();
    let places = results.money.found().map_or(&[][..], |d| &d.places);
    let own = places
        .iter()
        .find(|p| p.place == site && results.unit == "days");
    let saved = own
        .and_then(|p| Some((p.saving, p.saving_lower?, p.saving_upper?)))
        .map_or_else(String::new, |(saving, low, high)| {
            let m = |x: f64| number::money_to(x, high - low, &results.currency);
            format!(
                "; the plan saves {} a year there ({} prediction interval {} to {}), as part of the whole{}",
                m(saving),
                number::level(results.confidence),
                m(low),
                m(high),
                own.map_or_else(String::new, failing_more)
            )
        });
    format!(
        "{site} takes sound seals off too early ({}){saved}",
        each.join(", ")
    )
}

/// Failures a year that the plan adds at a place; nothing where it has fewer.
fn failing_more(place: &PlaceMoney) -> String {
    let (today, plan) = (place.today.failures, place.plan.failures);
    if plan <= today {
        return String::new();
    }
    let two = |x: f64| number::significant(x, 2);
    format!(", with {} failures a year for {}", two(plan), two(today))
}

/// Which ages to go by where a site's habits are told beside a plan.
pub(super) const AGES_OF_HABITS: &str = "Ages of a site's habits rest on the failures of that site alone, looks or no looks going on as they are there; their money is against that. The plan rests on laws of defects and failures of all sites together, and the ages of sites' own, where they are told, on these laws at each site's own rate: where they differ, the site has too few failures for its own law, and the ages of the plan and of sites' own are the ones to go by.";

/// The advice for one group in a sentence.
pub fn advice(results: &Results, name: &str, block: &CareBlock) -> String {
    let r = &block.replace;
    match r.age {
        Some(age) => format!(
            "Replace {name} seals at about {} {}: that costs {} a position, {} less than replacing on failure only{}; {} of seals fail before that age.",
            number::significant(age, 2),
            results.unit,
            yearly(results, r.cost_rate),
            number::percent(r.saving),
            zone(r.flat_zone, results.unit),
            number::percent(r.failure_probability),
        ),
        None => format!(
            "Replace {name} seals on failure only ({} a position). {}",
            yearly(results, r.cost_rate),
            r.reason.as_deref().unwrap_or_default()
        ),
    }
}

/// The flat zone in words.
fn zone(zone: Option<(f64, Option<f64>)>, unit: &str) -> String {
    match zone {
        Some((low, Some(high))) => format!(
            ", and any age from {} to {} {unit} is within 2 % of that",
            number::significant(low, 2),
            number::significant(high, 2)
        ),
        Some((low, None)) => {
            format!(
                ", and any age above {} {unit} is within 2 % of that",
                number::significant(low, 2)
            )
        }
        None => String::new(),
    }
}

/// Failures in the same time as practice goes on and under the plan, those of seals put in later counted too; empty
/// where the months do not end with it.
fn cared_for(results: &Results, until: f64) -> String {
    let months = results.money.found().and_then(|d| {
        let count = (until / d.month_days).round();
        let whole = (until - count * d.month_days).abs() < 1.0;
        d.by_month.get(..count as usize).filter(|_| whole)
    });
    let Some(months) = months.filter(|m| !m.is_empty() && results.unit == "days") else {
        return String::new();
    };
    let sum = |of: fn(&MoneyMonth) -> f64| months.iter().map(of).sum::<f64>();
    format!(
        "; as practice goes on about {} will, and under the plan about {}, seals put in later counted too",
        number::fixed(sum(|m| m.today.failures), 0),
        number::fixed(sum(|m| m.plan.failures), 0)
    )
}

/// Question 4: what will it take?
pub fn what_it_takes(results: &Results) -> Option<String> {
    let mut parts = vec![];
    if let Some(last) = results.totals.last() {
        parts.push(format!(
            "Of the seals running now, {} are expected to fail within {} {} if they are left to ({} prediction interval {} to {}){}",
            number::fixed(last.expected, 0),
            number::significant(last.until, 3),
            results.unit,
            number::level(results.confidence),
            last.lower,
            last.upper,
            cared_for(results, last.until)
        ));
    }
    if let Some(stock) = results.stock.found() {
        let held: Vec<usize> = stock
            .places
            .iter()
            .filter_map(|p| p.answer.best.as_ref())
            .map(|b| b.level.stock)
            .collect();
        let (least, most) = (held.iter().min()?, held.iter().max()?);
        let each = if least == most {
            spares(*most)
        } else {
            format!("{least} to {}", spares(*most))
        };
        parts.push(format!(
            "hold at most {each} of each part at each site, {} in all",
            held.iter().sum::<usize>()
        ));
    }
    (!parts.is_empty()).then(|| format!("{}.", parts.join("; ")))
}
