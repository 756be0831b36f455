//! The plans in sentences: what to do in every group, what stays beside, what is in doubt.

use super::maker::duty;
use super::own_ages;
use super::plans::{all, busiest, pen, positions};
use super::saved::{Saved, saved};
use super::words::per_year;
use crate::analysis::detections::DetectionDoubt;
use crate::analysis::duties::shorter;
use crate::analysis::intervals::words;
use crate::analysis::run::Results;
use crate::analysis::without_batches::WithoutBatch;
use crate::column::spoken;
use crate::number;
use crate::wire::care::GroupCare;
use crate::wire::intervals::GroupIntervals;
use crate::wire::money::{PartMoney, Year};
use crate::wire::plan::WholePlan;
use sealspan_care::policy::{CarePolicy, Looks};
use sealspan_care::weigh::Average;

/// Groups named one by one in the plan's sentence.
const NAMED: usize = 6;

/// The plan of every group, a line each; that of one alone with what it costs.
pub(super) fn what_to_do(results: &Results) -> Vec<String> {
    let mut list = all(results);
    if list.len() < 2 {
        return headline(results).into_iter().collect();
    }
    let most = |g: &GroupCare| positions(results, g);
    list.sort_by(|a, b| most(b.0).total_cmp(&most(a.0)));
    let rest = list.len().saturating_sub(NAMED);
    let mut told: Vec<String> = list
        .iter()
        .take(NAMED)
        .map(|(group, plan)| {
            let name = group.group.words();
            if plan.beyond_records.is_some() {
                return format!("{name}: no advice, its records end too early.");
            }
            // Where the log does not tell what looks find, removals of worn seals count as sound.
            let least = if plan.detection.is_none() {
                "at least "
            } else {
                ""
            };
            format!(
                "{name}: {}; {least}{} fail before.",
                pen(results, plan).policy(&plan.weighed.plan),
                number::percent(plan.weighed.failed)
            )
        })
        .collect();
    if rest > 0 {
        told.push(format!("{rest} more groups stand in the table of plans."));
    }
    told
}

/// The plan of the largest group in a sentence.
pub fn headline(results: &Results) -> Option<String> {
    let (group, plan) = busiest(results)?;
    let first = plan.sentences.first()?;
    Some(format!("{}: {first}", group.group.words()))
}

/// What the logs of the other groups leave open, where it bears on their plans.
pub(super) fn doubted(list: &[(&GroupCare, &WholePlan)], but: &GroupCare) -> Option<String> {
    let others = list.iter().filter(|(g, _)| g.group != but.group);
    let told: Vec<String> = others
        .flat_map(|(g, plan)| {
            let doubts = plan.doubts.iter().filter(|d| BEAR.contains(&d.kind));
            doubts.map(|d| format!("{}: {}", g.group.words(), d.message))
        })
        .collect();
    (!told.is_empty()).then(|| {
        format!(
            "Doubts of the other plans, which `sealspan defects` and `sealspan care` tell in full. {}.",
            told.join(". ")
        )
    })
}

/// Which parts' plans rest on laws of defects that do not quite suit their records, and what other laws make of them.
pub(super) fn laws_in_doubt(results: &Results) -> Option<String> {
    let list = all(results);
    let of = |kind: &str| -> Vec<String> {
        let strays = |plan: &WholePlan| plan.doubts.iter().any(|d| d.kind == kind);
        let those = list.iter().filter(|(_, plan)| strays(plan));
        those.map(|(g, _)| g.group.words()).collect()
    };
    let told: Vec<String> = [
        ("misfit", "do not suit the looks recorded of"),
        ("doubtful_fit", "are in doubt for"),
    ]
    .into_iter()
    .filter_map(|(kind, words)| {
        let those = of(kind);
        (!those.is_empty()).then(|| format!("{words} {}", those.join(", ")))
    })
    .collect();
    if told.is_empty() {
        return None;
    }
    let other = list.iter().flat_map(|(_, plan)| &plan.other_laws);
    let extra = other.map(|o| o.extra_share).reduce(f64::max);
    let extra = extra.map_or_else(String::new, |share| {
        format!(
            "; if another pair of the laws tried is right, a plan costs at most {} more than the best there",
            number::percent(share.max(0.0))
        )
    });
    Some(format!(
        "The laws of defects and delays behind the plans {}{extra}.",
        told.join(", and ")
    ))
}

