//! The Arrhenius line: ln time to the limit against 1/T, by least squares, weighted least squares, or
//! maximum likelihood where an oven did not reach the limit.
//!
//! ```
//! use sealspan_life::ageing::line::{Point, fit};
//! use sealspan_life::ageing::{arrhenius::kelvin, reach::{At, Reach}};
//! let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-6, "{a} is not {b}");
//! // Three ovens evenly spaced in 1/T with ln t = 3, 4.1, 5: by hand the slope is 1 a step, residuals ±1/30, ∓1/15.
//! let step = 1e-4;
//! let oven = |k: f64, ln_hours: f64| Point {
//!     celsius: 1.0 / (0.0027 + k * step) - 273.15,
//!     reach: Reach::At(At { ln_hours, std_error: None, freedom: 0.0, interval: None }),
//! };
//! let ovens = [oven(0.0, 3.0), oven(1.0, 4.1), oven(2.0, 5.0)];
//! let line = fit(&ovens, false).unwrap();
//! near(line.slope, 1.0 / step);
//! near(line.intercept(), 12.1 / 3.0 - 28.0); // the mean of ln t less slope times the mean of 1/T
//! let error = (6.0 / 900.0_f64).sqrt() / 2.0_f64.sqrt() / step; // √(residual variance/2)/step
//! near(line.slope_error().unwrap(), error);
//! // Student's t of one degree of freedom at 95 %: tan(0.45 π) = 6.313752.
//! near(line.slope_interval(0.9).unwrap().1, 1.0 / step + 6.313_751_515 * error);
//! // The temperature for given hours inverts the line, and its interval holds it.
//! let hours = line.at(80.0, 0.9).ln_hours.exp();
//! near(kelvin(line.temperature_for(hours).unwrap()), kelvin(80.0));
//! let ends = line.temperature_interval(hours, 0.5, false).unwrap();
//! assert!(ends[0].unwrap() < 80.0 && 80.0 < ends[1].unwrap());
//! ```

use super::arrhenius::kelvin;
use super::least_squares::{Straight, straight};
use super::reach::{At, Reach};
use crate::laws;
use crate::regression::{Cell, regress};
use crate::terms::Terms;
use sealspan_numeric::roots::bracketed;
use sealspan_numeric::special::student_quantile;
use sealspan_records::observation::{Observation, Sample};
use std::sync::Arc;
use thiserror::Error;

/// Kelvin away from the line beyond which an end of a temperature is not looked for.
const FARTHEST: usize = 500;

/// One oven on the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Temperature, °C.
    pub celsius: f64,
    /// When the limit was reached.
    pub reach: Reach,
}

impl Point {
    /// 1/T, 1/K.
    pub(super) fn x(&self) -> f64 {
        1.0 / kelvin(self.celsius)
    }
}

/// How the line was fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Every oven alike.
    LeastSquares,
    /// Each oven by the inverse of its own error's square.
    Weighted,
    /// Normal errors of ln time, ovens that did not reach the limit kept as censored.
    Censored,
}

impl Method {
    /// In words, as part of a sentence.
    ///
    /// ```
    /// use sealspan_life::ageing::line::Method;
    /// assert_eq!(Method::Weighted.words(), "least squares, each oven weighted by its own error");
    /// ```
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::LeastSquares => "least squares, every oven alike",
            Self::Weighted => "least squares, each oven weighted by its own error",
            Self::Censored => {
                "maximum likelihood with normal errors of ln time; ovens that did not reach the limit count as censored"
            }
        }
    }
}

/// Why there is no line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum NoLine {
    /// Fewer than two temperatures at which the limit was reached; the number of ovens that reached it.
    #[error("the limit was reached at {0} temperature(s): a line needs two, an interval three")]
    TooFew(usize),
    /// Weights were asked for and are not to be had: an oven has no error of its own, or one of 0, or did not reach the
    /// limit within the test.
    #[error(
        "weights need the own error of every oven, and every oven to have reached the limit: use a fitted curve or several specimens, or leave the weights out"
    )]
    NoWeights,
    /// The censored likelihood has no maximum.
    #[error("the line through ovens that did not reach the limit has no finite estimate")]
    NotReached,
}

