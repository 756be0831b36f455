//! The curve of a property against time at one temperature. The choice of curves is common practice, no source.
//!
//! ```
//! use sealspan_life::ageing::curve::{CURVES, Curve};
//! use sealspan_life::ageing::reach::{Limit, Reading};
//! // A change from 10 to 30 as a power of time: ln 20 on the straight scale, and back.
//! let straight = Curve::Power.straighten(30.0, 10.0, f64::NAN).unwrap();
//! assert!((straight - 20.0_f64.ln()).abs() < 1e-12);
//! assert!((Curve::Power.bend_back(straight, 10.0, f64::NAN, true) - 30.0).abs() < 1e-12);
//! // Half-way from 10 to 50 the logistic curve's ln((v − v₀)/(v∞ − v)) is 0.
//! assert!(Curve::Logistic.straighten(30.0, 10.0, 50.0).unwrap().abs() < 1e-12);
//! assert!(Curve::Logistic.needs_start() && Curve::Logistic.needs_end() && !Curve::Power.needs_end());
//! assert!(Curve::LnTime.is_fitted() && !Curve::BetweenTime.is_fitted());
//! assert!(CURVES.iter().all(|(curve, word)| curve.word() == *word && curve.words().len() > 10));
//! // The look at time 0 has no logarithm: it is passed over.
//! let looks = [(0.0, 10.0), (5.0, 12.0)].map(|(hours, value)| Reading { hours, value });
//! let limit = Limit { value: 30.0, rising: true, start: Some(10.0), end: None };
//! assert_eq!(Curve::LnTime.usable(&looks, &limit), (vec![(5.0_f64.ln(), 12.0)], 0));
//! assert!(limit.ends().1.is_nan());
//! ```

use super::reach::{Limit, Reading};

/// How the property is taken to go with time.
///
/// Every fitted curve is a straight line of a transformed value against ln t, so that one
/// regression and one interval (Fieller's) serve them all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Curve {
    /// Straight between the two looks beside the limit, against ln t.
    BetweenLnTime,
    /// Straight between the two looks beside the limit, against t.
    BetweenTime,
    /// Value linear in ln t over the whole test.
    LnTime,
    /// Change from the start as a power of time: ln |v − v₀| linear in ln t.
    Power,
    /// Stretched-exponential approach to an end value: ln(−ln((v∞ − v)/(v∞ − v₀))) linear in ln t.
    Exponential,
    /// Logistic approach to an end value in ln t: ln((v − v₀)/(v∞ − v)) linear in ln t.
    Logistic,
}

/// Every curve with its word.
pub const CURVES: [(Curve, &str); 6] = [
    (Curve::BetweenLnTime, "between-log-time"),
    (Curve::BetweenTime, "between-time"),
    (Curve::LnTime, "log-time"),
    (Curve::Power, "power"),
    (Curve::Exponential, "exponential"),
    (Curve::Logistic, "logistic"),
];

impl Curve {
    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        CURVES
            .iter()
            .find(|(c, _)| *c == self)
            .map_or("", |(_, w)| w)
    }

    /// What it assumes, in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::BetweenLnTime => {
                "straight against ln time between the two looks beside the limit"
            }
            Self::BetweenTime => "straight against time between the two looks beside the limit",
            Self::LnTime => "a straight line against ln time through all looks",
            Self::Power => "a change that grows as a power of time, through all looks",
            Self::Exponential => {
                "a stretched-exponential approach to the end value, through all looks"
            }
            Self::Logistic => "a logistic approach to the end value in ln time, through all looks",
        }
    }

    /// True for curves through all looks; false for those between two.
    #[must_use]
    pub fn is_fitted(self) -> bool {
        !matches!(self, Self::BetweenLnTime | Self::BetweenTime)
    }

    /// True where the value at the start must be known.
    #[must_use]
    pub fn needs_start(self) -> bool {
        matches!(self, Self::Power | Self::Exponential | Self::Logistic)
    }

    /// True where the value approached at the end must be known.
    #[must_use]
    pub fn needs_end(self) -> bool {
        matches!(self, Self::Exponential | Self::Logistic)
    }

    /// The value transformed as each curve says, so that it is straight against ln t; as it is for curves between two
    /// looks and [`Curve::LnTime`]. `start` and `end` are v₀ and v∞, not a number where unknown. `None` outside the
    /// domain: at v₀, for curves with an end unless the value lies between v₀ and v∞, and where one of them is needed
    /// and unknown.
    #[must_use]
    pub fn straighten(self, value: f64, start: f64, end: f64) -> Option<f64> {
        let share = (value - start) / (end - start);
        let out = match self {
            Self::BetweenLnTime | Self::BetweenTime | Self::LnTime => value,
            Self::Power => (value - start).abs().ln(),
            Self::Exponential => (-(-share).ln_1p()).ln(),
            Self::Logistic => share.ln() - (-share).ln_1p(),
        };
        out.is_finite().then_some(out)
    }

    /// The value that a straightened one stands for: the inverse of [`Curve::straighten`]. `rising` says on which side
    /// of v₀ a change as a power of time lies; other curves do not need it.
    #[must_use]
    pub fn bend_back(self, straight: f64, start: f64, end: f64, rising: bool) -> f64 {
        let side = if rising { 1.0 } else { -1.0 };
        match self {
            Self::BetweenLnTime | Self::BetweenTime | Self::LnTime => straight,
            Self::Power => start + side * straight.exp(),
            Self::Exponential => start - (end - start) * (-straight.exp()).exp_m1(),
            Self::Logistic => start + (end - start) / (1.0 + (-straight).exp()),
        }
    }

    /// The looks that a fitted curve can use as (ln of the hours, straightened value), and how many later than time 0
    /// cannot be used (at the start, on its wrong side, or at the end or beyond). Looks at time 0 are passed over.
    #[must_use]
    pub fn usable(self, readings: &[Reading], limit: &Limit) -> (Vec<(f64, f64)>, usize) {
        let (start, end) = limit.ends();
        let side = limit.side();
        let points: Vec<(f64, f64)> = readings
            .iter()
            .filter(|r| r.hours > 0.0)
            .filter(|r| !self.needs_start() || side * (r.value - start) > 0.0)
            .filter_map(|r| Some((r.hours.ln(), self.straighten(r.value, start, end)?)))
            .collect();
        let later = readings.iter().filter(|r| r.hours > 0.0).count();
        let left_out = later - points.len();
        (points, left_out)
    }
}