/// The plan of groups by another reading of their records: with looks that find what those of the other groups find,
/// without a bad batch that is gone.
pub(super) fn read_otherwise(results: &Results) -> Vec<String> {
    let looks = |d: &DetectionDoubt| {
        let others: Vec<String> = d
            .others
            .iter()
            .map(|(name, value)| format!("{} in {name}", number::percent(*value)))
            .collect();
        let plan = again(
            &format!("With {} there too", number::percent(d.elsewhere)),
            (&d.plan_words, d.plan_reason.as_ref()),
            (d.then, d.saving),
            results,
        );
        format!(
            "{}: a look is put at finding {} of the defects ({} to {}), but {}, by the same eyes{}. {plan}.{}",
            d.group.words(),
            number::percent(d.detection),
            number::percent(d.detection_lower),
            number::percent(d.detection_upper),
            others.join(" and "),
            by_duty(results, &d.group.words()),
            safer(d, results).unwrap_or_default()
        )
    };
    let batch = |d: &WithoutBatch| {
        let plan = again(
            &format!("Without {}", d.batch),
            (&d.plan_words, d.plan_reason.as_ref()),
            (d.then, d.saving),
            results,
        );
        format!(
            "{}: {} seals of batch {}, none in service any more, stand in its laws. {plan}.",
            d.group.words(),
            number::fixed(d.seals, 0),
            d.batch
        )
    };
    let looks = results.detections.iter().map(looks);
    looks
        .chain(results.without_batches.iter().map(batch))
        .collect()
}

/// The same for the head of the report: what is doubted and which way the plan would go, without the money of each.
pub(super) fn otherwise_in_short(results: &Results) -> Vec<String> {
    let looks = results.detections.iter().map(|d| {
        let others: Vec<String> = d
            .others
            .iter()
            .map(|(name, value)| format!("{} in {name}", number::percent(*value)))
            .collect();
        let plan = d.plan_words.as_ref().map_or_else(String::new, |words| {
            format!(
                " With {} its plan would be: {words}{}.",
                number::percent(d.elsewhere),
                match safer_of(d) {
                    Some(true) => ", which is the safer while both stand",
                    Some(false) => "; while both stand, the plan above is the safer",
                    None => "",
                }
            )
        });
        format!(
            "{}: its log puts a look at finding {} of the defects, but {}, by the same eyes: one of them cannot be right.{plan}",
            d.group.words(),
            number::percent(d.detection),
            others.join(" and ")
        )
    });
    let batches = results.without_batches.iter().map(|d| {
        let plan = d.plan_words.as_ref().map_or_else(String::new, |words| {
            let own = all(results).into_iter().find(|(g, _)| g.group == d.group);
            let own = own.map(|(_, p)| pen(results, p).policy(&p.weighed.plan));
            if own.as_ref() == Some(words) {
                "; without them its plan would be the same".to_owned()
            } else {
                format!("; without them its plan would be: {words}")
            }
        });
        format!(
            "{}: {} seals of batch {}, none in service any more, stand in its laws{plan}.",
            d.group.words(),
            number::fixed(d.seals, 0),
            d.batch
        )
    });
    let mut out: Vec<String> = looks.chain(batches).collect();
    out.extend(saved_otherwise(results));
    out
}

/// Which of the two plans is the safer while both readings stand: the one that is less dear where it is wrong.
fn safer(d: &DetectionDoubt, results: &Results) -> Option<String> {
    let other_safer = safer_of(d)?;
    let (kept, other) = (d.kept_dearer?, d.other_dearer?);
    let words = d.plan_words.as_ref()?;
    let unit = results.unit.strip_suffix('s').unwrap_or(results.unit);
    let m = |x: f64| number::money_to(x, kept.max(other), &results.currency);
    let advice = if other_safer {
        format!("while both stand, the safer is to {words}")
    } else {
        "while both stand, the plan is the safer".to_owned()
    };
    Some(format!(
        " By that reading the plan costs {} per {unit} more than this, by the plan's own this costs {} more: {advice}.",
        m(kept),
        m(other)
    ))
}

/// Whether the other plan is the safer; `None` where one of them is the better by either reading.
fn safer_of(d: &DetectionDoubt) -> Option<bool> {
    let (kept, other) = (d.kept_dearer?, d.other_dearer?);
    (kept > 0.0 && other > 0.0).then_some(other < kept)
}

