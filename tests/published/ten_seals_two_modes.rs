//! Ten invented lives ended by two modes, small enough to work by hand: cumulative incidence in fractions.

use crate::support::close::Check;
use crate::support::expected::read;
use crate::support::modes;
use sealspan_life::competing::incidence::cumulative_incidence;
use sealspan_life::competing::rows::{ByMode, ModeRow};
use sealspan_records::Observation;

#[test]
fn cumulative_incidence_in_fractions() {
    let case = read("ten-seals-two-modes");
    assert_eq!(case["invented"], true);
    let rows = case["rows"].as_array().unwrap().iter().map(|row| {
        let (t, mode) = (row[0].as_f64().unwrap(), row[1].as_u64().unwrap());
        let mode = (mode as usize).checked_sub(1);
        let observation = match mode {
            Some(_) => Observation::exact(t, 0.0, 1.0),
            None => Observation::right(t, 0.0, 1.0),
        };
        ModeRow {
            observation: observation.unwrap(),
            mode,
        }
    });
    let lives = ByMode::new(rows.collect(), 2).unwrap();
    let found = cumulative_incidence(&lives, 0.95).unwrap();
    let mut checks = Check::new("ten seals, two modes");
    for wanted in case["incidence"].as_array().unwrap() {
        let mode = wanted["mode"].as_u64().unwrap() as usize - 1;
        modes::compare(&mut checks, &lives, &found, mode, wanted);
    }
    checks.finish(48);
}
