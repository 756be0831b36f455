//! Numbers worked out again from the run's own tables, with the code that does it.

use super::code::{quoted, six, word};
use crate::document::{Cell, DataTable};

/// One recomputation.
pub(super) struct Part {
    pub title: &'static str,
    pub about: String,
    pub source: String,
    pub printed: String,
}

type Build = fn(&DataTable) -> Option<Part>;

/// Every recomputation by the table it rests on.
pub(super) const ALL: [(&str, Build); 4] = [
    ("survival", failed_by),
    ("lives", early_failures),
    ("cost-by-age", least_cost),
    ("stock", stock_cost),
];

impl DataTable {
    fn text_at(&self, row: usize, column: &str) -> &str {
        match self.cell(row, column) {
            Some(Cell::Text(text)) => text,
            _ => "",
        }
    }

    fn number(&self, row: usize, column: &str) -> f64 {
        match self.cell(row, column) {
            Some(Cell::Number(Some(number))) => *number,
            _ => f64::NAN,
        }
    }

    fn cell(&self, row: usize, column: &str) -> Option<&Cell> {
        let at = self.columns.iter().position(|c| c == column)?;
        self.rows.get(row)?.get(at)
    }

    /// Rows that share the values of `columns`, in the order of their first rows.
    fn grouped(&self, columns: &[&str]) -> Vec<Vec<usize>> {
        let mut groups: Vec<Vec<usize>> = vec![];
        let same = |a: usize, b: usize| {
            columns
                .iter()
                .all(|c| self.text_at(a, c) == self.text_at(b, c))
        };
        for row in 0..self.rows.len() {
            let own = groups
                .iter_mut()
                .find(|g| g.first().is_some_and(|a| same(*a, row)));
            match own {
                Some(group) => group.push(row),
                None => groups.push(vec![row]),
            }
        }
        groups
    }

    /// The column whose name begins so.
    fn named(&self, start: &str) -> Option<&str> {
        let mut names = self.columns.iter().map(String::as_str);
        names.find(|c| c.starts_with(start))
    }
}

/// Share failed by an age, from the curve without a family.
fn failed_by(table: &DataTable) -> Option<Part> {
    let time = table.named("time (")?;
    let oldest = (0..table.rows.len())
        .map(|row| table.number(row, time))
        .fold(0.0, f64::max);
    let age = (oldest * 0.3).round();
    let mut printed = String::new();
    for rows in table.grouped(&["group"]) {
        let group = word(table.text_at(*rows.first()?, "group"));
        let last = rows.iter().rev().find(|r| table.number(**r, time) <= age);
        printed.push_str(&match last {
            None => format!("{group}: none by then\n"),
            Some(row) => {
                let failed = |column| 1.0 - table.number(*row, column);
                format!(
                    "{group}: {} ({} to {})\n",
                    six(failed("survival")),
                    six(failed("upper")),
                    six(failed("lower"))
                )
            }
        });
    }
    let source = format!(
        r#"age, time = {age}, {}
for group, rows in survival.groupby("group", sort=False):
    before = rows[rows[time] <= age]
    if before.empty:
        print(f"{{cell(group)}}: none by then")
        continue
    last = before.iloc[-1]
    print(f"{{cell(group)}}: {{cell(1 - last['survival'])}} ({{cell(1 - last['upper'])}} to {{cell(1 - last['lower'])}})")"#,
        quoted(time)
    );
    Some(Part {
        title: "Share failed by an age",
        about: "From the survival curve without a family: failures certain to have come by that age, and the interval of their share.".to_owned(),
        source,
        printed,
    })
}

/// Share whose age is worked out again.
const SHARE: &str = "age by which 0.1 has failed";

