//! What is due: seals past the plan's age, the likeliest to fail first, and what each place has before it.

use crate::document::{Block, Cell, DataTable, Table};
use crate::number::{self, NBSP};
use crate::wire::due::{Act, DueDocument, DuePlace, DueSeal};

/// Seals of the table on a page.
const SHOWN: usize = 20;

/// How many seals are past due, where most of them are, and the failures expected of them in the next month, in a sentence.
#[must_use]
pub fn sentence(d: &DueDocument) -> String {
    let sum = |of: &dyn Fn(&DuePlace) -> f64| d.places.iter().map(of).sum::<f64>();
    let (all, past) = (sum(&|p| p.seals), sum(&|p| p.past_due));
    let (expected, of_past) = (sum(&|p| p.failures), sum(&|p| p.failures_past_due));
    let aged = d.seals.iter().any(|s| s.planned_age.is_some());
    if past == 0.0 && !aged {
        return format!(
            "No part has a replacement age to be due by (a plan needs the costs of a study); of {} seals in service {} are expected to fail in the next month, the likeliest first.",
            number::fixed(all, 0),
            number::significant(expected, 2)
        );
    }
    if past == 0.0 {
        return format!(
            "None of {} seals in service is past the age of its plan.",
            number::fixed(all, 0)
        );
    }
    let several = d.places.len() > 1;
    let places = d
        .places
        .iter()
        .filter(|p| several && p.past_due > 0.0)
        .take(3);
    let places: Vec<String> = places
        .map(|p| format!("{} ({})", p.place, number::fixed(p.past_due, 0)))
        .collect();
    format!(
        "{} of {} seals in service are past the age of their plan{}. As practice goes on {} of the {} failures expected in the next month are theirs.",
        number::fixed(past, 0),
        number::fixed(all, 0),
        if several {
            format!(", most at {}", places.join(", "))
        } else {
            String::new()
        },
        number::significant(of_past, 2),
        number::significant(expected, 2)
    )
}

/// The sentence, where seals are past due.
pub(super) fn past_due(d: &DueDocument) -> Option<String> {
    let past: f64 = d.places.iter().map(|p| p.past_due).sum();
    (past > 0.0).then(|| {
        format!(
            "{} The list stands under \u{201c}What is due\u{201d}.",
            sentence(d)
        )
    })
}

/// A row a place: seals, those past due, the failures expected of these in the next month, and those due in each month after;
/// `None` without a place.
#[must_use]
pub fn by_place(d: &DueDocument) -> Option<Table> {
    let months = d.places.first()?.by_month.len();
    let rows = d.places.iter().map(|p| {
        let row = [
            p.place.clone(),
            number::fixed(p.seals, 0),
            number::fixed(p.past_due, 0),
            number::significant(p.failures_past_due, 2),
        ];
        let later = p.by_month.iter().map(|n| number::fixed(*n, 0));
        row.into_iter().chain(later).collect()
    });
    let heads = [
        "place",
        "seals",
        "past due",
        "failures expected of them next month",
    ];
    let later: Vec<String> = (1..=months).map(|m| format!("due in month {m}")).collect();
    let heads: Vec<&str> = heads
        .into_iter()
        .chain(later.iter().map(String::as_str))
        .collect();
    let day = d
        .as_of
        .as_ref()
        .map_or_else(String::new, |day| format!(" on {day}"));
    Some(Table::new(
        format!("Seals due by place{day}"),
        &heads,
        rows.collect(),
    ))
}

/// Heads of columns of words.
const WORDS: [&str; 5] = ["position", "seal", "part", "place", "urgent"];

/// The first `most` seals in the document's order, with their own names where `named`: position, chance to fail in the next
/// month with its interval, part, age in days, the day due, days past due, place, what is urgent. `None` without a seal.
#[must_use]
pub fn seals(d: &DueDocument, most: usize, named: bool) -> Option<Table> {
    let shown = d.seals.iter().take(most);
    let rows: Vec<Vec<String>> = shown.map(|s| row(s, named)).collect();
    let caption = if rows.len() < d.seals.len() {
        format!(
            "The first {} of {} seals in service: the urgent, then the past due by chance",
            rows.len(),
            d.seals.len()
        )
    } else {
        "Seals in service: the urgent, the past due by chance, the others by day".to_owned()
    };
    let fails = format!(
        "chance to fail next month ({} interval)",
        number::level(d.confidence)
    );
    let mut heads = vec![
        "position",
        &fails,
        "part",
        "age, days",
        "due",
        "days past due",
        "place",
        "urgent",
    ];
    if named {
        heads.insert(1, "seal");
    }
    let mut table = Table::new(caption, &heads, rows);
    for column in &mut table.columns {
        column.1 = !WORDS.contains(&column.0.as_str());
    }
    (!table.rows.is_empty()).then_some(table)
}

