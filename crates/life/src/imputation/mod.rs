//! Failures known only to lie between two looks, for methods that need exact ages: the ages are drawn again
//! and again within their intervals, each completed sample is answered, and the answers are combined with
//! what the drawing leaves open (Rubin 1987, *Multiple Imputation for Nonresponse in Surveys*; for interval
//! data Sun 2006, *The Statistical Analysis of Interval-censored Failure Time Data*; both from memory).
//!
//! ```
//! use sealspan_life::imputation::{between_looks, copies};
//! use sealspan_records::Observation;
//! let rows = [Observation::interval(40.0, 50.0, 0.0, 3.0)?, Observation::exact(60.0, 0.0, 1.0)?];
//! assert_eq!((between_looks(&rows), copies(&rows)), (3.0, 100));
//! # Ok::<(), sealspan_records::observation::NotAnObservation>(())
//! ```

pub mod rubin;
mod within;

pub use within::{FromCurve, FromRegression, completed};

use sealspan_records::observation::{Observation, Seen};

/// How often ages are drawn, for so many lives: 100 times up to 20,000, 40 up to 200,000, else 20, for the answers of
/// large samples move less (a rule of ours).
#[must_use]
pub fn copies<'a>(rows: impl IntoIterator<Item = &'a Observation>) -> usize {
    let lives: f64 = rows.into_iter().map(Observation::count).sum();
    if lives <= 20_000.0 {
        100
    } else if lives <= 200_000.0 {
        40
    } else {
        20
    }
}

/// Failures known only to lie between two looks, by their counts.
pub fn between_looks<'a>(rows: impl IntoIterator<Item = &'a Observation>) -> f64 {
    let held = |o: &&Observation| matches!(o.seen(), Seen::Interval(..));
    rows.into_iter().filter(held).map(Observation::count).sum()
}
