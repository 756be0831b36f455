//! Lieblein & Zelen (1956), J. Res. NBS 57:273-316: 23 complete lives of deep-groove ball bearings.

use crate::support::{fits, ranks};

const NAME: &str = "ball-bearings";

#[test]
fn fits_agree_with_50_digit_arithmetic() {
    fits::check(NAME, 146);
}

#[test]
fn ranks_and_lines_agree_with_50_digit_arithmetic() {
    ranks::check(NAME);
}
