//! From measurements to paths, remaining lives, the next look and seals that stand out. Values and the limit are in the
//! measured property's own unit.

use super::condition_model::{model_result, notes as model_notes};
use crate::cautions;
use crate::wire::condition::{
    CandidateResult, ConditionDocument, ConditionGroup, NextLook, RunningSeal, ShareAge,
    UnusualSeal,
};
use crate::wire::{GroupKey, Number};
use sealspan_care::successes::{Effort, Group, number_failing};
use sealspan_life::degradation::Limit;
use sealspan_life::degradation::choose::{Candidate, Choice, Kind, Model, choose};
use sealspan_life::degradation::unusual::stand_out;
use sealspan_records::{Measured, MeasuredSeal};
use std::collections::BTreeMap;

/// What is asked.
#[derive(Debug, Clone)]
pub struct ConditionQuestion {
    /// The measured property.
    pub measure: String,
    /// Unit of ages.
    pub unit: &'static str,
    /// The limit.
    pub limit: f64,
    /// Whether the property rises to it. When not stated, the sign of the sum of the changes from look to look within
    /// seals.
    pub rising: Option<bool>,
    /// Models to choose from.
    pub kinds: Vec<Kind>,
    /// Two-sided level of the intervals, between 0 and 1.
    pub confidence: f64,
    /// Shares of new seals past the limit, between 0 and 1, whose ages are wanted.
    pub shares: Vec<f64>,
    /// Time from now to the next look; `None` when not known.
    pub next_look: Option<f64>,
}

/// One group worked through, for figures.
#[derive(Debug)]
pub struct Worked {
    /// Its name.
    pub key: GroupKey,
    /// Its seals.
    pub seals: Vec<MeasuredSeal>,
    /// The limit, where the direction is known.
    pub limit: Option<Limit>,
    /// Its model, or what was tried.
    pub choice: Result<Choice, Vec<Candidate>>,
}

/// The answer, and what its figures need.
#[derive(Debug)]
pub struct Condition {
    /// The answer.
    pub document: ConditionDocument,
    /// Group by group.
    pub worked: Vec<Worked>,
}

/// Works the measurements through, group by group: a model of the paths
/// ([`choose`]), the ages at which shares of new seals reach the limit, the time left to each
/// running seal (median, and the interval that leaves equal chances outside, less its age now and 0 at least), the number
/// past the limit at the next look (seals taken as independent), and the seals that stand out ([`stand_out`]). A group
/// without a model says why.
///
/// ```
/// use sealspan_life::degradation::choose::Kind;
/// use sealspan_records::{Measured, MeasuredSeal};
/// use sealspan_report::analysis::condition::{ConditionQuestion, condition};
/// use sealspan_report::{chart::Layer, story::condition::charts};
/// // Twelve invented seals whose set grows by 1 to 3.2 % a day from 1 %, measured at days 0 to 5 with an error.
/// let seal = |n: i32| {
///     let error = |day: i32| 0.2 * f64::from((7 * n + 3 * day + n * day) % 5 - 2);
///     let set = |day: i32| 1.0 + (1.0 + 0.2 * f64::from(n)) * f64::from(day) + error(day);
///     MeasuredSeal {
///         seal: n.to_string(),
///         asset: None,
///         key: vec![],
///         points: (0..6).map(|day| (f64::from(day), set(day))).collect(),
///         running_age: Some(5.0),
///     }
/// };
/// let measured = Measured { seals: (0..12).map(seal).collect(), ..Measured::default() };
/// let question = ConditionQuestion {
///     measure: "set".to_owned(),
///     unit: "days",
///     limit: 20.0,
///     rising: None,
///     kinds: vec![Kind::Linear],
///     confidence: 0.9,
///     shares: vec![0.5],
///     next_look: None,
/// };
/// let answer = condition(&measured, &question);
/// let group = &answer.document.groups[0];
/// assert_eq!((group.direction, group.measurements), (Some("rising"), 72));
/// // Half of the new seals are past 20 % when one of the mean rate, 2.1 % a day, is.
/// let half = &group.new_seal[0];
/// assert!((half.age.unwrap() - 19.0 / 2.1).abs() < 0.1);
/// assert!(half.lower.unwrap() < 19.0 / 2.1 && 19.0 / 2.1 < half.upper.unwrap());
/// // The seal that wears fastest comes first among those running.
/// assert_eq!(group.running[0].seal, "11");
/// let figures = charts(&answer);
/// assert!(figures[0].layers.iter().any(|l| matches!(l, Layer::HLine { at, .. } if *at == 20.0)));
/// ```
#[must_use]
pub fn condition(measured: &Measured, question: &ConditionQuestion) -> Condition {
    let mut by: BTreeMap<Vec<(String, String)>, Vec<MeasuredSeal>> = BTreeMap::new();
    for seal in &measured.seals {
        by.entry(seal.key.clone()).or_default().push(seal.clone());
    }
    let worked: Vec<Worked> = by
        .into_iter()
        .map(|(key, seals)| work(GroupKey(key), seals, question))
        .collect();
    let groups = worked.iter().map(|w| group(w, question)).collect();
    let document = ConditionDocument {
        schema: "sealspan.condition.v1",
        measure: question.measure.clone(),
        unit: question.unit,
        limit: question.limit,
        confidence: question.confidence,
        next_look: question.next_look,
        unused_measurements: measured.unused,
        running_unmeasured: measured.running_unmeasured,
        groups,
        notes: notes(measured),
        cautions: cautions::always(),
    };
    Condition { document, worked }
}

