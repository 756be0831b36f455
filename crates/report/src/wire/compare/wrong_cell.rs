//! A cell that a stress or a number cannot use: which one, and the mend.

use super::options::CompareOptions;
use super::term::{Kind, Lookup, kelvin, number};
use super::{Keyed, value};
use sealspan_records::NONE;

/// A cell that stands in the way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrongCell {
    /// Its column.
    pub column: String,
    /// What it holds.
    pub text: String,
    /// What to do about it.
    pub mend: &'static str,
}

/// The columns that must hold numbers, with how they act.
fn numbers(options: &CompareOptions) -> Vec<(&String, Kind)> {
    let more = &options.more;
    let mut out: Vec<(&String, Kind)> = vec![];
    let plain = options.number.iter().chain(&more.offset);
    out.extend(plain.map(|c| (c, Kind::Number)));
    out.extend(options.temperature().map(|(c, _)| (c, Kind::Reciprocal)));
    let second = more.eyring.iter().filter_map(|(_, s)| s.as_ref());
    out.extend(second.map(|c| (c, Kind::Number)));
    out.extend(options.inverse_power.iter().map(|c| (c, Kind::Power)));
    let kind = |power: bool| if power { Kind::Power } else { Kind::Number };
    out.extend(
        more.concentration
            .iter()
            .map(|c| (&c.column, kind(c.power))),
    );
    out
}

/// The first cell that its column cannot use; empty cells set their seals aside and are none.
#[must_use]
pub fn wrong_cell(groups: &[Keyed], options: &CompareOptions) -> Option<WrongCell> {
    let columns = numbers(options);
    groups.iter().find_map(|(key, _)| {
        let find: Lookup<'_> = &|column| Some(value(key, column));
        columns.iter().find_map(|(column, kind)| {
            let text = value(key, column);
            if text.trim().is_empty() || text == NONE {
                return None;
            }
            let mend = match (number(column, find), kind) {
                (Err(_), _) => {
                    "write a number there without its unit, clear the cell to set its seals aside, or let the column act as a factor (--given)"
                }
                (_, Kind::Reciprocal) if kelvin(column, find).is_err() => {
                    "write the temperature in °C, or clear the cell to set its seals aside"
                }
                (Ok(x), Kind::Power) if x <= 0.0 => {
                    "correct the cell, clear it to set its seals aside, or let the column act as a number (--number, or :linear)"
                }
                _ => return None,
            };
            Some(WrongCell {
                column: (*column).clone(),
                text: text.to_owned(),
                mend,
            })
        })
    })
}
