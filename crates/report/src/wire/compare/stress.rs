//! Stress terms as people know them: activation energy in both units, the tested range, and whether the Arrhenius
//! line bends.

use super::asked::Asked;
use super::options::CompareOptions;
use super::result::EffectResult;
use super::scatter::Scatter;
use super::term::{ACTIVATION, BOLTZMANN_EV, KJ_PER_MOL, ZERO_CELSIUS};
use sealspan_life::family::Family;
use sealspan_life::regression::{Design, Regression, fit_design};
use sealspan_numeric::special::chi_square_survival;
use serde::Serialize;

/// A stress term.
#[derive(Debug, Clone, Serialize)]
pub struct StressResult {
    /// The column.
    pub column: String,
    /// The formula of life, with its units.
    pub formula: String,
    /// Lowest value seen, in the column's unit.
    pub tested_from: f64,
    /// Highest.
    pub tested_to: f64,
    /// Unit of the column, where it is known.
    pub unit: String,
    /// Activation energy, eV.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub activation_energy_ev: Option<Energy>,
    /// The same in kJ/mol.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub activation_energy_kj_per_mol: Option<Energy>,
    /// How far the temperatures scatter about the line.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scatter: Option<Scatter>,
    /// The energy in kJ/mol with an interval that allows for that, where it is more than chance has.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub activation_energy_allowing_for_scatter_kj_per_mol: Option<Energy>,
    /// Where the columns stand that the energy hangs on, in words.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub energy_at: Vec<String>,
    /// The other columns that are held constant for it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub held_constant: Vec<String>,
    /// Whether ln life bends in 1/T.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub curvature: Option<Curvature>,
}

/// An activation energy with its interval, in the unit that the field's name says.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Energy {
    /// Estimate.
    pub estimate: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// Likelihood-ratio test of one more column, the square of 1/(kT) less its mean.
