//! The tables of values that go with the report, in full precision.

use super::money_tables as money;
use crate::analysis::run::Results;
use crate::analysis::what_if::Events;
use crate::document::{Cell, DataTable};
use crate::wire::Number;

/// Every table that has a row; the heads of columns name the units.
#[must_use]
pub fn tables(results: &Results) -> Vec<DataTable> {
    let all = [
        lives(results),
        curve(results),
        ratios(results),
        screen(results),
        positions(results),
        care(results),
        cost_by_age(results),
        stock(results),
        ahead(results),
        money::budget(results),
        money::spares(results),
        money::looks(results),
        money::places(results),
        money::own_ages(results),
        money::own_ages_by_duty(results),
        super::due::data(results.due.found()),
        findings(results),
        set_aside(results),
        decisions(results),
        policies(results),
    ];
    all.into_iter().filter(|t| !t.rows.is_empty()).collect()
}

/// Events under every policy that the page's controls offer, and under today's practice.
fn policies(results: &Results) -> DataTable {
    let what_if = results.what_if.iter();
    let rows = what_if.flat_map(|w| w.parts.iter().map(move |part| (w, part)));
    let rows = rows.flat_map(|(w, part)| {
        let line = move |care: [Cell; 3], events: &Events| -> Vec<Cell> {
            let rates = events.0.map(|rate| (rate * w.units).into());
            std::iter::once(part.name.clone().into())
                .chain(care)
                .chain(rates)
                .collect()
        };
        let today = part.today.iter().map(move |events| {
            line(
                ["today's practice".into(), None.into(), None.into()],
                events,
            )
        });
        let rest = part.looks.iter().flat_map(move |row| {
            row.ages.iter().map(move |age| {
                let every: Cell = row.every.into();
                line(["policy".into(), every, age.at.into()], &age.mean)
            })
        });
        today.chain(rest)
    });
    let (unit, per) = results
        .what_if
        .as_ref()
        .map_or(("", ""), |w| (results.unit, w.per));
    let each = |what: &str| format!("{what} per position and {per}");
    let heads = [
        "part".to_owned(),
        "care".to_owned(),
        format!("inspect every ({unit})"),
        format!("replace at ({unit})"),
        each("planned"),
        each("failed"),
        each("found"),
        each("damaged"),
        each("openings"),
        each("looks"),
        each("turns"),
        each("changed while open anyway"),
    ];
    let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    table("policies", &heads, rows.collect())
}

pub(super) fn table(name: &str, columns: &[&str], rows: Vec<Vec<Cell>>) -> DataTable {
    DataTable {
        name: name.to_owned(),
        columns: columns.iter().map(|c| (*c).to_owned()).collect(),
        rows,
    }
}

fn number(n: &Number) -> [Cell; 3] {
    [n.estimate.into(), n.lower.into(), n.upper.into()]
}

fn positions(results: &Results) -> DataTable {
    let found = results.positions.found();
    let rows = found.iter().flat_map(|d| &d.positions).map(|p| {
        let sectors: Vec<String> = p.sectors.iter().map(u32::to_string).collect();
        let [ratio, lower, upper] = number(&p.shrunk_rate_ratio);
        vec![
            p.asset.clone().into(),
            p.position.clone().unwrap_or_default().into(),
            (p.replacements as f64).into(),
            p.expected.into(),
            p.ratio.into(),
            p.expected_at_its_ages.into(),
            p.rate_ratio.into(),
            ratio,
            lower,
            upper,
            p.p_value.into(),
            p.adjusted_p_value.into(),
            sectors.join(" ").into(),
            p.uneven_p_value.into(),
            p.uneven_adjusted_p_value.into(),
            p.turning_gain.into(),
            p.mending_gain.into(),
        ]
    });
    table(
        "positions",
        &[
            "asset",
            "position",
            "replacements",
            "expected",
            "ratio",
            "expected_at_its_ages",
            "rate_ratio",
            "shrunk_rate_ratio",
            "lower",
            "upper",
            "p_value",
            "adjusted_p_value",
            "failures_by_sector",
            "uneven_p_value",
            "uneven_adjusted_p_value",
            "turning_gain",
            "mending_gain",
        ],
        rows.collect(),
    )
}

