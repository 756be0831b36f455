//! Straight paths that differ from seal to seal, with measurement error: the fitted model, and what it
//! says of one seal.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::Scale;
use super::mixed_draws::{Draw, draws, stepped};
use super::mixed_fit::{Problem, STRUCTURES, Structure, Sums};
use super::mixed_own::gain;
use crate::fit::NoFit;
use crate::maximise::{LogLikelihood, Maximum};
use nalgebra::{Matrix2, Vector2};
use std::f64::consts::TAU;
use thiserror::Error;

/// Fewest seals with two measurements or more from which paths are fitted (a rule of ours).
pub const FEWEST: usize = 3;

/// Why there is no model.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NoPath {
    /// Too few seals measured twice.
    #[error("only {0} seal(s) were measured at two ages or more; paths need {FEWEST}")]
    TooFew(usize),
    /// A logarithm of a value that is not above 0.
    #[error("a value is not above 0, so there is no logarithm")]
    NotPositive,
    /// The values lie on lines without any error.
    #[error(
        "the values lie on straight lines to the last digit: there is no measurement error to estimate"
    )]
    NoError,
    /// No structure could be fitted.
    #[error("the likelihood of the paths has no maximum that could be reached: {0}")]
    NotReached(NoFit),
}

/// A number with its standard error, where it has one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parameter {
    /// Estimate.
    pub estimate: f64,
    /// Standard error; of the logarithm for standard deviations.
    pub std_error: Option<f64>,
}

/// A fitted model.
#[derive(Debug, Clone, PartialEq)]
pub struct Mixed {
    /// On which scale the paths are straight.
    pub scale: Scale,
    /// In what the seals differ.
    pub structure: Structure,
    /// Mean level and rate (per unit of age) of a seal.
    pub mean: Vector2<f64>,
    /// Covariance of the estimate of that mean.
    pub mean_covariance: Matrix2<f64>,
    /// Covariance of level and rate among seals.
    pub among: Matrix2<f64>,
    /// Standard deviation of one measurement.
    pub noise: f64,
    /// Standard error of ln noise.
    pub ln_noise_error: Option<f64>,
    /// Standard errors of ln standard deviations of level and rate among seals.
    pub ln_among_errors: [Option<f64>; 2],
    /// Log-likelihood of the values (not of their logarithms) at its maximum.
    pub log_likelihood: f64,
    /// Restricted log-likelihood at its maximum, on the model's scale.
    pub restricted: f64,
    /// Log-likelihood, at the estimates given here, of all values but each seal's first, given that one.
    pub given_first: f64,
    /// What the estimated spreads leave open, in the units of the values.
    pub draws: Vec<Draw>,
    /// Seals fitted.
    pub seals: usize,
    /// Measurements fitted.
    pub looks: usize,
}

/// Age and value scaled to about 1, so that the search is well conditioned.
struct Units {
    age: f64,
    middle: f64,
    width: f64,
}

impl Units {
    fn of(paths: &[Vec<(f64, f64)>]) -> Self {
        let all = || paths.iter().flatten();
        let count = all().count().max(1) as f64;
        let middle = all().map(|p| p.1).sum::<f64>() / count;
        let variance = all().map(|p| (p.1 - middle).powi(2)).sum::<f64>() / count;
        let age = all().map(|p| p.0).fold(0.0, f64::max);
        Self {
            age: if age > 0.0 { age } else { 1.0 },
            middle,
            width: if variance > 0.0 { variance.sqrt() } else { 1.0 },
        }
    }

    /// Level in widths about the middle, rate in widths per oldest age.
    fn stretch(&self) -> Matrix2<f64> {
        Matrix2::new(self.width, 0.0, 0.0, self.width / self.age)
    }

    fn unscaled(&self, d: Draw) -> Draw {
        let s = self.stretch();
        Draw {
            weight: d.weight,
            mean: s * d.mean + Vector2::new(self.middle, 0.0),
            mean_covariance: s * d.mean_covariance * s,
            among: s * d.among * s,
            noise: self.width * d.noise,
        }
    }

