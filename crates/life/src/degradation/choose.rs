//! Which model of the paths the measurements support.

use super::crossing::Crossing;
use super::mixed::{self, Closed, Mixed, NoPath};
use super::mixed_fit::STRUCTURES;
use super::wear::{self, NoWear, Wear};
use super::{Limit, Path, Scale};
use rayon::prelude::*;
use sealspan_numeric::special::chi_square_survival;

/// The models that can be asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Straight paths.
    Linear,
    /// Paths straight in the logarithm.
    LogLinear,
    /// Gamma increments.
    Gamma,
}

/// Every model with its word.
pub const KINDS: [(Kind, &str); 3] = [
    (Kind::Linear, "linear"),
    (Kind::LogLinear, "log-linear"),
    (Kind::Gamma, "gamma"),
];

impl Kind {
    /// Its word in options and outputs.
    ///
    /// ```
    /// use sealspan_life::degradation::choose::{KINDS, Kind};
    /// assert_eq!(KINDS.map(|(kind, _)| kind.word()), ["linear", "log-linear", "gamma"]);
    /// assert!(Kind::Gamma.words().starts_with("wear by independent gamma increments"));
    /// assert!(Kind::LogLinear.words().starts_with("paths straight in the logarithm"));
    /// ```
    #[must_use]
    pub fn word(self) -> &'static str {
        KINDS.iter().find(|(k, _)| *k == self).map_or("", |k| k.1)
    }

    /// In a sentence.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Linear => "straight paths that differ from seal to seal, with measurement error",
            Self::LogLinear => {
                "paths straight in the logarithm that differ from seal to seal, with measurement error"
            }
            Self::Gamma => "wear by independent gamma increments, measured without error",
        }
    }
}

/// A fitted model.
///
/// ```
/// use sealspan_life::degradation::{Limit, Scale, choose::Model, mixed, wear};
/// let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-6, "{a} is not {b}");
/// let limit = Limit { value: 6.0, rising: true };
/// let paths = [
///     vec![(0.0, 0.0), (1.0, 1.0), (2.0, 3.0), (3.0, 4.0)],
///     vec![(0.0, 0.0), (1.0, 2.0), (2.0, 3.0), (3.0, 5.0)],
///     vec![(0.0, 0.0), (1.0, 1.0), (2.0, 2.0), (3.0, 3.0)],
/// ];
/// // Gamma wear of shape 1 a day and rate 1/2: 2 a day on average, exponential over one day, and a seal that wore
/// // 2 ln 40 in it is one of the 1/40 that wear most.
/// let gamma = wear::fit(&paths, limit).unwrap();
/// let gamma = wear::Wear { shape: 1.0, rate: 0.5, starts: vec![0.0], new_value: 0.0, ..gamma };
/// let model = Model::Wear(gamma.parameters_known());
/// near(model.rate(None, limit), 2.0);
/// near(model.p_value(&[(0.0, 0.0), (1.0, 2.0 * 40.0_f64.ln())], limit).unwrap(), 2.0 / 40.0);
/// near(model.new_seal(limit).unwrap().by(1.0), (-3.0_f64).exp());
/// near(model.of_seal(&[(0.0, 0.0), (10.0, 4.0)], limit).unwrap().by(11.0), (-1.0_f64).exp());
/// // With shape, rate and start known nothing is open, and the interval is one age.
/// for end in model.share_interval(limit, (-3.0_f64).exp(), 0.9) {
///     near(end.unwrap(), 1.0);
/// }
/// // Straight paths: a seal on the mean line goes like the rest, and reaches the limit where that line does.
/// let lines = mixed::fit(&paths, Scale::Plain).unwrap().spreads_known();
/// let at = |t: f64| lines.mean.x + lines.mean.y * t;
/// let (rate, there) = (lines.mean.y, (6.0 - lines.mean.x) / lines.mean.y);
/// let path = [(0.0, at(0.0)), (3.0, at(3.0))];
/// let model = Model::Mixed(Box::new(lines));
/// near(model.rate(None, limit), rate);
/// near(model.rate(Some(&path), limit), rate);
/// near(model.p_value(&path, limit).unwrap(), 1.0);
/// assert!(model.p_value(&path[..1], limit).is_none());
/// near(model.new_seal(limit).unwrap().age_at(0.5).unwrap(), there);
/// near(model.of_seal(&path, limit).unwrap().age_at(0.5).unwrap(), there);
/// let [lower, upper] = model.share_interval(limit, 0.5, 0.9);
/// assert!(lower.unwrap() < upper.unwrap());
/// ```
#[derive(Debug, Clone, PartialEq)]
pub enum Model {
    /// Straight paths on one scale.
    Mixed(Box<Mixed>),
    /// Gamma increments.
    Wear(Wear),
}

