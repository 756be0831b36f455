//! What a failure and a planned replacement cost, item by item; each item can be left out to see what it does.

use crate::error::{Result, not_negative};
use serde::Serialize;

/// When an item of cost falls due.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Falls {
    /// With every replacement.
    EachReplacement,
    /// With every failure, on top.
    EachFailure,
    /// With every hour down.
    EachHour,
}

/// One item.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Item {
    /// What it is.
    pub name: String,
    /// Money each time.
    pub amount: f64,
    /// When it falls due.
    pub falls: Falls,
    /// Whether it is counted.
    pub counted: bool,
    /// Money in one failure; 0 when not counted.
    pub per_failure: f64,
    /// Money in one planned replacement; 0 when not counted.
    pub per_planned: f64,
}

/// All items, with the hours they hang on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BuildUp {
    /// The items.
    pub items: Vec<Item>,
    /// Hours down for a failure.
    pub failure_hours: f64,
    /// Hours down for a planned replacement.
    pub planned_hours: f64,
    /// Money of one failure, all counted.
    pub failure: f64,
    /// Money of one planned replacement.
    pub planned: f64,
}

impl BuildUp {
    /// Puts named amounts together.
    ///
    /// # Errors
    /// When an amount or a number of hours is negative or not finite.
    ///
    /// ```
    /// use sealspan_care::money::build_up::{BuildUp, Falls};
    /// let items = [("seal", 38.0, Falls::EachReplacement, true), ("margin", 210.0, Falls::EachHour, true),
    ///     ("penalty", 900.0, Falls::EachFailure, false)];
    /// let built = BuildUp::new(&items, 9.0, 1.5)?;
    /// assert_eq!((built.failure, built.planned), (38.0 + 1890.0, 38.0 + 315.0));
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn new(
        items: &[(&str, f64, Falls, bool)],
        failure_hours: f64,
        planned_hours: f64,
    ) -> Result<Self> {
        not_negative("the hours down for a failure", failure_hours)?;
        not_negative("the hours down for a planned replacement", planned_hours)?;
        let mut built = Self {
            items: vec![],
            failure_hours,
            planned_hours,
            failure: 0.0,
            planned: 0.0,
        };
        for (name, amount, falls, counted) in items {
            not_negative("an amount of the costs", *amount)?;
            let on = if *counted { *amount } else { 0.0 };
            let (per_failure, per_planned) = match falls {
                Falls::EachReplacement => (on, on),
                Falls::EachFailure => (on, 0.0),
                Falls::EachHour => (on * failure_hours, on * planned_hours),
            };
            built.failure += per_failure;
            built.planned += per_planned;
            built.items.push(Item {
                name: (*name).to_owned(),
                amount: *amount,
                falls: *falls,
                counted: *counted,
                per_failure,
                per_planned,
            });
        }
        Ok(built)
    }
}
