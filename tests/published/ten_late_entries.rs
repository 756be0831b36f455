//! Ten lives watched from different ages (validation vignette of the R survival package, test data 2).

use crate::support::close::Check;
use crate::support::expected::read;
use crate::support::hazards;

const NAME: &str = "ten-late-entries";

#[test]
fn delayed_entry() {
    let case = read(NAME);
    let lives = hazards::lives(NAME, "x", |x| x.parse().unwrap(), None, false);
    assert!(lives.delayed());
    let mut checks = Check::new(NAME);
    hazards::by_hand(&mut checks, &lives, &case);
    checks.finish(13);
}
