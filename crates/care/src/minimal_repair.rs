//! Periodic replacement with minimal repair, kept as a check of the mathematics. A seal is replaced
//! when it fails, not patched up to go on at its old age: the policy is not offered for seals.

use crate::error::{Error, Result, positive};

/// Best age and cost rate for a Weibull life when failures in between are repaired to the same age:
/// T = η (c_r/(c_m (β − 1)))^(1/β), rate β c_r/((β − 1) T) (Barlow & Hunter 1960, policy II; from memory).
///
/// # Errors
/// When the shape is not above 1, so that no age is best, or a number is out of range.
///
/// ```
/// let (age, rate) = sealspan_care::minimal_repair::best_age(2.0, 1000.0, 100.0, 20.0)?;
/// assert!((age - 2236.0679775).abs() < 1e-6 && (rate - 0.0894427191).abs() < 1e-12);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn best_age(shape: f64, scale: f64, replacement: f64, repair: f64) -> Result<(f64, f64)> {
    positive("the shape", shape)?;
    positive("the scale", scale)?;
    positive("the cost of a replacement", replacement)?;
    positive("the cost of a repair", repair)?;
    if shape <= 1.0 {
        return Err(Error::no_answer(
            "No best age: the intensity of failures does not rise, so replacing never pays.",
        ));
    }
    let age = scale * (replacement / (repair * (shape - 1.0))).powf(1.0 / shape);
    Ok((age, shape * replacement / ((shape - 1.0) * age)))
}
