//! Reads the date columns of a table: one order of day and month a column, or none at all.

use crate::cells::{Cells, clip};
use crate::columns::Known;
use crate::date_text::{self, Written};
use crate::dates::{Span, from_epoch_days};
use crate::error::{Error, Kind};
use crate::notes::Notes;
use crate::study::{DateOrder, Dates};
use crate::table::Table;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Why a cell gives no date.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct DateFault {
    pub(crate) kind: &'static str,
    pub(crate) message: String,
    pub(crate) mend: &'static str,
}

/// A date column, read: empty, a span, or a fault for each row.
pub(crate) type DateCells = Vec<Result<Option<Span>, DateFault>>;

const ASK_ORDER: &str = "say which under [dates] order = \"day_first\" or \"month_first\" in the \
                         study file, or write the dates as YYYY-MM-DD";
const ASK_EPOCH: &str = "say which under [dates] epoch = 1900 or 1904 in the study file, or save \
                         the column as dates YYYY-MM-DD";

/// What the cells of one column show of the order of day and month.
#[derive(Debug, Default)]
struct Evidence {
    day_first: Option<u64>,
    month_first: Option<u64>,
    open: Option<u64>,
    serials: usize,
    filled: usize,
}

impl Evidence {
    fn order(&self) -> Option<DateOrder> {
        match (self.day_first, self.month_first) {
            (Some(_), None) => Some(DateOrder::DayFirst),
            (None, Some(_)) => Some(DateOrder::MonthFirst),
            _ => None,
        }
    }
}

/// Reads every date column of a table that is there.
pub(crate) fn read(
    table: &Table,
    known: &Known,
    names: &[&'static str],
    dates: &Dates,
    notes: &mut Notes,
) -> BTreeMap<&'static str, DateCells> {
    let mut written = BTreeMap::new();
    for name in names {
        if let Some(theirs) = known.theirs(name) {
            let cells = Cells::of(table, Some(theirs));
            let column: Vec<Option<(String, Written)>> = (0..table.frame.height())
                .map(|at| cells.text(at).map(|t| (t.to_string(), date_text::read(&t))))
                .collect();
            let evidence = weigh(&column, table);
            written.insert(*name, (theirs, column, evidence));
        }
    }
    let pooled = pool(written.values().map(|(_, _, e)| e));
    if dates.order.is_none() {
        two_orders(
            table,
            written.values().map(|(theirs, _, e)| (*theirs, e)),
            notes,
        );
    }
    written
        .into_iter()
        .map(|(name, (theirs, column, evidence))| {
            let order = decide(table, theirs, &evidence, pooled, dates, notes);
            let cells: DateCells = column
                .into_iter()
                .map(|cell| settle(cell, order, dates.epoch))
                .collect();
            judge(table, theirs, &evidence, &cells, dates, notes);
            (name, cells)
        })
        .collect()
}

fn weigh(column: &[Option<(String, Written)>], table: &Table) -> Evidence {
    let mut evidence = Evidence::default();
    for (at, cell) in column.iter().enumerate() {
        let Some((_, written)) = cell else { continue };
        evidence.filled += 1;
        match written {
            Written::Either { a, b, .. } => {
                let row = table.rows.number(at);
                if *a > 12 && *b <= 12 {
                    evidence.day_first.get_or_insert(row);
                } else if *b > 12 && *a <= 12 {
                    evidence.month_first.get_or_insert(row);
                } else if a != b {
                    evidence.open.get_or_insert(row);
                }
            }
            Written::Serial(_) => evidence.serials += 1,
            _ => {}
        }
    }
    evidence
}

/// The order the other columns of the file agree on.
fn pool<'a>(all: impl Iterator<Item = &'a Evidence>) -> Option<DateOrder> {
    let mut whole = Evidence::default();
    for evidence in all {
        whole.day_first = whole.day_first.or(evidence.day_first);
        whole.month_first = whole.month_first.or(evidence.month_first);
    }
    whole.order()
}

/// Stops where one column can only be day first and another only month first: one file, one order.
fn two_orders<'a>(
    table: &Table,
    columns: impl Iterator<Item = (&'a str, &'a Evidence)>,
    notes: &mut Notes,
) {
    let (mut day_first, mut month_first) = (None, None);
    for (column, evidence) in columns {
        match evidence.order() {
            Some(DateOrder::DayFirst) => {
                day_first = day_first.or(evidence.day_first.map(|r| (column, r)))
            }
            Some(DateOrder::MonthFirst) => {
                month_first = month_first.or(evidence.month_first.map(|r| (column, r)));
            }
            None => {}
        }
    }
    if let (Some((day, day_row)), Some((month, month_row))) = (day_first, month_first) {
        notes.refuse(
            Error::new(
                Kind::DateOrder,
                format!(
                    "two date orders in one file: `{day}` can only be day first (row {day_row}), `{month}` only month first (row {month_row})"
                ),
                ASK_ORDER,
            )
            .in_file(&table.path)
            .at_row(day_row.max(month_row))
            .in_column(month),
        );
    }
}

