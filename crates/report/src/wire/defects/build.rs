//! One group's defect model, its intervals and its doubts.

use super::{
    AgreementResult, Band, Caught, DefectOptions, DoubtRow, FittedDefects, GroupDefects, Named,
    PlainReadings, Spread,
};
use crate::wire::GroupKey;
use sealspan_life::bounds::Bounds;
use sealspan_life::defects::doubts::{Doubt, doubts};
use sealspan_life::defects::goodness::{LookBand, agreement, by_look};
use sealspan_life::defects::{
    Counts, DefectDraws, DefectFit, DefectQuantity, Model, PRIORS, StageLaw, fit,
};
use sealspan_life::fit::fit as fit_life;
use sealspan_life::laws::by_name;
use sealspan_life::quantity::Quantity;
use sealspan_records::histories::HistoryGroup;
use sealspan_records::history::{Ended, History};
use sealspan_records::{Observation, Sample};
use std::cell::OnceCell;

pub(super) fn group(group: &HistoryGroup, options: &DefectOptions) -> GroupDefects {
    let counts = Counts::of(&group.histories);
    let model = Model {
        defect: options
            .defect
            .unwrap_or_else(|| StageLaw::for_ends(counts.failed + counts.found)),
        delay: options
            .delay
            .unwrap_or_else(|| StageLaw::for_ends(counts.failed)),
        detection: options.detection,
    };
    let fitted = fit(model, group.histories.clone());
    let (model, reason, cure) = match &fitted {
        Ok(fit) => {
            let mut told = self::fitted(fit, group.spacing, options);
            regroup(&mut told.doubts, group);
            (Some(told), None, None)
        }
        Err(why) => (None, Some(why.to_string()), Some(why.cure().to_owned())),
    };
    GroupDefects {
        group: GroupKey(group.key.clone()),
        counts: counts.into(),
        usual_interval: group.spacing,
        model,
        reason,
        cure,
        plain: plain(&group.histories),
    }
}

/// Intervals by profile likelihood, or by the posterior where the likelihood leaves an end open.
struct Asker<'a> {
    fit: &'a DefectFit,
    options: &'a DefectOptions,
    /// The likelihood's bounds where the log is weakest.
    weakest: [(DefectQuantity, Bounds); 2],
    /// Whether the likelihood sets limits there.
    closed: bool,
    draws: OnceCell<Option<DefectDraws>>,
}

const OPEN: &str = "the log sets no limit on this side";
const STATED: &str = "stated, not estimated";
const NONE: &str = "not finite under this law";

const NO_BOUNDS: Bounds = Bounds {
    lower: None,
    upper: None,
    no_lower: None,
    no_upper: None,
};

impl<'a> Asker<'a> {
    /// One method for the whole group where it can be: the posterior where the likelihood leaves detection or the
    /// mean delay open, as it does at the edges: perfect detection, delays all alike.
    fn new(fit: &'a DefectFit, options: &'a DefectOptions) -> Self {
        let weakest = [
            DefectQuantity::Delay(Quantity::Mean),
            DefectQuantity::Detection,
        ]
        .map(|quantity| (quantity, fit.bounds(quantity, options.confidence)));
        let closed = |(quantity, b): &(DefectQuantity, Bounds)| {
            let stated = fit.scaled_error(*quantity).is_none_or(|e| e <= 0.0);
            stated || (b.lower.is_some() && b.upper.is_some())
        };
        let closed = !fit.at_edge() && weakest.iter().all(closed);
        Self {
            fit,
            options,
            weakest,
            closed,
            draws: OnceCell::new(),
        }
    }

