//! The seal that a plan is for: one stage or two, on the frames of its doors, at the estimate and in every
//! world that the estimate leaves possible.

use super::stages::{OneStage, stages};
use super::today::Today;
use super::{Evidence, Facts, TOGETHER};
use crate::analysis::DRAWS;
use crate::analysis::lives::Fitted;
use crate::wire::care::PlanQuestion;
use crate::wire::defects::DoubtRow;
use crate::wire::plan::TurningBasis;
use sealspan_care::error::Result;
use sealspan_care::evaluate::Prepared;
use sealspan_care::policy::CarePolicy;
use sealspan_care::seal::{FailureSign, Onset, Seal};
use sealspan_care::terms::Terms;
use sealspan_life::defects::{DefectDraw, DefectFit};
use sealspan_life::life::Life;
use sealspan_records::histories::HistoryGroup;

/// The seal at its estimate and in all worlds, and how it came about.
pub(super) struct Basis {
    /// At the estimate.
    pub centre: Seal,
    /// In every world.
    pub draws: Vec<Seal>,
    /// The doubts of two stages, or why there is one.
    pub two_stage: std::result::Result<Vec<DoubtRow>, OneStage>,
    /// The fit of two stages, where its laws are in doubt.
    pub strays: Option<Box<DefectFit>>,
}

/// Mean time from fitting to failure without any care.
pub(super) fn mean_life(seal: &Seal) -> Result<f64> {
    let model = Prepared::new(seal)?;
    Ok(model.mean_onset() + model.mean_delay().unwrap_or(0.0))
}

/// Two stages where the log can tell them, else the life to failure.
pub(super) fn basis(
    fitted: &Fitted,
    histories: std::result::Result<HistoryGroup, String>,
    facts: &Facts,
    question: &PlanQuestion,
) -> Basis {
    let dressed = |seal: Seal| Seal {
        handling_damage: facts.handling_damage,
        failure: if facts.hidden {
            FailureSign::Hidden
        } else {
            FailureSign::Evident
        },
        ..seal
    };
    let one = |reason: String, cure: &str| OneStage {
        reason,
        cure: cure.to_owned(),
        doubts: vec![],
    };
    let found = if let Some(asked) = facts.one_stage {
        let (reason, cure) = asked.reason();
        Err(one(reason.to_owned(), cure))
    } else {
        histories
            .map_err(|why| {
                let cure = if why == TOGETHER {
                    "read the plans of the groups"
                } else {
                    "record every look with its finding: sound, worn or failed"
                };
                one(why, cure)
            })
            .and_then(|group| {
                stages(
                    &group,
                    facts.detection,
                    question.confidence,
                    DRAWS,
                    question.seed,
                )
            })
    };
    match found {
        Ok(stages) => {
            let two = |d: &DefectDraw| Seal {
                detection: d.detection,
                ..dressed(Seal::two_stage(d.defect.clone(), d.delay.clone()))
            };
            Basis {
                centre: two(&stages.centre),
                draws: stages.draws.iter().map(two).collect(),
                two_stage: Ok(stages.doubts),
                strays: stages.strays,
            }
        }
        Err(why) => {
            let alone = |life: &Life| Seal {
                detection: facts.detection.unwrap_or(1.0),
                ..dressed(Seal::one_stage(life.clone()))
            };
            Basis {
                centre: alone(&fitted.life),
                draws: fitted.draws.iter().map(alone).collect(),
                two_stage: Err(why),
                strays: None,
            }
        }
    }
}

/// Weibull shape of the seal's first event.
fn shape(seal: &Seal) -> Option<f64> {
    let Onset::Law(life) = &seal.onset else {
        return None;
    };
    match life.family() {
        "weibull" => life
            .parameters()
            .iter()
            .find(|p| p.0 == "shape")
            .map(|p| p.1),
        "exponential" => Some(1.0),
        _ => None,
    }
}