fn row(s: &DueSeal, named: bool) -> Vec<String> {
    let word = |name: &Option<String>| name.clone().unwrap_or_default();
    let position = [&s.asset, &s.position];
    let position: Vec<String> = position.into_iter().flatten().cloned().collect();
    let ends = s.fails_lower.zip(s.fails_upper).map_or_else(
        || "no interval".to_owned(),
        |(low, high)| format!("{} to {}", number::percent(low), number::percent(high)),
    );
    let mut row = vec![
        position.join(" "),
        match s.act {
            Some(_) => "not told by its age".to_owned(),
            None => format!("{} ({ends})", number::percent(s.fails.min(1.0))),
        },
        s.part.clone(),
        number::fixed(s.age, 0),
        match (s.act, &s.due_on, s.due_in) {
            (Some(act), ..) => act.words().to_owned(),
            (None, Some(day), _) => written(day),
            (None, None, Some(left)) => format!("in {} days", number::fixed(left, 0)),
            (None, None, None) => "on failure only".to_owned(),
        },
        s.due_in
            .filter(|left| *left <= 0.0)
            .map_or_else(String::new, |left| number::fixed(-left, 0)),
        s.place.clone(),
        s.urgent.join("; "),
    ];
    if named {
        row.insert(1, word(&s.seal));
    }
    row
}

/// "21 Nov 2023", on one line.
fn written(day: &str) -> String {
    let date: Result<jiff::civil::Date, _> = day.parse();
    date.map_or_else(
        |_| day.to_owned(),
        |d| {
            d.strftime("%-d %b %Y")
                .to_string()
                .replace(' ', &NBSP.to_string())
        },
    )
}

/// The engineer's part; `trusted` says how far off such forecasts were.
pub(super) fn engineer(d: &DueDocument, trusted: Option<String>, blocks: &mut Vec<Block>) {
    blocks.push(Block::Heading("What is due, and what first?".into()));
    blocks.push(Block::Answer(sentence(d)));
    blocks.extend(trusted.map(Block::Text));
    blocks.extend(by_place(d).map(Block::Table));
    blocks.extend(seals(d, SHOWN, false).map(Block::Table));
    blocks.push(Block::Text(format!(
        "{} All of them stand in `tables/due.csv`; `sealspan due STUDY` makes the list alone.",
        d.notes.join(" ")
    )));
}

/// Every seal, for a file.
#[must_use]
pub(crate) fn data(d: Option<&DueDocument>) -> DataTable {
    let row = |s: &DueSeal| -> Vec<Cell> {
        let word = |name: &Option<String>| Cell::from(name.clone().unwrap_or_default());
        vec![
            word(&s.seal),
            word(&s.asset),
            word(&s.position),
            s.place.clone().into(),
            s.part.clone().into(),
            s.count.into(),
            s.age.into(),
            s.planned_age.into(),
            s.due_in.into(),
            word(&s.due_on),
            s.urgent.join("; ").into(),
            s.act.map_or("", Act::words).to_owned().into(),
            if s.act.is_some() {
                "its age alone: too low"
            } else {
                "its age"
            }
            .to_owned()
            .into(),
            s.fails.into(),
            s.fails_lower.into(),
            s.fails_upper.into(),
        ]
    };
    let columns = [
        "seal",
        "asset",
        "position",
        "place",
        "part",
        "seals",
        "age_days",
        "planned_age_days",
        "due_in_days",
        "due_on",
        "urgent",
        "act",
        "failures_rest_on",
        "failures_next_month",
        "failures_lower",
        "failures_upper",
    ];
    let rows = d.map(|d| d.seals.iter().map(row).collect());
    super::tables::table("due", &columns, rows.unwrap_or_default())
}
