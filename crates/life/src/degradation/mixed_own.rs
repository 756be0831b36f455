//! What the model of straight paths says of one seal: its own line, and when it reaches the limit.
//!
//! ```
//! use sealspan_life::degradation::{Limit, Scale, mixed::fit_among, mixed_fit::Structure};
//! let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} is not {b}");
//! // Twelve invented seals that wear at 1 to 3.2 a day, each measured at days 0 to 5 with an error.
//! let path = |seal: i32| -> Vec<(f64, f64)> {
//!     let error = |day: i32| 0.2 * f64::from((7 * seal + 3 * day + seal * day) % 5 - 2);
//!     (0..6).map(|t| (f64::from(t), 1.0 + (1.0 + 0.2 * f64::from(seal)) * f64::from(t) + error(t))).collect()
//! };
//! let paths: Vec<_> = (0..12).map(path).collect();
//! let found = fit_among(&paths, Scale::Plain, &[Structure::Rate]).unwrap();
//! // Only rates differ, with variance w: a seal's departs by Σ t r / (Σ t² + σ²/w), r beside the mean line, Σ t² = 55.
//! let beside = |(t, y): &(f64, f64)| t * (y - found.mean.x - found.mean.y * t);
//! let own = found.own(&paths[11]);
//! let steep = 55.0 + found.noise.powi(2) / found.among.m22;
//! near(own.off.y, paths[11].iter().map(beside).sum::<f64>() / steep);
//! near(own.mean.y, found.mean.y + own.off.y);
//! near(own.off.x, 0.0);
//! // A seal never measured has the mean line, and its rate is as uncertain as rates differ and the mean is known.
//! let new = found.own(&[]);
//! near(new.mean.y, found.mean.y);
//! near(new.covariance.m22, found.among.m22 + found.mean_covariance.m22);
//! // Spreads taken as known, half the seals are past the limit where the mean line is.
//! let limit = Limit { value: 12.0, rising: true };
//! let known = found.spreads_known();
//! near(known.new_seal(limit).unwrap().age_at(0.5).unwrap(), (12.0 - found.mean.x) / found.mean.y);
//! let crossing = known.of_seal(&paths[11], limit).unwrap();
//! near(crossing.age_at(0.5).unwrap(), (12.0 - own.mean.x) / own.mean.y);
//! // What is left open: mean rates about the estimate, as far off as its standard error says, and Student's law with
//! // 11 degrees of freedom is wider than the normal one by √(11/9).
//! let worlds = found.possible(200);
//! let mean = |f: &dyn Fn(f64) -> f64| {
//!     worlds.iter().map(|w| w.weight * f(w.mean.1)).sum::<f64>() / worlds.iter().map(|w| w.weight).sum::<f64>()
//! };
//! let error = found.mean_covariance.m22.sqrt();
//! assert!((mean(&|rate| rate) - found.mean.y).abs() < 0.3 * error);
//! let spread = mean(&|rate| (rate - found.mean.y).powi(2)).sqrt();
//! assert!((spread / (error * (11.0_f64 / 9.0).sqrt()) - 1.0).abs() < 0.2);
//! // The age by which half are past the limit: the mean line's, ± t standard errors over the mean rate (delta method;
//! // t of 11 degrees of freedom is 1.795885 at 90 %, from tables).
//! let [lower, upper] = found.share_interval(limit, 0.5, 0.9).map(Option::unwrap);
//! let age = (12.0 - found.mean.x) / found.mean.y;
//! let c = found.mean_covariance;
//! let reach = 1.795_885 * (c.m11 + 2.0 * age * c.m12 + age * age * c.m22).sqrt() / found.mean.y;
//! assert!(((upper - lower) / (2.0 * reach) - 1.0).abs() < 0.15);
//! ```

use super::crossing::{Crossing, Part};
use super::mixed::Mixed;
use super::mixed_draws::Draw;
use super::{Limit, Path};
use nalgebra::{Matrix2, Vector2};
use sealspan_numeric::random::Stream;

/// Mean lines drawn for each draw of the spreads.
const LINES: usize = 5;
/// Seed of those lines: a part of the method, not a choice of the user's.
const SEED: u64 = 20_240_102;

/// What one seal's measurements say of its own line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Own {
    /// Level and rate (per unit of age) expected of it, on the model's scale.
    pub mean: Vector2<f64>,
    /// Covariance of their error, that of the fleet's mean included.
    pub covariance: Matrix2<f64>,
    /// Its departure from the fleet's mean.
    pub off: Vector2<f64>,
    /// Covariance that such departures have among seals measured like this one.
    pub off_covariance: Matrix2<f64>,
}

/// Paths that the measurements leave possible: mean line and spreads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Possible {
    /// Its weight among the others.
    pub weight: f64,
    /// Mean level and rate (per unit of age), on the model's scale.
    pub mean: (f64, f64),
    /// Variance of the level among seals, covariance, variance of the rate.
    pub among: (f64, f64, f64),
    /// Standard deviation of one measurement.
    pub noise: f64,
}

/// ZᵀV⁻¹Z and ZᵀV⁻¹(y − Zb) of a path on the model's scale.
pub(super) fn gain(d: &Draw, path: &[(f64, f64)]) -> (Matrix2<f64>, Vector2<f64>) {
    let precision = 1.0 / (d.noise * d.noise);
    let (mut s, mut r) = (Matrix2::zeros(), Vector2::zeros());
    for (t, y) in path {
        let z = Vector2::new(1.0, *t);
        s += z * z.transpose() * precision;
        r += z * (y - d.mean.dot(&z)) * precision;
    }
    // (I + S D)⁻¹ is well defined however small D is.
    let inner = Matrix2::identity() + s * d.among;
    let inverse = inner.try_inverse().unwrap_or_else(Matrix2::zeros);
    (inverse * s, inverse * r)
}