fn notes(measured: &Measured) -> Vec<String> {
    let mut notes = vec![
        "The limit is one of the measurement, not of function: a seal past it may still hold, and one before it may leak (cut, misfitted, swollen).".to_owned(),
        "The true value is what crosses the limit; a single reading may lie on the other side by the gauge's error.".to_owned(),
    ];
    if measured.unused > 0 {
        notes.push(format!(
            "{} measurement(s) are not used: their seal is not in use, the look lies outside its time, or a value or reading is missing",
            measured.unused
        ));
    }
    if measured.running_unmeasured > 0 {
        notes.push(format!(
            "{} seal(s) in service were never measured: nothing is said of them",
            measured.running_unmeasured
        ));
    }
    notes
}

fn work(key: GroupKey, seals: Vec<MeasuredSeal>, question: &ConditionQuestion) -> Worked {
    let rising = question.rising.or_else(|| rising(&seals));
    let limit = rising.map(|rising| Limit {
        value: question.limit,
        rising,
    });
    let paths: Vec<Vec<(f64, f64)>> = seals.iter().map(|s| s.points.clone()).collect();
    let choice = match limit {
        Some(limit) => choose(&paths, limit, &question.kinds),
        None => Err(vec![]),
    };
    Worked {
        key,
        seals,
        limit,
        choice,
    }
}

/// Whether values rise with age within seals; `None` when they do neither.
fn rising(seals: &[MeasuredSeal]) -> Option<bool> {
    let mut total = 0.0;
    for seal in seals {
        for pair in seal.points.windows(2) {
            if let [a, b] = pair
                && b.0 > a.0
            {
                total += b.1 - a.1;
            }
        }
    }
    (total != 0.0).then_some(total > 0.0)
}

fn group(one: &Worked, question: &ConditionQuestion) -> ConditionGroup {
    let measurements = one.seals.iter().map(|s| s.points.len()).sum();
    let mut out = ConditionGroup {
        group: one.key.clone(),
        direction: one
            .limit
            .map(|l| if l.rising { "rising" } else { "falling" }),
        seals: one.seals.len(),
        measurements,
        candidates: vec![],
        model: None,
        reason: None,
        new_seal: vec![],
        running: vec![],
        by_next_look: None,
        unusual: vec![],
        notes: vec![],
    };
    let candidate = |c: &Candidate| CandidateResult {
        model: c.kind.word(),
        log_likelihood: c.log_likelihood,
        parameters: c.parameters,
        aic: c.aic,
        reason: c.reason.clone(),
    };
    match (&one.choice, one.limit) {
        (Ok(choice), Some(limit)) if passed_when_new(&choice.model, limit) => {
            out.candidates = choice.candidates.iter().map(candidate).collect();
            out.reason = Some(format!(
                "by the fitted paths new seals are already past {} on the {} side: correct --limit or --direction",
                limit.value,
                if limit.rising { "rising" } else { "falling" }
            ));
        }
        (Ok(choice), Some(limit)) => {
            out.candidates = choice.candidates.iter().map(candidate).collect();
            out.model = Some(model_result(choice, limit, question));
            out.new_seal = new_seal(&choice.model, limit, question);
            out.running = running(one, &choice.model, limit, question);
            out.by_next_look = next_look(&out.running, question);
            out.unusual = unusual(one, &choice.model, limit);
            out.notes = model_notes(one, choice, limit, question);
        }
        (Err(tried), Some(_)) => {
            out.reason = Some(
                tried
                    .first()
                    .and_then(|c| c.reason.clone())
                    .unwrap_or_else(|| "no model was asked for".to_owned()),
            );
            out.candidates = tried.iter().map(candidate).collect();
        }
        _ => {
            out.reason = Some(still(one).to_owned());
        }
    }
    out
}

/// Why no way of the property can be told.
fn still(one: &Worked) -> &'static str {
    let twice = |points: &[(f64, f64)]| {
        let first = points.first();
        points.iter().any(|p| first.is_some_and(|f| f.0 != p.0))
    };
    if one.seals.iter().any(|s| twice(&s.points)) {
        "the readings of a seal do not change from one age to the next, or rise as often as they fall: whether the property goes towards the limit cannot be told; state --direction or measure later"
    } else {
        "no seal was measured at two ages, so the property goes nowhere yet"
    }
}

