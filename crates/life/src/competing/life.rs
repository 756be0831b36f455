//! The life that several independent modes leave a seal: the earliest of theirs.
//!
//! ```
//! use sealspan_life::{competing::life::CompetingLife, life::Life};
//! let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-5, "{a} is not {b}");
//! // Rates of 1 in 300 and 1 in 600 days make 1 in 200.
//! let modes = vec![Life::exponential(300.0).unwrap(), Life::exponential(600.0).unwrap()];
//! let life = CompetingLife::new(modes).unwrap();
//! assert_eq!(life.modes().len(), 2);
//! near(life.survival(100.0), (-0.5_f64).exp());
//! near(life.failed(1e-6), 5e-9);
//! near(life.hazard(70.0), 0.005);
//! near(life.quantile(0.5), 200.0 * 2.0_f64.ln());
//! near(life.mean_roughly().unwrap(), 200.0);
//! ```

use crate::life::Life;
use sealspan_numeric::quadrature::integrate;
use sealspan_numeric::roots::{bracket_from, bracketed};

/// Tolerance of ln age for quantiles, and relative for means.
const TOLERANCE: f64 = 1e-12;
/// Width in ln age of the pieces that a mean is summed in.
const PIECE: f64 = 2.0;
/// ln of how far below the median age nothing is left to add to a mean.
const EARLY: f64 = 40.0;
/// The same for means to about 6 digits.
const ROUGH: f64 = 1e-7;
const EARLY_ROUGH: f64 = 18.0;

/// The life under several modes at once: survival is the product of theirs.
///
/// The modes are taken as independent, which no life data can show (see [`super::INDEPENDENCE`]); state
/// that beside every figure made from it.
#[derive(Debug, Clone)]
pub struct CompetingLife {
    modes: Vec<Life>,
}

impl CompetingLife {
    /// The life under these modes, ages in one unit. `None` without a mode.
    ///
    /// ```
    /// use sealspan_life::competing::life::CompetingLife;
    /// use sealspan_life::life::Life;
    /// // Rates of constant hazards add up.
    /// let modes = vec![Life::exponential(300.0).unwrap(), Life::exponential(600.0).unwrap()];
    /// let life = CompetingLife::new(modes).unwrap();
    /// assert!((life.mean().unwrap() - 200.0).abs() < 1e-7);
    /// assert!((life.without(0).unwrap().mean().unwrap() - 600.0).abs() < 1e-7);
    /// ```
    #[must_use]
    pub fn new(modes: Vec<Life>) -> Option<Self> {
        (!modes.is_empty()).then_some(Self { modes })
    }

    /// The modes' own lives.
    #[must_use]
    pub fn modes(&self) -> &[Life] {
        &self.modes
    }

    /// The life if `mode` never occurred and the others went on as they are. `None` when there is no such
    /// mode or no other.
    #[must_use]
    pub fn without(&self, mode: usize) -> Option<Self> {
        let mut modes = self.modes.clone();
        if mode < modes.len() {
            modes.remove(mode);
            Self::new(modes)
        } else {
            None
        }
    }

    /// ln of the share surviving age `t`.
    #[must_use]
    pub(crate) fn ln_survival(&self, t: f64) -> f64 {
        self.modes.iter().map(|m| m.ln_survival(t)).sum()
    }

    /// Share surviving age `t`.
    #[must_use]
    pub fn survival(&self, t: f64) -> f64 {
        self.ln_survival(t).exp()
    }

    /// Share failed by age `t`, without loss when it is small.
    #[must_use]
    pub fn failed(&self, t: f64) -> f64 {
        -self.ln_survival(t).exp_m1()
    }

    /// Failure rate per unit of age at age `t` > 0 of seals that got there: the sum of the modes'.
    #[must_use]
    pub fn hazard(&self, t: f64) -> f64 {
        self.modes.iter().map(|m| m.hazard(t)).sum()
    }

