//! Random draws of one tank.

use std::collections::BTreeMap;

use sealspan_numeric::random::Stream;

use super::file::Law;

/// A stream of draws that belongs to one tank and one purpose.
pub(super) struct Draw(Stream);

impl Draw {
    /// The stream of `purpose` for `tank`. It hangs on the names alone, so that adding a site or a
    /// tank leaves all others as they were.
    pub fn new(seed: u64, tank: &str, purpose: &str) -> Self {
        Self(Stream::new(seed, index(&[tank, purpose])))
    }

    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        self.0.uniform() < p
    }

    /// Uniform in (−1, 1).
    pub fn swing(&mut self) -> f64 {
        2.0 * self.0.uniform() - 1.0
    }

    /// Uniform in (0, 1).
    pub fn share(&mut self) -> f64 {
        self.0.uniform()
    }

    /// Weibull life in days, by inversion: t = scale (−ln u)^(1/shape).
    pub fn life(&mut self, law: Law) -> f64 {
        law.scale_days * self.0.exponential().powf(1.0 / law.shape)
    }

    /// Waiting time of a Poisson process; infinite at rate 0.
    pub fn wait(&mut self, rate: f64) -> f64 {
        let standard = self.0.exponential();
        if rate > 0.0 {
            standard / rate
        } else {
            f64::INFINITY
        }
    }

    /// Normal with mean 0.
    pub fn normal(&mut self, deviation: f64) -> f64 {
        deviation * self.0.normal()
    }

    /// Whole number from −`most` to `most`, all alike.
    pub fn jitter(&mut self, most: u32) -> f64 {
        let most = most as usize;
        self.0.below(2 * most + 1) as f64 - most as f64
    }

    /// One of `items`, all alike.
    pub fn one_of<'a, T>(&mut self, items: &'a [T]) -> Option<&'a T> {
        items.get(self.0.below(items.len()))
    }

    /// One key, with probability in proportion to its weight.
    pub fn weighted<'a>(&mut self, weights: &'a BTreeMap<String, f64>) -> Option<&'a str> {
        let mut left = self.0.uniform() * weights.values().sum::<f64>();
        let mut last = None;
        for (key, weight) in weights.iter().filter(|(_, weight)| **weight > 0.0) {
            last = Some(key.as_str());
            left -= weight;
            if left < 0.0 {
                break;
            }
        }
        last
    }
}

/// Fowler–Noll–Vo hash (FNV-1a, 64 bit) of the parts, with a separator between them.
fn index(parts: &[&str]) -> u64 {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    for byte in parts.iter().flat_map(|part| part.bytes().chain([0])) {
        hash = (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
    }
    hash
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn weights_are_kept() {
        let weights: BTreeMap<String, f64> = [("a", 1.0), ("b", 0.0), ("c", 3.0)]
            .map(|(key, weight)| (key.to_owned(), weight))
            .into();
        let mut draw = Draw::new(1, "T", "test");
        let picks: Vec<&str> = (0..4000)
            .map(|_| draw.weighted(&weights).unwrap())
            .collect();
        let c = picks.iter().filter(|pick| **pick == "c").count();
        assert!(!picks.contains(&"b"));
        // binomial(4000, 0.75): standard deviation 27
        assert!((2890..3110).contains(&c), "{c}");
    }

    #[test]
    fn lives_have_the_weibull_mean() {
        let law = Law {
            shape: 2.0,
            scale_days: 100.0,
        };
        let mut draw = Draw::new(2, "T", "test");
        let mean = (0..20_000).map(|_| draw.life(law)).sum::<f64>() / 20_000.0;
        // scale Γ(1.5) = 88.62, standard deviation 46.3 / √20000 = 0.33
        assert!((mean - 88.62).abs() < 1.5, "{mean}");
    }

    #[test]
    fn streams_hang_on_both_names() {
        assert_ne!(index(&["ab", "c"]), index(&["a", "bc"]));
        assert_ne!(index(&["a", "wear"]), index(&["a", "clerk"]));
    }
}
