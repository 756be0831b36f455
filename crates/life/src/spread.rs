//! Weights spread over the cells of a grid, so that distribution functions have no steps.

/// A weight spread like the sum of two uniform laws, of these half widths, around a value.
pub(crate) struct Spread {
    pub(crate) value: f64,
    pub(crate) wide: f64,
    pub(crate) narrow: f64,
    pub(crate) weight: f64,
}

impl Spread {
    /// Weight at or below `x`.
    pub(crate) fn below(&self, x: f64) -> f64 {
        let off = x - self.value;
        let reach = self.wide + self.narrow;
        let share = if off >= reach {
            1.0
        } else if off <= -reach {
            0.0
        } else if off.abs() <= self.wide - self.narrow {
            0.5 + 0.5 * off / self.wide
        } else {
            // The triangular ends.
            let rest = reach - off.abs();
            let tail = rest * rest / (8.0 * self.wide * self.narrow);
            if off > 0.0 { 1.0 - tail } else { tail }
        };
        self.weight * share
    }
}

/// Where the spread weights reach a share, by halving; −∞ where the weight there (survivals of 1) does.
pub(crate) fn quantile(spread: &[Spread], share: f64) -> Option<f64> {
    let lowest = spread.iter().filter(|s| s.value == f64::NEG_INFINITY);
    if lowest.map(|s| s.weight).sum::<f64>() >= share {
        return Some(f64::NEG_INFINITY);
    }
    let finite = spread.iter().filter(|s| s.value.is_finite());
    let (mut low, mut high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), s| {
        let reach = s.wide + s.narrow;
        (l.min(s.value - reach), h.max(s.value + reach))
    });
    let below = |x: f64| spread.iter().map(|s| s.below(x)).sum::<f64>();
    if below(high) < share {
        return Some(f64::INFINITY);
    }
    if low >= high {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if below(middle) < share {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The share below a place by sums over one of the two uniform laws, the other in closed form.
    #[test]
    fn a_spread_weight_is_the_sum_of_two_uniform_laws() {
        let spread = Spread {
            value: 2.0,
            wide: 1.5,
            narrow: 0.4,
            weight: 3.0,
        };
        for i in -25..=25 {
            let x = 2.0 + 0.1 * f64::from(i);
            let other = |j: i32| 0.4 * (2.0 * (f64::from(j) + 0.5) / 4000.0 - 1.0);
            let below = (0..4000).map(|j| ((x - 2.0 - other(j) + 1.5) / 3.0).clamp(0.0, 1.0));
            let want = 3.0 * below.sum::<f64>() / 4000.0;
            assert!((spread.below(x) - want).abs() < 1e-5, "{x}");
        }
    }
}
