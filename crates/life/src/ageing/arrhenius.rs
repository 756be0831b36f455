//! Arrhenius arithmetic: rates go as exp(−E/RT), with temperatures in °C outside and kelvin inside. Formulas from
//! memory; that temperatures lie above −273.15 °C is not checked.
//!
//! ```
//! use sealspan_life::ageing::arrhenius::*;
//! assert_eq!(kelvin(25.0), 298.15);
//! assert!((kilojoules(10_000.0) - 83.144_626_18).abs() < 1e-9); // kJ/mol of a slope in kelvin
//! assert!((electronvolts(10_000.0) - 0.861_733_326_2).abs() < 1e-9);
//! // The energy at which 10 K more halve the life, at 70 °C.
//! assert!((acceleration(energy_of_ten_degree_rule(70.0), 70.0, 80.0) - 2.0).abs() < 1e-9);
//! let day = [Stretch { hours: 22.0, celsius: 25.0 }, Stretch { hours: 2.0, celsius: 121.0 }];
//! assert!((mean_temperature(&day) - 33.0).abs() < 1e-9); // not the 84.6 °C that age as fast
//! ```

/// Molar gas constant R, J/(mol K) (CODATA 2018, exact to the digits given).
pub const GAS_CONSTANT: f64 = 8.314_462_618;
/// Boltzmann constant, eV/K (CODATA 2018, exact to the digits given).
pub const BOLTZMANN_EV: f64 = 8.617_333_262e-5;
/// 0 °C in kelvin.
pub const ZERO_CELSIUS: f64 = 273.15;

/// Kelvin of a temperature in °C: t + 273.15.
#[must_use]
pub fn kelvin(celsius: f64) -> f64 {
    celsius + ZERO_CELSIUS
}

/// Activation energy in kJ/mol of a slope of ln time against 1/T, in kelvin: slope × R/1000.
#[must_use]
pub fn kilojoules(slope: f64) -> f64 {
    slope * GAS_CONSTANT / 1000.0
}

/// Activation energy in eV of a slope of ln time against 1/T, in kelvin: slope × the Boltzmann constant.
#[must_use]
pub fn electronvolts(slope: f64) -> f64 {
    slope * BOLTZMANN_EV
}

/// How many times faster ageing goes at `hot` than at `cool` (°C) with an activation energy E in kJ/mol:
/// exp(E/R (1/T − 1/T′)), T in kelvin at `cool` and T′ at `hot`.
///
/// ```
/// let faster = sealspan_life::ageing::arrhenius::acceleration(80.0, 25.0, 70.0);
/// assert!((faster - 68.857).abs() < 0.001);
/// ```
#[must_use]
pub fn acceleration(kilojoules: f64, cool: f64, hot: f64) -> f64 {
    (kilojoules * 1000.0 / GAS_CONSTANT * (1.0 / kelvin(cool) - 1.0 / kelvin(hot))).exp()
}

/// The activation energy in kJ/mol at which 10 K more halve the life at `celsius`: R ln 2 / (1/T − 1/(T + 10)). The
/// rule that they do is common practice, no source.
#[must_use]
pub fn energy_of_ten_degree_rule(celsius: f64) -> f64 {
    let span = 1.0 / kelvin(celsius) - 1.0 / kelvin(celsius + 10.0);
    GAS_CONSTANT * std::f64::consts::LN_2 / span / 1000.0
}

/// A stretch of a duty cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Hours, or any other measure of time, above 0.
    pub hours: f64,
    /// Temperature, °C.
    pub celsius: f64,
}

/// The constant temperature in °C that ages as fast as the duty cycle does on average, with an activation energy E in
/// kJ/mol: T = −E / (R ln mean exp(−E/RTᵢ)), each stretch with the weight of its time. `None` without stretches or
/// time, without an energy above 0, or where there is no finite such temperature.
///
/// Damage is taken to add up (each stretch uses its share of life), which holds while the same
/// reaction rules throughout.
///
/// ```
/// use sealspan_life::ageing::arrhenius::{Stretch, equivalent_temperature};
/// let day = [Stretch { hours: 22.0, celsius: 25.0 }, Stretch { hours: 2.0, celsius: 121.0 }];
/// assert!((equivalent_temperature(&day, 80.0).unwrap() - 84.64).abs() < 0.01);
/// ```
#[must_use]
pub fn equivalent_temperature(duty: &[Stretch], kilojoules: f64) -> Option<f64> {
    let hottest = duty.iter().map(|s| s.celsius).reduce(f64::max)?;
    let total: f64 = duty.iter().map(|s| s.hours).sum();
    let scale = kilojoules * 1000.0 / GAS_CONSTANT;
    // Rates relative to the hottest stretch, so that none underflows.
    let at = |s: &Stretch| scale * (1.0 / kelvin(hottest) - 1.0 / kelvin(s.celsius));
    let mean: f64 = duty.iter().map(|s| s.hours / total * at(s).exp()).sum();
    let inverse = 1.0 / kelvin(hottest) - mean.ln() / scale;
    let celsius = 1.0 / inverse - ZERO_CELSIUS;
    (scale > 0.0 && total > 0.0 && celsius.is_finite()).then_some(celsius)
}

/// Mean temperature of a duty cycle, each stretch with the weight of its time, °C, which is not what ages a seal; not a
/// number without time.
#[must_use]
pub fn mean_temperature(duty: &[Stretch]) -> f64 {
    let total: f64 = duty.iter().map(|s| s.hours).sum();
    duty.iter().map(|s| s.hours * s.celsius).sum::<f64>() / total
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_duty_without_time_or_energy_has_no_equivalent() {
        let day = |hours: f64| {
            let part = |hours: f64, celsius: f64| Stretch { hours, celsius };
            [part(11.0 * hours, 25.0), part(hours, 121.0)]
        };
        assert!(equivalent_temperature(&day(2.0), 80.0).is_some());
        for (hours, kilojoules) in [(2.0, -80.0), (2.0, 0.0), (-2.0, 80.0), (0.0, 80.0)] {
            let found = equivalent_temperature(&day(hours), kilojoules);
            assert_eq!(found, None, "{hours} {kilojoules}");
        }
    }
}
