//! Which care policy is best for a seal: looks, turns and replacement age together, under limits.
//!
//! For each step between openings the whole run of replacement ages at the stops comes out of one
//! evaluation; the step is searched over a logarithmic grid and refined in each valley.

mod ages;
mod inspect;
mod measured;
mod modes;
mod opportunity;
mod replace;
mod stop_gap;
mod turn;

pub use inspect::InspectAnswer;
pub use measured::{MeasuredPlan, MeasuredQuestion, best_measured};
pub use opportunity::OpportunityAnswer;
pub use stop_gap::{StopGap, StopGapAnswer};
pub use turn::TurnAnswer;

use crate::costs::Costs;
use crate::error::{Error, Result, share};
use crate::evaluate::{Outcome, Prepared};
use crate::policy::CarePolicy;
use crate::replacement::Goal;
use crate::seal::{FailureSign, Seal};
use crate::terms::{Handling, Terms};
use serde::Serialize;
use std::cell::RefCell;
use std::collections::BTreeMap;

/// One part of a policy: searched for, left out, or given.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Choice {
    /// Searched for.
    #[default]
    Free,
    /// Not done.
    Never,
    /// At this step or age, units of the clock.
    At(f64),
}

/// Limits that a policy has to keep.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Limits {
    /// Least share of time up.
    pub least_availability: Option<f64>,
    /// Largest share of seals that fail before they are taken off.
    pub most_failure_probability: Option<f64>,
}

impl Limits {
    /// How far a policy is from keeping them; 0 when it does.
    pub(crate) fn broken(&self, outcome: &Outcome) -> f64 {
        let up = self
            .least_availability
            .map_or(0.0, |least| least - outcome.availability);
        let fail = self
            .most_failure_probability
            .map_or(0.0, |most| outcome.failed - most);
        up.max(0.0) + fail.max(0.0)
    }
}

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Request {
    /// Time between looks.
    pub inspect: Choice,
    /// Time between turns.
    pub turn: Choice,
    /// Sectors of one turn.
    pub turn_by: usize,
    /// Replacement age.
    pub replace: Choice,
    /// What is to be least.
    pub goal: Goal,
    /// What has to be kept.
    pub limits: Limits,
}

impl Default for Request {
    fn default() -> Self {
        Self {
            inspect: Choice::Free,
            turn: Choice::Free,
            turn_by: 1,
            replace: Choice::Free,
            goal: Goal::Cost,
            limits: Limits::default(),
        }
    }
}

/// A policy with its figures.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The policy.
    pub policy: CarePolicy,
    /// Its figures.
    pub outcome: Outcome,
}

/// A seal, its prices and a request, ready to be asked. Making one and asking for the best plan is
/// quick enough to be done for every draw of an estimate.
///
/// ```
/// use sealspan_care::costs::{Costs, Prices};
/// use sealspan_care::plan::{Choice, Planner, Request};
/// use sealspan_care::{policy::CarePolicy, seal::Seal, terms::Handling};
/// use sealspan_life::life::Life;
/// use sealspan_records::observation::Clock;
/// let prices = Prices { planned_cost: 1.0, failure_cost: 5.0, discount_rate: 0.08, ..Prices::default() };
/// let costs = Costs::new(prices, Clock::Days)?;
/// let ask = |seal: &Seal, request| Planner::new(seal, &costs, &Handling::default(), request);
///
/// // A Weibull life of shape 2 at a fifth of a failure's cost: the best age by Barlow and Hunter's rule.
/// let wearing = ask(&Seal::one_stage(Life::weibull(2.0, 1000.0).unwrap()), Request::default())?;
/// let best = wearing.replace_alone(None)?;
/// assert!((best.age.unwrap() - 510.655).abs() < 0.01);
/// assert!(!wearing.looks_can_find() && wearing.single_life()?.is_some());
/// assert!((wearing.model().mean_onset() - 1000.0 * 0.886_226_925).abs() < 1e-3); // Γ(3/2)
/// assert_eq!((wearing.terms().failed.money, wearing.request().turn_by), (5.0, 1));
/// // Opportunities that hardly ever come change nothing.
/// let seldom = wearing.opportunities(1e9)?;
/// assert!((seldom.figures.cost_rate / best.cost_rate - 1.0).abs() < 1e-6);
///
/// // Lives without memory: money now, discounted at δ, is a failure's cost over δ times the mean life.
/// let lasting = ask(&Seal::one_stage(Life::exponential(100.0).unwrap()), Request::default())?;
/// let worth = lasting.present_value(&CarePolicy::run_to_failure())?;
/// assert!((worth * (0.08 / 365.25) * 100.0 / 5.0 - 1.0).abs() < 1e-7);
/// assert!((lasting.run_to_failure()?.cost_rate - 0.05).abs() < 1e-9);
///
/// // Defects at a constant rate, delays of mean 60, sure looks: 1 − 60 (1 − e^(−T/60))/T of them are missed.
/// let two = Seal::two_stage(Life::exponential(300.0).unwrap(), Life::exponential(60.0).unwrap());
/// let handling = Handling { inspection_cost: 0.05, ..Handling::default() };
/// let request = Request { replace: Choice::Never, ..Request::default() };
/// let looks = Planner::new(&two, &costs, &handling, request)?;
/// let answer = looks.inspect()?;
/// let every = answer.every.unwrap();
/// assert!((answer.missed.unwrap() - (1.0 - 60.0 * (1.0 - (-every / 60.0).exp()) / every)).abs() < 1e-9);
/// for other in [0.8 * every, 1.25 * every] {
///     assert!(looks.evaluate(&CarePolicy::inspect_every(other))?.cost_rate > answer.figures.cost_rate);
/// }
///
/// // A frame that wears all sectors alike gives nothing to gain by turning.
/// let even = Seal::one_stage(Life::weibull(2.0, 400.0).unwrap()).with_severities(&[1.0; 4])?;
/// let turned = ask(&even, Request::default())?.turn()?;
/// assert!(turned.every.is_none() && (turned.limit_ratio - 1.0).abs() < 1e-12);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Planner {
    model: Prepared,
    costs: Costs,
    terms: Terms,
    handling: Handling,
    request: Request,
}

