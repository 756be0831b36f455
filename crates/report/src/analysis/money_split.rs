//! A cost divided into money to be spent and hours down at their price.

use crate::wire::money::{MoneyDocument, Year};
use sealspan_care::money::build_up::{Falls, Item};

/// The two parts of a year's or a month's cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Split {
    /// Seals, labour, and what failures cost besides, in the document's currency.
    pub spent: f64,
    /// Hours down at their price.
    pub down: f64,
    /// Those hours.
    pub hours: f64,
}

impl Split {
    /// Of a year or a month of the document.
    #[must_use]
    pub(crate) fn of(d: &MoneyDocument, year: &Year) -> Self {
        let rate = an_hour(d);
        let handled = year.openings * d.handled.opening;
        let replaced =
            year.failures * d.build_up.failure_hours + year.planned * d.build_up.planned_hours;
        let hours = replaced + if rate > 0.0 { handled / rate } else { 0.0 };
        let down = replaced * rate + handled;
        Self {
            spent: year.cost - down,
            down,
            hours,
        }
    }
}

/// Items of the build-up that count, by whether they fall due by the hour.
pub(crate) fn items(d: &MoneyDocument, by_hour: bool) -> impl Iterator<Item = &Item> {
    let items = d.build_up.items.iter();
    items.filter(move |i| i.counted && i.amount > 0.0 && (i.falls == Falls::EachHour) == by_hour)
}

/// Price of an hour down.
#[must_use]
pub(crate) fn an_hour(d: &MoneyDocument) -> f64 {
    items(d, true).map(|i| i.amount).sum()
}
