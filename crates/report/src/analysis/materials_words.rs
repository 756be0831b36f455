//! The advice for one asset or exposure in sentences.

use super::materials::{Here, MaterialsQuestion, Money};
use crate::number;
use crate::wire::Number;
use crate::wire::materials::{AssetHistory, HereLife, Lives, MaterialResult};
use std::collections::BTreeMap;

/// The answer for one asset or exposure, by the regression, the tables' limits and the prices.
pub(super) fn for_here(
    here: &Here,
    rows: &[MaterialResult],
    question: &MaterialsQuestion,
    money: &Money,
) -> Vec<String> {
    let place = here.asset.as_ref().map_or_else(
        || "At these conditions".to_owned(),
        |a| format!("For {}", a.asset),
    );
    let lives = match &here.lives {
        Ok(lives) => lives,
        Err(why) => {
            return vec![format!(
                "{place} the records give no life by regression: {why}."
            )];
        }
    };
    let excluded = |m: &str| {
        let row = rows.iter().find(|r| r.material == m);
        row.is_some_and(|r| r.verdict == "excluded")
    };
    let rank = |l: &&HereLife| {
        let cost = l.cost_per_year.estimate;
        cost.or(l.mean_life.estimate.map(|m| -m))
            .unwrap_or(f64::INFINITY)
    };
    let mut open: Vec<&HereLife> = lives
        .lives
        .iter()
        .filter(|l| !excluded(&l.material))
        .collect();
    open.sort_by(|a, b| rank(a).total_cmp(&rank(b)));
    let currency = money.currency.as_deref().unwrap_or("");
    let words = |l: &HereLife| in_words(l, currency, question.confidence);
    let Some(best) = open.first() else {
        return vec![format!(
            "{place} the tables exclude every material that you have records of."
        )];
    };
    let mut out = vec![format!(
        "{place} ({}): {} {}, of the materials you have records of.",
        lives.conditions_or_none(),
        best.material,
        words(best)
    )];
    if let Some(next) = open.get(1) {
        out.push(format!(
            "Next is {}, which {}. {}",
            next.material,
            words(next),
            told_apart(lives, best, next, question.confidence)
        ));
    }
    let against: Vec<&str> = lives
        .lives
        .iter()
        .map(|l| l.material.as_str())
        .filter(|m| excluded(m))
        .collect();
    if !against.is_empty() {
        out.push(format!(
            "The tables speak against {} here, whatever their lives.",
            against.join(", ")
        ));
    }
    for l in open.iter().filter(|l| l.extrapolated).take(2) {
        out.push(format!(
            "{} is extrapolated: {}.",
            l.material,
            l.extrapolation.join("; ")
        ));
    }
    out.extend(here.asset.as_ref().map(eaten));
    out
}

/// Whether the records tell two materials of the one regression apart: by the ratio of their lives, in which the
/// errors that both share cancel; whether their own intervals overlap says nothing of it.
fn told_apart(lives: &Lives, best: &HereLife, next: &HereLife, level: f64) -> String {
    let ratio = lives.life_ratio(&best.material, &next.material);
    let Some((estimate, lower, upper)) = ratio
        .as_ref()
        .and_then(|r| Some((r.estimate?, r.lower?, r.upper?)))
    else {
        return "Whether the two differ the records cannot say: there is no interval of their ratio.".to_owned();
    };
    let write = |x: f64| number::significant(x, 3);
    format!(
        "{} lasts {} times as long as {} ({} {} to {}, errors common to both cancelled), so the records {}.",
        best.material,
        write(estimate),
        next.material,
        number::level(level),
        write(lower),
        write(upper),
        if lower > 1.0 || upper < 1.0 {
            "tell the two apart in life here"
        } else {
            "do not tell the two apart here"
        }
    )
}

/// Why the lives of the regression and the field lives differ, where the seals of the field did not sit at the
/// temperature asked for.
pub(super) fn apart(here: &Here, rows: &[MaterialResult]) -> Option<String> {
    let lives = here.lives.as_ref().ok()?;
    let celsius = |(column, value): &(String, String)| {
        let heat = column.to_lowercase().ends_with("_c");
        value.trim().parse::<f64>().ok().filter(|_| heat)
    };
    let asked = lives.at.iter().find_map(celsius)?;
    let off: Vec<String> = rows
        .iter()
        .filter_map(|r| {
            let mean = r.field.as_ref()?.mean_temperature_c?;
            let told = lives.lives.iter().any(|l| l.material == r.material);
            (told && (mean - asked).abs() >= ANOTHER).then(|| {
                let mean = number::fixed(mean, 1);
                format!("{} at {}", r.material, mean.trim_end_matches(".0"))
            })
        })
        .collect();
    (!off.is_empty()).then(|| {
        format!(
            "The two tables speak of different seals: the regression of {asked} °C, the field lives of the seals taken, which sat on average elsewhere ({} °C). Go by the regression for {asked} °C as far as it fits (see below it), by the field lives for those seals.",
            off.join(", ")
        )
    })
}

/// Kelvin from which field lives are of another temperature (a rule of ours: some 10 % of life at 50 kJ/mol).
const ANOTHER: f64 = 2.0;

/// A life and its cost in words.
fn in_words(l: &HereLife, currency: &str, level: f64) -> String {
    let interval = |n: &Number, write: &dyn Fn(f64) -> String| match (n.lower, n.upper) {
        (Some(a), Some(b)) => format!(" ({} {} to {})", number::level(level), write(a), write(b)),
        _ => String::new(),
    };
    let days = |x: f64| number::significant(x, 2);
    let money = |x: f64| number::money(x.round(), currency);
    let life = l.mean_life.estimate.map_or_else(
        || "has no mean life here".to_owned(),
        |m| {
            format!(
                "lasts {} days on average{}",
                days(m),
                interval(&l.mean_life, &days)
            )
        },
    );
    match l.cost_per_year.estimate {
        Some(c) => format!(
            "costs {} per position and year{} and {life}",
            money(c),
            interval(&l.cost_per_year, &money)
        ),
        None => life,
    }
}

/// What ended an asset's seals.
fn eaten(a: &AssetHistory) -> String {
    let list = |of: &BTreeMap<String, u64>| {
        let mut all: Vec<(&String, &u64)> = of.iter().collect();
        all.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
        let each: Vec<String> = all
            .iter()
            .map(|(w, n)| format!("{n} {}", w.replace('_', " ")))
            .collect();
        each.join(", ")
    };
    let damage = if a.damage.is_empty() {
        "none of them failed or was found worn".to_owned()
    } else {
        format!(
            "damage on those that failed or were worn: {}",
            list(&a.damage)
        )
    };
    format!(
        "{} has had {} seals ({}); {damage}; in service now: {}.",
        a.asset,
        a.seals,
        list(&a.materials),
        if a.now.is_empty() {
            "none".to_owned()
        } else {
            a.now.join(", ")
        }
    )
}
