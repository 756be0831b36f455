//! Question 1: how long do seals last?
//!
//! Where the law is contradicted by its own records the ages without a law lead, and what the law says stands behind them.

use super::words::{estimate, failures, first, median, usable};
use crate::analysis::run::Results;
use crate::number::{self, Unit};
use crate::wire::Number;
use crate::wire::fit::{GroupFit, Point};
use sealspan_life::laws::by_name;

/// The answer.
pub(super) fn how_long(results: &Results) -> Option<String> {
    match without_law(results).filter(|_| doubted(results)) {
        Some(groups) => compared(results, groups, ", without assuming a law"),
        None => compared(results, by_law(results), ""),
    }
}

/// What the law says, where the answer does without it; else the ages without a law, where some law is in doubt.
pub(super) fn beside(results: &Results) -> Option<String> {
    let poor = |g: &&GroupFit| usable(g).is_some_and(|f| f.poor_fit.is_some());
    let doubted: Vec<&GroupFit> = results.fit.groups.iter().filter(poor).collect();
    if doubted.is_empty() {
        return None;
    }
    if without_law(results).is_some() {
        let law = doubted.iter().find_map(|g| by_name(first(g)?.family));
        let told: Vec<String> = by_law(results)
            .iter()
            .map(|(group, age, _)| {
                format!("{} {}", group.group.words(), number::significant(*age, 3))
            })
            .collect();
        return Some(format!(
            "The {} law puts these ages, in {}, at {}, but does not suit the records of {} well{}.",
            law.map_or("fitted", |f| f.title()),
            results.unit,
            told.join(", "),
            names(&doubted),
            worn(results)
        ));
    }
    let told: Vec<String> = doubted
        .iter()
        .filter_map(|g| Some(format!("{} {}", g.group.words(), middle(g)?.cell(results))))
        .collect();
    (!told.is_empty()).then(|| {
        format!(
            "The law behind these ages does not suit all records well; without a law half have failed by, in {}: {}.",
            results.unit,
            told.join(", ")
        )
    })
}

/// The longest-lived group against the first to go, from a group, the age by which half have failed, and that in words.
fn compared(
    results: &Results,
    mut groups: Vec<(&GroupFit, f64, String)>,
    how: &str,
) -> Option<String> {
    groups.sort_by(|a, b| b.1.total_cmp(&a.1));
    Some(match groups.as_slice() {
        [] => few(results),
        [(group, _, age)] => {
            format!("Half of {} have failed by {age}{how}.", group.group.words())
        }
        [(long, _, age), .., (short, _, least)] => format!(
            "{} seals last longest: half have failed by {age}{how}. {} seals are the first to go: {least}.",
            long.group.words(),
            short.group.words()
        ),
    })
}

fn doubted(results: &Results) -> bool {
    let mut fits = results.fit.groups.iter().filter_map(usable);
    fits.any(|f| f.poor_fit.is_some())
}

fn by_law(results: &Results) -> Vec<(&GroupFit, f64, String)> {
    let groups = results.fit.groups.iter();
    let one = |group| {
        let n: &Number = median(group)?;
        let words = estimate(n, results.confidence, Unit::word(results.unit)).sentence();
        Some((group, n.estimate?, words))
    };
    groups.filter_map(one).collect()
}

/// The same without a law; `None` where the curve of a group that has a law does not come down to a half.
fn without_law(results: &Results) -> Option<Vec<(&GroupFit, f64, String)>> {
    let groups = results.fit.groups.iter().filter(|g| median(g).is_some());
    let one = |group| {
        let middle = middle(group)?;
        Some((group, middle.age, middle.sentence(results)))
    };
    groups.map(one).collect()
}

/// Age at which the curve without a law first has half failed, with the ends of its interval.
struct Middle {
    age: f64,
    low: Option<f64>,
    high: Option<f64>,
}

fn middle(group: &GroupFit) -> Option<Middle> {
    let points = &group.empirical.points;
    let first = |of: &dyn Fn(&Point) -> Option<f64>| -> Option<f64> {
        let below = points.iter().find(|p| of(p).is_some_and(|s| s <= 0.5));
        below.map(|p| p.time)
    };
    Some(Middle {
        age: first(&|p| Some(p.survival))?,
        low: first(&|p| p.lower),
        high: first(&|p| p.upper),
    })
}

impl Middle {
    /// "659 days (90 % confidence interval 632 to 753)".
    fn sentence(&self, results: &Results) -> String {
        self.with(
            &format!(" {}", results.unit),
            &format!("{} confidence interval ", number::level(results.confidence)),
            results.confidence,
        )
    }

    /// "659 (632 to 753)".
    fn cell(&self, results: &Results) -> String {
        self.with("", "", results.confidence)
    }

    fn with(&self, unit: &str, kind: &str, level: f64) -> String {
        let age = |x: f64| number::significant(x, 3);
        let ends = match (self.low, self.high) {
            (Some(low), Some(high)) => format!("{kind}{} to {}", age(low), age(high)),
            (Some(low), None) => format!(
                "at least {} with {} confidence",
                age(low),
                number::level(0.5 + 0.5 * level)
            ),
            _ => "no interval: its curve does not come down far enough".to_owned(),
        };
        format!("{}{unit} ({ends})", age(self.age))
    }
}

fn names(groups: &[&GroupFit]) -> String {
    let all: Vec<String> = groups.iter().map(|g| g.group.words()).collect();
    match all.as_slice() {
        [rest @ .., last] if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => all.concat(),
    }
}

/// That seals taken off worn count as sound until then, where there are any.
fn worn(results: &Results) -> String {
    let worn = results.check.outcomes.get("worn").copied().unwrap_or(0);
    if worn == 0 {
        return String::new();
    }
    format!(
        "; by either, {} seals taken off worn count as sound up to that day: left alone, seals fail sooner than these ages say",
        number::count(worn)
    )
}

/// What can be said when no group has a life estimate.
fn few(results: &Results) -> String {
    let bound = results.all.assumed_shapes.first();
    match bound {
        Some(b) => format!(
            "There are too few failures ({:.0}) for a life estimate. If seals failed at random, their mean life would be at least {} {} with {} confidence.",
            failures(&results.all),
            number::significant(b.mean_lower, 3),
            results.unit,
            number::level(b.one_sided_confidence)
        ),
        None => "There is no life estimate: see the evidence for the reason.".to_owned(),
    }
}
