//! Hazard ratios of stresses for a step that a reader can picture, instead of one unit of 1/(kT) or of a
//! logarithm.

use super::asked::Asked;
use super::plan::Product;
use super::term::{Kind, Term};
use crate::wire::hazards::{HazardCoefficient, ProportionalHazards};

/// Restates the ratios of temperatures and power laws.
pub fn restate(found: &mut ProportionalHazards, asked: &Asked) {
    for term in &asked.plan.terms {
        let Some((name, _)) = term.coefficients.first() else {
            continue;
        };
        if term.is_number() {
            let words = &mut found.agreement.words;
            *words = words.replace(name.as_str(), &term.column);
        }
        for at in term.first..term.first + term.coefficients.len() {
            restate_one(found, asked, term, at);
        }
    }
    for product in asked.typical.products() {
        restate_product(found, asked, product);
    }
}

/// A column's own ratio: for a step that is seen, where its partners stand at typical values.
fn restate_one(found: &mut ProportionalHazards, asked: &Asked, term: &Term, at: usize) {
    let hangs = asked.typical.hangs(at);
    let stated = matches!(term.kind, Kind::Reciprocal | Kind::Power) || hangs;
    if !stated || matches!(term.kind, Kind::PerKelvin(_)) {
        return;
    }
    let (Some(c), Some((step, mut words))) =
        (own(found, asked, at), asked.typical.step(&asked.plan, at))
    else {
        return;
    };
    let partners = asked.typical.partners(&asked.plan, at);
    if !partners.is_empty() {
        words.push_str(&format!(", at {}", partners.join(", ")));
    }
    of_step(c, step, words);
}

/// The ratio of a product: how many times as large one column's ratio is after a step of the other.
fn restate_product(found: &mut ProportionalHazards, asked: &Asked, p: &Product) {
    let step = |at: usize| asked.typical.step(&asked.plan, at);
    let (Some((a, of_a)), Some((b, of_b))) = (step(p.a), step(p.b)) else {
        return;
    };
    if let Some(c) = own(found, asked, p.product) {
        of_step(
            c,
            p.scale * a * b,
            format!("{of_a}: times as much for {of_b}"),
        );
    }
}

fn own<'a>(
    found: &'a mut ProportionalHazards,
    asked: &Asked,
    at: usize,
) -> Option<&'a mut HazardCoefficient> {
    let name = asked.plan.names.get(at)?;
    found.coefficients.iter_mut().find(|c| c.name == *name)
}

fn of_step(c: &mut HazardCoefficient, step: f64, words: String) {
    let ends = [(c.lower * step).exp(), (c.upper * step).exp()];
    c.hazard_ratio = (c.estimate * step).exp();
    c.hazard_ratio_lower = ends[0].min(ends[1]);
    c.hazard_ratio_upper = ends[0].max(ends[1]);
    c.hazard_ratio_of = Some(words);
}
