//! The unit in which fits and bounds are worked out: the oldest age seen. The arithmetic is then the same whatever
//! unit the records came in, and with it every estimate, end and reason.

use crate::bounds::Bounds;
use crate::fit::Fit;
use crate::law::{Age, Dimension};
use crate::quantity::Quantity;
use crate::sweep;
use crate::terms::{Extent, Point, Stretch, Terms};
use std::sync::Arc;

/// An age that others are counted in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Unit {
    /// That age in the unit of the records.
    pub(crate) age: f64,
    /// Whether counted ages keep twelve digits only.
    rounded: bool,
}

impl Unit {
    /// The unit of the records itself.
    pub(crate) const RECORDS: Self = Self {
        age: 1.0,
        rounded: false,
    };

    /// The oldest age seen. Where all failures lie close together every digit counts: then the power of two below it,
    /// which changes none.
    pub(crate) fn of(terms: &Terms) -> Self {
        let oldest = terms.extent.oldest;
        if !(oldest.is_finite() && oldest > 0.0) {
            return Self::RECORDS;
        }
        let close = terms.close_together().is_some();
        Self {
            age: if close {
                oldest.log2().floor().exp2()
            } else {
                oldest
            },
            rounded: !close,
        }
    }

    /// ln of the age.
    pub(crate) fn ln(self) -> f64 {
        self.age.ln()
    }

    /// An age counted in this unit, to twelve digits: what rounding another unit leaves in an age must not decide which
    /// way a search turns.
    pub(crate) fn counted(self, age: f64) -> f64 {
        let ratio = age / self.age;
        // Veltkamp's splitting: the leading 41 bits.
        let spread = ratio * 4097.0;
        let rounded = spread - (spread - ratio);
        if self.rounded && rounded.is_finite() {
            rounded
        } else {
            ratio
        }
    }

    /// Both ends of a stretch between looks counted in this unit, kept apart.
    pub(crate) fn counted_stretch(self, lower: f64, upper: f64) -> (f64, f64) {
        let (a, b) = (self.counted(lower), self.counted(upper));
        if a < b {
            (a, b)
        } else {
            (lower / self.age, upper / self.age)
        }
    }
}

/// A fit in the unit of the oldest age seen.
pub(crate) struct Own {
    pub(crate) fit: Fit,
    /// That unit.
    pub(crate) unit: Unit,
    /// The first age at which a failure can have happened, in the unit of the records.
    first: f64,
}

impl Own {
    /// The same fit in its own unit.
    pub(crate) fn of(fit: &Fit) -> Self {
        let unit = Unit::of(&fit.terms);
        let first = fit.terms.extent.exact_range.0;
        let first = first.min(fit.terms.extent.smallest_upper);
        if let Some(own) = fit.own.as_ref().filter(|own| same(fit, own, unit)) {
            return Self {
                fit: own.as_ref().clone(),
                unit,
                first,
            };
        }
        let mut own = fit.clone();
        own.own = None;
        if unit != Unit::RECORDS {
            own.terms = Arc::new(fit.terms.in_unit(unit));
            if let Some(location) = own.theta.first_mut() {
                *location -= unit.ln();
            }
            own.log_likelihood = own.family.log_likelihood(&own.theta, &own.terms);
        }
        Self {
            fit: own,
            unit,
            first,
        }
    }

    /// A question asked in the unit of the records, in this one.
    pub(crate) fn asked(&self, quantity: Quantity) -> Quantity {
        match quantity {
            Quantity::Survival(age) => Quantity::Survival(self.unit.counted(age)),
            Quantity::Remaining { age, p } => Quantity::Remaining {
                age: self.unit.counted(age),
                p,
            },
            Quantity::Parameter(_) | Quantity::Quantile(_) | Quantity::Mean => quantity,
        }
    }

    /// A value of a quantity in the unit of the records.
    pub(crate) fn value(&self, quantity: Quantity, value: f64) -> f64 {
        let dimension = match quantity {
            Quantity::Parameter(i) => self.fit.family.reported().get(i).map(|p| p.dimension),
            Quantity::Survival(_) => Some(Dimension::None),
            Quantity::Quantile(_) | Quantity::Mean | Quantity::Remaining { .. } => {
                Some(Dimension::Time)
            }
        };
        match dimension {
            Some(Dimension::Time) => value * self.unit.age,
            Some(Dimension::PerTime) => value / self.unit.age,
            Some(Dimension::LnTime) => value + self.unit.ln(),
            Some(Dimension::None) | None => value,
        }
    }

    /// Ends in the unit of the records.
    pub(crate) fn bounds(&self, quantity: Quantity, bounds: Bounds) -> Bounds {
        let back = |end: Option<f64>| end.map(|e| self.value(quantity, e));
        // No failure-free time passes the first failure, nor by a last digit.
        let limited = sweep::greatest(&self.fit, quantity).is_some();
        let upper = back(bounds.upper).map(|u| match limited {
            true if u > self.first * (1.0 - LAST_DIGITS) => self.first,
            _ => u,
        });
        Bounds {
            lower: back(bounds.lower),
            upper,
            ..bounds
        }
    }
}

/// What counting ages to twelve digits leaves open.
const LAST_DIGITS: f64 = 1e-12;

/// Whether `own` is `fit` in its own unit, but for rounding.
fn same(fit: &Fit, own: &Fit, unit: Unit) -> bool {
    let back = own.theta.iter().enumerate().map(|(i, v)| match i {
        0 => v + unit.ln(),
        _ => *v,
    });
    let near = |(a, b): (&f64, f64)| (a - b).abs() <= 1e-12 * (1.0 + a.abs());
    fit.free == own.free && fit.theta.iter().zip(back).all(near)
}

