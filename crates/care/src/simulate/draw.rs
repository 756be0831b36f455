//! Draws a life; Weibull by its closed form.

use crate::seal::weibull;
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;

/// Where lives come from.
#[derive(Debug, Clone)]
pub(super) enum Draw {
    /// ln scale and 1/shape.
    Weibull(f64, f64),
    /// Any other law, by inversion.
    Other(Life),
}

impl Draw {
    pub fn new(life: &Life) -> Self {
        match weibull(life) {
            Some((shape, scale)) => Self::Weibull(scale.ln(), 1.0 / shape),
            None => Self::Other(life.clone()),
        }
    }

    #[inline]
    pub fn life(&self, stream: &mut Stream) -> f64 {
        match self {
            Self::Weibull(ln_scale, power) => (ln_scale + power * stream.exponential().ln()).exp(),
            Self::Other(life) => life.sample(stream.uniform()),
        }
    }
}
