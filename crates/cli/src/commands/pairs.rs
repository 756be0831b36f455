//! Pairs of levels for reading: each in a sentence while they are few; a line for each level when they are many.

use crate::table::table;
use sealspan_report::number;
use sealspan_report::wire::compare::{CompareDocument, LifeRatio};
use sealspan_report::wire::pairwise::Pairwise;

/// Pairs that are told one by one: six levels.
const MOST: usize = 15;
/// Pairs named below the table of levels.
const NAMED: usize = 5;

/// The pairs of a comparison.
pub fn pairs(d: &CompareDocument) -> String {
    match &d.pairwise {
        _ if d.life_ratios.is_empty() => String::new(),
        Some(all) if d.life_ratios.len() > MOST => many(d, all),
        _ => few(d),
    }
}

/// Every pair in a sentence.
fn few(d: &CompareDocument) -> String {
    let mut out = String::from("how many times as long\n");
    for r in &d.life_ratios {
        out.push_str(&sentence(d, r));
    }
    out.push('\n');
    out
}

fn sentence(d: &CompareDocument, r: &LifeRatio) -> String {
    let width = r.upper - r.lower;
    let n = d.life_ratios.len();
    let all = d.pairwise.as_ref().filter(|_| n > 1);
    let own = all.and_then(|a| a.pairs.iter().find(|p| p.of == r.of && p.to == r.to));
    let together = own.map_or_else(String::new, |p| {
        format!(
            ", {} allowing for all {n} pairs",
            number::p_value(p.holm_p_value)
        )
    });
    let robust = match (r.robust_lower, r.robust_upper, r.robust_p_value) {
        (Some(l), Some(u), Some(p)) => format!(
            "; robust {} to {}, {}",
            number::to_width(l, width),
            number::to_width(u, width),
            number::p_value(p)
        ),
        _ => String::new(),
    };
    format!(
        "  {} lasts {} times as long as {} ({} confidence interval {} to {}; {}{together}{robust})\n",
        r.of,
        number::to_width(r.estimate, width),
        r.to,
        number::level(d.confidence),
        number::to_width(r.lower, width),
        number::to_width(r.upper, width),
        number::p_value(r.p_value)
    )
}

/// A level against the base, and how many others it is told apart from.
struct Level<'a> {
    name: &'a str,
    base: Option<&'a LifeRatio>,
    outlives: usize,
    outlived: usize,
}

impl Level<'_> {
    fn life(&self) -> f64 {
        self.base.map_or(1.0, |r| r.estimate)
    }
}

/// The levels, longest life first; the first of the pairs is over the base.
fn levels<'a>(d: &'a CompareDocument, all: &Pairwise, alpha: f64) -> Vec<Level<'a>> {
    let Some(base) = d.life_ratios.first().map(|r| r.to.as_str()) else {
        return vec![];
    };
    let others = d.life_ratios.iter().filter(|r| r.to == base);
    let mut out: Vec<Level<'a>> = std::iter::once((base, None))
        .chain(others.map(|r| (r.of.as_str(), Some(r))))
        .map(|(name, base)| {
            let apart = all.pairs.iter().filter(|p| p.holm_p_value <= alpha);
            let (mut outlives, mut outlived) = (0, 0);
            for pair in apart {
                if pair.of == name || pair.to == name {
                    let longer = (pair.of == name) == (pair.estimate > 1.0);
                    outlives += usize::from(longer);
                    outlived += usize::from(!longer);
                }
            }
            Level {
                name,
                base,
                outlives,
                outlived,
            }
        })
        .collect();
    out.sort_by(|a, b| b.life().total_cmp(&a.life()).then(a.name.cmp(b.name)));
    out
}

/// A line for each level, and the pairs that lie farthest apart.
fn many(d: &CompareDocument, all: &Pairwise) -> String {
    let alpha = 1.0 - d.confidence;
    let levels = levels(d, all, alpha);
    let base = d.life_ratios.first().map_or("", |r| r.to.as_str());
    let rows: Vec<Vec<String>> = levels
        .iter()
        .map(|l| {
            let (life, ends) = l.base.map_or_else(
                || ("1".to_owned(), "the base".to_owned()),
                |r| {
                    let width = r.upper - r.lower;
                    let write = |x: f64| number::to_width(x, width);
                    (
                        write(r.estimate),
                        format!("{} to {}", write(r.lower), write(r.upper)),
                    )
                },
            );
            vec![
                l.name.to_owned(),
                life,
                ends,
                l.outlives.to_string(),
                l.outlived.to_string(),
            ]
        })
        .collect();
    let life = format!("life, times that of {base}");
    let head = ["level", &life, "interval", "outlives", "outlived by"];
    let apart = all.pairs.iter().filter(|p| p.holm_p_value <= alpha).count();
    let n = all.pairs.len();
    let mut out = format!(
        "how many times as long, longest life first\n{}\n  outlives, outlived by: levels told apart from it, allowing for all {n} pairs at {} (Holm); {}\n",
        table(&head, &rows),
        number::percent(alpha),
        match apart {
            0 => "no pair is".to_owned(),
            1 => "one pair is".to_owned(),
            m => format!("{} pairs are", number::count(m as u64)),
        }
    );
    let mut farthest: Vec<&LifeRatio> = d
        .life_ratios
        .iter()
        .filter(|r| {
            let own = all.pairs.iter().find(|p| p.of == r.of && p.to == r.to);
            own.is_some_and(|p| p.holm_p_value <= alpha)
        })
        .collect();
    farthest.sort_by(|a, b| b.estimate.ln().abs().total_cmp(&a.estimate.ln().abs()));
    if !farthest.is_empty() {
        out.push_str("  farthest apart of those:\n");
    }
    for r in farthest.iter().take(NAMED) {
        out.push_str(&sentence(d, r));
    }
    out.push_str("  every pair: --format json, or tables/life-ratios.csv with --out FOLDER\n\n");
    out
}
