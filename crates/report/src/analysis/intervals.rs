//! The interval sheet: by material and condition, the age by which few fail and the age of least cost, rounded
//! down, with how far they were tested.

use super::intervals_defects::{Unhindered, unhindered};
use super::intervals_failed::as_failed;
use super::intervals_notes::{notes, sheet_cautions, worn};
use super::prices;
use crate::number;
use crate::wire::GroupKey;
use crate::wire::Number;
use crate::wire::fit::{Detail, FamilyFit, FitDocument, FitOptions, GroupFit, Refitted, document};
use crate::wire::intervals::{
    ClockIntervals, GroupIntervals, Interval, IntervalsDocument, KnownShape,
};
use sealspan_care::calendar::{Calendar, Rounded, rounded_down};
use sealspan_care::costs::{Costs, Prices};
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_life::bounds::Method;
use sealspan_life::family::Family;
use sealspan_records::observation::Observation;
use sealspan_records::{Answer, Clock, Question, Records, Sample, Study, ask};
use std::collections::BTreeMap;

/// Below this many failures no interval is stated (a rule of ours; the fit trusts no free shape below it).
pub(super) const LEAST_FAILURES: f64 = 5.0;
/// p-value below which the law does not suit.
const ILL_SUITED: f64 = 0.05;

/// What is asked.
pub struct SheetQuestion {
    /// Share of seals that may fail within the interval, between 0 and 1.
    pub share: f64,
    /// One-sided confidence c, above one half: the bound is the lower end of a two-sided interval of level 2c - 1.
    pub confidence: f64,
    /// Step that days are rounded down to.
    pub calendar: Calendar,
    /// Family fitted.
    pub family: &'static dyn Family,
    /// Prices, if they are stated.
    pub prices: Option<Prices>,
    /// Seed of everything drawn.
    pub seed: u64,
}

/// The answer on the clock asked for, and on the other one recorded, or why there is only one.
#[must_use]
pub fn clocks(
    records: &Records,
    question: &Question,
    answer: &Answer,
) -> (Vec<Answer>, Option<String>) {
    let mut answers = vec![answer.clone()];
    let other = match question.clock {
        Clock::Days => records.study.question.readings,
        _ => Some(Clock::Days),
    };
    let reason = match other {
        None => Some("the study does not say that readings are recorded".to_owned()),
        Some(clock) => {
            let question = Question {
                clock,
                ..question.clone()
            };
            match ask(records, &question) {
                Ok(answer) => {
                    answers.push(answer);
                    None
                }
                Err(why) => Some(why.message().to_owned()),
            }
        }
    };
    (answers, reason)
}

/// The study's prices, when a failure and a planned replacement both cost something, hours down priced in.
#[must_use]
pub fn prices_of(study: &Study) -> Option<Prices> {
    let given = prices::replacement(study);
    let [failure, planned] = all_in(&given);
    (failure > 0.0 && planned > 0.0).then_some(given)
}

/// A failure and a planned replacement, hours down priced in.
fn all_in(p: &Prices) -> [f64; 2] {
    [
        p.failure_cost + p.failure_hours * p.downtime_cost,
        p.planned_cost + p.planned_hours * p.downtime_cost,
    ]
}

/// How many times a planned replacement a failure costs.
pub(super) fn times_as_dear(p: &Prices) -> f64 {
    let [failure, planned] = all_in(p);
    failure / planned
}

