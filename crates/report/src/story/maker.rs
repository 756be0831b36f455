//! The maker's page: the interval sheet, with its confidence and its limits.

use super::plans::{all, pen};
use super::words::{capital, damage, held, screened};
use crate::analysis::duties::{shorter, unknown};
use crate::analysis::intervals::{FAILED, words, words_of_basis};
use crate::analysis::intervals_notes;
use crate::analysis::lives::GroupLife;
use crate::analysis::run::Results;
use crate::analysis::screen::Screened;
use crate::cautions;
use crate::column::spoken;
use crate::document::{Block, Page, Table};
use crate::number;
use crate::wire::GroupKey;
use crate::wire::intervals::{ClockIntervals, GroupIntervals, Interval, IntervalsDocument};

use std::cmp::Ordering;
use std::collections::BTreeSet;

/// How a statement on two clocks ends.
const FIRST: &str = ", whichever comes first";
/// Head of the column that marks it.
const RANGE: &str = "range";
/// Said of an interval beyond the oldest seal seen.
const EXTRAPOLATED: &str = "extrapolated";
/// The column of batches.
const BATCH: &str = "batch";

/// The page.
pub fn page(results: &Results) -> Page {
    let sheet = &results.intervals;
    let mut blocks = vec![
        Block::Heading("Recommended replacement intervals".into()),
        Block::Answer(answer(sheet)),
    ];
    blocks.extend(early_failures(results).map(Block::Text));
    blocks.extend(by_duty(results).map(Block::Text));
    let faults = faults(results);
    if !faults.is_empty() {
        blocks.push(Block::List(faults));
    }
    blocks.push(Block::Table(table(sheet)));
    blocks.extend(duty_table(results).map(Block::Table));
    let mut doubts = doubts(sheet);
    doubts.extend(doubted_duties(results));
    if !doubts.is_empty() {
        blocks.push(Block::Text("What to doubt:".into()));
        blocks.push(Block::List(doubts));
    }
    let by_duty = doubts_by_duty(results);
    if !by_duty.is_empty() {
        blocks.push(Block::Folded {
            title: "Doubts of the intervals by duty".to_owned(),
            lines: by_duty,
        });
    }
    blocks.extend(sheet.notes.iter().cloned().map(Block::Text));
    blocks.push(Block::Text(command(results)));
    blocks.push(Block::Text(
        "Seals that come back from batches shipped, the reserve for them with its prediction interval, and how many to lay into a service kit, hang on what was shipped when: `sealspan returns STUDY --help` says how to state that.".into(),
    ));
    blocks.push(Block::Cautions(cautions::all()));
    Page {
        id: "maker".into(),
        title: "For the maker".into(),
        reader: "Intervals to recommend, how sure they are, and how far they were tested.".into(),
        blocks,
    }
}

/// What makes the sheet alone.
fn command(results: &Results) -> String {
    let sheet = &results.intervals;
    let duties = results.intervals_by_duty.as_ref().and_then(columns);
    format!(
        "Counted here is the age in service. The command “sealspan intervals STUDY --share {} --confidence {}” prints these intervals; another share, confidence or calendar can be asked for, and duties by --by{}.",
        sheet.share,
        sheet.confidence,
        duties.map_or_else(String::new, |columns| format!(" {columns}"))
    )
}

/// The columns of the duties' groups: "material,product".
fn columns(duties: &IntervalsDocument) -> Option<String> {
    let keys = duties.groups.first()?.group.0.iter();
    let names: Vec<&str> = keys.map(|(column, _)| column.as_str()).collect();
    Some(names.join(","))
}

/// The group of the longest interval, on the clock asked for.
fn longest(sheet: &IntervalsDocument) -> Option<&GroupIntervals> {
    let stated = sheet.groups.iter();
    let stated = stated.filter_map(|g| Some((g, g.clocks.first()?.state?)));
    let longest = stated.max_by(|a, b| a.1.age.total_cmp(&b.1.age));
    longest.map(|(group, _)| group)
}

