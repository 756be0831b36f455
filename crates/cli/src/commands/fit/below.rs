//! What stands below the table of a fit: how its intervals were made, what is missing and why, and doubts.

use super::{in_unit, left_to};
use sealspan_life::bounds::NoEnd;
use sealspan_report::number;
use sealspan_report::wire::Number;
use sealspan_report::wire::fit::{FamilyFit, ParameterFit, missing};

/// What stands below the table: how the intervals were made, and doubts.
pub(super) fn text(fit: &FamilyFit, unit: &str) -> String {
    let mut out = String::new();
    let mut say = |text: String| out.push_str(&format!("  {}: {text}\n", fit.family));
    if let Some(reason) = &fit.reason {
        say(reason.clone());
    }
    if fit.bounds.is_some() {
        say(made(fit));
    }
    for why in lacking(fit, unit) {
        say(why);
    }
    if let Some(why) = without_end(fit) {
        say(why);
    }
    // Without an estimate there is no band either, and that is said.
    if let Some(bands) = bands(fit, unit).filter(|_| fit.bounds.is_some()) {
        say(bands);
    }
    if let Some(priors) = &fit.priors {
        say(format!("priors: {priors}"));
    }
    if let Some(why) = fit.bounds_reason.filter(|_| fit.converged && !fit.withheld) {
        say(format!("asked for another interval: {why}"));
    }
    for b in &fit.profile_beside {
        let end = |x: Option<f64>, why| {
            x.map_or_else(|| missing(why).to_owned(), |x| number::significant(x, 3))
        };
        say(format!(
            "profile-likelihood interval of {}: {} to {}",
            in_unit(&b.of, unit_of(fit, &b.of, unit)),
            end(b.lower, b.ends.no_lower),
            end(b.upper, b.ends.no_upper)
        ));
    }
    if let Some(shape) = fit.bias_reduced_shape {
        say(format!(
            "shape with its small-sample bias taken off: {}",
            number::significant(shape, 3)
        ));
    }
    if let (Some(why), None, true) = (fit.goodness_reason, &fit.goodness, fit.converged) {
        say(format!("no test of fit: {why}"));
    }
    if let Some(words) = residuals(fit, unit) {
        say(words);
    }
    for warning in fit.poor_fit.iter().chain(&fit.warnings) {
        say(warning.clone());
    }
    out
}

/// The unit of a number named so: a parameter's own, else that of ages.
fn unit_of<'a>(fit: &'a FamilyFit, name: &str, time: &'a str) -> &'a str {
    let own = fit.parameters.iter().find(|p| p.name == name);
    own.map_or(time, |p| p.unit.as_str())
}

/// Quantities without an estimate, by their reason. Ends that an interval lacks are told in the table.
fn lacking(fit: &FamilyFit, unit: &str) -> Vec<String> {
    if fit.withheld || fit.bounds.is_none() {
        return vec![];
    }
    let mut out: Vec<(String, Vec<String>)> = vec![];
    let mut add = |what: String, n: &Number| {
        if let (None, Some(why)) = (n.estimate, &n.reason) {
            match out.iter_mut().find(|(w, _)| w == why) {
                Some((_, list)) => list.push(what),
                None => out.push((why.clone(), vec![what])),
            }
        }
    };
    for p in &fit.parameters {
        add(p.name.to_owned(), &p.number);
    }
    for q in &fit.quantiles {
        add(format!("{} failed by", number::level(q.p)), &q.number);
    }
    add("mean life".to_owned(), &fit.mean_life);
    for s in &fit.survival {
        add(
            format!("share surviving {} {unit}", number::tidy(s.time)),
            &s.number,
        );
    }
    for r in &fit.remaining {
        add(left_to(r, unit), &r.number);
    }
    let told = out.into_iter();
    told.map(|(why, what)| format!("no {}: {why}", what.join(", no ")))
        .collect()
}

/// Parameters of which the likelihood has no end on a side, with the reason of the first.
fn without_end(fit: &FamilyFit) -> Option<String> {
    let lacks = |why: Option<NoEnd>| matches!(why, Some(NoEnd::ClosesIn | NoEnd::ChangedPlaces));
    let open = |p: &&ParameterFit| lacks(p.ends.no_lower) || lacks(p.ends.no_upper);
    let parameters: Vec<&ParameterFit> = fit.parameters.iter().filter(open).collect();
    let names: Vec<&str> = parameters.iter().map(|p| p.name).collect();
    let why = parameters.first()?.number.reason.as_ref()?;
    Some(format!("\"no end\" of {}: {why}", names.join(", ")))
}

/// Seals named that suit a fit least.
const LEAST: usize = 3;

/// The seals that suit the fit least, where residuals were asked for.
fn residuals(fit: &FamilyFit, unit: &str) -> Option<String> {
    let mut rows: Vec<_> = fit.residuals.iter().collect();
    if rows.is_empty() {
        return None;
    }
    rows.sort_by(|a, b| {
        b.deviance
            .abs()
            .total_cmp(&a.deviance.abs())
            .then(a.time.total_cmp(&b.time))
    });
    let each: Vec<String> = rows
        .iter()
        .take(LEAST)
        .map(|r| {
            format!(
                "{} at {} {unit} (deviance residual {})",
                if r.failed { "failed" } else { "not failed" },
                number::tidy(r.time),
                number::fixed(r.deviance, 2)
            )
        })
        .collect();
    Some(format!(
        "residuals: beyond 2.5 either way a seal suits the law badly; farthest out of {} lie {}; all of them in --format json",
        number::counted(rows.len() as f64, "row"),
        each.join(", ")
    ))
}

/// How the intervals were made and what their ends are.
fn made(fit: &FamilyFit) -> String {
    let method = fit.bounds.map_or("", |m| m.words());
    let medians = match fit.greatest_likelihood.is_empty() {
        true => "",
        false => "; the estimates are medians of the posterior",
    };
    let one_sided = fit.one_sided.as_ref();
    let one_sided = one_sided.map_or_else(String::new, |text| format!("; {text}"));
    let error = match (fit.simulation_error, fit.simulation_error_reason) {
        (_, Some(why)) => format!("; {why}"),
        (Some(e), None) => format!(
            "; simulation error of each end's confidence {}",
            number::percent(e)
        ),
        (None, None) => String::new(),
    };
    let draws = fit.effective_draws.map_or_else(String::new, |n| {
        format!("; effective draws {}", number::fixed(n, 0))
    });
    format!("intervals by {method}{medians}{one_sided}{error}{draws}")
}

/// The band of survival at the ages asked about.
fn bands(fit: &FamilyFit, unit: &str) -> Option<String> {
    let parts: Vec<String> = fit
        .survival
        .iter()
        .filter_map(|s| match (s.band_lower, s.band_upper, &s.band_reason) {
            (Some(lower), Some(upper), _) => Some(format!(
                "{} to {} survive {} {unit}",
                number::percent(lower),
                number::percent(upper),
                number::tidy(s.time)
            )),
            (_, _, Some(why)) => Some(format!("none at {} {unit} ({why})", number::tidy(s.time))),
            _ => None,
        })
        .collect();
    (!parts.is_empty()).then(|| {
        format!(
            "at all ages at once (band by the likelihood of all parameters together, not calibrated): {}",
            parts.join(", ")
        )
    })
}
