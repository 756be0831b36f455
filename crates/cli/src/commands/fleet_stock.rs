//! `stock --life`: how many seals to lay in for a fleet over a horizon without resupply.

use crate::Answer;
use crate::args::Stock;
use crate::failure::Failure;
use crate::output::Output;
use crate::table::table;
use sealspan_care::fleet_stock::fleet_stock;
use sealspan_care::forecast::Running;
use sealspan_life::life::Life;
use sealspan_report::number;
use sealspan_report::wire::stock::{FleetPlace, FleetStockDocument};

pub fn run(args: &Stock, life: &str) -> Answer {
    let life = Life::parse(life)
        .map_err(|why| Failure::argument(why, "for example --life weibull:shape=2.5,scale=400"))?;
    let (assets, horizon) = (
        args.assets.unwrap_or_default() as usize,
        args.horizon.unwrap_or_default(),
    );
    let Some(new) = assets.checked_sub(args.ages.len()) else {
        return Err(Failure::argument(
            format!("{} ages are named for {assets} seals", args.ages.len()),
            "name at most one age a seal",
        ));
    };
    let mut running: Vec<Running> = args
        .ages
        .iter()
        .map(|age| Running {
            age: *age,
            count: 1,
        })
        .collect();
    running.push(Running {
        age: 0.0,
        count: new,
    });
    let document = FleetStockDocument {
        schema: "sealspan.stock.v1",
        places: vec![FleetPlace {
            place: "stated",
            part: "seal",
            answer: fleet_stock(&life, &running, horizon, args.target_probability)?,
        }],
        frontier: vec![],
        frontier_reason: "seals are laid in once: there is no resupply to weigh against",
    };
    let target = args.target_probability;
    Ok(Output::new(args.format.format, document, move |d| {
        text(d, target)
    }))
}

fn text(d: &FleetStockDocument, target: f64) -> String {
    let mut out = String::new();
    for place in &d.places {
        let a = &place.answer;
        out.push_str(&format!(
            "lay in {}: enough with a chance of {} ({} asked for); {} replacements expected\n",
            a.best.stock,
            number::percent(a.best.enough),
            number::percent(target),
            number::significant(a.demand.mean, 3)
        ));
        let rows: Vec<Vec<String>> = a
            .levels
            .iter()
            .filter(|l| l.stock.abs_diff(a.best.stock) <= 6)
            .map(|l| {
                vec![
                    l.stock.to_string(),
                    number::percent(l.enough),
                    number::significant(l.expected_short, 3),
                    number::significant(l.expected_left, 3),
                ]
            })
            .collect();
        out.push_str(&table(
            &["lay in", "enough", "short on average", "left on average"],
            &rows,
        ));
        out.push('\n');
        for note in &a.notes {
            out.push_str(&format!("  {note}\n"));
        }
    }
    out.push_str(crate::cautioned::IN_SHORT);
    out
}
