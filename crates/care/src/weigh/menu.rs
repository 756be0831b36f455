//! The policies that are weighed: looks, turns and replacement ages that a service calendar can hold.

use crate::calendar::Calendar;
use crate::error::{Result, positive};
use crate::evaluate::{Outcome, Prepared, Shared};
use crate::plan::{Choice, Request};
use crate::policy::{CarePolicy, Looks, Turn};
use crate::terms::Terms;
use sealspan_records::observation::Clock;
use serde::Serialize;

/// A policy of the menu; ages in units of the clock, `None` for what is not done.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Candidate {
    /// Time between looks.
    pub inspect_every: Option<f64>,
    /// Time between turns.
    pub turn_every: Option<f64>,
    /// Replacement age.
    pub replace_at: Option<f64>,
}

/// What a policy consists of, its steps apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Nothing is done before failure.
    OnFailureOnly,
    /// Replaced at an age, or on failure.
    ReplaceAtAge,
    /// Looked at; with a replacement age or without.
    Inspect,
    /// Turned, not looked at; with a replacement age or without.
    Turn,
    /// Looked at and turned; with a replacement age or without.
    InspectAndTurn,
}

impl Candidate {
    /// As a policy; a turn moves the seal by `turn_by` sectors.
    #[must_use]
    pub fn policy(&self, turn_by: usize) -> CarePolicy {
        CarePolicy {
            looks: self.inspect_every.map_or(Looks::Never, Looks::Every),
            turn: self.turn_every.map(|every| Turn { every, by: turn_by }),
            replace_at: self.replace_at,
            ..CarePolicy::run_to_failure()
        }
    }

    /// What it consists of.
    #[must_use]
    pub fn kind(&self) -> Kind {
        match (self.inspect_every, self.turn_every, self.replace_at) {
            (Some(_), Some(_), _) => Kind::InspectAndTurn,
            (Some(_), None, _) => Kind::Inspect,
            (None, Some(_), _) => Kind::Turn,
            (None, None, Some(_)) => Kind::ReplaceAtAge,
            (None, None, None) => Kind::OnFailureOnly,
        }
    }
}

/// Looks and turns with all replacement ages that go with them: one run through a cycle gives them all.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Row {
    pub open: Candidate,
    /// Replacement ages; at stops where there are any.
    pub ages: Vec<Option<f64>>,
    /// The one replacement age is given, or none is asked for.
    pub given: bool,
}

/// Whole numbers of steps that a calendar holds.
const COUNTS: [f64; 28] = [
    1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 15.0, 18.0, 21.0, 24.0, 30.0,
    36.0, 42.0, 48.0, 60.0, 72.0, 84.0, 96.0, 120.0, 156.0, 208.0, 260.0,
];
/// Round numbers within a decade of usage.
const ROUND: [f64; 9] = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0];
/// A mean life with more openings than this is not weighed.
const MOST_OPENINGS: f64 = 24.0;
/// Two ages nearer than this share are not told apart.
const NEAR: f64 = 0.04;
/// A turn goes with every look, every second, ... up to this.
const LOOKS_PER_TURN: usize = 3;

/// The steps and ages to weigh.
#[derive(Debug, Clone)]
pub(crate) struct Menu {
    pub rows: Vec<Row>,
    pub turn_by: usize,
    /// Step of the calendar, in days; `None` on usage.
    pub calendar: Option<Calendar>,
}

impl Menu {
    /// Steps of `calendar` on the clock of days, round numbers on others, none of them shorter than
    /// `shortest`. Where a life holds only a few steps, a finer calendar is taken.
    ///
    /// # Errors
    /// When `shortest` is not above zero.
    pub fn new(
        model: &Prepared,
        request: &Request,
        clock: Clock,
        calendar: Calendar,
        shortest: Option<f64>,
    ) -> Result<Self> {
        let life = model.mean_onset() + model.mean_delay().unwrap_or(0.0);
        let calendar = (clock == Clock::Days).then(|| {
            let fits = |c: &Calendar| 6.0 * c.days() <= life;
            calendar.and_finer().find(fits).unwrap_or(Calendar::Weeks)
        });
        let least = match shortest {
            Some(step) => positive("the least time between openings", step)?,
            None => 0.0,
        };
        let end = 3.0 * life;
        let all: Vec<f64> = match calendar {
            Some(c) => COUNTS.iter().map(|n| n * c.days()).collect(),
            None => round_numbers(end),
        };
        let ages: Vec<f64> = all.iter().copied().filter(|a| *a <= end).collect();
        let steps: Vec<f64> = ages
            .iter()
            .copied()
            .filter(|s| *s >= least * (1.0 - 1e-9) && life <= MOST_OPENINGS * s)
            .collect();
        let ages: Vec<f64> = ages
            .into_iter()
            .filter(|age| *age >= least * (1.0 - 1e-9))
            .collect();
        let rows = openings(model, request, &steps)
            .into_iter()
            .map(|open| row(open, request.replace, &ages, end))
            .collect();
        Ok(Self {
            rows,
            turn_by: request.turn_by,
            calendar,
        })
    }
}

