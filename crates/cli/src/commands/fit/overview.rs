//! All groups in one table, with their curves in small.

use crate::spark::bars;
use crate::table::table;
use sealspan_report::number;
use sealspan_report::wire::fit::{FitDocument, GroupFit, Point};

/// Bars of a curve.
const BARS: u32 = 24;

/// Groups side by side; nothing for one group alone or without failures.
pub(super) fn text(d: &FitDocument) -> String {
    let last = d.groups.iter().flat_map(|g| &g.empirical.points);
    let end = last.map(|p| p.time).fold(0.0, f64::max);
    if d.groups.len() < 2 || end <= 0.0 {
        return String::new();
    }
    let rows: Vec<Vec<String>> = d.groups.iter().map(|g| row(g, end)).collect();
    let curve = format!("still sound, 0 to {} {}", number::tidy(end), d.unit);
    format!(
        "\n{}\n  each bar: a 24th of that time; a full one: all sound; a dot: after the group's last failure\n",
        table(&["group", "seals", "failed", &curve], &rows)
    )
}

fn row(g: &GroupFit, end: f64) -> Vec<String> {
    let c = &g.counts;
    let ages = (1..=BARS).map(|i| end * f64::from(i) / f64::from(BARS));
    vec![
        g.group.words(),
        number::fixed(c.total, 0),
        number::fixed(c.exact + c.left + c.interval, 0),
        bars(ages.map(|age| sound(&g.empirical.points, age)), 1.0),
    ]
}

/// Share still sound at an age, as far as failures were seen.
fn sound(points: &[Point], age: f64) -> Option<f64> {
    let last = points.last()?;
    let before = points.iter().rev().find(|p| p.time <= age);
    (age <= last.time).then(|| before.map_or(1.0, |p| p.survival))
}
