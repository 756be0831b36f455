//! A whole plan in sentences: what to do, what it costs then and now, how sure it is, why, and what
//! would change it.

use super::{other_laws, words_basis};
use crate::number;
use crate::wire::care::{CareBlock, PlanQuestion};
use crate::wire::plan::WholePlan;
use sealspan_care::calendar::Calendar;
use sealspan_care::costs::{DAYS_PER_YEAR, hours_per_unit};
use sealspan_care::replacement::Goal;
use sealspan_care::weigh::{Average, Candidate, CommonPractice, Flip, Swing};

/// Flips told.
const FLIPS: usize = 3;
/// Share from which a change of the measure is worth a word.
const WORTH_SAYING: f64 = 0.005;

/// Difference of booked and modelled cost from which reasons are given.
const WORTH_EXPLAINING: f64 = 0.05;

/// How measures and ages are written.
///
/// ```
/// use sealspan_care::replacement::Goal;
/// use sealspan_care::weigh::{Candidate, CommonPractice};
/// use sealspan_report::analysis::plans::Pen;
/// let plain = |text: String| text.replace('\u{a0}', " "); // numbers and units are held together
/// let pen = Pen { unit: "days", currency: "EUR", goal: Goal::Cost, calendar: None };
/// assert_eq!(plain(pen.measure(2.5)), "EUR 2.50 per day");
/// let down = Pen { goal: Goal::Availability, ..pen };
/// assert_eq!(plain(down.measure(0.25)), "25 % of the time down");
/// let policy = Candidate { inspect_every: Some(60.0), turn_every: Some(120.0), replace_at: None };
/// let words = "inspect every 60.0 days, turn it at one inspection in 2, replace what is found worn";
/// assert_eq!(plain(pen.policy(&policy)), words);
/// let practice = CommonPractice {
///     policy,
///     measure: 2.5,
///     extra_share: 0.25,
///     failed: 0.1,
///     availability: 0.99,
///     keeps_limits: Some(true),
///     because: vec!["it looks too often".to_owned()],
/// };
/// assert_eq!(plain(pen.common(&practice)), format!(
///     "Common practice (no source), {words}, is 25 % above the plan (EUR 2.50 per day) and keeps the limits: \
///      it looks too often."
/// ));
/// ```
pub struct Pen<'a> {
    /// Unit of ages.
    pub unit: &'static str,
    /// Currency.
    pub currency: &'a str,
    /// What is least.
    pub goal: Goal,
    /// Step of the calendar.
    pub calendar: Option<&'static str>,
}