/// Best linear unbiased prediction of a seal's own line (Henderson, from memory).
fn own(d: &Draw, path: &[(f64, f64)]) -> Own {
    let (gain, pull) = gain(d, path);
    let off = d.among * pull;
    let kept = Matrix2::identity() - d.among * gain;
    let spread = d.among - d.among * gain * d.among;
    Own {
        mean: d.mean + off,
        covariance: spread + kept * d.mean_covariance * kept.transpose(),
        off,
        off_covariance: d.among * gain * d.among,
    }
}

impl Mixed {
    /// The path on the model's scale, without values outside its domain.
    fn on_scale(&self, path: &Path) -> Vec<(f64, f64)> {
        path.iter()
            .filter_map(|(t, y)| Some((*t, self.scale.to(*y)?)))
            .collect()
    }

    /// What a seal's measurements say of its own line, the estimated spreads taken as known: with Z its rows (1, age), D
    /// the covariance among seals and V = Z D Zᵀ + σ²I, its departure is D Zᵀ V⁻¹ (y − Z b) (best linear unbiased
    /// prediction; Henderson, from memory). Values outside the scale's domain are left out.
    #[must_use]
    pub fn own(&self, path: &Path) -> Own {
        own(&self.estimate(), &self.on_scale(path))
    }

    /// When a new seal's true value reaches the limit, averaged over what the estimate leaves open.
    #[must_use]
    pub fn new_seal(&self, limit: Limit) -> Option<Crossing> {
        self.crossing(limit, |d| (d.mean, d.among + d.mean_covariance))
    }

    /// When this seal's true value reaches the limit, averaged over what the estimate leaves open.
    #[must_use]
    pub fn of_seal(&self, path: &Path, limit: Limit) -> Option<Crossing> {
        let path = self.on_scale(path);
        self.crossing(limit, |d| {
            let own = own(d, &path);
            (own.mean, own.covariance)
        })
    }

    /// Interval, at two-sided confidence `level`, of the age by which a share `p` of new seals is past the
    /// limit: from draws of the mean line and the spreads. An end is `None` where the share may never get
    /// there.
    #[must_use]
    pub fn share_interval(&self, limit: Limit, p: f64, level: f64) -> [Option<f64>; 2] {
        let Some(at) = self.scale.to(limit.value) else {
            return [None; 2];
        };
        let draws = if self.draws.is_empty() {
            vec![self.estimate()]
        } else {
            self.draws.clone()
        };
        let mut ages: Vec<(f64, f64)> = vec![];
        let mut stream = Stream::new(SEED, 1);
        for d in &draws {
            let root = d.mean_covariance.cholesky().map(|c| c.l());
            for _ in 0..LINES {
                let z = Vector2::new(stream.normal(), stream.normal());
                let mean = d.mean + root.map_or_else(Vector2::zeros, |l| l * z);
                let part = Part::Normal {
                    mean: (mean.x, mean.y),
                    covariance: (d.among.m11, d.among.m12, d.among.m22),
                    limit: at,
                    side: limit.side(),
                };
                let age = Crossing::new(vec![(1.0, part)]).age_at(p);
                ages.push((age.unwrap_or(f64::INFINITY), d.weight / LINES as f64));
            }
        }
        ages.sort_by(|a, b| a.0.total_cmp(&b.0));
        let tail = 0.5 - 0.5 * level;
        [tail, 1.0 - tail].map(|share| {
            let mut sum = 0.0;
            let reached = ages.iter().find(|(_, w)| {
                sum += w;
                sum >= share
            });
            reached.map(|a| a.0).filter(|a| a.is_finite())
        })
    }

    /// About `count` sets of paths that the estimate leaves possible, each with a mean line drawn about the one that
    /// belongs to its spreads; the same each time.
    #[must_use]
    pub fn possible(&self, count: usize) -> Vec<Possible> {
        let step = (self.draws.len() / count.max(1)).max(1);
        let mut stream = Stream::new(SEED, 2);
        self.draws
            .iter()
            .step_by(step)
            .map(|d| {
                let root = d.mean_covariance.cholesky().map(|c| c.l());
                let z = Vector2::new(stream.normal(), stream.normal());
                let mean = d.mean + root.map_or_else(Vector2::zeros, |l| l * z);
                Possible {
                    weight: d.weight,
                    mean: (mean.x, mean.y),
                    among: (d.among.m11, d.among.m12, d.among.m22),
                    noise: d.noise,
                }
            })
            .collect()
    }

    /// The model with the estimated spreads taken as known, for checks.
    #[must_use]
    pub fn spreads_known(&self) -> Self {
        Self {
            draws: vec![],
            ..self.clone()
        }
    }

    fn crossing(
        &self,
        limit: Limit,
        line: impl Fn(&Draw) -> (Vector2<f64>, Matrix2<f64>),
    ) -> Option<Crossing> {
        let at = self.scale.to(limit.value)?;
        let part = |d: &Draw| {
            let (mean, c) = line(d);
            let part = Part::Normal {
                mean: (mean.x, mean.y),
                covariance: (c.m11, c.m12, c.m22),
                limit: at,
                side: limit.side(),
            };
            (d.weight, part)
        };
        Some(if self.draws.is_empty() {
            Crossing::new(vec![part(&self.estimate())])
        } else {
            Crossing::new(self.draws.iter().map(part).collect())
        })
    }
}
