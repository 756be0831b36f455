//! The measured limit from records: paths of a property read at inspections, and when to replace by a reading.

use super::words::Pen;
use super::{Facts, MeasuredFacts};
use crate::column::{spoken, with_unit};
use crate::number;
use crate::wire::care::PlanQuestion;
use crate::wire::measured_limit::{ByAge, MeasuredLimitPlan};
use rayon::prelude::*;
use sealspan_care::calendar::Calendar;
use sealspan_care::error::Error;
use sealspan_care::evaluate::measured::{paths, rough};
use sealspan_care::plan::{Choice, MeasuredPlan, MeasuredQuestion, best_measured};
use sealspan_care::policy::CarePolicy;
use sealspan_care::replacement::Goal;
use sealspan_care::seal::{FailureSign, Paths, Seal};
use sealspan_care::simulate::play;
use sealspan_care::terms::Terms;
use sealspan_care::weigh::Average;
use sealspan_life::degradation::Limit;
use sealspan_life::degradation::choose::{Kind, Model, choose};
use sealspan_life::degradation::mixed::Mixed;
use sealspan_records::{Clock, MeasuredSeal};

/// Worlds drawn for intervals.
const WORLDS: usize = 40;
/// Seals played.
const PLAYED: usize = 200_000;
/// Fewest worlds that give an interval.
const FEWEST: usize = 20;
/// Whole steps of the calendar between looks.
const COUNTS: [f64; 11] = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 13.0, 17.0, 26.0];
/// Steps between looks, and ages, on a clock of usage.
const PARTS: usize = 24;
/// Looks in the oldest seal's time at most.
const MOST_LOOKS: f64 = 40.0;

/// The measured seals of one group with the model of their paths.
#[derive(Debug, Clone)]
pub struct MeasuredGroup {
    /// Column and value of each column grouped by.
    pub key: Vec<(String, String)>,
    limit: Limit,
    kind: &'static str,
    model: Box<Mixed>,
    seals: usize,
    measurements: usize,
    oldest: f64,
    resolution: f64,
}

impl MeasuredGroup {
    /// Fits paths to the measurements of one group.
    ///
    /// # Errors
    /// In words, when no model of straight paths with an error of measurement can be fitted.
    pub(crate) fn fit(
        key: Vec<(String, String)>,
        seals: &[&MeasuredSeal],
        facts: &MeasuredFacts,
    ) -> Result<Self, String> {
        let points = || seals.iter().flat_map(|s| &s.points);
        let steps = seals.iter().flat_map(|s| s.points.windows(2));
        let drift: f64 = steps
            .filter_map(|pair| match pair {
                [a, b] if b.0 > a.0 => Some(b.1 - a.1),
                _ => None,
            })
            .sum();
        if drift == 0.0 {
            return Err("no seal was measured at two ages with a change between".to_owned());
        }
        let limit = Limit {
            value: facts.limit,
            rising: drift > 0.0,
        };
        let list: Vec<Vec<(f64, f64)>> = seals.iter().map(|s| s.points.clone()).collect();
        let chosen = choose(&list, limit, &[Kind::Linear, Kind::LogLinear]).map_err(|tried| {
            let why = tried.first().and_then(|c| c.reason.clone());
            why.unwrap_or_else(|| "no model of the paths was asked for".to_owned())
        })?;
        let Model::Mixed(model) = chosen.model else {
            return Err("the paths have no error of measurement".to_owned());
        };
        Ok(Self {
            key,
            limit,
            kind: chosen.kind.word(),
            model,
            seals: seals.len(),
            measurements: points().count(),
            oldest: points().map(|p| p.0).fold(0.0, f64::max),
            resolution: resolution(points().map(|p| p.1)),
        })
    }

    fn seal(
        &self,
        mean: (f64, f64),
        among: (f64, f64, f64),
        noise: f64,
        facts: &Facts,
    ) -> Result<Seal, Error> {
        let paths = Paths::new(self.limit, self.model.scale, mean, among, noise)?;
        Ok(Seal {
            handling_damage: facts.handling_damage,
            detection: facts.detection.unwrap_or(1.0),
            failure: if facts.hidden {
                FailureSign::Hidden
            } else {
                FailureSign::Evident
            },
            ..Seal::measured(paths)
        })
    }

    fn centre(&self, facts: &Facts) -> Result<Seal, Error> {
        let (m, a) = (self.model.mean, self.model.among);
        self.seal((m.x, m.y), (a.m11, a.m12, a.m22), self.model.noise, facts)
    }

