//! Strict reading of single cells: text, number.

use crate::table::Table;
use polars::prelude::*;
use std::borrow::Cow;

/// One column of a table, read cell by cell.
#[derive(Clone, Copy)]
pub(crate) enum Cells<'a> {
    Text(&'a StringChunked, Decimal),
    Number(&'a Float64Chunked),
    Date(&'a Int32Chunked),
    /// No such column: every cell is empty.
    Absent,
}

/// The decimal mark of a column of text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Decimal {
    Point,
    Comma,
}

/// Why a cell is no number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum NotANumber {
    /// Not the form of a number.
    Words(String),
    /// NaN or infinite.
    NotFinite(String),
    /// Decimal comma where the point is used, or the other way round.
    Mark(String),
}

impl NotANumber {
    pub(crate) fn kind(&self) -> &'static str {
        match self {
            NotANumber::Words(_) | NotANumber::Mark(_) => "not_a_number",
            NotANumber::NotFinite(_) => "not_finite",
        }
    }

    pub(crate) fn message(&self) -> String {
        match self {
            NotANumber::Words(t) => format!("\"{}\" is not a number", clip(t)),
            NotANumber::NotFinite(t) => format!("{} is not a finite number", clip(t)),
            NotANumber::Mark(t) => {
                format!("\"{}\" may be a decimal mark or a thousands mark", clip(t))
            }
        }
    }

    pub(crate) fn mend(&self) -> &'static str {
        match self {
            NotANumber::Words(_) => {
                "write digits with one decimal point and no unit, or leave the cell empty"
            }
            NotANumber::NotFinite(_) => "leave the cell empty when there is no such value",
            NotANumber::Mark(_) => {
                "use one decimal mark in the whole column and no thousands marks"
            }
        }
    }
}

/// The first sixty characters, enough to recognise a cell by.
pub(crate) fn clip(text: &str) -> String {
    text.chars().take(60).collect()
}

impl<'a> Cells<'a> {
    /// The column of this name; absent when there is no name or no such column.
    pub(crate) fn of(table: &'a Table, name: Option<&str>) -> Self {
        let column = name.and_then(|n| table.frame.column(n).ok());
        column.map_or(Cells::Absent, |c| Self::of_column(c, table.comma_is_free))
    }

    pub(crate) fn of_column(column: &'a Column, comma_is_free: bool) -> Self {
        if let Ok(text) = column.str() {
            let comma = comma_is_free && text.iter().flatten().any(|t| t.contains(','));
            let mark = if comma {
                Decimal::Comma
            } else {
                Decimal::Point
            };
            Cells::Text(text, mark)
        } else if let Ok(numbers) = column.f64() {
            Cells::Number(numbers)
        } else if let Ok(dates) = column.date() {
            Cells::Date(dates.physical())
        } else {
            Cells::Absent
        }
    }

    /// The cell as trimmed text; `None` when empty.
    pub(crate) fn text(&self, at: usize) -> Option<Cow<'a, str>> {
        match self {
            Cells::Text(column, _) => column
                .get(at)
                .map(str::trim)
                .filter(|t| !t.is_empty())
                .map(Cow::Borrowed),
            Cells::Number(column) => column.get(at).map(|v| Cow::Owned(v.to_string())),
            Cells::Date(column) => column
                .get(at)
                .and_then(|d| crate::dates::from_epoch_days(i64::from(d)))
                .map(|d| Cow::Owned(d.to_string())),
            Cells::Absent => None,
        }
    }

    /// The cell as a finite number; `None` when empty.
    pub(crate) fn number(&self, at: usize) -> Result<Option<f64>, NotANumber> {
        match self {
            Cells::Text(column, mark) => {
                match column.get(at).map(str::trim).filter(|t| !t.is_empty()) {
                    Some(text) => parse_number(text, *mark).map(Some),
                    None => Ok(None),
                }
            }
            Cells::Number(column) => match column.get(at) {
                Some(v) if !v.is_finite() => Err(NotANumber::NotFinite(v.to_string())),
                other => Ok(other),
            },
            Cells::Date(_) => Err(NotANumber::Words(
                self.text(at).map_or_else(String::new, Cow::into_owned),
            )),
            Cells::Absent => Ok(None),
        }
    }
}

/// Reads a number strictly.
pub(crate) fn parse_number(text: &str, mark: Decimal) -> Result<f64, NotANumber> {
    let parsed = if mark == Decimal::Comma {
        if text.contains('.') {
            return Err(NotANumber::Mark(text.to_owned()));
        }
        text.replacen(',', ".", 1).parse::<f64>()
    } else {
        text.parse::<f64>()
    };
    match parsed {
        Ok(v) if v.is_finite() => Ok(v),
        Ok(_) => Err(NotANumber::NotFinite(text.to_owned())),
        Err(_) => Err(NotANumber::Words(text.to_owned())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_strictly() {
        assert_eq!(parse_number("12.5", Decimal::Point), Ok(12.5));
        assert_eq!(parse_number("12,5", Decimal::Comma), Ok(12.5));
        assert_eq!(parse_number("1e3", Decimal::Point), Ok(1000.0));
        for bad in ["12,5", "12 d", "1.2.3", "0x10", "--1"] {
            assert!(
                matches!(parse_number(bad, Decimal::Point), Err(NotANumber::Words(_))),
                "{bad}"
            );
        }
        for bad in ["nan", "inf", "-Infinity", "1e999"] {
            assert!(
                matches!(
                    parse_number(bad, Decimal::Point),
                    Err(NotANumber::NotFinite(_))
                ),
                "{bad}"
            );
        }
        assert!(matches!(
            parse_number("1.234", Decimal::Comma),
            Err(NotANumber::Mark(_))
        ));
        assert!(parse_number("1,234,5", Decimal::Comma).is_err());
    }
}
