//! An end of an interval judged on samples drawn from the law in which the quantity lies at that end, all other
//! parameters being as likely as can be there: how the signed root scatters then hangs no more on how far the
//! estimate happened to stray (the constrained bootstrap; DiCiccio, Martin & Stern 2001, and Lee & Young 2005,
//! "Parametric bootstrapping with nuisance parameters", Statistics & Probability Letters 71; from memory).

use crate::bounds::profile_end;
use crate::calibrate::{Depths, calibrate};
use crate::fit::Fit;
use crate::held::maximum;
use crate::quantity::Quantity;
use crate::refits::{Refits, ask};
use crate::resample::Pattern;

/// Steps from the estimate to the end: Newton goes astray on longer ones.
const STEPS: usize = 4;

/// What the judging of ends needs.
pub(crate) struct Judge<'a> {
    pub(crate) fit: &'a Fit,
    pub(crate) pattern: &'a Pattern,
    pub(crate) refits: usize,
    pub(crate) seed: u64,
    pub(crate) with_quantiles: bool,
    pub(crate) level: f64,
}

impl Judge<'_> {
    /// Cut-offs if the truth lay where the quantity's end is at signed root `depth`, below the estimate (`side` −1)
    /// or above it. `None` where there is no such end, or too few refits have the quantity.
    pub(crate) fn depths(&self, quantity: Quantity, depth: f64, side: f64) -> Option<Depths> {
        let end = profile_end(self.fit, quantity, depth, side).ok()?;
        let truth = self.most_likely(quantity, end)?;
        let refits = Refits::drawn_at(self.fit, &truth, self.pattern, self.refits, self.seed)?;
        let calibration = calibrate(&refits, quantity, self.with_quantiles)?;
        Some(calibration.depths(self.level))
    }

    /// The likeliest parameters with the quantity at `end` on its scale.
    fn most_likely(&self, quantity: Quantity, end: f64) -> Option<Vec<f64>> {
        let problem = self.fit.problem(&self.fit.terms);
        let asked = |x: &[f64]| ask(&problem, x, quantity);
        let mut x = problem.pick(&self.fit.theta);
        let own = asked(&x).value;
        for step in 1..=STEPS {
            let target = own + (end - own) * step as f64 / STEPS as f64;
            x = maximum(&problem, &asked, &x, target)?.x;
        }
        Some(problem.place(&x))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::fit::fit;
    use crate::laws::by_name;
    use crate::unit::Own;
    use sealspan_records::observation::{Observation, Sample};

    /// The law that an end is judged on has the quantity at that end.
    #[test]
    fn the_likeliest_law_has_the_quantity_at_its_end() {
        let ages = [
            31.0, 64.0, 72.0, 95.0, 110.0, 118.0, 140.0, 155.0, 171.0, 205.0, 240.0, 310.0,
        ];
        let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let sample = Sample::new(rows.into());
        let fit = fit(by_name("weibull").unwrap(), &sample).unwrap();
        let own = Own::of(&fit);
        let judge = Judge {
            fit: &own.fit,
            pattern: &Pattern::in_unit(&sample, own.unit).unwrap(),
            refits: 99,
            seed: 1,
            with_quantiles: false,
            level: 0.9,
        };
        for quantity in [Quantity::Survival(90.0), Quantity::Quantile(0.1)] {
            let quantity = own.asked(quantity);
            let at = |theta: &[f64]| judge.fit.family.quantity(theta, quantity).value;
            let estimate = at(&judge.fit.theta);
            for side in [-1.0, 1.0] {
                let end = profile_end(judge.fit, quantity, 1.645, side).unwrap();
                assert!((end - estimate) * side > 0.2);
                let truth = judge.most_likely(quantity, end).unwrap();
                assert!((at(&truth) - end).abs() < 1e-6, "{end} {truth:?}");
            }
        }
    }
}