impl Pen<'_> {
    /// A measure: money per unit of the clock, or the share of time down.
    #[must_use]
    pub fn measure(&self, x: f64) -> String {
        match self.goal {
            Goal::Cost => {
                let one = self.unit.strip_suffix('s').unwrap_or(self.unit);
                format!("{} per {one}", number::money(x, self.currency))
            }
            Goal::Availability => format!("{} of the time down", number::percent(x)),
        }
    }

    pub(super) fn interval(&self, a: &Average, level: &str) -> String {
        format!(
            "{} ({level} interval {} to {})",
            self.measure(a.mean),
            self.measure(a.lower),
            self.measure(a.upper)
        )
    }

    /// A measure with its sign: a saving that may be a loss.
    #[must_use]
    pub(crate) fn signed(&self, x: f64) -> String {
        if x < 0.0 {
            format!("\u{2212}{}", self.measure(-x))
        } else {
            self.measure(x)
        }
    }

    /// An age in whole steps of the calendar where it is one, else in the unit.
    #[must_use]
    pub(crate) fn age(&self, x: f64) -> String {
        let plain = format!("{} {}", number::significant(x, 3), self.unit);
        let all = [Calendar::Weeks, Calendar::Months, Calendar::Quarters];
        let step = all.into_iter().find(|c| Some(c.word()) == self.calendar);
        let Some(step) = step else {
            return plain;
        };
        let count = x / step.days();
        if (count - count.round()).abs() > 1e-6 || count < 0.5 {
            return plain;
        }
        let plural = if count < 1.5 { "" } else { "s" };
        format!("{:.0} {}{plural} ({plain})", count.round(), step.word())
    }

    /// How far a plan is from common practice, and why.
    #[must_use]
    pub fn common(&self, c: &CommonPractice) -> String {
        let off = if c.extra_share.abs() < WORTH_SAYING {
            "costs as much as the plan".to_owned()
        } else if c.extra_share > 0.0 {
            format!("is {} above the plan", number::percent(c.extra_share))
        } else {
            format!(
                "is {} below the plan at the estimates",
                number::percent(-c.extra_share)
            )
        };
        let kept = match c.keeps_limits {
            None => String::new(),
            Some(true) => " and keeps the limits".to_owned(),
            Some(false) => format!(
                " and does not keep the limits ({} fail, {} of the time up)",
                number::percent(c.failed),
                number::percent(c.availability)
            ),
        };
        format!(
            "Common practice (no source), {}, {off} ({}){kept}: {}.",
            self.policy(&c.policy),
            self.measure(c.measure),
            c.because.join("; ")
        )
    }

    /// A policy.
    #[must_use]
    pub fn policy(&self, c: &Candidate) -> String {
        let mut parts = vec![];
        if let Some(step) = c.inspect_every {
            parts.push(format!("inspect every {}", self.age(step)));
        }
        if let Some(turn) = c.turn_every {
            parts.push(match c.inspect_every.map(|look| turn / look) {
                Some(n) if (n - 1.0).abs() < 1e-6 => "turn it each time".to_owned(),
                Some(n) if (n - n.round()).abs() < 1e-6 => {
                    format!("turn it at one inspection in {:.0}", n.round())
                }
                _ => format!("turn it every {}", self.age(turn)),
            });
        }
        match c.replace_at {
            Some(age) => parts.push(format!("replace at {}", self.age(age))),
            None if c.inspect_every.is_some() => {
                parts.push("replace what is found worn".to_owned())
            }
            None => parts.push("replace on failure only".to_owned()),
        }
        parts.join(", ")
    }
}

/// All sentences, the answer first.
pub(super) fn sentences(
    plan: &WholePlan,
    block: &CareBlock,
    question: &PlanQuestion,
    oldest: Option<f64>,
) -> Vec<String> {
    let pen = Pen {
        unit: question.costs.clock().unit(),
        currency: &question.currency,
        goal: question.request.goal,
        calendar: plan.weighed.calendar,
    };
    let level = number::level(question.confidence);
    if let Some(no_advice) = beyond(plan, &pen, oldest) {
        let alone = format!("By the law alone: {}", answer(plan, &pen, &level));
        let stages = words_basis::stages(plan);
        return [no_advice, alone].into_iter().chain(stages).collect();
    }
    let mut out = vec![answer(plan, &pen, &level)];
    out.extend(money(plan, &pen, &level, question));
    // A policy that was stated in full is no choice to be sure of.
    let chosen = plan.weighed.policies > 1;
    if chosen {
        out.push(sureness(plan, &pen));
        out.extend(why(plan, &pen));
        out.extend(flips(plan, &pen));
        out.extend(more(plan, &pen));
    } else {
        out.push(STATED.to_owned());
    }
    out.extend(words_basis::stages(plan));
    if chosen {
        out.extend(other_laws::sentence(&plan.other_laws, &pen));
    }
    out.extend(words_basis::turning(plan, question));
    out.extend(block.common_practice.as_ref().map(|c| pen.common(c)));
    out
}

/// Said of a policy that leaves nothing to choose.
const STATED: &str = "Looks, turns and replacement age were stated, so nothing was chosen here, and nothing is said of how sure a choice is: leave one of --inspect-every, --turn-every and --replace-at out to have it searched for.";

