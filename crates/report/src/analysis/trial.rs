//! A trial that shows a life, solved for what was left out.
//!
//! ```
//! use sealspan_report::analysis::trial::{ApartQuestion, ShowQuestion, apart, show};
//! let asked = ShowQuestion {
//!     show_life: 1000.0,
//!     reliability: 0.9,
//!     shape: 2.0,
//!     seals: None,
//!     duration: Some(1000.0),
//!     failures_allowed: Some(0),
//!     confidence: Some(0.9),
//!     unit: "hours",
//! };
//! assert_eq!(asked.left_out(), 1);
//! assert_eq!(show(asked)?.seals, 22); // ln(1 - 0.9) / ln(0.9) = 21.9
//!
//! let double = ApartQuestion {
//!     ratio: 2.0,
//!     shape: 1.0,
//!     power: None,
//!     confidence: None,
//!     seals: None,
//!     duration: None,
//!     life: None,
//!     unit: "hours",
//! };
//! let fourfold = ApartQuestion { ratio: 4.0, ..double };
//! let (many, few) = (apart(double)?.seals, apart(fourfold)?.seals);
//! assert_eq!(many.div_ceil(4), few); // ln 4 = 2 ln 2: a quarter of the seals
//! # Ok::<(), sealspan_care::error::Error>(())
//! ```

use crate::cautions;
use crate::number;
use crate::wire::trial::{Passing, ShowLife, TrialDocument, WrongShape};
use sealspan_care::error::{Error, Result};
use sealspan_care::trial::show::{Claim, Plan};

pub use super::trial_apart::{ApartQuestion, apart};

/// Taken when confidence is not given and something else is solved for.
pub(super) const USUAL_CONFIDENCE: f64 = 0.9;
/// Chance to pass at which seals count as good enough for the trial (a rule of ours).
const GOOD_CHANCE: f64 = 0.8;
/// Lives over the claimed ones at which the chance to pass is given.
const LONGER: [f64; 4] = [1.0, 1.5, 2.0, 3.0];
/// How far the shape may be off: a fifth to either side (a rule of ours).
pub(super) const SHAPES_OFF: [f64; 2] = [0.8, 1.2];
/// Below this chance to pass, seals just as good as claimed mostly do not.
const MOSTLY_PASSES: f64 = 0.5;
/// A trial much longer than the life to show.
const LONG_TRIAL: f64 = 3.0;

/// What is asked; of the four options one is solved for. Times are in `unit`.
#[derive(Debug, Clone, Copy)]
pub struct ShowQuestion {
    /// Life to show.
    pub show_life: f64,
    /// Share to be sound at that age, between 0 and 1.
    pub reliability: f64,
    /// Weibull shape taken as known.
    pub shape: f64,
    /// Seals on trial.
    pub seals: Option<u64>,
    /// Time each is run.
    pub duration: Option<f64>,
    /// Failures with which the trial is passed.
    pub failures_allowed: Option<u64>,
    /// Confidence wanted, one-sided, between 0 and 1.
    pub confidence: Option<f64>,
    /// Unit of times.
    pub unit: &'static str,
}

/// The four numbers, one of them solved for.
struct Solved {
    plan: Plan,
    confidence: f64,
    solved_for: &'static str,
}

impl ShowQuestion {
    /// How many of the four were left out.
    #[must_use]
    pub fn left_out(&self) -> usize {
        [
            self.seals.is_none(),
            self.duration.is_none(),
            self.failures_allowed.is_none(),
            self.confidence.is_none(),
        ]
        .iter()
        .filter(|x| **x)
        .count()
    }

    /// Fills in usual values until one is left out, and says so.
    fn filled(mut self) -> (Self, Vec<String>) {
        let mut taken = vec![];
        if self.left_out() > 1 && self.failures_allowed.is_none() {
            self.failures_allowed = Some(0);
            taken.push("no failure is allowed: --failures-allowed was not given".to_owned());
        }
        if self.left_out() > 1 && self.confidence.is_none() {
            self.confidence = Some(USUAL_CONFIDENCE);
            taken.push(format!(
                "the confidence is {}: --confidence was not given",
                number::level(USUAL_CONFIDENCE)
            ));
        }
        if self.left_out() > 1 && self.duration.is_none() {
            self.duration = Some(self.show_life);
            taken.push(
                "each seal is run for just the life to show: --duration was not given".to_owned(),
            );
        }
        (self, taken)
    }

    fn solve(&self, claim: &Claim) -> Result<Solved> {
        let ShowQuestion {
            seals,
            duration,
            failures_allowed: failures,
            confidence,
            ..
        } = *self;
        let (plan, confidence, solved_for) = match (seals, duration, failures, confidence) {
            (None, Some(duration), Some(failures_allowed), Some(c)) => {
                let seals = claim.seals(duration, c, failures_allowed)?;
                (plan(seals, duration, failures_allowed), c, "seals")
            }
            (Some(seals), None, Some(failures_allowed), Some(c)) => {
                let duration = claim.duration(seals, c, failures_allowed)?;
                (plan(seals, duration, failures_allowed), c, "duration")
            }
            (Some(seals), Some(duration), None, Some(c)) => {
                let failures = claim
                    .failures_allowed(seals, duration, c)?
                    .ok_or_else(|| self.shows_nothing(claim, seals, duration, c))?;
                (plan(seals, duration, failures), c, "failures_allowed")
            }
            (Some(seals), Some(duration), Some(failures_allowed), None) => {
                let plan = Claim::possible(plan(seals, duration, failures_allowed))?;
                (plan, claim.confidence(&plan), "confidence")
            }
            _ => {
                return Err(Error::unanswerable(
                    "Nothing is left to solve for: leave out one of seals, duration, failures allowed and confidence.",
                ));
            }
        };
        Ok(Solved {
            plan,
            confidence,
            solved_for,
        })
    }