/// Whether half the seals are past the limit at age 0.
fn passed_when_new(model: &Model, limit: Limit) -> bool {
    let half = model.new_seal(limit).and_then(|c| c.age_at(0.5));
    half.is_some_and(|age| age <= 0.0)
}

fn new_seal(model: &Model, limit: Limit, question: &ConditionQuestion) -> Vec<ShareAge> {
    let crossing = model.new_seal(limit);
    question
        .shares
        .iter()
        .map(|p| {
            let age = crossing.as_ref().and_then(|c| c.age_at(*p));
            let [lower, upper] = model.share_interval(limit, *p, question.confidence);
            ShareAge {
                p: *p,
                age,
                lower: lower.filter(|_| age.is_some()),
                upper: upper.filter(|_| age.is_some()),
                reason: (age.is_none() || upper.is_none()).then(|| {
                    "under this model so large a share never reaches the limit: some seals hardly move".to_owned()
                }),
            }
        })
        .collect()
}

/// The running seals, the one with the least median life left first.
fn running(
    one: &Worked,
    model: &Model,
    limit: Limit,
    question: &ConditionQuestion,
) -> Vec<RunningSeal> {
    let tail = 0.5 - 0.5 * question.confidence;
    let mut out: Vec<RunningSeal> = one
        .seals
        .iter()
        .filter_map(|seal| {
            let age = seal.running_age?;
            let (last_age, last_value) = *seal.points.last()?;
            let crossing = model.of_seal(&seal.points, limit)?;
            let left = |p: f64| crossing.age_at(p).map(|a| (a - age).max(0.0));
            let (lower, upper) = (left(tail), left(1.0 - tail));
            let open = upper.is_none();
            Some(RunningSeal {
                seal: seal.seal.clone(),
                asset: seal.asset.clone(),
                age,
                last_value,
                last_age,
                measurements: seal.points.len(),
                remaining: Number {
                    estimate: left(0.5),
                    lower,
                    upper,
                    reason: open.then(|| {
                        "the measurements so far do not rule out that this seal hardly moves"
                            .to_owned()
                    }),
                },
                past_now: crossing.by(age),
                past_at_next_look: question.next_look.map(|h| crossing.by(age + h)),
            })
        })
        .collect();
    let rank = |s: &RunningSeal| s.remaining.estimate.unwrap_or(f64::INFINITY);
    out.sort_by(|a, b| {
        rank(a)
            .total_cmp(&rank(b))
            .then(b.past_now.total_cmp(&a.past_now))
            .then(a.seal.cmp(&b.seal))
    });
    out
}

fn next_look(running: &[RunningSeal], question: &ConditionQuestion) -> Option<NextLook> {
    let after = question.next_look?;
    if running.is_empty() {
        return None;
    }
    let then: Vec<f64> = running.iter().filter_map(|s| s.past_at_next_look).collect();
    let chances: Vec<Group> = then
        .iter()
        .map(|chance| Group {
            count: 1,
            chance: *chance,
        })
        .collect();
    let (counts, _) = number_failing(&chances, Effort::CAREFUL);
    let tail = 0.5 - 0.5 * question.confidence;
    let now: f64 = running.iter().map(|s| s.past_now).sum();
    let by_then: f64 = then.iter().sum();
    Some(NextLook {
        after,
        running: running.len(),
        expected_past_now: now,
        expected_past_then: by_then,
        lower: counts.quantile(tail) as u64,
        upper: counts.quantile(1.0 - tail) as u64,
        share_crossing: (by_then - now).max(0.0) / running.len() as f64,
    })
}

fn unusual(one: &Worked, model: &Model, limit: Limit) -> Vec<UnusualSeal> {
    let p: Vec<Option<f64>> = one
        .seals
        .iter()
        .map(|s| model.p_value(&s.points, limit))
        .collect();
    let mean = model.rate(None, limit);
    let mut out: Vec<UnusualSeal> = stand_out(&p)
        .into_iter()
        .filter_map(|at| {
            let (seal, p_value) = (one.seals.get(at)?, *p.get(at)?);
            Some(UnusualSeal {
                seal: seal.seal.clone(),
                asset: seal.asset.clone(),
                running: seal.running_age.is_some(),
                times_mean_rate: own_rate(model, seal, limit).map(|r| r / mean),
                p_value: p_value?,
            })
        })
        .collect();
    out.sort_by(|a, b| a.p_value.total_cmp(&b.p_value).then(a.seal.cmp(&b.seal)));
    out
}

/// A seal's own rate: the model's, or for gamma wear what was measured over its time.
fn own_rate(model: &Model, seal: &MeasuredSeal, limit: Limit) -> Option<f64> {
    match model {
        Model::Mixed(_) => Some(model.rate(Some(&seal.points), limit)),
        Model::Wear(_) => {
            let (first, last) = (seal.points.first()?, seal.points.last()?);
            (last.0 > first.0).then(|| (last.1 - first.1) / (last.0 - first.0))
        }
    }
}