/// Where the plan rests on lives past all that was seen.
fn beyond(plan: &WholePlan, pen: &Pen, oldest: Option<f64>) -> Option<String> {
    let (share, oldest) = plan.beyond_records.zip(oldest)?;
    Some(format!(
        "Not advice beyond what was seen: {} of these seals would pass {} {}, the oldest age in these records, where only the law speaks. Go on changing and looking as before, watch longer, or pool like groups.",
        number::percent(share),
        number::tidy(oldest),
        pen.unit
    ))
}

fn answer(plan: &WholePlan, pen: &Pen, level: &str) -> String {
    let w = &plan.weighed;
    let kept = w.chance_of_keeping_limits.map_or_else(String::new, |c| {
        format!(
            "; the limits are kept on average, and in {} of the lives drawn",
            number::percent(c)
        )
    });
    let does = pen.policy(&w.plan);
    format!(
        "{}{}: {}, {} of seals fail{kept}.",
        does.chars()
            .next()
            .map(|c| c.to_uppercase().to_string())
            .unwrap_or_default(),
        does.chars().skip(1).collect::<String>(),
        pen.interval(&w.then, level),
        number::percent(w.failed)
    )
}

/// Cost now and then.
fn money(plan: &WholePlan, pen: &Pen, level: &str, question: &PlanQuestion) -> Vec<String> {
    let mut out = vec![];
    if let Some(today) = &plan.weighed.today {
        let now = if plan.against_counts {
            "The failures, removals, looks and turns that the records counted come to"
        } else {
            "Cared for as the records show today, it is"
        };
        let mut text = format!(
            "{now} {}; the plan saves {}",
            pen.interval(&today.now, level),
            pen.interval(&today.saving, level)
        );
        let units = hours_per_unit(question.costs.clock()).map(|h| DAYS_PER_YEAR * 24.0 / h);
        if let (Goal::Cost, Some(units)) = (pen.goal, units) {
            text.push_str(&format!(
                ", {} a year for each position",
                number::money(today.saving.mean * units, pen.currency)
            ));
        }
        out.push(format!(
            "{text}, and is dearer than today's practice with chance {}.",
            number::chance(today.chance_dearer, plan.weighed.draws)
        ));
    }
    if plan.against_counts {
        let chance = plan
            .practice
            .booked_rate
            .map_or_else(String::new, |booked| by_chance(plan, booked));
        out.push(format!("Today's practice is not priced by the law here, which in one stage would let every seal fail that today's looks find worn{chance}."));
        return out;
    }
    if let (Goal::Cost, Some(booked)) = (pen.goal, plan.practice.booked_rate) {
        let note = plan.practice.booked_note.as_ref();
        out.push(format!(
            "The recorded failures, removals, looks and turns themselves come to {} at these prices{}{}.",
            pen.measure(booked),
            note.map_or_else(String::new, |n| format!(" ({n})")),
            apart(plan, booked)
        ));
    }
    out
}

/// How far chance moves the booked figure.
fn by_chance(plan: &WholePlan, booked: f64) -> String {
    plan.practice.booked_error.map_or_else(String::new, |e| {
        format!(
            "; chance alone moves the booked figure by about \u{b1}{} (one standard error)",
            number::percent(e / booked)
        )
    })
}

/// How far the booked figure lies from the priced practice, and the likely reasons.
fn apart(plan: &WholePlan, booked: f64) -> String {
    let Some(today) = &plan.weighed.today else {
        return String::new();
    };
    let off = booked / today.now.mean - 1.0;
    let chance = by_chance(plan, booked);
    if off.abs() < WORTH_EXPLAINING {
        return format!(
            ", within {} of the priced practice{chance}",
            number::percent(WORTH_EXPLAINING)
        );
    }
    format!(
        ", {} {} the priced practice{chance}. What else sets them apart: the priced practice goes on for ever at even steps, while the records hold younger seals, uneven visits and removals at other openings that no policy names; or a law that does not suit",
        number::percent(off.abs()),
        if off < 0.0 { "below" } else { "above" }
    )
}

