//! Are temperatures given as °C likely to be °C?

use crate::number;

/// Hotter than any elastomer is run, °C (common practice, no source: perfluoroelastomers end near here).
const HOTTEST: f64 = 330.0;
/// If even the coldest is above this, they are likely kelvin: −10 °C.
const KELVIN: f64 = 263.0;
/// Colder than any elastomer seals, °C (common practice, no source).
const COLDEST: f64 = -80.0;

/// Why these temperatures, from `low` to `high`, are doubted as °C; `what` holds them.
#[must_use]
pub(crate) fn doubt(what: &str, low: f64, high: f64) -> Option<String> {
    let span = if low == high {
        number::significant(low, 4)
    } else {
        format!(
            "{} to {}",
            number::significant(low, 4),
            number::significant(high, 4)
        )
    };
    let why = if low >= KELVIN {
        "which looks like kelvin"
    } else if high > HOTTEST {
        "hotter than any elastomer is run: is it Fahrenheit or kelvin?"
    } else if low < COLDEST {
        "colder than any elastomer seals: is the sign or the unit wrong?"
    } else {
        return None;
    };
    Some(format!(
        "{what} is read as °C and holds {span}, {why} (°C = K − 273.15 = (°F − 32)/1.8)"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doubts_kelvin_and_fahrenheit_but_no_service_or_oven() {
        for (low, high) in [(333.0, 373.0), (120.0, 400.0), (-200.0, 20.0)] {
            assert!(doubt("t", low, high).is_some(), "{low} {high}");
        }
        for (low, high) in [(-40.0, 150.0), (20.0, 20.0), (190.0, 260.0)] {
            assert_eq!(doubt("t", low, high), None);
        }
    }
}