impl Terms {
    /// The same terms with ages counted in `unit`.
    pub(crate) fn in_unit(&self, unit: Unit) -> Self {
        let points = |list: &[Point]| {
            let moved = list.iter().map(|p| Point {
                age: Age::new(unit.counted(p.age.t)),
                weight: p.weight,
            });
            moved.collect()
        };
        let stretch = |s: &Stretch| {
            let (lower, upper) = unit.counted_stretch(s.lower.map_or(0.0, |a| a.t), s.upper.t);
            Stretch {
                lower: s.lower.map(|_| Age::new(lower)),
                upper: Age::new(upper),
                weight: s.weight,
            }
        };
        Self {
            density: points(&self.density),
            survival: points(&self.survival),
            interval: self.interval.iter().map(stretch).collect(),
            extent: self.extent.in_unit(unit),
        }
    }
}

impl Extent {
    /// The same with ages counted in `unit`.
    fn in_unit(&self, unit: Unit) -> Self {
        let (first, last) = self.exact_range;
        Self {
            exact_range: (unit.counted(first), unit.counted(last)),
            oldest_sound: unit.counted(self.oldest_sound),
            smallest_upper: unit.counted(self.smallest_upper),
            oldest: unit.counted(self.oldest),
            youngest: unit.counted(self.youngest),
            ..*self
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::fit::fit;
    use crate::laws::by_name;
    use sealspan_records::{Observation, Sample};

    fn terms(ages: &[f64]) -> Terms {
        let rows = ages
            .iter()
            .map(|t| Observation::exact(*t, 0.0, 1.0).unwrap());
        Terms::new(&Sample::new(rows.collect()))
    }

    #[test]
    fn the_unit_is_the_oldest_age_or_a_power_of_two_where_failures_are_close() {
        let unit = Unit::of(&terms(&[54.0, 500.0]));
        assert_eq!(unit.age, 500.0);
        assert_eq!(unit.counted(54.0), unit.counted(54.0 * (1.0 + 2e-16)));
        // Between 2^26 and 2^27: every digit is kept.
        let close = [0.1, 1.1, 2.1, 3.1, 4.1].map(|t| 1e8 + t);
        let unit = Unit::of(&terms(&close));
        assert_eq!(unit.age, f64::from(1 << 26));
        for age in close {
            assert_eq!(unit.counted(age) * unit.age, age);
        }
        // Nothing older than 0: there is nothing to count in.
        let new = Observation::right(0.0, 0.0, 10.0).unwrap();
        assert_eq!(
            Unit::of(&Terms::new(&Sample::new(vec![new]))),
            Unit::RECORDS
        );
    }

    /// A fit whose parameters were moved is no longer the one it was found as.
    #[test]
    fn a_fit_moved_since_is_taken_as_it_stands() {
        let ages =
            [54.0, 130.0, 210.0, 220.0, 500.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let sample = Sample::new(ages.into());
        for name in ["exponential", "weibull"] {
            let found = fit(by_name(name).unwrap(), &sample).unwrap();
            assert!(found.own.is_some());
            for places in [vec![0], vec![0, 1]] {
                let mut moved = found.clone();
                for (at, value) in moved.theta.iter_mut().enumerate() {
                    *value += if places.contains(&at) { 0.1 } else { 0.0 };
                }
                let own = Own::of(&moved);
                let ln = 500f64.ln();
                for (at, (a, b)) in own.fit.theta.iter().zip(&moved.theta).enumerate() {
                    let back = if at == 0 { a + ln } else { *a };
                    assert!((back - b).abs() < 1e-12, "{name} {at}: {back} {b}");
                }
                // Its likelihood is that of the moved law, in the unit of the oldest age.
                let want = moved.family.log_likelihood(&moved.theta, &moved.terms) + 5.0 * ln;
                assert!((own.fit.log_likelihood - want).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn an_age_keeps_twelve_digits_and_its_order() {
        for (age, oldest) in [(54.0, 500.0), (3.7e-9, 1e-6), (1.0, 3.0)] {
            let unit = Unit {
                age: oldest,
                rounded: true,
            };
            let got = unit.counted(age);
            assert!((got * oldest / age - 1.0).abs() < 1e-12, "{got}");
            assert_eq!(got, unit.counted(age * (1.0 + 2e-16)));
            assert_eq!(unit.counted(oldest), 1.0);
            assert_eq!(unit.counted(0.0), 0.0);
            assert_eq!(unit.counted(f64::INFINITY), f64::INFINITY);
            let (a, b) = unit.counted_stretch(1.0, 1.0 + 1e-15);
            assert!(a < b);
        }
    }

    /// A fit is known again in its own unit to twelve digits of each parameter, the location moved by ln of the unit.
    #[test]
    fn a_fit_is_known_again_in_its_own_unit() {
        let ages =
            [54.0, 130.0, 210.0, 220.0, 500.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let found = fit(by_name("weibull").unwrap(), &Sample::new(ages.into())).unwrap();
        let unit = Unit::of(&found.terms);
        let own = || found.own.as_deref().unwrap().clone();
        assert!(same(&found, &own(), unit));
        for at in [0, 1] {
            let size = 1.0 + found.theta[at].abs();
            for (off, known) in [(0.5, true), (2.0, false)] {
                let mut moved = own();
                moved.theta[at] += off * 1e-12 * size;
                assert_eq!(same(&found, &moved, unit), known, "{at} {off}");
            }
        }
        let held = Fit {
            free: vec![0],
            ..own()
        };
        assert!(!same(&found, &held, unit));
    }
}
