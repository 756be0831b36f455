//! Fits to samples drawn anew from a fit (parametric bootstrap, drawn as [`crate::resample`] says), kept for every
//! interval and test made of them.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use crate::fit::{Fit, Problem};
use crate::maximise::{LogLikelihood, refit};
use crate::quantity::{Derivatives, Quantity};
use crate::resample::{Pattern, Source};
use crate::terms::Terms;
use crate::unit::Own;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use sealspan_numeric::random::Stream;
use sealspan_records::observation::Sample;

/// One refit.
pub struct Refit {
    /// The drawn sample.
    pub(crate) terms: Terms,
    /// Estimates of the free parameters.
    pub(crate) x: Vec<f64>,
    /// Log-likelihood there.
    pub(crate) value: f64,
    /// Inverse observed information there.
    pub(crate) covariance: DMatrix<f64>,
    /// Slope of the log-likelihood at the parameters drawn from.
    pub(crate) score: DVector<f64>,
}

/// Many refits of one fit, with ages in units of the oldest seen.
pub struct Refits {
    /// The fit whose pattern was drawn anew.
    pub(crate) fit: Fit,
    /// Parameters drawn from: the estimates, or others of the same family.
    pub(crate) truth: Vec<f64>,
    /// Those with an estimate.
    pub(crate) list: Vec<Refit>,
    /// How many samples were drawn.
    pub drawn: usize,
    /// Mean information at the parameters drawn from, inverted.
    pub(crate) expected_covariance: DMatrix<f64>,
}

/// Fewer refits than this say nothing of tails.
const FEWEST: usize = 100;

impl Refits {
    /// Draws `count` samples from the law fitted to `sample` in its pattern and refits each; the same `seed` draws the
    /// same samples. `None` when there are too many failures to draw ([`crate::resample::MOST_FAILURES`]), when fewer
    /// than 100 or than half of the samples have an estimate, or when their mean information cannot be inverted.
    ///
    /// ```
    /// use sealspan_life::{fit::fit, laws::by_name, refits::Refits};
    /// use sealspan_records::{Observation, Sample};
    /// let ages = [150.0, 190.0, 240.0, 250.0, 310.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
    /// let sample = Sample::new(ages.into());
    /// let fit = fit(by_name("weibull").unwrap(), &sample).unwrap();
    /// let refits = Refits::new(&fit, &sample, 100, 1).unwrap();
    /// assert_eq!((refits.drawn, refits.without_estimate()), (100, 0.0));
    /// ```
    #[must_use]
    pub fn new(fit: &Fit, sample: &Sample, count: usize, seed: u64) -> Option<Self> {
        let own = Own::of(fit);
        let pattern = Pattern::in_unit(sample, own.unit)?;
        Self::drawn_at(&own.fit, &own.fit.theta, &pattern, count, seed)
    }

    /// The same from the fitted family's law at `truth`; fit, truth and pattern in one unit.
    pub(crate) fn drawn_at(
        fit: &Fit,
        truth: &[f64],
        pattern: &Pattern,
        count: usize,
        seed: u64,
    ) -> Option<Self> {
        let source = Source::new(pattern, fit.family, truth);
        let drawn: Vec<(Option<Refit>, DMatrix<f64>)> = (0..count as u64)
            .into_par_iter()
            .map(|i| one(fit, truth, source.draw(&mut Stream::new(seed, i))))
            .collect();
        let n = fit.free.len();
        let mut information = DMatrix::zeros(n, n);
        let mut list = Vec::with_capacity(count);
        for (refit, own) in drawn {
            information += own;
            list.extend(refit);
        }
        let expected_covariance = (information / count as f64).try_inverse()?;
        (list.len() >= FEWEST.max(count / 2)).then_some(Self {
            fit: fit.clone(),
            truth: truth.to_vec(),
            list,
            drawn: count,
            expected_covariance,
        })
    }

    /// Share of the drawn samples that had no estimate and are left out.
    #[must_use]
    pub fn without_estimate(&self) -> f64 {
        1.0 - self.list.len() as f64 / self.drawn as f64
    }

    /// Estimates of a quantity on the scale of its intervals, with their standard errors.
    pub(crate) fn estimates(&self, quantity: Quantity) -> Vec<(f64, f64)> {
        self.list
            .par_iter()
            .map(|refit| {
                let problem = self.fit.problem(&refit.terms);
                let q = ask(&problem, &refit.x, quantity);
                let slope = DVector::from_column_slice(&q.gradient);
                let variance = (slope.transpose() * &refit.covariance * &slope)[(0, 0)];
                (q.value, variance.max(0.0).sqrt())
            })
            .collect()
    }
}

fn one(fit: &Fit, truth: &[f64], terms: Terms) -> (Option<Refit>, DMatrix<f64>) {
    let problem = fit.problem(&terms);
    let start = problem.pick(truth);
    let at_truth = problem.derivatives(&start);
    let information = -matrix(&at_truth.hessian);
    let found = refit(&problem, &start).ok();
    // As in a fit, a maximum at which the law closes in on a few failures is none.
    let found = found.filter(|f| !fit.family.closes_in(&problem.place(&f.x), &terms));
    let refit = found.filter(|f| f.value.is_finite()).map(|found| {
        let score = DVector::from_column_slice(&at_truth.gradient);
        (found, score)
    });
    let refit = refit.map(|(found, score)| Refit {
        x: found.x,
        value: found.value,
        covariance: found.covariance,
        score,
        terms,
    });
    (refit, information)
}

/// A quantity over the free parameters.
pub(crate) fn ask(problem: &Problem, x: &[f64], quantity: Quantity) -> Derivatives {
    let d = problem.family.quantity(&problem.place(x), quantity);
    let rows = problem.free.iter().filter_map(|i| d.hessian.get(*i));
    Derivatives {
        value: d.value,
        gradient: problem.pick(&d.gradient),
        hessian: rows.map(|row| problem.pick(row)).collect(),
    }
}

/// Rows as a square matrix.
pub(crate) fn matrix(rows: &[Vec<f64>]) -> DMatrix<f64> {
    let n = rows.len();
    DMatrix::from_fn(n, n, |i, j| {
        rows.get(i).and_then(|r| r.get(j)).copied().unwrap_or(0.0)
    })
}
