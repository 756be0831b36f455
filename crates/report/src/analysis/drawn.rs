//! Ends of the interval of values drawn.

/// The values below and above which the tails of a two-sided interval lie, by rank; `None` without values.
pub(super) fn ends(values: impl IntoIterator<Item = f64>, confidence: f64) -> Option<[f64; 2]> {
    let mut sorted: Vec<f64> = values.into_iter().collect();
    sorted.sort_by(f64::total_cmp);
    let tail = 0.5 - 0.5 * confidence;
    let at = |p: f64| {
        let rank = (p * sorted.len() as f64).ceil() as usize;
        sorted.get(rank.saturating_sub(1)).copied()
    };
    Some([at(tail)?, at(1.0 - tail)?])
}

#[cfg(test)]
mod tests {
    use super::ends;

    #[test]
    fn a_tenth_of_the_values_lies_outside() {
        let values = (1..=100).rev().map(f64::from);
        assert_eq!(ends(values, 0.9), Some([5.0, 95.0]));
        assert_eq!(ends([3.0], 0.9), Some([3.0, 3.0]));
        assert_eq!(ends([], 0.9), None);
    }
}