fn lives(results: &Results) -> DataTable {
    let mut rows = vec![];
    for group in &results.fit.groups {
        for fit in &group.fits {
            let mut push = |quantity: String, n: &Number| {
                let mut row: Vec<Cell> = vec![
                    group.group.words().into(),
                    fit.family.into(),
                    quantity.into(),
                ];
                row.extend(number(n));
                row.push(
                    n.reason
                        .clone()
                        .or_else(|| fit.reason.clone())
                        .unwrap_or_default()
                        .into(),
                );
                rows.push(row);
            };
            for p in &fit.parameters {
                push(p.name.to_owned(), &p.number);
            }
            for q in &fit.quantiles {
                push(format!("age by which {} has failed", q.p), &q.number);
            }
            push("mean life".to_owned(), &fit.mean_life);
        }
    }
    table(
        "lives",
        &[
            "group", "family", "quantity", "estimate", "lower", "upper", "reason",
        ],
        rows,
    )
}

fn curve(results: &Results) -> DataTable {
    let mut rows = vec![];
    for group in &results.fit.groups {
        for p in &group.empirical.points {
            rows.push(vec![
                group.group.words().into(),
                group.empirical.method.into(),
                p.from.into(),
                p.time.into(),
                p.survival.into(),
                p.std_error.into(),
                p.lower.into(),
                p.upper.into(),
            ]);
        }
    }
    let time = format!("time ({})", results.unit);
    table(
        "survival",
        &[
            "group",
            "method",
            "from",
            &time,
            "survival",
            "standard error",
            "lower",
            "upper",
        ],
        rows,
    )
}

fn ratios(results: &Results) -> DataTable {
    let list = results
        .compare
        .found()
        .map(|c| c.life_ratios.as_slice())
        .unwrap_or_default();
    let row = |r: &crate::wire::compare::LifeRatio| -> Vec<Cell> {
        vec![
            r.of.clone().into(),
            r.to.clone().into(),
            r.estimate.into(),
            r.lower.into(),
            r.upper.into(),
            r.p_value.into(),
        ]
    };
    let columns = [
        "of",
        "to",
        "life ratio",
        "lower",
        "upper",
        "p-value of this pair",
    ];
    table("life-ratios", &columns, list.iter().map(row).collect())
}

fn screen(results: &Results) -> DataTable {
    let list = results
        .screen
        .found()
        .map(|s| s.found.as_slice())
        .unwrap_or_default();
    let rows = list
        .iter()
        .map(|s| {
            vec![
                s.column.clone().into(),
                s.level.clone().into(),
                s.within
                    .as_ref()
                    .map_or_else(String::new, |(_, group)| group.clone())
                    .into(),
                s.same_seals.join("; ").into(),
                s.seals.into(),
                s.failures.into(),
                s.life_ratio.into(),
                s.lower.into(),
                s.upper.into(),
                s.p_value.into(),
                s.p_value_all_looks.into(),
            ]
        })
        .collect();
    table(
        "stands-out",
        &[
            "column",
            "value",
            "within",
            "cannot be told from",
            "seals",
            "failures",
            "life ratio",
            "lower",
            "upper",
            "p-value",
            "p-value, all comparisons",
        ],
        rows,
    )
}

fn care(results: &Results) -> DataTable {
    let groups = results
        .care
        .found()
        .map(|c| c.groups.as_slice())
        .unwrap_or_default();
    let rows = groups
        .iter()
        .filter_map(|g| {
            let b = g.block.as_ref()?;
            let zone = b.replace.flat_zone;
            Some(vec![
                g.group.words().into(),
                b.replace.age.into(),
                zone.map(|z| z.0).into(),
                zone.and_then(|z| z.1).into(),
                b.replace.cost_rate.into(),
                b.run_to_failure.cost_rate.into(),
                b.replace.failure_probability.into(),
                b.simulated.cost_rate.into(),
                b.simulated.std_error.into(),
            ])
        })
        .collect();
    let per = results.unit.strip_suffix('s').unwrap_or(results.unit);
    let money = format!("{} per {per}", results.currency);
    let age = format!("replace at ({})", results.unit);
    let cost = format!("cost ({money})");
    let run = format!("cost on failure only ({money})");
    table(
        "replacement",
        &[
            "group",
            &age,
            "flat from",
            "flat to",
            &cost,
            &run,
            "share failing before",
            "played",
            "standard error",
        ],
        rows,
    )
}

