//! Diesel generator fans, Nelson (1982): 70 fans, 12 failures, heavily censored.

use crate::support::{fits, ranks};

const NAME: &str = "diesel-fans";

#[test]
fn fits_agree_with_50_digit_arithmetic() {
    fits::check(NAME, 127);
}

#[test]
fn ranks_and_lines_agree_with_50_digit_arithmetic() {
    ranks::check(NAME);
}
