//! What of a cost is money to be spent, and what are hours down at their price.

use crate::analysis::money_split::{Split, an_hour, items};
use crate::number::{self, NBSP};
use crate::wire::money::{MoneyDocument, Year};

/// Both parts in words: "EUR 122,000 to be spent on seals … and EUR 318,000 for 1,180 hours down at EUR 270 (…)".
pub(super) fn words(d: &MoneyDocument, year: &Year, width: f64) -> String {
    let split = Split::of(d, year);
    let parts = number::money_parts(&[split.spent, split.down], width, &d.currency);
    let [spent, down] = parts.as_slice() else {
        return String::new();
    };
    let bought: Vec<&str> = items(d, false).map(|i| i.name.as_str()).collect();
    if split.down <= 0.0 {
        return format!("all of it to be spent ({})", bought.join(", "));
    }
    let each: Vec<String> = items(d, true)
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
    let parts = number::money_parts(&[spent, down], width, &d.currency);
    let [less_spent, less_down] = parts.as_slice() else {
        return String::new();
    };
    format!(
        "A year that is, not discounted, {less_spent} not spent and {} hours less down ({less_down}).",
        number::significant(before.hours - after.hours, 2)
    )
}