    /// Age by which the share `p` has failed, to about 12 digits (0 for p ≤ 0, infinite for p ≥ 1 or where
    /// fewer ever fail).
    #[must_use]
    pub fn quantile(&self, p: f64) -> f64 {
        if p <= 0.0 {
            return 0.0;
        }
        if p >= 1.0 {
            return f64::INFINITY;
        }
        let earliest = |share: f64| {
            let ages = self.modes.iter().map(|m| m.quantile(share));
            ages.fold(f64::INFINITY, f64::min)
        };
        if self.modes.len() == 1 {
            return earliest(p);
        }
        // No later than where one mode alone reaches p; no earlier than where each mode can have reached
        // its equal part of ln(1 − p) at most.
        let target = (-p).ln_1p();
        let part = -(target / self.modes.len() as f64).exp_m1();
        let (low, high) = (earliest(part).ln(), earliest(p).ln());
        let off = |ln: f64| self.ln_survival(ln.exp()) - target;
        let bracket = if high.is_finite() {
            Some((low - TOLERANCE, high + TOLERANCE))
        } else {
            // Twelve doublings of the step pass the greatest number there is.
            bracket_from(off, low - TOLERANCE, 1.0, 12)
        };
        let found = bracket.and_then(|(a, b)| bracketed(off, a, b, TOLERANCE));
        found.map_or(f64::INFINITY, f64::exp)
    }

