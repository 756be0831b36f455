//! Arrhenius arithmetic, duty cycles, and the line from four ovens to service.

use crate::support::close::Check;
use crate::support::expected::{number, numbers, read};
use crate::support::tolerances::{ESTIMATE, TWELVE_DIGITS};
use sealspan_life::ageing::arrhenius::{
    BOLTZMANN_EV, GAS_CONSTANT, Stretch, acceleration, electronvolts, energy_of_ten_degree_rule,
    equivalent_temperature, kilojoules, mean_temperature,
};
use sealspan_life::ageing::curve::Curve;
use sealspan_life::ageing::line::{Point, fit};
use sealspan_life::ageing::reach::{At, Limit, Reach, Reading, reach};
use serde_json::Value;

#[test]
fn factors_and_duty_cycles() {
    let case = read("arrhenius-arithmetic");
    let mut checks = Check::new("arrhenius-arithmetic");
    for row in case["acceleration"].as_array().unwrap() {
        let at = |key: &str| number(row, key);
        let ours = acceleration(at("kilojoules"), at("cool"), at("hot"));
        checks.value(&row.to_string(), ours, at("factor"), TWELVE_DIGITS);
    }
    for row in case["acceleration_ev"].as_array().unwrap() {
        let at = |key: &str| number(row, key);
        let energy = kilojoules(at("electronvolts") / BOLTZMANN_EV);
        let ours = acceleration(energy, at("cool"), at("hot"));
        checks.value("eV", ours, at("factor"), TWELVE_DIGITS);
    }
    for row in case["ten_degrees"].as_array().unwrap() {
        let celsius = number(row, "celsius");
        let ours = energy_of_ten_degree_rule(celsius);
        checks.value(
            "rule",
            ours,
            number(row, "energy_of_factor_two"),
            TWELVE_DIGITS,
        );
        for factor in row["factors"].as_array().unwrap() {
            let ours = acceleration(number(factor, "kilojoules"), celsius, celsius + 10.0);
            checks.value("per 10 K", ours, number(factor, "factor"), TWELVE_DIGITS);
        }
    }
    for row in case["duty"].as_array().unwrap() {
        let duty: Vec<Stretch> = numbers(row, "hours")
            .into_iter()
            .zip(numbers(row, "celsius"))
            .map(|(hours, celsius)| Stretch { hours, celsius })
            .collect();
        checks.value(
            "mean",
            mean_temperature(&duty),
            number(row, "mean"),
            TWELVE_DIGITS,
        );
        let ours = equivalent_temperature(&duty, number(row, "kilojoules"));
        checks.some("equivalent", ours, number(row, "equivalent"), TWELVE_DIGITS);
    }
    checks.finish(70);
    assert_eq!(equivalent_temperature(&[], 80.0), None);
}

#[test]
fn a_line_from_stated_times() {
    let case = read("arrhenius-arithmetic");
    let case = &case["line"];
    let ovens: Vec<Point> = case["ovens"]
        .as_array()
        .unwrap()
        .iter()
        .map(|o| Point {
            celsius: o[0].as_f64().unwrap(),
            reach: Reach::At(At {
                ln_hours: o[1].as_f64().unwrap().ln(),
                std_error: None,
                freedom: 0.0,
                interval: None,
            }),
        })
        .collect();
    let line = fit(&ovens, false).unwrap();
    let mut checks = Check::new("arrhenius line");
    let ln10 = std::f64::consts::LN_10;
    checks.value(
        "intercept",
        line.intercept() / ln10,
        number(case, "intercept_log10"),
        ESTIMATE,
    );
    checks.value(
        "slope",
        line.slope / ln10,
        number(case, "slope_log10"),
        ESTIMATE,
    );
    checks.value(
        "energy",
        kilojoules(line.slope),
        number(case, "kilojoules"),
        ESTIMATE,
    );
    let level = number(case, "level");
    for row in case["life"].as_array().unwrap() {
        let ours = line.at(number(row, "temperature"), level);
        checks.value("life", ours.ln_hours.exp(), number(row, "hours"), ESTIMATE);
        compare(&mut checks, "confidence", ours.confidence, row);
    }
    for row in case["temperature_for"].as_array().unwrap() {
        let ours = line.temperature_for(number(row, "hours"));
        checks.some("temperature", ours, number(row, "celsius"), ESTIMATE);
    }
    checks.finish(17);
}