/// The cost curve of the group with the most seals running, as its figure draws it.
fn cost_by_age(results: &Results) -> DataTable {
    let chart = super::decide::cost_curve(results);
    let group = super::words::largest(results);
    let group = group.map_or_else(String::new, |(key, _)| super::words::name_of(key));
    let mut rows = vec![];
    for layer in chart.iter().flat_map(|c| &c.layers) {
        if let crate::chart::Layer::Line { points, .. } = layer {
            let row = |(age, cost): &(f64, f64)| {
                vec![group.clone().into(), (*age).into(), (*cost).into()]
            };
            rows.extend(points.iter().map(row));
        }
    }
    let unit = chart.map_or_else(String::new, |c| c.y.unit);
    let (age, cost) = (
        format!("replacement age ({})", results.unit),
        format!("cost ({unit})"),
    );
    table("cost-by-age", &["group", &age, &cost], rows)
}

fn stock(results: &Results) -> DataTable {
    let places = results
        .stock
        .found()
        .map(|s| s.places.as_slice())
        .unwrap_or_default();
    let mut rows = vec![];
    for p in places {
        for l in &p.answer.levels {
            let best = p
                .answer
                .best
                .as_ref()
                .is_some_and(|b| b.level.stock == l.stock);
            rows.push(vec![
                p.place.clone().into(),
                p.part.clone().into(),
                p.unplanned_per_day.into(),
                (l.stock as f64).into(),
                l.fill_rate.into(),
                l.ready_rate.into(),
                l.expected_backorders.into(),
                l.expected_on_hand.into(),
                l.cost_rate.into(),
                if best { "advised" } else { "" }.into(),
            ]);
        }
    }
    table(
        "stock",
        &[
            "place",
            "part",
            "failures per day",
            "stock",
            "fill rate",
            "ready rate",
            "expected backorders",
            "expected on hand",
            "cost per day",
            "advice",
        ],
        rows,
    )
}

fn ahead(results: &Results) -> DataTable {
    let rows = results
        .totals
        .iter()
        .map(|t| {
            vec![
                t.until.into(),
                t.expected.into(),
                (t.lower as f64).into(),
                (t.upper as f64).into(),
            ]
        })
        .collect();
    let until = format!("until ({})", results.unit);
    table(
        "ahead",
        &[&until, "expected first failures", "lower", "upper"],
        rows,
    )
}

fn findings(results: &Results) -> DataTable {
    let rows = results
        .check
        .findings
        .iter()
        .map(|f| {
            vec![
                f.severity.word().into(),
                f.kind.into(),
                f.file.clone().unwrap_or_default().into(),
                f.row.map(|r| r as f64).into(),
                f.column.clone().unwrap_or_default().into(),
                f.message.clone().into(),
                f.mend.clone().into(),
            ]
        })
        .collect();
    table(
        "findings",
        &[
            "severity", "kind", "file", "row", "column", "message", "mend",
        ],
        rows,
    )
}

fn set_aside(results: &Results) -> DataTable {
    let rows = results
        .check
        .set_aside
        .iter()
        .map(|s| {
            vec![
                s.file.clone().into(),
                (s.row as f64).into(),
                s.column.clone().unwrap_or_default().into(),
                s.reason.clone().into(),
            ]
        })
        .collect();
    table("set-aside", &["file", "row", "column", "reason"], rows)
}

fn decisions(results: &Results) -> DataTable {
    let rows = results
        .check
        .decisions
        .iter()
        .map(|d| {
            let listed: Vec<String> = d.rows.iter().map(ToString::to_string).collect();
            vec![
                d.rule.into(),
                d.assumed.clone().into(),
                (d.count as f64).into(),
                listed.join(" ").into(),
                d.file.clone().unwrap_or_default().into(),
            ]
        })
        .collect();
    table(
        "decisions",
        &["rule", "assumed", "rows", "first rows", "file"],
        rows,
    )
}