/// ln time = intercept + slope/T, time in hours and T in kelvin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// How it was fitted.
    pub method: Method,
    /// Ovens that reached the limit within the test.
    pub reached: usize,
    /// Ovens that did not: still short of it at the last look, or past it at the first.
    pub censored: usize,
    /// 1/T about which level and slope are stated, 1/K.
    pub centre: f64,
    /// ln hours at the centre.
    pub level: f64,
    /// Slope, K.
    pub slope: f64,
    /// Standard deviation of an oven about the line, in ln time (of an average oven where they are weighted); `None`
    /// without a degree of freedom.
    pub residual: Option<f64>,
    /// Degrees of freedom of the residual: ovens that reached the limit less two.
    pub freedom: f64,
    /// Variances of level and slope (K²) and their covariance (K); `None` without a degree of freedom.
    pub covariance: Option<(f64, f64, f64)>,
    /// Standard error of the slope, K, that the ovens' own errors alone would give the least-squares line through the
    /// ovens that reached the limit; `None` where one of these has none.
    pub own_slope_error: Option<f64>,
}

/// ln time at a temperature with its intervals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prediction {
    /// ln hours.
    pub ln_hours: f64,
    /// Confidence interval of the line, ln hours; `None` without a degree of freedom.
    pub confidence: Option<(f64, f64)>,
    /// Prediction interval of one more oven, ln hours (or one more part in service, if it scatters alike); `None`
    /// without a degree of freedom.
    pub prediction: Option<(f64, f64)>,
}

/// Fits the line; `weighted` asks for each oven to count by the inverse of its own error's square.
///
/// With every oven reached it is least squares and its intervals use Student's t with n − 2 degrees of
/// freedom (textbook formulas, from memory). With censored ovens beside three or more that reached the limit it is the
/// maximum of the normal likelihood of ln time, where an oven counts as later than its last look or earlier than its
/// first; its covariance and residual variance are enlarged by m/(m − 2) and t has m − 2 degrees of freedom, m being
/// the ovens that reached the limit (a rule of ours: it gives least squares back when the censored ones say nothing).
/// Beside two that reached it the others are left out, and the line goes through these two.
///
/// # Errors
/// [`NoLine`], saying what is missing.
///
/// ```
/// use sealspan_life::ageing::line::{Point, fit};
/// use sealspan_life::ageing::reach::{At, Reach};
/// let oven = |celsius, hours: f64| Point {
///     celsius,
///     reach: Reach::At(At { ln_hours: hours.ln(), std_error: None, freedom: 0.0, interval: None }),
/// };
/// let line = fit(&[oven(80.0, 1000.0), oven(100.0, 250.0)], false).unwrap();
/// assert!((line.slope - 4.0_f64.ln() / (1.0 / 353.15 - 1.0 / 373.15)).abs() < 1e-6);
/// assert!((line.at(80.0, 0.9).ln_hours - 1000.0_f64.ln()).abs() < 1e-9);
/// assert!((line.temperature_for(250.0).unwrap() - 100.0).abs() < 1e-6);
/// ```
pub fn fit(points: &[Point], weighted: bool) -> Result<Line, NoLine> {
    let times: Vec<(f64, At)> = points
        .iter()
        .filter_map(|p| match p.reach {
            Reach::At(at) => Some((p.x(), at)),
            _ => None,
        })
        .collect();
    let censored = points.len() - times.len();
    let weight = |at: &At| {
        let own = at.std_error.filter(|e| *e > 0.0);
        if weighted {
            own.map(|e| 1.0 / (e * e))
        } else {
            Some(1.0)
        }
    };
    let rows: Option<Vec<(f64, f64, f64)>> = times
        .iter()
        .map(|(x, at)| Some((*x, at.ln_hours, weight(at)?)))
        .collect();
    let mut rows = rows
        .filter(|_| !weighted || censored == 0)
        .ok_or(NoLine::NoWeights)?;
    // Weights with mean inverse 1: the residual is that of an average oven.
    let scale = rows.iter().map(|r| 1.0 / r.2).sum::<f64>() / rows.len().max(1) as f64;
    rows.iter_mut().for_each(|r| r.2 *= scale);
    let line = straight(&rows).ok_or(NoLine::TooFew(times.len()))?;
    let own = own_slope_error(&times, &rows, &line);
    if censored > 0 && times.len() >= 3 {
        let found = through_censored(points, line.centre, times.len(), censored)?;
        return Ok(Line {
            own_slope_error: own,
            ..found
        });
    }
    Ok(Line {
        method: if weighted {
            Method::Weighted
        } else {
            Method::LeastSquares
        },
        reached: times.len(),
        censored,
        centre: line.centre,
        level: line.level,
        slope: line.slope,
        residual: line.variance.map(f64::sqrt),
        freedom: line.freedom.max(0.0),
        covariance: line
            .variance
            .map(|v| (v / line.weight, v / line.spread, 0.0)),
        own_slope_error: own,
    })
}