/// Makes the sheet from the answers on each clock, the one asked for first. The age that at most the share fails by is a
/// lower confidence bound of the law's quantile, calibrated by refits while failures are few (by the likelihood ratio with
/// more than 500 groups); the age of least cost is [`Evaluator::best`]'s for the fitted life; stated is the lesser of the
/// two, rounded down ([`rounded_down`]). With fewer than five failures nothing is stated (a rule of ours).
#[must_use]
pub fn sheet(
    records: &Records,
    answers: &[Answer],
    one_clock_reason: Option<String>,
    (by, question): (&[String], &SheetQuestion),
) -> IntervalsDocument {
    // One reading of worn removals for a group on all its clocks, and for the duties of it.
    let whole = super::duties::of_groups(by).map_or_else(Vec::new, |by| {
        let clocks = answers.iter().map(|answer| answer.clock);
        clocks
            .flat_map(|clock| blind(&unhindered(records, by, clock, question)))
            .collect()
    });
    let free: Vec<_> = answers
        .iter()
        .map(|answer| unhindered(records, by, answer.clock, question))
        .collect();
    let own: Vec<(GroupKey, String)> = free.iter().flat_map(|free| blind(free)).collect();
    let blind_groups: Vec<(GroupKey, String)> = own.into_iter().chain(whole).collect();
    let why = |key: &[(String, String)]| {
        let mut all = blind_groups.iter();
        Some(&all.find(|(group, _)| key.starts_with(&group.0))?.1)
    };
    let free: Vec<_> = free
        .into_iter()
        .zip(answers)
        .map(|(free, answer)| {
            let blind = !blind_groups.is_empty();
            (
                free,
                if blind {
                    as_failed(records, by, answer)
                } else {
                    vec![]
                },
            )
        })
        .collect();
    let fitted: Vec<(&Answer, FitDocument)> = answers
        .iter()
        .map(|answer| {
            (
                answer,
                document(records, answer, &options(question, answer)),
            )
        })
        .collect();
    let first = answers.first().map_or(&[][..], |a| a.groups.as_slice());
    let places: Vec<BTreeMap<&[(String, String)], usize>> = answers
        .iter()
        .map(|a| a.groups.iter().map(|g| g.key.as_slice()).zip(0..).collect())
        .collect();
    let groups = first
        .iter()
        .map(|group| {
            let clocks = fitted
                .iter()
                .zip(&places)
                .zip(&free)
                .filter_map(|(((answer, fits), places), (free, failed))| {
                    let at = *places.get(group.key.as_slice())?;
                    let sample = &answer.groups.get(at)?.sample;
                    let clock = answer.clock;
                    let read = on_clock(fits.groups.get(at)?, sample, clock, question);
                    let found = free.iter().find(|(key, _)| key.0 == group.key);
                    let stated = match (why(&group.key), found) {
                        (Some(why), _) => {
                            let failed = failed.get(at).cloned().flatten();
                            let options = options(question, answer);
                            worn_as_failed(read, failed, why, (clock, question, &options))
                        }
                        (None, Some((_, Ok(free)))) => {
                            with_defects(read, free, clock, question.calendar)
                        }
                        (None, _) => read,
                    };
                    let state = stated.state.as_ref();
                    Some(ClockIntervals {
                        watched_then: state.map(|s| watched(sample, s.age)),
                        ..stated
                    })
                })
                .collect();
            together(GroupKey(group.key.clone()), clocks)
        })
        .collect();
    IntervalsDocument {
        schema: "sealspan.intervals.v1",
        share: question.share,
        confidence: question.confidence,
        calendar: question.calendar,
        family: question.family.name(),
        units: answers.iter().map(|a| a.clock.unit()).collect(),
        one_clock_reason,
        cost_reason: question.prices.is_none().then(|| NO_COSTS.to_owned()),
        groups,
        notes: notes(question, worn(records))
            .into_iter()
            .chain(answers.iter().any(many).then(|| {
                format!("With more than {MANY_GROUPS} groups the bounds are those of the likelihood ratio, not calibrated by refits: while failures are few they are somewhat too long. Nor is the law tested group by group: of so many, dozens would be found wanting by chance; `sealspan fit` tests single ones.")
            }))
            .collect(),
        cautions: sheet_cautions(),
    }
}

