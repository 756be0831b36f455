//! Whether looks are put at finding as many defects in one group as in the others: the same eyes look at all of them. A
//! group is doubted where the upper end of the interval of its detection lies below 0.6 of the mean of at least two other
//! groups (rules of ours).

use super::drawn::ends;
use super::planned::replanned;
use super::plans::Pen;
use super::prices;
use crate::wire::GroupKey;
use crate::wire::care::GroupCare;
use crate::wire::plan::WholePlan;
use sealspan_care::costs::Costs;
use sealspan_care::evaluate::Prepared;
use sealspan_care::policy::CarePolicy;
use sealspan_care::replacement::Goal;
use sealspan_care::terms::Terms;
use sealspan_care::weigh::{Average, Candidate};
use sealspan_records::{Question, Records};
use serde::Serialize;

/// A group's detection is out of line when the upper end of its interval is below this share of the others' mean (a rule of
/// ours).
const SHARE: f64 = 0.6;
/// Fewest other groups that tell what looks find (a rule of ours).
const OTHERS: usize = 2;

/// A group whose looks are put at finding far fewer defects than those of the others.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Odd {
    group: GroupKey,
    detection: [f64; 3],
    others: Vec<(String, f64)>,
}

impl Odd {
    /// The mean of the others.
    fn elsewhere(&self) -> f64 {
        self.others.iter().map(|o| o.1).sum::<f64>() / self.others.len() as f64
    }

    /// Whether it is this group.
    pub(super) fn is(&self, group: &GroupKey) -> bool {
        self.group == *group
    }

    /// Why what looks buy is not to be judged there.
    pub(super) fn reason(&self) -> String {
        let [at, _, upper] = self.detection;
        format!(
            "its log puts a look at finding {at:.2} of the defects (at most {upper:.2}), where looks at the other groups find {:.2} on average: one of them cannot be right",
            self.elsewhere()
        )
    }
}

/// Every group out of line, with the others it is held against.
pub(super) fn odd(plans: &[GroupCare], confidence: f64) -> Vec<Odd> {
    let all: Vec<(&GroupCare, [f64; 3])> = plans
        .iter()
        .filter_map(|g| {
            let plan = g.block.as_ref()?.plan.as_ref()?;
            let drawn = plan.worlds.draws.iter().map(|seal| seal.detection);
            let [lower, upper] = ends(drawn, confidence)?;
            Some((g, [plan.detection?, lower, upper]))
        })
        .collect();
    let one = |at: usize| {
        let (group, detection) = all.get(at)?;
        let rest = all.iter().enumerate().filter(|(i, _)| *i != at);
        let others: Vec<(String, f64)> = rest
            .map(|(_, (g, [value, ..]))| (g.group.words(), *value))
            .collect();
        let odd = Odd {
            group: group.group.clone(),
            detection: *detection,
            others,
        };
        let out = odd.others.len() >= OTHERS && detection[2] < SHARE * odd.elsewhere();
        out.then_some(odd)
    };
    (0..all.len()).filter_map(one).collect()
}

/// What the plan of such a group would be were its looks to find as many as the others'.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DetectionDoubt {
    /// Which group.
    pub group: GroupKey,
    /// Share of defects that a look finds there.
    pub detection: f64,
    /// Lower end of its interval, by rank among the lives drawn.
    pub detection_lower: f64,
    /// Upper end.
    pub detection_upper: f64,
    /// The same in the other groups: name and share.
    pub others: Vec<(String, f64)>,
    /// Their mean, each group counted once; the group is planned again with it.
    pub elsewhere: f64,
    /// The plan with that, in words; `null`: none could be worked out.
    pub plan_words: Option<String>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plan_reason: Option<String>,
    /// What the group's own plan costs more than that one by this reading, money of one position per unit of the clock,
    /// averaged over the lives drawn; `null` without one.
    pub kept_dearer: Option<f64>,
    /// What that plan costs more than the group's own by the group's own reading, likewise.
    pub other_dearer: Option<f64>,
    /// Whether that plan has looks or turns; `null` without one.
    pub looks_pay: Option<bool>,
    /// What it costs, money of one position per unit of the clock; `null` without one.
    pub then: Option<Average>,
    /// What it saves against today's practice, likewise; `null` also where no practice is known.
    pub saving: Option<Average>,
}

/// What another policy costs more than a plan's own in the plan's worlds, on average.
fn dearer(plan: &WholePlan, other: &Candidate, (turn_by, terms): (usize, &Terms)) -> Option<f64> {
    let more = plan.worlds.draws.iter().map(|seal| {
        let model = Prepared::new(seal).ok()?;
        let cost = |policy: CarePolicy| Some(model.rough(&policy, terms, None).ok()?.cost_rate);
        Some(cost(other.policy(turn_by))? - cost(plan.weighed.plan.policy(plan.turn_by))?)
    });
    let more: Vec<f64> = more.collect::<Option<_>>()?;
    (!more.is_empty()).then(|| more.iter().sum::<f64>() / more.len() as f64)
}

/// Groups out of line, each planned again with what the looks of the others find.
pub(super) fn doubts(
    records: &Records,
    asked: &Question,
    (plans, lives): (&[GroupCare], &[super::lives::GroupLife]),
    costs: &Costs,
    ask: (f64, u64),
) -> Vec<DetectionDoubt> {
    let study = &records.study;
    let terms = |group: &GroupKey| {
        let own = costs.dearer(prices::dearer(&study.costs, group));
        Terms::new(&own, &prices::handling(study)).ok()
    };
    let own = |group: &GroupKey| {
        let own = plans.iter().find(|g| g.group == *group)?;
        own.block.as_ref()?.plan.as_ref()
    };
    let of = |odd: Odd| {
        let life = lives.iter().find(|l| l.key == odd.group);
        let again = life.map(|life| replanned(records, asked, life, costs, ask, odd.elsewhere()));
        let plan = again.as_ref().and_then(|g| g.block.as_ref()?.plan.as_ref());
        let pen = Pen {
            unit: asked.clock.unit(),
            currency: "",
            goal: Goal::Cost,
            calendar: plan.and_then(|p| p.weighed.calendar),
        };
        let [detection, detection_lower, detection_upper] = odd.detection;
        DetectionDoubt {
            kept_dearer: plan.zip(own(&odd.group)).and_then(|(p, own)| {
                dearer(p, &own.weighed.plan, (own.turn_by, &terms(&odd.group)?))
            }),
            other_dearer: plan.zip(own(&odd.group)).and_then(|(p, own)| {
                dearer(own, &p.weighed.plan, (p.turn_by, &terms(&odd.group)?))
            }),
            detection,
            detection_lower,
            detection_upper,
            elsewhere: odd.elsewhere(),
            plan_words: plan.map(|p| pen.policy(&p.weighed.plan)),
            plan_reason: plan
                .is_none()
                .then(|| "no plan could be weighed with it".to_owned()),
            looks_pay: plan.map(|p| {
                let plan = &p.weighed.plan;
                plan.inspect_every.is_some() || plan.turn_every.is_some()
            }),
            then: plan.map(|p| p.weighed.then),
            saving: plan.and_then(|p| Some(p.weighed.today.as_ref()?.saving)),
            group: odd.group,
            others: odd.others,
        }
    };
    odd(plans, ask.0).into_iter().map(of).collect()
}
