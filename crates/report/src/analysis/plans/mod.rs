//! The whole plan from records: the defect model joined with turning and a replacement age, weighed over
//! what the estimates leave open, beside what is done today.

mod basis;
mod looks;
mod measured;
mod other_laws;
mod severity;
mod stages;
mod today;
mod words;
mod words_basis;

pub(crate) use looks::part_looks;
pub(crate) use looks::{Worlds, worlds};
pub(crate) use measured::{MeasuredGroup, measured_limit};
pub(crate) use other_laws::OtherLaws;
pub(crate) use severity::Arcs;
pub(crate) use stages::stages;
pub(crate) use today::{SiteToday, Today, today};
pub use words::Pen;

use self::basis::{Basis, basis, mean_life, on_frames};
use super::lives::{Fitted, GroupLife};
use crate::wire::GroupKey;
use crate::wire::care::{CareBlock, PlanQuestion, more, plan_block, planned_block};
use crate::wire::measured_limit::MeasuredLimitPlan;
use crate::wire::plan::WholePlan;
use rayon::prelude::*;
use sealspan_care::ahead::cared::expected_to_go;
use sealspan_care::calendar::Calendar;
use sealspan_care::plan::Planner;
use sealspan_care::policy::CarePolicy;
use sealspan_care::seal::Seal;
use sealspan_care::terms::Terms;
use sealspan_care::weigh::{Counted, Weighing, weigh};
use sealspan_records::histories::{HistoryGroup, HistoryQuestion, histories};
use sealspan_records::practice::{GroupPractice, practice};
use sealspan_records::{Clock, MeasuredSeal, Records, Study, measured};
use std::collections::BTreeMap;

/// What is known of the seals apart from their lives, as stated.
#[derive(Debug, Clone)]
pub struct Facts {
    /// Chance that a look finds a defect that is there; estimated when not stated.
    pub detection: Option<f64>,
    /// Chance that an opening spoils the seal.
    pub handling_damage: f64,
    /// Failures do not show themselves.
    pub hidden: bool,
    /// Relative wear of the frame's sectors; from the records when empty.
    pub severities: Vec<f64>,
    /// Why failures are taken as coming without warning, whatever the looks say.
    pub one_stage: Option<OneStageAsked>,
    /// The property measured at looks, where one is named.
    pub measured: Option<MeasuredFacts>,
    /// Step of the service calendar.
    pub calendar: Calendar,
    /// Least time between two openings, units of the clock.
    pub shortest: Option<f64>,
    /// How far stated inputs are moved, as a share r either way: times 1 - r and times 1 + r.
    pub price_range: f64,
}

/// Why a plan in one stage is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OneStageAsked {
    /// In so many words.
    Stated,
    /// By a failure mode of interest: looks tell defects, not what they will fail by.
    Mode,
}

impl OneStageAsked {
    fn reason(self) -> (&'static str, &'static str) {
        match self {
            Self::Stated => ("one stage was asked for", "leave out --one-stage"),
            Self::Mode => (
                "one failure mode was asked for, and the inspection log does not tell by which mode a defect would fail",
                "leave out --mode",
            ),
        }
    }
}

/// A property measured at looks, its values in the unit of its column.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredFacts {
    /// Column of the inspections.
    pub measure: String,
    /// Value at which function is lost.
    pub limit: f64,
    /// A given reading at which to replace, instead of the best one.
    pub reading: Option<f64>,
}

impl MeasuredFacts {
    /// What a study states under `[condition]`.
    #[must_use]
    pub(crate) fn of(study: &Study) -> Option<Self> {
        Some(Self {
            measure: study.condition.measure.clone()?,
            limit: study.condition.limit?,
            reading: None,
        })
    }
}

/// Range of stated inputs unless told: a quarter either way (a rule of ours).
pub const PRICE_RANGE: f64 = 0.25;

impl Facts {
    /// What a study states; all else from its records.
    #[must_use]
    pub(crate) fn of(study: &Study) -> Self {
        Self {
            detection: None,
            handling_damage: study.costs.handling_damage.unwrap_or(0.0),
            hidden: false,
            severities: vec![],
            one_stage: study.question.mode.as_ref().map(|_| OneStageAsked::Mode),
            measured: MeasuredFacts::of(study),
            calendar: Calendar::default(),
            shortest: None,
            price_range: PRICE_RANGE,
        }
    }
}

/// The paths of a group, or why it has none.
type PathsOrWhy = Result<MeasuredGroup, (GroupKey, String)>;

/// What the records say beside the lives.
pub struct Evidence {
    histories: Result<Vec<HistoryGroup>, String>,
    practice: Vec<GroupPractice>,
    arcs: Result<Arcs, String>,
    measured: Option<Result<Vec<PathsOrWhy>, String>>,
}