    fn ask(&self, quantity: DefectQuantity) -> Spread {
        let level = self.options.confidence;
        let estimate = self.fit.estimate(quantity);
        let stated = self.fit.scaled_error(quantity).is_none_or(|e| e <= 0.0);
        if stated && !self.fit.at_edge() {
            return Spread {
                estimate,
                method: "stated",
                reason: Some(STATED.to_owned()),
                ..Spread::default()
            };
        }
        let b = if self.closed {
            let known = self.weakest.iter().find(|(q, _)| *q == quantity);
            known.map_or_else(|| self.fit.bounds(quantity, level), |(_, b)| *b)
        } else {
            NO_BOUNDS
        };
        if let (Some(lower), Some(upper)) = (b.lower, b.upper) {
            return Spread {
                estimate,
                lower: Some(lower),
                upper: Some(upper),
                method: "profile",
                reason: estimate.is_none().then(|| NONE.to_owned()),
            };
        }
        let draws = self
            .draws
            .get_or_init(|| DefectDraws::new(self.fit, self.options.seed).ok());
        let shares = [0.5 - 0.5 * level, 0.5 + 0.5 * level, 0.5];
        let ends = draws
            .as_ref()
            .map_or_else(Vec::new, |d| d.quantiles(quantity, &shares));
        let end = |i: usize| ends.get(i).copied().flatten();
        let (lower, upper) = (end(0), end(1));
        let open = lower.is_none() || upper.is_none();
        Spread {
            // The median goes with the ends; a maximum at the edge need not lie between them.
            estimate: end(2).or(estimate),
            lower,
            upper,
            method: "posterior",
            reason: (open || estimate.is_none()).then(|| OPEN.to_owned()),
        }
    }

    fn named(&self, name: impl Into<String>, quantity: DefectQuantity) -> Named {
        Named {
            name: name.into(),
            value: self.ask(quantity),
        }
    }

    fn parameters(&self) -> Vec<Named> {
        let of = |law: StageLaw| by_name(law.name()).map_or(&[][..], |f| f.reported());
        let model = &self.fit.model;
        let mut out = vec![];
        for (i, p) in of(model.defect).iter().enumerate() {
            let quantity = DefectQuantity::Defect(Quantity::Parameter(i));
            out.push(self.named(format!("defect_{}", p.name), quantity));
        }
        for (i, p) in of(model.delay).iter().enumerate() {
            let quantity = DefectQuantity::Delay(Quantity::Parameter(i));
            out.push(self.named(format!("delay_{}", p.name), quantity));
        }
        out.push(self.named("detection", DefectQuantity::Detection));
        out
    }
}

fn fitted(fit: &DefectFit, spacing: Option<f64>, options: &DefectOptions) -> FittedDefects {
    let asker = Asker::new(fit, options);
    let parameters = asker.parameters();
    let mean_delay = DefectQuantity::Delay(Quantity::Mean);
    let quantities = vec![
        asker.named(
            "mean_age_of_defects",
            DefectQuantity::Defect(Quantity::Mean),
        ),
        asker.named(
            "b10_age_of_defects",
            DefectQuantity::Defect(Quantity::Quantile(0.1)),
        ),
        asker.named("mean_delay", mean_delay),
    ];
    let every = |every: f64| Caught {
        every,
        value: asker.ask(DefectQuantity::Caught { every }),
    };
    let life = vec![
        asker.named("b10_life", DefectQuantity::LifeQuantile(0.1)),
        asker.named("mean_life", DefectQuantity::LifeMean),
    ];
    let bands = by_look(fit);
    let bounds = |named: Option<&Named>| Bounds {
        lower: named.and_then(|n| n.value.lower),
        upper: named.and_then(|n| n.value.upper),
        ..NO_BOUNDS
    };
    let found = doubts(
        fit,
        bounds(parameters.last()),
        bounds(quantities.last()),
        spacing,
        &bands,
    );
    let correlation = (0..5).map(|i| (0..5).map(|j| fit.correlation(i, j)).collect());
    FittedDefects {
        defect_law: fit.model.defect.name(),
        delay_law: fit.model.delay.name(),
        log_likelihood: fit.log_likelihood,
        correlation: correlation.collect(),
        caught: intervals(fit, spacing, options)
            .into_iter()
            .map(every)
            .collect(),
        parameters,
        quantities,
        life,
        agreement: agreement(fit, &bands).map(|a| AgreementResult {
            statistic: a.statistic,
            df: a.df,
            p_value: a.p_value,
        }),
        by_look: bands.iter().map(band).collect(),
        doubts: found.into_iter().map(doubt).collect(),
        priors: asker.draws.get().is_some().then_some(PRIORS),
    }
}

