//! A whole plan from records in the terminal: the sentences, today's practice, the options, the swings.

use super::plan_text;
use crate::table::table;
use sealspan_report::analysis::plans::Pen;
use sealspan_report::number;
use sealspan_report::wire::care::{CareBlock, CareDocument};
use sealspan_report::wire::plan::WholePlan;

/// Ages of looks, options and swings shown; the JSON holds all.
const SHIFTED: usize = 5;
const OPTIONS: usize = 5;
const SWINGS: usize = 6;

/// The answer for one group.
pub fn block_text(
    lead: &str,
    plan: &WholePlan,
    b: &CareBlock,
    d: &CareDocument,
    currency: &str,
) -> String {
    let pen = Pen {
        unit: d.unit,
        currency,
        goal: d.goal,
        calendar: plan.weighed.calendar,
    };
    let mut out = String::new();
    if b.far_beyond_records {
        out.push_str(&format!(
            "{lead}no advice: the replacement age lies beyond twice the oldest seal seen, where only the law speaks; the figures below show what it would say\n"
        ));
    }
    for (i, sentence) in plan.sentences.iter().enumerate() {
        let start = if i == 0 { lead } else { "  " };
        out.push_str(&format!("{start}{sentence}\n"));
    }
    out.push_str(&looking_alone(b, &pen));
    out.push_str(&today(plan, &pen));
    out.push_str(&options(plan, &pen));
    out.push_str(&swings(plan, &pen));
    out.push_str(&format!(
        "  the plan played event by event at the estimates over {} seals: {} (standard error {}); worked out: {}\n",
        number::count(b.simulated.seals as u64),
        number::money(b.simulated.cost_rate, currency),
        number::significant(b.simulated.std_error, 2),
        number::money(b.recommended.cost_rate, currency),
    ));
    if let Some(measured) = &b.measured_limit {
        for sentence in &measured.sentences {
            out.push_str(&format!("  {sentence}\n"));
        }
    }
    if let Some(why) = &b.measured_limit_reason {
        out.push_str(&format!("  No measured limit: {why}.\n"));
    }
    for note in &b.notes {
        out.push_str(&format!("  {note}\n"));
    }
    out.push_str(&plan_text::more_text(b, d, currency));
    out
}

/// What looks by themselves come to, at even steps and at ages that shift; nothing where they are not worth it.
fn looking_alone(b: &CareBlock, pen: &Pen) -> String {
    let Some((inspect, every)) = b.inspect.as_ref().and_then(|i| Some((i, i.every?))) else {
        return String::new();
    };
    let per = pen.unit.strip_suffix('s').unwrap_or(pen.unit);
    let rate = |x: f64| format!("{} per {per}", number::money(x, pen.currency));
    let age = |x: &f64| number::significant(*x, 3);
    let shifted = match (&inspect.schedule, inspect.schedule_cost_rate) {
        (Some(ages), Some(cost)) => {
            let first: Vec<String> = ages.iter().take(SHIFTED).map(age).collect();
            let on = if ages.len() > SHIFTED { ", ..." } else { "" };
            format!(
                "; at ages that shift, {}{on}, {}",
                first.join(", "),
                rate(cost)
            )
        }
        _ => String::new(),
    };
    format!(
        "  Looking alone, without a replacement age, at the estimates: best every {} {}, {}{shifted}.\n",
        age(&every),
        pen.unit,
        rate(inspect.figures.cost_rate)
    )
}

fn today(plan: &WholePlan, pen: &Pen) -> String {
    if plan.practice.sites.is_empty() {
        return String::new();
    }
    let often =
        |t: Option<f64>| t.map_or_else(|| "hardly ever".to_owned(), |t| number::significant(t, 3));
    let rows: Vec<Vec<String>> = plan
        .practice
        .sites
        .iter()
        .map(|s| {
            vec![
                s.site.clone().unwrap_or_else(|| "all".to_owned()),
                number::count(s.seals),
                number::percent(s.share),
                often(s.inspect_every),
                often(s.turn_every),
                s.replace_at
                    .map_or_else(|| "no age".to_owned(), |t| number::significant(t, 3)),
            ]
        })
        .collect();
    let heads = [
        "today's practice",
        "seals",
        "of seal-time",
        &format!("looked at every, {}", pen.unit),
        "turned every",
        "replaced at",
    ];
    format!("{}\n", table(&heads, &rows))
}

fn options(plan: &WholePlan, pen: &Pen) -> String {
    let rows: Vec<Vec<String>> = plan
        .weighed
        .options
        .iter()
        .take(OPTIONS)
        .map(|o| {
            vec![
                pen.policy(&o.policy),
                number::percent(o.chance_best),
                pen.measure(o.mean),
                number::percent(o.failed),
            ]
        })
        .collect();
    let heads = ["option", "chance it is best", "on average", "fail"];
    format!("{}\n", table(&heads, &rows))
}

fn swings(plan: &WholePlan, pen: &Pen) -> String {
    let two = plan.stages == "two_stage";
    let rows: Vec<Vec<String>> = plan
        .weighed
        .swings
        .iter()
        .take(SWINGS)
        .map(|s| {
            let end = |own: f64, best: f64, policy| {
                let better = if own > best * 1.02 {
                    format!("; better: {}", pen.policy(policy))
                } else {
                    String::new()
                };
                format!("{}{better}", pen.measure(own))
            };
            vec![
                format!(
                    "{}: {} to {} ({})",
                    s.input.words(two),
                    number::significant(s.low, 3),
                    number::significant(s.high, 3),
                    s.range
                ),
                end(s.plan_at_low, s.best_at_low, &s.policy_at_low),
                end(s.plan_at_high, s.best_at_high, &s.policy_at_high),
            ]
        })
        .collect();
    let heads = [
        "one input moved by itself",
        "the plan at its low end",
        "at its high end",
    ];
    format!("{}\n", table(&heads, &rows))
}