    fn sums(&self, path: &[(f64, f64)]) -> Sums {
        let scaled = |p: &(f64, f64)| (p.0 / self.age, (p.1 - self.middle) / self.width);
        Sums::of(path.iter().map(scaled))
    }
}

/// A structure at its maximum, still in scaled units.
struct Found {
    structure: Structure,
    value: f64,
    x: Vec<f64>,
}

/// Fits paths straight on `scale` with the richest structure that has a maximum, by restricted likelihood
/// (REML); the full likelihood at its own maximum stands beside it.
///
/// # Errors
/// [`NoPath`], saying why there is no model.
///
/// ```
/// use sealspan_life::degradation::{Scale, mixed::fit};
/// let path = |rate: f64, error: f64| -> Vec<(f64, f64)> {
///     (0..6).map(|i| (f64::from(i), 1.0 + rate * f64::from(i) + error * f64::from(i % 2))).collect()
/// };
/// let found = fit(&[path(1.0, 0.1), path(2.0, -0.1), path(3.0, 0.1)], Scale::Plain).unwrap();
/// // Balanced looks: the mean rate is the mean of the seals' own least-squares rates.
/// assert!((found.mean[1] - (2.0 + 0.1 / 3.0 * 3.0 / 35.0)).abs() < 1e-6);
/// ```
pub fn fit(paths: &[Vec<(f64, f64)>], scale: Scale) -> Result<Mixed, NoPath> {
    fit_among(paths, scale, &STRUCTURES)
}

/// The same, with the structures to choose from, the richest first.
///
/// # Errors
/// As [`fit`]; [`NoPath::NotReached`] where none of the structures has a maximum.
///
/// ```
/// use sealspan_life::degradation::{Scale, mixed::fit_among, mixed_fit::Structure};
/// let path = |rate: f64, error: f64| -> Vec<(f64, f64)> {
///     (0..6).map(|i| (f64::from(i), 1.0 + rate * f64::from(i) + error * f64::from(i % 2))).collect()
/// };
/// let paths = [path(1.0, 0.1), path(2.0, -0.1), path(3.0, 0.1)];
/// // One line for all is the line of least squares through all values: the mean of the seals' own.
/// let alike = fit_among(&paths, Scale::Plain, &[Structure::Alike]).unwrap();
/// assert_eq!((alike.structure, alike.among.m22), (Structure::Alike, 0.0));
/// assert!((alike.mean.y - (2.0 + 0.1 / 3.0 * 3.0 / 35.0)).abs() < 1e-6);
/// // REML: σ² is what is left over by 18 values less 2. About the mean line the rates add 2 Σ t² = 110, and the rest
/// // is small.
/// assert!((alike.noise * alike.noise / (110.0 / 16.0) - 1.0).abs() < 0.01);
/// ```
pub fn fit_among(
    paths: &[Vec<(f64, f64)>],
    scale: Scale,
    structures: &[Structure],
) -> Result<Mixed, NoPath> {
    closed(paths, scale, structures).map(Closed::opened)
}

/// A fitted model without the draws of what it leaves open, which are half the work.
pub(super) struct Closed {
    /// The model.
    pub(super) model: Mixed,
    units: Units,
    sums: Vec<Sums>,
    maximum: Maximum,
}

impl Closed {
    /// The model with its draws.
    pub(super) fn opened(self) -> Mixed {
        let draws = open(&self.sums, self.model.structure, &self.maximum);
        Mixed {
            draws: draws.into_iter().map(|d| self.units.unscaled(d)).collect(),
            ..self.model
        }
    }
}

