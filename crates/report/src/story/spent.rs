//! What of a cost is money to be spent, and what are hours down at their price.

use crate::number::{self, NBSP};
use crate::wire::money::{MoneyDocument, Year};
use sealspan_care::money::build_up::{Falls, Item};

/// The two parts of a year's or a month's cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Split {
    /// Seals, labour, and what failures cost besides.
    pub spent: f64,
    /// Hours down at their price.
    pub down: f64,
    /// Those hours.
    pub hours: f64,
}

impl Split {
    pub(super) fn of(d: &MoneyDocument, year: &Year) -> Self {
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

fn counted(d: &MoneyDocument) -> impl Iterator<Item = &Item> {
    let items = d.build_up.items.iter();
    items.filter(|i| i.counted && i.amount > 0.0)
}

/// Price of an hour down.
fn an_hour(d: &MoneyDocument) -> f64 {
    let hourly = counted(d).filter(|i| i.falls == Falls::EachHour);
    hourly.map(|i| i.amount).sum()
}

/// Both parts in words: "EUR 122,000 to be spent on seals … and EUR 318,000 for 1,180 hours down at EUR 270 (…)".
pub(super) fn words(d: &MoneyDocument, year: &Year, width: f64) -> String {
    let split = Split::of(d, year);
    let parts = number::money_parts(&[split.spent, split.down], width, &d.currency);
    let [spent, down] = parts.as_slice() else {
        return String::new();
    };
    let bought = counted(d).filter(|i| i.falls != Falls::EachHour);
    let bought: Vec<&str> = bought.map(|i| i.name.as_str()).collect();
    if split.down <= 0.0 {
        return format!("all of it to be spent ({})", bought.join(", "));
    }
    let hourly = counted(d).filter(|i| i.falls == Falls::EachHour);
    let each: Vec<String> = hourly
        .map(|i| format!("{}{NBSP}{} {}", d.currency, number::tidy(i.amount), i.name))
        .collect();
    format!(
        "{spent} to be spent ({}), and {down} for {} hours down at {} ({})",
        bought.join(", "),
        number::significant(split.hours, 3),
        number::money(an_hour(d), &d.currency),
        each.join(", ")
    )
}

/// How a saving divides into the two, a year on average.
pub(super) fn saved(d: &MoneyDocument) -> String {
    let sum = |of: fn(&crate::wire::money::PartMoney) -> Year| d.parts.iter().map(of).sum::<Year>();
    let (today, plan) = (sum(|p| p.today), sum(|p| p.plan));
    let (before, after) = (Split::of(d, &today), Split::of(d, &plan));
    let (spent, down) = (before.spent - after.spent, before.down - after.down);
    let width = 0.1 * (spent.abs() + down.abs());
    let m = |x: f64| number::money_to(x, width, &d.currency);
    format!(
        "Of what it saves a year {} is money not spent and {} are {} hours less down.",
        m(spent),
        m(down),
        number::significant(before.hours - after.hours, 2)
    )
}
