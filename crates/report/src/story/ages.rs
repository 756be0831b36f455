//! The ages named on the pages side by side: each answers another question.

use super::plans::{all, pen};
use crate::analysis::intervals::words;
use crate::analysis::run::Results;
use crate::document::Table;
use crate::number;

/// A row a group with a whole plan; `None` without any.
pub(super) fn table(results: &Results) -> Option<Table> {
    let stated = &results.intervals.groups;
    let rows = all(results).into_iter().map(|(group, plan)| {
        let alone = group.block.as_ref().and_then(|b| b.replace.age);
        let sheet = stated.iter().find(|g| g.group == group.group);
        let interval = sheet.and_then(|g| g.clocks.first()?.state.as_ref());
        let pen = pen(results, plan);
        vec![
            group.group.words(),
            alone.map_or_else(
                || "none pays".to_owned(),
                |age| format!("{} {}", number::significant(age, 2), results.unit),
            ),
            plan.weighed
                .plan
                .replace_at
                .map_or_else(|| "on failure only".to_owned(), |age| pen.age(age)),
            interval.map_or_else(|| "none".to_owned(), words),
        ]
    });
    let rows: Vec<Vec<String>> = rows.collect();
    (!rows.is_empty()).then(|| {
        Table::new(
            "Which age for whom",
            &[
                "group",
                "least cost by age alone, at the estimates",
                "the plan, for who runs the equipment",
                "interval to state, for the maker",
            ],
            rows,
        )
    })
}
