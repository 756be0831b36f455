//! How much the choice of family matters, in text.

use super::cell;
use crate::table::table;
use sealspan_report::number::{self, Unit};
use sealspan_report::wire::fit::{Choice, Ends, FitDocument};

/// The confidence at which averaged intervals were measured, and how often they held (`tests/coverage/averaged.md`).
const MEASURED_AT: f64 = 0.9;
const MEASURED: &str = "  measured for 10 % failed by, with seven models and 8 to 35 failures among 10 to 50 seals (simulated Weibull, lognormal and gamma lives): averaged intervals of 90 % held it in 90 to 95 % of the samples, those of the model with the best AICc alone in 82 to 93 %\n";

pub(super) fn text(choice: &Choice, d: &FitDocument) -> String {
    let weights: Vec<Vec<String>> = choice
        .weights
        .iter()
        .map(|w| {
            let aicc = w.aicc.map_or_else(|| "none".to_owned(), number::percent);
            vec![w.family.to_owned(), aicc, number::percent(w.bic)]
        })
        .collect();
    let averaged: Vec<Vec<String>> = choice
        .averaged_quantiles
        .iter()
        .map(|a| {
            let life = cell(&a.number, Ends::default(), &Unit::None);
            vec![format!("{} failed by", number::level(a.p)), life]
        })
        .collect();
    let mut out = format!(
        "  the models weighed against each other (shares of the whole):\n{}\n  averaged over them by the AICc weights, in {} (ends where the models' chances of a miss, read off their own intervals and averaged alike, leave equal shares outside):\n{}\n",
        table(&["model", "AICc weight", "BIC weight"], &weights),
        d.unit,
        table(&["quantity", "estimate"], &averaged),
    );
    for a in &choice.averaged_quantiles {
        if let Some(why) = &a.number.reason {
            out.push_str(&format!("  {} failed by: {why}\n", number::level(a.p)));
        }
    }
    if (d.confidence - MEASURED_AT).abs() < 1e-9 {
        out.push_str(MEASURED);
    }
    out.push_str(&format!("  {}\n", choice.sentence));
    out
}
