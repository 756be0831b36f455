//! Which levels differ: each against the rest of its strata, many looks allowed for.

use super::Cell;
use crate::family::Family;
use crate::fit::{Model, fit_terms};
use crate::regression::{Cell as Row, regress};
use crate::terms::Terms;
use rayon::prelude::*;
use sealspan_numeric::special::{chi_square_survival, normal_quantile};
use sealspan_records::observation::Sample;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// A level whose p-value, times the number of levels, is below this is left out of the others' rest.
const BEYOND_DOUBT: f64 = 0.01;

/// A level against the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Differing {
    /// Life ratio to the rest, not drawn towards 1, over the strata where some of its seals failed; `None`
    /// where there is no such stratum.
    pub ratio: Option<f64>,
    /// p-value of no difference, for this level alone; `None` where nothing can be compared.
    pub p_value: Option<f64>,
    /// The share of false discoveries among levels with so small a p-value (Benjamini & Hochberg 1995).
    pub false_discovery: Option<f64>,
}

/// One stratum's look: signed root of the likelihood ratio, weight, ln ratio.
struct Look {
    root: f64,
    weight: f64,
    ln_ratio: Option<f64>,
}

/// Tests every level. In a stratum: likelihood ratio of a shift of ln life, shape common with the rest;
/// without failures, the exact chance of none. Strata are joined by their signed roots.
#[must_use]
pub fn differing(family: &'static dyn Family, count: usize, cells: &[Cell]) -> Vec<Differing> {
    let first = against(family, count, cells, &BTreeSet::new());
    // What differs beyond doubt is no measure for the others: they are judged again without it.
    let beyond = |d: &Differing| d.p_value.is_some_and(|p| p * (count as f64) < BEYOND_DOUBT);
    let apart: BTreeSet<usize> = (0..)
        .zip(&first)
        .filter(|(_, d)| beyond(d))
        .map(|l| l.0)
        .collect();
    let mut out = if apart.is_empty() {
        first
    } else {
        against(family, count, cells, &apart)
    };
    let known: Vec<f64> = out.iter().filter_map(|d| d.p_value).collect();
    let mut shares = discoveries(&known).into_iter();
    for d in &mut out {
        d.false_discovery = d.p_value.and_then(|_| shares.next());
    }
    out
}

/// Every level against the rest, of which the levels `apart` are left out.
fn against(
    family: &'static dyn Family,
    count: usize,
    cells: &[Cell],
    apart: &BTreeSet<usize>,
) -> Vec<Differing> {
    let strata: BTreeSet<usize> = cells.iter().map(|c| c.stratum).collect();
    // One law for a level and its rest is the same for all levels that are not left out.
    let common: BTreeMap<usize, f64> = strata
        .into_par_iter()
        .filter_map(|stratum| {
            let of = |c: &&Cell| c.stratum == stratum && !apart.contains(&c.level);
            Some((stratum, together(family, cells.iter().filter(of))?))
        })
        .collect();
    let level = |level: usize| {
        let own = cells.iter().filter(|c| c.level == level);
        let looks = own.filter_map(|cell| {
            let without = (!apart.contains(&level)).then(|| common.get(&cell.stratum).copied());
            look(family, cells, cell, apart, without)
        });
        joined(looks.collect())
    };
    (0..count).into_par_iter().map(level).collect()
}

/// Log-likelihood of one law for all of some cells.
fn together<'a>(family: &'static dyn Family, cells: impl Iterator<Item = &'a Cell>) -> Option<f64> {
    let rows = cells.flat_map(|c| c.sample.rows().iter().copied());
    let terms = Arc::new(Terms::new(&Sample::new(rows.collect())));
    let fit = fit_terms(Model::free(family), &terms).ok()?;
    Some(fit.log_likelihood)
}

fn joined(looks: Vec<Look>) -> Differing {
    let squares: f64 = looks.iter().map(|l| l.weight * l.weight).sum();
    if squares <= 0.0 {
        return Differing {
            ratio: None,
            p_value: None,
            false_discovery: None,
        };
    }
    let z = looks.iter().map(|l| l.weight * l.root).sum::<f64>() / squares.sqrt();
    let known = || {
        looks
            .iter()
            .filter_map(|l| l.ln_ratio.map(|r| (l.weight * l.weight, r)))
    };
    let weight: f64 = known().map(|k| k.0).sum();
    let sum: f64 = known().map(|(w, r)| w * r).sum();
    Differing {
        ratio: (weight > 0.0).then(|| (sum / weight).exp()),
        p_value: Some(chi_square_survival(z * z, 1.0)),
        false_discovery: None,
    }
}

/// `common` is the log-likelihood of one law for the cell and its rest, where it is known whether there is one.
fn look(
    family: &'static dyn Family,
    cells: &[Cell],
    cell: &Cell,
    apart: &BTreeSet<usize>,
    common: Option<Option<f64>>,
) -> Option<Look> {
    let others = || {
        cells.iter().filter(|c| {
            c.stratum == cell.stratum && c.level != cell.level && !apart.contains(&c.level)
        })
    };
    let rest = others().flat_map(|c| c.sample.rows().iter().copied());
    let rest_terms = Arc::new(Terms::new(&Sample::new(rest.collect())));
    let own = Arc::new(Terms::new(&cell.sample));
    if rest_terms.extent.failures <= 0.0 {
        return None;
    }
    if own.extent.failures <= 0.0 {
        return none_failed(family, &own, &rest_terms);
    }
    let without = common.unwrap_or_else(|| together(family, others().chain([cell])))?;
    let names = ["intercept".to_owned(), "level".to_owned()];
    let row = |x: f64, terms: Arc<Terms>| Row {
        row: vec![1.0, x],
        terms,
    };
    let with = regress(family, &names, &[row(0.0, rest_terms), row(1.0, own)]).ok()?;
    let ln_ratio = with.x.get(1).copied()?;
    let error = with.covariance[(1, 1)].max(0.0).sqrt();
    let statistic = 2.0 * (with.log_likelihood - without);
    Some(Look {
        root: ln_ratio.signum() * statistic.max(0.0).sqrt(),
        weight: error.recip(),
        ln_ratio: Some(ln_ratio),
    })
}

/// No seal of the level failed where e were expected: as likely as e^−e.
fn none_failed(family: &'static dyn Family, own: &Terms, rest: &Arc<Terms>) -> Option<Look> {
    let fit = fit_terms(Model::free(family), rest).ok()?;
    let expected = -family.log_likelihood(&fit.theta, own);
    let chance = (-expected).exp().clamp(1e-300, 0.5);
    let sigma = match fit.theta.get(1) {
        Some(ln_sigma) if family.has_ln_scale() => ln_sigma.exp(),
        _ => 1.0,
    };
    Some(Look {
        root: -normal_quantile(chance),
        weight: expected.max(1e-9).sqrt() / sigma,
        ln_ratio: None,
    })
}

/// False discovery share at each p-value, in the order given.
#[must_use]
pub fn discoveries(p_values: &[f64]) -> Vec<f64> {
    let at = |i: &usize| p_values.get(*i).copied().unwrap_or(1.0);
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|a, b| at(b).total_cmp(&at(a)).then(b.cmp(a)));
    let n = p_values.len() as f64;
    let mut out = vec![1.0; p_values.len()];
    let mut least = 1.0_f64;
    for (below, i) in order.iter().enumerate() {
        least = least.min(at(i) * n / (n - below as f64));
        if let Some(slot) = out.get_mut(*i) {
            *slot = least;
        }
    }
    out
}
