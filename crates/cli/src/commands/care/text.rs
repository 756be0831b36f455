//! What `care` says in the terminal.

use super::{plan_text, whole_text};
use crate::table::table;
use sealspan_care::replacement::Goal;
use sealspan_report::number;
use sealspan_report::wire::care::{CareBlock, CareDocument};

/// The whole answer in words.
pub fn text(d: &CareDocument, currency: &str) -> String {
    let mut out = String::new();
    for g in &d.groups {
        let (block, reason) = (g.block.as_ref(), g.reason.as_deref());
        out.push_str(&answer_text(&g.group.words(), block, reason, d, currency));
        out.push('\n');
    }
    let name = if d.groups.is_empty() { "" } else { "all seals" };
    let (all, reason) = (d.all.as_ref(), d.reason.as_deref());
    out.push_str(&answer_text(name, all, reason, d, currency));
    out.push_str(&crate::cautioned::before_acting(&d.cautions));
    out
}

fn answer_text(
    name: &str,
    block: Option<&CareBlock>,
    reason: Option<&str>,
    d: &CareDocument,
    currency: &str,
) -> String {
    match block {
        Some(block) => block_text(name, block, d, currency),
        None => format!(
            "{name}: no advice: {}\n",
            reason.unwrap_or("no reason known")
        ),
    }
}

/// Share of time up; nothing where no hours down were given.
fn time_up(share: Option<f64>) -> String {
    share
        .filter(|a| *a < 1.0)
        .map_or_else(String::new, number::percent)
}

/// How much worse an age is than the best one, in the goal's own measure.
fn extra(share: f64, goal: Goal) -> String {
    let sign = if share < 0.0 { "\u{2212}" } else { "+" };
    let of = match goal {
        Goal::Cost => "",
        Goal::Availability => " time down",
    };
    format!("{sign}{}{of}", number::percent(share.abs()))
}

fn block_text(name: &str, b: &CareBlock, d: &CareDocument, currency: &str) -> String {
    let unit = d.unit;
    let one = unit.strip_suffix('s').unwrap_or(unit);
    let rate = |x: f64| format!("{} per {one}", number::money(x, currency));
    let mut out = String::new();
    let lead = if name.is_empty() {
        String::new()
    } else {
        format!("{name}: ")
    };
    if let Some(plan) = &b.plan {
        out.push_str(&whole_text::block_text(&lead, plan, b, d, currency));
        return out;
    }
    if plan_text::is_plan(b) {
        out.push_str(&plan_text::block_text(&lead, b, d, currency));
        return out;
    }
    let r = &b.replace;
    match (r.age, &r.reason) {
        (Some(_), _) if b.far_beyond_records => out.push_str(&format!(
            "{lead}no advice: the best age lies beyond twice the oldest seal seen, where only the law speaks; the figures below show what it would say\n"
        )),
        (Some(age), _) => out.push_str(&format!(
            "{lead}replace at {} {unit}: {}, {} less than on failure only; {} of seals fail before that age\n",
            number::significant(age, 3),
            rate(r.cost_rate),
            number::percent(r.saving),
            number::percent(r.failure_probability),
        )),
        (None, reason) => out.push_str(&format!(
            "{lead}replace on failure only: {}\n  {}\n",
            rate(r.cost_rate),
            reason.as_deref().unwrap_or_default()
        )),
    }
    let mut rows = vec![vec![
        "on failure only".to_owned(),
        String::new(),
        rate(b.run_to_failure.cost_rate),
        time_up(b.run_to_failure.availability),
    ]];
    if let Some(age) = r.age {
        rows.insert(
            0,
            vec![
                "this advice".to_owned(),
                number::significant(age, 3),
                rate(r.cost_rate),
                time_up(r.availability),
            ],
        );
        for (label, off) in [
            ("a quarter early", &r.quarter_early),
            ("a quarter late", &r.quarter_late),
        ] {
            if let Some(off) = off {
                rows.push(vec![
                    label.to_owned(),
                    number::significant(off.age, 3),
                    format!(
                        "{} ({})",
                        rate(off.cost_rate),
                        extra(off.extra_share, d.goal)
                    ),
                    String::new(),
                ]);
            }
        }
    }
    out.push_str(&table(
        &["", &format!("age, {unit}"), "cost", "time up"],
        &rows,
    ));
    out.push('\n');
    if let Some((low, high)) = &r.flat_zone {
        let high = high.map_or_else(|| "never".to_owned(), |h| number::significant(h, 3));
        out.push_str(&format!(
            "  within 2 % of the least {}: from {} to {high} {unit}\n",
            d.goal.measure(),
            number::significant(*low, 3)
        ));
    }
    if let Some(ratio) = r.pays_from_ratio {
        out.push_str(&format!(
            "  replacing by age pays when a failure costs more than {} times a planned replacement\n",
            number::significant(ratio, 3)
        ));
    }
    match &b.uncertainty {
        Some(u) => {
            let level = number::level(u.confidence);
            out.push_str(&format!(
                "  what the estimated life leaves open: cost {} to {} ({level} interval)",
                rate(u.cost_rate.0),
                rate(u.cost_rate.1)
            ));
            if let Some((low, high)) = u.best_age {
                let high = high.map_or_else(|| "never".to_owned(), |h| number::significant(h, 3));
                out.push_str(&format!(
                    "; best age {} to {high} {unit}",
                    number::significant(low, 3)
                ));
            }
            out.push_str(&format!(
                "; dearer than waiting for failures in {:.0} of {} lives drawn\n",
                u.worse_than_failure * u.draws as f64,
                u.draws
            ));
        }
        None => out.push_str(&format!(
            "  no interval: {}\n",
            b.uncertainty_reason.as_deref().unwrap_or("no reason known")
        )),
    }
    out.push_str(&format!(
        "  played event by event over {} seals: {} (standard error {})\n",
        number::count(b.simulated.seals as u64),
        rate(b.simulated.cost_rate),
        number::significant(b.simulated.std_error, 2)
    ));
    for note in r.notes.iter().chain(&b.notes) {
        out.push_str(&format!("  {note}\n"));
    }
    out.push_str(&plan_text::more_text(b, d, currency));
    out
}
