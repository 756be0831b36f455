//! `last-buy`: how many seals to lay in of a part that will no longer be made.

use crate::Answer;
use crate::args::LastBuy;
use crate::failure::Failure;
use crate::output::Output;
use crate::table::table;
use sealspan_care::spares::last_buy::{self, LastBuy as Terms, LastBuyAnswer};
use sealspan_report::number;
use serde::Serialize;

#[derive(Serialize)]
struct Document {
    schema: &'static str,
    horizon: f64,
    #[serde(flatten)]
    answer: LastBuyAnswer,
    notes: Vec<String>,
}

pub fn run(args: &LastBuy) -> Answer {
    if let Some(days) = args.shelf_life.filter(|days| *days < args.horizon) {
        return Err(Failure::unanswerable(
            format!(
                "seals bought now keep for {days} days and must last for {}: the last ones would be out of date",
                args.horizon
            ),
            format!("ask for --horizon {days}, and plan another seal from then on"),
        ));
    }
    if args.salvage >= args.unit_price {
        return Err(Failure::argument(
            "a seal left over fetches its price or more, so any number pays",
            "check --salvage against --unit-price",
        ));
    }
    // A seal left over has lain for the whole time.
    let left_cost = args.unit_price - args.salvage + args.holding_cost * args.horizon;
    let terms = Terms {
        short_cost: args.short_cost,
        left_cost,
    };
    let demand = last_buy::demand(args.demand_rate * args.horizon, args.rate_cv)?;
    let document = Document {
        schema: "sealspan.last_buy.v1",
        horizon: args.horizon,
        answer: terms.answer(&demand)?,
        notes: vec![
            "Least expected loss by shortage and surplus; the demand is a Poisson number, or its gamma mixture where the rate is uncertain.".to_owned(),
            "A seal left over costs its price less what it fetches, and its holding for the whole time.".to_owned(),
        ],
    };
    Ok(Output::new(args.format.format, document, text))
}

fn text(d: &Document) -> String {
    let best = &d.answer.best;
    let mut out = format!(
        "buy {}: they last {} days with a chance of {}; {} demands expected\n",
        best.quantity,
        number::significant(d.horizon, 4),
        number::percent(best.enough),
        number::significant(d.answer.demand.mean, 3)
    );
    let rows: Vec<Vec<String>> = d
        .answer
        .quantities
        .iter()
        .filter(|q| q.quantity.abs_diff(best.quantity) <= 5)
        .map(|q| {
            vec![
                q.quantity.to_string(),
                number::percent(q.enough),
                number::significant(q.expected_short, 3),
                number::significant(q.expected_left, 3),
                number::significant(q.cost, 4),
            ]
        })
        .collect();
    out.push_str(&table(
        &[
            "buy",
            "enough",
            "short on average",
            "left on average",
            "loss",
        ],
        &rows,
    ));
    out.push('\n');
    for note in &d.notes {
        out.push_str(&format!("  {note}\n"));
    }
    out.push_str(crate::cautioned::IN_SHORT);
    out
}
