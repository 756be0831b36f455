//! Forecasts held against the records' own past, in words and by day.

use crate::document::Table;
use crate::number;
use crate::wire::demand::{BackTest, BackTestRow};
use std::collections::BTreeMap;

fn held(row: &BackTestRow) -> bool {
    (row.lower as u64..=row.upper as u64).contains(&row.happened)
}

/// Rows by a part of their name.
fn by(test: &BackTest, name: fn(&BackTestRow) -> &str) -> BTreeMap<&str, Vec<&BackTestRow>> {
    let mut out: BTreeMap<&str, Vec<&BackTestRow>> = BTreeMap::new();
    for row in &test.rows {
        out.entry(name(row)).or_default().push(row);
    }
    out
}

/// What the forecasts came to: how many, for how many days, how many intervals held, failures forecast and come, and the
/// place that missed most where one missed twice or more; `confidence` is the level of their intervals.
#[must_use]
pub fn sentence(test: &BackTest, confidence: f64) -> String {
    let off = test.expected / (test.happened as f64).max(1.0) - 1.0;
    let by_how_much = if test.happened == 0 || off.abs() < 0.05 {
        String::new()
    } else {
        let way = if off > 0.0 { "many" } else { "few" };
        format!(", {} too {way}", number::percent(off.abs()))
    };
    let missed = |rows: &[&BackTestRow]| rows.iter().filter(|r| !held(r)).count();
    let places = by(test, |r| &r.place);
    let worst = places
        .iter()
        .max_by(|a, b| missed(a.1).cmp(&missed(b.1)).then(b.0.cmp(a.0)))
        .filter(|(_, rows)| missed(rows) >= 2)
        .map_or_else(String::new, |(place, rows)| {
            format!(
                " {place} has the most misses ({} of {}): seals there may not live as its factor says, see `sealspan demand STUDY --by material,site`.",
                missed(rows),
                rows.len()
            )
        });
    format!(
        "{} forecasts of failures by part and place, {} days ahead, made as of {} earlier days from what was known then: {} of their {} intervals held what came (in whole numbers they promise {}); {} failures were forecast and {} came{by_how_much}.{worst}",
        test.rows.len(),
        number::tidy(test.horizon),
        by(test, |r| &r.as_of).len(),
        number::percent(test.hit_rate),
        number::level(confidence),
        number::percent(test.promised),
        number::significant(test.expected, 3),
        test.happened
    )
}

/// How far off the later half of them was, where that is a share of `minded` or more, and what that means.
pub(super) fn latest(test: &BackTest, minded: f64) -> Option<[String; 2]> {
    let days = by(test, |r| &r.as_of);
    let half = days.len().div_ceil(2);
    let later = days.values().skip(days.len() - half).flatten();
    let (forecast, came) = later.fold((0.0, 0), |sum, r| (sum.0 + r.expected, sum.1 + r.happened));
    let off = forecast / (came as f64).max(1.0) - 1.0;
    if days.len() < 2 || off.abs() < minded {
        return None;
    }
    let (way, side) = if off > 0.0 {
        ("many", "fewer")
    } else {
        ("few", "more")
    };
    Some([
        format!(
            "; the latest {half} of the {} were {} too {way} ({} forecast, {came} came)",
            days.len(),
            number::percent(off.abs()),
            number::significant(forecast, 3)
        ),
        format!(
            ": failures have become {side} than these laws say, and today's cost and the saving may be off with them"
        ),
    ])
}

/// The same day by day.
#[must_use]
pub(crate) fn table(test: &BackTest) -> Table {
    let days = by(test, |r| &r.as_of);
    let rows = days.iter().map(|(day, rows)| {
        let within = rows.iter().filter(|r| held(r)).count();
        vec![
            (*day).to_owned(),
            number::significant(rows.iter().map(|r| r.expected).sum::<f64>(), 3),
            rows.iter().map(|r| r.happened).sum::<u64>().to_string(),
            format!("{within} of {}", rows.len()),
        ]
    });
    Table::new(
        format!(
            "Forecasts of the failures in the {} days after, from what was known on the day",
            number::tidy(test.horizon)
        ),
        &["as of", "forecast", "came", "intervals that held"],
        rows.collect(),
    )
}
