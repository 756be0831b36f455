//! How often each event happens under every policy of a menu: whatever the prices, what a policy costs is these
//! rates times the money of each event.

use super::menu::{Candidate, Menu, Row};
use super::{FEWEST, Practice};
use crate::calendar::Calendar;
use crate::error::{Error, Result};
use crate::evaluate::{Outcome, Prepared, Shared};
use crate::plan::Request;
use crate::replacement::Goal;
use crate::seal::Seal;
use crate::terms::{Event, Terms};
use rayon::prelude::*;
use sealspan_records::observation::Clock;

/// Events of one position per unit of the clock, in the long run. The unit passes down as well as up.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Rates {
    /// Replaced by schedule.
    pub planned: f64,
    /// Failed.
    pub failed: f64,
    /// Found worn and replaced.
    pub found: f64,
    /// Spoilt by handling and replaced.
    pub damaged: f64,
    /// Replaced while the equipment was open anyway.
    pub opportunity: f64,
    /// Openings of the equipment, each for a look, a turn or both.
    pub openings: f64,
    /// Looks.
    pub looks: f64,
    /// Turns.
    pub turns: f64,
    /// Share of the time that a failure stands unseen.
    pub undetected: f64,
}

impl Rates {
    fn of(outcome: &Outcome) -> Self {
        let each = |per_cycle: f64| per_cycle / outcome.mean_cycle;
        Self {
            planned: each(outcome.preventive),
            failed: each(outcome.failed),
            found: each(outcome.found),
            damaged: each(outcome.damaged),
            opportunity: each(outcome.opportunity),
            openings: each(outcome.openings_per_cycle),
            looks: each(outcome.inspections_per_cycle),
            turns: each(outcome.turns_per_cycle),
            undetected: each(outcome.undetected_time),
        }
    }

    /// So many times these: the rates of as many seals.
    #[must_use]
    pub fn times(&self, factor: f64) -> Self {
        let mut out = Self::default();
        out.add(self, factor);
        out
    }

    fn add(&mut self, other: &Self, weight: f64) {
        self.planned += weight * other.planned;
        self.failed += weight * other.failed;
        self.found += weight * other.found;
        self.damaged += weight * other.damaged;
        self.opportunity += weight * other.opportunity;
        self.openings += weight * other.openings;
        self.looks += weight * other.looks;
        self.turns += weight * other.turns;
        self.undetected += weight * other.undetected;
    }

    fn mean<'a>(all: impl ExactSizeIterator<Item = &'a Self>) -> Self {
        let weight = 1.0 / all.len().max(1) as f64;
        all.fold(Self::default(), |mut sum, one| {
            sum.add(one, weight);
            sum
        })
    }

    /// Money per unit of the clock at the prices of `terms`: Σ rate × price.
    #[must_use]
    pub fn money(&self, terms: &Terms) -> f64 {
        self.planned * terms.planned.money
            + self.failed * terms.failed.money
            + self.found * terms.found.money
            + self.damaged * terms.damaged.money
            + self.opportunity * terms.opportunity.money
            + self.openings * terms.opening.money
            + self.looks * terms.look
            + self.turns * terms.turn
            + self.undetected * terms.undetected
    }
}

/// Events as the records counted them over a time in service: what today's practice comes to, without a law.
///
/// ```
/// use sealspan_care::weigh::{Counted, Rates};
/// use sealspan_care::{replacement::Goal, terms::{Event, Terms}};
/// // Four failures in 400 days at 100 each: 1 a day, and √4 of 4 for its error.
/// let terms = Terms { failed: Event { money: 100.0, down: 0.0 }, ..Terms::default() };
/// let counted = Counted { rates: Rates { failed: 0.01, ..Rates::default() }, time: 400.0 };
/// let (money, error) = counted.measure(&terms, Goal::Cost);
/// assert!((money - 1.0).abs() < 1e-12 && (error - 0.5).abs() < 1e-12);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counted {
    /// Per unit of the clock.
    pub rates: Rates,
    /// Time watched.
    pub time: f64,
}

