//! Who was at risk and who failed, at each age with failures.

use sealspan_records::observation::{Sample, Seen};

/// At one failure age: at risk and failed, by group.
pub(crate) struct AtAge {
    pub at_risk: Vec<f64>,
    pub failed: Vec<f64>,
}

/// At risk and failed at every failure age, in order; `None` for interval data.
pub(crate) fn ages(groups: &[Sample]) -> Option<Vec<AtAge>> {
    let k = groups.len();
    let mut exits: Vec<(f64, bool, usize, f64)> = vec![];
    let mut entries: Vec<(f64, usize, f64)> = vec![];
    let mut at_risk = vec![0.0; k];
    for (g, sample) in groups.iter().enumerate() {
        for o in sample.rows() {
            match o.seen() {
                Seen::Exact(t) => exits.push((t, false, g, o.count())),
                Seen::Right(t) => exits.push((t, true, g, o.count())),
                Seen::Interval(..) => return None,
            }
            if o.entry() > 0.0 {
                entries.push((o.entry(), g, o.count()));
            } else if let Some(n) = at_risk.get_mut(g) {
                *n += o.count();
            }
        }
    }
    exits.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    entries.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut entering = entries.into_iter().peekable();
    let mut out = vec![];
    let mut exits = exits.into_iter().peekable();
    while let Some(&(time, ..)) = exits.peek() {
        while let Some((_, g, n)) = entering.next_if(|e| e.0 < time) {
            if let Some(slot) = at_risk.get_mut(g) {
                *slot += n;
            }
        }
        let (mut failed, mut left) = (vec![0.0; k], vec![0.0; k]);
        while let Some((_, censored, g, n)) = exits.next_if(|e| e.0 == time) {
            let slot = if censored {
                left.get_mut(g)
            } else {
                failed.get_mut(g)
            };
            if let Some(slot) = slot {
                *slot += n;
            }
        }
        let after: Vec<f64> = at_risk
            .iter()
            .zip(&failed)
            .zip(&left)
            .map(|((n, d), c)| n - d - c)
            .collect();
        if failed.iter().any(|d| *d > 0.0) {
            out.push(AtAge {
                at_risk: at_risk.clone(),
                failed,
            });
        }
        at_risk = after;
    }
    Some(out)
}
