//! An answer as CSV: one row an item of its main list, fields within fields as dotted columns, full precision.

mod node;

use node::Node;
use sealspan_report::render::csv::safe;
use serde::Serialize;
use std::io;

/// The main list of each document by its schema; a list within each item of a list is named after a dot.
/// Documents that are not named here, or whose list is empty, are one row.
const LISTS: [(&str, &str); 20] = [
    ("sealspan.ageing.v1", "groups"),
    ("sealspan.batches.v1", "columns.levels"),
    ("sealspan.care.v1", "groups"),
    ("sealspan.check.v1", "findings"),
    ("sealspan.compare.v1", "life_ratios"),
    ("sealspan.condition.v1", "groups.running"),
    ("sealspan.defects.v1", "groups"),
    ("sealspan.demand.v1", "places.months"),
    ("sealspan.depot.v1", "splits"),
    ("sealspan.due.v1", "seals"),
    ("sealspan.fit.v1", "groups.fits"),
    ("sealspan.forecast.v1", "by_period"),
    ("sealspan.intervals.v1", "groups.clocks"),
    ("sealspan.last_buy.v1", "quantities"),
    ("sealspan.manual.v1", "files"),
    ("sealspan.materials.v1", "materials"),
    ("sealspan.money.v1", "by_month"),
    ("sealspan.positions.v1", "positions"),
    ("sealspan.report.v1", "files"),
    ("sealspan.stock.v1", "places"),
];
/// What the numbers of every row rest on, repeated in each.
const SHARED: [&str; 6] = [
    "measure",
    "unit",
    "currency",
    "limit",
    "confidence",
    "family",
];
/// Lists of at most so many entries become numbered columns; longer ones are JSON in one cell.
const SPREAD: usize = 20;

/// A row: columns and values in the document's order.
type Row = Vec<(String, String)>;

/// Writes a document as CSV: UTF-8, commas, line feeds, no text that a spreadsheet takes for a formula.
pub fn csv<D: Serialize>(document: &D, out: &mut dyn io::Write) -> io::Result<()> {
    let json = serde_json::to_vec(document).map_err(io::Error::other)?;
    let node: Node = serde_json::from_slice(&json).map_err(io::Error::other)?;
    let rows = rows(&node);
    let mut columns: Vec<&str> = vec![];
    for (column, _) in rows.iter().flatten() {
        if !columns.contains(&column.as_str()) {
            columns.push(column);
        }
    }
    let mut writer = csv::Writer::from_writer(out);
    writer.write_record(columns.iter().map(|c| safe(c)))?;
    for row in &rows {
        let cell = |c: &&str| {
            let found = row.iter().find(|(name, _)| name == c);
            found.map_or("", |(_, value)| value.as_str())
        };
        writer.write_record(columns.iter().map(cell))?;
    }
    writer.flush()
}

fn rows(document: &Node) -> Vec<Row> {
    let schema = match document.get("schema") {
        Some(Node::Text(schema)) => schema.as_str(),
        _ => "",
    };
    let path = LISTS.iter().find(|(name, _)| *name == schema);
    let path: Vec<&str> = path.map_or_else(Vec::new, |(_, path)| path.split('.').collect());
    let mut shared = Row::new();
    for name in SHARED {
        if let Some(value) = document.get(name) {
            flatten(name, value, &mut shared);
        }
    }
    let mut out = vec![];
    if let Some((first, rest)) = path.split_first() {
        items(document, (first, rest), &shared, &mut out);
    }
    if out.is_empty() {
        let mut row = Row::new();
        fields(document, None, true, &mut row);
        out.push(row);
    }
    out
}

/// The items of a list, each with the fields of what it stands in.
fn items(owner: &Node, (list, deeper): (&str, &[&str]), before: &Row, out: &mut Vec<Row>) {
    let Some(Node::List(list_items)) = owner.get(list) else {
        return;
    };
    for item in list_items {
        let mut row = before.clone();
        let inner = deeper.first().and_then(|name| item.get(name));
        let has_inner = matches!(inner, Some(Node::List(l)) if !l.is_empty());
        match (has_inner, deeper.split_first()) {
            (true, Some((next, rest))) => {
                fields(item, Some(next), false, &mut row);
                items(item, (next, rest), &row, out);
            }
            _ => {
                match item {
                    Node::Map(_) => fields(item, None, true, &mut row),
                    plain => flatten(list, plain, &mut row),
                }
                out.push(row);
            }
        }
    }
}

/// The fields of a node but one; lists only where they are wanted.
fn fields(node: &Node, but: Option<&str>, lists: bool, row: &mut Row) {
    let Node::Map(entries) = node else { return };
    for (name, value) in entries {
        if Some(name.as_str()) == but || name == "schema" {
            continue;
        }
        match lists {
            true => flatten(name, value, row),
            false => flatten(name, &value.without_lists(), row),
        }
    }
}

/// A value under its dotted name.
fn flatten(name: &str, node: &Node, row: &mut Row) {
    match node {
        Node::Map(entries) => {
            for (inner, value) in entries {
                flatten(&format!("{name}.{inner}"), value, row);
            }
        }
        Node::List(items) if items.len() <= SPREAD => {
            for (i, item) in items.iter().enumerate() {
                flatten(&format!("{name}.{}", i + 1), item, row);
            }
        }
        Node::List(_) => row.push((name.to_owned(), node.json())),
        Node::Text(text) => row.push((name.to_owned(), safe(text))),
        Node::Null => row.push((name.to_owned(), String::new())),
        // A zero with a sign, as a small difference rounds to, is a zero.
        Node::Plain(text) if text == "-0.0" => row.push((name.to_owned(), "0.0".to_owned())),
        Node::Plain(text) => row.push((name.to_owned(), text.clone())),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::csv;
    use serde_json::json;

    fn written(document: &serde_json::Value) -> String {
        let mut out = vec![];
        csv(document, &mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn one_row_an_item_with_what_it_stands_in() {
        let fits =
            json!([{ "family": "weibull", "shape": 0.1 }, { "family": "=x", "shape": null }]);
        let document = json!({
            "schema": "sealspan.fit.v1", "unit": "days",
            "groups": [
                { "group": { "material": "a,b" }, "points": [1, 2], "fits": fits },
                { "group": { "material": "c" }, "fits": [] },
            ],
        });
        let want = "unit,group.material,family,shape\ndays,\"a,b\",weibull,0.1\ndays,\"a,b\",'=x,\ndays,c,,\n";
        assert_eq!(written(&document), want);
    }

    #[test]
    fn a_zero_has_no_sign() {
        let document = json!({ "schema": "sealspan.trial.v1", "saved": -0.0, "spent": -1.5 });
        assert_eq!(written(&document), "saved,spent\n0.0,-1.5\n");
    }

    #[test]
    fn a_document_without_a_list_is_one_row() {
        let document = json!({ "schema": "sealspan.trial.v1", "seals": 3, "notes": ["a", "b"] });
        assert_eq!(written(&document), "notes.1,notes.2,seals\na,b,3\n");
    }
}
