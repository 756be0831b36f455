//! Six lives with ties: partial likelihoods whose maximum has a closed form (validation vignette of the R
//! survival package, test data 1).

use crate::support::close::Check;
use crate::support::expected::read;
use crate::support::hazards;

const NAME: &str = "six-tied-lives";

#[test]
fn closed_forms() {
    let case = read(NAME);
    let lives = hazards::lives(NAME, "x", |x| x.parse().unwrap(), None, false);
    let mut checks = Check::new(NAME);
    hazards::by_hand(&mut checks, &lives, &case);
    checks.finish(19);
}

#[test]
fn the_printed_likelihood_with_efrons_ties_is_a_misprint() {
    // The vignette prints -3.358979; its own formula gives -3.358975.
    let case = read(NAME);
    let wanted = case["proportional_hazards"]["efron"]["loglik"]
        .as_f64()
        .unwrap();
    let printed = case["published"]["efron"]["loglik"].as_f64().unwrap();
    assert!((wanted - printed).abs() > 3e-6);
}
