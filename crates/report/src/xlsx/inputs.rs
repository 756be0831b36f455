//! The sheet of inputs: one yellow cell a price, an hour or a rate, and what follows from them.

use super::cells::{Looks, live};
use rust_xlsxwriter::{Worksheet, XlsxError};
use sealspan_records::Study;
use sealspan_records::study::Costs;

/// Name of the sheet.
pub const SHEET: &str = "Inputs";
/// Rows of the inputs, as the sheet numbers them.
const FIRST: u32 = 2;

/// Said of an input that no formula follows.
const ASKED: &str =
    "for the record: stocks and the plan stay as worked out, run the program to choose them anew";

/// Whether some parts have a price of their own.
fn own_prices(costs: &Costs) -> &'static str {
    if costs.seal_prices.is_empty() {
        ""
    } else {
        "parts with a price of their own keep it: see Summary"
    }
}

/// What stands on the sheet.
#[derive(Debug, Clone)]
pub struct Inputs {
    rows: Vec<(&'static str, f64, String, &'static str)>,
    /// A shortage sends for an urgent seal instead of waiting.
    pub urgent: bool,
}

/// Addresses of what follows from the inputs.
pub const PLANNED: &str = "Inputs!$B$24";
/// Money of one failure.
pub const FAILURE: &str = "Inputs!$B$25";
/// Money for an hour down.
pub const HOUR: &str = "Inputs!$B$23";
/// Money for an urgent order above the price of a seal, its wait included.
pub const URGENT: &str = "Inputs!$B$26";
/// Money of the hours down of an opening for a look or a turn.
pub const OPENING: &str = "Inputs!$B$27";
/// Labour of a look.
pub const LOOK: &str = "Inputs!$B$19";
/// Labour of a turn.
pub const TURN: &str = "Inputs!$B$20";
/// Hours down of a planned change.
pub const PLANNED_HOURS: &str = "Inputs!$B$4";
/// Hours down of a failure.
pub const FAILURE_HOURS: &str = "Inputs!$B$5";
/// Price of a seal.
pub const PRICE: &str = "Inputs!$B$2";
/// Continuous discount rate a year.
pub const DISCOUNT: &str = "Inputs!$B$12";
/// Lead time, days.
pub const LEAD: &str = "Inputs!$B$14";

impl Inputs {
    /// From a study; what it does not give is 0.
    #[must_use]
    pub(crate) fn of(study: &Study, currency: &str) -> Self {
        let (c, s) = (&study.costs, &study.stock);
        let each = |per: &str| format!("{currency} {per}").trim().to_owned();
        let or = |x: Option<f64>| x.unwrap_or(0.0);
        let rows = vec![
            (
                "price of a seal",
                or(c.seal_price),
                each("each"),
                own_prices(c),
            ),
            ("fitting labour", or(c.fitting_labour), each("each"), ""),
            (
                "hours down, planned change",
                or(c.planned_hours),
                "hours".to_owned(),
                "",
            ),
            (
                "hours down, failure",
                or(c.failure_hours),
                "hours".to_owned(),
                "",
            ),
            (
                "downtime, one figure",
                or(c.downtime_cost_per_hour),
                each("per hour"),
                "or in the two parts below",
            ),
            (
                "contribution margin lost",
                or(c.contribution_margin_per_hour),
                each("per hour"),
                "",
            ),
            (
                "labour standing idle",
                or(c.standing_labour_per_hour),
                each("per hour"),
                "",
            ),
            ("clean-up", or(c.clean_up), each("per failure"), ""),
            (
                "scrap and restart",
                or(c.scrap_and_restart),
                each("per failure"),
                "",
            ),
            ("penalty", or(c.penalty), each("per failure"), ""),
            (
                "discount rate",
                or(c.discount_rate_per_year),
                "per year, continuous".to_owned(),
                "",
            ),
            (
                "carrying rate",
                or(s.carrying_rate_per_year),
                "per year, share of price".to_owned(),
                ASKED,
            ),
            (
                "lead time",
                or(s.lead_time_days),
                "days".to_owned(),
                "shortages follow on the sheet of stocks; what to hold, and its cost a year, stay as worked out",
            ),
            (
                "urgent lead time",
                or(s.urgent_lead_time_days),
                "days".to_owned(),
                "used where shortages go urgent",
            ),
            (
                "urgent price",
                s.urgent_price.or(c.seal_price).unwrap_or(0.0),
                each("each"),
                "",
            ),
            ("order cost", or(s.order_cost), each("per order"), ASKED),
            (
                "hours open for a look or a turn",
                or(c.inspection_hours),
                "hours".to_owned(),
                "",
            ),
            (
                "labour of a look",
                or(c.inspection_labour),
                each("each"),
                "",
            ),
            ("labour of a turn", or(c.turn_labour), each("each"), ""),
        ];
        Self {
            rows,
            urgent: s.urgent_lead_time_days.is_some(),
        }
    }