/// What a look finds by duty, by the duty's own laws.
fn by_duty(results: &Results, part: &str) -> String {
    let found = results.money.found();
    let Some(found) = found.and_then(|d| d.own_ages_by_duty.as_ref()) else {
        return String::new();
    };
    let own = found.ages.iter().filter(|one| one.part == part);
    let told: Vec<String> = own
        .filter_map(|one| Some(format!("{} {}", one.at, number::percent(one.detection?))))
        .collect();
    if told.len() < 2 {
        return String::new();
    }
    format!(" (by {}: {})", spoken(&found.by), told.join(", "))
}

/// What groups would save by another reading of their records, a line a group.
pub(super) fn saved_otherwise(results: &Results) -> Vec<String> {
    let list = saved(results);
    let line = |s: &Saved| {
        let group = &s.group.group;
        let money = |average: Average| {
            let each = s.positions * per_year(results).0;
            let width = (average.upper - average.lower) * each;
            number::money_to(average.mean * each, width, &results.currency)
        };
        let looks = results.detections.iter().filter(|d| d.group == *group);
        let looks = looks.filter_map(|d| {
            Some(format!(
                "{} a year if looks find {} of defects, not {}",
                money(d.saving?),
                number::percent(d.elsewhere),
                number::percent(d.detection)
            ))
        });
        let batches = results.without_batches.iter();
        let batches = batches.filter(|d| d.group == *group);
        let batches =
            batches.filter_map(|d| Some(format!("{} without a batch now gone", money(d.saving?))));
        let told: Vec<String> = looks.chain(batches).collect();
        (!told.is_empty()).then(|| format!("{} saves {}.", group.words(), told.join("; ")))
    };
    list.iter().filter_map(line).collect()
}

/// The plan by another reading, with what it costs.
fn again(
    how: &str,
    (words, reason): (&Option<String>, Option<&String>),
    (then, saving): (Option<Average>, Option<Average>),
    results: &Results,
) -> String {
    let m = |x: f64| number::money(x, &results.currency);
    let unit = results.unit.strip_suffix('s').unwrap_or(results.unit);
    match (words, then, saving) {
        (Some(words), Some(then), Some(saving)) => format!(
            "{how}, its plan would be: {words}, {} per {unit} and position, {} less than today's practice ({} to {})",
            m(then.mean),
            m(saving.mean),
            m(saving.lower),
            m(saving.upper)
        ),
        _ => format!("{how}: {}", reason.cloned().unwrap_or_default()),
    }
}

/// Doubts that bear on a plan.
const BEAR: [&str; 4] = ["misfit", "doubtful_fit", "detection_unclear", "confounded"];

/// Parts that are looked at or turned today and not under the plan.
pub(super) fn looks_stop(list: &[Saved], results: &Results) -> String {
    let looked_at = |p: &CarePolicy| p.turn.is_some() || !matches!(p.looks, Looks::Never);
    let stops = |s: &&Saved| {
        let plan = &s.plan.weighed.plan;
        let none = plan.inspect_every.is_none() && plan.turn_every.is_none();
        none && s
            .plan
            .practice
            .policies
            .iter()
            .any(|p| looked_at(&p.policy))
    };
    let stopped: Vec<String> = list
        .iter()
        .filter(stops)
        .map(|s| s.group.group.words())
        .collect();
    if stopped.is_empty() {
        return String::new();
    }
    let of = if stopped.len() == list.len() {
        String::new()
    } else {
        format!(" of {}", stopped.join(", "))
    };
    format!(
        " The plan has no looks or turns{of}: seals are changed before looks pay.{}",
        looks_saved(list, results)
    )
}

