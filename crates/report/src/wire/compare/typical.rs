//! Effects that hang on each other, at typical conditions.
//!
//! The coefficient of a column that stands in a product holds where its partner is 0: at 0 V, or where 1/T is 0.
//! Nobody runs there. With b the column's own coefficient and d that of its product with a partner, the effect at the
//! partner's typical value m is b + d m, in the same fit.

use super::Keyed;
use super::plan::{Plan, Product};
use super::term::{BOLTZMANN_EV, Kind, Term, ZERO_CELSIUS};
use crate::number;
use sealspan_life::regression::{Place, Regression};
use serde::Serialize;

/// Step of temperature, °C.
pub(super) const STEP: f64 = 10.0;

/// The effect of a column at the typical conditions of those that it hangs on.
#[derive(Debug, Clone, Serialize)]
pub struct TypicalEffect {
    /// Name of the coefficient.
    pub name: String,
    /// The step whose effect this is, in words.
    pub of: String,
    /// Where its partners stand.
    pub at: Vec<String>,
    /// How many times as long life is after the step.
    pub life_ratio: f64,
    /// Lower end, normal approximation on the logarithm.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// p-value of 1.
    pub p_value: f64,
}

/// Where the columns of products are centred.
#[derive(Debug, Clone, PartialEq)]
pub struct Typical {
    products: Vec<Product>,
    /// Entry of each coefficient's column there; 0 for a factor, which stands at its base.
    entries: Vec<f64>,
}

impl Typical {
    /// Means over the seals, rounded in the column's own unit.
    pub fn new(plan: &Plan, groups: &[Keyed], places: &[Place]) -> Self {
        let products = plan.products();
        let mut entries = vec![0.0; plan.names.len()];
        for term in plan.terms.iter().filter(|t| t.is_number()) {
            if let Some(slot) = entries.get_mut(term.first) {
                *slot = middle(term, groups, places);
            }
        }
        Self { products, entries }
    }

    fn entry(&self, at: usize) -> f64 {
        self.entries.get(at).copied().unwrap_or(0.0)
    }

    /// The same design with its products taken about the typical conditions, up to constants: the fit is the same,
    /// and a column's coefficient is its effect there.
    pub fn centred(&self, mut row: Vec<f64>) -> Vec<f64> {
        for p in &self.products {
            let of = |at: usize| row.get(at).copied().unwrap_or(0.0);
            let off = p.scale * (self.entry(p.a) * of(p.b) + self.entry(p.b) * of(p.a));
            let constant = p.scale * self.entry(p.a) * self.entry(p.b);
            if let Some(slot) = row.get_mut(p.product) {
                *slot += constant - off;
            }
        }
        row
    }

    /// Weights of the fitted coefficients that give the effect of one unit of the column at `at`.
    pub fn weights(&self, at: usize) -> Vec<f64> {
        let mut out = vec![0.0; self.entries.len()];
        let mut add = |at: usize, weight: f64| {
            if let Some(slot) = out.get_mut(at) {
                *slot += weight;
            }
        };
        add(at, 1.0);
        for p in &self.products {
            if p.a == at {
                add(p.product, p.scale * self.entry(p.b));
            }
            if p.b == at {
                add(p.product, p.scale * self.entry(p.a));
            }
        }
        out
    }

    /// Whether a column stands in a product.
    pub fn hangs(&self, at: usize) -> bool {
        self.products.iter().any(|p| p.a == at || p.b == at)
    }

    /// Where the partners of a column stand, in words.
    pub fn partners(&self, plan: &Plan, at: usize) -> Vec<String> {
        let mut out: Vec<String> = vec![];
        for p in &self.products {
            let partner = match (p.a == at, p.b == at) {
                (true, _) => p.b,
                (_, true) => p.a,
                _ => continue,
            };
            let words = plan.term_of(partner).map(|t| self.stands(t));
            out.extend(words.filter(|w| !out.contains(w)));
        }
        out
    }