    /// The value of a row of the sheet.
    fn value(&self, row: u32) -> f64 {
        let at = row
            .checked_sub(FIRST)
            .and_then(|i| self.rows.get(i as usize));
        at.map_or(0.0, |r| r.1)
    }

    /// Money for an hour down.
    pub(crate) fn hour(&self) -> f64 {
        self.value(6) + self.value(7) + self.value(8)
    }

    /// Money for an urgent order above the price of a seal.
    pub(crate) fn urgent_cost(&self) -> f64 {
        self.value(16) - self.value(2) + self.value(15) * 24.0 * self.hour()
    }

    /// Lead time, days.
    pub(crate) fn lead(&self) -> f64 {
        self.value(14)
    }

    /// Price of a seal.
    pub(crate) fn price(&self) -> f64 {
        self.value(2)
    }

    /// Writes the sheet.
    ///
    /// # Errors
    /// When the workbook cannot hold a cell.
    pub(crate) fn write(&self, sheet: &mut Worksheet, looks: &Looks) -> Result<(), XlsxError> {
        sheet.set_name(SHEET)?;
        sheet
            .set_column_width(0, 34)?
            .set_column_width(1, 14)?
            .set_column_width(2, 26)?
            .set_column_width(3, 60)?;
        looks.heads(
            sheet,
            0,
            &["input (change the yellow cells)", "value", "unit", "note"],
        )?;
        for (row, (name, value, unit, note)) in (FIRST - 1..).zip(&self.rows) {
            looks.text(sheet, row, 0, name)?;
            let share = unit.starts_with("per year");
            let format = if share {
                &looks.input_share
            } else {
                &looks.input
            };
            sheet.write_number_with_format(row, 1, *value, format)?;
            looks.text(sheet, row, 2, unit)?;
            looks.text(sheet, row, 3, note)?;
        }
        looks.heads(sheet, 21, &["what follows", "value", "unit", "note"])?;
        let base = self.value(2) + self.value(3);
        let hour = self.hour();
        let failure = base + self.value(9) + self.value(10) + self.value(11) + self.value(5) * hour;
        let derived = [
            ("an hour down", "=B6+B7+B8", hour, ""),
            (
                "a planned change",
                "=B2+B3+B4*B23",
                base + self.value(4) * hour,
                "",
            ),
            ("a failure", "=B2+B3+B9+B10+B11+B5*B23", failure, ""),
            (
                "an urgent order, its wait included",
                "=B16-B2+B15*24*B23",
                self.urgent_cost(),
                "above the price of a seal",
            ),
            (
                "an opening for a look or a turn",
                "=B18*B23",
                self.value(18) * hour,
                "its labour apart",
            ),
        ];
        for (row, (name, formula, value, note)) in (22..).zip(derived) {
            looks.text(sheet, row, 0, name)?;
            live(sheet, row, 1, formula, value, &looks.money)?;
            looks.text(sheet, row, 3, note)?;
        }
        sheet.set_freeze_panes(1, 0)?;
        Ok(())
    }
}
