//! Failure modes against each other: incidence of each, life by each, life without each, and how far removals
//! on condition may bend the life to failure.

use super::together::{AgeAt, BY_DRAWS, SurvivalAt, Together};
use super::{FamilyFit, FitOptions};
use crate::wire::{GroupKey, Number};
use sealspan_life::competing::INDEPENDENCE;
use sealspan_life::competing::incidence::{Step, cumulative_incidence};
use sealspan_life::competing::removals::removal_bound;
use sealspan_life::competing::rows::{ByMode, ModeRow};
use sealspan_life::family::Family;
use sealspan_life::terms::Terms;
use sealspan_records::{Answer, Error, Question, Records, Sample, ask, modes};
use serde::Serialize;
use std::sync::Arc;

/// The modes of one group.
#[derive(Debug, Clone, Serialize)]
pub struct GroupModes {
    /// Its name.
    pub group: GroupKey,
    /// Each mode, in the order of the alphabet.
    pub modes: Vec<ModeResult>,
    /// Ages by which shares have failed by any mode, each mode with its own law.
    pub all_modes: Vec<AgeAt>,
    /// Mean life under all modes.
    pub all_modes_mean: Number,
    /// Shares surviving the ages asked about, under all modes.
    pub all_modes_survival: Vec<SurvivalAt>,
    /// How the intervals of lives under several modes are made.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bounds: Option<&'static str>,
    /// Monte-Carlo standard error of the confidence of each of their ends.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub simulation_error: Option<f64>,
    /// Modes that no seal of this group ended by, left out.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub not_seen: Vec<String>,
    /// Why there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// What the ages without a mode rest on.
    pub caution: &'static str,
    /// The life to failure with removals on condition taken as sound, and as failures.
    pub removals: Option<RemovalResult>,
}

/// One mode.
#[derive(Debug, Clone, Serialize)]
pub struct ModeResult {
    /// Its word.
    pub mode: String,
    /// Seals that ended by it.
    pub failures: f64,
    /// Share failed by it at its failure ages, the other modes at work too (Aalen & Johansen 1978).
    pub incidence: Vec<IncidencePoint>,
    /// Why there is no incidence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub incidence_reason: Option<&'static str>,
    /// Family of its life.
    pub family: &'static str,
    /// Parameters of its life, other modes censoring.
    pub parameters: std::collections::BTreeMap<&'static str, f64>,
    /// Why it has no life.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Its life as of a group of its own, with intervals: parameters, quantiles, mean, doubts.
    pub life: FamilyFit,
    /// Ages by which shares would have failed if this mode were removed.
    pub without: Vec<AgeAt>,
}

/// A point of a mode's incidence.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct IncidencePoint {
    /// Age.
    pub time: f64,
    /// Share failed by the mode.
    pub incidence: f64,
    /// Standard error, Greenwood's kind.
    pub std_error: f64,
    /// Lower end of the pointwise interval.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
}

/// Two readings of removals on condition.
#[derive(Debug, Clone, Serialize)]
pub struct RemovalResult {
    /// Seals taken off worn.
    pub worn: f64,
    /// Share failed that the ages are for.
    pub p: f64,
    /// Age if they would have gone on like the rest.
    pub as_sound: Option<f64>,
    /// Age if all would have failed on that day.
    pub as_failed: Option<f64>,
    /// What it means.
    pub sentence: &'static str,
}

/// The share the two readings of removals are compared at.
const COMPARED: f64 = 0.1;

/// Every group's modes; empty when the records name fewer than two modes and no removals on condition.
///
/// # Errors
/// As [`ask`].
pub fn by_mode(
    records: &Records,
    question: &Question,
    family: &'static dyn Family,
    options: &FitOptions,
) -> Result<Vec<GroupModes>, Error> {
    let words = modes(records);
    let asked = |mode: Option<&str>| {
        let question = Question {
            mode: mode.map(str::to_owned),
            ..question.clone()
        };
        ask(records, &question)
    };
    let plain = asked(None)?;
    let own: Vec<Answer> = words
        .iter()
        .map(|w| asked(Some(w)))
        .collect::<Result<_, _>>()?;
    let worn = asked(Some("worn")).ok();
    Ok(plain
        .groups
        .iter()
        .enumerate()
        .map(|(i, group)| {
            let by: Vec<&Sample> = own
                .iter()
                .filter_map(|a| a.groups.get(i).map(|g| &g.sample))
                .collect();
            let worn = worn
                .as_ref()
                .and_then(|a| a.groups.get(i).map(|g| &g.sample));
            let mut out = one(&words, &group.sample, &by, family, options);
            out.group = GroupKey(group.key.clone());
            out.removals = worn.and_then(|w| removals(&group.sample, w, family));
            out
        })
        .collect())
}