/// What changes a year and what it comes to: failures, planned changes, and openings, with those of parts whose log does
/// not tell what looks find.
fn looks_saved(list: &[Saved], results: &Results) -> String {
    let Some(d) = results.money.found() else {
        return String::new();
    };
    let of = |names: &[String]| -> f64 {
        let own = d.parts.iter().filter(|p| names.contains(&p.part));
        own.map(|p| p.today.handled_money - p.plan.handled_money)
            .sum()
    };
    let sum =
        |of: &dyn Fn(&PartMoney) -> f64| number::fixed(d.parts.iter().map(of).sum::<f64>(), 0);
    let recorded = d.parts.iter().map(|p| Some(p.recorded?.failures));
    let recorded = recorded.sum::<Option<f64>>().map_or_else(String::new, |n| {
        format!(" ({} at recorded rates)", number::fixed(n, 0))
    });
    let less = |of: &dyn Fn(&Year) -> f64| -> f64 {
        d.parts.iter().map(|p| of(&p.today) - of(&p.plan)).sum()
    };
    let whole = less(&|y| y.cost);
    let m = |x: f64| number::money_to(x, 0.1 * whole, &results.currency);
    let moved = |x: f64| match x < 0.0 {
        true => format!("{} more", m(-x)),
        false => format!("{} less", m(x)),
    };
    let blind = blind(list, results);
    let unseen = if blind.is_empty() {
        String::new()
    } else {
        format!(
            "; {} of it in {}, whose log does not tell what they find",
            m(of(&blind)),
            blind.join(", ")
        )
    };
    format!(
        " Over {} months, a year: failures go from {}{} to {} ({}), planned changes from {} to {} ({}), openings from {} to {} ({}, {} each{unseen}): {}.",
        d.by_month.len(),
        sum(&|p| p.today.failures),
        recorded,
        sum(&|p| p.plan.failures),
        moved(less(&|y| y.failures_money)),
        sum(&|p| p.today.planned),
        sum(&|p| p.plan.planned),
        moved(less(&|y| y.planned_money)),
        sum(&|p| p.today.openings),
        sum(&|p| p.plan.openings),
        moved(less(&|y| y.handled_money)),
        number::money(d.handled.opening + d.handled.look, &results.currency),
        moved(whole)
    )
}

/// Duties at which seals go sooner than the ages of the plan allow for.
fn shorter_duties(results: &Results) -> Option<String> {
    let duties = results.intervals_by_duty.as_ref()?;
    let days = |g: &GroupIntervals| {
        let clock = g.clocks.iter().find(|c| c.unit == results.unit)?;
        Some(format!("{} {}", duty(g), words(clock.state.as_ref()?)))
    };
    let told: Vec<String> = shorter(duties, &results.intervals)
        .iter()
        .filter_map(days)
        .collect();
    (!told.is_empty()).then(|| {
        format!(
            "These ages are for the mix of duties; more fail where it is harder. At most {} fail, with {} confidence, by: {}.",
            number::percent(duties.share),
            number::level(duties.confidence),
            told.join(", ")
        )
    })
}

/// Parts of which the log does not tell what looks find, or whose looks may pay by another reading.
fn blind(list: &[Saved], results: &Results) -> Vec<String> {
    let blind = |s: &&Saved| {
        let mut odd = results.detections.iter();
        let odd = odd.find(|d| d.group == s.group.group);
        s.plan.detection.is_none() || odd.is_some_and(|d| d.looks_pay != Some(false))
    };
    let own = list.iter().filter(blind);
    own.map(|s| s.group.group.words()).collect()
}

/// Groups for which replacing at a measured reading costs less than any age by the paths of that property alone.
fn by_reading(results: &Results) -> Option<String> {
    let found = all(results).into_iter().filter_map(|(group, _)| {
        let limit = group.block.as_ref()?.measured_limit.as_ref()?;
        let gains = limit.saving.lower > 0.0;
        gains.then(|| (spoken(&limit.measure), group.group.words()))
    });
    let found: Vec<(String, String)> = found.collect();
    let (measure, _) = found.first()?;
    let names: Vec<&str> = found.iter().map(|f| f.1.as_str()).collect();
    Some(format!(
        "By measurements of {measure} alone, looking and replacing at a reading would cost less than any age for {}; that leaves out what else fails, so it is not in the plan: try it at one site.",
        names.join(", ")
    ))
}

/// Looks that a plan without looks does not do away with.
pub(super) const STAY: &str =
    "Statutory looks, and looks for a door out of line, a bad batch or a measured limit, stay.";

/// What the plan leaves out, what stays beside it, looks for what no age tells, and ages of a duty's or a site's own; a
/// line each.
pub(super) fn besides(results: &Results) -> Vec<String> {
    let list = saved(results);
    let stop = looks_stop(&list, results);
    let stop = (!stop.is_empty()).then(|| format!("{} {STAY}", stop.trim_start()));
    let money = results.money.found();
    let duties = money.and_then(own_ages::duties_sentence);
    let duties = duties.or_else(|| shorter_duties(results));
    let sites = list.iter().any(|s| s.plan.practice.sites.len() > 1);
    let own = money.and_then(own_ages::sites_sentence);
    let own = own.or_else(|| sites.then(|| SITES.to_owned()));
    [stop, duties, own, by_reading(results)]
        .into_iter()
        .flatten()
        .collect()
}

/// How to ask for a site's own plan.
const SITES: &str = "Each part has one age for all its sites; a site's own is asked for by `sealspan care STUDY --by material,site`, where its records bear one.";
