//! Lower bounds under shapes taken as known, in text.

use crate::table::table;
use sealspan_report::number;
use sealspan_report::wire::fit::{AssumedShape, FitDocument};

pub(super) fn text(shapes: &[AssumedShape], d: &FitDocument) -> String {
    let Some(first) = shapes.first() else {
        return String::new();
    };
    let quantiles = first.quantiles.iter();
    let head: Vec<String> = ["shape", "taken from", "characteristic life, at least"]
        .into_iter()
        .map(str::to_owned)
        .chain(quantiles.map(|q| format!("{} failed by, at least", number::level(q.p))))
        .chain(["mean life, at least".to_owned()])
        .chain(
            first
                .survival
                .iter()
                .map(|s| format!("surviving {} {}, at least", number::tidy(s.time), d.unit)),
        )
        .chain(first.remaining.iter().map(|r| {
            format!(
                "{} of those aged {} {} fail within, at least",
                number::level(r.p),
                number::tidy(r.age),
                d.unit
            )
        }))
        .collect();
    let head: Vec<&str> = head.iter().map(String::as_str).collect();
    let rows: Vec<Vec<String>> = shapes.iter().map(row).collect();
    format!(
        "  with fewer than 5 failures no shape is trusted; {} lower bounds (one-sided) of life in {} if the shape were known (watching taken to end at a stated time):\n{}\n",
        number::level(first.one_sided_confidence),
        d.unit,
        table(&head, &rows)
    )
}

fn row(a: &AssumedShape) -> Vec<String> {
    let life = |x: f64| number::significant(x, 3);
    let quantiles = a.quantiles.iter().map(|q| life(q.lower));
    [
        number::significant(a.shape, 2),
        a.source.to_owned(),
        life(a.scale_lower),
    ]
    .into_iter()
    .chain(quantiles)
    .chain([life(a.mean_lower)])
    .chain(a.survival.iter().map(|s| number::percent(s.lower)))
    .chain(a.remaining.iter().map(|r| life(r.lower)))
    .collect()
}