impl Counted {
    /// Money, or time down, per unit of the clock, Σ rate × price, and its standard error were the events independent
    /// (Poisson), √(Σ rate × price² / time).
    #[must_use]
    pub fn measure(&self, terms: &Terms, goal: Goal) -> (f64, f64) {
        let r = &self.rates;
        let events = [
            (r.planned, terms.planned),
            (r.failed, terms.failed),
            (r.found, terms.found),
            (r.damaged, terms.damaged),
            (r.opportunity, terms.opportunity),
            (r.openings, terms.opening),
        ];
        let of = |event: Event| match goal {
            Goal::Cost => event.money,
            Goal::Availability => event.down,
        };
        let labour = match goal {
            Goal::Cost => [(r.looks, terms.look), (r.turns, terms.turn)],
            Goal::Availability => [(0.0, 0.0); 2],
        };
        let each = events.map(|(rate, event)| (rate, of(event)));
        let all = each.iter().chain(&labour);
        let (mean, square) = all.fold((0.0, 0.0), |(mean, square), (rate, price)| {
            (mean + rate * price, square + rate * price * price)
        });
        (mean, (square / self.time).sqrt())
    }
}

/// A policy and the rates of its events.
#[derive(Debug, Clone, PartialEq)]
pub struct PolicyRates {
    /// The policy.
    pub policy: Candidate,
    /// On average over the worlds.
    pub mean: Rates,
    /// At the estimate.
    pub centre: Rates,
    /// At the estimate of each place; empty where none was asked for.
    pub places: Vec<Rates>,
}

/// What is asked.
#[derive(Debug, Clone)]
pub struct RatesQuestion<'a> {
    /// The seal at its estimate.
    pub seal: &'a Seal,
    /// Worlds that the estimate leaves possible, all equally likely.
    pub draws: &'a [Seal],
    /// The seal at its estimate at places with rates of their own.
    pub places: &'a [Seal],
    /// Times down, as they lengthen a cycle; prices do not matter.
    pub terms: &'a Terms,
    /// What is free, given or left out.
    pub request: Request,
    /// Clock of the lives.
    pub clock: Clock,
    /// Step of the service calendar.
    pub calendar: Calendar,
    /// What is done today.
    pub today: &'a [Practice],
    /// What the records counted, in the place of that.
    pub counted: Option<Counted>,
}

/// Rates of every policy.
#[derive(Debug, Clone, PartialEq)]
pub struct MenuRates {
    /// Step of the calendar; `None` on usage.
    pub calendar: Option<&'static str>,
    /// The policies, those with the same looks and turns together.
    pub policies: Vec<PolicyRates>,
    /// Today's practice on average over the worlds; `None` without one, or where it cannot be worked out.
    pub today: Option<Rates>,
    /// Worlds averaged over.
    pub worlds: usize,
}

/// One world: every policy of the menu, and today's practice.
struct World {
    menu: Vec<Option<Rates>>,
    today: Option<Rates>,
}

