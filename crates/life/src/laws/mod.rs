//! The laws, one file each, and the list that everything reads. Laws without a source of their own have the forms of
//! any textbook, written from memory. At age 0 and below survival is taken as 1.
//!
//! ```
//! use sealspan_life::laws::{all, by_name, usual};
//! // Every family is found by the name it gives itself; the usual ones are the first of all.
//! assert!(all().iter().all(|f| by_name(f.name()).unwrap().title() == f.title()));
//! assert!(usual().iter().zip(all()).all(|(a, b)| a.name() == b.name()));
//! let parameters = |name| by_name(name).unwrap().dimension();
//! assert_eq!([parameters("exponential"), parameters("weibull"), parameters("gamma")], [1, 2, 2]);
//! ```

pub mod exponential;
pub mod gamma;
pub mod generalised_gamma;
mod limits;
pub mod log_logistic;
pub mod lognormal;
pub mod normal;
mod nought;
mod powers;
pub mod three_parameter_weibull;
mod two_parts;
pub mod weak_fraction;
pub mod weibull;
pub mod weibull_mixture;

use crate::family::{Family, Of};

static WEIBULL: Of<weibull::Weibull, 2> = Of::new();
static EXPONENTIAL: Of<exponential::Exponential, 1> = Of::new();
static LOGNORMAL: Of<lognormal::Lognormal, 2> = Of::new();
static LOG_LOGISTIC: Of<log_logistic::LogLogistic, 2> = Of::new();
static GAMMA: Of<gamma::Gamma, 2> = Of::new();
static NORMAL: Of<normal::Normal, 2> = Of::new();
static GENERALISED_GAMMA: Of<generalised_gamma::GeneralisedGamma, 3> = Of::new();
static THREE_PARAMETER: Of<three_parameter_weibull::ThreeParameterWeibull, 3> = Of::new();
static WEAK_FRACTION: Of<weak_fraction::WeakFraction, 3> = Of::new();
static MIXTURE: Of<weibull_mixture::WeibullMixture, 5> = Of::new();

/// Every family there is, in the order of outputs.
#[must_use]
pub fn all() -> [&'static dyn Family; 10] {
    [
        &WEIBULL,
        &EXPONENTIAL,
        &LOGNORMAL,
        &LOG_LOGISTIC,
        &GAMMA,
        &NORMAL,
        &GENERALISED_GAMMA,
        &THREE_PARAMETER,
        &WEAK_FRACTION,
        &MIXTURE,
    ]
}

/// The families compared when none is named: those with one or two parameters, and the generalised gamma
/// that holds three of them. The others answer a question of their own and are asked for by name.
#[must_use]
pub fn usual() -> [&'static dyn Family; 7] {
    let [a, b, c, d, e, f, g, ..] = all();
    [a, b, c, d, e, f, g]
}

/// The family of this name, case and spaces around it aside; `None` where there is none.
///
/// ```
/// assert!(sealspan_life::laws::by_name("Weibull").is_some());
/// assert!(sealspan_life::laws::by_name("uniform").is_none());
/// ```
#[must_use]
pub fn by_name(name: &str) -> Option<&'static dyn Family> {
    all()
        .into_iter()
        .find(|family| family.name().eq_ignore_ascii_case(name.trim()))
}