/// Times between looks to speak of: as asked, or half the usual one, itself, and twice that.
fn intervals(fit: &DefectFit, spacing: Option<f64>, options: &DefectOptions) -> Vec<f64> {
    if !options.every.is_empty() {
        return options.every.clone();
    }
    let delay = fit.estimate(DefectQuantity::Delay(Quantity::Mean));
    let Some(usual) = spacing.or(delay.map(|d| 0.5 * d)) else {
        return vec![];
    };
    [0.5, 1.0, 2.0]
        .map(|f| {
            let t = f * usual;
            if t >= 10.0 { t.round() } else { t }
        })
        .to_vec()
}

fn band(b: &LookBand) -> Band {
    Band {
        from: b.from,
        to: b.to,
        looks: b.looks,
        found: b.found,
        found_expected: b.found_expected,
        failed: b.failed,
        failed_expected: b.failed_expected,
    }
}

fn doubt(d: Doubt) -> DoubtRow {
    DoubtRow {
        kind: d.kind,
        message: d.message,
        mend: d.cure.to_owned(),
    }
}

/// Columns that may tell unlike seals apart.
const APART: [&str; 3] = ["material", "site", "batch"];

/// A group that mixes unlike seals is split by what it is not split by already.
pub(crate) fn regroup(doubts: &mut [DoubtRow], group: &HistoryGroup) {
    let used: Vec<&str> = group.key.iter().map(|(c, _)| c.as_str()).collect();
    let open: Vec<&str> = APART.into_iter().filter(|c| !used.contains(c)).collect();
    let strays = |d: &&mut DoubtRow| matches!(d.kind, "misfit" | "doubtful_fit");
    for doubt in doubts.iter_mut().filter(strays) {
        doubt.mend = match open.as_slice() {
            [] => "try other laws (`sealspan defects` with --defect-law, --delay-law), or group by another condition that differs".to_owned(),
            open => {
                let kept = used.iter().map(|c| format!("{c},")).collect::<String>();
                format!(
                    "group by what differs (--by {kept}{}), or try other laws",
                    open.join(&format!(" or {kept}"))
                )
            }
        };
    }
}

/// The age by which 10 % have failed when removals on condition are read as sound, and as failed.
fn plain(histories: &[History]) -> PlainReadings {
    let b10 = |found: fn(&History, f64, f64) -> Option<Observation>| {
        let rows = histories.iter().filter_map(|h| {
            let (entry, n) = (h.entry(), h.count());
            match h.ended() {
                Ended::Failed(t) => Observation::exact(t, entry, n).ok(),
                Ended::FailedBetween(a, b) => Observation::interval(a, b, entry, n).ok(),
                Ended::Running(t) => Observation::right(t, entry, n).ok(),
                Ended::Found(t) => found(h, t, h.looks().last().copied().unwrap_or(0.0)),
            }
        });
        let weibull = by_name("weibull").ok_or_else(|| "no such family".to_owned())?;
        fit_life(weibull, &Sample::new(rows.collect()))
            .map_err(|why| why.to_string())?
            .finite_estimate(Quantity::Quantile(0.1))
            .ok_or_else(|| "no finite age under this law".to_owned())
    };
    let sound = b10(|h, t, _| Observation::right(t, h.entry(), h.count()).ok());
    let failed = b10(|h, t, look| Observation::interval(look, t, h.entry(), h.count()).ok());
    PlainReadings {
        reason: sound.clone().err().or(failed.clone().err()),
        b10_removals_as_sound: sound.ok(),
        b10_removals_as_failed: failed.ok(),
    }
}
