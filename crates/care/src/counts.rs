//! A distribution over whole numbers, kept as a window of probabilities.

/// Probabilities of `first`, `first + 1`, ...; what lies outside the window is below 1e-15 in all.
///
/// ```
/// use sealspan_care::successes::{Effort, Group, number_failing};
/// // Heads of two fair coins: 0, 1 or 2 with chances 1/4, 1/2, 1/4.
/// let heads = |count| number_failing(&[Group { count, chance: 0.5 }], Effort::CAREFUL).0;
/// let two = heads(2);
/// assert_eq!((two.first(), two.last(), two.quantile(0.5)), (0, 2, 1));
/// assert!(two.window().iter().zip([0.25, 0.5, 0.25]).all(|(p, want)| (p - want).abs() < 1e-15));
/// assert!((two.mean() - 1.0).abs() < 1e-15 && (two.variance() - 0.5).abs() < 1e-15);
/// // With a third coin.
/// assert!((two.plus(&heads(1)).probability(3) - 0.125).abs() < 1e-15);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Counts {
    first: usize,
    pmf: Vec<f64>,
}

impl Counts {
    pub(crate) fn new(first: usize, pmf: Vec<f64>) -> Self {
        Self { first, pmf }
    }

    /// Zero for certain.
    #[must_use]
    pub(crate) fn zero() -> Self {
        Self::new(0, vec![1.0])
    }

    /// Poisson with this mean, each probability to a relative 1e-13: the ratios p(k+1)/p(k) =
    /// mean/(k+1) are followed from the mode outwards until `least` of it, then scaled to sum 1.
    pub(crate) fn poisson(mean: f64, least: f64) -> Self {
        outward(mean, usize::MAX, least, |k| mean / (k as f64 + 1.0))
    }

    /// Negative binomial with this mean and a variance above it: a Poisson number whose rate is gamma
    /// distributed. Poisson when the variance is not above the mean.
    pub(crate) fn negative_binomial(mean: f64, variance: f64, least: f64) -> Self {
        if variance <= mean * (1.0 + 1e-12) {
            return Self::poisson(mean, least);
        }
        let (size, kept) = (mean * mean / (variance - mean), 1.0 - mean / variance);
        // The mode is the floor of this; below 0 the probabilities fall from the start.
        let peak = ((size - 1.0) * kept / (1.0 - kept)).max(0.0);
        outward(peak, usize::MAX, least, |k| {
            (k as f64 + size) / (k as f64 + 1.0) * kept
        })
    }

    /// The number left when each of these is kept with chance `share`, independently.
    pub(crate) fn thinned(&self, share: f64) -> Self {
        let mut pmf = vec![0.0; self.last() + 1];
        for (k, p) in self.values() {
            let part = Self::binomial(k as usize, share, 1e-22);
            for (j, q) in part.window().iter().enumerate() {
                if let Some(slot) = pmf.get_mut(part.first() + j) {
                    *slot += p * q;
                }
            }
        }
        Self::new(0, pmf)
    }

    /// The excess over `stock`: max(X − stock, 0).
    pub(crate) fn excess(&self, stock: usize) -> Self {
        let mut pmf = vec![0.0; self.last().saturating_sub(stock) + 1];
        for (k, p) in self.values() {
            if let Some(slot) = pmf.get_mut((k as usize).saturating_sub(stock)) {
                *slot += p;
            }
        }
        Self::new(0, pmf)
    }

    /// Number of successes in `n` independent trials with chance `p` each, kept where above `least`
    /// of the greatest probability.
    pub(crate) fn binomial(n: usize, p: f64, least: f64) -> Self {
        if p <= 0.0 || n == 0 {
            return Self::zero();
        }
        if p >= 1.0 {
            return Self::new(n, vec![1.0]);
        }
        let odds = p / (1.0 - p);
        outward((n as f64 + 1.0) * p, n, least, |k| {
            (n - k.min(n)) as f64 / (k as f64 + 1.0) * odds
        })
    }

