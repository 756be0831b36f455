//! The evaluator: long-run figures of a care policy by quadrature, without sampling.
//!
//! A policy's cycle is cut at its stops (openings, replacement). Between stops the onset is integrated
//! by the double-exponential rule, and the seals that went defective in a stretch are followed through
//! all later looks, each of which misses them with the chance 1 − r. Rates are ratios of means over a
//! cycle (renewal reward). The rule's step is halved until the figures agree to 1e-9.

mod cohort;
mod curve;
mod discount;
pub mod measured;
mod outcome;
pub mod pooled;
mod walk;

pub use outcome::Outcome;
use outcome::Totals;

use crate::error::{Error, Result, positive};
use crate::policy::{CareAction, CarePolicy, OnFinding, Opening};
use crate::seal::{FailureSign, Seal};
use crate::terms::Terms;
use curve::{Curve, Delay};
use discount::Discount;
use sealspan_life::life::Life;
use sealspan_numeric::double_exponential::FINEST;
pub(crate) use walk::Shared;
use walk::Walk;

/// Figures of two successive levels agree to this when the finer is taken.
const AGREED: f64 = 1e-9;
/// Level that the search works at, by the quick rule: figures to about 1e-6.
pub(crate) const SEARCH_LEVEL: u32 = 3;
/// A cycle counts as over when the seals still in service, by their age, weigh less than this share of
/// the time in service so far; for the search less is asked.
const OVER: f64 = 1e-10;
const OVER_IN_SEARCH: f64 = 1e-6;
const UNSETTLED: &str =
    "The figures of this policy do not settle: the ages spread over too many orders of size.";
/// Stops of one cycle at most, for an answer and in the search.
const MOST_STOPS: usize = 60_000;
const MOST_STOPS_IN_SEARCH: usize = 20_000;
/// Replacement ages between stops are looked at in this many first stretches, at these parts of them.
const EARLY: usize = 6;
const BETWEEN: [f64; 3] = [0.25, 0.5, 0.75];
/// Share of onsets left at the oldest age considered.
const OLDEST: f64 = 1e-16;

/// A seal with the tables its evaluation needs; make it once, ask it many policies.
///
/// ```
/// use sealspan_care::{evaluate::Prepared, policy::CarePolicy, seal::Seal, terms::{Event, Terms}};
/// use sealspan_life::life::Life;
/// let (defect, delay) = (Life::exponential(300.0).unwrap(), Life::exponential(60.0).unwrap());
/// let model = Prepared::new(&Seal::two_stage(defect, delay.clone()))?;
/// assert!((model.mean_onset() - 300.0).abs() < 1e-9 && (model.mean_delay().unwrap() - 60.0).abs() < 1e-6);
/// assert!((model.mean_life()? - 360.0).abs() < 1e-5);
/// assert!(model.looks_can_find() && model.seal().detection == 1.0);
/// assert!((-model.oldest() / 300.0).exp() < 1e-15);
/// // A cost of 40 at each failure, in one stage and on average one in 60: 40/60 per unit of the clock, and
/// // discounted at δ, 40 φ/(1 − φ) with φ = E e^(−δ life) = 1/(1 + 60 δ), which is 40/(60 δ).
/// let terms = Terms { failed: Event { money: 40.0, down: 0.0 }, ..Terms::default() };
/// let (model, policy) = (Prepared::new(&Seal::one_stage(delay))?, CarePolicy::run_to_failure());
/// assert!((model.rough(&policy, &terms, None)?.cost_rate - 40.0 / 60.0).abs() < 1e-3);
/// assert!((model.present_value(&policy, &terms, 0.001)? * 0.06 / 40.0 - 1.0).abs() < 1e-7);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Prepared {
    seal: Seal,
    law: Life,
    onset: Curve,
    delay: Option<Delay>,
    hidden: bool,
    finds_defect: f64,
    finds_failure: f64,
    opportunities_from: Option<f64>,
    oldest: f64,
    free_until: Option<f64>,
}

/// What a cycle comes to when the seal is replaced at an age: at a stop instead of being looked at or
/// turned, or between the first stops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cutoff {
    /// The age.
    pub age: f64,
    /// The figures.
    pub outcome: Outcome,
}