/// What the ovens' own errors, taken as independent, make of the slope.
fn own_slope_error(times: &[(f64, At)], rows: &[(f64, f64, f64)], line: &Straight) -> Option<f64> {
    let mut variance = 0.0;
    for ((x, at), row) in times.iter().zip(rows) {
        let pull = row.2 * (x - line.centre) / line.spread;
        variance += (pull * at.std_error?).powi(2);
    }
    Some(variance.sqrt())
}

/// The maximum of the likelihood with censored ovens, by the regression that serves lives too.
fn through_censored(
    points: &[Point],
    centre: f64,
    reached: usize,
    censored: usize,
) -> Result<Line, NoLine> {
    let family = laws::by_name("lognormal").ok_or(NoLine::NotReached)?;
    let cells = points
        .iter()
        .map(|p| {
            let seen = match p.reach {
                Reach::At(at) => Observation::exact(at.ln_hours.exp(), 0.0, 1.0),
                Reach::After(hours) => Observation::right(hours, 0.0, 1.0),
                Reach::Before(hours) => Observation::interval(0.0, hours, 0.0, 1.0),
            };
            Some(Cell {
                row: vec![1.0, p.x() - centre],
                terms: Arc::new(Terms::new(&Sample::new(vec![seen.ok()?]))),
            })
        })
        .collect::<Option<Vec<_>>>()
        .ok_or(NoLine::NotReached)?;
    let names = ["level".to_owned(), "slope".to_owned()];
    let found = regress(family, &names, &cells).map_err(|_| NoLine::NotReached)?;
    let (Some(level), Some(slope), Some(ln_sigma)) =
        (found.x.first(), found.x.get(1), found.x.get(2))
    else {
        return Err(NoLine::NotReached);
    };
    let freedom = reached as f64 - 2.0;
    let larger = reached as f64 / freedom;
    let c = &found.covariance;
    Ok(Line {
        method: Method::Censored,
        reached,
        censored,
        centre,
        level: *level,
        slope: *slope,
        residual: Some(ln_sigma.exp() * larger.sqrt()),
        freedom,
        covariance: Some((c[(0, 0)] * larger, c[(1, 1)] * larger, c[(0, 1)] * larger)),
        own_slope_error: None,
    })
}

impl Line {
    /// ln hours at 1/T = 0.
    #[must_use]
    pub fn intercept(&self) -> f64 {
        self.level - self.slope * self.centre
    }

    /// Student's t for a two-sided level; `None` without a degree of freedom.
    fn t(&self, level: f64) -> Option<f64> {
        (self.freedom >= 1.0).then(|| student_quantile(0.5 + 0.5 * level, self.freedom))
    }

