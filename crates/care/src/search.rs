//! Searches along one positive number: all valleys on a logarithmic grid, then argmin in each. No
//! single valley is assumed.

use sealspan_numeric::optimise::minimise_bracketed;
use sealspan_numeric::roots::bracketed;

/// A local minimum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Valley {
    pub at: f64,
    pub value: f64,
}

/// Relative step that argmin refines to.
const REFINED: f64 = 1e-10;
/// Steps of the outward search for the edge of a zone, as a factor.
const ZONE_STEP: f64 = 1.08;

/// Evenly spaced points in the logarithm.
pub(crate) fn grid(low: f64, high: f64, points: usize) -> Vec<f64> {
    let last = points.max(2) - 1;
    (0..=last)
        .map(|i| low * (high / low).powf(i as f64 / last as f64))
        .collect()
}

/// The lowest `keep` valleys of `f` between `low` and `high`, refined; an end counts as one when it is
/// lower than its neighbour. Deepest first; empty when no value is finite.
pub(crate) fn valleys(
    f: &dyn Fn(f64) -> f64,
    (low, high): (f64, f64),
    points: usize,
    keep: usize,
) -> Vec<Valley> {
    let ages = grid(low, high, points);
    let values: Vec<f64> = ages.iter().map(|x| f(*x)).collect();
    let around = |i: usize| -> Option<(f64, f64, f64, f64, f64)> {
        let before = i.checked_sub(1);
        let value = |j: Option<usize>| {
            j.and_then(|j| values.get(j))
                .copied()
                .unwrap_or(f64::INFINITY)
        };
        let age = |j: Option<usize>| j.and_then(|j| ages.get(j)).copied();
        let here = age(Some(i))?;
        Some((
            age(before).unwrap_or(here),
            here,
            age(Some(i + 1)).unwrap_or(here),
            value(before),
            value(Some(i + 1)),
        ))
    };
    let mut found: Vec<(Valley, f64, f64)> = values
        .iter()
        .enumerate()
        .filter(|(_, value)| value.is_finite())
        .filter_map(|(i, value)| {
            let (left, here, right, before, after) = around(i)?;
            let valley = Valley {
                at: here,
                value: *value,
            };
            (*value <= before && *value <= after).then_some((valley, left, right))
        })
        .collect();
    found.sort_by(|a, b| a.0.value.total_cmp(&b.0.value));
    found.truncate(keep);
    let mut refined: Vec<Valley> = found
        .into_iter()
        .map(|(valley, left, right)| refine(f, valley, left, right))
        .collect();
    refined.sort_by(|a, b| a.value.total_cmp(&b.value));
    refined
}

/// The least of `f` between `left` and `right`, no worse than the valley given.
pub(crate) fn refine(f: &dyn Fn(f64) -> f64, valley: Valley, left: f64, right: f64) -> Valley {
    if right <= left {
        return valley;
    }
    let (ln, value) = minimise_bracketed(|ln: f64| f(ln.exp()), left.ln(), right.ln(), REFINED);
    if value < valley.value {
        Valley {
            at: ln.exp(),
            value,
        }
    } else {
        valley
    }
}

/// The stretch around `at` where `f` stays within `ceiling`; a side that is open up to the bound is
/// `None`.
pub(crate) fn zone(
    f: &dyn Fn(f64) -> f64,
    at: f64,
    ceiling: f64,
    (low, high): (f64, f64),
) -> (Option<f64>, Option<f64>) {
    let over = |ln: f64| {
        let value = f(ln.exp());
        if value.is_finite() {
            value - ceiling
        } else {
            f64::MAX
        }
    };
    let side = |factor: f64, end: f64| {
        let mut inside = at;
        while (factor > 1.0 && inside < end) || (factor < 1.0 && inside > end) {
            let next = inside * factor;
            if over(next.ln()) > 0.0 {
                return bracketed(over, inside.ln(), next.ln(), 1e-9).map(f64::exp);
            }
            inside = next;
        }
        None
    };
    (side(1.0 / ZONE_STEP, low), side(ZONE_STEP, high))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The deeper of two valleys is found, and the zone around it.
    #[test]
    fn two_valleys() {
        let f = |x: f64| {
            let ln = x.ln();
            (0.3 * (ln - 1.0).powi(2)).min((ln - 4.0).powi(2) - 0.5) + 2.0
        };
        let found = valleys(&f, (0.5, 200.0), 40, 3);
        assert_eq!(found.len(), 2);
        assert!(
            found
                .iter()
                .map(|v| v.at.ln())
                .zip([4.0, 1.0])
                .all(|(a, b)| (a - b).abs() < 1e-4)
        );
        let (low, high) = zone(&f, 4f64.exp(), 1.54, (0.5, 200.0));
        assert!(low.is_some_and(|x| (x.ln() - 3.8).abs() < 1e-6));
        assert!(high.is_some_and(|x| (x.ln() - 4.2).abs() < 1e-6));
    }
}