fn compare(checks: &mut Check, what: &str, ours: Option<(f64, f64)>, row: &Value) {
    let want = numbers(row, what);
    checks.some(what, ours.map(|i| i.0.exp()), want[0], ESTIMATE);
    checks.some(what, ours.map(|i| i.1.exp()), want[1], ESTIMATE);
}

#[test]
fn compression_set_in_four_ovens() {
    let case = read("arrhenius-compression-set");
    assert_eq!(case["invented"], true);
    let rows: Vec<[f64; 3]> = case["rows"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| [0, 1, 2].map(|i| r[i].as_f64().unwrap()))
        .collect();
    let limit = Limit {
        value: number(&case, "limit"),
        rising: true,
        start: None,
        end: None,
    };
    let level = number(&case, "level");
    let mut checks = Check::new("compression set");
    for curve in [Curve::BetweenLnTime, Curve::BetweenTime] {
        let want = &case[curve.word()];
        let mut points = vec![];
        for oven in want["times"].as_array().unwrap() {
            let celsius = number(oven, "temperature");
            let readings: Vec<Reading> = rows
                .iter()
                .filter(|r| r[0] == celsius)
                .map(|r| Reading {
                    hours: r[1],
                    value: r[2],
                })
                .collect();
            let found = reach(&readings, curve, &limit, level).unwrap().reach;
            let Reach::At(at) = found else {
                panic!("{celsius}: {found:?}")
            };
            checks.value("time", at.ln_hours.exp(), number(oven, "hours"), ESTIMATE);
            points.push(Point {
                celsius,
                reach: found,
            });
        }
        let line = fit(&points, false).unwrap();
        let at = |key: &str| number(want, key);
        checks.value("intercept", line.intercept(), at("intercept"), ESTIMATE);
        checks.value("slope", line.slope, at("slope"), ESTIMATE);
        checks.some(
            "slope error",
            line.slope_error(),
            at("slope_error"),
            ESTIMATE,
        );
        checks.some("residual", line.residual, at("residual"), ESTIMATE);
        checks.value("kJ/mol", kilojoules(line.slope), at("kilojoules"), ESTIMATE);
        checks.value(
            "eV",
            electronvolts(line.slope),
            at("electronvolts"),
            ESTIMATE,
        );
        let interval = line.slope_interval(level).unwrap();
        let t = (interval.1 - line.slope) / line.slope_error().unwrap();
        checks.value("t", t, at("t"), ESTIMATE);
        for row in want["life"].as_array().unwrap() {
            let ours = line.at(number(row, "temperature"), level);
            checks.value("life", ours.ln_hours.exp(), number(row, "hours"), ESTIMATE);
            compare(&mut checks, "confidence", ours.confidence, row);
            compare(&mut checks, "prediction", ours.prediction, row);
        }
        for row in want["temperature_for"].as_array().unwrap() {
            let ours = line.temperature_for(number(row, "hours"));
            checks.some("temperature", ours, number(row, "celsius"), ESTIMATE);
        }
    }
    checks.finish(66);
}

/// Curves with a known answer: values made from the curve itself give the planted time back, and the
/// planted activation energy.
#[test]
fn every_curve_gives_its_own_time_back() {
    let energy = 90.0;
    for (curve, _) in sealspan_life::ageing::curve::CURVES {
        let limit = Limit {
            value: 50.0,
            rising: true,
            start: Some(0.0),
            end: Some(100.0),
        };
        let target = curve.straighten(50.0, 0.0, 100.0).unwrap();
        let steep = if curve.needs_start() { 0.7 } else { 9.0 };
        let mut points = vec![];
        for celsius in [90.0, 110.0, 130.0] {
            let ln_limit = (200.0 / acceleration(energy, 130.0, celsius)).ln();
            let readings: Vec<Reading> = [-1.5, -0.7, -0.2, 0.3, 0.9]
                .into_iter()
                .map(|off: f64| Reading {
                    hours: (ln_limit + off).exp(),
                    value: curve.bend_back(target + steep * off, 0.0, 100.0, true),
                })
                .collect();
            let oven = reach(&readings, curve, &limit, 0.9).unwrap();
            let Reach::At(at) = oven.reach else {
                panic!("{curve:?}")
            };
            if curve.is_fitted() {
                assert!((at.ln_hours - ln_limit).abs() < 1e-9, "{curve:?}");
            }
            points.push(Point {
                celsius,
                reach: oven.reach,
            });
        }
        let found = fit(&points, false).unwrap().slope * GAS_CONSTANT / 1000.0;
        assert!((found - energy).abs() < 1e-6, "{curve:?}: {found}");
    }
}