/// A model looked at, with its likelihood or why there is none.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Which.
    pub kind: Kind,
    /// Log-likelihood of all values but each seal's first, given that one; the only one that all three models
    /// share, for the gamma process says nothing of a seal's first value.
    pub log_likelihood: Option<f64>,
    /// Parameters.
    pub parameters: usize,
    /// Akaike's criterion of that likelihood, 2 × parameters − 2 ln L (Akaike 1974, from memory); smaller is better.
    pub aic: Option<f64>,
    /// Why it is not to be had.
    pub reason: Option<String>,
}

/// The model chosen, and those it was chosen from.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The one used.
    pub kind: Kind,
    /// It.
    pub model: Model,
    /// All that were looked at.
    pub candidates: Vec<Candidate>,
}

/// Fits the models asked for and takes the one with the least criterion.
///
/// # Errors
/// The candidates with their reasons, when none can be fitted.
///
/// ```
/// use sealspan_life::degradation::{Limit, choose::{Kind, choose}};
/// // Straight paths with a small error: the logarithm does not straighten them.
/// let path = |rate: f64, error: f64| -> Vec<(f64, f64)> {
///     (0..6).map(|i| (f64::from(i), 1.0 + rate * f64::from(i) + error * f64::from(i % 2))).collect()
/// };
/// let paths = [path(1.0, 0.1), path(2.0, -0.1), path(3.0, 0.1), path(2.5, -0.1)];
/// let limit = Limit { value: 20.0, rising: true };
/// let choice = choose(&paths, limit, &[Kind::Linear, Kind::LogLinear]).unwrap();
/// assert_eq!((choice.kind, choice.candidates.len()), (Kind::Linear, 2));
/// let half = choice.model.new_seal(limit).unwrap().age_at(0.5).unwrap();
/// assert!((half - 19.0 / 2.125).abs() < 1.0);
/// ```
pub fn choose(
    paths: &[Vec<(f64, f64)>],
    limit: Limit,
    kinds: &[Kind],
) -> Result<Choice, Vec<Candidate>> {
    let fitted: Vec<(Kind, Result<Fitted, String>)> = kinds
        .par_iter()
        .map(|kind| (*kind, fit(paths, limit, *kind)))
        .collect();
    let mut candidates = vec![];
    let mut best: Option<(f64, Kind, Fitted)> = None;
    for (kind, fitted) in fitted {
        let (model, reason) = match fitted {
            Ok(model) => (Some(model), None),
            Err(why) => (None, Some(why)),
        };
        let parameters = match &model {
            Some(Fitted::Mixed(m)) => m.model.structure.parameters(),
            Some(Fitted::Wear(_)) => 2,
            None => 0,
        };
        let log_likelihood = model.as_ref().map(|m| match m {
            Fitted::Mixed(m) => m.model.given_first,
            Fitted::Wear(w) => w.given_first,
        });
        let aic = log_likelihood.map(|l| 2.0 * parameters as f64 - 2.0 * l);
        candidates.push(Candidate {
            kind,
            log_likelihood,
            parameters,
            aic,
            reason,
        });
        if let (Some(aic), Some(model)) = (aic, model)
            && best.as_ref().is_none_or(|(b, _, _)| aic < *b)
        {
            best = Some((aic, kind, model));
        }
    }
    match best {
        Some((_, kind, model)) => Ok(Choice {
            kind,
            model: match model {
                Fitted::Mixed(m) => Model::Mixed(Box::new(m.opened())),
                Fitted::Wear(w) => Model::Wear(w),
            },
            candidates,
        }),
        None => Err(candidates),
    }
}

/// A fitted model; only the one chosen is drawn from.
enum Fitted {
    Mixed(Box<Closed>),
    Wear(Wear),
}