fn round_numbers(end: f64) -> Vec<f64> {
    let top = end.log10().ceil() as i32;
    (top - 4..=top)
        .flat_map(|power| ROUND.map(|n| n * 10f64.powi(power)))
        .collect()
}

/// Looks and turns that go together, the simplest first.
fn openings(model: &Prepared, request: &Request, steps: &[f64]) -> Vec<Candidate> {
    let options = |choice: Choice, possible: bool| match choice {
        Choice::At(step) => vec![Some(step)],
        Choice::Free if possible => std::iter::once(None)
            .chain(steps.iter().copied().map(Some))
            .collect(),
        _ => vec![None],
    };
    let looks = options(request.inspect, model.looks_can_find());
    let can_turn = model.seal().ring().is_some();
    let life = model.mean_onset();
    let mut list = vec![];
    for look in looks {
        let turns = match (look, request.turn) {
            (Some(step), Choice::Free) if can_turn => {
                let with = (1..=LOOKS_PER_TURN).map(|n| n as f64 * step);
                let with = with.filter(|turn| *turn <= life).map(Some);
                std::iter::once(None).chain(with).collect()
            }
            (_, turn) => options(turn, can_turn),
        };
        list.extend(turns.into_iter().map(|turn| Candidate {
            inspect_every: look,
            turn_every: turn,
            replace_at: None,
        }));
    }
    list
}

/// The replacement ages that go with openings: their own stops, or those of the calendar without any.
fn row(open: Candidate, replace: Choice, ages: &[f64], end: f64) -> Row {
    let ages = match (replace, open.inspect_every, open.turn_every) {
        (Choice::Never, ..) => vec![None],
        (Choice::At(age), ..) => vec![Some(age)],
        (Choice::Free, None, None) => std::iter::once(None)
            .chain(ages.iter().copied().map(Some))
            .collect(),
        (Choice::Free, look, turn) => {
            let step = look.into_iter().chain(turn).fold(f64::INFINITY, f64::min);
            let mut list = vec![None];
            let mut last = 0.0;
            // Replaced before it, a seal would never be looked at or turned.
            let begun = look.into_iter().chain(turn).fold(0.0, f64::max);
            for stop in (2..).map(|m| f64::from(m) * step) {
                if stop > end {
                    break;
                }
                if stop > begun * (1.0 + 1e-9) && stop > last * (1.0 + NEAR) {
                    list.push(Some(stop));
                    last = stop;
                }
            }
            list
        }
    };
    Row {
        open,
        ages,
        given: replace != Choice::Free,
    }
}