    /// Mean life, ∫ survival dt by quadrature to about 10 digits. `None` where it is infinite: some seals
    /// never fail, or the tail is too heavy.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        self.mean_to(TOLERANCE, EARLY)
    }

    /// The same to about 6 digits in a fraction of the time: for draws, whose own noise is far larger.
    #[must_use]
    pub fn mean_roughly(&self) -> Option<f64> {
        self.mean_to(ROUGH, EARLY_ROUGH)
    }

    fn mean_to(&self, tolerance: f64, early: f64) -> Option<f64> {
        let middle = self.quantile(0.5).ln();
        if !middle.is_finite() {
            return None;
        }
        let piece = |from: f64| {
            let density = |ln: f64| (self.ln_survival(ln.exp()) + ln - middle).exp();
            integrate(density, from, from + PIECE, tolerance).value
        };
        let early = (1..=(early / PIECE) as u32).map(|i| piece(middle - PIECE * f64::from(i)));
        let mut sum: f64 = early.sum();
        let mut from = middle;
        while from + PIECE < f64::MAX.ln() {
            let more = piece(from);
            sum += more;
            from += PIECE;
            if more <= tolerance * sum {
                return Some(sum * middle.exp());
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn close(ours: f64, wanted: f64) {
        assert!((ours / wanted - 1.0).abs() < 1e-10, "{ours} {wanted}");
    }

    #[test]
    fn weibull_modes_of_one_shape_make_a_weibull() {
        let shape: f64 = 2.5;
        let scales = [400.0, 700.0, 900.0];
        let modes = scales.map(|s| Life::weibull(shape, s).unwrap()).to_vec();
        let life = CompetingLife::new(modes).unwrap();
        let scale = scales
            .map(|s| s.powf(-shape))
            .iter()
            .sum::<f64>()
            .powf(-1.0 / shape);
        let wanted = Life::weibull(shape, scale).unwrap();
        for p in [1e-12, 0.01, 0.1, 0.5, 0.99, 1.0 - 1e-12] {
            close(life.quantile(p), wanted.quantile(p));
        }
        for t in [1e-3, 100.0, 300.0, 900.0] {
            close(life.failed(t), wanted.failed(t));
            close(life.hazard(t), wanted.hazard(t));
        }
        close(life.mean().unwrap(), wanted.mean());
        assert_eq!(
            (life.quantile(0.0), life.quantile(1.0)),
            (0.0, f64::INFINITY)
        );
    }

    #[test]
    fn rough_means_have_six_digits() {
        let heavy = Life::named("loglogistic", &[("shape", 1.5), ("scale", 200.0)]).unwrap();
        let steep = Life::weibull(12.0, 300.0).unwrap();
        let early = Life::weibull(0.5, 900.0).unwrap();
        for modes in [
            vec![steep.clone(), heavy.clone()],
            vec![early.clone(), heavy.clone()],
            vec![early.clone(), steep],
            vec![early],
            vec![heavy],
        ] {
            let life = CompetingLife::new(modes).unwrap();
            let (mean, rough) = (life.mean().unwrap(), life.mean_roughly().unwrap());
            assert!((rough / mean - 1.0).abs() < 1e-6, "{rough} {mean}");
        }
    }

    #[test]
    fn equal_modes_and_a_single_one() {
        let one = Life::weibull(1.7, 50.0).unwrap();
        let single = CompetingLife::new(vec![one.clone()]).unwrap();
        close(single.quantile(0.1), one.quantile(0.1));
        close(single.mean().unwrap(), one.mean());
        assert!(single.without(0).is_none() && single.without(1).is_none());
        let two = CompetingLife::new(vec![one.clone(), one.clone()]).unwrap();
        close(two.survival(30.0), one.survival(30.0).powi(2));
        close(two.quantile(0.19), one.quantile(0.1));
        assert!(CompetingLife::new(vec![]).is_none());
    }

    #[test]
    fn a_mode_removed_leaves_the_product_of_the_others() {
        let life = CompetingLife::new(vec![
            Life::weibull(3.0, 300.0).unwrap(),
            Life::exponential(900.0).unwrap(),
            Life::lognormal(6.0, 0.4).unwrap(),
        ])
        .unwrap();
        let rest = life.without(1).unwrap();
        let [wear, _, split] = life.modes() else {
            unreachable!()
        };
        close(
            rest.survival(250.0),
            wear.survival(250.0) * split.survival(250.0),
        );
        assert!(rest.quantile(0.1) > life.quantile(0.1));
        assert!(rest.mean().unwrap() > life.mean().unwrap());
        close(rest.failed(rest.quantile(0.1)), 0.1);
    }

    #[test]
    fn heavy_tails_have_a_mean_only_together() {
        let heavy = |shape: f64| Life::named("loglogistic", &[("shape", shape), ("scale", 10.0)]);
        let one = heavy(0.8).unwrap();
        let alone = CompetingLife::new(vec![one.clone()]).unwrap();
        assert_eq!(alone.mean(), None);
        // ∫ dt / (1 + (t/10)^0.8)² = 10 (1/β) B(1/β, 2 − 1/β) with 1/β = 1.25.
        let both = CompetingLife::new(vec![one.clone(), one]).unwrap();
        let gamma = |x: f64| sealspan_numeric::special::ln_gamma(x).exp();
        close(both.mean().unwrap(), 12.5 * gamma(1.25) * gamma(0.75));
    }

    /// A mode that next to never comes leaves the other's ages, and where no mode alone reaches a share both together may.
    #[test]
    fn ages_are_found_at_both_ends_of_where_they_can_lie() {
        let one = Life::weibull(2.0, 100.0).unwrap();
        let rare = Life::exponential(1e20).unwrap();
        let life = CompetingLife::new(vec![one.clone(), rare]).unwrap();
        for p in [0.01, 0.5, 0.99] {
            close(life.quantile(p), one.quantile(p));
        }
        let weak = Life::named(
            "weak_fraction_weibull",
            &[("shape", 2.0), ("scale", 100.0), ("weak_share", 0.6)],
        )
        .unwrap();
        let life = CompetingLife::new(vec![weak.clone(), weak.clone()]).unwrap();
        for p in [0.61_f64, 0.7, 0.8] {
            close(life.quantile(p), weak.quantile(1.0 - (1.0 - p).sqrt()));
        }
        // Of both 0.84 at most ever fail.
        assert_eq!(life.quantile(0.85), f64::INFINITY);
    }
}
