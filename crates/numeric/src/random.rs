//! Seeded, splittable random streams: the same seed and index give the same numbers on every machine.

use rand::Rng;
use rand_pcg::Pcg64;

/// One independent stream of random numbers (permuted congruential generator, O'Neill 2014).
///
/// ```
/// use sealspan_numeric::random::Stream;
/// let mut stream = Stream::new(1, 0);
/// let mean = |draw: &mut dyn FnMut() -> f64| (0..10_000).map(|_| draw()).sum::<f64>() / 1e4;
/// assert!(mean(&mut || stream.normal()).abs() < 0.05); // five standard errors
/// assert!((mean(&mut || stream.exponential()) - 1.0).abs() < 0.05);
/// assert!((mean(&mut || stream.below(6) as f64) - 2.5).abs() < 0.09);
/// assert_ne!(stream.bits(), stream.bits());
/// ```
#[derive(Debug, Clone)]
pub struct Stream(Pcg64);

/// Finaliser of SplitMix64 (Steele, Lea & Flood 2014): spreads neighbouring seeds apart.
fn spread(mut x: u64) -> u64 {
    x = x.wrapping_add(0x9e37_79b9_7f4a_7c15);
    x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    x ^ (x >> 31)
}

impl Stream {
    /// Stream number `index` of `seed`; streams of one seed do not overlap.
    ///
    /// ```
    /// use sealspan_numeric::random::Stream;
    /// assert_eq!(Stream::new(7, 0).uniform(), Stream::new(7, 0).uniform());
    /// assert_ne!(Stream::new(7, 0).uniform(), Stream::new(7, 1).uniform());
    /// ```
    #[must_use]
    pub fn new(seed: u64, index: u64) -> Self {
        let state = (u128::from(spread(seed)) << 64) | u128::from(spread(seed ^ spread(index)));
        Self(Pcg64::new(state, u128::from(index)))
    }

    /// Next 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// Uniform in the open interval (0, 1): never 0, never 1.
    pub fn uniform(&mut self) -> f64 {
        ((self.bits() >> 11) as f64 + 0.5) * (1.0 / 9_007_199_254_740_992.0)
    }

    /// Uniform whole number in `0..n`; 0 when `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        ((u128::from(self.bits()) * n as u128) >> 64) as usize
    }

    /// Standard normal deviate, by inversion.
    pub fn normal(&mut self) -> f64 {
        crate::special::normal_quantile(self.uniform())
    }

    /// Standard exponential deviate.
    pub fn exponential(&mut self) -> f64 {
        -self.uniform().ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_and_range() {
        let mut stream = Stream::new(1, 2);
        let draws: Vec<f64> = (0..40_000).map(|_| stream.uniform()).collect();
        let mean = draws.iter().sum::<f64>() / 40_000.0;
        assert!((mean - 0.5).abs() < 4.0 * (1.0_f64 / 12.0 / 40_000.0).sqrt());
        assert!(draws.iter().all(|u| *u > 0.0 && *u < 1.0));
        assert!((0..1000).all(|_| stream.below(3) < 3));
    }
}
