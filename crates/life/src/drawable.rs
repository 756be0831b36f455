//! A law made quick to draw from.

use crate::family::Family;

/// A law with fixed parameters made quick to draw from: ln age as a function of ln cumulative hazard, by
/// cubics through a fine grid (error far below the noise of any sample).
#[derive(Debug, Clone)]
pub(crate) struct Drawable {
    ln_ages: Vec<f64>,
    family: DebugFamily,
    theta: Vec<f64>,
}

/// A family that prints its name.
#[derive(Clone, Copy)]
struct DebugFamily(&'static dyn Family);

impl std::fmt::Debug for DebugFamily {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.0.name())
    }
}

/// ln cumulative hazard from one in 10¹⁰ failed to one in e^60 left, and the grid's step.
const LOWEST: f64 = -23.0;
const HIGHEST: f64 = 4.1;
const STEP: f64 = 0.05;

impl Drawable {
    /// The law of `family` at `theta`.
    pub(crate) fn new(family: &'static dyn Family, theta: &[f64]) -> Self {
        // Cumulative hazard that a law has spent before age 0.
        let before = -family.ln_survival(theta, f64::MIN_POSITIVE);
        let nodes = ((HIGHEST - LOWEST) / STEP) as usize + 1;
        let ln_ages = (0..nodes)
            .map(|i| {
                let hazard = (LOWEST + STEP * i as f64).exp();
                let ln_age = family.ln_age_at(theta, -hazard);
                // Not a number before age 0, or where fewer ever fail.
                match ln_age.is_nan() {
                    true if hazard <= before => f64::NEG_INFINITY,
                    true => f64::INFINITY,
                    false => ln_age,
                }
            })
            .collect();
        Self {
            ln_ages,
            family: DebugFamily(family),
            theta: theta.to_vec(),
        }
    }

    pub(crate) fn ln_survival(&self, age: f64) -> f64 {
        self.family.0.ln_survival(&self.theta, age)
    }

    /// ln of the age at cumulative hazard `hazard`.
    pub(crate) fn ln_age(&self, hazard: f64) -> f64 {
        let last = self.ln_ages.len().saturating_sub(3);
        let x = ((hazard.ln() - LOWEST) / STEP).clamp(1.0, last as f64);
        let at = (x.floor() as usize).clamp(1, last);
        let u = x - at as f64;
        let y = |k: usize| self.ln_ages.get(k).copied().unwrap_or(f64::INFINITY);
        let (a, b, c, d) = (y(at - 1), y(at), y(at + 1), y(at + 2));
        if !(a.is_finite() && d.is_finite()) {
            return if u < 0.5 { b } else { c };
        }
        // Catmull–Rom cubic.
        let slope = 0.5 * (c - a);
        let bend = a - 2.5 * b + 2.0 * c - 0.5 * d;
        let third = 0.5 * (d - a) + 1.5 * (b - c);
        b + u * (slope + u * (bend + u * third))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::laws::by_name;

    fn drawable() -> Drawable {
        let weibull = by_name("weibull").unwrap_or(crate::laws::all()[0]);
        Drawable::new(weibull, &[100f64.ln(), -(2f64.ln())])
    }

    #[test]
    fn a_drawn_life_follows_the_law() {
        let law = drawable();
        for hazard in [1e-8, 0.003, 0.4, 1.0, 7.0, 30.0f64] {
            let want = (100.0 * hazard.sqrt()).ln();
            assert!((law.ln_age(hazard) - want).abs() < 1e-9, "{hazard}");
        }
        let gamma = by_name("gamma").unwrap_or(crate::laws::all()[0]);
        let theta = [4.0, 0.8];
        let law = Drawable::new(gamma, &theta);
        for hazard in [1e-6, 0.02, 0.31, 1.7, 12.0] {
            let back = -gamma.ln_survival(&theta, law.ln_age(hazard).exp());
            assert!((back / hazard - 1.0).abs() < 1e-5, "{hazard} {back}");
        }
    }

    /// A cubic goes through the law's own ages at the grid's hazards, from below as from above.
    #[test]
    fn cubics_meet_at_the_grids_ages() {
        let gamma = by_name("gamma").unwrap_or(crate::laws::all()[0]);
        let theta = [4.0, 0.8];
        let law = Drawable::new(gamma, &theta);
        for i in [100, 300, 420, 480, 530] {
            let ln_hazard = LOWEST + STEP * f64::from(i);
            let own = gamma.ln_age_at(&theta, -ln_hazard.exp());
            for side in [-1e-9, 1e-9] {
                let found = law.ln_age((ln_hazard + side).exp());
                assert!((found - own).abs() < 1e-8, "{i} {side}: {found} {own}");
            }
        }
    }

    /// Where a fraction alone ever fails the last ages before it are those of the nearer hazard of the grid.
    #[test]
    fn the_last_ages_of_a_weak_fraction_are_the_nearest() {
        let weak = by_name("weak_fraction_weibull").unwrap_or(crate::laws::all()[0]);
        // Three tenths ever fail, shape 2, scale 100.
        let theta = [100f64.ln(), -(2f64.ln()), (3.0 / 7.0f64).ln()];
        let law = Drawable::new(weak, &theta);
        let of = |x: f64| (LOWEST + STEP * x).exp();
        let own = |x: f64| weak.ln_age_at(&theta, -of(x));
        let last = (1..500)
            .take_while(|i| own(f64::from(*i)).is_finite())
            .last();
        let last = f64::from(last.unwrap_or_default());
        assert!(of(last) < -(0.7f64.ln()) && of(last + 1.0) > -(0.7f64.ln()));
        // The step before the last, then that of the last itself: beyond its middle nobody ever fails.
        let (before, end) = (own(last - 1.0), own(last));
        assert!((law.ln_age(of(last - 0.8)) - before).abs() < 1e-12);
        assert!((law.ln_age(of(last - 0.2)) - end).abs() < 1e-12);
        assert!((law.ln_age(of(last + 0.2)) - end).abs() < 1e-12);
        assert_eq!(law.ln_age(of(last + 0.8)), f64::INFINITY);
    }
}
