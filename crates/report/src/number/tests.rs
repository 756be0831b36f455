#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;

fn plain(text: &str) -> String {
    text.replace(NBSP, " ")
}

#[test]
fn groups_digits_and_signs() {
    assert_eq!(fixed(1_234_567.891, 1), "1,234,567.9");
    assert_eq!(fixed(999.0, 0), "999");
    assert_eq!(fixed(-1000.0, 0), "\u{2212}1,000");
    assert_eq!(fixed(-0.0001, 2), "0.00");
    assert_eq!(count(10_000_000), "10,000,000");
    assert_eq!(fixed(f64::NAN, 2), "not a number");
}

#[test]
fn keeps_significant_digits() {
    assert_eq!(significant(0.0123456, 3), "0.0123");
    assert_eq!(significant(0.9996, 3), "1.00");
    assert_eq!(significant(12_345.0, 3), "12,300");
    assert_eq!(significant(0.0, 3), "0");
    assert_eq!(plain(&significant(3.2e-9, 2)), "3.2 × 10⁻⁹");
    assert_eq!(plain(&significant(-6.02e23, 3)), "\u{2212}6.02 × 10²³");
}

#[test]
fn width_decides_the_digits() {
    assert_eq!(to_width(412.34, 124.0), "412");
    assert_eq!(to_width(412.34, 250.0), "410");
    assert_eq!(to_width(412.34, 6.0), "412.3");
    assert_eq!(to_width(2.31, 0.9), "2.31");
    assert_eq!(to_width(2.314, 3.0), "2.3");
    assert_eq!(to_width(2.314, 0.0), "2.31");
}

#[test]
fn shares_read_well_at_both_ends() {
    let p = |share| plain(&percent(share));
    assert_eq!(p(0.0), "0 %");
    assert_eq!(p(0.004), "0.4 %");
    assert_eq!(p(0.0421), "4.2 %");
    assert_eq!(p(0.42), "42 %");
    assert_eq!(p(0.9996), "99.96 %");
    assert_eq!(p(1.0), "100 %");
    assert_eq!(p(0.999_999), "more than 99.99 %");
    assert_eq!(p(1e-9), "less than 0.01 %");
    assert_eq!(plain(&level(0.995)), "99.5 %");
    assert_eq!(plain(&level(0.9)), "90 %");
    for (share, text) in [
        (0.00001, "0.001 %"),
        (0.99999, "99.999 %"),
        (0.000_012_5, "0.00125 %"),
        (0.5 + 0.5 * 0.9999, "99.995 %"),
        (1e-9, "0.0000001 %"),
        (0.07, "7 %"),
        (0.333, "33.3 %"),
        (0.0, "0 %"),
        (1.0, "100 %"),
    ] {
        assert_eq!(plain(&level(share)), text);
    }
}

#[test]
fn p_values_never_read_as_zero() {
    assert_eq!(p_value(0.0312), "p = 0.031");
    assert_eq!(p_value(0.42), "p = 0.42");
    assert_eq!(p_value(1e-12), "p < 0.001");
    assert_eq!(p_value(0.999), "p > 0.99");
    assert_eq!(p_value(f64::NAN), "p not available");
    assert_eq!(simulated_p_value(1.0 / 301.0, 300), "p < 0.004");
    assert_eq!(simulated_p_value(2.0 / 301.0, 300), "p = 0.007");
    assert_eq!(simulated_p_value(1.0 / 2001.0, 2000), "p < 0.001");
    assert_eq!(simulated_p_value(1.0 / 100.0, 99), "p < 0.01");
}

#[test]
fn money_has_cents_only_when_small() {
    assert_eq!(plain(&money(9.5, "EUR")), "EUR 9.50");
    assert_eq!(plain(&money(12_430.4, "EUR")), "EUR 12,430");
    assert_eq!(plain(&money(-250.0, "EUR")), "EUR \u{2212}250");
    assert_eq!(money(3.0, ""), "3.00");
}

#[test]
fn estimates_say_interval_and_unit() {
    let life = Estimate::confidence(412.3, 0.9, 356.2, 480.4, Unit::word("days"));
    assert_eq!(
        plain(&life.sentence()),
        "412 days (90 % confidence interval 356 to 480)"
    );
    let share = Estimate::confidence(0.123, 0.9, 0.08, 0.19, Unit::Share);
    assert_eq!(
        plain(&share.sentence()),
        "12.3 % (90 % confidence interval 8.0 to 19.0 %)"
    );
    let rate = Estimate::confidence(
        3.1,
        0.9,
        2.0,
        5.0,
        Unit::MoneyPer {
            currency: "EUR".into(),
            per: "day".into(),
        },
    );
    assert_eq!(plain(&rate.short()), "EUR 3.1 per day");
    assert_eq!(
        plain(&Estimate::confidence(1.0, 0.9, 0.0, 30.0, Unit::word("days")).short()),
        "1 day"
    );
}

#[test]
fn missing_numbers_say_why() {
    let none = Estimate::not_estimable("no failures were seen", Unit::word("days"));
    assert_eq!(none.sentence(), "not estimable: no failures were seen");
    let bound = Estimate {
        value: None,
        range: Range::AtLeast {
            kind: IntervalKind::Confidence,
            level: 0.95,
            lower: 310.4,
        },
        unit: Unit::word("days"),
    };
    assert_eq!(
        plain(&bound.sentence()),
        "at least 310 days (95 % one-sided lower confidence bound)"
    );
    let open = Estimate::confidence(500.0, 0.9, 200.0, f64::INFINITY, Unit::word("days"));
    assert_eq!(
        plain(&open.sentence()),
        "500 days (90 % confidence interval 200 to unbounded)"
    );
    let nan = Estimate::confidence(f64::NAN, 0.9, 1.0, 2.0, Unit::None);
    assert!(nan.sentence().starts_with("not estimable"));
}

/// A count of cases tells no chance finer than one of them.
#[test]
fn chances_of_counted_cases() {
    assert_eq!(chance(0.0, 200), format!("less than 0.5{NBSP}%"));
    assert_eq!(chance(0.02, 200), format!("2{NBSP}%"));
    assert_eq!(chance(1.0, 100), format!("more than 99{NBSP}%"));
}
