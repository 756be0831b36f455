//! What can be asked of a defect model, each with derivatives and a scale for its intervals.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::caught::ln_caught;
use super::fit::DefectFit;
use super::integral::Point;
use super::model::{Model, Theta};
use super::moments::{DETECTION, PARAMETERS};
use crate::bounds::Bounds;
use crate::contour::{Contour, Enough};
use crate::family::Family;
use crate::law::Link;
use crate::maximise::LogLikelihood as _;
use crate::quantity::{Derivatives, Quantity};
use nalgebra::{DMatrix, DVector};
use sealspan_numeric::jet::{Jet, Scalar};
use sealspan_numeric::roots::{bracket_from, bracketed};
use sealspan_numeric::special::normal_quantile;
use sealspan_records::history::{Ended, History};

/// A question to a defect model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DefectQuantity {
    /// Of the age at which defects come.
    Defect(Quantity),
    /// Of the delay from defect to failure.
    Delay(Quantity),
    /// Probability that a look finds a defect that is there.
    Detection,
    /// Share of defects that looks this far apart find before they fail, for defects that come at any time between two looks.
    Caught {
        /// Time between looks.
        every: f64,
    },
    /// Age by which this share has failed, were nothing taken off on condition: of U + H.
    LifeQuantile(f64),
    /// Mean age at failure, were nothing taken off on condition.
    LifeMean,
}

type J = Jet<PARAMETERS>;

/// What is near enough at an interval's end; and by rough integrals on the way there, the step in standard errors.
const LAST: Enough = Enough {
    step: 1e-7,
    fall: 1e-5,
};
const ON_THE_WAY: Enough = Enough {
    step: 0.05,
    fall: 0.02,
};

/// Over the fewer of failures and findings, what is added to one in the cut-off of the likelihood ratio (the form of
/// Bartlett 1937, from memory). Measured on invented fleets, of which `tests/coverage/defects.md` holds the table.
const THIN: f64 = 10.0;
/// What those fleets showed of 90 % intervals so widened.
pub(super) const MEASURED: &str = "86 to 97 cases of a hundred, by quantity and fleet";

fn embed(d: &Derivatives, at: usize) -> J {
    let mut out = J::constant(d.value);
    for (i, g) in d.gradient.iter().enumerate() {
        out.gradient[at + i] = *g;
        for (j, h) in d.hessian.get(i).into_iter().flatten().enumerate() {
            out.hessian[at + i][at + j] = *h;
        }
    }
    out
}

/// The quantity on the scale of its intervals, with its derivatives in the five parameters: ln of ages and times, the
/// logit of a probability. `None` where the law gives none.
#[must_use]
pub fn scaled(model: &Model, theta: &Theta, quantity: DefectQuantity) -> Option<J> {
    let (defect, delay) = (model.defect.family()?, model.delay.family()?);
    let of = |family: &dyn Family, q, at: usize| {
        let own = theta.get(at..at + family.dimension())?;
        Some(embed(&family.quantity(own, q), at))
    };
    match quantity {
        DefectQuantity::Defect(q) => of(defect, q, 0),
        DefectQuantity::Delay(q) => of(delay, q, 2),
        DefectQuantity::Detection => {
            let mut out = J::constant(theta[DETECTION]);
            out.gradient[DETECTION] = 1.0;
            Some(out)
        }
        DefectQuantity::Caught { every } => {
            let ln = ln_caught(model.delay, &Point::new(theta), every);
            // The share may round to 1.
            let below_one = if ln.value < -1e-15 {
                ln
            } else {
                J::constant(-1e-15)
            };
            Some(ln - below_one.ln_1m_exp())
        }
        DefectQuantity::LifeMean => {
            let both = of(defect, Quantity::Mean, 0)?.ln_add_exp(of(delay, Quantity::Mean, 2)?);
            Some(both)
        }
        DefectQuantity::LifeQuantile(p) => life_quantile(model, theta, p),
    }
}