#[derive(Debug, Clone, Serialize)]
pub struct Curvature {
    /// Chi-square statistic.
    pub statistic: Option<f64>,
    /// Degrees of freedom.
    pub df: f64,
    /// p-value.
    pub p_value: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// Every stress term of a fitted regression.
pub fn stresses(
    asked: &Asked,
    fit: &Regression,
    effects: &[EffectResult],
    options: &CompareOptions,
) -> Vec<StressResult> {
    let (plan, design) = (&asked.plan, &asked.design);
    let mut out = vec![];
    if let Some((column, eyring)) = options.temperature()
        && let Some(at) = plan.at(ACTIVATION)
    {
        let celsius = |x: f64| 1.0 / (BOLTZMANN_EV * x) - ZERO_CELSIUS;
        let (low, high) = range(design, at);
        let own = match asked.typical.hangs(at) {
            true => {
                let weights = asked.typical.weights(at);
                let none = vec![0.0; weights.len()];
                let c = fit.contrast("", &weights, &none, options.confidence);
                Some([c.estimate, c.lower, c.upper])
            }
            false => effects
                .get(at)
                .map(|e| [e.own.estimate, e.own.lower, e.own.upper]),
        };
        let energy = |factor: f64| {
            let [estimate, lower, upper] = own?.map(|x| x * factor);
            Some(Energy {
                estimate,
                lower,
                upper,
            })
        };
        let mut held_constant: Vec<String> = vec![];
        for other in plan.terms.iter().map(|t| &t.column) {
            if other != column && !held_constant.contains(other) {
                held_constant.push(other.clone());
            }
        }
        let second = options.more.eyring.as_ref().and_then(|(_, s)| s.as_ref());
        let formula = match (eyring, second) {
            (false, _) => "life is in proportion to exp(E/(k T)), T in kelvin".to_owned(),
            (true, None) => "life is in proportion to (1/T) exp(E/(k T)), T in kelvin".to_owned(),
            (true, Some(s)) => format!(
                "life is in proportion to (1/T) exp(E/(k T)) exp(C S + D S/T), T in kelvin, S = {s}"
            ),
        };
        let scatter = Scatter::of(design, fit.family, at);
        out.push(StressResult {
            column: column.clone(),
            scatter,
            activation_energy_allowing_for_scatter_kj_per_mol: scatter
                .filter(Scatter::speaks)
                .and_then(|s| Some(s.widened(energy(KJ_PER_MOL)?, options.confidence))),
            formula,
            tested_from: celsius(high),
            tested_to: celsius(low),
            unit: "°C".to_owned(),
            activation_energy_ev: energy(1.0),
            activation_energy_kj_per_mol: energy(KJ_PER_MOL),
            energy_at: asked.typical.partners(plan, at),
            held_constant,
            curvature: Some(curvature(design, fit.family, at)),
        });
    }
    let power = |column: &str, unit: &str| {
        let (low, high) = range(design, plan.at(&format!("{column}_exponent"))?);
        Some(StressResult {
            column: column.to_owned(),
            formula: format!("life is in proportion to {column} to the power −n"),
            tested_from: (-high).exp(),
            tested_to: (-low).exp(),
            unit: unit.to_owned(),
            activation_energy_ev: None,
            activation_energy_kj_per_mol: None,
            scatter: None,
            activation_energy_allowing_for_scatter_kj_per_mol: None,
            energy_at: vec![],
            held_constant: vec![],
            curvature: None,
        })
    };
    out.extend(
        options
            .inverse_power
            .iter()
            .filter_map(|c| power(c, &options.power_unit(c))),
    );
    for c in &options.more.concentration {
        if c.power {
            out.extend(power(&c.column, &c.unit));
        } else if let Some(at) = plan.at(&c.column) {
            let (tested_from, tested_to) = range(design, at);
            out.push(StressResult {
                column: c.column.clone(),
                formula: format!("ln life is linear in {} ({})", c.column, c.unit),
                tested_from,
                tested_to,
                unit: c.unit.clone(),
                activation_energy_ev: None,
                activation_energy_kj_per_mol: None,
                scatter: None,
                activation_energy_allowing_for_scatter_kj_per_mol: None,
                energy_at: vec![],
                held_constant: vec![],
                curvature: None,
            });
        }
    }
    out
}

/// Least and greatest entry of a column.
pub fn range(design: &Design, at: usize) -> (f64, f64) {
    let entry = |row: &[(usize, f64)]| row.iter().find(|(j, _)| *j == at).map_or(0.0, |e| e.1);
    let all = design.lines.iter().map(|l| entry(&l.row));
    all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
        (low.min(x), high.max(x))
    })
}

/// Whether ln life bends in the column `at` of a design, by one more column: (1/(kT) − its mean)². What is stated of the slope plays no part in the test.
#[must_use]
pub(crate) fn curvature(design: &Design, family: &'static dyn Family, at: usize) -> Curvature {
    let none = |reason: &str| Curvature {
        statistic: None,
        df: 1.0,
        p_value: None,
        reason: Some(reason.to_owned()),
    };
    let entry = |row: &[(usize, f64)]| row.iter().find(|(j, _)| *j == at).map_or(0.0, |e| e.1);
    let mut seen: Vec<f64> = design.lines.iter().map(|l| entry(&l.row)).collect();
    let mean = seen.iter().sum::<f64>() / seen.len().max(1) as f64;
    seen.sort_by(f64::total_cmp);
    seen.dedup();
    if seen.len() < 3 {
        return none("fewer than three temperatures cannot show a bend");
    }
    let mut straight = design.clone();
    straight.penalties.retain(|p| p.at != at);
    let mut bent = straight.clone();
    let next = bent.names.len();
    bent.names.push("bend".to_owned());
    for line in &mut bent.lines {
        let off = entry(&line.row) - mean;
        line.row.push((next, off * off));
    }
    let fitted = |d: &Design| fit_design(family, d).map(|f| f.regression.log_likelihood);
    match fitted(&straight).and_then(|line| Ok(2.0 * (fitted(&bent)? - line))) {
        Ok(gain) => {
            let statistic = gain.max(0.0);
            Curvature {
                statistic: Some(statistic),
                df: 1.0,
                p_value: Some(chi_square_survival(statistic, 1.0)),
                reason: None,
            }
        }
        Err(_) => none("a bend has no finite estimate here: too few failures at some temperatures"),
    }
}
