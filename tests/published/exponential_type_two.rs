//! Bury (1999) Example 12.4: test of 18 units ended at the 12th failure.

use crate::support::fits;

const NAME: &str = "exponential-type-two";

#[test]
fn fits_agree_with_50_digit_arithmetic() {
    fits::check(NAME, 127);
}