/// Why the longest interval may not be that of the seals that last longest.
fn early_failures(results: &Results) -> Option<String> {
    let stated = longest(&results.intervals)?;
    let middle = |life: &&GroupLife| Some(life.trusted().ok()?.life.quantile(0.5));
    let lives = results.lives.iter().filter(|l| middle(l).is_some());
    let lasting =
        lives.max_by(|a, b| middle(a).partial_cmp(&middle(b)).unwrap_or(Ordering::Equal))?;
    (lasting.key != stated.group).then(|| {
        format!(
            "{} lasts longer by its middle life, but an interval rests on the first seals to go, and on how well they are known: there {} is ahead.",
            lasting.key.words(),
            stated.group.words()
        )
    })
}

/// Duties that need a shorter interval than their group's; `None` where the records name none.
pub(super) fn by_duty(results: &Results) -> Option<String> {
    let duties = results.intervals_by_duty.as_ref()?;
    let all = shorter(duties, &results.intervals);
    let column = spoken(duties.groups.first()?.group.0.last()?.0.as_str());
    if all.is_empty() {
        return Some(format!(
            "By {column}, no duty that these records can tell needs a shorter interval than its group's."
        ));
    }
    let told: Vec<String> = shorter_whole(results)
        .into_iter()
        .map(|g| {
            let ages = g.clocks.iter().filter_map(|c| c.state.as_ref());
            let ages: Vec<String> = ages.map(words).collect();
            format!("{}{}, {}", duty(g), seen_at(results, g), ages.join(" or "))
        })
        .collect();
    Some(format!(
        "By {column}, shorter ones hold where the like is met: {}.{} A group's own is for the mix of duties.{}",
        told.join("; "),
        stands_for(results, &all),
        unknown_duties(duties)
    ))
}

/// The duties that need a shorter interval than their group's, whole.
fn shorter_whole(results: &Results) -> Vec<&GroupIntervals> {
    let Some(duties) = results.intervals_by_duty.as_ref() else {
        return vec![];
    };
    let all = shorter(duties, &results.intervals);
    let whole = |g: &GroupIntervals| duties.groups.iter().find(|d| d.group == g.group);
    all.iter().filter_map(whole).collect()
}

/// As [`by_duty`] beside a table that holds those intervals.
pub(super) fn by_duty_in_short(results: &Results) -> Option<String> {
    let duties = results.intervals_by_duty.as_ref()?;
    let all = shorter(duties, &results.intervals);
    if all.is_empty() {
        return by_duty(results);
    }
    let column = spoken(duties.groups.first()?.group.0.last()?.0.as_str());
    Some(format!(
        "A group's own interval is for the mix of duties: where a {column} has a row of its own, state that.{}{}",
        stands_for(results, &all),
        unknown_duties(duties)
    ))
}

/// The temperatures at which a duty was seen: " (55 to 88 °C)".
fn seen_at(results: &Results, group: &GroupIntervals) -> String {
    let all = &results.duty_temperatures;
    let own = all.iter().find(|d| d.group == group.group);
    own.map_or_else(String::new, |d| {
        let c = number::tidy;
        if d.low_c == d.high_c {
            format!(" ({} °C)", c(d.low_c))
        } else {
            format!(" ({} to {} °C)", c(d.low_c), c(d.high_c))
        }
    })
}

/// Duties that the records cannot tell from what goes with them, in a sentence.
fn stands_for(results: &Results, shorter: &[GroupIntervals]) -> String {
    let Some(screen) = results.screen.found() else {
        return String::new();
    };
    let last = |g: &GroupIntervals| g.group.0.last().cloned();
    let names: BTreeSet<String> = shorter
        .iter()
        .filter_map(last)
        .filter(|(column, value)| {
            let name = format!("{} {value}", spoken(column));
            screen.not_told_apart.contains(&name)
        })
        .map(|(_, value)| value)
        .collect();
    if names.is_empty() {
        return String::new();
    }
    let names: Vec<String> = names.into_iter().collect();
    format!(
        " What {} does cannot be told here from what goes with it ({}): do not carry its interval elsewhere by the name.",
        names.join(", "),
        held(&screen.adjusted_for)
    )
}