fn decide(
    table: &Table,
    column: &str,
    evidence: &Evidence,
    pooled: Option<DateOrder>,
    dates: &Dates,
    notes: &mut Notes,
) -> Option<DateOrder> {
    if dates.order.is_some() {
        return dates.order;
    }
    if let (Some(day), Some(month)) = (evidence.day_first, evidence.month_first) {
        notes.refuse(
            Error::new(
                Kind::DateOrder,
                format!("two date orders in one column: row {day} can only be day first, row {month} only month first"),
                ASK_ORDER,
            )
            .in_file(&table.path)
            .at_row(day.max(month))
            .in_column(column),
        );
        return None;
    }
    let order = evidence.order().or(pooled);
    if let (Some(row), None) = (evidence.open, order) {
        notes.refuse(
            Error::new(
                Kind::DateOrder,
                "the order of day and month cannot be told from the dates",
                ASK_ORDER,
            )
            .in_file(&table.path)
            .at_row(row)
            .in_column(column),
        );
    } else if let (Some(_), Some(order)) = (evidence.open, order) {
        let word = if order == DateOrder::DayFirst {
            "day"
        } else {
            "month"
        };
        let rule = format!(
            "dates such as 05/06/2024 in `{column}` were read {word} first, as the unambiguous dates of the file are"
        );
        notes.log.whole("date_order", rule, Some(&table.file), 0);
    }
    order
}

fn settle(
    cell: Option<(String, Written)>,
    order: Option<DateOrder>,
    epoch: Option<u16>,
) -> Result<Option<Span>, DateFault> {
    let Some((text, written)) = cell else {
        return Ok(None);
    };
    let bad = |kind, why: &str, mend| {
        Err(DateFault {
            kind,
            message: format!("\"{}\": {why}", clip(&text)),
            mend,
        })
    };
    match written {
        Written::Sure(span) => Ok(Some(span)),
        Written::Not(why) => bad("not_a_date", why, date_text::mend()),
        Written::Either { a, b, year } => {
            let (day, month) = match order {
                Some(DateOrder::DayFirst) => (a, b),
                Some(DateOrder::MonthFirst) => (b, a),
                None if a == b => (a, b),
                None => return bad("date_order", "day and month in an unknown order", ASK_ORDER),
            };
            match Date::new(year, month, day) {
                Ok(date) => Ok(Some(Span::day(date))),
                Err(_) => bad(
                    "not_a_date",
                    "there is no such day in that order of day and month",
                    date_text::mend(),
                ),
            }
        }
        Written::Serial(value) => match epoch {
            Some(epoch) => match serial(value, epoch) {
                Some(date) => Ok(Some(Span::day(date))),
                None => bad("not_a_date", "no day of the calendar", date_text::mend()),
            },
            None => bad(
                "serial_date",
                "a spreadsheet's day number, counted from 1900 or from 1904",
                ASK_EPOCH,
            ),
        },
    }
}

/// The day of a spreadsheet's serial number. Serial 61 of the 1900 epoch is 1 March 1900 (the
/// epoch counts a 29 February 1900 that never was); serial 0 of the 1904 epoch is 1 January 1904.
fn serial(value: f64, epoch: u16) -> Option<Date> {
    let start = if epoch == 1904 {
        Date::constant(1904, 1, 1)
    } else {
        Date::constant(1899, 12, 30)
    };
    let days = crate::dates::days_between(Date::constant(1970, 1, 1), start);
    from_epoch_days(days + value.floor() as i64)
}

/// Refuses a column that is mostly serial numbers, or of which no cell can be read.
fn judge(
    table: &Table,
    column: &str,
    evidence: &Evidence,
    cells: &DateCells,
    dates: &Dates,
    notes: &mut Notes,
) {
    if evidence.serials > 0 {
        if let Some(epoch) = dates.epoch {
            let rule = format!("day numbers in `{column}` were counted from the epoch {epoch}");
            notes.log.whole(
                "serial_dates",
                rule,
                Some(&table.file),
                evidence.serials as u64,
            );
        } else if 2 * evidence.serials > evidence.filled {
            notes.refuse(
                Error::new(
                    Kind::SerialDate,
                    "the dates are a spreadsheet's day numbers; from 1900 and from 1904 they differ by four years",
                    ASK_EPOCH,
                )
                .in_file(&table.path)
                .in_column(column),
            );
        }
        return;
    }
    let faults: Vec<(usize, &DateFault)> = cells
        .iter()
        .enumerate()
        .filter_map(|(at, c)| c.as_ref().err().map(|f| (at, f)))
        .collect();
    if let Some((at, fault)) = faults.first()
        && faults.len() == evidence.filled
        && fault.kind == "not_a_date"
    {
        notes.refuse(
            Error::new(
                Kind::UnreadableColumn,
                format!("no date can be read; the first is {}", fault.message),
                fault.mend,
            )
            .in_file(&table.path)
            .at_row(table.rows.number(*at))
            .in_column(column),
        );
    }
}