/// Seals of the sample that were watched at an age.
pub(super) fn watched(sample: &Sample, age: f64) -> f64 {
    let there = |o: &&Observation| o.entry() <= age && o.last() >= age;
    let rows = sample.rows().iter().filter(there);
    rows.map(Observation::count).sum()
}

/// Groups whose log cannot tell defects, and why.
fn blind(free: &[(GroupKey, Result<Unhindered, String>)]) -> Vec<(GroupKey, String)> {
    let err = |(key, read): &(GroupKey, Result<Unhindered, String>)| {
        Some((key.clone(), read.as_ref().err()?.clone()))
    };
    free.iter().filter_map(err).collect()
}

fn many(answer: &Answer) -> bool {
    answer.groups.len() > MANY_GROUPS
}

const LESS_THAN_ONE: &str = "seals is less than one seal";
const NO_COSTS: &str =
    "no costs are stated: give [costs] with a seal price and what a failure costs in a study file";

/// From more groups than this bounds are not calibrated by refits: they would take minutes (a rule of ours).
const MANY_GROUPS: usize = 500;

fn options(question: &SheetQuestion, answer: &Answer) -> FitOptions {
    FitOptions {
        unit: answer.clock.unit(),
        families: vec![question.family],
        bounds: many(answer).then_some(Method::Profile),
        // The lower end of a two-sided interval is the one-sided bound.
        confidence: 2.0 * question.confidence - 1.0,
        quantiles: vec![question.share],
        at: vec![],
        ages_now: vec![],
        shape: None,
        residuals: false,
        refitted: match many(answer) {
            true => Refitted::None,
            false => Refitted::First,
        },
        detail: match many(answer) {
            true => Detail::Shares,
            false => Detail::Whole,
        },
        seed: question.seed,
    }
}

fn on_clock(
    group: &GroupFit,
    sample: &Sample,
    clock: Clock,
    question: &SheetQuestion,
) -> ClockIntervals {
    let tally = sample.tally();
    let (failures, oldest) = (tally.failures(), sample.oldest());
    let first = group.fits.first();
    let few = (failures < LEAST_FAILURES).then(|| too_few(failures));
    let age_of_share = first
        .and_then(|f| f.quantiles.first())
        .map(|q| q.number.clone())
        .unwrap_or_default();
    let place = |age: Option<f64>, reason: Option<String>| {
        placed(age, reason, oldest, clock, question.calendar)
    };
    let (at_most_share, least_cost) = match &few {
        Some(why) => (
            place(None, Some(why.clone())),
            place(None, Some(why.clone())),
        ),
        None => {
            let (age, reason) = bound(&age_of_share);
            let (best, why) = least_cost(first, clock, question);
            (place(age, reason), place(best, why))
        }
    };
    let (state, state_reason) = lesser(&at_most_share, &least_cost);
    ClockIntervals {
        unit: clock.unit(),
        seals: tally.total(),
        failures,
        watched_then: None,
        oldest_seen: oldest,
        warnings: warnings(first, failures, tally.total(), question),
        age_of_share,
        at_most_share,
        least_cost,
        basis: "sound_until_removed",
        basis_reason: None,
        state,
        state_reason,
        if_shape_known: group
            .assumed_shapes
            .iter()
            .filter_map(|a| {
                Some(KnownShape {
                    shape: a.shape,
                    source: a.source,
                    age: a.quantiles.first()?.lower,
                })
            })
            .collect(),
    }
}

/// The same with removals of worn seals as failures, since the log cannot tell defects and `why`.
fn worn_as_failed(
    read: ClockIntervals,
    failed: Option<Sample>,
    why: &str,
    (clock, question, options): (Clock, &SheetQuestion, &FitOptions),
) -> ClockIntervals {
    let reason = Some(why.to_owned());
    let Some(sample) = failed.filter(|_| read.at_most_share.age.is_some()) else {
        return ClockIntervals {
            basis_reason: reason,
            ..read
        };
    };
    let fit = crate::wire::fit::group(crate::wire::GroupKey::default(), &sample, options);
    let short = on_clock(&fit, &sample, clock, question);
    let (state, state_reason) = lesser(&short.at_most_share, &read.least_cost);
    ClockIntervals {
        at_most_share: short.at_most_share,
        age_of_share: short.age_of_share,
        warnings: short
            .warnings
            .iter()
            .map(|doubt| format!("with worn seals read as failed, {doubt}"))
            .collect(),
        basis: FAILED,
        basis_reason: reason,
        state,
        state_reason,
        ..read
    }
}

