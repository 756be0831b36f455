//! Errors of the coefficients under gamma frailty: the inverse of the penalised information of (β, ω), of
//! which the part of β is kept; θ is taken as known.

use super::data::{Line, NoHazards, Prepared, Stratum};
use super::frailty::State;
use super::partial::{Ties, derivatives};
use nalgebra::{DMatrix, DVector};
use std::collections::BTreeMap;

/// Lives × (columns + clusters)² beyond which the information is not written out.
const MOST: f64 = 2e9;

/// Covariance of the standardised coefficients.
pub(super) fn covariance(
    data: &Prepared,
    ties: Ties,
    theta: f64,
    state: &State,
) -> Result<DMatrix<f64>, String> {
    let p = data.columns();
    let j = if theta > 0.0 { data.clusters } else { 0 };
    let lives: usize = data.strata.iter().map(|s| s.lines.len()).sum();
    if lives as f64 * ((p + j) as f64).powi(2) > MOST {
        return Err(format!(
            "errors under frailty are not worked out for {lives} rows in {j} clusters; see the errors by cluster"
        ));
    }
    let wide = widened(data, j);
    let at = DVector::from_iterator(
        p + j,
        state.beta.iter().chain(state.omega.iter().take(j)).copied(),
    );
    let mut information = derivatives(&wide, ties, &at, &[]).information;
    for (k, omega) in state.omega.iter().take(j).enumerate() {
        information[(p + k, p + k)] += omega.exp() / theta;
    }
    let inverse = information
        .cholesky()
        .ok_or_else(|| NoHazards::NotReached { slope: 0.0 }.to_string())?
        .inverse();
    Ok(inverse.view((0, 0), (p, p)).into_owned())
}

/// The same lives with a column for each of the first `j` clusters.
fn widened(data: &Prepared, j: usize) -> Prepared {
    let p = data.columns();
    let mut design = vec![];
    let mut rows: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    let strata = data
        .strata
        .iter()
        .map(|s| {
            let widen = |line: &Line| {
                let next = rows.len();
                let at = *rows.entry((line.design, line.cluster)).or_insert_with(|| {
                    design.extend_from_slice(data.row(line));
                    design.extend((0..j).map(|k| f64::from(u8::from(k == line.cluster))));
                    next
                });
                Line {
                    design: at,
                    ..*line
                }
            };
            Stratum {
                lines: s.lines.iter().map(widen).collect(),
                entries: s.entries.clone(),
            }
        })
        .collect();
    Prepared {
        names: vec![String::new(); p + j],
        design,
        strata,
        ..data.clone()
    }
}
