//! Does the regression behind the advice on materials fit the records? One shape for all or one each, whether the
//! materials suffer alike from heat, whether the Arrhenius line bends, and failures against those it expects.

use super::materials_field::Where;
use crate::number;
use crate::wire::compare::{Collinearity, Compared, StressResult};
use crate::wire::materials::{Against, FitCheck};
use sealspan_life::batches::expected;
use sealspan_life::recurrence::hungry::Count;
use sealspan_numeric::special::chi_square_survival;
use std::collections::BTreeMap;

/// p-value below which a model is taken as contradicted.
pub(super) const CONTRADICTED: f64 = 0.05;

/// A likelihood-ratio test of a richer regression against a plainer one, or why there is none.
pub(super) fn ratio_test(plain: &Compared, rich: &Result<Compared, String>) -> Result<f64, String> {
    let rich = rich.as_ref().map_err(Clone::clone)?;
    let size = |c: &Compared| c.fitted.as_ref().map(|f| f.regression.x.len());
    let height = |c: &Compared| c.fitted.as_ref().map(|f| f.regression.log_likelihood);
    let none = || "the regression has no answer".to_owned();
    let more = size(rich).zip(size(plain)).ok_or_else(none)?;
    let gain = height(rich).zip(height(plain)).ok_or_else(none)?;
    let df = more.0.saturating_sub(more.1);
    if df == 0 {
        return Err("there is nothing to tell apart".to_owned());
    }
    Ok(chi_square_survival(
        (2.0 * (gain.0 - gain.1)).max(0.0),
        df as f64,
    ))
}

/// What was tested on the way to the regression that is used.
pub(super) struct Tested {
    /// One shape for all materials: p-value, or why it was not tested.
    pub shape: Result<f64, String>,
    /// All materials suffer alike from heat; `None` without a temperature.
    pub heat: Option<Result<f64, String>>,
}

/// The check in numbers and words.
pub(super) fn check(
    found: &Compared,
    tested: &Tested,
    at: &[&(String, String)],
    heat: Option<&String>,
    place: &Where,
) -> FitCheck {
    let p = |r: &Result<f64, String>| r.as_ref().ok().copied();
    let apart = p(&tested.shape).is_some_and(|p| p < CONTRADICTED);
    let against = against(found, at, heat, place);
    let mut words = vec![match &tested.shape {
        Ok(p) if apart => format!(
            "The materials differ in how their failures scatter with age ({} of one shape for all), so each has a shape of its own here.",
            number::p_value(*p)
        ),
        Ok(p) => format!(
            "One shape for all materials is not contradicted ({}).",
            number::p_value(*p)
        ),
        Err(why) => format!("One shape is taken for all materials, untested: {why}."),
    }];
    let stress = found.document.regression.iter().flat_map(|r| &r.stresses);
    let regression = found.document.regression.as_ref();
    let together = regression.and_then(|r| r.collinearity.as_ref());
    words.extend(stress.into_iter().flat_map(|s| line(s, together)));
    words.extend(tested.heat.as_ref().map(alike));
    words.extend(summed(&against));
    FitCheck {
        common_shape_p_value: p(&tested.shape),
        common_shape_reason: tested.shape.as_ref().err().cloned(),
        shape_each: apart,
        alike_in_heat_p_value: tested.heat.as_ref().and_then(p),
        alike_in_heat_reason: match &tested.heat {
            None => Some("the regression has no temperature".to_owned()),
            Some(r) => r.as_ref().err().cloned(),
        },
        against,
        words,
    }
}

/// An interval so many times as wide as without what goes with temperature is no measure of it (as in the comparison
/// of groups).
const BLURRED: f64 = 2.0;