/// Duties whose intervals rest on laws in doubt, with the clocks on which they are, in a sentence.
pub(super) fn doubted_duties(results: &Results) -> Option<String> {
    let duties = results.intervals_by_duty.as_ref()?;
    let clocks = |g: &GroupIntervals| -> Vec<&str> {
        let doubted = g.clocks.iter();
        let doubted = doubted.filter(|c| c.state.is_some() && !c.warnings.is_empty());
        doubted.map(|c| c.unit).collect()
    };
    let told: Vec<String> = duties
        .groups
        .iter()
        .map(|g| (duty(g), clocks(g)))
        .filter(|(_, clocks)| !clocks.is_empty())
        .map(|(name, clocks)| format!("{name} ({})", clocks.join(", ")))
        .collect();
    (!told.is_empty()).then(|| {
        format!(
            "By duty the laws do not suit, or are in doubt, for {}.",
            told.join(", ")
        )
    })
}

/// Doubts of the duties' intervals, each with its figures.
fn doubts_by_duty(results: &Results) -> Vec<String> {
    let Some(duties) = &results.intervals_by_duty else {
        return vec![];
    };
    let of_clock = |g: &GroupIntervals, c: &ClockIntervals| -> Vec<String> {
        let name = format!("{}, {}", duty(g), c.unit);
        let each = c.warnings.iter().filter(|_| c.state.is_some());
        each.map(|doubt| format!("{name}: {doubt}")).collect()
    };
    let groups = duties.groups.iter();
    groups
        .flat_map(|g| g.clocks.iter().flat_map(move |c| of_clock(g, c)))
        .collect()
}

/// What shortens life beside the material itself, a line each: batches, with the intervals without those that are gone,
/// and duties that a material does not bear.
pub(super) fn faults(results: &Results) -> Vec<String> {
    let found = results.screen.found().map_or(&[][..], |s| &s.found);
    let short = found.iter().filter(|s| s.life_ratio < 1.0);
    short
        .map(|s| {
            if s.column == BATCH {
                let own = capital(&screened(s, results.confidence));
                return format!("{own}.{}", without(results, &s.level));
            }
            let question = match &s.within {
                Some(_) => ": ask whether the material belongs there before an interval is stated",
                None => "",
            };
            format!("{}{question}.", capital(&screened(s, results.confidence)))
        })
        .collect()
}

/// The same in short, for a sheet.
pub(super) fn faults_in_short(results: &Results) -> Vec<String> {
    let found = results.screen.found().map_or(&[][..], |s| &s.found);
    let short = found.iter().filter(|s| s.life_ratio < 1.0);
    let line = |s: &Screened| {
        let width = s.upper - s.lower;
        let n = |x: f64| number::to_width(x, width);
        let ratio = format!(
            "{} times as long as {} like ({} {} to {})",
            n(s.life_ratio),
            if s.column == BATCH { "its" } else { "their" },
            number::level(results.confidence),
            n(s.lower),
            n(s.upper)
        );
        if s.column == BATCH {
            return format!(
                "Batch {} lasted {ratio}.{}",
                s.level,
                without(results, &s.level)
            );
        }
        let who = s
            .within
            .as_ref()
            .map_or_else(String::new, |w| format!("{} ", w.1));
        let damage = damage(s);
        let ask = match &s.within {
            Some(_) => ": ask first whether the material belongs there",
            None => "",
        };
        format!("{who}{} last {ratio}{damage}{ask}.", s.level)
    };
    short.map(line).collect()
}

/// What the groups that hold a batch's seals would state without them.
fn without(results: &Results, batch: &str) -> String {
    let own = results.without_batches.iter().filter(|d| d.batch == batch);
    let told: Vec<String> = own
        .filter_map(|d| {
            let of = |sheet: &IntervalsDocument| {
                let group = sheet.groups.iter().find(|g| g.group == d.group)?;
                group.state.clone()
            };
            let with = of(&results.intervals)?;
            let again = of(results.intervals_without_batches.as_ref()?)?;
            Some(format!(
                " The {} of {} include it; without bad batches now gone they are {}.",
                with.replace(FIRST, ""),
                d.group.words(),
                again.replace(FIRST, "")
            ))
        })
        .collect();
    told.concat()
}

/// Duties without an interval of their own, in a sentence.
fn unknown_duties(duties: &IntervalsDocument) -> String {
    let name = |(g, clocks): (&GroupIntervals, Vec<&str>)| match g.state.is_none() {
        true => duty(g),
        false => format!("{} ({})", duty(g), clocks.join(", ")),
    };
    let names: Vec<String> = unknown(duties).map(name).collect();
    if names.is_empty() {
        return String::new();
    }
    format!(
        " State none for {}: too few failures, and their group's is not shown to hold there.",
        names.join(", ")
    )
}

