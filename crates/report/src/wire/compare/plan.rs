//! The design: terms, interactions, offset and strata, and the row they make of a key.

use super::options::CompareOptions;
use super::term::{self, ACTIVATION, BOLTZMANN_EV, Kind, Lookup, Term, kelvin, number};
use super::unit::crossed;
use super::{Keyed, levels, value};
use sealspan_life::regression::{Penalty, Place};
use std::collections::BTreeMap;

/// Two terms whose effects hang on each other: the coefficient of each pair of their columns.
#[derive(Debug, Clone, PartialEq)]
struct Crossing {
    a: usize,
    b: usize,
    pairs: BTreeMap<(usize, usize), usize>,
}

/// A column of the design that is `scale` times the product of two others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Product {
    /// One of the two.
    pub a: usize,
    /// The other.
    pub b: usize,
    /// Their product.
    pub product: usize,
    /// 1, or Boltzmann's constant where 1/T is taken from 1/(kT).
    pub scale: f64,
}

/// How a key becomes a design row.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Names of the coefficients, the intercept first.
    pub names: Vec<String>,
    /// Their units.
    pub units: Vec<String>,
    /// The terms.
    pub terms: Vec<Term>,
    /// Levels with a shape of their own, with their column.
    pub strata: Option<(String, Vec<String>)>,
    crossings: Vec<Crossing>,
    offset: Option<String>,
    eyring: Option<String>,
    /// What was left out on the way, in words.
    pub remarks: Vec<String>,
}

impl Plan {
    /// Lays the design out.
    ///
    /// # Errors
    /// In words, naming the column that cannot stand in the design as asked.
    pub(crate) fn new(
        unit: &str,
        groups: &[Keyed],
        options: &CompareOptions,
    ) -> Result<Self, String> {
        let terms = term::terms(groups, options)?;
        let mut plan = Self {
            names: vec!["intercept".to_owned()],
            units: vec![format!("ln {unit}")],
            strata: None,
            crossings: vec![],
            offset: options.more.offset.clone(),
            eyring: options.more.eyring.as_ref().map(|(t, _)| t.clone()),
            remarks: vec![],
            terms,
        };
        for term in &plan.terms {
            for (name, unit) in &term.coefficients {
                plan.names.push(name.clone());
                plan.units.push(unit.clone());
            }
            if let term::Kind::Factor(levels) = &term.kind
                && levels.len() < 2
            {
                plan.remarks.push(format!(
                    "`{}` has one level only ({}): it tells nothing apart and has no effect here",
                    term.column,
                    levels.join("")
                ));
            }
        }
        if let Some(column) = &options.more.shape_by {
            let levels = levels(groups, column, &options.base)?;
            plan.strata = Some((column.clone(), levels));
        }
        for (a, b) in &options.more.interactions {
            plan.cross(a, b, groups)?;
        }
        Ok(plan)
    }

    /// Adds the products of the columns of two terms, those that some seal has.
    fn cross(&mut self, a: &str, b: &str, groups: &[Keyed]) -> Result<(), String> {
        let find = |column: &str| {
            let at = self.terms.iter().position(|t| t.column == column);
            at.ok_or_else(|| {
                format!(
                    "--interaction {a}:{b}: `{column}` has no effect of its own here; name it under --by, --given, --number or as a stress too"
                )
            })
        };
        let (a, b) = (find(a)?, find(b)?);
        let seen = groups
            .iter()
            .map(|(key, _)| {
                let lookup = |column: &str| Some(value(key, column));
                Ok((self.of(a, &lookup)?, self.of(b, &lookup)?))
            })
            .collect::<Result<Vec<_>, String>>()?;
        let columns = |at: usize| {
            let term = self.terms.get(at);
            let first = term.map_or(0, |t| t.first);
            let names = term.map(|t| t.coefficients.as_slice()).unwrap_or_default();
            names
                .iter()
                .enumerate()
                .map(move |(k, n)| (first + k, n.clone()))
        };
        let mut pairs = BTreeMap::new();
        let (mut names, mut empty) = (vec![], vec![]);
        for (i, (name_a, unit_a)) in columns(a) {
            for (j, (name_b, unit_b)) in columns(b) {
                let has = |row: &[(usize, f64)], at: usize| {
                    row.iter().any(|(c, v)| *c == at && *v != 0.0)
                };
                let name = format!("{name_a}:{name_b}");
                if seen.iter().any(|(x, y)| has(x, i) && has(y, j)) {
                    pairs.insert((i, j), self.names.len() + names.len());
                    names.push((name, crossed(&unit_a, &unit_b)));
                } else {
                    empty.push(name);
                }
            }
        }
        if !empty.is_empty() {
            self.remarks.push(format!(
                "no seal has {}: that part of the interaction cannot be estimated and is left out",
                empty.join(", nor ")
            ));
        }
        for (name, unit) in names {
            self.names.push(name);
            self.units.push(unit);
        }
        self.crossings.push(Crossing { a, b, pairs });
        Ok(())
    }

