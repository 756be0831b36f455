//! What a whole plan rests on in sentences: its stages and their doubts, and the frames that it turns seals on.

use crate::number;
use crate::wire::care::PlanQuestion;
use crate::wire::plan::WholePlan;

pub(super) fn stages(plan: &WholePlan) -> Vec<String> {
    let mut out = vec![];
    if let Some(reason) = &plan.stages_reason {
        out.push(format!(
            "Planned in one stage, failure without warning, so looks are not judged: {reason}. What would cure it: {}. Seals taken off worn are read as sound until then, which makes this life look too long where removals catch seals about to fail.",
            plan.cure.as_deref().unwrap_or("not known")
        ));
    }
    for doubt in &plan.doubts {
        out.push(format!("Doubt: {}; mend: {}.", doubt.message, doubt.mend));
    }
    out
}

pub(super) fn turning(plan: &WholePlan, question: &PlanQuestion) -> Option<String> {
    if let Some(why) = &plan.turning_reason {
        return Some(format!("Turning is not judged: {why}."));
    }
    let t = plan.turning.as_ref()?;
    let wear: Vec<String> = t
        .severities
        .iter()
        .enumerate()
        .map(|(i, w)| {
            let range = t.severity_intervals.as_ref().and_then(|list| list.get(i));
            let range = range.map_or_else(String::new, |[low, high]| {
                format!(
                    " ({} to {})",
                    number::fixed(*low, 2),
                    number::fixed(*high, 2)
                )
            });
            format!("{}{range}", number::fixed(*w, 2))
        })
        .collect();
    let level = if t.severity_intervals.is_some() {
        format!(", {} intervals", number::level(question.confidence))
    } else {
        String::new()
    };
    let free = if question.handling.turn_cost > 0.0 {
        ""
    } else {
        " A turn at a look costs nothing here, for no turn labour is stated: a plan with turns may cost more than it says."
    };
    let from = t.counts.as_ref().map_or_else(
        || "as stated".to_owned(),
        |c| {
            format!(
                "from {} seals with a known arc, all doors together",
                c.iter().sum::<u32>()
            )
        },
    );
    Some(format!(
        "Turning: the door's sectors wear as {} ({from}{level}); the most that turning can make of the life is {} times. A door out of line gains more: see `sealspan positions`.{free}",
        wear.join(" : "),
        number::significant(t.limit_ratio, 3)
    ))
}
