//! Failure modes against each other: incidence of each, life by each, life without each, and how far removals
//! on condition may bend the life to failure.

use super::few::TRUSTED_FAILURES;
use super::shares::{IncidencePoint, Shares, shares};
use super::together::{AgeAt, BY_DRAWS, MEDIANS, MeanLife, SurvivalAt, Together};
use super::{FamilyFit, FitOptions};
use crate::wire::{GroupKey, Number};
use sealspan_life::competing::INDEPENDENCE;
use sealspan_life::competing::removals::{Assumed, removal_bound};
use sealspan_life::competing::rows::{ByMode, ModeRow};
use sealspan_life::family::Family;
use sealspan_life::fit::NoFit;
use sealspan_life::terms::Terms;
use sealspan_records::{Answer, Error, Question, Records, Sample, ask, modes};
use serde::Serialize;
use std::sync::Arc;

/// The modes of one group.
#[derive(Debug, Clone, Serialize)]
pub struct GroupModes {
    /// Its name.
    pub group: GroupKey,
    /// Each mode that a seal ended by, in the order of the alphabet; ends without a mode last, as `not named`.
    pub modes: Vec<ModeResult>,
    /// Ages by which shares have failed by any mode, each mode with its own law.
    pub all_modes: Vec<AgeAt>,
    /// Mean life under all modes.
    pub all_modes_mean: MeanLife,
    /// Shares surviving the ages asked about, under all modes.
    pub all_modes_survival: Vec<SurvivalAt>,
    /// How the intervals of lives under several modes are made.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bounds: Option<&'static str>,
    /// What the estimates of those lives are, where not from the modes' greatest likelihoods.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub estimates: Option<&'static str>,
    /// Monte-Carlo standard error of the confidence of each of their ends.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub simulation_error: Option<f64>,
    /// How the shares failed by each mode so far are made: `aalen_johansen`, or `looks` where failures are known only
    /// between two ages.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub incidence_method: Option<&'static str>,
    /// What their intervals rest on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub incidence_bounds: Option<String>,
    /// Monte-Carlo standard error of the confidence of each of their ends, where seals were drawn anew.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub incidence_simulation_error: Option<f64>,
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
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub removals_reason: Option<&'static str>,
}

/// One mode.
#[derive(Debug, Clone, Serialize)]
pub struct ModeResult {
    /// Its word.
    pub mode: String,
    /// Seals that ended by it.
    pub failures: f64,
    /// Share failed by it at its failure ages, the other modes at work too (Aalen & Johansen 1978; between looks
    /// Hudgens, Satten & Longini 2001).
    pub incidence: Vec<IncidencePoint>,
    /// Why there is no incidence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub incidence_reason: Option<String>,
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
    /// Mean life if it were removed.
    pub without_mean: MeanLife,
    /// Shares that would survive the ages asked about.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub without_survival: Vec<SurvivalAt>,
}

/// Two readings of removals on condition.
#[derive(Debug, Clone, Serialize)]
pub struct RemovalResult {
    /// Seals taken off worn.
    pub worn: f64,
    /// Share failed by the age: 0.1.
    pub p: f64,
    /// Age if they would have gone on like the rest.
    pub as_sound: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub as_sound_reason: Option<String>,
    /// Age if all would have failed on that day.
    pub as_failed: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub as_failed_reason: Option<String>,
    /// What it means.
    pub sentence: &'static str,
}

/// The share the two readings of removals are compared at.
const COMPARED: f64 = 0.1;

/// Every group's modes, each mode's life by `family`. Where the records name fewer than two modes a group has the reason and
/// its removals on condition alone.
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
            out.removals_reason = out.removals.is_none().then_some(NONE_WORN);
            if let (None, Some(why)) = (&out.all_modes_mean.number.reason, &out.reason) {
                out.all_modes_mean.number.reason = Some(why.clone());
            }
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
        all_modes_mean: MeanLife::default(),
        all_modes_survival: vec![],
        bounds: None,
        estimates: None,
        simulation_error: None,
        incidence_method: None,
        incidence_bounds: None,
        incidence_simulation_error: None,
        not_seen: vec![],
        reason: None,
        caution: INDEPENDENCE,
        removals: None,
        removals_reason: None,
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
    let Shares {
        method,
        modes: mut incidence,
        bounds,
        simulation_error,
        reason: incidence_reason,
    } = shares(&lives, options);
    out.incidence_method = method;
    out.incidence_bounds = bounds;
    out.incidence_simulation_error = simulation_error;
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
        out.estimates = out.bounds.filter(|_| together.few).map(|_| MEDIANS);
        out.simulation_error = together
            .draws
            .as_ref()
            .and_then(|d| d.simulation_error(options.confidence));
    }
    let why_not = || Number {
        reason: Some(out.reason.clone().unwrap_or_else(|| ONLY_ONE.to_owned())),
        ..Number::default()
    };
    let mut steps = |m: usize| incidence.get_mut(m).map(std::mem::take).unwrap_or_default();
    let left = |at: usize| together.as_ref().and_then(|t| t.without(at));
    let found = seen
        .into_iter()
        .zip(fits)
        .enumerate()
        .map(|(at, ((m, (mode, sample)), fit))| ModeResult {
            mode,
            failures: sample.tally().failures(),
            incidence: steps(m),
            incidence_reason: incidence_reason.clone(),
            family: family.name(),
            parameters: fit
                .fit
                .as_ref()
                .filter(|_| !fit.withheld)
                .map(|f| f.0.life().parameters().into_iter().collect())
                .unwrap_or_default(),
            reason: fit.reason.clone(),
            life: fit,
            without: left(at).map(|t| t.ages()).unwrap_or_default(),
            without_mean: left(at).map_or_else(
                || MeanLife {
                    number: why_not(),
                    ..MeanLife::default()
                },
                |t| t.mean(),
            ),
            without_survival: left(at).map(|t| t.survival()).unwrap_or_default(),
        })
        .collect();
    out.modes = found;
    out
}

const ONLY_ONE: &str =
    "no seal here ended by another mode: without this one nothing is known to fail";
const NONE_WORN: &str = "no seals were taken off worn, or not by name";

/// Ends without a mode make a mode of this name.
const UNNAMED: &str = "not named";

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

/// The age under one reading of the removals, or why not.
fn read(assumed: Result<Assumed, NoFit>, failures: f64) -> (Option<f64>, Option<String>) {
    match assumed {
        Ok(a) if a.fit.free.len() > 1 && failures < TRUSTED_FAILURES => {
            (None, Some(super::withheld::reason()))
        }
        Ok(a) if a.age.is_finite() => (Some(a.age), None),
        Ok(_) => (
            None,
            Some("so many never fail under the fitted law".to_owned()),
        ),
        Err(why) => (None, Some(why.to_string())),
    }
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
    let failures = others.tally().failures();
    let (as_sound, as_sound_reason) = read(bound.independent, failures);
    let (as_failed, as_failed_reason) = read(bound.failing, failures + removed.tally().total());
    Some(RemovalResult {
        worn: removed.tally().total(),
        p: COMPARED,
        as_sound,
        as_sound_reason,
        as_failed,
        as_failed_reason,
        sentence: "Seals taken off worn would have failed sooner than the rest: the life to failure lies between the two readings, nearer the second the later they were caught; `sealspan defects` works it out from the looks.",
    })
}