/// The age by which one in ten has failed, from the table and again from the Weibull's parameters.
fn early_failures(table: &DataTable) -> Option<Part> {
    let mut printed = String::new();
    for row in 0..table.rows.len() {
        let estimate = table.number(row, "estimate");
        if table.text_at(row, "quantity") != SHARE || estimate.is_nan() {
            continue;
        }
        let (group, family) = (table.text_at(row, "group"), table.text_at(row, "family"));
        printed.push_str(&format!(
            "{}, {family}: {} ({} to {})",
            word(group),
            six(estimate),
            six(table.number(row, "lower")),
            six(table.number(row, "upper"))
        ));
        if family == "weibull" {
            let of = |quantity: &str| {
                let mine = (0..table.rows.len()).find(|r| {
                    table.text_at(*r, "group") == group
                        && table.text_at(*r, "family") == family
                        && table.text_at(*r, "quantity") == quantity
                });
                mine.map_or(f64::NAN, |r| table.number(r, "estimate"))
            };
            let again = of("scale") * (-(0.9_f64.ln())).powf(1.0 / of("shape"));
            printed.push_str(&format!("; from shape and scale {}", six(again)));
        }
        printed.push('\n');
    }
    let source = format!(
        r#"for _, row in lives[(lives["quantity"] == "{SHARE}") & lives["estimate"].notna()].iterrows():
    line = f"{{cell(row['group'])}}, {{row['family']}}: {{cell(row['estimate'])}} ({{cell(row['lower'])}} to {{cell(row['upper'])}})"
    if row["family"] == "weibull":
        own = lives[(lives["group"] == row["group"]) & (lives["family"] == "weibull")]
        own = own.drop_duplicates("quantity").set_index("quantity")["estimate"]
        again = own["scale"] * (-math.log(0.9)) ** (1 / own["shape"])
        line += f"; from shape and scale {{cell(again)}}"
    print(line)"#
    );
    (!printed.is_empty()).then_some(Part {
        title: "Age by which one in ten has failed",
        about: "By group: as estimated with its interval, and for the Weibull again from its parameters: the scale times (−ln 0.9) to the power 1/shape.".to_owned(),
        source,
        printed,
    })
}

/// The least of the cost curve.
fn least_cost(table: &DataTable) -> Option<Part> {
    let (age, cost) = (table.named("replacement age (")?, table.named("cost (")?);
    let mut printed = String::new();
    for rows in table.grouped(&["group"]) {
        let best = least(table, &rows, cost)?;
        printed.push_str(&format!(
            "{}: {} at {}\n",
            word(table.text_at(best, "group")),
            six(table.number(best, cost)),
            six(table.number(best, age))
        ));
    }
    let source = format!(
        r#"age, cost = {}, {}
for group, rows in cost_by_age.groupby("group", sort=False):
    best = rows.loc[rows[cost].idxmin()]
    print(f"{{cell(group)}}: {{cell(best[cost])}} at {{cell(best[age])}}")"#,
        quoted(age),
        quoted(cost)
    );
    Some(Part {
        title: "Least of the cost curve",
        about: "Among the ages of the curve, the one that costs least; the report's age is found between them.".to_owned(),
        source,
        printed,
    })
}

/// The cheapest stock of every place and part.
fn stock_cost(table: &DataTable) -> Option<Part> {
    const COST: &str = "cost per day";
    let mut printed = String::new();
    for rows in table.grouped(&["place", "part"]) {
        let best = least(table, &rows, COST)?;
        printed.push_str(&format!(
            "{}, {}: {} held, {} a year\n",
            word(table.text_at(best, "place")),
            word(table.text_at(best, "part")),
            six(table.number(best, "stock")),
            six(table.number(best, COST) * 365.25)
        ));
    }
    let source = r#"for (place, part), rows in stock.groupby(["place", "part"], sort=False):
    best = rows.loc[rows["cost per day"].idxmin()]
    print(f"{cell(place)}, {cell(part)}: {cell(best['stock'])} held, {cell(best['cost per day'] * 365.25)} a year")"#;
    Some(Part {
        title: "Cheapest stock by place",
        about: "Spares re-ordered one by one as they are taken; lots can be cheaper still, see the report.".to_owned(),
        source: source.to_owned(),
        printed,
    })
}

/// The first row with the least value.
fn least(table: &DataTable, rows: &[usize], column: &str) -> Option<usize> {
    let known = rows.iter().filter(|r| !table.number(**r, column).is_nan());
    let by = |a: &&usize, b: &&usize| {
        table
            .number(**a, column)
            .total_cmp(&table.number(**b, column))
    };
    known.min_by(by).copied()
}
