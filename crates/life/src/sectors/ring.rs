//! A ring seal on a frame whose sectors wear at their own rates, turned at a fixed interval.
//!
//! Seal sector i starts at frame sector i; after m turns by s sectors it stands at frame sector i + m s. Its
//! damage age D_i(t) is the integral of the rates it has met, straight between turns. Sectors are weakest
//! links: the cumulative hazard of the seal is Σ (D_i/η)^β.

use sealspan_numeric::quadrature::integrate;
use sealspan_numeric::special::ln_gamma;

/// Turns at a fixed interval.
#[derive(Debug, Clone, PartialEq)]
pub struct Turning {
    /// Wear rate of each frame sector, all above zero or zero.
    pub rates: Vec<f64>,
    /// Time between turns; infinite for never.
    pub every: f64,
    /// Sectors turned each time.
    pub step: usize,
}

impl Turning {
    /// Damage age of each seal sector at `time`.
    ///
    /// ```
    /// use sealspan_life::sectors::ring::Turning;
    /// let ring = Turning { rates: vec![2.0, 1.0, 1.0, 1.0], every: 10.0, step: 1 };
    /// assert_eq!(ring.damage(20.0), [30.0, 20.0, 20.0, 30.0]);
    /// ```
    #[must_use]
    pub fn damage(&self, time: f64) -> Vec<f64> {
        let k = self.rates.len();
        let (stay, stays) = if self.every.is_finite() {
            (self.every, (time / self.every).floor())
        } else {
            (0.0, 0.0)
        };
        let rest = time - stays * stay;
        // Places repeat after k turns at the latest: whole rounds count at once.
        let rounds = (stays / k as f64).floor();
        let left = (stays - rounds * k as f64) as usize;
        let rate = |place: usize| self.rates.get(place % k).copied().unwrap_or(0.0);
        (0..k)
            .map(|i| {
                let place = |m: usize| i + m * self.step;
                let round: f64 = (0..k).map(|m| rate(place(m))).sum();
                let part: f64 = (0..left).map(|m| rate(place(m))).sum();
                stay * (rounds * round + part) + rest * rate(place(left))
            })
            .collect()
    }

    /// Cumulative hazard at `time` of weakest-link Weibull sectors with characteristic life `scale` each.
    #[must_use]
    pub fn cumulative_hazard(&self, time: f64, shape: f64, scale: f64) -> f64 {
        self.damage(time)
            .iter()
            .map(|d| (d / scale).powf(shape))
            .sum()
    }

    /// Mean life. Never turned: η Γ(1 + 1/β) / (Σ wᵝ)^(1/β); else by quadrature from turn to turn.
    ///
    /// ```
    /// use sealspan_life::sectors::ring::Turning;
    /// // Four sectors alike, shape 1: the hazard is 4t/η, whether turned or not, and the mean η/4.
    /// for every in [f64::INFINITY, 10.0] {
    ///     let ring = Turning { rates: vec![1.0; 4], every, step: 1 };
    ///     assert!((ring.cumulative_hazard(50.0, 1.0, 400.0) - 0.5).abs() < 1e-12);
    ///     assert!((ring.mean_life(1.0, 400.0) - 100.0).abs() < 1e-6);
    /// }
    /// ```
    #[must_use]
    pub fn mean_life(&self, shape: f64, scale: f64) -> f64 {
        if !self.every.is_finite() {
            let power: f64 = self.rates.iter().map(|w| w.powf(shape)).sum();
            return scale * ln_gamma(1.0 + 1.0 / shape).exp() / power.powf(1.0 / shape);
        }
        let survival = |t: f64| (-self.cumulative_hazard(t, shape, scale)).exp();
        let typical = scale * self.rates.len() as f64 / self.rates.iter().sum::<f64>();
        // The hazard has a kink at each turn; with very many turns the kinks are too small to matter.
        let coarse = self.every >= typical / 50.0;
        let (mut from, mut sum) = (0.0, 0.0);
        while survival(from) > 1e-13 {
            let stay = ((from / self.every + 1e-9).floor() + 1.0) * self.every;
            let stop = from + typical / 4.0;
            let to = if coarse { stop.min(stay) } else { stop };
            sum += integrate(survival, from, to, 1e-10).value;
            from = to;
        }
        sum
    }

    /// Mean life so turned over mean life never turned. `None` for a shape below 0.5, which is no wear, and
    /// unless there is some wear and a time between turns above zero.
    ///
    /// ```
    /// use sealspan_life::sectors::{ring::Turning, severity::turning_limit};
    /// let ring = Turning { rates: vec![2.0, 1.0, 1.0, 1.0], every: 1.0, step: 1 };
    /// let gain = ring.gain(2.5, 1000.0).unwrap();
    /// assert!((gain - turning_limit(&ring.rates, 2.5)).abs() < 1e-3);
    /// ```
    #[must_use]
    pub fn gain(&self, shape: f64, scale: f64) -> Option<f64> {
        let wears = self.rates.iter().any(|w| *w > 0.0) && self.rates.iter().all(|w| *w >= 0.0);
        if !(wears && shape >= 0.5 && scale > 0.0 && self.every > 0.0) {
            return None;
        }
        let never = Self {
            every: f64::INFINITY,
            ..self.clone()
        };
        let gain = self.mean_life(shape, scale) / never.mean_life(shape, scale);
        gain.is_finite().then_some(gain)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A hundred sectors alike wear the same wherever they are turned to.
    #[test]
    fn turns_after_all_lives_change_nothing() {
        let ring = |every: f64| Turning {
            rates: vec![1.0; 100],
            every,
            step: 1,
        };
        let want = 1000.0 * ln_gamma(1.4).exp() / 100f64.powf(0.4);
        for every in [1e7, 30.0, f64::INFINITY] {
            let got = ring(every).mean_life(2.5, 1000.0);
            assert!((got / want - 1.0).abs() < 1e-8, "{every}: {got} {want}");
        }
    }

    /// Ages in years, or a thousand times as many.
    #[test]
    fn a_gain_is_the_same_in_any_unit() {
        let gain = |unit: f64| {
            let ring = Turning {
                rates: vec![4.0, 1.0, 1.0, 1.0],
                every: 0.15 * unit,
                step: 1,
            };
            ring.gain(2.5, unit)
        };
        let both = gain(1.0).zip(gain(1000.0));
        assert!(
            both.is_some_and(|(a, b)| (a / b - 1.0).abs() < 1e-9),
            "{both:?}"
        );
    }

    #[test]
    fn a_ring_that_cannot_wear_has_no_gain() {
        let gain = |rates: &[f64]| {
            let ring = Turning {
                rates: rates.to_vec(),
                every: 10.0,
                step: 1,
            };
            ring.gain(2.0, 100.0)
        };
        assert!(gain(&[2.0, 1.0]).is_some());
        for rates in [[2.0, -1.0], [0.0, 0.0], [-1.0, -1.0]] {
            assert_eq!(gain(&rates), None, "{rates:?}");
        }
    }
}
