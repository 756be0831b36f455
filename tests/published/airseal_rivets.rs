//! Air-seal rivets, Abernethy et al. (1983), AFWAL-TR-83-2079 p. 17: 5 failures among 3 suspensions.

use crate::support::{fits, ranks};

const NAME: &str = "airseal-rivets";

#[test]
fn fits_agree_with_50_digit_arithmetic() {
    fits::check(NAME, 127);
}

#[test]
fn ranks_and_lines_agree_with_50_digit_arithmetic() {
    ranks::check(NAME);
}
