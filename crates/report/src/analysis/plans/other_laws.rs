//! A plan whose laws are in doubt, priced under other laws of the defect's age and of the delay.

use super::words::Pen;
use crate::number;
use rayon::prelude::*;
use sealspan_care::seal::{Onset, Seal};
use sealspan_care::weigh::{Candidate, Elsewhere, Weighing, elsewhere};
use sealspan_life::defects::{DefectFit, StageLaw};
use serde::Serialize;

/// The plan under one other pair of laws.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OtherLaws {
    /// Law of the age at the defect.
    pub defect: &'static str,
    /// Law of the delay.
    pub delay: &'static str,
    /// Log-likelihood over that of the laws planned with, to about 0.01.
    pub log_likelihood_gain: f64,
    /// The plan there, and the best policy.
    #[serde(flatten)]
    pub there: Elsewhere,
    /// The plan over the best policy there, as a share of that.
    pub extra_share: f64,
}

/// The plan with another law of the defect's age, and with another of the delay. Turning is worked out for Weibull laws
/// only, so a plan that turns is priced under another delay alone.
pub(super) fn other_laws(
    fitted: &DefectFit,
    weighing: &Weighing,
    plan: &Candidate,
) -> Vec<OtherLaws> {
    let model = fitted.model;
    let turned = plan.turn_every.is_some();
    let mut pairs = vec![];
    if !turned {
        pairs.extend(other(model.defect).map(|defect| (defect, model.delay)));
    }
    pairs.extend(other(model.delay).map(|delay| (model.defect, delay)));
    let one = |(defect, delay): &(StageLaw, StageLaw)| {
        let middle = fitted.under(*defect, *delay)?;
        let (onset, late) = middle.lives()?;
        let seal = Seal {
            onset: match &weighing.seal.onset {
                Onset::Ring(ring) if turned => Onset::Ring(ring.clone()),
                _ => Onset::Law(onset),
            },
            delay: Some(late),
            detection: middle.detection(),
            ..weighing.seal.clone()
        };
        // Where nothing keeps the limits there is no best to hold the plan against.
        let there = elsewhere(weighing, plan, &seal).filter(|t| t.best.is_finite())?;
        Some(OtherLaws {
            defect: defect.name(),
            delay: delay.name(),
            log_likelihood_gain: middle.log_likelihood - fitted.log_likelihood,
            extra_share: there.plan / there.best - 1.0,
            there,
        })
    };
    pairs.par_iter().filter_map(one).collect()
}

/// The law to try instead of one that has a shape.
fn other(law: StageLaw) -> Option<StageLaw> {
    match law {
        StageLaw::Exponential => None,
        StageLaw::Weibull => Some(StageLaw::Lognormal),
        StageLaw::Lognormal | StageLaw::LogLogistic => Some(StageLaw::Weibull),
    }
}

/// Up to this share the plan is as good as the best.
const CLOSE: f64 = 0.02;

/// What other laws make of the plan; `None` where none was tried.
pub(super) fn sentence(all: &[OtherLaws], pen: &Pen) -> Option<String> {
    let worst = all.iter().map(|o| o.extra_share).reduce(f64::max)?;
    let one = |o: &OtherLaws| {
        let fits = if o.log_likelihood_gain > 0.0 {
            "better"
        } else {
            "worse"
        };
        let by = number::significant(o.log_likelihood_gain.abs(), 2);
        let against = if o.there.keeps_limits && o.extra_share < 1e-3 {
            "the best there too".to_owned()
        } else {
            let kept = if o.there.keeps_limits {
                ""
            } else {
                ", and does not keep the limits"
            };
            format!(
                "{} above the best there ({}){kept}",
                number::percent(o.extra_share.max(0.0)),
                pen.policy(&o.there.policy)
            )
        };
        format!(
            "{} and {} (which fit {fits} by {by} in log-likelihood): {}, {against}",
            named(o.defect),
            named(o.delay),
            pen.measure(o.there.plan)
        )
    };
    let list: Vec<String> = all.iter().map(one).collect();
    let kept = all.iter().all(|o| o.there.keeps_limits);
    let so = if worst > CLOSE {
        let most = number::percent(worst);
        format!("If another of them is right, the plan costs up to {most} more than it need")
    } else if kept {
        "So the advice holds whichever of them is right".to_owned()
    } else {
        "So the cost holds whichever of them is right, the limits do not".to_owned()
    };
    Some(format!(
        "The laws being in doubt, the plan was priced under other laws of the defect's age and of the delay: {}. {so}.",
        list.join("; ")
    ))
}

fn named(law: &str) -> &str {
    if law == "weibull" { "Weibull" } else { law }
}
