//! The answers about positions in sentences.

use super::common::Shared;
use crate::column::spoken;
use crate::number;
use crate::wire::positions::{PositionResult, PositionsDocument};
use sealspan_records::positions::Positions;

/// Hungry positions named in a sentence.
const NAMED: usize = 5;

/// Positions under watch below which the curve's variance is not to be trusted (a rule of ours).
const FEW_WATCHED: f64 = 5.0;

/// "HL1-T17, manway".
pub(super) fn name(row: &PositionResult) -> String {
    match &row.position {
        Some(position) => format!("{}, {position}", row.asset),
        None => row.asset.clone(),
    }
}

fn list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}

/// Sentences: the hungry positions, what they share, each door out of line, the trend.
pub(super) fn sentences(d: &PositionsDocument, shared: &[Shared]) -> Vec<String> {
    let mut out = vec![hungry(d)];
    out.extend(shares(d, shared));
    let doors: Vec<&PositionResult> = d.positions.iter().filter(|p| p.out_of_line).collect();
    out.push(overview(d, doors.len()));
    out.extend(doors.iter().map(|door| out_of_line(d, door)));
    out.extend(d.habits.sentences.iter().cloned());
    if d.renewal.doubtful == Some(true) {
        out.push(format!("Note: {}.", d.renewal.reason));
    }
    out
}

fn hungry(d: &PositionsDocument) -> String {
    let mut kind = if d.like.is_empty() {
        "the fleet's life".to_owned()
    } else {
        format!("the life of their {}", d.like.join(" and "))
    };
    if !d.held_constant.is_empty() {
        let held: Vec<String> = d.held_constant.iter().map(|c| spoken(c)).collect();
        kind.push_str(&format!(", with {} held constant,", list(&held)));
    }
    let found: Vec<&PositionResult> = d.positions.iter().filter(|p| p.hungry).collect();
    let control = number::percent(d.false_discovery);
    if d.replacements == 0 {
        return format!(
            "No replacement counts ({}) at {} positions, so none can be called hungry.",
            d.counted.join(", "),
            d.watched
        );
    }
    if d.watched == 1 {
        return "There is one position only, so there is nothing to compare it with.".to_owned();
    }
    if found.is_empty() {
        return format!(
            "None of {} positions takes more seals than {kind} leads one to expect, with false alarms kept to {control} of those named.",
            number::count(d.watched as u64)
        );
    }
    let names: Vec<String> = found
        .iter()
        .take(NAMED)
        .map(|p| {
            format!(
                "{} ({} replaced in {} {} where an ordinary place would have used {})",
                name(p),
                p.replacements,
                number::significant(p.watched, 3),
                d.unit,
                p.expected.map_or_else(
                    || "a number that is not known".to_owned(),
                    |e| number::significant(e, 2)
                )
            )
        })
        .collect();
    let (take, first) = match found.len() {
        1 => ("positions takes", ""),
        n if n > NAMED => ("positions take", "; the most hungry are "),
        _ => ("positions take", ""),
    };
    let lead = if first.is_empty() { ": " } else { first };
    let names = format!("{lead}{}", list(&names));
    format!(
        "{} of {} {take} more seals than {kind} leads one to expect, with false alarms kept to {control} of those named{names}.{}",
        found.len(),
        number::count(d.watched as u64),
        rates(&found),
    )
}

/// How fast the seals of the first hungry positions fail, at ages alike.
fn rates(found: &[&PositionResult]) -> String {
    let one = |p: &&PositionResult| {
        let drawn = &p.shrunk_rate_ratio;
        let (e, l, u) = (drawn.estimate?, drawn.lower?, drawn.upper?);
        let write = |x: f64| number::significant(x, 2);
        Some(format!("{} ({} to {})", write(e), write(l), write(u)))
    };
    let each: Vec<String> = found.iter().take(NAMED).filter_map(one).collect();
    if each.is_empty() {
        return String::new();
    }
    format!(
        " At ages alike their seals fail at {} times the ordinary rate, drawn towards the fleet as far as the fleet bears it out; the tests compare at the ages reached, for a place that eats seals has young ones only.",
        list(&each)
    )
}

fn shares(d: &PositionsDocument, shared: &[Shared]) -> Option<String> {
    let flagged = d.positions.iter().filter(|p| p.hungry).count();
    let parts: Vec<String> = shared
        .iter()
        .take(3)
        .map(|s| {
            format!(
                "{} have {} \"{}\", which {} of all {} positions have",
                s.hungry, s.column, s.level, s.all, d.watched
            )
        })
        .collect();
    (!parts.is_empty()).then(|| {
        format!(
            "Of those {flagged}, {}: look at what these share before looking at single doors.",
            list(&parts)
        )
    })
}

