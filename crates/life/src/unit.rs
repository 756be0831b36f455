//! The unit in which fits and bounds are worked out: the oldest age seen. The arithmetic is then the same whatever
//! unit the records came in, and with it every estimate, end and reason.

use crate::bounds::Bounds;
use crate::fit::Fit;
use crate::law::Dimension;
use crate::quantity::Quantity;
use crate::terms::{Extent, Terms};
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
        let mut own = fit.clone();
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
            Quantity::Survival(age) => Quantity::Survival(age / self.unit),
            Quantity::Remaining { age, p } => Quantity::Remaining {
                age: age / self.unit,
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

impl Terms {
    /// The same terms with ages counted in `unit`.
    pub(crate) fn in_unit(&self, unit: f64) -> Self {
        use crate::law::Age;
        use crate::terms::{Point, Stretch};
        let age = |a: Age| Age::new(a.t / unit);
        let points = |list: &[Point]| {
            let moved = list.iter().map(|p| Point {
                age: age(p.age),
                weight: p.weight,
            });
            moved.collect()
        };
        let stretch = |s: &Stretch| Stretch {
            lower: s.lower.map(age),
            upper: age(s.upper),
            weight: s.weight,
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
        Self {
            exact_range: (self.exact_range.0 / unit, self.exact_range.1 / unit),
            oldest_sound: self.oldest_sound / unit,
            smallest_upper: self.smallest_upper / unit,
            oldest: self.oldest / unit,
            youngest: self.youngest / unit,
            ..*self
        }
    }
}
