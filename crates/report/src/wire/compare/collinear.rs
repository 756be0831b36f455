//! Columns that go together in the records, so that the effect of one is blurred by another.

use super::options::CompareOptions;
use super::plan::Plan;
use crate::number;
use sealspan_life::regression::{Blurs, Regression};
use serde::Serialize;

/// An interval at least so many times as wide as without the other columns is spoken of: half the precision is lost
/// (a rule of ours; a variance inflation of 4).
const SPOKEN_OF: f64 = 2.0;

/// How far the columns of a regression go together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Collinearity {
    /// Condition number of the standardised design, weighed by its information.
    pub condition_number: f64,
    /// Column by column, the most blurred first.
    pub columns: Vec<BlurredColumn>,
    /// In sentences; empty where no effect is blurred much.
    pub words: Vec<String>,
}

/// How far one column's effect is blurred.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BlurredColumn {
    /// The column.
    pub column: String,
    /// Times as wide as its interval would be if no other column went with it: the generalised variance inflation to
    /// the power 1/(2 coefficients).
    pub times_as_wide: f64,
    /// The columns that blur it, the worst first.
    pub blurred_by: Vec<String>,
}

/// How far the columns go together; `None` with fewer than two, or with interactions between all of them, whose
/// products go with their parts by their making.
pub fn collinearity(
    plan: &Plan,
    fit: &Regression,
    options: &CompareOptions,
) -> Option<Collinearity> {
    let crossed = |column: &String| {
        let mut pairs = options.more.interactions.iter();
        let eyring = options.more.eyring.iter();
        let mut eyring = eyring.filter_map(|(heat, stress)| Some((heat, stress.as_ref()?)));
        pairs.any(|(a, b)| a == column || b == column)
            || eyring.any(|(a, b)| a == column || b == column)
    };
    let terms: Vec<_> = plan
        .terms
        .iter()
        .filter(|t| !t.coefficients.is_empty() && !crossed(&t.column))
        .collect();
    let mut names: Vec<&str> = vec![];
    let mut places: Vec<Vec<usize>> = vec![];
    for t in terms {
        let own = t.first..t.first + t.coefficients.len();
        // Two terms of one stress go together by their making: they are told as one column.
        match names.iter().position(|n| *n == t.column) {
            Some(at) => places
                .iter_mut()
                .skip(at)
                .take(1)
                .for_each(|p| p.extend(own.clone())),
            None => {
                names.push(&t.column);
                places.push(own.collect());
            }
        }
    }
    let blurs = fit.blurs(&places)?;
    Some(told(&blurs, &names))
}

fn told(blurs: &Blurs, names: &[&str]) -> Collinearity {
    let name = |at: &usize| names.get(*at).map_or(String::new(), |n| (*n).to_owned());
    let mut columns: Vec<BlurredColumn> = blurs
        .terms
        .iter()
        .enumerate()
        .map(|(at, b)| BlurredColumn {
            column: name(&at),
            times_as_wide: b.width,
            blurred_by: b.by.iter().map(name).collect(),
        })
        .collect();
    columns.sort_by(|a, b| b.times_as_wide.total_cmp(&a.times_as_wide));
    Collinearity {
        condition_number: blurs.condition,
        words: words(&columns, blurs.condition),
        columns,
    }
}

fn words(columns: &[BlurredColumn], condition: f64) -> Vec<String> {
    let blurred = columns.iter().filter(|c| c.times_as_wide >= SPOKEN_OF);
    let mut out: Vec<String> = blurred
        .map(|c| {
            let by: Vec<String> = c.blurred_by.iter().map(|b| format!("`{b}`")).collect();
            format!(
                "`{}` and {} can hardly be told apart in these records: the effect of `{0}` is blurred, its interval {} times as wide as if they did not go together",
                c.column,
                by.join(", "),
                number::significant(c.times_as_wide, 2)
            )
        })
        .collect();
    if !out.is_empty() {
        out.push(format!(
            "so trust the effect of none of these by itself (condition number {}); lives at conditions that were seen together (--predict) are not blurred. Seals that have one without the other would tell, or leaving a column out that is known to do nothing",
            number::significant(condition, 2)
        ));
    }
    out
}
