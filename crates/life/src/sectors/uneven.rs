//! Are failures spread evenly over the sectors? Exact multinomial test of the chi-square statistic.

use sealspan_numeric::random::Stream;
use sealspan_numeric::special::ln_gamma;

/// How a p-value was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Route {
    /// Every possible table of counts was looked at.
    Exact,
    /// So many tables were drawn.
    Drawn(usize),
}

/// The test of even spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uneven {
    /// Pearson's chi-square.
    pub statistic: f64,
    /// Probability of one as large under even spread.
    pub p_value: f64,
    /// How it was found.
    pub route: Route,
    /// The least p-value that this many failures could have given: all in one sector.
    pub least: f64,
}

/// Tables above which the test is drawn.
const MOST_TABLES: f64 = 100_000.0;
/// Tables drawn.
const DRAWS: usize = 9_999;

/// Tests counts by sector. `None` without failures or with fewer than two sectors.
///
/// ```
/// use sealspan_life::sectors::uneven::uneven;
/// let test = uneven(&[0, 4, 0, 0], 1).unwrap();
/// assert!((test.p_value - 4f64.powi(-3)).abs() < 1e-15);
/// ```
#[must_use]
pub fn uneven(counts: &[u32], seed: u64) -> Option<Uneven> {
    let n: u32 = counts.iter().sum();
    let k = counts.len();
    if n == 0 || k < 2 {
        return None;
    }
    let (total, sectors) = (f64::from(n), k as f64);
    let square: u64 = counts.iter().map(|c| u64::from(*c).pow(2)).sum();
    let tables = ln_gamma(total + sectors) - ln_gamma(total + 1.0) - ln_gamma(sectors);
    let (p_value, route) = if tables <= MOST_TABLES.ln() {
        (exact(n, k, square), Route::Exact)
    } else {
        (drawn(n, k, square, seed), Route::Drawn(DRAWS))
    };
    Some(Uneven {
        statistic: square as f64 * sectors / total - total,
        p_value: p_value.min(1.0),
        route,
        least: ((1.0 - total) * sectors.ln()).exp(),
    })
}

/// P(Σ c² ≥ square). The sum of squares is a whole number, so ties are told exactly.
fn exact(n: u32, k: usize, square: u64) -> f64 {
    let ln_factorial: Vec<f64> = (0..=n).map(|i| ln_gamma(f64::from(i) + 1.0)).collect();
    let ln = |i: u32| ln_factorial.get(i as usize).copied().unwrap_or(0.0);
    let start = ln(n) - f64::from(n) * (k as f64).ln();
    let walk = Walk { square, ln: &ln };
    walk.rest(n, k, 0, start)
}

struct Walk<'a> {
    square: u64,
    ln: &'a dyn Fn(u32) -> f64,
}

impl Walk<'_> {
    /// Probability of the tables that put `left` failures in `sectors` sectors and reach the statistic,
    /// given the squares and the ln weight so far.
    fn rest(&self, left: u32, sectors: usize, square: u64, weight: f64) -> f64 {
        let of = |c: u32| square + u64::from(c).pow(2);
        if sectors <= 1 {
            let reaches = of(left) >= self.square;
            return if reaches {
                (weight - (self.ln)(left)).exp()
            } else {
                0.0
            };
        }
        (0..=left)
            .map(|c| self.rest(left - c, sectors - 1, of(c), weight - (self.ln)(c)))
            .sum()
    }
}

fn drawn(n: u32, k: usize, square: u64, seed: u64) -> f64 {
    let mut stream = Stream::new(seed, u64::from(n));
    let reached = (0..DRAWS)
        .filter(|_| {
            let mut table = vec![0_u64; k];
            for _ in 0..n {
                if let Some(cell) = table.get_mut(stream.below(k)) {
                    *cell += 1;
                }
            }
            table.iter().map(|c| c * c).sum::<u64>() >= square
        })
        .count();
    (reached as f64 + 1.0) / (DRAWS as f64 + 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_to_compare_has_no_test() {
        assert!(uneven(&[0, 0, 0], 1).is_none());
        assert!(uneven(&[5], 1).is_none() && uneven(&[], 1).is_none());
        assert!(uneven(&[1, 0], 1).is_some());
    }

    /// What is drawn is a count of draws, the table seen among them; every table reaches a square of 0.
    #[test]
    fn a_drawn_p_value_counts_the_table_seen() {
        assert!((drawn(12, 4, 0, 1) - 1.0).abs() < 1e-15);
        let none = drawn(12, 4, 1000, 1);
        assert!((none * (DRAWS as f64 + 1.0) - 1.0).abs() < 1e-9);
    }
}