impl Evidence {
    /// Reads it for the groups of the columns `by`, ages in the unit of `clock`. What the records do not tell is kept with
    /// its reason, which the plan then says.
    #[must_use]
    pub fn read(records: &Records, by: &[String], clock: Clock, facts: &Facts) -> Self {
        let question = HistoryQuestion {
            by: by.to_vec(),
            clock,
            hidden: facts.hidden,
        };
        let looked = records.inspections.iter().any(|i| i.finding.is_some());
        Self {
            histories: if looked {
                histories(records, &question)
                    .map(|h| h.groups)
                    .map_err(|e| e.to_string())
            } else {
                Err("the records hold no looks with a finding".to_owned())
            },
            practice: practice(records, by, clock).unwrap_or_default(),
            arcs: Arcs::read(records, clock),
            measured: facts
                .measured
                .as_ref()
                .map(|asked| paths_of_groups(records, by, clock, asked)),
        }
    }

    /// Histories and practice of one group, or of all together without a key.
    fn of(
        &self,
        key: &[(String, String)],
    ) -> (
        Result<HistoryGroup, String>,
        Vec<sealspan_records::practice::Practice>,
    ) {
        let histories = self.histories.clone().and_then(|groups| {
            if key.is_empty() {
                return match groups.as_slice() {
                    [_] => groups.into_iter().next(),
                    _ => None,
                }
                .ok_or_else(|| TOGETHER.to_owned());
            }
            let mine = groups.into_iter().find(|g| g.key == key);
            mine.ok_or_else(|| "no inspection history of this group can be used".to_owned())
        });
        let mine = self
            .practice
            .iter()
            .filter(|g| key.is_empty() || g.key == key);
        (histories, mine.flat_map(|g| g.sites.clone()).collect())
    }
}

impl Evidence {
    /// The measured limit of one group; `None` where no property is named, and over groups together.
    fn measured_limit(
        &self,
        key: &GroupKey,
        facts: &Facts,
        question: &PlanQuestion,
    ) -> Option<Result<MeasuredLimitPlan, String>> {
        let groups = match self.measured.as_ref()? {
            Ok(groups) => groups,
            Err(why) => return Some(Err(why.clone())),
        };
        let of = |one: &&PathsOrWhy| match one {
            Ok(group) => group.key == key.0,
            Err((name, _)) => name == key,
        };
        Some(match groups.iter().find(of) {
            Some(Ok(group)) => measured_limit(group, facts, question),
            Some(Err((_, why))) => Err(why.clone()),
            None if key.0.is_empty() => return None,
            None => Err("no seal of this group in use has a measurement".to_owned()),
        })
    }
}

/// The paths of every group that has any.
fn paths_of_groups(
    records: &Records,
    by: &[String],
    clock: Clock,
    asked: &MeasuredFacts,
) -> Result<Vec<PathsOrWhy>, String> {
    let all = measured(records, &asked.measure, clock, by).map_err(|e| e.message().to_owned())?;
    let mut groups: BTreeMap<Vec<(String, String)>, Vec<&MeasuredSeal>> = BTreeMap::new();
    for seal in &all.seals {
        groups.entry(seal.key.clone()).or_default().push(seal);
    }
    let groups: Vec<_> = groups.into_iter().collect();
    Ok(groups
        .par_iter()
        .map(|(key, seals)| {
            let fitted = MeasuredGroup::fit(key.clone(), seals, asked);
            fitted.map_err(|why| (GroupKey(key.clone()), why))
        })
        .collect())
}

/// Groups mixed would look like looks that miss.
const TOGETHER: &str = "defects are followed within each group, not over all groups together";

/// Fewer draws than this are not weighed by.
const FEWEST: usize = 20;
const UNWEIGHED: &str = "No weighing over what the estimate leaves open: it has no draws (the fit gives no covariance). The plan is that of the estimate alone.";

