//! A plan whose laws are in doubt, priced under other laws of the defect's age and of the delay.

use super::words::Pen;
use crate::number;
use rayon::prelude::*;
use sealspan_care::seal::{Onset, Seal};
use sealspan_care::weigh::{Candidate, Elsewhere, Weighing, elsewhere};
use sealspan_life::defects::goodness::{agreement, by_look};
use sealspan_life::defects::{DefectFit, Model, StageLaw, fit};
use serde::Serialize;

/// The plan under one other pair of laws.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OtherLaws {
    /// Law of the age at the defect.
    pub defect: &'static str,
    /// Law of the delay.
    pub delay: &'static str,
    /// Log-likelihood over that of the laws planned with.
    pub log_likelihood_gain: f64,
    /// Probability of straying as much by number of look; `null` with too few looks to compare.
    pub p_value: Option<f64>,
    /// The plan there, and the best policy.
    #[serde(flatten)]
    pub there: Elsewhere,
    /// The plan over the best policy there, as a share of that.
    pub extra_share: f64,
}

/// The plan under each other pair of laws that can be fitted. Turning is worked out for Weibull laws only, so a plan
/// that turns is priced under other delays alone.
pub(super) fn other_laws(
    fitted: &DefectFit,
    weighing: &Weighing,
    plan: &Candidate,
) -> Vec<OtherLaws> {
    let both = [StageLaw::Weibull, StageLaw::Lognormal];
    let laws = |own: StageLaw, may_change: bool| -> Vec<StageLaw> {
        let others = both.into_iter().filter(|law| *law != own && may_change);
        std::iter::once(own).chain(others).collect()
    };
    let model = fitted.model;
    let delays = laws(model.delay, model.delay.has_spread());
    let turned = plan.turn_every.is_some();
    let pairs: Vec<(StageLaw, StageLaw)> = laws(model.defect, model.defect.has_spread() && !turned)
        .into_iter()
        .flat_map(|defect| delays.iter().map(move |delay| (defect, *delay)))
        .skip(1)
        .collect();
    let one = |(defect, delay): &(StageLaw, StageLaw)| {
        let other = Model {
            defect: *defect,
            delay: *delay,
            ..model
        };
        let refitted = fit(other, fitted.histories.to_vec()).ok()?;
        let middle = Some(&refitted).filter(|f| !f.at_edge())?;
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
        let there = elsewhere(weighing, plan, &seal)?;
        Some(OtherLaws {
            defect: defect.name(),
            delay: delay.name(),
            log_likelihood_gain: middle.log_likelihood - fitted.log_likelihood,
            p_value: agreement(middle, &by_look(middle)).map(|a| a.p_value),
            extra_share: there.plan / there.best - 1.0,
            there,
        })
    };
    pairs.par_iter().filter_map(one).collect()
}

/// Up to this share the plan is as good as the best.
const CLOSE: f64 = 0.02;

/// What other laws make of the plan; `None` where none was tried.
pub(super) fn sentence(all: &[OtherLaws], pen: &Pen) -> Option<String> {
    let worst = all.iter().map(|o| o.extra_share).reduce(f64::max)?;
    let one = |o: &OtherLaws| {
        let fits = format!(
            "{} in log-likelihood{}",
            signed(o.log_likelihood_gain),
            o.p_value.map_or_else(String::new, |p| format!(
                ", p = {}",
                number::significant(p, 2)
            ))
        );
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
            "{} and {} ({fits}): {}, {against}",
            o.defect,
            o.delay,
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
        "The laws being in doubt, the plan was priced under others of the defect's age and of the delay: {}. {so}.",
        list.join("; ")
    ))
}

fn signed(x: f64) -> String {
    let sign = if x < 0.0 { "\u{2212}" } else { "+" };
    format!("{sign}{}", number::significant(x.abs(), 2))
}