/// The word in [`ClockIntervals::basis`] for removals of worn seals that are read as failures.
pub const FAILED: &str = "failed_when_removed";

/// The same by the defect model, where it could read the group and something is stated.
fn with_defects(
    read: ClockIntervals,
    free: &Unhindered,
    clock: Clock,
    calendar: Calendar,
) -> ClockIntervals {
    if read.at_most_share.age.is_none() {
        return read;
    }
    let place = |age: Option<f64>, reason: &str| {
        placed(
            age,
            Some(reason.to_owned()),
            read.oldest_seen,
            clock,
            calendar,
        )
    };
    let at_most_share = place(free.at_most_share, "the defect model sets no lower bound");
    let least_cost = match read.least_cost.age {
        Some(_) => place(
            free.least_cost,
            "no replacement age pays by the defect model",
        ),
        None => read.least_cost.clone(),
    };
    let (state, state_reason) = lesser(&at_most_share, &least_cost);
    // What is said of the fit to lives with removals as sound is not about these.
    let own = read.warnings.iter().filter(|w| w.contains(LESS_THAN_ONE));
    let warnings = own.chain(&free.doubts).cloned().collect();
    ClockIntervals {
        at_most_share,
        least_cost,
        basis: "defects",
        state,
        state_reason,
        warnings,
        ..read
    }
}

fn too_few(failures: f64) -> String {
    let seen = match failures as u64 {
        0 => "no failure".to_owned(),
        1 => "only one failure".to_owned(),
        n => format!("only {n} failures"),
    };
    format!("{seen} seen, and {LEAST_FAILURES} are needed to tell how failures grow with age")
}

/// The lower bound of the age by which the share has failed.
fn bound(age: &Number) -> (Option<f64>, Option<String>) {
    match (age.estimate, age.lower) {
        (Some(_), Some(lower)) if lower > 0.0 => (Some(lower), None),
        _ => {
            let why = age.reason.clone();
            (
                None,
                Some(why.unwrap_or_else(|| "the records set no lower bound".to_owned())),
            )
        }
    }
}

fn least_cost(
    fit: Option<&FamilyFit>,
    clock: Clock,
    question: &SheetQuestion,
) -> (Option<f64>, Option<String>) {
    let Some(prices) = question.prices else {
        return (None, Some(NO_COSTS.to_owned()));
    };
    let Some(kept) = fit.and_then(|f| f.fit.as_ref()) else {
        return (None, fit.and_then(|f| f.reason.clone()));
    };
    let best = Costs::new(prices, clock)
        .and_then(|costs| Evaluator::new(&kept.0.life(), &costs, Goal::Cost)?.best());
    match best {
        Ok(best) => (best.age, best.reason),
        Err(why) => (None, Some(why.to_string())),
    }
}

fn placed(
    age: Option<f64>,
    reason: Option<String>,
    oldest: f64,
    clock: Clock,
    calendar: Calendar,
) -> Interval {
    let rounded = age.and_then(|age| {
        let mut steps = calendar.and_finer();
        steps.find_map(|step| rounded_down(age, clock, step))
    });
    let short = || {
        age.map(|age| {
            let step = if clock == Clock::Days {
                Calendar::Weeks.word()
            } else {
                "unit of usage"
            };
            format!(
                "{} {} is less than one {step}",
                number::significant(age, 3),
                clock.unit()
            )
        })
    };
    Interval {
        age,
        rounded,
        extrapolated: age.map(|age| age > oldest),
        reason: match rounded {
            Some(_) => None,
            None => short().or(reason),
        },
    }
}

