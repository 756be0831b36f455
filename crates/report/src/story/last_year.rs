//! The last year of the records beside the forecasts: what is left of the saving should it go on.

use crate::number;
use crate::wire::money::{MoneyDocument, PartMoney, Year};
use sealspan_care::costs::DAYS_PER_YEAR;

/// Costs that differ by a greater share are told.
const DIFFERS: f64 = 0.1;

/// The last year of the records, where today's practice as it is put here costs clearly more or less.
struct LastYear<'a> {
    counted: &'a Year,
    today: Year,
    plan: Year,
}

impl<'a> LastYear<'a> {
    fn of(d: &'a MoneyDocument) -> Option<Self> {
        let sum = |of: fn(&PartMoney) -> Year| d.parts.iter().map(of).sum::<Year>();
        let year = Self {
            counted: d.last_year.as_ref()?,
            today: sum(|p| p.today),
            plan: sum(|p| p.plan),
        };
        ((year.counted.cost / year.today.cost - 1.0).abs() >= DIFFERS).then_some(year)
    }

    /// What the plan saves against it: as it is forecast, and should its failures change as those of today's practice.
    fn gains(&self) -> [f64; 2] {
        let alike = self.counted.failures / self.today.failures.max(f64::MIN_POSITIVE);
        let fewer = self.plan.failures_money * (1.0 - alike);
        let gain = self.counted.cost - self.plan.cost;
        [gain, gain + fewer]
    }

    /// Money of a year as exact as one year is.
    fn money(&self, amount: f64, currency: &str) -> String {
        number::money_to(amount, 0.1 * self.today.cost, currency)
    }
}

/// What is left of the saving should the last year go on, where it differs.
pub(super) fn after(d: &MoneyDocument) -> Option<String> {
    let year = LastYear::of(d)?;
    let m = |x: f64| year.money(x, &d.currency);
    let [gain, alike] = year.gains();
    Some(format!(
        "Outside that interval: were the last 12 months ({} failures, {}) today's cost, the plan ({} a year over {} months) would save {}, or {} if its failures came in that proportion too.",
        number::fixed(year.counted.failures, 0),
        m(year.counted.cost),
        m(year.plan.cost),
        d.by_month.len(),
        m(gain),
        m(alike)
    ))
}

/// The same over all months, behind their interval.
pub(super) fn over_all(d: &MoneyDocument) -> Option<String> {
    let year = LastYear::of(d)?;
    let years = d.by_month.len() as f64 * d.month_days / DAYS_PER_YEAR;
    let whole: f64 = d.by_month.iter().map(|m| m.saving).sum();
    let discount = (whole.abs() > 0.0).then(|| d.present_value / whole)?;
    let mut ends = year.gains().map(|gain| gain * years * discount);
    ends.sort_by(f64::total_cmp);
    let width = 0.2 * year.today.cost;
    let [low, high] = ends.map(|x| number::money_to(x, width, &d.currency));
    Some(format!("; {low} to {high} should the last 12 months go on"))
}

/// It beside today's practice as it is put here, in a sentence.
pub(super) fn sentence(d: &MoneyDocument) -> Option<String> {
    let year = LastYear::of(d)?;
    let m = |x: f64| year.money(x, &d.currency);
    Some(format!(
        "The last 12 months of the records counted {} failures and {} at these prices, against {} and {} a year put here over {} months.",
        number::fixed(year.counted.failures, 0),
        m(year.counted.cost),
        number::fixed(year.today.failures, 0),
        m(year.today.cost),
        d.by_month.len()
    ))
}