    /// Why no number of failures may be allowed, with what would do.
    fn shows_nothing(&self, claim: &Claim, seals: u64, duration: f64, confidence: f64) -> Error {
        let reached = claim.confidence(&plan(seals, duration, 0));
        let mut why = format!(
            "Even without a failure {} for {} {} show this with {} confidence only.",
            seals_words(seals),
            number::tidy(duration),
            self.unit,
            number::percent(reached)
        );
        if let Ok(more) = claim.seals(duration, confidence, 0) {
            why.push_str(&format!(" {} would do", seals_words(more)));
            if let Ok(longer) = claim.duration(seals, confidence, 0) {
                let up = number::tidy_up(longer);
                why.push_str(&format!(", or running each for {up} {}", self.unit));
            }
            why.push('.');
        }
        Error::unanswerable(&why)
    }
}

fn plan(seals: u64, duration: f64, failures_allowed: u64) -> Plan {
    Plan {
        seals,
        duration,
        failures_allowed,
    }
}

pub(super) fn seals_words(seals: u64) -> String {
    format!(
        "{} seal{}",
        number::count(seals),
        if seals == 1 { "" } else { "s" }
    )
}

/// Plans a trial that shows a life ([`Claim`]). Where more than one of the four is left out, no failure is allowed, then the
/// confidence is 0.9, then each seal is run for just the life to show, until one is left, and the answer says so.
///
/// # Errors
/// When a number is out of its range, none of the four is left out, or no trial of this kind shows the life.
pub fn show(question: ShowQuestion) -> Result<TrialDocument> {
    let claim = Claim::new(question.show_life, question.reliability, question.shape)?;
    let (question, taken) = question.filled();
    let solved = question.solve(&claim)?;
    let plan = solved.plan;
    Ok(TrialDocument {
        schema: "sealspan.trial.v1",
        purpose: "show_life",
        solved_for: solved.solved_for,
        unit: question.unit,
        seals: plan.seals,
        duration: Some(plan.duration),
        duration_reason: None,
        failures_allowed: Some(plan.failures_allowed),
        failures_allowed_reason: None,
        confidence: solved.confidence,
        shape: question.shape,
        taken,
        show: Some(shown(&question, &claim, &solved)),
        apart: None,
        assumptions: assumptions(),
        warnings: warnings(&question, &claim, &plan),
        cautions: cautions::always(),
    })
}

fn shown(question: &ShowQuestion, claim: &Claim, solved: &Solved) -> ShowLife {
    let plan = &solved.plan;
    let just = plan.duration == question.show_life;
    ShowLife {
        show_life: question.show_life,
        reliability: question.reliability,
        confidence_reached: claim.confidence(plan),
        reliability_shown: claim.reliability_shown(plan, solved.confidence),
        passing: LONGER
            .iter()
            .map(|longer| Passing {
                life_ratio: *longer,
                sound: 1.0 - claim.failing(question.show_life, *longer),
                chance: claim.pass(plan, *longer),
            })
            .collect(),
        good_life_ratio: claim.longer_for(plan, GOOD_CHANCE),
        good_chance: GOOD_CHANCE,
        wrong_shape: if just {
            vec![]
        } else {
            SHAPES_OFF
                .iter()
                .map(|off| wrong(&claim.with_shape(question.shape * off), solved))
                .collect()
        },
        wrong_shape_reason: just.then_some(
            "each seal is run for just the life to show, so the shape does not enter what the trial shows",
        ),
    }
}

fn wrong(claim: &Claim, solved: &Solved) -> WrongShape {
    let seals = claim.seals(
        solved.plan.duration,
        solved.confidence,
        solved.plan.failures_allowed,
    );
    WrongShape {
        shape: claim.shape(),
        confidence: claim.confidence(&solved.plan),
        reason: seals.as_ref().err().map(ToString::to_string),
        seals: seals.ok(),
    }
}

fn assumptions() -> Vec<String> {
    [
        "Lives are Weibull, with a shape known beforehand from like seals; the trial itself does not show it.",
        "The seals on trial are picked at random from those meant, and fail independently of each other.",
        "The trial is run under the heat, medium, load and opening of service; a harsher trial needs an ageing model of its own.",
        "The number of seals, the time and the failures allowed are settled before the trial and not changed during it.",
    ]
    .map(str::to_owned)
    .to_vec()
}

fn warnings(question: &ShowQuestion, claim: &Claim, plan: &Plan) -> Vec<String> {
    let mut out = vec![];
    let ratio = plan.duration / question.show_life;
    if ratio > LONG_TRIAL {
        out.push(format!(
            "Each seal runs {} times the life to show: the answer leans on the shape, and on wear going on in the same way for so long.",
            number::significant(ratio, 2)
        ));
    }
    if ratio < 1.0 {
        out.push(
            "No seal on trial reaches the life to show: what happens beyond the trial is the shape's word alone.".to_owned(),
        );
    }
    if claim.pass(plan, 1.0) < MOSTLY_PASSES {
        out.push(format!(
            "Seals that are just as good as claimed mostly do not pass ({} do): a trial that is not passed does not show that they are bad.",
            number::percent(claim.pass(plan, 1.0))
        ));
    }
    out
}