/// The fit alone.
///
/// # Errors
/// As [`fit`].
pub(super) fn closed(
    paths: &[Vec<(f64, f64)>],
    scale: Scale,
    structures: &[Structure],
) -> Result<Closed, NoPath> {
    let twice = |p: &&Vec<(f64, f64)>| p.windows(2).any(|w| matches!(w, [a, b] if a.0 < b.0));
    let usable = paths.iter().filter(twice).count();
    if usable < FEWEST {
        return Err(NoPath::TooFew(usable));
    }
    let scaled: Vec<Vec<(f64, f64)>> = paths
        .iter()
        .map(|path| {
            path.iter()
                .map(|(t, y)| Some((*t, scale.to(*y)?)))
                .collect()
        })
        .collect::<Option<_>>()
        .ok_or(NoPath::NotPositive)?;
    let units = Units::of(&scaled);
    let sums: Vec<Sums> = scaled.iter().map(|p| units.sums(p)).collect();
    let found = richest(&sums, structures)?;
    let (model, maximum) = restricted(&scaled, paths, scale, &units, &sums, &found)?;
    Ok(Closed {
        model,
        units,
        sums,
        maximum,
    })
}

/// The richest structure that has a maximum: leaving a difference among seals out because it cannot be shown
/// makes prediction intervals too short.
fn richest(sums: &[Sums], structures: &[Structure]) -> Result<Found, NoPath> {
    let start = start(sums).ok_or(NoPath::NoError)?;
    let mut lost = NoFit::Ridge;
    for structure in structures {
        let problem = Problem {
            seals: sums,
            structure: *structure,
            restricted: false,
        };
        match problem.solve(start) {
            Ok(m) => {
                return Ok(Found {
                    structure: *structure,
                    value: m.value,
                    x: m.x,
                });
            }
            Err(why) => lost = why,
        }
    }
    Err(NoPath::NotReached(lost))
}

/// Mean line and residual of the seals' own lines; `None` where nothing is left over.
fn start(seals: &[Sums]) -> Option<[f64; 3]> {
    let all = seals.iter().fold(Sums::default(), |a, s| Sums {
        n: a.n + s.n,
        t: a.t + s.t,
        tt: a.tt + s.tt,
        y: a.y + s.y,
        ty: a.ty + s.ty,
        yy: a.yy + s.yy,
    });
    let rate = (all.n * all.ty - all.t * all.y) / (all.n * all.tt - all.t * all.t);
    let level = (all.y - rate * all.t) / all.n;
    let (mut left, mut freedom) = (0.0, 0.0);
    for s in seals {
        let (tt, ty, yy) = (
            s.tt - s.t * s.t / s.n,
            s.ty - s.t * s.y / s.n,
            s.yy - s.y * s.y / s.n,
        );
        if s.n > 2.0 && tt > 0.0 {
            left += (yy - ty * ty / tt).max(0.0);
            freedom += s.n - 2.0;
        }
    }
    // Without a seal measured three times the error shows only beside the common line.
    let variance = if freedom > 0.0 {
        left / freedom
    } else {
        (all.yy - level * all.y - rate * all.ty).max(0.0) / all.n
    };
    let ln_noise = 0.5 * variance.ln();
    (variance > 1e-12 && rate.is_finite()).then_some([level, rate, ln_noise])
}

fn restricted(
    scaled: &[Vec<(f64, f64)>],
    plain: &[Vec<(f64, f64)>],
    scale: Scale,
    units: &Units,
    sums: &[Sums],
    found: &Found,
) -> Result<(Mixed, Maximum), NoPath> {
    let problem = Problem {
        seals: sums,
        structure: found.structure,
        restricted: true,
    };
    let maximum = problem.solve_near(&found.x).map_err(NoPath::NotReached)?;
    let at = |i: usize| maximum.x.get(i).copied().unwrap_or(0.0);
    let [l1, l2, l3] = found.structure.root_of(&maximum.x);
    let noise = at(2).exp();
    let root = Matrix2::new(l1, 0.0, l2, l3) * noise;
    let root = units.stretch() * root;
    let looks = sums.iter().map(|s| s.n).sum::<f64>();
    let mut model = Mixed {
        scale,
        structure: found.structure,
        mean: Vector2::new(
            units.middle + units.width * at(0),
            units.width / units.age * at(1),
        ),
        mean_covariance: Matrix2::zeros(),
        among: root * root.transpose(),
        noise: units.width * noise,
        ln_noise_error: Some(maximum.covariance[(2, 2)].sqrt()),
        ln_among_errors: among_errors(&found.structure, &maximum.x, &maximum.covariance),
        log_likelihood: found.value - looks * units.width.ln() - jacobian(plain, scale, 0),
        // Σ ZᵀV⁻¹Z changes with the unit of age too: by its square root's determinant.
        restricted: maximum.value - (looks - 2.0) * units.width.ln() - units.age.ln(),
        given_first: 0.0,
        draws: vec![],
        seals: sums.len(),
        looks: looks as usize,
    };
    let first = model.estimate();
    let information: Matrix2<f64> = scaled.iter().map(|p| gain(&first, p).0).sum();
    model.mean_covariance = information.try_inverse().ok_or(NoPath::NoError)?;
    let free = Problem {
        restricted: false,
        ..problem
    };
    let here = free.value(&maximum.x) - looks * units.width.ln() - jacobian(plain, scale, 0);
    model.given_first = here - model.first_values(scaled, plain);
    Ok((model, maximum))
}