/// The activation energy with what it holds constant, and its bend.
fn line(s: &StressResult, together: Option<&Collinearity>) -> Vec<String> {
    let Some(own) = s.activation_energy_kj_per_mol else {
        return vec![];
    };
    let e = s
        .activation_energy_allowing_for_scatter_kj_per_mol
        .unwrap_or(own);
    let width = e.upper - e.lower;
    let energy = format!(
        "{} kJ/mol ({} to {})",
        number::to_width(e.estimate, width),
        number::to_width(e.lower, width),
        number::to_width(e.upper, width)
    );
    let held = s.held_constant.join(", ");
    let blurred = together.and_then(|t| {
        let own = t.columns.iter().find(|c| c.column == s.column)?;
        (own.times_as_wide >= BLURRED).then_some(own)
    });
    let mut out = vec![match blurred {
        Some(b) => format!(
            "Temperature can hardly be told from {} in these records, so the activation energy of this regression, {energy} with {held} held constant, is no measure of what heat does: the report's picture of life against temperature holds less constant and has one. Lives at conditions that were seen together are not blurred.",
            b.blurred_by.join(", ")
        ),
        None => format!(
            "Its activation energy is {energy}, with {held} held constant; where other columns are held (compare, the report) it is another number.",
        ),
    }];
    if let Some(p) = s.curvature.as_ref().and_then(|c| c.p_value)
        && p < CONTRADICTED
    {
        out.push(format!(
            "The Arrhenius line does not fit well ({} of no bend): it bends, or something not held constant goes with temperature. Trust it near the temperatures that most seals saw.",
            number::p_value(p)
        ));
    }
    out
}

fn alike(tested: &Result<f64, String>) -> String {
    match tested {
        Ok(p) if *p < CONTRADICTED => format!(
            "The materials do not suffer alike from heat ({}), though the regression takes one activation energy for all: compare --interaction gives each its own.",
            number::p_value(*p)
        ),
        Ok(p) => format!(
            "That all materials suffer alike from heat is not contradicted ({}).",
            number::p_value(*p)
        ),
        Err(why) => format!("Whether all materials suffer alike from heat is untested: {why}."),
    }
}

/// Failures of each material near these conditions, against those that the regression expects there.
fn against(
    found: &Compared,
    at: &[&(String, String)],
    heat: Option<&String>,
    place: &Where,
) -> Vec<Against> {
    let Some(fitted) = &found.fitted else {
        return vec![];
    };
    let near = |key: &[(String, String)]| {
        at.iter().all(|(column, asked)| {
            let cell = key.iter().find(|(c, _)| c == column).map(|(_, v)| v);
            let number = |text: &String| text.trim().parse::<f64>().ok();
            if heat == Some(column) {
                let both = cell.and_then(number).zip(number(asked));
                both.is_some_and(|(a, b)| (a - b).abs() <= place.within)
            } else {
                cell == Some(asked)
            }
        })
    };
    let fit = &fitted.regression;
    let mut counts: BTreeMap<&String, (f64, Count)> = BTreeMap::new();
    for ((key, sample), row) in fitted.groups.iter().zip(&fitted.places) {
        let material = key.0.iter().find(|(c, _)| c == "material").map(|(_, v)| v);
        let Some(material) = material.filter(|_| near(&key.0)) else {
            continue;
        };
        let theta = fit.theta(&row.row, row.offset, row.stratum);
        let slot = counts.entry(material).or_insert((
            0.0,
            Count {
                seen: 0.0,
                expected: 0.0,
            },
        ));
        slot.0 += sample.tally().total();
        slot.1.seen += sample.tally().failures();
        let each = sample
            .rows()
            .iter()
            .map(|o| expected(fit.family, &theta, o));
        slot.1.expected += each.sum::<f64>();
    }
    let row = |(material, (seals, count)): (&String, (f64, Count))| Against {
        material: material.clone(),
        seals,
        failures: count.seen,
        expected: count.expected,
        p_value: (count.expected > 0.0).then(|| count.two_sided()),
        reason: (count.expected <= 0.0).then_some("no failure is expected there at all"),
    };
    counts.into_iter().map(row).collect()
}

/// The comparison in a sentence, with the materials that do not fit (Holm over all of them).
fn summed(against: &[Against]) -> Option<String> {
    if against.is_empty() {
        return None;
    }
    let each: Vec<String> = against
        .iter()
        .map(|a| {
            format!(
                "{} {} ({} expected)",
                a.material,
                number::fixed(a.failures, 0),
                number::significant(a.expected, 2)
            )
        })
        .collect();
    let looks = against.len() as f64;
    let off: Vec<&str> = against
        .iter()
        .filter(|a| a.p_value.is_some_and(|p| p * looks < CONTRADICTED))
        .map(|a| a.material.as_str())
        .collect();
    let verdict = if off.is_empty() {
        "no more apart than chance would have it".to_owned()
    } else {
        format!(
            "for {} the regression does not fit these seals: where the two tables differ, go by the field lives",
            off.join(", ")
        )
    };
    Some(format!(
        "Failures near these conditions against those that the regression expects of the same seals: {}; {verdict}.",
        each.join(", ")
    ))
}