fn overview(d: &PositionsDocument, found: usize) -> String {
    let w = &d.wear;
    if w.placed == 0 {
        return "No failed or worn seal that counts here has a known sector, so nothing can be said of doors out of line."
            .to_owned();
    }
    let tested = format!(
        "{} of {} positions have the three failed or worn seals with a known place that a test takes",
        w.tested, d.watched
    );
    match found {
        0 => format!(
            "No door is shown to be out of line; {tested}, {} have enough that any result could show it.",
            w.corrected_over
        ),
        1 => format!("One door looks out of line; {tested}."),
        n => format!("{n} doors look out of line; {tested}."),
    }
}

fn out_of_line(d: &PositionsDocument, door: &PositionResult) -> String {
    let n: u32 = door.sectors.iter().sum();
    let worst = door.sectors.iter().zip(1..).max_by_key(|(c, _)| **c);
    let (most, sector) = worst.map_or((0, 1), |(c, j)| (*c, j));
    let between = |interval: Option<(f64, f64)>| {
        interval.map_or_else(String::new, |(l, u)| {
            format!(
                " ({} to {})",
                number::significant(l, 2),
                number::significant(u, 2)
            )
        })
    };
    let mut text = format!(
        "{}: {most} of {n} failed or worn seals with a known place gave way at sector {sector} of the door frame ({}{}): the yoke is likely out of line there.",
        name(door),
        number::p_value(door.uneven_p_value.unwrap_or(1.0)),
        door.uneven_adjusted_p_value
            .map_or_else(String::new, |p| format!(
                " by itself, {} allowing for the {} doors that could be flagged",
                number::p_value(p),
                d.wear.corrected_over
            )),
    );
    if let (Some(mending), Some(limit)) = (door.mending_gain, door.turning_gain) {
        text.push_str(&format!(
            " Mending it would make seals last about {} times as long{}; ",
            number::significant(mending, 2),
            between(door.mending_gain_interval)
        ));
        match door.practical_turning {
            Some(t) => text.push_str(&format!(
                "turning every {} {} gives {}, and turning ever more often at most {}{}.",
                number::significant(t.every, 2),
                d.unit,
                number::significant(t.gain, 2),
                number::significant(limit, 2),
                between(door.turning_gain_interval)
            )),
            None => text.push_str(&format!(
                "turning gives at most {}{}.",
                number::significant(limit, 2),
                between(door.turning_gain_interval)
            )),
        }
    }
    if door.turned {
        text.push_str(" Seals here are turned at times, which hides part of the wear: the true contrast is likely greater, and the gains are against never turning.");
    }
    text
}

/// Doubts and assumptions.
pub(super) fn warnings(d: &PositionsDocument, logs: &Positions) -> Vec<String> {
    let mut out = logs.assumed.clone();
    let mut say = |count: u64, text: &str| {
        if count > 0 {
            out.push(format!("{} {text}", number::count(count)));
        }
    };
    say(
        d.set_aside as u64,
        "rows of seals are set aside: they belong to no position, or their dates cannot be used.",
    );
    say(
        d.wear.no_sector,
        "failed or worn seals have no recorded sector and are left out of the tests of doors.",
    );
    say(
        d.wear.turns_unknown,
        "failed or worn seals had turns that are not all known (before the records began, or an empty cell) and are left out of the tests of doors.",
    );
    say(
        d.in_several_groups as u64,
        "positions had seals of several groups and are left out of the curves by group.",
    );
    let planned = ["preventive", "opportunity"]
        .iter()
        .filter_map(|w| d.not_counted.get(w))
        .sum();
    say(
        planned,
        "planned removals (preventive, opportunity) are not counted as replacements; they end the exposure of their seal.",
    );
    say(
        *d.not_counted.get("unknown").unwrap_or(&0),
        "removals of unknown outcome are not counted.",
    );
    if d.mean_cumulative.iter().any(|p| p.at_risk < FEW_WATCHED) {
        out.push("Parts of the mean curve rest on fewer than five positions under watch; its interval is too narrow there.".to_owned());
    }
    if d.wear.placed > 0 {
        out.push("A place is where the seal stood when the defect was found; a turn between the defect and its finding blurs it.".to_owned());
    }
    if d.wear.out_of_line > 0 {
        out.push("Severities take the seal's sectors as weakest links of one Weibull shape, that of replacements by kind of seal; differences in duty between positions flatten that shape.".to_owned());
    }
    out
}