/// What the estimate leaves open, in scaled units. A difference among seals that has no maximum above 0 is not
/// known to be 0: the draws let it in.
fn open(sums: &[Sums], structure: Structure, maximum: &Maximum) -> Vec<Draw> {
    let (wide, from) = structure.widened(&maximum.x);
    let problem = Problem {
        seals: sums,
        structure: wide,
        restricted: true,
    };
    if wide == structure {
        draws(&problem, maximum)
    } else {
        stepped(&problem, &from)
    }
}

/// Σ ln value over all measurements but the first `skip` of each seal, on the log scale: what a density of
/// logarithms lacks to be one of values.
fn jacobian(plain: &[Vec<(f64, f64)>], scale: Scale, skip: usize) -> f64 {
    match scale {
        Scale::Plain => 0.0,
        Scale::Log => plain
            .iter()
            .flat_map(|p| p.iter().skip(skip))
            .map(|p| p.1.ln())
            .sum(),
    }
}

/// Standard errors of ln sd of level and of rate, by the delta method.
fn among_errors(
    structure: &Structure,
    x: &[f64],
    covariance: &nalgebra::DMatrix<f64>,
) -> [Option<f64>; 2] {
    let [l1, l2, l3] = structure.root_of(x);
    let error = |terms: &[(usize, f64)]| {
        let mut variance = 0.0;
        for (i, a) in terms {
            for (j, b) in terms {
                variance += a * b * covariance[(*i, *j)];
            }
        }
        (variance > 0.0 && variance.is_finite()).then(|| variance.sqrt())
    };
    let level = || error(&[(2, 1.0), (3, 1.0 / l1)]);
    let rate_at = |i: usize| error(&[(2, 1.0), (i, 1.0 / l3)]);
    match structure {
        Structure::Correlated => {
            let square = l2 * l2 + l3 * l3;
            [
                level(),
                error(&[(2, 1.0), (4, l2 / square), (5, l3 / square)]),
            ]
        }
        Structure::Independent => [level(), rate_at(4)],
        Structure::Rate => [None, rate_at(3)],
        Structure::Level => [level(), None],
        Structure::Alike => [None, None],
    }
}

impl Mixed {
    /// The estimate itself as one draw.
    pub(super) fn estimate(&self) -> Draw {
        Draw {
            weight: 1.0,
            mean: self.mean,
            mean_covariance: self.mean_covariance,
            among: self.among,
            noise: self.noise,
        }
    }

    /// Log-likelihood of each seal's first value by itself.
    fn first_values(&self, scaled: &[Vec<(f64, f64)>], plain: &[Vec<(f64, f64)>]) -> f64 {
        let firsts = scaled.iter().filter_map(|p| p.first());
        let density = |(t, y): &(f64, f64)| {
            let z = Vector2::new(1.0, *t);
            let variance = (self.among * z).dot(&z) + self.noise * self.noise;
            -0.5 * ((TAU * variance).ln() + (y - self.mean.dot(&z)).powi(2) / variance)
        };
        let all = jacobian(plain, self.scale, 0) - jacobian(plain, self.scale, 1);
        firsts.map(density).sum::<f64>() - all
    }
}

#[cfg(test)]
mod tests;