fn sureness(plan: &WholePlan, pen: &Pen) -> String {
    let w = &plan.weighed;
    let r = &w.regret;
    let mine = w.options.iter().find(|o| o.policy == w.plan);
    format!(
        "Chance of being wrong (another policy over 2 % better): {}; the plan is the very best of {} policies in {} of {} lives drawn. The choice costs {} on average over knowing the laws exactly ({} of the plan, the most that any study is worth), and at most {} in nine cases of ten.",
        number::percent(r.chance_of_being_wrong),
        w.policies,
        number::percent(mine.map_or(0.0, |o| o.chance_best)),
        w.draws,
        pen.measure(r.mean),
        number::percent(r.mean_share),
        pen.measure(r.quantile_90)
    )
}

/// What the other kinds of policy would come to.
fn why(plan: &WholePlan, pen: &Pen) -> Option<String> {
    let w = &plan.weighed;
    let parts: Vec<String> = w
        .alternatives
        .iter()
        .filter(|o| o.policy.kind() != w.plan.kind())
        .map(|o| {
            let extra = o.mean / w.then.mean - 1.0;
            let much = if extra.abs() < WORTH_SAYING {
                "as much".to_owned()
            } else if extra > 0.0 {
                format!("{} more", number::percent(extra))
            } else {
                format!("{} less, but out of the limits", number::percent(-extra))
            };
            format!("{}: {much}", pen.policy(&o.policy))
        })
        .collect();
    (!parts.is_empty())
        .then(|| format!("Why: the best of each other kind is {}.", parts.join("; ")))
}

fn flips(plan: &WholePlan, pen: &Pen) -> Option<String> {
    let two = plan.stages == "two_stage";
    let mut all: Vec<(&Swing, &Flip)> = plan
        .weighed
        .swings
        .iter()
        .flat_map(|s| {
            let both = [s.flips_below.as_ref(), s.flips_above.as_ref()];
            both.into_iter().flatten().map(move |f| (s, f))
        })
        .collect();
    all.sort_by(|a, b| a.1.factor.ln().abs().total_cmp(&b.1.factor.ln().abs()));
    let said: Vec<String> = all
        .iter()
        .take(FLIPS)
        .map(|(s, f)| {
            format!(
                "{} at {} ({} times {}): {}",
                s.input.words(two),
                number::significant(f.at, 3),
                number::significant(f.factor, 2),
                number::significant(s.value, 3),
                pen.policy(&f.to)
            )
        })
        .collect();
    if said.is_empty() {
        return Some(
            "What would flip it: no input by itself, moved to a fifth or to five times its value, makes another policy over 2 % better.".to_owned(),
        );
    }
    Some(format!(
        "What would flip it, nearest first: {}.",
        said.join("; ")
    ))
}

fn more(plan: &WholePlan, pen: &Pen) -> Option<String> {
    let m = plan.weighed.more_watching.as_ref()?;
    let much = |time: f64, months: Option<f64>| match months {
        Some(months) => format!("{} seal-months", number::significant(months, 2)),
        None => format!("{} seal-{}", number::significant(time, 2), pen.unit),
    };
    let again = m.value_of_as_much_again.max(0.0);
    let worth = format!(
        " Watching as long again would save {} on average by choosing anew.",
        pen.measure(again)
    );
    let how = match m.seal_time {
        Some(time) if time <= 0.0 && plan.beyond_records.is_some() => {
            "by these laws no more is needed to choose, but what they say of ages past the records is not known".to_owned()
        }
        Some(time) if time <= 0.0 => {
            "the choice is safe as it is (expected regret at most 1 % of the plan)".to_owned()
        }
        Some(time) => format!(
            "about {} more, beside {} so far, bring the expected regret down to 1 % of the plan (normal approximation)",
            much(time, m.seal_months),
            much(
                m.watched,
                m.seal_months.map(|months| months * m.watched / time)
            )
        ),
        None => m.reason.unwrap_or("not known").to_owned(),
    };
    Some(format!("More watching: {how}.{worth}"))
}