/// Rates of every policy of the menu, averaged over the worlds with long-run figures.
///
/// # Errors
/// When an input is out of range, or fewer than 20 worlds have long-run figures.
pub fn menu_rates(question: &RatesQuestion) -> Result<MenuRates> {
    let centre = Prepared::new(question.seal)?;
    let menu = Menu::new(
        &centre,
        &question.request,
        question.clock,
        question.calendar,
        None,
    )?;
    let worlds: Vec<World> = question
        .draws
        .par_iter()
        .filter_map(|seal| world(&Prepared::new(seal).ok()?, &menu, question))
        .collect();
    if worlds.len() < FEWEST {
        return Err(Error::no_answer(
            "Too few of the lives drawn from the estimate have long-run figures to average over.",
        ));
    }
    let at_estimate = world(&centre, &menu, question)
        .ok_or_else(|| Error::no_answer("Today's practice cannot be worked out."))?;
    let places: Option<Vec<World>> = question
        .places
        .par_iter()
        .map(|seal| world(&Prepared::new(seal).ok()?, &menu, question))
        .collect();
    let places =
        places.ok_or_else(|| Error::no_answer("A place's own figures cannot be worked out."))?;
    let names = menu.rows.iter().flat_map(Row::candidates);
    let policies = names.zip(&at_estimate.menu).enumerate();
    let policies = policies.filter_map(|(i, (policy, centre))| {
        let of = |worlds: &[World]| -> Option<Vec<Rates>> {
            let each = worlds.iter().map(|w| w.menu.get(i).copied().flatten());
            each.collect()
        };
        Some(PolicyRates {
            policy,
            mean: Rates::mean(of(&worlds)?.iter()),
            centre: (*centre)?,
            places: of(&places)?,
        })
    });
    let today: Option<Vec<Rates>> = worlds.iter().map(|w| w.today).collect();
    Ok(MenuRates {
        calendar: menu.calendar.map(Calendar::word),
        policies: policies.collect(),
        today: match question.counted {
            Some(counted) => Some(counted.rates),
            None => today.map(|all| Rates::mean(all.iter())),
        },
        worlds: worlds.len(),
    })
}