    fn worlds(&self, facts: &Facts) -> Vec<(f64, Seal)> {
        let drawn = self.model.possible(WORLDS);
        let world = |w: &sealspan_life::degradation::mixed_own::Possible| {
            let seal = self.seal(w.mean, w.among, w.noise, facts).ok()?;
            Some((w.weight, seal))
        };
        drawn.iter().filter_map(world).collect()
    }
}

/// The step that readings come in: the coarsest power of ten that all are whole multiples of; 0 where none down to a
/// thousandth is.
fn resolution(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let whole = |step: f64| {
        values
            .clone()
            .all(|v| ((v / step).round() - v / step).abs() < 1e-6)
    };
    [1.0, 0.1, 0.01, 0.001]
        .into_iter()
        .find(|step| whole(*step))
        .unwrap_or(0.0)
}

/// The best measured limit of a group.
///
/// # Errors
/// In words: what was ruled out, or why nothing can be worked out.
pub(crate) fn measured_limit(
    group: &MeasuredGroup,
    facts: &Facts,
    question: &PlanQuestion,
) -> Result<MeasuredLimitPlan, String> {
    let Some(asked) = &facts.measured else {
        return Err("no property was named".to_owned());
    };
    let terms = Terms::new(question.costs, &question.handling).map_err(|e| e.to_string())?;
    let seal = group.centre(facts).map_err(|e| e.to_string())?;
    let search = search(group, facts, question, asked)?;
    let best = best_measured(&seal, &terms, &search).map_err(|e| e.to_string())?;
    let both = priced(&group.worlds(facts), &best, &terms, question.request.goal);
    if both.len() < FEWEST {
        return Err("too few of the paths that the measurements leave possible can be worked out: no interval could be given".to_owned());
    }
    let simulated =
        play(&seal, &best.plan.policy, &terms, PLAYED, question.seed).map_err(|e| e.to_string())?;
    let of = |f: fn(&(f64, f64, f64)) -> f64| {
        average(
            both.iter().map(|w| (w.0, f(w))).collect(),
            question.confidence,
        )
    };
    let whole: f64 = both.iter().map(|w| w.0).sum();
    let dearer: f64 = both.iter().filter(|w| w.1 > w.2).map(|w| w.0).sum();
    let mut out = MeasuredLimitPlan {
        measure: asked.measure.clone(),
        functional_limit: group.limit.value,
        rising: group.limit.rising,
        seals: group.seals,
        measurements: group.measurements,
        model: group.kind,
        inspect_every: best.plan.policy.looks.after(0.0).unwrap_or_default(),
        replace_at_reading: best.limit,
        replace_at: best.plan.policy.replace_at.unwrap_or_default(),
        then: of(|w| w.1),
        by_age: ByAge {
            replace_at: best.by_age.policy.replace_at.unwrap_or_default(),
            then: of(|w| w.2),
            failed: best.by_age.outcome.failed,
        },
        saving: of(|w| w.2 - w.1),
        chance_dearer: dearer / whole,
        draws: both.len(),
        figures: best.plan.outcome,
        simulated,
        sentences: vec![],
    };
    out.sentences = sentences(&out, &best, question, facts.calendar);
    Ok(out)
}

/// Weight and measure of the measured limit and of the best age alone, in every possible world.
fn priced(
    worlds: &[(f64, Seal)],
    best: &MeasuredPlan,
    terms: &Terms,
    goal: Goal,
) -> Vec<(f64, f64, f64)> {
    let measure = |seal: &Seal, policy: &CarePolicy| {
        let figures = rough(seal, paths(seal)?, policy, terms).ok()?;
        let outcome = figures.last()?.outcome;
        Some(match goal {
            Goal::Cost => outcome.cost_rate,
            Goal::Availability => 1.0 - outcome.availability,
        })
    };
    worlds
        .par_iter()
        .filter_map(|(weight, seal)| {
            let own = measure(seal, &best.plan.policy)?;
            Some((*weight, own, measure(seal, &best.by_age.policy)?))
        })
        .collect()
}

