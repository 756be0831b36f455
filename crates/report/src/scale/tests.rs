#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;

const ALL: [&dyn Scale; 4] = [LINEAR, LOG, WEIBULL_PAPER, NORMAL_PAPER];

#[test]
fn place_and_value_are_inverse() {
    for scale in ALL {
        for value in [0.001, 0.1, 0.5, 0.632, 0.95, 0.9999] {
            let back = scale.value(scale.place(value).unwrap());
            assert!(
                (back / value - 1.0).abs() < 1e-9,
                "{}: {value} came back as {back}",
                scale.name()
            );
        }
    }
}

#[test]
fn places_outside_the_domain_are_refused() {
    assert_eq!(LOG.place(0.0), None);
    assert_eq!(LOG.place(-1.0), None);
    assert_eq!(WEIBULL_PAPER.place(0.0), None);
    assert_eq!(WEIBULL_PAPER.place(1.0), None);
    assert_eq!(NORMAL_PAPER.place(1.0), None);
    assert_eq!(LINEAR.place(f64::NAN), None);
}

#[test]
fn ticks_rise_stay_inside_and_are_few() {
    for scale in ALL {
        for (low, high) in [(0.01, 0.99), (0.2, 0.4), (0.001, 0.9)] {
            let ticks = scale.ticks(low, high, 6);
            assert!(ticks.len() <= 7, "{}: {ticks:?}", scale.name());
            assert!(ticks.windows(2).all(|pair| pair[0].at < pair[1].at));
            assert!(
                ticks.iter().all(|tick| {
                    tick.at >= low * (1.0 - 1e-6) && tick.at <= high * (1.0 + 1e-6)
                })
            );
        }
    }
}

#[test]
fn ticks_are_round() {
    let text = |scale: &dyn Scale, low, high, wanted| -> Vec<String> {
        let ticks = scale.ticks(low, high, wanted);
        ticks.into_iter().map(|tick| tick.text).collect()
    };
    assert_eq!(
        text(LINEAR, 0.0, 1000.0, 5),
        ["0", "200", "400", "600", "800", "1,000"]
    );
    assert_eq!(text(LINEAR, 0.0, 0.3, 3), ["0.0", "0.1", "0.2", "0.3"]);
    assert_eq!(
        text(LOG, 9.0, 1100.0, 7),
        ["10", "20", "50", "100", "200", "500", "1,000"]
    );
    assert_eq!(text(LOG, 100.0, 170.0, 4), ["100", "120", "140", "160"]);
    assert_eq!(
        text(WEIBULL_PAPER, 0.005, 0.995, 7),
        ["1", "2", "5", "10", "20", "50", "90", "99"].map(|share| format!("{share}\u{a0}%"))
    );
}

#[test]
fn widened_ranges_hold_the_data() {
    for scale in ALL {
        for (low, high) in [(0.01, 0.99), (0.2, 0.2), (0.4, 0.5)] {
            let (from, to) = scale.widen(low, high);
            assert!(from <= low && to >= high && from < to, "{}", scale.name());
        }
    }
    assert_eq!(LINEAR.widen(3.0, 97.0), (0.0, 100.0));
    assert_eq!(LINEAR.widen(-12.0, 30.0), (-20.0, 30.0));
}
