//! The laws, one file each, and the list that everything reads.

pub mod exponential;
pub mod lognormal;
pub mod weibull;

use crate::family::{Family, Of};

static WEIBULL: Of<weibull::Weibull, 2> = Of::new();
static EXPONENTIAL: Of<exponential::Exponential, 1> = Of::new();
static LOGNORMAL: Of<lognormal::Lognormal, 2> = Of::new();

/// Every family there is, in the order of outputs.
#[must_use]
pub fn all() -> [&'static dyn Family; 3] {
    [&WEIBULL, &EXPONENTIAL, &LOGNORMAL]
}

/// The family of this name, case aside.
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