/// `None` where today's practice has no long-run figures, as such a world is left out of the plan too.
fn world(model: &Prepared, menu: &Menu, question: &RatesQuestion) -> Option<World> {
    let terms = question.terms;
    let rows = menu.rows.iter();
    let mut shared = Shared::default();
    let all = rows.flat_map(|row| row.outcomes(model, terms, menu.turn_by, &mut shared));
    let menu = all.map(|o| o.as_ref().map(Rates::of)).collect();
    let whole: f64 = question.today.iter().map(|p| p.share).sum();
    let mut today = Rates::default();
    for practice in question.today {
        let outcome = model.rough(&practice.policy, terms, None).ok()?;
        today.add(&Rates::of(&outcome), practice.share / whole);
    }
    Some(World {
        menu,
        today: (whole > 0.0).then_some(today),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::costs::{Costs, Prices};
    use crate::plan::Choice;
    use crate::policy::{CarePolicy, Looks};
    use crate::terms::Handling;
    use crate::weigh::{Weighing, weigh};
    use sealspan_life::life::Life;

    fn seal(scale: f64) -> Seal {
        Seal {
            detection: 0.8,
            handling_damage: 0.01,
            ..Seal::two_stage(
                Life::weibull(2.5, scale).unwrap(),
                Life::weibull(1.5, 90.0).unwrap(),
            )
        }
    }

    fn handling() -> Handling {
        Handling {
            inspection_cost: 20.0,
            opening_hours: 0.5,
            ..Handling::default()
        }
    }

    fn costs(downtime_cost: f64) -> Costs {
        let prices = Prices {
            planned_cost: 80.0,
            failure_cost: 2000.0,
            planned_hours: 1.5,
            failure_hours: 9.0,
            downtime_cost,
            discount_rate: 0.0,
        };
        Costs::new(prices, Clock::Days).unwrap()
    }

    /// Rates worked out at one price of an hour give, at another, the plan's own average and that of today's practice.
    #[test]
    fn rates_give_the_plans_cost_at_any_price() {
        let draws: Vec<Seal> = (0..25).map(|i| seal(280.0 + 3.0 * f64::from(i))).collect();
        let today = [
            Practice {
                share: 2.0,
                policy: CarePolicy {
                    looks: Looks::Every(60.0),
                    ..CarePolicy::run_to_failure()
                },
            },
            Practice {
                share: 1.0,
                policy: CarePolicy::run_to_failure(),
            },
        ];
        let request = Request {
            turn: Choice::Never,
            ..Request::default()
        };
        let rates = menu_rates(&RatesQuestion {
            seal: &seal(316.0),
            draws: &draws,
            places: &[seal(316.0), seal(250.0)],
            terms: &Terms::new(&costs(270.0), &handling()).unwrap(),
            request,
            clock: Clock::Days,
            calendar: Calendar::Months,
            today: &today,
            counted: None,
        })
        .unwrap();
        let dearer = costs(900.0);
        let weighed = weigh(&Weighing {
            seal: &seal(316.0),
            draws: &draws,
            costs: &dearer,
            handling: handling(),
            request,
            calendar: Calendar::Months,
            shortest: None,
            today: &today,
            counted: None,
            watched: None,
            confidence: 0.9,
            price_range: 0.25,
        })
        .unwrap();
        let terms = Terms::new(&dearer, &handling()).unwrap();
        let mine = rates.policies.iter().find(|p| p.policy == weighed.plan);
        let cost = mine.unwrap().mean.money(&terms);
        assert!((cost / weighed.then.mean - 1.0).abs() < 1e-12);
        // A place like the estimate has its rates, a worse one more failures.
        for p in &rates.policies {
            assert_eq!(p.places[0], p.centre);
            assert!(p.places[1].failed + p.places[1].found > p.centre.failed + p.centre.found);
        }
        let now = rates.today.unwrap().money(&terms);
        assert!((now / weighed.today.unwrap().now.mean - 1.0).abs() < 1e-12);
        let least = rates.policies.iter().map(|p| p.mean.money(&terms));
        assert!((least.fold(f64::INFINITY, f64::min) / cost - 1.0).abs() < 1e-12);
        assert_eq!((rates.worlds, rates.calendar), (25, Some("month")));
    }

    #[test]
    fn too_few_worlds_are_refused() {
        let question = RatesQuestion {
            seal: &seal(316.0),
            draws: &[seal(300.0)],
            places: &[],
            terms: &Terms::new(&costs(270.0), &handling()).unwrap(),
            request: Request::default(),
            clock: Clock::Days,
            calendar: Calendar::Months,
            today: &[],
            counted: None,
        };
        let why = menu_rates(&question).unwrap_err().to_string();
        assert!(why.contains("Too few"), "{why}");
    }

    /// Rates a unit of time, so many times, and put together: every one of them by itself.
    #[test]
    fn rates_are_added_one_by_one() {
        let of = |factor: f64| Rates {
            planned: factor,
            failed: 2.0 * factor,
            found: 3.0 * factor,
            damaged: 4.0 * factor,
            opportunity: 5.0 * factor,
            openings: 6.0 * factor,
            looks: 7.0 * factor,
            turns: 8.0 * factor,
            undetected: 9.0 * factor,
        };
        assert_eq!(of(1.0).times(0.5), of(0.5));
        assert_eq!(Rates::mean([of(1.0), of(3.0)].iter()), of(2.0));
    }

    /// Rates unlike each other at prices unlike each other.
    #[test]
    fn money_is_every_rate_at_its_price() {
        let event = |money: f64| Event { money, down: 0.0 };
        let terms = Terms {
            planned: event(2.0),
            failed: event(3.0),
            found: event(5.0),
            damaged: event(7.0),
            opportunity: event(11.0),
            opening: event(13.0),
            look: 17.0,
            turn: 19.0,
            undetected: 23.0,
        };
        let rates = Rates {
            planned: 1.0,
            failed: 1e2,
            found: 1e4,
            damaged: 1e6,
            opportunity: 1e8,
            openings: 1e-2,
            looks: 1e-4,
            turns: 1e-6,
            undetected: 1e-8,
        };
        let want = 2.0 + 3e2 + 5e4 + 7e6 + 11e8 + 13e-2 + 17e-4 + 19e-6 + 23e-8;
        assert!((rates.money(&terms) - want).abs() < 1e-6);
        let small = Rates {
            opportunity: 0.0,
            damaged: 0.0,
            found: 0.0,
            ..rates
        };
        let want = 302.0 + 13e-2 + 17e-4 + 19e-6 + 23e-8;
        assert!((small.money(&terms) - want).abs() < 1e-9);
    }
}
