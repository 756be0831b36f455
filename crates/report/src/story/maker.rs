//! The maker's page: recommended intervals with their confidence and their limits.

use super::words;
use crate::analysis::run::Results;
use crate::cautions;
use crate::document::{Block, Page, Table};
use crate::number;
use crate::wire::fit::GroupFit;

/// The page.
pub fn page(results: &Results) -> Page {
    let mut blocks = vec![Block::Heading("Recommended replacement intervals".into())];
    let confidence = number::level(0.5 + 0.5 * results.confidence);
    let sure = results
        .fit
        .groups
        .iter()
        .filter_map(|g| Some((g, safe(g)?)))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    blocks.push(Block::Answer(match sure {
        Some((group, age)) => format!(
            "Of the groups seen, {} allows the longest interval: with {confidence} confidence at most one seal in ten fails within {}.",
            group.group.words(),
            calendar(age, results.unit)
        ),
        None => "No interval can be recommended: no group has a bound on its life.".into(),
    }));
    blocks.push(Block::Table(table(results, &confidence)));
    blocks.push(Block::Text(format!(
        "The first interval is the {confidence} lower confidence bound of the age by which one in ten has failed; the second is the age of least cost at this study's prices. Both are rounded down to a service calendar. They hold for the conditions in these records; heat, medium or duty beyond them need their own records or tests."
    )));
    blocks.push(Block::Text(
        "Counted here is the age in service. Whichever comes first of this age, the maker's limit and a defect found at an inspection ends a seal's time.".into(),
    ));
    blocks.push(Block::Cautions(cautions::all()));
    Page {
        id: "maker".into(),
        title: "For the maker".into(),
        reader: "Intervals to recommend, how sure they are, and how far they were tested.".into(),
        blocks,
    }
}

/// Lower bound of the B10 life of a group.
fn safe(group: &GroupFit) -> Option<f64> {
    let fitted = words::tenth(group)
        .filter(|n| n.estimate.is_some())
        .and_then(|n| n.lower);
    let assumed = || {
        let first = group.assumed_shapes.first()?;
        first.quantiles.iter().find(|q| q.p == 0.1).map(|q| q.lower)
    };
    fitted.or_else(assumed)
}

fn table(results: &Results, confidence: &str) -> Table {
    let rows = results
        .fit
        .groups
        .iter()
        .zip(&results.lives)
        .map(|(group, life)| {
            let best = results.care.found().and_then(|care| {
                let own = care.groups.iter().find(|g| g.group == group.group)?;
                own.block.as_ref()?.replace.age
            });
            let oldest = life.sample.oldest();
            let bound = safe(group);
            let beyond = [bound, best].into_iter().flatten().any(|age| age > oldest);
            let text = |age: Option<f64>, none: &str| {
                age.map_or_else(|| none.to_owned(), |age| calendar(age, results.unit))
            };
            vec![
                group.group.words(),
                text(bound, "no bound"),
                text(best, "on failure, or no advice"),
                format!("{} {}", number::fixed(oldest, 0), results.unit),
                number::fixed(words::failures(group), 0),
                if beyond {
                    "extrapolated"
                } else {
                    "within what was seen"
                }
                .to_owned(),
            ]
        })
        .collect();
    Table::new(
        "Replacement intervals by group",
        &[
            "group",
            &format!("at most 1 in 10 fail ({confidence} confidence)"),
            "least cost",
            "oldest seal seen",
            "failures seen",
            "range",
        ],
        rows,
    )
}

const DAYS_PER_WEEK: f64 = 7.0;
const DAYS_PER_MONTH: f64 = 365.25 / 12.0;

/// An age rounded down to whole months above a quarter, whole weeks below; days below a week; other
/// clocks to two significant digits, down.
pub fn calendar(age: f64, unit: &str) -> String {
    let plural = |n: f64, word: &str| {
        format!(
            "{} {word}{}",
            number::fixed(n, 0),
            if n == 1.0 { "" } else { "s" }
        )
    };
    if unit != "days" {
        let step = 10f64.powf(age.log10().floor() - 1.0);
        return format!(
            "{} {unit}",
            number::significant((age / step).floor() * step, 2)
        );
    }
    if age >= 3.0 * DAYS_PER_MONTH {
        plural((age / DAYS_PER_MONTH).floor(), "month")
    } else if age >= DAYS_PER_WEEK {
        plural((age / DAYS_PER_WEEK).floor(), "week")
    } else {
        plural(age.floor(), "day")
    }
}

#[cfg(test)]
mod tests {
    use super::calendar;

    #[test]
    fn rounds_down_to_a_calendar() {
        assert_eq!(calendar(364.0, "days"), "11 months");
        assert_eq!(calendar(366.0, "days"), "12 months");
        assert_eq!(calendar(20.9, "days"), "2 weeks");
        assert_eq!(calendar(7.0, "days"), "1 week");
        assert_eq!(calendar(1.9, "days"), "1 day");
        assert_eq!(calendar(1290.0, "cycles"), "1,200 cycles");
    }
}