/// The values of a duty: "EPDM dry hopped".
pub(super) fn duty(group: &GroupIntervals) -> String {
    let values: Vec<&str> = group.group.0.iter().map(|(_, v)| v.as_str()).collect();
    values.join(" ")
}

/// The intervals of all duties.
fn duty_table(results: &Results) -> Option<Table> {
    let duties = results.intervals_by_duty.as_ref()?;
    let mut out = table(duties);
    out.caption = "Intervals by duty".to_owned();
    let names = duties
        .groups
        .iter()
        .flat_map(|g| g.clocks.iter().map(move |_| duty(g)));
    for (row, name) in out.rows.iter_mut().zip(names) {
        if let Some(first) = row.first_mut() {
            *first = name;
        }
    }
    (!duties.groups.is_empty()).then_some(out)
}

/// The group of the longest interval in a sentence.
pub(super) fn answer(sheet: &IntervalsDocument) -> String {
    let Some(group) = longest(sheet) else {
        return "No interval can be recommended: no group has the failures that a bound on its life needs.".into();
    };
    let doubted = group.clocks.iter().any(|c| !c.warnings.is_empty());
    let unsuited = |c: &&ClockIntervals| c.warnings.iter().any(|w| intervals_notes::unsuited(w));
    let unsuited: Vec<&str> = group
        .clocks
        .iter()
        .filter(unsuited)
        .map(|c| c.unit)
        .collect();
    format!(
        "Of the groups seen, {} allows the longest interval: {}{}. With {} confidence at most {} of its seals fail within that{}.",
        group.group.words(),
        group.state.as_deref().unwrap_or_default(),
        if group.extrapolated {
            ", beyond the oldest seal seen"
        } else {
            ""
        },
        number::level(sheet.confidence),
        number::percent(sheet.share),
        if !unsuited.is_empty() {
            format!(
                ", if the law suits its records, which for {} it does not: see below",
                unsuited.join(" and ")
            )
        } else if doubted {
            ", if the law suits its records, which is in doubt: see below".to_owned()
        } else {
            String::new()
        },
    )
}

pub(super) fn table(sheet: &IntervalsDocument) -> Table {
    let mut rows = vec![];
    for group in &sheet.groups {
        for clock in &group.clocks {
            rows.push(vec![
                group.group.words(),
                clock
                    .state
                    .as_ref()
                    .map_or_else(|| "none".to_owned(), words),
                cell(&clock.at_most_share),
                cell(&clock.least_cost),
                clock
                    .watched_then
                    .map_or_else(String::new, |n| number::fixed(n, 0)),
                format!("{} {}", number::fixed(clock.oldest_seen, 0), clock.unit),
                format!(
                    "{} of {}",
                    number::fixed(clock.failures, 0),
                    number::fixed(clock.seals, 0)
                ),
                words_of_basis(clock).to_owned(),
                range(clock).to_owned(),
            ]);
        }
    }
    let share = format!(
        "at most {} fail ({} confidence)",
        number::percent(sheet.share),
        number::level(sheet.confidence)
    );
    let mut table = Table::new(
        "Replacement intervals by group",
        &[
            "group",
            "interval to state",
            &share,
            "least cost",
            "seals watched then",
            "oldest",
            "failures of seals",
            "worn removals read as",
            RANGE,
        ],
        rows,
    );
    unmarked(&mut table);
    table
}

/// Drops the last column where it marks no row.
fn unmarked(table: &mut Table) {
    let marks = |r: &Vec<String>| r.last().is_some_and(|m| !m.is_empty());
    if !table.rows.iter().any(marks) {
        table.columns.pop();
        for row in &mut table.rows {
            row.pop();
        }
    }
}