/// The long-run figures of any policy for any seal, to a relative error of 1e-8.
///
/// # Errors
/// As [`Prepared::new`] and [`Prepared::evaluate`]; for a measured seal when the policy has no replacement age,
/// opportunities are asked for, or the figures do not settle.
pub fn evaluate(seal: &Seal, policy: &CarePolicy, terms: &Terms) -> Result<Outcome> {
    match measured::paths(seal) {
        Some(paths) => measured::evaluate(&seal.clone().checked()?, paths, policy, terms),
        None => Prepared::new(seal)?.evaluate(policy, terms),
    }
}

/// Whether a policy can be worked out for a seal.
///
/// # Errors
/// As [`evaluate`], without working it out.
pub(crate) fn ends(seal: &Seal, policy: &CarePolicy) -> Result<()> {
    match measured::paths(seal) {
        Some(_) => measured::ends(seal, policy).map(|_| ()),
        None => Prepared::new(seal)?.ends(policy),
    }
}

/// Where figures of replacing earlier are put: at each stop up to an age, and between the first ones.
struct Earlier<'a> {
    list: &'a mut Vec<Cutoff>,
    stretches: usize,
    until: f64,
}

/// A policy without a replacement age, and what replacing at each of its stops would come to.
pub(crate) struct Stops {
    pub stops: Vec<Cutoff>,
    pub end: Outcome,
}

impl Prepared {
    /// Checks a seal and prepares its tables.
    ///
    /// # Errors
    /// When a chance is out of range, or the mean time to the onset or of the delay is not finite.
    pub fn new(seal: &Seal) -> Result<Self> {
        let seal = seal.clone().checked()?;
        let law = seal.law()?;
        if !law.mean().is_finite() {
            return Err(Error::no_answer(format!(
                "No long-run cost: the mean of this {} life is not finite, a few seals would outlast all others together.",
                law.family()
            )));
        }
        let parameters = law.parameters();
        let free = parameters.iter().find(|p| p.0 == "failure_free_time");
        Ok(Self {
            onset: Curve::new(&law),
            delay: seal.delay.as_ref().map(Delay::new).transpose()?,
            hidden: seal.failure == FailureSign::Hidden,
            finds_defect: seal.detection,
            finds_failure: seal.detection,
            opportunities_from: None,
            oldest: law.quantile(1.0 - OLDEST).min(f64::MAX),
            free_until: free.map(|p| p.1).filter(|t| *t > 0.0),
            law,
            seal,
        })
    }

    /// The seal.
    #[must_use]
    pub fn seal(&self) -> &Seal {
        &self.seal
    }

    /// An age that practically no seal (a share of 1e-16) reaches without its onset, if never turned; units of the clock.
    #[must_use]
    pub fn oldest(&self) -> f64 {
        self.oldest
    }

    /// Mean age at the onset, never turned, units of the clock.
    #[must_use]
    pub fn mean_onset(&self) -> f64 {
        self.law.mean()
    }

    /// Age by which the share `p` has had its onset, never turned.
    #[must_use]
    pub(crate) fn onset_quantile(&self, p: f64) -> f64 {
        self.law.quantile(p)
    }

    /// Mean delay from defect to failure, units of the clock; `None` in one stage.
    #[must_use]
    pub fn mean_delay(&self) -> Option<f64> {
        self.delay.as_ref().map(Delay::mean)
    }

    /// Whether a look can find anything: a defect before failure, or a hidden failure.
    #[must_use]
    pub fn looks_can_find(&self) -> bool {
        self.seal.detection > 0.0 && (self.delay.is_some() || self.hidden)
    }

    /// The same seal handled without harm, its failure showing at once.
    #[must_use]
    pub(crate) fn evident_and_unharmed(&self) -> Self {
        let mut model = self.clone();
        model.hidden = false;
        model.seal.failure = FailureSign::Evident;
        model.seal.handling_damage = 0.0;
        model
    }

    /// Mean time from fitting to failure without any care, units of the clock.
    ///
    /// # Errors
    /// As [`Prepared::evaluate`].
    pub fn mean_life(&self) -> Result<f64> {
        let evident = self.evident_and_unharmed();
        let run = evident.evaluate(&CarePolicy::run_to_failure(), &Terms::default())?;
        Ok(run.mean_service)
    }

    /// Whether the policy can be worked out for this seal at all.
    ///
    /// # Errors
    /// When no seal would ever be taken off, or opportunities meet a seal they are not worked out for.
    pub(crate) fn ends(&self, policy: &CarePolicy) -> Result<()> {
        self.under(policy).map(|_| ())
    }

