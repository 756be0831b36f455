//! A plan of inspections, turns and a replacement age in words.

use crate::table::table;
use sealspan_care::calendar::Calendar;
use sealspan_care::plan::{InspectAnswer, TurnAnswer};
use sealspan_report::analysis::plans::Pen;
use sealspan_report::number;
use sealspan_report::wire::care::{CareBlock, CareDocument, Recommended};

/// Whether there is more to say than on replacement by age.
pub fn is_plan(b: &CareBlock) -> bool {
    b.inspect.is_some()
        || b.turn.is_some()
        || b.delay.is_some()
        || b.recommended.inspect_every.is_some()
}

/// What an answer is written with.
struct Words<'a> {
    unit: &'a str,
    one: &'a str,
    currency: &'a str,
}

impl<'a> Words<'a> {
    fn of(d: &CareDocument, currency: &'a str) -> Words<'a> {
        Words {
            unit: d.unit,
            one: d.unit.strip_suffix('s').unwrap_or(d.unit),
            currency,
        }
    }

    fn rate(&self, x: f64) -> String {
        format!("{} per {}", number::money(x, self.currency), self.one)
    }

    fn age(&self, x: f64) -> String {
        format!("{} {}", number::significant(x, 3), self.unit)
    }

    fn zone(&self, (low, high): (Option<f64>, Option<f64>)) -> String {
        let low = low.map_or_else(
            || "as often as you like".to_owned(),
            |x| number::significant(x, 3),
        );
        let high = high.map_or_else(|| "never".to_owned(), |x| number::significant(x, 3));
        format!("from {low} to {high} {}", self.unit)
    }
}

/// The answer for one block.
pub fn block_text(lead: &str, b: &CareBlock, d: &CareDocument, currency: &str) -> String {
    let w = Words::of(d, currency);
    let mut out = advice(lead, b, &w);
    out.push_str(&policies(b, &w));
    out.push('\n');
    if let Some(inspect) = &b.inspect {
        out.push_str(&inspecting(inspect, &w));
    }
    if let Some(turn) = &b.turn {
        out.push_str(&turning(turn, &w));
    }
    out.push_str(&format!(
        "  the plan played event by event over {} seals: {} (standard error {})\n",
        number::count(b.simulated.seals as u64),
        w.rate(b.simulated.cost_rate),
        number::significant(b.simulated.std_error, 2)
    ));
    if let Some(practice) = &b.common_practice {
        let pen = Pen {
            unit: d.unit,
            currency,
            goal: d.goal,
            calendar: Some(Calendar::Months.word()),
        };
        out.push_str(&format!("  {}\n", pen.common(practice)));
    }
    if let Some(reason) = &b.uncertainty_reason {
        out.push_str(&format!("  no interval: {reason}\n"));
    }
    for note in &b.notes {
        out.push_str(&format!("  {note}\n"));
    }
    out.push_str(&more_text(b, d, currency));
    out
}

fn advice(lead: &str, b: &CareBlock, w: &Words) -> String {
    let r = &b.recommended;
    let mut parts = vec![];
    if let Some(step) = r.inspect_every {
        parts.push(format!("inspect every {}", w.age(step)));
    }
    if let Some(step) = r.turn_every {
        let sectors = match b.turn.as_ref().map_or(1, |turn| turn.by_sectors) {
            1 => "one sector".to_owned(),
            n => format!("{n} sectors"),
        };
        let times = r.inspect_every.map(|look| step / look);
        parts.push(match times {
            Some(times) if (times - 1.0).abs() < 1e-6 => {
                format!("turn it by {sectors} each time")
            }
            Some(times) if times > 1.5 && (times - times.round()).abs() < 1e-6 => format!(
                "turn it by {sectors} at every {}th inspection",
                times.round()
            )
            .replace("2th", "2nd")
            .replace("3th", "3rd"),
            _ => format!("turn it by {sectors} every {}", w.age(step)),
        });
    }
    match r.replace_at {
        Some(age) => parts.push(format!("replace at {}", w.age(age))),
        None if r.inspect_every.is_some() => {
            parts.push("replace what is found worn or failed".to_owned())
        }
        None => parts.push("replace on failure only".to_owned()),
    }
    let saving = match r.saving {
        Some(share) if share > 0.0 => {
            format!(", {} less than on failure only", number::percent(share))
        }
        Some(share) if share < 0.0 => {
            format!(", {} more than on failure only", number::percent(-share))
        }
        _ => String::new(),
    };
    let doubt = if b.far_beyond_records {
        "no advice: the age lies beyond twice the oldest seal seen; the figures below show what the law would say\n"
    } else {
        ""
    };
    format!(
        "{lead}{doubt}{}: {}{saving}\n  of 100 seals {}\n",
        parts.join(", "),
        w.rate(r.cost_rate),
        ends(r)
    )
}

/// How seals end, in whole seals of a hundred.
fn ends(o: &Recommended) -> String {
    let share = |share: f64, what: &str| {
        (share >= 5e-5).then(|| format!("{} {what}", number::significant(100.0 * share, 2)))
    };
    let all = [
        share(o.found, "are found worn in time"),
        share(o.failed, "fail"),
        share(o.preventive, "reach the replacement age"),
        share(o.damaged, "are spoilt by handling"),
    ];
    all.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

fn policies(b: &CareBlock, w: &Words) -> String {
    let row = |name: String, rate: f64, failed: Option<f64>, up: Option<f64>| {
        vec![
            name,
            w.rate(rate),
            failed.map_or_else(String::new, number::percent),
            up.filter(|up| *up < 1.0)
                .map_or_else(String::new, number::percent),
        ]
    };
    let r = &b.recommended;
    let mut rows = vec![row(
        "this plan".to_owned(),
        r.cost_rate,
        Some(r.failed),
        Some(r.availability),
    )];
    if let Some((inspect, every)) = b.inspect.as_ref().and_then(|i| Some((i, i.every?))) {
        let f = &inspect.figures;
        let name = format!("inspect every {}", w.age(every));
        rows.push(row(name, f.cost_rate, Some(f.failed), Some(f.availability)));
    }
    if let Some((turn, every)) = b.turn.as_ref().and_then(|t| Some((t, t.every?))) {
        rows.push(row(
            format!("turn every {}", w.age(every)),
            turn.cost_rate,
            None,
            None,
        ));
    }
    if let Some(age) = b.replace.age {
        rows.push(row(
            format!("replace at {} only", w.age(age)),
            b.replace.cost_rate,
            Some(b.replace.failure_probability),
            b.replace.availability,
        ));
    }
    if let Some(turn) = &b.turn {
        let mended = &turn.alignment_mended;
        rows.push(row(
            "alignment mended, on failure only".to_owned(),
            mended.cost_rate,
            None,
            None,
        ));
    }
    let run = &b.run_to_failure;
    rows.push(row(
        "on failure only".to_owned(),
        run.cost_rate,
        Some(1.0),
        run.availability,
    ));
    table(&["", "cost", "fail", "time up"], &rows)
}

fn inspecting(i: &InspectAnswer, w: &Words) -> String {
    let mut out = String::new();
    if let Some(reason) = &i.reason {
        out.push_str(&format!("  inspecting alone: {reason}\n"));
    }
    if let Some(zone) = i.flat_zone {
        out.push_str(&format!(
            "  inspecting alone, within 2 % of the least: {}\n",
            w.zone(zone)
        ));
    }
    if let Some(missed) = i.missed {
        out.push_str(&format!(
            "  a defect that appears at any time between two looks leaks before it is found with chance {}\n",
            number::percent(missed)
        ));
    }
    if let Some(price) = i.pays_up_to_inspection_cost {
        out.push_str(&format!(
            "  inspecting alone saves 1 % or more while the labour of one look costs less than {}\n",
            number::money(price, w.currency)
        ));
    }
    if let (Some(schedule), Some(rate)) = (&i.schedule, i.schedule_cost_rate) {
        let first: Vec<String> = schedule
            .iter()
            .take(5)
            .map(|t| number::significant(*t, 3))
            .collect();
        out.push_str(&format!(
            "  looks that shift with age would cost {}: at {}{}\n",
            w.rate(rate),
            first.join(", "),
            if schedule.len() > 5 { ", ..." } else { "" }
        ));
    }
    for note in &i.notes {
        out.push_str(&format!("  inspecting alone: {note}\n"));
    }
    out
}

fn turning(t: &TurnAnswer, w: &Words) -> String {
    let mut out = String::new();
    if let Some(reason) = &t.reason {
        out.push_str(&format!("  turning alone: {reason}\n"));
    }
    out.push_str(&match t.every {
        Some(every) => format!(
            "  turned every {}: mean life {} ({} times never turned), 10 % gone by {}",
            w.age(every),
            w.age(t.mean_life),
            number::significant(t.life_ratio, 3),
            w.age(t.b10)
        ),
        None => format!(
            "  never turned: mean life {}, 10 % gone by {}",
            w.age(t.mean_life),
            w.age(t.b10)
        ),
    });
    out.push_str(&format!(
        "; the most that turning can give is {} times never turned\n",
        number::significant(t.limit_ratio, 3)
    ));
    if let Some(zone) = t.flat_zone {
        out.push_str(&format!(
            "  turning alone, within 2 % of the least: {}\n",
            w.zone(zone)
        ));
    }
    if let Some(price) = t.pays_up_to_turn_cost {
        out.push_str(&format!(
            "  turning alone saves 1 % or more while the labour of one turn costs less than {}\n",
            number::money(price, w.currency)
        ));
    }
    out.push_str(&format!(
        "  mending the alignment so that the same wear falls evenly: mean life {} without any turning\n",
        w.age(t.alignment_mended.mean_life)
    ));
    for note in &t.notes {
        out.push_str(&format!("  turning alone: {note}\n"));
    }
    out
}

/// Answers to the further questions.
pub fn more_text(b: &CareBlock, d: &CareDocument, currency: &str) -> String {
    let w = Words::of(d, currency);
    let mut out = String::new();
    if let Some(value) = b.recommended.present_value {
        out.push_str(&format!(
            "  present value of all replacements to come, first fitting not counted: {}",
            number::money(value, currency)
        ));
        out.push_str(&match b.run_to_failure.present_value {
            Some(run) => format!(" ({} on failure only)\n", number::money(run, currency)),
            None => "\n".to_owned(),
        });
    }
    if let Some(block) = &b.more.block_replacement {
        out.push_str(&match (block.every, &block.reason) {
            (Some(every), _) => format!(
                "  all seals of a group at once every {}: {}\n",
                w.age(every),
                w.rate(block.cost_rate)
            ),
            (None, reason) => format!(
                "  all seals of a group at once: {}\n",
                reason.as_deref().unwrap_or_default()
            ),
        });
    }
    if let Some(o) = &b.more.opportunity {
        out.push_str(&match o.from_age {
            Some(from) => format!(
                "  open anyway once in {} on average: replace then from an age of {} on{}: {}, {} less than without\n",
                w.age(o.mean_between),
                w.age(from),
                o.replace_at.map_or_else(String::new, |age| format!(", and at {} at the latest", w.age(age))),
                w.rate(o.figures.cost_rate),
                number::percent(o.saving.max(0.0))
            ),
            None => "  open anyway: not worth replacing a sound seal then\n".to_owned(),
        });
    }
    if let Some(h) = &b.more.horizon {
        out.push_str(&format!(
            "  over the next {} only: {}, {} expected ({} on failure only)\n",
            w.age(h.horizon),
            h.age.map_or_else(
                || "on failure only".to_owned(),
                |age| format!("replace at {}", w.age(age))
            ),
            number::money(h.expected_cost, currency),
            number::money(h.on_failure_only, currency)
        ));
    }
    if let Some(s) = &b.more.stop_gap {
        out.push_str(&format!(
            "  a worn seal of {} lasts {} more with chance {} as it lies",
            w.age(s.age),
            w.age(s.wait),
            number::percent(s.as_it_lies)
        ));
        out.push_str(&match (s.turned, s.turn_by) {
            (Some(chance), Some(by)) => format!(
                "; turned now by {by} {}: {}\n",
                if by == 1 { "sector" } else { "sectors" },
                number::percent(chance)
            ),
            (Some(chance), None) => format!(
                "; turned now so that the worn place lies where the frame wears least: {}\n",
                number::percent(chance)
            ),
            (None, _) => format!("; turned: not known, {}\n", s.reason.unwrap_or_default()),
        });
        out.push_str(&format!(
            "    taken as known: {}. A chance is no permission: keep it only where a leak does no harm.\n",
            s.meaning
        ));
    }
    out
}