/// Back from that scale: an age or time in the unit of the histories, or a probability.
#[must_use]
pub fn unscale(model: &Model, quantity: DefectQuantity, x: f64) -> Option<f64> {
    Some(match quantity {
        DefectQuantity::Defect(q) => model.defect.family()?.unscale(q, x),
        DefectQuantity::Delay(q) => model.delay.family()?.unscale(q, x),
        DefectQuantity::Detection | DefectQuantity::Caught { .. } => Link::Logit.undo(x),
        DefectQuantity::LifeMean | DefectQuantity::LifeQuantile(_) => x.exp(),
    })
}

/// ln of the age by which the share `p` of U + H has passed; derivatives by the implicit function.
fn life_quantile(model: &Model, theta: &Theta, p: f64) -> Option<J> {
    let (term, point) = (model.term(), Point::new(theta));
    let history =
        |x: f64, ended: fn(f64) -> Ended| History::new(0.0, vec![], ended(x.exp()), 1.0).ok();
    let value = |x: f64, ended| history(x, ended).map_or(f64::NAN, |h| (term.value)(&point, &h));
    let at = |x: f64, ended| Some((term.jet)(&point, &history(x, ended)?));
    let target = (-p).ln_1p();
    let off = |x: f64| value(x, Ended::Running) - target;
    let start = theta[0].max(theta[2]);
    let step = if off(start) > 0.0 { 0.5 } else { -0.5 };
    let (low, high) = bracket_from(off, start, step, 60)?;
    let x = bracketed(off, low, high, 1e-13)?;
    let (alive, density) = (at(x, Ended::Running)?, at(x, Ended::Failed)?);
    let near = |d: f64| value(x + d, Ended::Failed);
    // Only the bend of the quantity hangs on this difference, and only its search uses that.
    let slope_of_density = (near(1e-4) - near(-1e-4)) / 2e-4;
    // Hazard per unit of ln age.
    let hazard = (x + density.value - alive.value).exp();
    let mut out = J::constant(x);
    for i in 0..PARAMETERS {
        out.gradient[i] = alive.gradient[i] / hazard;
    }
    let curve = 1.0 + slope_of_density + hazard;
    for i in 0..PARAMETERS {
        for j in 0..PARAMETERS {
            let (xi, xj) = (out.gradient[i], out.gradient[j]);
            let cross = |k: usize| density.gradient[k] - alive.gradient[k];
            out.hessian[i][j] =
                alive.hessian[i][j] / hazard - cross(i) * xj - cross(j) * xi - curve * xi * xj;
        }
    }
    Some(out)
}

impl DefectFit {
    /// Estimate of a quantity in its own unit.
    #[must_use]
    pub fn estimate(&self, quantity: DefectQuantity) -> Option<f64> {
        let value = scaled(&self.model, &self.theta, quantity)?.value;
        unscale(&self.model, quantity, value).filter(|v| v.is_finite())
    }

    /// Standard error on the scale of the quantity's intervals, by the delta method.
    #[must_use]
    pub fn scaled_error(&self, quantity: DefectQuantity) -> Option<f64> {
        let jet = scaled(&self.model, &self.theta, quantity)?;
        let g = DVector::from_column_slice(&jet.gradient);
        Some(
            (g.transpose() * &self.covariance * &g)[(0, 0)]
                .max(0.0)
                .sqrt(),
        )
    }

    /// How deep below the maximum, as r in ℓ̂ − r²/2, the ends of an interval at two-sided confidence `level` lie: the
    /// normal quantile, deeper where the log is thin (`tests/coverage/defects.md` tells how that was measured).
    #[must_use]
    pub fn depth(&self, level: f64) -> f64 {
        normal_quantile(0.5 + 0.5 * level) * self.widened()
    }

    /// How many times deeper than in a large log.
    #[must_use]
    pub(crate) fn widened(&self) -> f64 {
        let fewer = self.counts.failed.min(self.counts.found).max(1.0);
        (1.0 + THIN / fewer).sqrt()
    }

