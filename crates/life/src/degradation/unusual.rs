//! Seals that go another way than the rest, with the share of false alarms held down.

/// Largest expected share of false names among those named (a rule of ours).
pub const FALSE_SHARE: f64 = 0.05;

/// Positions of the p-values that stand out when at most [`FALSE_SHARE`] of those named is to be false on
/// average (Benjamini & Hochberg 1995, from memory), in the order given.
#[must_use]
pub fn stand_out(p_values: &[Option<f64>]) -> Vec<usize> {
    let mut known: Vec<(f64, usize)> = p_values
        .iter()
        .enumerate()
        .filter_map(|(i, p)| Some(((*p)?, i)))
        .collect();
    known.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let total = known.len() as f64;
    let last = known
        .iter()
        .enumerate()
        .filter(|(rank, (p, _))| *p <= FALSE_SHARE * (*rank as f64 + 1.0) / total)
        .map(|(rank, _)| rank)
        .next_back();
    let mut out: Vec<usize> = last
        .map(|last| known.iter().take(last + 1).map(|(_, i)| *i).collect())
        .unwrap_or_default();
    out.sort_unstable();
    out
}

#[cfg(test)]
mod tests {
    use super::stand_out;

    /// The step-up rule worked by hand: 0.011 ≤ 0.05 × 2/5 fails the second step (0.02 holds), third 0.028 ≤ 0.03 holds.
    #[test]
    fn the_step_up_rule_goes_to_the_last_that_holds() {
        let p = [
            Some(0.028),
            Some(0.5),
            None,
            Some(0.001),
            Some(0.0205),
            Some(0.9),
        ];
        assert_eq!(stand_out(&p), [0, 3, 4]);
        assert!(stand_out(&[Some(0.2), Some(0.3)]).is_empty());
        assert!(stand_out(&[]).is_empty());
    }
}