/// What to choose from.
fn search(
    group: &MeasuredGroup,
    facts: &Facts,
    question: &PlanQuestion,
    asked: &MeasuredFacts,
) -> Result<MeasuredQuestion, String> {
    let on_days = question.costs.clock() == Clock::Days;
    let fits = |c: &Calendar| 6.0 * c.days() <= group.oldest;
    let fitting = facts.calendar.and_finer().find(fits);
    let step = if on_days {
        fitting.unwrap_or(Calendar::Weeks).days()
    } else {
        group.oldest / PARTS as f64
    };
    let least = facts.shortest.unwrap_or(0.0);
    let steps = match question.request.inspect {
        Choice::Never => return Err("inspections were ruled out".to_owned()),
        Choice::At(step) => vec![step],
        Choice::Free => COUNTS
            .iter()
            .map(|count| count * step)
            .filter(|every| *every >= least && group.oldest / every <= MOST_LOOKS)
            .collect(),
    };
    // Nothing is advised beyond the oldest age at which the property was read.
    let last = (group.oldest / step).floor().max(1.0) as usize;
    Ok(MeasuredQuestion {
        steps,
        ages: (1..=last)
            .map(|n| n as f64 * step)
            .filter(|age| *age >= least)
            .collect(),
        replace_at: match question.request.replace {
            Choice::At(age) => Some(age),
            Choice::Never => Some(last as f64 * step),
            Choice::Free => None,
        },
        limit: asked.reading,
        resolution: group.resolution,
        goal: question.request.goal,
        limits: question.request.limits,
    })
}

/// Mean and interval of weighted values.
fn average(mut values: Vec<(f64, f64)>, confidence: f64) -> Average {
    let whole: f64 = values.iter().map(|v| v.0).sum();
    let mean = values.iter().map(|(w, x)| w * x).sum::<f64>() / whole;
    values.sort_by(|a, b| a.1.total_cmp(&b.1));
    let tail = 0.5 - 0.5 * confidence;
    let at = |share: f64| {
        let mut sum = 0.0;
        let reached = values.iter().find(|(w, _)| {
            sum += w / whole;
            sum >= share
        });
        reached.or(values.last()).map_or(mean, |v| v.1)
    };
    Average {
        mean,
        lower: at(tail),
        upper: at(1.0 - tail),
    }
}

fn sentences(
    p: &MeasuredLimitPlan,
    best: &MeasuredPlan,
    question: &PlanQuestion,
    calendar: Calendar,
) -> Vec<String> {
    let pen = Pen {
        unit: question.costs.clock().unit(),
        currency: &question.currency,
        goal: question.request.goal,
        calendar: (question.costs.clock() == Clock::Days).then(|| calendar.word()),
    };
    let level = number::level(question.confidence);
    let f = &best.plan.outcome;
    let measure = spoken(&p.measure);
    let reading = with_unit(p.replace_at_reading, &p.measure);
    let dearer = p.saving.mean < 0.0;
    vec![
        format!(
            "Measured limit: look every {}, replace when {measure} reads {reading} or {} (function is lost at {}), and at the latest at {}: {}; {} of seals fail, {} are taken off at the limit.",
            pen.age(p.inspect_every),
            if p.rising { "more" } else { "less" },
            with_unit(p.functional_limit, &p.measure),
            pen.age(p.replace_at),
            pen.interval(&p.then, &level),
            number::percent(f.failed),
            number::percent(f.found),
        ),
        format!(
            "By the same paths ({} seals, {} measurements, {}) the best age alone, {}, is {} with {} failing: measuring {} {} ({level} interval {} to {}), and is dearer with chance {} ({} paths drawn).",
            number::count(p.seals as u64),
            number::count(p.measurements as u64),
            p.model,
            pen.age(p.by_age.replace_at),
            pen.measure(p.by_age.then.mean),
            number::percent(p.by_age.failed),
            if dearer { "costs" } else { "saves" },
            pen.measure(p.saving.mean.abs()),
            pen.signed(p.saving.lower),
            pen.signed(p.saving.upper),
            number::chance(p.chance_dearer, p.draws),
            p.draws,
        ),
        format!(
            "Only failures by {measure} at its limit are counted here; cuts, misfits and what else fails come on top. So hold these two against each other, not against the plan above. Played event by event over {} seals: {} (standard error {}); worked out: {}.",
            number::count(p.simulated.seals as u64),
            number::money(p.simulated.cost_rate, pen.currency),
            number::significant(p.simulated.std_error, 2),
            number::money(f.cost_rate, pen.currency),
        ),
    ]
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn readings_come_in_steps() {
        let step = |list: &[f64]| resolution(list.iter().copied());
        assert_eq!(step(&[7.1, 6.0, 5.4]), 0.1);
        assert_eq!(step(&[71.0, 60.0]), 1.0);
        assert_eq!(step(&[7.125, 6.0]), 0.001);
        assert_eq!(step(&[7.123_456, 6.0]), 0.0);
    }

    #[test]
    fn weighted_averages() {
        let a = average(vec![(0.25, 1.0), (0.5, 2.0), (0.25, 3.0)], 0.4);
        assert_eq!((a.mean, a.lower, a.upper), (2.0, 2.0, 2.0));
        let b = average(vec![(1.0, 3.0), (1.0, 1.0)], 0.9);
        assert_eq!((b.mean, b.lower, b.upper), (2.0, 1.0, 3.0));
    }
}