fn fit(paths: &[Vec<(f64, f64)>], limit: Limit, kind: Kind) -> Result<Fitted, String> {
    let mixed = |scale: Scale| {
        if scale == Scale::Log && limit.value <= 0.0 {
            return Err("the limit is not above 0, so there is no logarithm".to_owned());
        }
        let fitted =
            mixed::closed(paths, scale, &STRUCTURES).map_err(|why: NoPath| why.to_string());
        fitted.map(|m| Fitted::Mixed(Box::new(m)))
    };
    match kind {
        Kind::Linear => mixed(Scale::Plain),
        Kind::LogLinear => mixed(Scale::Log),
        Kind::Gamma => wear::fit(paths, limit)
            .map(Fitted::Wear)
            .map_err(|why: NoWear| why.to_string()),
    }
}

impl Model {
    /// When a new seal reaches the limit: ages in the unit of the paths. `None` where the limit is not on the model's
    /// scale.
    #[must_use]
    pub fn new_seal(&self, limit: Limit) -> Option<Crossing> {
        match self {
            Self::Mixed(m) => m.new_seal(limit),
            Self::Wear(w) => Some(w.new_seal(limit)),
        }
    }

    /// Interval of the age by which a share `p` of new seals is past the limit, at two-sided confidence `level` (both
    /// between 0 and 1). An end is `None` where the share may never get there.
    #[must_use]
    pub fn share_interval(&self, limit: Limit, p: f64, level: f64) -> [Option<f64>; 2] {
        match self {
            Self::Mixed(m) => m.share_interval(limit, p, level),
            Self::Wear(w) => w.share_interval(limit, p, level),
        }
    }

    /// When this seal reaches the limit. Straight paths take a seal never measured for a new one; gamma wear has no
    /// answer for it (`None`).
    #[must_use]
    pub fn of_seal(&self, path: &Path, limit: Limit) -> Option<Crossing> {
        match self {
            Self::Mixed(m) => m.of_seal(path, limit),
            Self::Wear(w) => w.of_seal(path, limit),
        }
    }

    /// Rate of a seal on the model's scale, per unit of age: the mean one without a path. Under gamma wear every seal
    /// has the mean rate, shape/rate, with the sign of the way to the limit.
    #[must_use]
    pub fn rate(&self, path: Option<&Path>, limit: Limit) -> f64 {
        match (self, path) {
            (Self::Mixed(m), Some(path)) => m.own(path).mean.y,
            (Self::Mixed(m), None) => m.mean.y,
            (Self::Wear(w), _) => limit.side() * w.shape / w.rate,
        }
    }

    /// Two-sided p-value of a seal's going like the rest, from its rate; `None` where the model has no such
    /// question, or the seal no answer.
    #[must_use]
    pub fn p_value(&self, path: &Path, limit: Limit) -> Option<f64> {
        match self {
            Self::Mixed(m) => {
                let own = m.own(path);
                let variance = own.off_covariance.m22;
                let square = own.off.y * own.off.y / variance;
                (variance > 0.0 && path.len() > 1).then(|| chi_square_survival(square, 1.0))
            }
            Self::Wear(w) => w.p_value(path, limit),
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// Steps of a gamma law of shape 3 a day and rate ½ are 6 on average: down where the limit lies below.
    #[test]
    fn gamma_wear_goes_to_its_limit_by_shape_over_rate() {
        for (value, rising, want) in [(60.0, true, 6.0), (-60.0, false, -6.0)] {
            let limit = Limit { value, rising };
            let to = |steps: [f64; 3]| -> Vec<(f64, f64)> {
                let ages = [0.0, 1.0, 2.0].into_iter();
                ages.zip(steps.map(|s| limit.side() * s)).collect()
            };
            let paths = [
                to([0.0, 1.0, 3.0]),
                to([0.0, 2.0, 3.0]),
                to([0.0, 1.0, 2.0]),
            ];
            let wear = Wear {
                shape: 3.0,
                rate: 0.5,
                ..wear::fit(&paths, limit).unwrap()
            };
            let rate = Model::Wear(wear).rate(None, limit);
            assert!((rate - want).abs() < 1e-12, "{rate} {want}");
        }
    }
}