    /// Standard error of the slope, K; `None` without a degree of freedom.
    #[must_use]
    pub fn slope_error(&self) -> Option<f64> {
        self.covariance.map(|(_, slope, _)| slope.sqrt())
    }

    /// Confidence interval of the slope at two-sided `level`, K: slope ± t × its standard error, t of Student's law;
    /// `None` without a degree of freedom.
    #[must_use]
    pub fn slope_interval(&self, level: f64) -> Option<(f64, f64)> {
        let half = self.t(level)? * self.slope_error()?;
        Some((self.slope - half, self.slope + half))
    }

    /// ln time at a temperature in °C, with the two intervals at two-sided `level`: ± t √v by Student's law, where with
    /// x = 1/T − centre v = var(level) + 2x cov + x² var(slope) for the line, and the square of the residual more for
    /// one more oven.
    #[must_use]
    pub fn at(&self, celsius: f64, level: f64) -> Prediction {
        let off = 1.0 / kelvin(celsius) - self.centre;
        let ln_hours = self.level + self.slope * off;
        let around = |variance: f64, t: f64| {
            let half = t * variance.sqrt();
            (ln_hours - half, ln_hours + half)
        };
        let own = self
            .covariance
            .map(|(a, b, ab)| a + 2.0 * ab * off + b * off * off);
        let t = self.t(level);
        Prediction {
            ln_hours,
            confidence: own.zip(t).map(|(v, t)| around(v, t)),
            prediction: own
                .zip(t)
                .zip(self.residual)
                .map(|((v, t), s)| around(v + s * s, t)),
        }
    }

    /// Interval of the temperature in °C at which so many hours are reached: where the ends of the line's own
    /// interval (`predicted`: of the interval of one more oven) reach them, as in Fieller (1954, from memory); the
    /// cooler end first. An end is `None` where that end of the interval does not within 500 K of the line's own
    /// temperature. `None` without an interval of the line, or without that temperature ([`Line::temperature_for`]).
    #[must_use]
    pub fn temperature_interval(
        &self,
        hours: f64,
        level: f64,
        predicted: bool,
    ) -> Option<[Option<f64>; 2]> {
        let from = self.temperature_for(hours)?;
        let ends = |celsius: f64| {
            let at = self.at(celsius, level);
            if predicted {
                at.prediction
            } else {
                at.confidence
            }
        };
        ends(from)?;
        let miss = |celsius: f64, upper: bool| {
            ends(celsius).map_or(f64::NAN, |e| if upper { e.1 } else { e.0 }) - hours.ln()
        };
        // The lower end of the time reaches the hours at a cooler place than the line, the upper at a hotter one.
        let crossing = |upper: bool| {
            let step = if upper { 1.0 } else { -1.0 };
            let mut near = from;
            for _ in 0..FARTHEST {
                let next = near + step;
                if next <= -super::arrhenius::ZERO_CELSIUS + 1.0 {
                    return None;
                }
                if miss(near, upper) * miss(next, upper) <= 0.0 {
                    let (low, high) = (near.min(next), near.max(next));
                    return bracketed(|c| miss(c, upper), low, high, 1e-9);
                }
                near = next;
            }
            None
        };
        Some([crossing(false), crossing(true)])
    }

