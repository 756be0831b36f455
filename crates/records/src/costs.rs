//! Prices, hours and chances of a study, and the sums made of them.

use serde::Deserialize;
use std::collections::BTreeMap;

/// What things cost, in the study's currency; hours are hours of equipment down. [`Study::parse`](crate::Study::parse)
/// sees to it that prices of seals are above 0 and all else is 0 or more; `None` where the study does not say. Which part
/// counts to which sum is a rule of ours.
///
/// ```
/// use sealspan_records::study::Costs;
/// let costs = Costs {
///     seal_price: Some(38.0),
///     seal_prices: [("FKM".to_owned(), 95.0)].into(),
///     fitting_labour: Some(12.0),
///     clean_up: Some(100.0),
///     penalty: Some(50.0),
///     contribution_margin_per_hour: Some(300.0),
///     standing_labour_per_hour: Some(40.0),
///     ..Costs::default()
/// };
/// assert_eq!(costs.planned_cost(), Some(50.0)); // 38 + 12
/// assert_eq!(costs.failure_cost(), Some(200.0)); // 50 + 100 + 50
/// assert_eq!(costs.downtime_cost(), Some(340.0)); // 300 + 40, per hour
/// assert_eq!(costs.dearer_by(["FKM"]), 57.0); // 95 - 38
/// ```
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Costs {
    /// Price of one seal.
    pub seal_price: Option<f64>,
    /// Prices of the seals of single materials, or other groups, by their names; all others cost `seal_price`.
    pub seal_prices: BTreeMap<String, f64>,
    /// Labour to fit one seal.
    pub fitting_labour: Option<f64>,
    /// Hours down for a planned replacement.
    pub planned_hours: Option<f64>,
    /// Hours down for a failure.
    pub failure_hours: Option<f64>,
    /// Cost of an hour down, when known as one figure.
    pub downtime_cost_per_hour: Option<f64>,
    /// Contribution margin lost per hour down.
    pub contribution_margin_per_hour: Option<f64>,
    /// Labour standing idle per hour down.
    pub standing_labour_per_hour: Option<f64>,
    /// Scrap and restart after a failure.
    pub scrap_and_restart: Option<f64>,
    /// Clean-up after a failure.
    pub clean_up: Option<f64>,
    /// Penalty for a failure.
    pub penalty: Option<f64>,
    /// Labour of one inspection.
    pub inspection_labour: Option<f64>,
    /// Hours down for one inspection.
    pub inspection_hours: Option<f64>,
    /// Labour of one turn.
    pub turn_labour: Option<f64>,
    /// Probability that an inspection or a turn damages the seal, from 0 to below 1.
    pub handling_damage: Option<f64>,
    /// Discount rate, continuous, per year of 365.25 days.
    pub discount_rate_per_year: Option<f64>,
}

impl Costs {
    /// Money for one planned replacement, downtime apart: seal price + fitting labour, 0 where not given.
    /// `None` when the seal price is not given.
    #[must_use]
    pub fn planned_cost(&self) -> Option<f64> {
        self.seal_price
            .map(|price| price + self.fitting_labour.unwrap_or(0.0))
    }

    /// Money for one failure, downtime apart: [`planned_cost`](Costs::planned_cost) + clean-up + scrap and
    /// restart + penalty, each 0 where not given. `None` when the seal price is not given.
    #[must_use]
    pub fn failure_cost(&self) -> Option<f64> {
        let extra = [self.clean_up, self.scrap_and_restart, self.penalty];
        self.planned_cost()
            .map(|cost| cost + extra.into_iter().flatten().sum::<f64>())
    }

    /// How much more than `seal_price` a seal costs that goes by one of these names: the price of the first of them that
    /// has one in `seal_prices`, less `seal_price`, below 0 where it is cheaper. 0 where no price is its own, or without
    /// `seal_price`.
    #[must_use]
    pub fn dearer_by<'a>(&self, names: impl IntoIterator<Item = &'a str>) -> f64 {
        let own = names
            .into_iter()
            .find_map(|name| self.seal_prices.get(name));
        own.zip(self.seal_price)
            .map_or(0.0, |(own, usual)| own - usual)
    }

    /// Money per hour down: the one figure, or contribution margin + standing labour, one of them 0 where not given. `None`
    /// where none of the three is given.
    #[must_use]
    pub fn downtime_cost(&self) -> Option<f64> {
        if self.downtime_cost_per_hour.is_some() {
            return self.downtime_cost_per_hour;
        }
        match (
            self.contribution_margin_per_hour,
            self.standing_labour_per_hour,
        ) {
            (None, None) => None,
            (a, b) => Some(a.unwrap_or(0.0) + b.unwrap_or(0.0)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first name with a price of its own counts; without a usual price nothing is dearer.
    #[test]
    fn prices_of_their_own() {
        let mut costs = Costs {
            seal_price: Some(38.0),
            seal_prices: BTreeMap::from([("FKM".to_owned(), 95.0), ("NBR".to_owned(), 30.0)]),
            ..Costs::default()
        };
        assert_eq!(costs.dearer_by(["FKM", "north"]), 57.0);
        assert_eq!(costs.dearer_by(["north", "NBR"]), -8.0);
        assert_eq!(costs.dearer_by(["EPDM"]), 0.0);
        costs.seal_price = None;
        assert_eq!(costs.dearer_by(["FKM"]), 0.0);
    }
}

/// Lead times and holding; money in the study's currency. `None` where the study does not say.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Stock {
    /// Days from order to delivery, 0 or more.
    pub lead_time_days: Option<f64>,
    /// Days from urgent order to delivery, from 0 to `lead_time_days`.
    pub urgent_lead_time_days: Option<f64>,
    /// Price of one seal ordered urgently, above 0.
    pub urgent_price: Option<f64>,
    /// Cost of placing one order, whatever its size, 0 or more.
    pub order_cost: Option<f64>,
    /// Yearly holding cost as a share of the price (0.25 is 25 %), 0 or more.
    pub carrying_rate_per_year: Option<f64>,
    /// Shelf life, days from the cure, above 0, from the source the user cites.
    pub shelf_life_days: Option<f64>,
    /// The rule the shelf life is from, as it is to be printed: the maker's sheet or a standard.
    pub shelf_life_source: Option<String>,
    /// Days since cure when seals arrive, 0 or more.
    pub age_on_arrival_days: Option<f64>,
    /// Standard deviation of the lead time, days, 0 or more, when it varies from spell to spell and orders arrive in turn.
    pub lead_time_deviation_days: Option<f64>,
}
