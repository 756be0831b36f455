//! What `compare` says besides its regression: the cross-check by proportional hazards, and how much assets differ.

use crate::table::table;
use sealspan_report::number;
use sealspan_report::wire::compare::CompareDocument;
use sealspan_report::wire::frailty::{FrailtyResult, Variance, WeibullFrailtyResult};
use sealspan_report::wire::hazards::{HazardCoefficient, ProportionalHazards};

/// The cross-check, and the frailty where asked.
pub fn hazards(d: &CompareDocument) -> String {
    let mut out = String::from("\n");
    match (&d.proportional_hazards, &d.proportional_hazards_reason) {
        (Some(fit), _) => out.push_str(&checked(fit)),
        (None, Some(why)) => {
            out.push_str(&format!("no cross-check by proportional hazards: {why}\n"))
        }
        (None, None) => {}
    }
    if let Some(found) = &d.frailty {
        out.push_str(&frailty(found));
    }
    out
}

fn checked(fit: &ProportionalHazards) -> String {
    let mut out = String::from(
        "failure rate over that of the base, or for one unit more (proportional hazards)\n",
    );
    out.push_str(&ratios(&fit.coefficients));
    if let Some(drawn) = &fit.drawn_ages {
        out.push_str(&format!("  {}\n", drawn.words));
    }
    match fit.clusters {
        Some(n) => out.push_str(&format!(
            "  intervals allow for like seals in {n} clusters (Student's t with {} degrees of freedom)\n",
            n - 1
        )),
        None => {
            if let Some(why) = &fit.clusters_reason {
                out.push_str(&format!("  intervals take seals as independent: {why}\n"));
            }
        }
    }
    out.push_str(&format!(
        "  the cross-check by proportional hazards {}\n",
        fit.agreement.words
    ));
    out
}

fn ratios(coefficients: &[HazardCoefficient]) -> String {
    let rows: Vec<Vec<String>> = coefficients
        .iter()
        .map(|c| {
            let width = c.hazard_ratio_upper - c.hazard_ratio_lower;
            vec![
                c.hazard_ratio_of.clone().unwrap_or_else(|| c.name.clone()),
                number::to_width(c.hazard_ratio, width),
                format!(
                    "{} to {}",
                    number::to_width(c.hazard_ratio_lower, width),
                    number::to_width(c.hazard_ratio_upper, width)
                ),
                number::p_value(c.p_value),
                c.proportionality_p_value
                    .map_or_else(String::new, number::p_value),
            ]
        })
        .collect();
    let mut out = table(
        &[
            "coefficient",
            "ratio",
            "interval",
            "p-value",
            "no drift with age",
        ],
        &rows,
    );
    out.push('\n');
    out
}

fn frailty(found: &FrailtyResult) -> String {
    let column = &found.column;
    let mut out = match found.clusters {
        Some(n) => {
            format!("\ndifferences between {n} levels of {column} that no column explains\n")
        }
        None => format!("\ndifferences between levels of {column} that no column explains\n"),
    };
    match (&found.weibull, &found.weibull_reason) {
        (Some(w), _) => {
            out.push_str(&spread("Weibull lives", &w.theta));
            out.push_str(&standing_out(w));
            if let Some(said) = w.assumption {
                out.push_str(&format!("  {said}\n"));
            }
        }
        (None, Some(why)) => out.push_str(&format!("  Weibull lives: none, {why}\n")),
        (None, None) => {}
    }
    match (
        &found.proportional_hazards,
        &found.proportional_hazards_reason,
    ) {
        (Some(h), _) => out.push_str(&spread("proportional hazards", &h.theta)),
        (None, Some(why)) => out.push_str(&format!("  proportional hazards: none, {why}\n")),
        (None, None) => {}
    }
    out
}

/// Clusters named at either end.
const ENDS: usize = 5;

/// The clusters that stand out, fastest first.
fn standing_out(w: &WeibullFrailtyResult) -> String {
    if w.levels.is_empty() {
        return format!("  {}\n", w.levels_reason);
    }
    let all = number::count(w.levels.len() as u64);
    let mut out = match w.standing_out {
        0 => format!("  none of {all} stands out by itself; the fastest and the slowest:\n"),
        n => format!(
            "  {} of {all} stand out (their interval leaves 1 out); the fastest and the slowest:\n",
            number::count(n as u64)
        ),
    };
    let last = w.levels.len().saturating_sub(ENDS).max(ENDS);
    let rows: Vec<Vec<String>> = w
        .levels
        .iter()
        .enumerate()
        .filter(|(at, _)| *at < ENDS || *at >= last)
        .map(|(_, l)| {
            let width = l.upper - l.lower;
            let write = |x: f64| number::to_width(x, width);
            vec![
                l.level.clone(),
                number::count(l.seals as u64),
                number::count(l.failures as u64),
                write(l.rate_ratio),
                format!("{} to {}", write(l.lower), write(l.upper)),
                number::significant(l.life_ratio, 2),
                if l.stands_out { "yes" } else { "" }.to_owned(),
            ]
        })
        .collect();
    let head = [
        "of them",
        "seals",
        "failed",
        "failure rate, times",
        "interval",
        "life, times",
        "stands out",
    ];
    out.push_str(&format!("{}\n  {}\n", table(&head, &rows), w.levels_reason));
    out
}

fn spread(model: &str, theta: &Variance) -> String {
    let upper = theta.upper.map_or_else(
        || "no upper end".to_owned(),
        |u| format!("to {}", number::significant(u, 3)),
    );
    format!(
        "  {model}: variance of the failure rate between them {} ({} {upper}); {} of none\n",
        number::significant(theta.estimate, 3),
        number::significant(theta.lower, 3),
        number::p_value(theta.p_value)
    )
}