    /// A coefficient's name as the user knows it: the column of a stress, which the coefficient may not be
    /// called after.
    pub(crate) fn said(&self, name: &str) -> String {
        let parts = name.split(':').map(|part| {
            let own = self.terms.iter().filter(|t| t.is_number()).find(|t| {
                let mut names = t.coefficients.iter();
                names.any(|(n, _)| n == part)
            });
            own.map_or(part, |t| t.column.as_str())
        });
        parts.collect::<Vec<_>>().join(":")
    }

    /// A sentence that names coefficients in backquotes, with the user's columns in their place.
    pub(crate) fn in_words(&self, sentence: &str) -> String {
        self.names.iter().fold(sentence.to_owned(), |text, name| {
            text.replace(&format!("`{name}`"), &format!("`{}`", self.said(name)))
        })
    }

    fn of(&self, term: usize, find: Lookup<'_>) -> Result<Vec<(usize, f64)>, String> {
        self.terms.get(term).map_or(Ok(vec![]), |t| t.entries(find))
    }

    /// Design row, offset and stratum of a key.
    ///
    /// # Errors
    /// In words, where a column has no value, or one that the design does not know.
    pub(crate) fn place(&self, find: Lookup<'_>) -> Result<Place, String> {
        let mut row = vec![(0, 1.0)];
        for term in &self.terms {
            row.extend(term.entries(find)?);
        }
        for crossing in &self.crossings {
            for (i, x) in self.of(crossing.a, find)? {
                for (j, y) in self.of(crossing.b, find)? {
                    if let Some(at) = crossing.pairs.get(&(i, j)) {
                        row.push((*at, x * y));
                    }
                }
            }
        }
        row.retain(|(_, value)| *value != 0.0);
        row.sort_by_key(|(at, _)| *at);
        let mut offset = match &self.offset {
            Some(column) => number(column, find)?,
            None => 0.0,
        };
        if let Some(column) = &self.eyring {
            offset -= kelvin(column, find)?.ln();
        }
        let stratum = match &self.strata {
            Some((column, levels)) => {
                let own =
                    find(column).ok_or_else(|| format!("no level is given for `{column}`"))?;
                levels.iter().position(|l| l == own).ok_or_else(|| {
                    format!(
                        "`{column}` has no level `{own}`; there are {}",
                        levels.join(", ")
                    )
                })?
            }
            None => 0,
        };
        Ok(Place {
            row,
            offset,
            stratum,
        })
    }

    /// Every effect of a factor, alone or crossed with another, held near 0.
    pub(crate) fn ridge(&self, sd: f64) -> Vec<Penalty> {
        let of_factor = |unit: &String| unit == "ln life ratio";
        let held = self.units.iter().enumerate().filter(|(_, u)| of_factor(u));
        held.map(|(at, _)| Penalty { at, mean: 0.0, sd }).collect()
    }

    /// The columns that are products of two others.
    pub(crate) fn products(&self) -> Vec<Product> {
        let crossed = self.crossings.iter().flat_map(|c| &c.pairs);
        let mut out: Vec<Product> = crossed
            .map(|((a, b), product)| Product {
                a: *a,
                b: *b,
                product: *product,
                scale: 1.0,
            })
            .collect();
        for term in &self.terms {
            let own = |t: &&Term| t.column == term.column && t.kind == Kind::Number;
            if let (Kind::PerKelvin(_), Some(stress), Some(heat)) =
                (&term.kind, self.terms.iter().find(own), self.at(ACTIVATION))
            {
                out.push(Product {
                    a: stress.first,
                    b: heat,
                    product: term.first,
                    scale: BOLTZMANN_EV,
                });
            }
        }
        out
    }

    /// The term that a coefficient belongs to; `None` for the intercept and for products of terms.
    pub(crate) fn term_of(&self, at: usize) -> Option<&Term> {
        let own = |t: &&Term| (t.first..t.first + t.coefficients.len()).contains(&at);
        self.terms.iter().find(own)
    }

    /// Position of the coefficient of this name.
    pub(crate) fn at(&self, name: &str) -> Option<usize> {
        self.names.iter().position(|n| n == name)
    }

    /// Number of sets of shape parameters.
    pub(crate) fn shapes(&self) -> usize {
        self.strata
            .as_ref()
            .map_or(1, |(_, levels)| levels.len().max(1))
    }
}
