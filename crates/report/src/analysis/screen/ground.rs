//! What the screen holds constant from the start: groups, site, temperature and duty, as far as the records tell
//! them apart.

use super::frame::{Column, Frame};
use crate::column::spoken;
use crate::wire::compare::term::{ACTIVATION, BOLTZMANN_EV, ZERO_CELSIUS};
use nalgebra::DVector;
use sealspan_life::regression::{Design, Line, Penalty, Row};
use std::sync::Arc;

/// A column of the design over the gatherings.
#[derive(Clone)]
pub struct Effect {
    /// Its name.
    pub name: String,
    /// The column it belongs to.
    pub of: String,
    /// Whether it is a level of a factor.
    pub level: bool,
    /// Its value in each gathering.
    pub values: Vec<f64>,
}

/// What is held constant.
pub struct Ground {
    /// The effects; the intercept comes before them.
    pub effects: Vec<Effect>,
}

/// An effect that the ones before tell to this share of its length is left out.
const TOLD: f64 = 1e-6;
/// Effects of factors are held near 0 this loosely (a factor of 400 either way), so that a level without failures
/// is no obstacle.
const LOOSE: f64 = 3.0;

impl Ground {
    /// Groups, then site, temperature and duty.
    pub(crate) fn new(frame: &Frame) -> Self {
        let site = frame.columns.iter().find(|c| c.ours == "site");
        Self::of(frame, site)
    }

    /// The same without the site, so that its temperature can speak.
    pub(crate) fn without_site(frame: &Frame) -> Self {
        Self::of(frame, None)
    }

    fn of(frame: &Frame, site: Option<&Column>) -> Self {
        let mut all: Vec<Effect> = frame.by.iter().flat_map(levels).collect();
        all.extend(site.into_iter().flat_map(levels));
        all.extend(frame.columns.iter().filter_map(heat));
        all.extend(frame.duty.as_ref().map(|duty| Effect {
            name: "ln duty".to_owned(),
            of: format!("{} a day of the asset", frame.duty_name),
            level: false,
            values: duty.iter().map(|d| d.ln()).collect(),
        }));
        Self {
            effects: independent(all, frame.gatherings()),
        }
    }

    /// The same with a level of its own for each value of a column that was a number.
    pub(crate) fn by_level(&self, column: &Column) -> Self {
        let others = self.effects.iter().filter(|e| e.of != column.name);
        let all: Vec<Effect> = levels(column).into_iter().chain(others.cloned()).collect();
        Self {
            effects: independent(all, column.codes.len()),
        }
    }

    /// Whether a column is held constant.
    pub(crate) fn holds(&self, column: &str) -> bool {
        self.effects.iter().any(|e| e.of == column)
    }

    /// The columns held constant, in words.
    pub(crate) fn words(&self) -> Vec<String> {
        let mut out: Vec<String> = vec![];
        for effect in &self.effects {
            let words = if effect.name == ACTIVATION {
                "temperature".to_owned()
            } else {
                spoken(&effect.of)
            };
            if !out.contains(&words) {
                out.push(words);
            }
        }
        out
    }

    /// The design over the gatherings with more columns beside.
    pub(crate) fn design(&self, frame: &Frame, more: &[(String, &Row)]) -> Design {
        let mut names = vec!["intercept".to_owned()];
        names.extend(self.effects.iter().map(|e| e.name.clone()));
        let first = names.len();
        names.extend(more.iter().map(|(name, _)| name.clone()));
        let mut rows: Vec<Row> = (0..frame.gatherings()).map(|at| self.row(at)).collect();
        for (column, (_, entries)) in (first..).zip(more) {
            for (at, value) in *entries {
                if let Some(row) = rows.get_mut(*at) {
                    row.push((column, *value));
                }
            }
        }
        let held = (1..).zip(&self.effects).filter(|(_, e)| e.level);
        let penalties = held.map(|(at, _)| at).chain(first..names.len());
        Design {
            penalties: penalties
                .map(|at| Penalty {
                    at,
                    mean: 0.0,
                    sd: LOOSE,
                })
                .collect(),
            names,
            lines: rows
                .into_iter()
                .zip(&frame.terms)
                .map(|(row, terms)| Line {
                    row,
                    offset: 0.0,
                    stratum: 0,
                    terms: Arc::clone(terms),
                })
                .collect(),
            strata: 1,
        }
    }

    /// The design row of a gathering.
    pub(crate) fn row(&self, at: usize) -> Row {
        let mut row = vec![(0, 1.0)];
        for (column, effect) in (1..).zip(&self.effects) {
            let value = effect.values.get(at).copied().unwrap_or(0.0);
            if value != 0.0 {
                row.push((column, value));
            }
        }
        row
    }
}

/// One effect for each level but the first.
fn levels(column: &Column) -> Vec<Effect> {
    let others = column.levels.iter().enumerate().skip(1);
    others
        .map(|(at, level)| Effect {
            name: format!("{}={level}", column.name),
            of: column.name.clone(),
            level: true,
            values: column
                .codes
                .iter()
                .map(|c| f64::from(u8::from(*c == at)))
                .collect(),
        })
        .collect()
}

/// 1/(kT) of a temperature column in °C that is filled throughout.
fn heat(column: &Column) -> Option<Effect> {
    if !column.ours.starts_with("temperature") {
        return None;
    }
    let numbers = column.numbers()?;
    if numbers.len() < 2 || numbers.iter().any(|c| *c <= -ZERO_CELSIUS) {
        return None;
    }
    let value = |code: &usize| {
        let celsius = numbers.get(*code).copied().unwrap_or(0.0);
        1.0 / (BOLTZMANN_EV * (celsius + ZERO_CELSIUS))
    };
    Some(Effect {
        name: ACTIVATION.to_owned(),
        of: column.name.clone(),
        level: false,
        values: column.codes.iter().map(value).collect(),
    })
}

/// The effects that those before them do not tell.
fn independent(all: Vec<Effect>, rows: usize) -> Vec<Effect> {
    let mut basis = vec![DVector::from_element(rows, 1.0).normalize()];
    let mut kept = vec![];
    for effect in all {
        let column = DVector::from_column_slice(&effect.values);
        let mut rest = column.clone();
        // Twice, since a reciprocal temperature is nearly constant.
        for _ in 0..2 {
            for direction in &basis {
                rest -= direction * direction.dot(&rest);
            }
        }
        if rest.norm() > TOLD * column.norm() {
            basis.push(rest.normalize());
            kept.push(effect);
        }
    }
    kept
}