    fn stands(&self, term: &Term) -> String {
        let entry = self.entry(term.first);
        match &term.kind {
            Kind::Factor(levels) => {
                let base = levels.first().map_or("", String::as_str);
                format!("{} {base}", term.column)
            }
            Kind::Reciprocal => format!("{} {} °C", term.column, number::fixed(celsius(entry), 0)),
            Kind::Power => format!(
                "{} {} {}",
                term.column,
                number::significant((-entry).exp(), 3),
                term.own_unit
            ),
            Kind::Number | Kind::PerKelvin(_) => format!(
                "{} {} {}",
                term.column,
                number::significant(entry, 3),
                term.own_unit
            ),
        }
    }

    /// A step of a column that a reader can picture: its size in the design, and in words.
    pub fn step(&self, plan: &Plan, at: usize) -> Option<(f64, String)> {
        let term = plan.term_of(at)?;
        Some(match &term.kind {
            Kind::Factor(levels) => {
                let own = levels.get(at - term.first + 1).map_or("", String::as_str);
                let base = levels.first().map_or("", String::as_str);
                (1.0, format!("{} {own} over {base}", term.column))
            }
            Kind::Reciprocal => {
                let from = (celsius(self.entry(at)) - 0.5 * STEP).round();
                let step = reciprocal(from + STEP) - reciprocal(from);
                let [from, to] = [from, from + STEP].map(|t| number::fixed(t, 0));
                (step, format!("{} from {from} to {to} °C", term.column))
            }
            Kind::Power => (-std::f64::consts::LN_2, format!("{} doubled", term.column)),
            Kind::Number | Kind::PerKelvin(_) => {
                (1.0, format!("{}, 1 {} more", term.column, term.own_unit))
            }
        })
    }

    /// The products, as centred.
    pub fn products(&self) -> &[Product] {
        &self.products
    }

    /// Every effect that hangs on another column, where that stands at its typical value.
    pub fn effects(&self, plan: &Plan, fit: &Regression, level: f64) -> Vec<TypicalEffect> {
        let hanging = (1..plan.names.len()).filter(|at| self.hangs(*at));
        let one = |at: usize| {
            let (step, of) = self.step(plan, at)?;
            let weights: Vec<f64> = self.weights(at).iter().map(|w| w * step).collect();
            let none = vec![0.0; weights.len()];
            let c = fit.contrast("", &weights, &none, level);
            Some(TypicalEffect {
                name: plan.names.get(at)?.clone(),
                of,
                at: self.partners(plan, at),
                life_ratio: c.estimate.exp(),
                lower: c.lower.exp(),
                upper: c.upper.exp(),
                p_value: c.p_value,
            })
        };
        hanging.filter_map(one).collect()
    }
}

fn celsius(entry: f64) -> f64 {
    1.0 / (BOLTZMANN_EV * entry) - ZERO_CELSIUS
}

fn reciprocal(celsius: f64) -> f64 {
    1.0 / (BOLTZMANN_EV * (celsius + ZERO_CELSIUS))
}

/// Mean of a column over the seals, rounded as a reader would: whole degrees, else three digits.
fn middle(term: &Term, groups: &[Keyed], places: &[Place]) -> f64 {
    let entry = |row: &[(usize, f64)]| {
        let own = row.iter().find(|(at, _)| *at == term.first);
        own.map_or(0.0, |e| e.1)
    };
    let all = groups.iter().zip(places);
    let (sum, seals) = all.fold((0.0, 0.0), |(sum, n), ((_, sample), place)| {
        let count = sample.tally().total();
        (sum + count * entry(&place.row), n + count)
    });
    let mean = if seals > 0.0 { sum / seals } else { 0.0 };
    match term.kind {
        Kind::Reciprocal if mean > 0.0 => reciprocal(celsius(mean).round()),
        Kind::Power => -three_digits((-mean).exp()).ln(),
        Kind::Number => three_digits(mean),
        _ => mean,
    }
}

fn three_digits(x: f64) -> f64 {
    if x == 0.0 || !x.is_finite() {
        return x;
    }
    let unit = 10f64.powf(x.abs().log10().floor() - 2.0);
    (x / unit).round() * unit
}