    /// Temperature in °C at which the line gives so many hours, 1/T = centre + (ln hours − level)/slope; `None` for a
    /// line that does not fall with temperature, or for hours so few that no temperature is hot enough.
    #[must_use]
    pub fn temperature_for(&self, hours: f64) -> Option<f64> {
        let inverse = self.centre + (hours.ln() - self.level) / self.slope;
        let celsius = 1.0 / inverse - super::arrhenius::ZERO_CELSIUS;
        (self.slope > 0.0 && inverse > 0.0 && celsius.is_finite()).then_some(celsius)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn oven(celsius: f64, hours: f64) -> Point {
        Point {
            celsius,
            reach: Reach::At(At {
                ln_hours: hours.ln(),
                std_error: None,
                freedom: 0.0,
                interval: None,
            }),
        }
    }

    const SEEN: [(f64, f64); 4] = [
        (150.0, 96.0),
        (135.0, 260.0),
        (120.0, 780.0),
        (105.0, 2600.0),
    ];

    #[test]
    fn a_censored_oven_that_says_nothing_changes_nothing() {
        let mut points: Vec<Point> = SEEN.iter().map(|(c, h)| oven(*c, *h)).collect();
        let plain = fit(&points, false).unwrap();
        points.push(Point {
            celsius: 60.0,
            reach: Reach::After(100.0),
        });
        let censored = fit(&points, false).unwrap();
        assert_eq!(censored.method, Method::Censored);
        assert!((censored.slope / plain.slope - 1.0).abs() < 1e-9);
        let (a, b) = (plain.at(40.0, 0.9), censored.at(40.0, 0.9));
        let (p, q) = (a.prediction.unwrap(), b.prediction.unwrap());
        assert!((p.0 - q.0).abs() < 1e-8 && (p.1 - q.1).abs() < 1e-8);
    }

    #[test]
    fn a_censored_oven_above_the_line_lifts_it() {
        let mut points: Vec<Point> = SEEN.iter().map(|(c, h)| oven(*c, *h)).collect();
        let plain = fit(&points, false).unwrap();
        points.push(Point {
            celsius: 90.0,
            reach: Reach::After(3.0 * plain.at(90.0, 0.9).ln_hours.exp()),
        });
        let lifted = fit(&points, false).unwrap();
        assert!(lifted.at(90.0, 0.9).ln_hours > plain.at(90.0, 0.9).ln_hours + 0.05);
    }

    /// The temperature for a life is where the line gives that life; none for so short a life that the line asks for
    /// less than no 1/T, and none on a line along which lives grow with heat.
    #[test]
    fn a_temperature_beyond_all_heat_is_none() {
        let points: Vec<Point> = SEEN.iter().map(|(c, h)| oven(*c, *h)).collect();
        let line = fit(&points, false).unwrap();
        let celsius = line.temperature_for(5000.0).unwrap();
        assert!((line.at(celsius, 0.9).ln_hours - 5000f64.ln()).abs() < 1e-9);
        assert_eq!(line.temperature_for(1e-30), None);
        let rising = Line {
            slope: -line.slope,
            ..line
        };
        assert_eq!(rising.temperature_for(5000.0), None);
    }

    /// An end of the temperature is where that end of the life's interval is the life asked for.
    #[test]
    fn the_interval_of_a_temperature_turns_that_of_a_life_around() {
        let points: Vec<Point> = SEEN.iter().map(|(c, h)| oven(*c, *h)).collect();
        let line = fit(&points, false).unwrap();
        let hours = 5000.0_f64;
        let middle = line.temperature_for(hours).unwrap();
        for predicted in [false, true] {
            let ends = line.temperature_interval(hours, 0.9, predicted).unwrap();
            let [low, high] = ends.map(Option::unwrap);
            assert!(low < middle && middle < high, "{low} {middle} {high}");
            let of = |c: f64| {
                let at = line.at(c, 0.9);
                if predicted {
                    at.prediction
                } else {
                    at.confidence
                }
                .unwrap()
            };
            assert!((of(low).0 - hours.ln()).abs() < 1e-6);
            assert!((of(high).1 - hours.ln()).abs() < 1e-6);
        }
        let two = fit(&[oven(100.0, 500.0), oven(120.0, 100.0)], false).unwrap();
        assert_eq!(two.temperature_interval(hours, 0.9, true), None);
    }

    #[test]
    fn too_little_is_refused_and_two_give_no_interval() {
        assert_eq!(fit(&[oven(100.0, 50.0)], false), Err(NoLine::TooFew(1)));
        let two = fit(&[oven(100.0, 500.0), oven(120.0, 100.0)], false).unwrap();
        assert!(two.at(80.0, 0.9).prediction.is_none() && two.slope > 0.0);
    }
}