    fn under(&self, policy: &CarePolicy) -> Result<Self> {
        let mut model = self.clone();
        if policy.replace_within.is_some() {
            return Err(Error::no_answer(
                "Nothing is measured on this seal, so no measurement can tell when to replace it.",
            ));
        }
        if policy.on_finding == OnFinding::Leave {
            model.finds_defect = 0.0;
        }
        if self.seal.opportunity_rate > 0.0 {
            model.opportunities_from = policy.opportunity_from;
            if policy.opportunity_from.is_some() && (self.delay.is_some() || self.hidden) {
                return Err(Error::no_answer(
                    "Opportunities are worked out for seals that fail evidently and in one stage.",
                ));
            }
        }
        let endless = policy.replace_at.is_none()
            && model.hidden
            && (model.finds_failure == 0.0 || policy.looks.after(0.0).is_none())
            && (self.seal.handling_damage == 0.0 || matches!(policy.next(0.0), CareAction::Run));
        if endless {
            return Err(Error::no_answer(
                "Without inspections or a replacement age a hidden failure would never come to light.",
            ));
        }
        Ok(model)
    }

    /// The long-run figures of a policy, to a relative error of 1e-8.
    ///
    /// # Errors
    /// When the policy is impossible, its cycle has no end or more than 60,000 openings, or the figures
    /// do not settle.
    ///
    /// ```
    /// use sealspan_care::{evaluate::Prepared, policy::CarePolicy, seal::Seal, terms::{Event, Terms}};
    /// use sealspan_life::life::Life;
    /// let seal = Seal::two_stage(Life::exponential(300.0).unwrap(), Life::exponential(60.0).unwrap());
    /// let terms = Terms {
    ///     failed: Event { money: 900.0, down: 0.0 },
    ///     found: Event { money: 100.0, down: 0.0 },
    ///     look: 5.0,
    ///     ..Terms::default()
    /// };
    /// let model = Prepared::new(&seal)?;
    /// let looked_at = model.evaluate(&CarePolicy::inspect_every(30.0), &terms)?;
    /// let left_alone = model.evaluate(&CarePolicy::run_to_failure(), &terms)?;
    /// assert!((left_alone.cost_rate - 2.5).abs() < 1e-9);
    /// assert!(looked_at.cost_rate < 1.5 && looked_at.found > 0.7);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn evaluate(&self, policy: &CarePolicy, terms: &Terms) -> Result<Outcome> {
        let policy = policy.clone().checked()?;
        let model = self.under(&policy)?;
        let mut coarse = model.walk(&policy, terms, SEARCH_LEVEL + 1, None)?;
        for level in SEARCH_LEVEL + 2..=FINEST {
            let fine = model.walk(&policy, terms, level, None)?;
            if fine.difference(&coarse) < AGREED {
                return Ok(fine);
            }
            coarse = fine;
        }
        Err(Error::no_answer(UNSETTLED))
    }

    /// Money now for a policy kept up for ever (over the cycles: worth of one cycle's money / (1 − worth of money at its
    /// end)), the first fitting not counted, discounted continuously at the rate
    /// `delta` per unit of the clock; to a relative error of 1e-8. Money of an event is paid when the equipment is
    /// opened for it; the next cycle starts when it is up again.
    ///
    /// # Errors
    /// As [`Prepared::evaluate`], and when `delta` is not a finite number above zero.
    pub fn present_value(&self, policy: &CarePolicy, terms: &Terms, delta: f64) -> Result<f64> {
        positive("the discount rate", delta)?;
        let policy = policy.clone().checked()?;
        let model = self.under(&policy)?;
        let at = |level: u32| -> Result<f64> {
            let discount = Discount::new(delta, model.seal.delay.as_ref(), terms)?;
            let mut walk = Walk::new(&model, level, Some(discount));
            model.follow(&mut walk, &policy, terms, None)?;
            Ok(walk.discount.map_or(f64::NAN, |d| d.present_value(terms)))
        };
        let mut coarse = at(SEARCH_LEVEL + 1)?;
        for level in SEARCH_LEVEL + 2..=FINEST {
            let fine = at(level)?;
            if (fine - coarse).abs() < AGREED * fine.abs() {
                return Ok(fine);
            }
            coarse = fine;
        }
        Err(Error::no_answer(UNSETTLED))
    }

    /// The figures at one level of the rule, quick and good enough to search with; with `cutoffs`, also
    /// those of replacing at each stop instead, and at some ages between the first ones.
    ///
    /// # Errors
    /// As [`Prepared::evaluate`].
    pub fn rough(
        &self,
        policy: &CarePolicy,
        terms: &Terms,
        cutoffs: Option<&mut Vec<Cutoff>>,
    ) -> Result<Outcome> {
        self.under(policy)?
            .walk(policy, terms, SEARCH_LEVEL, cutoffs)
    }

    /// As [`Prepared::rough`], with the figures of replacing at each stop instead, and only there. No further than the
    /// stop at the age `until`, where one is given; the policy's own end is then not to be had.
    pub(crate) fn stops(
        &self,
        policy: &CarePolicy,
        terms: &Terms,
        until: Option<f64>,
        shared: &mut Shared,
    ) -> Result<Stops> {
        let mut stops = vec![];
        let model = self.under(policy)?;
        let mut walk = Walk::new(&model, SEARCH_LEVEL, None);
        shared.lend(&mut walk, policy);
        let earlier = Earlier {
            list: &mut stops,
            stretches: 0,
            until: until.unwrap_or(f64::INFINITY),
        };
        let totals = model.follow(&mut walk, policy, terms, Some(earlier));
        shared.take_back(&mut walk, policy);
        Ok(Stops {
            end: totals?.outcome(terms),
            stops,
        })
    }

    fn walk(
        &self,
        policy: &CarePolicy,
        terms: &Terms,
        level: u32,
        cutoffs: Option<&mut Vec<Cutoff>>,
    ) -> Result<Outcome> {
        let mut walk = Walk::new(self, level, None);
        let earlier = cutoffs.map(|list| Earlier {
            list,
            stretches: EARLY,
            until: f64::INFINITY,
        });
        let totals = self.follow(&mut walk, policy, terms, earlier)?;
        Ok(totals.outcome(terms))
    }

    /// Follows a cycle to its end.
    fn follow(
        &self,
        walk: &mut Walk,
        policy: &CarePolicy,
        terms: &Terms,
        mut earlier: Option<Earlier>,
    ) -> Result<Totals> {
        let mut breaks = [self.free_until, self.opportunities_from]
            .into_iter()
            .flatten()
            .filter(|age| *age > 0.0)
            .collect::<Vec<f64>>();
        breaks.sort_by(f64::total_cmp);
        let mut stretches = 0;
        let (over, most) = if walk.level > SEARCH_LEVEL {
            (OVER, MOST_STOPS)
        } else {
            (OVER_IN_SEARCH, MOST_STOPS_IN_SEARCH)
        };
        let for_ever = policy.turn.is_none() && policy.replace_at.is_none();
        let even = policy.looks.even_from().filter(|_| for_ever);
        for _ in 0..most {
            let action = policy.next(walk.age);
            let next = match action {
                CareAction::Open(Opening { age, .. }) | CareAction::ReplaceAt(age) => age,
                CareAction::Run => f64::INFINITY,
            };
            if let Some(at) = breaks.iter().find(|at| **at > walk.age && **at < next) {
                walk.run_to(*at);
                continue;
            }
            match action {
                CareAction::Run => {
                    walk.run_out();
                    return Ok(walk.totals);
                }
                CareAction::ReplaceAt(age) => {
                    walk.run_to(age);
                    walk.replaced_present();
                    return Ok(walk.replaced());
                }
                CareAction::Open(opening) => {
                    if let Some(earlier) = &mut earlier
                        && stretches < earlier.stretches
                    {
                        let gap = opening.age - walk.age;
                        earlier.list.extend(BETWEEN.map(|part| {
                            let age = walk.age + part * gap;
                            let outcome = walk.replaced_at(age).outcome(terms);
                            Cutoff { age, outcome }
                        }));
                    }
                    stretches += 1;
                    walk.run_to(opening.age);
                    if let Some(earlier) = &mut earlier {
                        earlier.list.push(Cutoff {
                            age: opening.age,
                            outcome: walk.replaced().outcome(terms),
                        });
                        if opening.age >= earlier.until {
                            return Ok(walk.totals);
                        }
                    }
                    walk.open(opening);
                    if let Some((from, step)) = even
                        && walk.age >= from
                        && walk.close(step)
                    {
                        return Ok(walk.totals);
                    }
                }
            }
            if walk.in_service() * walk.age < over * walk.totals.service {
                return Ok(walk.totals);
            }
        }
        Err(Error::no_answer(
            "No figures: a seal would be opened more than 60,000 times before the last seals are gone; inspect or turn less often, or give a replacement age.",
        ))
    }
}
