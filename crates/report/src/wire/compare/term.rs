//! Terms of the design: what a column adds to ln life.

use super::options::CompareOptions;
use super::unit::unit_of;
use super::{Keyed, levels};

/// Boltzmann's constant, eV/K (2019 SI, exact to the digits given).
pub const BOLTZMANN_EV: f64 = 8.617_333_262e-5;
/// kJ/mol in an eV (2019 SI: elementary charge times Avogadro's number).
pub const KJ_PER_MOL: f64 = 96.485_332_123_310_02;
/// 0 °C in kelvin.
pub const ZERO_CELSIUS: f64 = 273.15;
/// Name of the coefficient of 1/(kT).
pub const ACTIVATION: &str = "activation_energy_ev";

/// How a column acts.
#[derive(Debug, Clone, PartialEq)]
pub enum Kind {
    /// One coefficient for each level but the first.
    Factor(Vec<String>),
    /// In proportion to the number.
    Number,
    /// 1/(kT), from °C.
    Reciprocal,
    /// −ln of the number: life falls as a power of it.
    Power,
    /// The number over the kelvin of another column in °C.
    PerKelvin(String),
}

/// A column's place in the design.
#[derive(Debug, Clone, PartialEq)]
pub struct Term {
    /// The column.
    pub column: String,
    /// How it acts.
    pub kind: Kind,
    /// Number of its first coefficient; that of the intercept is 0.
    pub first: usize,
    /// Names and units of its coefficients.
    pub coefficients: Vec<(String, String)>,
    /// Unit of the column itself.
    pub own_unit: String,
}

/// The value of a column, as written.
pub type Lookup<'a> = &'a dyn Fn(&str) -> Option<&'a str>;

/// A finite number in a column.
///
/// # Errors
/// In words, where no value is given or it is no finite number.
pub(crate) fn number(column: &str, find: Lookup<'_>) -> Result<f64, String> {
    let text = find(column).ok_or_else(|| format!("no value is given for `{column}`"))?;
    text.trim().parse::<f64>().ok().filter(|x| x.is_finite()).ok_or_else(|| {
        format!("column `{column}` holds `{text}` where a number is needed; name it under --by or --given instead, or correct the cell")
    })
}

/// Kelvin from a column in °C.
///
/// # Errors
/// As [`number`], or where it lies below absolute zero.
pub(crate) fn kelvin(column: &str, find: Lookup<'_>) -> Result<f64, String> {
    let celsius = number(column, find)?;
    if celsius <= -ZERO_CELSIUS {
        return Err(format!(
            "column `{column}` holds {celsius} °C, which is below the lowest temperature there is"
        ));
    }
    Ok(celsius + ZERO_CELSIUS)
}

impl Term {
    /// Its entries in a design row.
    ///
    /// # Errors
    /// In words, where the column has no value, or one that the term does not know.
    pub(crate) fn entries(&self, find: Lookup<'_>) -> Result<Vec<(usize, f64)>, String> {
        let value = match &self.kind {
            Kind::Factor(levels) => {
                let own = find(&self.column)
                    .ok_or_else(|| format!("no level is given for `{}`", self.column))?;
                let at = levels.iter().position(|l| l == own).ok_or_else(|| {
                    format!(
                        "`{}` has no level `{own}`; there are {}",
                        self.column,
                        levels.join(", ")
                    )
                })?;
                return Ok(match at {
                    0 => vec![],
                    at => vec![(self.first + at - 1, 1.0)],
                });
            }
            Kind::Number => number(&self.column, find)?,
            Kind::Reciprocal => 1.0 / (BOLTZMANN_EV * kelvin(&self.column, find)?),
            Kind::PerKelvin(heat) => number(&self.column, find)? / kelvin(heat, find)?,
            Kind::Power => {
                let value = number(&self.column, find)?;
                if value <= 0.0 {
                    return Err(format!(
                        "column `{}` holds {value}; a power law needs values above zero: let it act as a number (--number, or :linear), or leave those seals out",
                        self.column
                    ));
                }
                -value.ln()
            }
        };
        Ok(vec![(self.first, value)])
    }

    /// Whether it acts as a number.
    pub(crate) fn is_number(&self) -> bool {
        !matches!(self.kind, Kind::Factor(_))
    }
}

/// The terms asked for, in the order of their coefficients; the intercept comes before them.
///
/// # Errors
/// In words, naming the column that cannot be a term as asked.
pub(crate) fn terms(groups: &[Keyed], options: &CompareOptions) -> Result<Vec<Term>, String> {
    let mut out: Vec<Term> = vec![];
    let mut next = 1;
    let mut add =
        |column: &str, own_unit: String, kind: Kind, coefficients: Vec<(String, String)>| {
            let first = next;
            next += coefficients.len();
            out.push(Term {
                column: column.to_owned(),
                kind,
                first,
                coefficients,
                own_unit,
            });
        };
    for column in options.factors() {
        let levels = levels(groups, column, &options.base)?;
        let named = |level: &String| (format!("{column}={level}"), "ln life ratio".to_owned());
        let names = levels.iter().skip(1).map(named).collect();
        add(column, String::new(), Kind::Factor(levels), names);
    }
    let per = |unit: &str| format!("ln life per {unit}");
    for column in &options.number {
        let name = vec![(column.clone(), per(&unit_of(column)))];
        add(column, unit_of(column), Kind::Number, name);
    }
    if options.arrhenius.is_some() && options.more.eyring.is_some() {
        return Err("--arrhenius and --eyring are two laws for one temperature: choose one".into());
    }
    if let Some((column, _)) = options.temperature() {
        let name = vec![(ACTIVATION.to_owned(), "eV".to_owned())];
        add(column, "°C".to_owned(), Kind::Reciprocal, name);
    }
    if let Some((heat, Some(stress))) = &options.more.eyring {
        let own = unit_of(stress);
        let name = vec![(stress.clone(), per(&own))];
        add(stress, own.clone(), Kind::Number, name);
        let unit = per(&format!("{own}/K"));
        let name = vec![(format!("{stress}_per_kelvin"), unit)];
        add(stress, own, Kind::PerKelvin(heat.clone()), name);
    }
    let power = |column: &str| vec![(format!("{column}_exponent"), "pure number".to_owned())];
    if let Some(column) = &options.inverse_power {
        add(
            column,
            options.power_unit(column),
            Kind::Power,
            power(column),
        );
    }
    for c in &options.more.concentration {
        if c.power {
            add(&c.column, c.unit.clone(), Kind::Power, power(&c.column));
        } else {
            add(
                &c.column,
                c.unit.clone(),
                Kind::Number,
                vec![(c.column.clone(), per(&c.unit))],
            );
        }
    }
    Ok(out)
}
