//! Prices of single groups must name groups that there are: a slip in a name would leave its price unused.

use crate::error::{Error, Kind};
use crate::load::Records;
use crate::{Question, ask};
use std::collections::BTreeSet;

/// Refuses a price for a name that no material and no group of the study's question goes by.
pub(crate) fn check(records: &Records) -> Result<(), Error> {
    let prices = &records.study.costs.seal_prices;
    if prices.is_empty() {
        return Ok(());
    }
    let mut names: BTreeSet<String> = records
        .seals
        .iter()
        .filter_map(|s| Some(s.material?.word().to_owned()))
        .collect();
    let question = Question {
        by: records.study.question.by.clone(),
        ..Question::default()
    };
    // Records that cannot be grouped are told of where they are asked.
    if let Ok(answer) = ask(records, &question) {
        let values = answer.groups.into_iter().flat_map(|g| g.key);
        names.extend(values.map(|(_, value)| value));
    }
    match prices.keys().find(|name| !names.contains(*name)) {
        None => Ok(()),
        Some(name) => {
            let known: Vec<String> = names.into_iter().collect();
            Err(Error::new(
                Kind::Study,
                format!("`costs.seal_prices` gives a price for {name}, but no group of the records goes by that"),
                format!("choose from {}", known.join(", ")),
            )
            .in_column(format!("costs.seal_prices.{name}")))
        }
    }
}