    /// Least value kept in the window.
    #[must_use]
    pub fn first(&self) -> usize {
        self.first
    }

    /// Greatest value kept in the window.
    #[must_use]
    pub fn last(&self) -> usize {
        self.first + self.pmf.len().saturating_sub(1)
    }

    /// Probabilities of `first`, `first + 1`, ...
    #[must_use]
    pub fn window(&self) -> &[f64] {
        &self.pmf
    }

    /// Probability of exactly `k`; 0 outside the window.
    #[must_use]
    pub fn probability(&self, k: usize) -> f64 {
        k.checked_sub(self.first)
            .and_then(|i| self.pmf.get(i))
            .copied()
            .unwrap_or(0.0)
    }

    /// Expected value Σ k p(k).
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.values().map(|(k, p)| k * p).sum()
    }

    /// Variance Σ (k − mean)² p(k).
    #[must_use]
    pub fn variance(&self) -> f64 {
        let mean = self.mean();
        self.values().map(|(k, p)| (k - mean).powi(2) * p).sum()
    }

    /// Smallest k with P(X ≤ k) ≥ `p`.
    #[must_use]
    pub fn quantile(&self, p: f64) -> usize {
        let mut below = 0.0;
        for (i, q) in self.pmf.iter().enumerate() {
            below += q;
            if below >= p {
                return self.first + i;
            }
        }
        self.last()
    }

    /// Probabilities from 0 on, leading zeros written out; `None` beyond `most` entries.
    #[must_use]
    pub(crate) fn listed_from_zero(&self, most: usize) -> Option<Vec<f64>> {
        (self.last() < most).then(|| {
            let mut all = vec![0.0; self.first];
            all.extend_from_slice(&self.pmf);
            all
        })
    }

    fn values(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.pmf
            .iter()
            .enumerate()
            .map(|(i, p)| ((self.first + i) as f64, *p))
    }

    /// Distribution of the sum with an independent count (convolution).
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        let (long, short) = if self.pmf.len() >= other.pmf.len() {
            (self, other)
        } else {
            (other, self)
        };
        let mut pmf = vec![0.0; long.pmf.len() + short.pmf.len() - 1];
        for (i, weight) in short.pmf.iter().enumerate() {
            for (slot, p) in pmf.iter_mut().skip(i).zip(&long.pmf) {
                *slot += weight * p;
            }
        }
        Self::new(self.first + other.first, pmf)
    }

    /// Distribution of the sum of `n` independent counts like this one, by repeated squaring.
    pub(crate) fn times(&self, mut n: usize, cut: f64) -> Self {
        let mut sum = Self::zero();
        let mut square = self.clone();
        while n > 0 {
            if n % 2 == 1 {
                sum = sum.plus(&square).trimmed(cut);
            }
            n /= 2;
            if n > 0 {
                square = square.plus(&square).trimmed(cut);
            }
        }
        sum
    }

    /// Third central moment.
    pub(crate) fn third_moment(&self) -> f64 {
        let mean = self.mean();
        self.values().map(|(k, p)| (k - mean).powi(3) * p).sum()
    }

    /// The same window without its outermost values, while all those cut off on a side stay below `mass`.
    pub(crate) fn trimmed(mut self, mass: f64) -> Self {
        let cut = |values: &mut dyn Iterator<Item = &f64>| {
            let mut lost = 0.0;
            values
                .take_while(|p| {
                    lost += **p;
                    lost < mass
                })
                .count()
        };
        let low = cut(&mut self.pmf.iter());
        let high = cut(&mut self.pmf.iter().rev());
        if low + high < self.pmf.len() {
            self.pmf.truncate(self.pmf.len() - high);
            self.pmf.drain(..low);
            self.first += low;
        }
        self
    }

    /// The smaller of the count and `cap`.
    pub(crate) fn at_most(mut self, cap: usize) -> Self {
        if self.last() <= cap {
            return self;
        }
        let over: f64 = self
            .values()
            .filter(|(k, _)| *k > cap as f64)
            .map(|v| v.1)
            .sum();
        if self.first > cap {
            return Self::new(cap, vec![over]);
        }
        self.pmf.truncate(cap - self.first + 1);
        if let Some(top) = self.pmf.last_mut() {
            *top += over;
        }
        self
    }

    /// The greater of the count and `floor`.
    pub(crate) fn at_least(self, floor: usize) -> Self {
        if self.first >= floor {
            return self;
        }
        let under: f64 = self
            .values()
            .filter(|(k, _)| *k < floor as f64)
            .map(|v| v.1)
            .sum();
        let mut pmf: Vec<f64> = self.pmf.into_iter().skip(floor - self.first).collect();
        match pmf.first_mut() {
            Some(p) => *p += under,
            None => pmf.push(under),
        }
        Self::new(floor, pmf)
    }

    /// Equal-weight mixture of several distributions; `None` when there are none.
    pub(crate) fn mixture(parts: &[Self]) -> Option<Self> {
        let first = parts.iter().map(Self::first).min()?;
        let last = parts.iter().map(Self::last).max()?;
        let mut pmf = vec![0.0; last - first + 1];
        for part in parts {
            for (slot, p) in pmf.iter_mut().skip(part.first - first).zip(&part.pmf) {
                *slot += p / parts.len() as f64;
            }
        }
        Some(Self::new(first, pmf))
    }
}