/// The same, a row a group with its clocks side by side.
pub(super) fn brief_table(results: &Results) -> Table {
    let sheet = &results.intervals;
    let each = |g: &GroupIntervals, of: &dyn Fn(&ClockIntervals) -> String, by: &str| {
        let all: Vec<String> = g.clocks.iter().map(of).collect();
        all.join(by)
    };
    let row = |name: String, g: &GroupIntervals| {
        let state = |c: &ClockIntervals| c.state.as_ref().map_or_else(|| "none".to_owned(), words);
        let then = |c: &ClockIntervals| {
            c.watched_then
                .map_or_else(|| "none".to_owned(), |n| number::fixed(n, 0))
        };
        let failed = |c: &ClockIntervals| number::fixed(c.failures, 0);
        let beyond = g.clocks.iter().any(|c| range(c) == EXTRAPOLATED);
        vec![
            name,
            each(g, &state, " or "),
            each(g, &|c| cell(&c.at_most_share), " or "),
            each(g, &|c| cell(&c.least_cost), " or "),
            each(g, &then, "; "),
            each(g, &failed, "; "),
            if beyond { EXTRAPOLATED } else { "" }.to_owned(),
        ]
    };
    let harder = shorter_whole(results);
    let rows = sheet.groups.iter().flat_map(|g| {
        let own = harder.iter().filter(|d| d.group.0.starts_with(&g.group.0));
        let own = own.map(|d| row(format!("{}{}", duty(d), seen_at(results, d)), d));
        let all: Vec<Vec<String>> = [row(g.group.words(), g)].into_iter().chain(own).collect();
        all
    });
    let share = format!("at most {} fail", number::percent(sheet.share));
    let mut table = Table::new(
        "Replacement intervals, whichever comes first: by group, and where a duty needs a shorter one",
        &[
            "group",
            "interval to state",
            &share,
            "least cost",
            "watched then",
            "failures",
            RANGE,
        ],
        rows.collect(),
    );
    unmarked(&mut table);
    table
}

/// Ages of plans that differ from what is stated here, in a sentence; `None` where none does.
pub(super) fn plans_differ(results: &Results) -> Option<String> {
    let stated = |key: &GroupKey| {
        let group = results.intervals.groups.iter().find(|g| g.group == *key)?;
        Some(group.clocks.first()?.state?.age)
    };
    let other = all(results).into_iter().filter_map(|(group, plan)| {
        let age = plan.weighed.plan.replace_at?;
        let here = stated(&group.group)?;
        ((age - here).abs() > 1.0)
            .then(|| format!("{} {}", group.group.words(), pen(results, plan).age(age)))
    });
    let other: Vec<String> = other.collect();
    (!other.is_empty()).then(|| {
        format!(
            "Who runs the equipment plans by what the estimates leave open too, and reads worn seals as sound where the log does not tell what looks find: {}.",
            other.join(", ")
        )
    })
}

fn cell(i: &Interval) -> String {
    i.rounded.as_ref().map_or_else(|| "none".to_owned(), words)
}

fn range(clock: &ClockIntervals) -> &'static str {
    let both = [&clock.at_most_share, &clock.least_cost];
    let beyond = both.iter().any(|i| i.extrapolated == Some(true));
    if clock.state.is_some() && beyond {
        EXTRAPOLATED
    } else {
        ""
    }
}

/// Why a group has no interval to state, or no age of least cost, and what to doubt.
pub(super) fn doubts(sheet: &IntervalsDocument) -> Vec<String> {
    let mut out = vec![];
    for group in &sheet.groups {
        let name = group.group.words();
        if let Some(reason) = &group.reason {
            out.push(format!("{name}: no interval; {reason}."));
        }
        for clock in &group.clocks {
            let cost = clock.least_cost.reason.as_ref().filter(|why| {
                Some(*why) != sheet.cost_reason.as_ref()
                    && Some(*why) != clock.at_most_share.reason.as_ref()
            });
            if let Some(why) = cost {
                out.push(format!(
                    "{name}, {}: no age of least cost; {why}",
                    clock.unit
                ));
            }
            if let Some(why) = clock
                .basis_reason
                .as_ref()
                .filter(|_| clock.state.is_some())
            {
                let read = match clock.basis {
                    FAILED => {
                        "failed that day, which makes the interval too short rather than too long"
                    }
                    _ => {
                        "sound until then, which makes the interval too long rather than too short"
                    }
                };
                out.push(format!(
                    "{name}, {}: seals taken off worn are read as {read}: {why}",
                    clock.unit
                ));
            }
            for doubt in &clock.warnings {
                out.push(format!("{name}, {}: {doubt}", clock.unit));
            }
        }
    }
    if let Some(why) = &sheet.cost_reason {
        out.push(format!("No ages of least cost: {why}."));
    }
    out
}
