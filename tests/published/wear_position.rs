//! Directions and counts by sector, and a ring turned from place to place.

use crate::support::close::Check;
use crate::support::expected::{fraction, number, numbers, printed as print, read};
use crate::support::tolerances::{ARITHMETIC, ESTIMATE, RECURRENCE, TEST, printed};
use sealspan_life::sectors::rayleigh::{Rayleigh, by_sector, rayleigh};
use sealspan_life::sectors::ring::Turning;
use sealspan_life::sectors::severity::turning_limit;
use sealspan_life::sectors::uneven::{Route, uneven};
use serde_json::Value;

fn direction(checks: &mut Check, values: &Value, case: &str, ours: &Rayleigh) {
    let at = |key: &str| number(values, &format!("{case}.{key}"));
    checks.value(case, ours.n, at("n"), ARITHMETIC);
    checks.value(case, ours.length, at("Rbar"), ESTIMATE);
    checks.value(case, ours.z, at("z=n*Rbar^2"), ESTIMATE);
    checks.value(
        case,
        ours.direction.to_degrees(),
        at("mean_direction_deg"),
        ESTIMATE,
    );
    checks.value(case, ours.p_limit, at("p.exp(-z)"), ESTIMATE);
    let series = "p.series(Mardia; R circular uses it for n<50)";
    checks.value(case, ours.p_series, at(series), ESTIMATE);
    let root = "p.zar(exp(sqrt(1+4n+4(n^2-R^2))-(1+2n)))";
    checks.value(case, ours.p_root, at(root), ESTIMATE);
}

#[test]
fn directions_and_counts_by_quadrant() {
    let case = read("circular");
    let values = &case["values"];
    let mut checks = Check::new("circular");
    let angles: Vec<(f64, f64)> = numbers(&case, "five_angles_rad")
        .into_iter()
        .map(|a| (a, 1.0))
        .collect();
    let five = rayleigh(&angles).unwrap();
    direction(&mut checks, values, "five", &five);
    checks.value(
        "printed z",
        five.z,
        print(&case, "five.z"),
        printed(five.z, 3),
    );
    checks.value(
        "printed p",
        five.p_root,
        print(&case, "five.p_zar"),
        printed(five.p_root, 6),
    );
    let counts: Vec<u32> = numbers(&case, "quadrants")
        .iter()
        .map(|c| *c as u32)
        .collect();
    direction(
        &mut checks,
        values,
        "quadrant.rayleigh",
        &by_sector(&counts).unwrap(),
    );
    let test = uneven(&counts, 1).unwrap();
    assert_eq!(test.route, Route::Exact);
    checks.value(
        "chi-square",
        test.statistic,
        number(values, "quadrant.chi2"),
        TEST,
    );
    let exact = number(values, "quadrant.chi2.p_exact_multinomial");
    checks.value("exact p", test.p_value, exact, RECURRENCE);
    checks.finish(18);
}

/// When the worst-worn sector reaches a damage age of 1; every damage age grows without end.
fn life(ring: &Turning) -> f64 {
    let worst = |t: f64| ring.damage(t).into_iter().fold(0.0, f64::max);
    let (mut low, mut high) = (0.0, 10.0);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if worst(middle) < 1.0 - 1e-13 {
            low = middle
        } else {
            high = middle
        }
    }
    high
}

#[test]
fn a_ring_that_wears_without_chance() {
    let case = read("turning");
    let mut checks = Check::new("turning");
    let rates = numbers(&case, "rates");
    for row in case["sawtooth"].as_array().unwrap() {
        let ring = Turning {
            rates: rates.clone(),
            every: fraction(row, "every"),
            step: 1,
        };
        checks.value(
            &row.to_string(),
            life(&ring),
            fraction(row, "life"),
            RECURRENCE,
        );
    }
    let half = &case["half_turn"];
    let ring = Turning {
        rates,
        every: fraction(half, "every"),
        step: 2,
    };
    checks.value(
        "half turns",
        life(&ring),
        fraction(half, "life"),
        RECURRENCE,
    );
    // Wear without chance is the limit of an ever higher shape: the power mean becomes the maximum.
    for row in case["general"].as_array().unwrap() {
        let limit = turning_limit(&numbers(row, "rates"), 1e12);
        checks.value(&row.to_string(), limit, number(row, "ratio"), RECURRENCE);
    }
    checks.finish(24);
}