    /// Profile-likelihood bounds at two-sided confidence `level`. An end that the likelihood does not set
    /// is `None`; a detection up to 1 is given as 1. A stated parameter has none.
    #[must_use]
    pub fn bounds(&self, quantity: DefectQuantity, level: f64) -> Bounds {
        let z = self.depth(level);
        if self.scaled_error(quantity).is_none_or(|e| e <= 0.0) {
            return Bounds::default();
        }
        let (lower, upper) = rayon::join(
            || self.profile_end(quantity, z, -1.0),
            || self.profile_end(quantity, z, 1.0),
        );
        let mut out = Bounds {
            lower,
            upper,
            ..Bounds::default()
        };
        if quantity == DefectQuantity::Detection && upper.is_none() && self.holds_perfect(z) {
            out.upper = Some(1.0);
        }
        out
    }

    fn profile_end(&self, quantity: DefectQuantity, z: f64, side: f64) -> Option<f64> {
        let (mut rough, problem) = (self.problem(), self.problem());
        rough.rough = true;
        let asked = |x: &[f64]| {
            let jet = scaled(&self.model, &problem.place(x), quantity)
                .unwrap_or_else(|| J::constant(f64::NAN));
            problem.picked(&Derivatives {
                value: jet.value,
                gradient: jet.gradient.to_vec(),
                hessian: jet.hessian.iter().map(|row| row.to_vec()).collect(),
            })
        };
        let n = problem.free.len();
        let at = |i: usize| problem.free.get(i).copied().unwrap_or(0);
        let centre = problem.pick(&self.theta);
        let contour = |problem, top| Contour {
            likelihood: problem,
            quantity: &asked,
            top,
            centre: DVector::from_column_slice(&centre),
            covariance: DMatrix::from_fn(n, n, |i, j| self.covariance[(at(i), at(j))]),
            side,
        };
        let exact = contour(&problem, self.log_likelihood);
        // The way out roughly, the last of it exactly; the whole way exactly where the rough one loses itself.
        let quick = contour(&rough, rough.value(&centre))
            .path(z, ON_THE_WAY)
            .ok()
            .and_then(|near| exact.from(near, z, LAST));
        let end = quick.or_else(|| exact.follow(z).ok())?;
        unscale(&self.model, quantity, end).filter(|v| v.is_finite())
    }

    /// Whether looks that miss nothing lie within the interval.
    fn holds_perfect(&self, z: f64) -> bool {
        let perfect = Model {
            detection: Some(1.0),
            ..self.model
        };
        super::fit::fit(perfect, self.histories.to_vec())
            .is_ok_and(|f| self.log_likelihood - f.log_likelihood <= 0.5 * z * z)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::defects::StageLaw;
    use crate::defects::fit::fit;
    use crate::defects::simulate::{LookPlan, simulate};
    use crate::life::Life;
    use sealspan_numeric::random::Stream;

    /// A fit whose likelihood lies higher by 1 than that of looks that miss nothing: they are within r where r²/2 is more.
    #[test]
    fn perfect_looks_are_held_down_to_their_depth() {
        let perfect = Model {
            defect: StageLaw::Exponential,
            delay: StageLaw::Exponential,
            detection: Some(1.0),
        };
        let plan = LookPlan {
            every: 60.0,
            jitter: 20.0,
            skipped: 0.0,
            until: (300.0, 800.0),
            entry: 0.0,
            detection: 1.0,
        };
        let life = |mean| Life::exponential(mean).unwrap();
        let (defect, delay, mut stream) = (life(500.0), life(100.0), Stream::new(3, 0));
        let list = (0..30).filter_map(|_| simulate(&defect, &delay, &plan, &mut stream));
        let found = fit(perfect, list.collect()).unwrap();
        let higher = DefectFit {
            log_likelihood: found.log_likelihood + 1.0,
            model: Model {
                detection: None,
                ..perfect
            },
            ..found
        };
        for (r, held) in [(1.3, false), (1.41, false), (1.42, true), (1.6, true)] {
            assert_eq!(higher.holds_perfect(r), held, "{r}");
        }
    }
}