/// The lesser interval, which keeps within the share and costs no more than it must, or why there is none. Without
/// a bound for the share nothing is stated: least cost alone is no promise.
fn lesser(share: &Interval, cost: &Interval) -> (Option<Rounded>, String) {
    let Some(kept) = share.rounded else {
        let why = share.reason.clone().unwrap_or_default();
        return (None, why);
    };
    match (cost.rounded, cost.age) {
        (Some(best), _) if best.age < kept.age => (Some(best), "cost".to_owned()),
        (None, Some(_)) => (
            None,
            format!(
                "the age of least cost: {}",
                cost.reason.clone().unwrap_or_default()
            ),
        ),
        _ => (Some(kept), "share".to_owned()),
    }
}

fn warnings(
    fit: Option<&FamilyFit>,
    failures: f64,
    seals: f64,
    question: &SheetQuestion,
) -> Vec<String> {
    let mut out = vec![];
    if failures < LEAST_FAILURES {
        return out;
    }
    if question.share * seals < 1.0 {
        out.push(format!(
            "{} of {} {LESS_THAN_ONE}: the law's early tail, not a failure seen, sets this bound",
            number::percent(question.share),
            number::fixed(seals, 0)
        ));
    }
    let ill = fit
        .and_then(|f| f.goodness)
        .filter(|g| g.p_value < ILL_SUITED);
    if let Some(g) = ill {
        out.push(format!(
            "the law fitted ({}) does not suit these records ({}): its early failures may be more or fewer than it says; look at `sealspan fit`",
            question.family.name().replace('_', " "),
            number::simulated_p_value(g.p_value, g.refits)
        ));
    }
    out.extend(fit.iter().flat_map(|f| f.warnings.iter().cloned()));
    out
}

/// All clocks of a group as one statement.
fn together(group: crate::wire::GroupKey, clocks: Vec<ClockIntervals>) -> GroupIntervals {
    let parts: Vec<String> = clocks
        .iter()
        .filter_map(|c| c.state.as_ref())
        .map(words)
        .collect();
    let state = match parts.as_slice() {
        [] => None,
        [one] => Some(one.clone()),
        many => Some(format!("{}, whichever comes first", many.join(" or "))),
    };
    let reason = match state {
        Some(_) => None,
        None => clocks.first().map(|c| c.state_reason.clone()),
    };
    let beyond = |i: &Interval| i.extrapolated == Some(true);
    GroupIntervals {
        group,
        state,
        reason,
        extrapolated: clocks.iter().any(|c| {
            c.state.is_some()
                && match c.state_reason.as_str() {
                    "cost" => beyond(&c.least_cost),
                    _ => beyond(&c.at_most_share),
                }
        }),
        clocks,
    }
}

/// A rounded age in words: "11 months", "1,200 cycles".
///
/// ```
/// use sealspan_care::calendar::Rounded;
/// use sealspan_report::analysis::intervals::words;
/// let one = Rounded { count: 1.0, step: "month", age: 30.4375 };
/// assert_eq!(words(&one), "1 month");
/// assert_eq!(words(&Rounded { count: 1200.0, step: "cycles", age: 1200.0 }), "1,200 cycles");
/// ```
#[must_use]
pub fn words(r: &Rounded) -> String {
    let plural = if r.count == 1.0 || r.step.ends_with('s') {
        ""
    } else {
        "s"
    };
    format!("{} {}{plural}", number::fixed(r.count, 0), r.step)
}

/// How seals taken off worn are read, in words.
#[must_use]
pub fn words_of_basis(clock: &ClockIntervals) -> &'static str {
    match clock.basis {
        "defects" => "defects",
        FAILED => "failed that day",
        _ => "sound till then",
    }
}
