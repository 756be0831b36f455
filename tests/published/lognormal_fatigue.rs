//! Bury (1999) Example 11.3: fatigue of 18 pieces, 3 unbroken.

use crate::support::fits;

const NAME: &str = "lognormal-fatigue";

#[test]
fn fits_agree_with_50_digit_arithmetic() {
    fits::check(NAME, 127);
}