impl Row {
    /// The policies of the row.
    pub fn candidates(&self) -> impl Iterator<Item = Candidate> + '_ {
        self.ages.iter().map(|age| Candidate {
            replace_at: *age,
            ..self.open
        })
    }

    /// The row with some of its policies only; `None` where none is left.
    pub fn only(&self, wanted: impl Fn(&Candidate) -> bool) -> Option<Self> {
        let kept = self.candidates().filter(wanted).map(|c| c.replace_at);
        let ages: Vec<Option<f64>> = kept.collect();
        (!ages.is_empty()).then_some(Self { ages, ..*self })
    }

    /// What each policy of the row comes to; `None` for one that cannot be worked out. `shared`: of this model.
    pub fn outcomes(
        &self,
        model: &Prepared,
        terms: &Terms,
        turn_by: usize,
        shared: &mut Shared,
    ) -> Vec<Option<Outcome>> {
        let opened = self.open.inspect_every.is_some() || self.open.turn_every.is_some();
        let alone = |age: &Option<f64>| {
            let policy = Candidate {
                replace_at: *age,
                ..self.open
            };
            model.rough(&policy.policy(turn_by), terms, None).ok()
        };
        if !opened || self.given {
            return self.ages.iter().map(alone).collect();
        }
        let last: Option<Vec<f64>> = self.ages.iter().copied().collect();
        let last = last.and_then(|ages| ages.last().map(|age| age * (1.0 - 1e-9)));
        let Ok(all) = model.stops(&self.open.policy(turn_by), terms, last, shared) else {
            return self.ages.iter().map(alone).collect();
        };
        let mut stops = all.stops.iter().peekable();
        self.ages
            .iter()
            .map(|age| {
                let Some(age) = age else {
                    return Some(all.end);
                };
                while stops
                    .next_if(|stop| stop.age < age * (1.0 - 1e-9))
                    .is_some()
                {}
                // Beyond the last stop no seal is left.
                Some(stops.peek().map_or(all.end, |stop| stop.outcome))
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::seal::Seal;
    use sealspan_life::life::Life;

    fn looked_at(mean_onset: f64, sectors: usize) -> Prepared {
        let life = Life::exponential(mean_onset).unwrap();
        let delay = Life::exponential(10.0).unwrap();
        let seal = Seal::two_stage(life, delay);
        let seal = match sectors {
            0 => seal,
            _ => seal.with_severities(&vec![1.0; sectors]).unwrap(),
        };
        Prepared::new(&seal).unwrap()
    }

    /// A life is to hold six steps: 300 days hold six months, 100 hold six weeks only, and 20 hold no six of either.
    #[test]
    fn short_lives_are_cared_for_by_a_finer_calendar() {
        for (life, wanted) in [
            (300.0, Calendar::Months),
            (100.0, Calendar::Weeks),
            (20.0, Calendar::Weeks),
        ] {
            let model = looked_at(life - 10.0, 0);
            let request = Request::default();
            let of = |given: Calendar| Menu::new(&model, &request, Clock::Days, given, None);
            assert_eq!(of(Calendar::Months).unwrap().calendar, Some(wanted));
            assert_eq!(of(Calendar::Weeks).unwrap().calendar, Some(Calendar::Weeks));
        }
    }

    /// The least time between openings is one that may be: as a step of looks and as an age alike.
    #[test]
    fn a_least_step_of_just_a_month_leaves_the_month_on_the_menu() {
        let model = looked_at(300.0, 0);
        let month = Calendar::Months.days();
        let (request, clock) = (Request::default(), Clock::Days);
        let menu = Menu::new(&model, &request, clock, Calendar::Months, Some(month)).unwrap();
        let looks: Vec<f64> = menu
            .rows
            .iter()
            .filter_map(|row| row.open.inspect_every)
            .collect();
        assert_eq!(looks[..2], [month, 2.0 * month]);
        assert_eq!(menu.rows[0].ages[..2], [None, Some(month)]);
    }

    /// Looks every 30 with turns at every one of them, every second and every third, as far as the mean onset goes.
    #[test]
    fn turns_beside_looks_come_before_the_mean_onset() {
        for (onset, wanted) in [(200.0, 3), (70.0, 2), (40.0, 1), (20.0, 0)] {
            let model = looked_at(onset, 4);
            let request = Request {
                inspect: Choice::At(30.0),
                ..Request::default()
            };
            let list = openings(&model, &request, &[]);
            let turns: Vec<Option<f64>> = list.iter().map(|c| c.turn_every).collect();
            let all = [None, Some(30.0), Some(60.0), Some(90.0)];
            assert_eq!(turns, all[..=wanted], "{onset}");
            assert!(list.iter().all(|c| c.inspect_every == Some(30.0)));
        }
    }

    /// Stops of a plan of looks: whole steps after the first look and turn, no two nearly alike, up to the end.
    #[test]
    fn ages_that_go_with_looks_are_whole_steps() {
        for (look, turn, first) in [
            (Some(30.0), None, 60.0),
            (Some(30.0), Some(90.0), 120.0),
            (None, Some(45.0), 90.0),
        ] {
            let open = Candidate {
                inspect_every: look,
                turn_every: turn,
                replace_at: None,
            };
            let ages = row(open, Choice::Free, &[], 700.0).ages;
            let stops: Vec<f64> = ages.iter().skip(1).map(|a| a.unwrap()).collect();
            assert_eq!((ages[0], stops[0]), (None, first));
            let step = look.or(turn).unwrap();
            assert!(
                stops
                    .iter()
                    .all(|s| (s / step).fract().abs() < 1e-9 && *s <= 700.0)
            );
            assert!(stops.windows(2).all(|w| w[1] > w[0] * (1.0 + NEAR)));
            // No whole step is left out but those nearly alike.
            assert!(
                stops
                    .windows(2)
                    .all(|w| w[1] - step <= w[0] * (1.0 + NEAR) + 1e-9)
            );
            assert!(stops.last().unwrap() * (1.0 + NEAR) + step > 700.0);
        }
    }
}
