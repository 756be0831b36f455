//! What one cell of text says about a date, before the column's order of day and month is known.

use crate::dates::Span;
use jiff::civil::Date;

/// What a cell says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Written {
    /// One reading only.
    Sure(Span),
    /// `a/b/year`: day and month in either order.
    Either { a: i8, b: i8, year: i16 },
    /// A bare number such as spreadsheets keep dates in.
    Serial(f64),
    /// No date.
    Not(&'static str),
}

const MONTHS: [&str; 12] = [
    "jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec",
];

const FORMS: &str = "write YYYY-MM-DD, or YYYY-MM, YYYY-Q2 or YYYY when only that is known";

/// The mend for a cell that is no date.
pub(crate) fn mend() -> &'static str {
    FORMS
}

fn calendar(year: i16, month: i8, day: i8) -> Written {
    match Date::new(year, month, day) {
        Ok(date) => Written::Sure(Span::day(date)),
        Err(_) => Written::Not("there is no such day in the calendar"),
    }
}

fn coarse(span: Option<Span>) -> Written {
    span.map_or(
        Written::Not("there is no such month or quarter"),
        Written::Sure,
    )
}

/// Year of four digits, 1900 to 2199.
fn year(text: &str) -> Option<i16> {
    if text.len() != 4 || !text.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    text.parse().ok().filter(|y| (1900..2200).contains(y))
}

fn small(text: &str) -> Option<i8> {
    if text.is_empty() || text.len() > 2 || !text.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    text.parse().ok()
}

fn month_name(text: &str) -> Option<i8> {
    let text = text.to_lowercase();
    let at = MONTHS.iter().position(|m| text.starts_with(m))?;
    const LONG: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let whole = LONG.get(at)?;
    let known = whole.starts_with(&text) || text == "sept";
    if known {
        i8::try_from(at + 1).ok()
    } else {
        None
    }
}

fn quarter(text: &str) -> Option<i8> {
    small(text.strip_prefix(['q', 'Q'])?).filter(|q| (1..=4).contains(q))
}

/// The date without a time of day behind it ("2024-05-06T10:00", "2024-05-06 10:00:00").
fn without_time(text: &str) -> &str {
    let Some(at) = text.find(['T', ' ']) else {
        return text;
    };
    let (date, rest) = text.split_at(at);
    let rest = rest.get(1..).unwrap_or("").trim_start();
    let clock = rest.contains(':') && rest.starts_with(|c: char| c.is_ascii_digit());
    if clock { date } else { text }
}

/// Reads one cell.
pub(crate) fn read(text: &str) -> Written {
    let text = without_time(text.trim());
    if let Some(written) = number_alone(text) {
        return written;
    }
    let parts: Vec<&str> = text
        .split(['-', '/', '.', ' ', ','])
        .filter(|p| !p.is_empty())
        .collect();
    match parts.as_slice() {
        [a, b] => two_parts(a, b),
        [a, b, c] => three_parts(a, b, c, text.contains('.')),
        _ => Written::Not("it is not a date"),
    }
}

fn number_alone(text: &str) -> Option<Written> {
    if let Some(y) = year(text) {
        return Some(coarse(Span::year(y)));
    }
    if text.len() == 8 && text.bytes().all(|b| b.is_ascii_digit()) {
        let (y, rest) = text.split_at(4);
        let (m, d) = rest.split_at(2);
        if let (Some(y), Some(m), Some(d)) = (year(y), small(m), small(d)) {
            return Some(calendar(y, m, d));
        }
    }
    let dots = text.bytes().filter(|b| *b == b'.').count();
    if dots <= 1 && text.bytes().all(|b| b.is_ascii_digit() || b == b'.') {
        let value: f64 = text.parse().ok()?;
        return Some(if (10_000.0..120_000.0).contains(&value) {
            Written::Serial(value)
        } else {
            Written::Not("a number alone is not a date")
        });
    }
    // "2024Q2"
    let (y, q) = text.split_at_checked(4)?;
    Some(coarse(Span::quarter(year(y)?, quarter(q)?)))
}

fn two_parts(a: &str, b: &str) -> Written {
    if let (Some(y), Some(m)) = (year(a), small(b)) {
        return coarse(Span::month(y, m));
    }
    if let (Some(m), Some(y)) = (small(a), year(b)) {
        return coarse(Span::month(y, m));
    }
    for (word, number) in [(a, b), (b, a)] {
        let Some(y) = year(number) else { continue };
        if let Some(q) = quarter(word) {
            return coarse(Span::quarter(y, q));
        }
        if let Some(m) = month_name(word) {
            return coarse(Span::month(y, m));
        }
    }
    Written::Not("it is not a date")
}

fn three_parts(a: &str, b: &str, c: &str, dotted: bool) -> Written {
    if let (Some(y), Some(m), Some(d)) = (year(a), small(b), small(c)) {
        return calendar(y, m, d);
    }
    let Some(y) = year(c) else {
        return if small(a).is_some() && small(c).is_some() {
            Written::Not("the year must have four digits")
        } else {
            Written::Not("it is not a date")
        };
    };
    if let (Some(d), Some(m)) = (small(a), month_name(b)) {
        return calendar(y, m, d);
    }
    if let (Some(m), Some(d)) = (month_name(a), small(b)) {
        return calendar(y, m, d);
    }
    match (small(a), small(b)) {
        (Some(a), Some(b)) if dotted => calendar(y, b, a),
        (Some(a), Some(b)) => Written::Either { a, b, year: y },
        _ => Written::Not("it is not a date"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dates::Precision;

    #[test]
    fn every_precision_and_dress_is_read() {
        let cases = [
            ("2024-05-06", "2024-05-06"),
            ("2024-05-06T10:15:00", "2024-05-06"),
            ("2024/05/06 10:15", "2024-05-06"),
            ("20240506", "2024-05-06"),
            ("06.05.2024", "2024-05-06"),
            ("6 May 2024", "2024-05-06"),
            ("May 6, 2024", "2024-05-06"),
            ("06-Sept-2024", "2024-09-06"),
            ("2024-05", "2024-05"),
            ("05/2024", "2024-05"),
            ("May 2024", "2024-05"),
            ("2024-Q2", "2024-Q2"),
            ("Q2 2024", "2024-Q2"),
            ("2024Q2", "2024-Q2"),
            ("2024", "2024"),
        ];
        for (text, want) in cases {
            match read(text) {
                Written::Sure(span) => assert_eq!(span.to_string(), want, "{text}"),
                other => assert_eq!(format!("{other:?}"), want, "{text}"),
            }
        }
    }

    #[test]
    fn doubtful_and_wrong_cells_say_so() {
        assert_eq!(
            read("05/06/2024"),
            Written::Either {
                a: 5,
                b: 6,
                year: 2024
            }
        );
        assert_eq!(read("45432"), Written::Serial(45432.0));
        for text in [
            "2024-02-30",
            "31.04.2024",
            "05/06/24",
            "soon",
            "2024-13",
            "12",
            "maybe 2024",
            "2024-Q5",
        ] {
            assert!(
                matches!(read(text), Written::Not(_)),
                "{text}: {:?}",
                read(text)
            );
        }
    }

    #[test]
    fn spans_cover_their_days() {
        let Written::Sure(span) = read("2024-Q1") else {
            unreachable!()
        };
        assert_eq!(span.precision(), Precision::Quarter);
        assert_eq!(span.first().to_string(), "2024-01-01");
        assert_eq!(span.last().to_string(), "2024-03-31");
    }
}
