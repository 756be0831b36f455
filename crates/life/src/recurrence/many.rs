//! Many tests at once: the share of false alarms among those flagged.
//!
//! ```
//! use sealspan_life::recurrence::many::worth_testing;
//! // Two of three tests could reach 0.05/2 at best; the third never could, and costs the others nothing.
//! assert_eq!(worth_testing(&[0.001, 0.02, 0.4], 0.05), [true, true, false]);
//! ```

/// p-values adjusted so that flagging all at or below q keeps the expected share of false alarms at or
/// below q (Benjamini & Hochberg 1995; from memory), in the order given.
///
/// ```
/// let adjusted = sealspan_life::recurrence::many::false_discovery(&[0.01, 0.5, 0.02]);
/// assert_eq!(adjusted, [0.03, 0.5, 0.03]);
/// ```
#[must_use]
pub fn false_discovery(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    let value = |i: usize| p.get(i).copied().unwrap_or(1.0);
    order.sort_by(|a, b| value(*a).total_cmp(&value(*b)).then(a.cmp(b)));
    let mut adjusted = vec![1.0; p.len()];
    let mut least = 1.0_f64;
    for (rank, i) in order.iter().enumerate().rev() {
        least = least.min(value(*i) * p.len() as f64 / (rank as f64 + 1.0));
        if let Some(slot) = adjusted.get_mut(*i) {
            *slot = least;
        }
    }
    adjusted
}

/// Which tests take part in the correction, given the least p-value each could have had: those that could
/// never be flagged are left out (Tarone 1990; Gilbert 2005, Applied Statistics 54:143, from memory).
/// The choice looks at the counts of events only, not at the outcome, so the level is kept.
#[must_use]
pub fn worth_testing(least: &[f64], level: f64) -> Vec<bool> {
    let able = |k: usize| least.iter().filter(|p| **p <= level / k as f64).count();
    let k = (1..=least.len().max(1))
        .find(|k| able(*k) <= *k)
        .unwrap_or(1);
    least.iter().map(|p| *p <= level / k as f64).collect()
}