/// Probabilities from their ratios p(k+1)/p(k), starting at the mode near `peak` and going both
/// ways until a term falls below `least` of the greatest, then scaled to sum 1.
fn outward(peak: f64, most: usize, least: f64, ratio: impl Fn(usize) -> f64) -> Counts {
    let mode = (peak.floor() as usize).min(most);
    let (mut down, mut up) = (Vec::new(), Vec::new());
    let (mut k, mut p) = (mode, 1.0);
    while k > 0 {
        p /= ratio(k - 1);
        if p < least {
            break;
        }
        k -= 1;
        down.push(p);
    }
    let first = k;
    (k, p) = (mode, 1.0);
    while k < most {
        p *= ratio(k);
        if p < least {
            break;
        }
        k += 1;
        up.push(p);
    }
    // Smallest first, so the sum loses nothing.
    let total: f64 = down.iter().rev().sum::<f64>() + up.iter().rev().sum::<f64>() + 1.0;
    let mut pmf: Vec<f64> = down.into_iter().rev().collect();
    pmf.push(1.0);
    pmf.extend(up);
    for q in &mut pmf {
        *q /= total;
    }
    Counts::new(first, pmf)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: f64, want: f64, rel: f64) {
        assert!((got / want - 1.0).abs() < rel, "{got} against {want}");
    }

    /// A last buy of ten thousand, good to a twentieth: the mode lies thousands away from nought.
    #[test]
    fn a_wide_negative_binomial_has_its_moments() {
        let variance = 10_000.0 + 500.0_f64.powi(2);
        let wide = Counts::negative_binomial(10_000.0, variance, 1e-30);
        close(wide.mean(), 10_000.0, 1e-9);
        close(wide.variance(), variance, 1e-9);
    }

    #[test]
    fn poisson_tails_and_moments() {
        let p = Counts::poisson(0.1, 1e-300);
        close(p.probability(0), (-0.1_f64).exp(), 1e-15);
        // e^-0.1 0.1^15 / 15!
        close(
            p.probability(15),
            (-0.1_f64).exp() * 1e-15 / 1_307_674_368_000.0,
            1e-13,
        );
        let large = Counts::poisson(40_000.0, 1e-300);
        close(large.mean(), 40_000.0, 1e-12);
        close(large.variance(), 40_000.0, 1e-10);
        assert_eq!(Counts::poisson(0.0, 1e-300), Counts::zero());
    }

    #[test]
    fn binomial_ends_and_sum() {
        let b = Counts::binomial(10, 0.3, 1e-20);
        close(b.probability(0), 0.7_f64.powi(10), 1e-13);
        close(b.probability(10), 0.3_f64.powi(10), 1e-13);
        let two = Counts::binomial(4, 0.3, 1e-20).plus(&Counts::binomial(6, 0.3, 1e-20));
        for k in 0..=10 {
            close(two.probability(k), b.probability(k), 1e-13);
        }
        assert_eq!(Counts::binomial(5, 1.0, 1e-20).quantile(0.5), 5);
        assert_eq!(Counts::binomial(5, 0.0, 1e-20).last(), 0);
        close(Counts::binomial(3, 1.0 - 1e-12, 1e-30).mean(), 3.0, 1e-11);
    }

    #[test]
    fn negative_binomial_thinning_and_excess() {
        let n = Counts::negative_binomial(6.0, 9.6, 1e-30);
        close(n.mean(), 6.0, 1e-12);
        close(n.variance(), 9.6, 1e-11);
        // Size 10, chance 0.625 of stopping: P(0) = 0.625^10.
        close(n.probability(0), 0.625_f64.powi(10), 1e-12);
        let spread = Counts::negative_binomial(0.5, 8.0, 1e-30);
        close(spread.mean(), 0.5, 1e-12);
        // A thinned Poisson number is Poisson.
        let kept = Counts::poisson(7.0, 1e-30).thinned(0.3);
        for k in 0..12 {
            close(
                kept.probability(k),
                Counts::poisson(2.1, 1e-30).probability(k),
                1e-11,
            );
        }
        let p = Counts::poisson(3.0, 1e-30);
        let over = p.excess(4);
        close(
            over.probability(0),
            (0..=4).map(|k| p.probability(k)).sum(),
            1e-13,
        );
        close(over.probability(2), p.probability(6), 1e-13);
    }

    #[test]
    fn powers() {
        let one = Counts::binomial(1, 0.3, 1e-20);
        let (ten, want) = (one.times(10, 1e-18), Counts::binomial(10, 0.3, 1e-20));
        for k in 0..=10 {
            close(ten.probability(k), want.probability(k), 1e-13);
        }
        assert_eq!(one.times(0, 1e-18), Counts::zero());
        close(want.third_moment(), 10.0 * 0.3 * 0.7 * 0.4, 1e-12);
    }

    #[test]
    fn trimming_keeps_nearly_all() {
        let p = Counts::poisson(50.0, 1e-300).trimmed(1e-16);
        assert!(p.window().len() < 150 && p.window().len() > 100);
        close(p.window().iter().sum(), 1.0, 1e-14);
        assert_eq!(Counts::zero().trimmed(1e-3), Counts::zero());
    }

    /// A count of 2 to 5, capped: what lies beyond the cap is met at it.
    #[test]
    fn what_lies_beyond_a_cap_is_met_at_it() {
        let capped = |cap: usize| Counts::new(2, vec![0.1, 0.2, 0.3, 0.4]).at_most(cap);
        for (cap, want) in [
            (5, vec![0.0, 0.0, 0.1, 0.2, 0.3, 0.4]),
            (4, vec![0.0, 0.0, 0.1, 0.2, 0.7]),
            (3, vec![0.0, 0.0, 0.1, 0.9]),
            (2, vec![0.0, 0.0, 1.0]),
            (1, vec![0.0, 1.0]),
        ] {
            let found = capped(cap);
            assert_eq!(found.last(), cap);
            for k in 0..8 {
                let want = want.get(k).copied().unwrap_or(0.0);
                assert!((found.probability(k) - want).abs() < 1e-15, "{cap} {k}");
            }
        }
        assert_eq!(capped(9).last(), 5);
    }
}