fn one(
    words: &[String],
    all: &Sample,
    by: &[&Sample],
    family: &'static dyn Family,
    options: &FitOptions,
) -> GroupModes {
    let mut out = GroupModes {
        group: GroupKey::default(),
        modes: vec![],
        all_modes: vec![],
        all_modes_mean: Number::default(),
        all_modes_survival: vec![],
        bounds: None,
        simulation_error: None,
        not_seen: vec![],
        reason: None,
        caution: INDEPENDENCE,
        removals: None,
    };
    if words.len() < 2 {
        out.reason = Some("the records name fewer than two failure modes".to_owned());
        return out;
    }
    let lives = match rows(words.len(), all, by) {
        Ok(lives) => lives,
        Err(why) => {
            out.reason = Some(why);
            return out;
        }
    };
    let incidence = cumulative_incidence(&lives, options.confidence);
    let samples: Vec<Sample> = (0..lives.modes())
        .map(|m| lives.cause_specific(m))
        .collect();
    let names = words.iter().cloned().chain([UNNAMED.to_owned()]);
    let (seen, not_seen): (Vec<_>, Vec<_>) = names
        .zip(&samples)
        .enumerate()
        .partition(|(_, (_, sample))| sample.tally().failures() > 0.0);
    out.not_seen = not_seen.into_iter().map(|(_, (name, _))| name).collect();
    let fits: Vec<FamilyFit> = seen
        .iter()
        .map(|(_, (_, sample))| {
            let terms = Arc::new(Terms::new(sample));
            super::one::family(family, sample, &terms, options, true)
        })
        .collect();
    let together = Together::new(&fits, options);
    if together.is_none() {
        out.reason = Some(
            "a mode has no life of its own (see there), so lives by all modes and without one are not worked out"
                .to_owned(),
        );
    }
    if let Some(together) = &together {
        out.all_modes = together.ages();
        out.all_modes_mean = together.mean();
        out.all_modes_survival = together.survival();
        out.bounds = together.draws.is_some().then_some(BY_DRAWS);
        out.simulation_error = together
            .draws
            .as_ref()
            .map(|d| d.simulation_error(options.confidence));
    }
    let steps = |m: usize| {
        let own = incidence.as_ref().and_then(|i| i.modes.get(m));
        own.map(|steps| steps.iter().map(IncidencePoint::of).collect())
            .unwrap_or_default()
    };
    out.modes = seen
        .into_iter()
        .zip(fits)
        .enumerate()
        .map(|(at, ((m, (mode, sample)), fit))| ModeResult {
            mode,
            failures: sample.tally().failures(),
            incidence: steps(m),
            incidence_reason: incidence
                .is_none()
                .then_some("failures known only between two ages: read the lives by mode instead"),
            family: family.name(),
            parameters: fit
                .fit
                .as_ref()
                .map(|f| f.0.life().parameters().into_iter().collect())
                .unwrap_or_default(),
            reason: fit.reason.clone(),
            life: fit,
            without: together
                .as_ref()
                .and_then(|t| t.without(at))
                .map(|t| t.ages())
                .unwrap_or_default(),
        })
        .collect();
    out
}

/// Ends without a mode make a mode of this name.
const UNNAMED: &str = "not named";

impl IncidencePoint {
    fn of(step: &Step) -> Self {
        Self {
            time: step.time,
            incidence: step.incidence,
            std_error: step.std_error,
            lower: step.lower,
            upper: step.upper,
        }
    }
}

/// Rows with their modes: each mode's own answer shows which rows ended by it.
fn rows(modes: usize, all: &Sample, by: &[&Sample]) -> Result<ByMode, String> {
    if by.len() != modes || by.iter().any(|s| s.rows().len() != all.rows().len()) {
        return Err("the rows of the modes do not match each other".to_owned());
    }
    let mut out = vec![];
    let mut unnamed = false;
    for (i, observation) in all.rows().iter().enumerate() {
        let mode = by
            .iter()
            .position(|s| s.rows().get(i).is_some_and(|o| o.ended()));
        // Ends without a mode become a mode of their own.
        let mode = if observation.ended() && mode.is_none() {
            unnamed = true;
            Some(modes)
        } else {
            mode.filter(|_| observation.ended())
        };
        out.push(ModeRow {
            observation: *observation,
            mode,
        });
    }
    ByMode::new(out, modes + usize::from(unnamed)).map_err(|e| e.to_string())
}

fn removals(all: &Sample, worn: &Sample, family: &'static dyn Family) -> Option<RemovalResult> {
    if worn.rows().len() != all.rows().len() {
        return None;
    }
    let pairs = || all.rows().iter().zip(worn.rows());
    let removed = Sample::new(
        pairs()
            .filter(|(o, w)| w.ended() && !o.ended())
            .map(|(o, _)| *o)
            .collect(),
    );
    let others = Sample::new(
        pairs()
            .filter(|(o, w)| !w.ended() || o.ended())
            .map(|(o, _)| *o)
            .collect(),
    );
    if removed.rows().is_empty() {
        return None;
    }
    let bound = removal_bound(family, &others, &removed, COMPARED).ok()?;
    Some(RemovalResult {
        worn: removed.tally().total(),
        p: COMPARED,
        as_sound: bound.independent.ok().map(|a| a.age),
        as_failed: bound.failing.ok().map(|a| a.age),
        sentence: "Seals taken off worn would have failed sooner than the rest: the life to failure lies between the two readings, nearer the second the later they were caught; `sealspan defects` works it out from the looks.",
    })
}
