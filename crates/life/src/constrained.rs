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