/// Puts the seals on frames: stated severities, or those the records leave possible. A life read from
/// seals that were turned is that of turned seals; never turned it is shorter.
pub(super) fn on_frames(
    basis: Basis,
    evidence: &Evidence,
    facts: &Facts,
    today: &Today,
    (seed, confidence): (u64, f64),
) -> (Basis, std::result::Result<TurningBasis, String>) {
    if shape(&basis.centre).is_none() {
        let why = "turning is worked out for Weibull and exponential laws".to_owned();
        return (basis, Err(why));
    }
    let place = |seal: &Seal, world: Option<u64>| -> Seal {
        let law = shape(seal);
        match (&evidence.arcs, facts.severities.as_slice(), world) {
            (Ok(arcs), [], None) => arcs.at_estimate(seal.clone(), law),
            (Ok(arcs), [], Some(n)) => arcs.drawn(seal.clone(), law, seed.wrapping_add(n)),
            (_, stated, _) => seal
                .clone()
                .with_severities(stated)
                .unwrap_or_else(|_| seal.clone()),
        }
    };
    if let (Err(why), []) = (&evidence.arcs, facts.severities.as_slice()) {
        return (basis, Err(why.clone()));
    }
    let centre = place(&basis.centre, None);
    let shorter = turned_share(&centre, today.turns_every);
    let back = |seal: Seal| scaled(&seal, shorter).unwrap_or(seal);
    let Some(ring) = centre.ring().cloned() else {
        return (basis, Err("the severities give no ring".to_owned()));
    };
    let draws = basis.draws.iter().zip(0..);
    let basis = Basis {
        draws: draws.map(|(seal, n)| back(place(seal, Some(n)))).collect(),
        centre: back(centre),
        two_stage: basis.two_stage,
        strays: basis.strays,
    };
    let turning = TurningBasis {
        severities: ring.severities().to_vec(),
        severity_intervals: match (&evidence.arcs, facts.severities.as_slice()) {
            (Ok(_), []) => severity_intervals(&basis.draws, confidence),
            _ => None,
        },
        limit_ratio: ring.limit_ratio(),
        counts: match (&evidence.arcs, facts.severities.as_slice()) {
            (Ok(arcs), []) => Some(arcs.counts().to_vec()),
            _ => None,
        },
        p_value: match (&evidence.arcs, facts.severities.as_slice()) {
            (Ok(arcs), []) => arcs.p_value(seed),
            _ => None,
        },
    };
    (basis, Ok(turning))
}

/// Interval of each sector's wear over the worlds.
fn severity_intervals(draws: &[Seal], confidence: f64) -> Option<Vec<[f64; 2]>> {
    let rings: Vec<_> = draws.iter().filter_map(Seal::ring).collect();
    let sectors = rings.first()?.sectors();
    let tail = 0.5 - 0.5 * confidence;
    (0..sectors)
        .map(|i| {
            let all = rings.iter().map(|ring| ring.severities().get(i).copied());
            let mut all: Vec<f64> = all.collect::<Option<_>>()?;
            all.sort_by(f64::total_cmp);
            let last = all.len() as f64 - 1.0;
            let at = |share: f64| all.get((share * last).round() as usize).copied();
            Some([at(tail)?, at(1.0 - tail)?])
        })
        .collect()
}

/// Mean age at the onset never turned, over that under today's turns.
fn turned_share(centre: &Seal, turns_every: Option<f64>) -> f64 {
    let ratio = || {
        let alone = Seal {
            delay: None,
            handling_damage: 0.0,
            failure: FailureSign::Evident,
            ..centre.clone()
        };
        let model = Prepared::new(&alone).ok()?;
        let free = Terms::default();
        let turned = model
            .rough(&CarePolicy::turn_every(turns_every?), &free, None)
            .ok()?;
        Some(model.mean_onset() / turned.mean_service)
    };
    ratio().filter(|r| r.is_finite() && *r > 0.0).unwrap_or(1.0)
}

/// The ring with its scale multiplied.
fn scaled(seal: &Seal, by: f64) -> Option<Seal> {
    let ring = seal.ring()?;
    let life = ring.never_turned().ok()?;
    let (shape, scale) = life
        .parameters()
        .iter()
        .fold((1.0, None), |(shape, scale), p| match p.0 {
            "shape" => (p.1, scale),
            "scale" | "mean" => (shape, Some(p.1)),
            _ => (shape, scale),
        });
    let alone = Seal {
        onset: Onset::Law(Life::weibull(shape, scale? * by)?),
        ..seal.clone()
    };
    alone.with_severities(ring.severities()).ok()
}