/// Where fewer openings than this come in a cycle, no price of one is worked out: rounding would make it.
const FEW: f64 = 0.02;
/// A share of seals, and a share of the cost, that make no replacement age worth stating (a rule of ours).
const HARDLY_A_SEAL: f64 = 1e-3;
/// A relative gain below this is rounding.
const NO_GAIN: f64 = 1e-7;
/// A score of a policy that breaks a limit starts here.
const BROKEN: f64 = 1e30;

impl Planner {
    /// Checks and prepares.
    ///
    /// # Errors
    /// When a price, chance, step or limit is out of range, turns are asked of a seal without sectors,
    /// or the goal is availability and nothing takes time.
    pub fn new(seal: &Seal, costs: &Costs, handling: &Handling, request: Request) -> Result<Self> {
        let terms = Terms::new(costs, handling)?;
        if let Some(least) = request.limits.least_availability {
            share("the least availability", least)?;
        }
        if let Some(most) = request.limits.most_failure_probability {
            share("the largest failure probability", most)?;
        }
        if matches!(request.turn, Choice::At(_)) && seal.ring().is_none() {
            return Err(Error::no_answer(
                "Turning cannot be judged: say how unevenly the sectors wear (relative severities such as 2,1,1,1).",
            ));
        }
        if request.turn_by == 0 {
            return Err(Error::input(
                "the sectors turned",
                0,
                "turn by one sector or more",
            ));
        }
        if seal
            .ring()
            .is_some_and(|ring| request.turn_by >= ring.sectors())
        {
            return Err(Error::input(
                "the sectors turned",
                request.turn_by,
                "turn by fewer sectors than the ring has: a whole round changes nothing",
            ));
        }
        if seal.failure == FailureSign::Hidden && terms.undetected <= 0.0 {
            return Err(Error::input(
                "the undetected cost",
                terms.undetected,
                "say what a hidden failure costs per unit of time; without it nobody would look",
            ));
        }
        let planner = Self {
            model: Prepared::new(seal)?,
            costs: *costs,
            terms,
            handling: *handling,
            request,
        };
        planner.time_counts()?;
        Ok(planner)
    }

    fn time_counts(&self) -> Result<()> {
        let timed = self.terms.failed.down > 0.0 || self.hidden();
        let asked = self.request.goal == Goal::Availability
            || self.request.limits.least_availability.is_some();
        if !asked || timed {
            return Ok(());
        }
        if self.costs.hours_per_unit().is_none() {
            return Err(Error::no_answer(
                "No availability on this clock: say how many hours one cycle lasts.",
            ));
        }
        Err(Error::input(
            "the failure hours down",
            0,
            "give how long a failure keeps the equipment down; without downtime the availability is 1 whatever is done",
        ))
    }

    /// The seal with its tables.
    #[must_use]
    pub fn model(&self) -> &Prepared {
        &self.model
    }

    /// Prices and durations of all events.
    #[must_use]
    pub fn terms(&self) -> &Terms {
        &self.terms
    }

    /// The request.
    #[must_use]
    pub fn request(&self) -> &Request {
        &self.request
    }

    fn hidden(&self) -> bool {
        self.model.seal().failure == FailureSign::Hidden
    }

    /// Whether a look can find anything.
    #[must_use]
    pub fn looks_can_find(&self) -> bool {
        self.model.looks_can_find()
    }

