//! The unit in which fits and bounds are worked out: the oldest age seen. The arithmetic is then the same whatever
//! unit the records came in, and with it every estimate, end and reason.

use crate::bounds::Bounds;
use crate::fit::Fit;
use crate::law::{Age, Dimension};
use crate::quantity::Quantity;
use crate::terms::{Extent, Point, Stretch, Terms};
use std::sync::Arc;

/// The oldest age seen, in the unit of the records; 1 where there is none.
pub(crate) fn oldest(extent: &Extent) -> f64 {
    let age = extent.oldest;
    if age.is_finite() && age > 0.0 {
        age
    } else {
        1.0
    }
}

/// An age counted in `unit`, to twelve digits: what rounding another unit leaves in an age must not decide which way a
/// search turns.
pub(crate) fn counted(age: f64, unit: f64) -> f64 {
    let ratio = age / unit;
    // Veltkamp's splitting: the leading 41 bits.
    let spread = ratio * 4097.0;
    let rounded = spread - (spread - ratio);
    if rounded.is_finite() { rounded } else { ratio }
}

/// Both ends of a stretch between looks counted in `unit`, kept apart.
pub(crate) fn counted_stretch(lower: f64, upper: f64, unit: f64) -> (f64, f64) {
    let (a, b) = (counted(lower, unit), counted(upper, unit));
    if a < b {
        (a, b)
    } else {
        (lower / unit, upper / unit)
    }
}

/// A fit in the unit of the oldest age seen.
pub(crate) struct Own {
    pub(crate) fit: Fit,
    /// That age in the unit of the records.
    pub(crate) unit: f64,
}

impl Own {
    /// The same fit in its own unit.
    pub(crate) fn of(fit: &Fit) -> Self {
        let unit = oldest(&fit.terms.extent);
        if let Some(own) = fit.own.as_ref().filter(|own| same(fit, own, unit)) {
            return Self {
                fit: own.as_ref().clone(),
                unit,
            };
        }
        let mut own = fit.clone();
        own.own = None;
        if unit != 1.0 {
            own.terms = Arc::new(fit.terms.in_unit(unit));
            if let Some(location) = own.theta.first_mut() {
                *location -= unit.ln();
            }
            own.log_likelihood = own.family.log_likelihood(&own.theta, &own.terms);
        }
        Self { fit: own, unit }
    }

    /// A question asked in the unit of the records, in this one.
    pub(crate) fn asked(&self, quantity: Quantity) -> Quantity {
        match quantity {
            Quantity::Survival(age) => Quantity::Survival(counted(age, self.unit)),
            Quantity::Remaining { age, p } => Quantity::Remaining {
                age: counted(age, self.unit),
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
            Some(Dimension::Time) => value * self.unit,
            Some(Dimension::PerTime) => value / self.unit,
            Some(Dimension::LnTime) => value + self.unit.ln(),
            Some(Dimension::None) | None => value,
        }
    }

    /// Ends in the unit of the records.
    pub(crate) fn bounds(&self, quantity: Quantity, bounds: Bounds) -> Bounds {
        let back = |end: Option<f64>| end.map(|e| self.value(quantity, e));
        Bounds {
            lower: back(bounds.lower),
            upper: back(bounds.upper),
            ..bounds
        }
    }
}

/// Whether `own` is `fit` in its own unit, but for rounding.
fn same(fit: &Fit, own: &Fit, unit: f64) -> bool {
    let back = own.theta.iter().enumerate().map(|(i, v)| match i {
        0 => v + unit.ln(),
        _ => *v,
    });
    let near = |(a, b): (&f64, f64)| (a - b).abs() <= 1e-12 * (1.0 + a.abs());
    fit.free == own.free && fit.theta.iter().zip(back).all(near)
}

impl Terms {
    /// The same terms with ages counted in `unit`.
    pub(crate) fn in_unit(&self, unit: f64) -> Self {
        let points = |list: &[Point]| {
            let moved = list.iter().map(|p| Point {
                age: Age::new(counted(p.age.t, unit)),
                weight: p.weight,
            });
            moved.collect()
        };
        let stretch = |s: &Stretch| {
            let (lower, upper) = counted_stretch(s.lower.map_or(0.0, |a| a.t), s.upper.t, unit);
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
    fn in_unit(&self, unit: f64) -> Self {
        let (first, last) = self.exact_range;
        Self {
            exact_range: (counted(first, unit), counted(last, unit)),
            oldest_sound: counted(self.oldest_sound, unit),
            smallest_upper: counted(self.smallest_upper, unit),
            oldest: counted(self.oldest, unit),
            youngest: counted(self.youngest, unit),
            ..*self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_age_keeps_twelve_digits_and_its_order() {
        for (age, unit) in [(54.0, 500.0), (3.7e-9, 1e-6), (1.0, 3.0)] {
            let got = counted(age, unit);
            assert!((got * unit / age - 1.0).abs() < 1e-12, "{got}");
            assert_eq!(got, counted(age * (1.0 + 2e-16), unit));
        }
        assert_eq!(counted(500.0, 500.0), 1.0);
        assert_eq!(counted(f64::INFINITY, 2.0), f64::INFINITY);
        assert_eq!(counted(0.0, 2.0), 0.0);
        let (a, b) = counted_stretch(1.0, 1.0 + 1e-15, 1.0);
        assert!(a < b);
    }
}
