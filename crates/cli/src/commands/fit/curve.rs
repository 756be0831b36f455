//! The curve without a family, shortened, in text.

use crate::table::table;
use sealspan_report::number;
use sealspan_report::wire::fit::{Empirical, FitDocument, Point};

pub(super) fn text(e: &Empirical, rows: usize, d: &FitDocument) -> String {
    if e.points.is_empty() {
        return "  the curve without a family has no step: no failure at an age with an end\n"
            .to_owned();
    }
    let looks = e.method == "turnbull";
    let banded = e.points.iter().any(|p| p.band_lower.is_some());
    let name = if looks {
        "interval curve (Turnbull)"
    } else {
        "product-limit curve (Kaplan and Meier)"
    };
    let shown = spread(e.points.len(), rows.max(2));
    let body: Vec<Vec<String>> = shown
        .iter()
        .filter_map(|i| e.points.get(*i))
        .map(|p| row(p, looks, banded))
        .collect();
    let mut head = vec!["age", "surviving", "at this age"];
    if looks {
        head = vec!["failures after", "and by", "surviving", "at this age"];
    }
    if banded {
        head.push("at all ages at once");
    }
    let count = if body.len() < e.points.len() {
        format!(
            "{} of {}; --format json has all",
            body.len(),
            number::counted(e.points.len() as f64, "step")
        )
    } else {
        number::counted(e.points.len() as f64, "step")
    };
    let mut out = format!(
        "  {name}, {} intervals, ages in {} ({count}):\n{}\n",
        number::level(d.confidence),
        d.unit,
        table(&head, &body)
    );
    for why in [&e.std_error_reason, &e.std_error_note]
        .into_iter()
        .flatten()
    {
        out.push_str(&format!("  standard errors: {why}\n"));
    }
    out.extend(e.ends_early.iter().map(|why| format!("  {why}\n")));
    out.push_str(&format!("  band: {}\n", e.band));
    out
}

/// Numbers of at most `rows` of `count` points, evenly spread with the first and the last.
fn spread(count: usize, rows: usize) -> Vec<usize> {
    if count <= rows {
        return (0..count).collect();
    }
    (0..rows).map(|i| i * (count - 1) / (rows - 1)).collect()
}

fn row(p: &Point, looks: bool, banded: bool) -> Vec<String> {
    let range = |lower: Option<f64>, upper: Option<f64>| match (lower, upper) {
        (Some(l), Some(u)) => format!("{} to {}", number::percent(l), number::percent(u)),
        _ => "none".to_owned(),
    };
    let mut out = vec![];
    if looks {
        out.push(p.from.map_or_else(String::new, number::tidy));
    }
    out.extend([
        number::tidy(p.time),
        number::percent(p.survival),
        range(p.lower, p.upper),
    ]);
    if banded {
        out.push(range(p.band_lower, p.band_upper));
    }
    out
}
