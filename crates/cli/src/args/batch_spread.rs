//! The option that says how far batches lie apart.

use super::not_negative;

/// Standard deviation of ln life between batches.
#[derive(Clone, Copy, PartialEq)]
pub enum BatchSpread {
    /// As stated.
    Stated(f64),
    /// As the recorded batches show it.
    Records,
}

/// A number, zero or more, or `records`.
pub fn batch_spread(text: &str) -> Result<BatchSpread, String> {
    if text.eq_ignore_ascii_case("records") {
        return Ok(BatchSpread::Records);
    }
    not_negative(text)
        .map(BatchSpread::Stated)
        .map_err(|why| format!("{why}; or write records"))
}