/// The whole plan of one group with all answers beside it, in the unit of the group's clock: the policy of looks, turns and
/// replacement age that costs least on average over the worlds that the estimates leave open ([`weigh`]), in two stages
/// (defect, then failure) where the inspection histories tell them, else in one. With fewer than 20 worlds (a rule of ours)
/// it is [`plan_block`] for the estimate alone, said in its notes, and [`CareBlock::plan`] is `None`.
///
/// # Errors
/// In words: when there is no life to be trusted, no plan keeps the limits, or a cost or an age is out of its range.
pub fn whole(
    group: &GroupLife,
    evidence: &Evidence,
    facts: &Facts,
    question: &PlanQuestion,
) -> Result<CareBlock, sealspan_care::error::Error> {
    let fitted = group
        .trusted()
        .map_err(|why| sealspan_care::error::Error::unanswerable(&why))?;
    let (histories, sites) = evidence.of(&group.key.0);
    let basis = basis(fitted, histories, facts, question);
    let oldest = Some(group.sample.oldest());
    if basis.draws.len() < FEWEST {
        let mut block = plan_block(&basis.centre, &fitted.draws, oldest, question)?;
        block.notes.push(UNWEIGHED.to_owned());
        return Ok(block);
    }
    let terms = Terms::new(question.costs, &question.handling)?;
    let today = today(&sites, &terms, mean_life(&basis.centre)?);
    let (basis, turning) = on_frames(
        basis,
        evidence,
        facts,
        &today,
        (question.seed, question.confidence),
    );
    let counted = counted(&basis, facts, &today);
    let weighing = Weighing {
        seal: &basis.centre,
        draws: &basis.draws,
        costs: question.costs,
        handling: question.handling,
        request: question.request,
        calendar: facts.calendar,
        shortest: facts.shortest,
        today: &today.policies,
        counted,
        watched: (today.watched > 0.0).then_some(today.watched),
        confidence: question.confidence,
        price_range: facts.price_range,
    };
    let weighed = weigh(&weighing)?;
    let other_laws = basis.strays.as_deref().map_or_else(Vec::new, |fitted| {
        other_laws::other_laws(fitted, &weighing, &weighed.plan)
    });
    let policy = weighed.plan.policy(question.request.turn_by);
    let mut block = answers(fitted, &basis, question, policy, oldest)?;
    let worlds = Worlds {
        centre: basis.centre.clone(),
        draws: basis.draws,
        practice: today.policies.clone(),
        one_stage: basis.two_stage.as_ref().err().map(|o| o.reason.clone()),
    };
    let plan = WholePlan {
        worlds,
        stages: if basis.two_stage.is_ok() {
            "two_stage"
        } else {
            "one_stage"
        },
        stages_reason: basis.two_stage.as_ref().err().map(|o| o.reason.clone()),
        cure: basis.two_stage.as_ref().err().map(|o| o.cure.clone()),
        doubts: match basis.two_stage {
            Ok(doubts) => doubts,
            Err(one) => one.doubts,
        },
        other_laws,
        detection: (basis.centre.delay.is_some()).then_some(basis.centre.detection),
        turning: turning.as_ref().ok().cloned(),
        turning_reason: turning.err(),
        practice: today,
        against_counts: counted.is_some(),
        beyond_records: beyond_records(&basis.centre, weighed.plan.replace_at, oldest),
        sentences: vec![],
        turn_by: question.request.turn_by,
        weighed,
    };
    let sentences = words::sentences(&plan, &block, question, oldest);
    block.plan = Some(WholePlan { sentences, ..plan });
    match evidence.measured_limit(&group.key, facts, question) {
        Some(Ok(answer)) => block.measured_limit = Some(answer),
        Some(Err(why)) => block.measured_limit_reason = Some(why),
        None => {}
    }
    Ok(block)
}

/// Share of seals past the oldest age from which a plan is beyond the records.
const BEYOND: f64 = 0.2;
/// Steps up to that age.
const STEPS: usize = 400;

/// Share of seals that would pass the oldest age seen, were they changed at an age beyond it or on failure only.
pub(crate) fn beyond_records(
    seal: &Seal,
    replace_at: Option<f64>,
    oldest: Option<f64>,
) -> Option<f64> {
    let oldest = oldest.filter(|age| *age > 0.0 && replace_at.is_none_or(|at| at > *age))?;
    let alone = CarePolicy::run_to_failure();
    let through = expected_to_go(seal, &alone, oldest / STEPS as f64, STEPS + 1).ok()?;
    let left = (-through.last()?).exp();
    (left >= BEYOND).then_some(left)
}

/// Findings under today's looks that a law of one stage cannot tell.
const FINDINGS: f64 = 5.0;

/// What the records counted, where the log could not tell two stages though today's looks find worn seals: the law would
/// let all of those fail.
fn counted(basis: &Basis, facts: &Facts, today: &Today) -> Option<Counted> {
    let blind = basis.two_stage.is_err() && facts.one_stage.is_none();
    let counted = today.counted.filter(|_| blind)?;
    (counted.rates.found * counted.time >= FINDINGS).then_some(counted)
}

/// Every other answer around the plan. Questions that are worked out in one stage only are asked of the life
/// to failure.
fn answers(
    fitted: &Fitted,
    basis: &Basis,
    question: &PlanQuestion,
    policy: CarePolicy,
    oldest: Option<f64>,
) -> Result<CareBlock, sealspan_care::error::Error> {
    if basis.centre.delay.is_none() {
        return planned_block(&basis.centre, &fitted.draws, oldest, question, Some(policy));
    }
    let fewer = PlanQuestion {
        block: false,
        opportunity_every: None,
        horizon: None,
        ..question.clone()
    };
    let mut block = planned_block(&basis.centre, &[], oldest, &fewer, Some(policy))?;
    block.uncertainty_reason = Some("the intervals stand under `plan`".to_owned());
    let asked =
        question.block || question.opportunity_every.is_some() || question.horizon.is_some();
    if asked {
        let alone = Seal {
            handling_damage: basis.centre.handling_damage,
            ..Seal::one_stage(fitted.life.clone())
        };
        let planner = Planner::new(&alone, question.costs, &question.handling, question.request)?;
        let stop_gap = block.more.stop_gap.take();
        let quiet = PlanQuestion {
            stop_gap: None,
            ..question.clone()
        };
        block.more = more(&alone, &planner, &quiet)?;
        block.more.stop_gap = stop_gap;
    }
    Ok(block)
}