    /// The goal's own measure: less is better.
    #[must_use]
    pub(crate) fn measure(&self, outcome: &Outcome) -> f64 {
        match self.request.goal {
            Goal::Cost => outcome.cost_rate,
            Goal::Availability => 1.0 - outcome.availability,
        }
    }

    /// The measure, and beyond all of it for a policy that breaks a limit.
    fn score(&self, outcome: &Outcome) -> f64 {
        let broken = self.request.limits.broken(outcome);
        if broken > 0.0 {
            BROKEN * (1.0 + broken)
        } else {
            self.measure(outcome)
        }
    }

    /// The figures of a policy, to 1e-8.
    ///
    /// # Errors
    /// As [`Prepared::evaluate`].
    pub fn evaluate(&self, policy: &CarePolicy) -> Result<Outcome> {
        self.model.evaluate(policy, &self.terms)
    }

    fn rough_score(&self, policy: &CarePolicy) -> f64 {
        self.model
            .rough(policy, &self.terms, None)
            .map_or(f64::INFINITY, |outcome| self.score(&outcome))
    }

    /// Rough figures of a policy by its step, each step worked out once however often it is asked for; `None` where
    /// there are none.
    fn by_step<'a>(
        &'a self,
        policy: impl Fn(f64) -> CarePolicy + 'a,
    ) -> impl Fn(f64) -> Option<Outcome> + 'a {
        let known: RefCell<BTreeMap<u64, Option<Outcome>>> = RefCell::default();
        move |step: f64| {
            let mut known = known.borrow_mut();
            let figures = || self.model.rough(&policy(step), &self.terms, None).ok();
            *known.entry(step.to_bits()).or_insert_with(figures)
        }
    }

    /// The best policy under the limits.
    ///
    /// # Errors
    /// When a planned replacement weighs nothing, or no policy keeps the limits: the least that can be
    /// reached is said.
    ///
    /// ```
    /// use sealspan_care::costs::{Costs, Prices};
    /// use sealspan_care::plan::{Planner, Request};
    /// use sealspan_care::{seal::Seal, terms::Handling};
    /// use sealspan_life::life::Life;
    /// use sealspan_records::observation::Clock;
    /// let seal = Seal::two_stage(Life::weibull(2.0, 270.0).unwrap(), Life::weibull(1.5, 100.0).unwrap());
    /// let prices = Prices { planned_cost: 60.0, failure_cost: 2500.0, ..Prices::default() };
    /// let costs = Costs::new(prices, Clock::Days)?;
    /// let handling = Handling { inspection_cost: 15.0, ..Handling::default() };
    /// let best = Planner::new(&seal, &costs, &handling, Request::default())?.best()?;
    /// assert!(best.policy.looks.after(0.0).is_some() && best.outcome.failed < 0.2);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn best(&self) -> Result<Plan> {
        if self.request.replace == Choice::Free && self.terms.planned.money <= 0.0 {
            return Err(Error::input(
                "the planned cost",
                0,
                "give what a planned replacement costs; if it were free, replacing all the time would be best",
            ));
        }
        let found = self.search();
        let Some((policy, _)) = found else {
            return Err(Error::no_answer(
                "No policy of this kind can be worked out: a hidden failure would never come to light, or the seal would be opened too often.",
            ));
        };
        let outcome = self.evaluate(&policy)?;
        if self.request.limits.broken(&outcome) > 1e-6 {
            return Err(self.infeasible(&outcome));
        }
        Ok(self.without_idle_age(Plan { policy, outcome }))
    }

    /// Drops a replacement age that gains nothing: hardly a seal would reach it.
    fn without_idle_age(&self, plan: Plan) -> Plan {
        if self.request.replace != Choice::Free || plan.policy.replace_at.is_none() {
            return plan;
        }
        let policy = CarePolicy {
            replace_at: None,
            ..plan.policy.clone()
        };
        match self.evaluate(&policy) {
            Ok(outcome) if self.idle(&plan.outcome, &outcome) => Plan { policy, outcome },
            _ => plan,
        }
    }

    /// Whether a replacement age gains nothing, or next to nothing and is reached by next to no seal.
    fn idle(&self, with: &Outcome, without: &Outcome) -> bool {
        let hardly = with.preventive < HARDLY_A_SEAL
            && self.score(without) <= self.score(with) * (1.0 + HARDLY_A_SEAL);
        hardly || !self.gains(with, without)
    }

    /// Whether a policy is better than another by more than rounding.
    fn gains(&self, policy: &Outcome, than: &Outcome) -> bool {
        self.score(policy) < self.score(than) * (1.0 - NO_GAIN)
    }

    fn infeasible(&self, nearest: &Outcome) -> Error {
        let mut missed = vec![];
        if let Some(least) = self.request.limits.least_availability
            && nearest.availability < least
        {
            missed.push(format!(
                "the availability {least} (nearest {:.6})",
                nearest.availability
            ));
        }
        if let Some(most) = self.request.limits.most_failure_probability
            && nearest.failed > most
        {
            missed.push(format!(
                "the failure probability {most} (nearest {:.6})",
                nearest.failed
            ));
        }
        let parts = [
            self.request.inspect,
            self.request.turn,
            self.request.replace,
        ];
        let (beside, free) = if parts.iter().any(|part| *part != Choice::Free) {
            (
                ", and what was given or ruled out of the policy",
                ", leave more of the policy free",
            )
        } else {
            ("", "")
        };
        Error::no_answer(format!(
            "No policy keeps the limits: {} is out of reach with these lives, chances and durations{beside}. Loosen it{free}, make failure rarer (another material, better detection), or shorten the time down.",
            missed.join(" and ")
        ))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::costs::Prices;
    use sealspan_life::life::Life;
    use sealspan_records::observation::Clock;

    fn planner(request: Request) -> Planner {
        let prices = Prices {
            planned_cost: 1.0,
            failure_cost: 5.0,
            ..Prices::default()
        };
        let seal = Seal::one_stage(Life::weibull(2.0, 300.0).unwrap());
        let costs = Costs::new(prices, Clock::Days).unwrap();
        Planner::new(&seal, &costs, &Handling::default(), request).unwrap()
    }

    /// An age that one seal in ten thousand reaches is dropped where it saves half a thousandth, and kept where it saves
    /// two; one that half of them reach is kept in both cases, and dropped where it saves nothing.
    #[test]
    fn an_age_is_idle_where_few_reach_it_and_little_is_saved() {
        let planner = planner(Request::default());
        let figures = |cost_rate: f64, preventive: f64| Outcome {
            cost_rate,
            preventive,
            ..Outcome::default()
        };
        for (reach, without, idle) in [
            (1e-4, 1.0005, true),
            (1e-4, 1.002, false),
            (0.5, 1.0005, false),
            (0.5, 1.002, false),
            (0.5, 1.0, true),
            (1e-4, 1.0, true),
        ] {
            let found = planner.idle(&figures(1.0, reach), &figures(without, 0.0));
            assert_eq!(found, idle, "{reach} {without}");
        }
    }

    /// The more a policy breaks a limit the worse it stands, and worse than any that keeps it however dear.
    #[test]
    fn a_policy_stands_the_worse_the_more_it_breaks_a_limit() {
        let limits = Limits {
            most_failure_probability: Some(0.1),
            ..Limits::default()
        };
        let planner = planner(Request {
            limits,
            ..Request::default()
        });
        let score = |cost_rate: f64, failed: f64| {
            planner.score(&Outcome {
                cost_rate,
                failed,
                ..Outcome::default()
            })
        };
        let rising = [
            score(1.0, 0.05),
            score(2.0, 0.1),
            score(1e12, 0.1),
            score(3.0, 0.1001),
            score(2.0, 0.2),
            score(1.0, 0.9),
        ];
        assert!(rising.windows(2).all(|w| w[0] < w[1]), "{rising:?}");
    }

    /// A refusal names the limits missed and no others, and asks for more of the policy to be left free where not all of
    /// it is.
    #[test]
    fn a_refusal_names_what_is_out_of_reach() {
        let asked = |replace: Choice, availability: f64, failed: f64| {
            let limits = Limits {
                least_availability: None,
                most_failure_probability: Some(0.1),
            };
            let mut planner = planner(Request {
                limits,
                replace,
                ..Request::default()
            });
            planner.request.limits.least_availability = Some(0.99);
            let nearest = Outcome {
                availability,
                failed,
                ..Outcome::default()
            };
            planner.infeasible(&nearest).to_string()
        };
        let up = "the availability 0.99 (nearest 0.980000)";
        let fail = "the failure probability 0.1 (nearest 0.200000)";
        let both = format!("No policy keeps the limits: {up} and {fail} is out of reach");
        assert!(asked(Choice::Free, 0.98, 0.2).starts_with(&both));
        for (availability, failed, one, other) in [(0.98, 0.05, up, fail), (0.995, 0.2, fail, up)] {
            let words = asked(Choice::Free, availability, failed);
            assert!(words.contains(one) && !words.contains(other), "{words}");
        }
        for (replace, narrowed) in [(Choice::Free, false), (Choice::Never, true)] {
            let words = asked(replace, 0.98, 0.2);
            assert_eq!(words.contains("leave more of the policy free"), narrowed);
            assert_eq!(words.contains("given or ruled out"), narrowed);
        }
    }
}
