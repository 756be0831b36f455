//! Sites that help each other out: a seal sent over in an emergency, played event by event.
//!
//! There is no closed form once sites share; the play is checked where one is known: without transfers each site
//! is Palm's stock, and with transfers that take no time and urgent supply when all are empty the sites are one
//! pooled Erlang loss system.

use super::play::{BLOCKS, FEWEST, Seen};
use crate::error::{Error, Result, not_negative, positive};
use sealspan_numeric::random::Stream;
use std::collections::VecDeque;

/// A site.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Member {
    /// Demands per day.
    pub demand_rate: f64,
    /// Seals held or on order.
    pub stock: usize,
}

/// How the sites live together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Together {
    /// Days from a site's order to its arrival.
    pub lead_time: f64,
    /// Days a seal takes from one site to another; `None`: they do not help each other.
    pub transfer_time: Option<f64>,
    /// When every shelf is empty the demand goes urgent; else it waits for the site's own next seal.
    pub urgent: bool,
}

/// What was seen, over all sites.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Helped {
    /// Share of demands met from the own shelf.
    pub own: Seen,
    /// Share met by a transfer.
    pub transferred: Seen,
    /// Mean number of positions waiting, those waiting for a transfer included.
    pub waiting: Seen,
    /// Transfers per day.
    pub transfers: Seen,
}

struct Place {
    on_hand: usize,
    waiting: usize,
    next: f64,
    coming: VecDeque<f64>,
}

struct Network<'a> {
    members: &'a [Member],
    rules: Together,
    places: Vec<Place>,
    now: f64,
    /// Arrivals of seals under way between sites.
    moving: VecDeque<f64>,
    own: f64,
    transferred: f64,
    waited: f64,
}

/// Plays `demands` demands over all sites; the first tenth only settles the stocks.
///
/// # Errors
/// When there is no site or no demand, a number is negative, or fewer than 4,000 demands are asked for.
///
/// ```
/// use sealspan_care::spares::transfer::{Member, Together, play_together};
/// // Sites that do not help each other: each is Palm's stock, with P(X ≤ 2) = 5/e² of a mean of 2 met at once.
/// let site = Member { demand_rate: 0.1, stock: 3 };
/// let alone = Together { lead_time: 20.0, transfer_time: None, urgent: false };
/// let apart = play_together(&[site, site], alone, 40_000, 1)?;
/// assert!((apart.own.value - 5.0 * (-2.0f64).exp()).abs() < 4.0 * apart.own.error && apart.own.error < 0.01);
/// assert_eq!(apart.transferred.value, 0.0);
/// // With help at once fewer positions wait.
/// let helping = Together { transfer_time: Some(0.0), ..alone };
/// assert!(play_together(&[site, site], helping, 40_000, 1)?.waiting.value < apart.waiting.value);
/// # Ok::<(), sealspan_care::error::Error>(())
/// ```
pub fn play_together(
    members: &[Member],
    rules: Together,
    demands: usize,
    seed: u64,
) -> Result<Helped> {
    for member in members {
        not_negative("the demand rate of a site per day", member.demand_rate)?;
    }
    let rate: f64 = members.iter().map(|m| m.demand_rate).sum();
    positive("the demand of all sites together per day", rate)?;
    not_negative("the lead time in days", rules.lead_time)?;
    not_negative(
        "the transfer time in days",
        rules.transfer_time.unwrap_or(0.0),
    )?;
    if demands < FEWEST {
        return Err(Error::input(
            "the demands to play",
            demands,
            "give at least 4,000",
        ));
    }
    let mut stream = Stream::new(seed, 0);
    let mut network = Network::new(members, rules, &mut stream);
    network.run(demands / 10, &mut stream);
    let size = demands / BLOCKS;
    let blocks: Vec<[f64; 4]> = (0..BLOCKS)
        .map(|_| {
            (network.own, network.transferred, network.waited) = (0.0, 0.0, 0.0);
            let start = network.now;
            network.run(size, &mut stream);
            let days = network.now - start;
            [
                network.own / size as f64,
                network.transferred / size as f64,
                network.waited / days,
                network.transferred / days,
            ]
        })
        .collect();
    let seen = |i: usize| {
        let values: Vec<f64> = blocks.iter().filter_map(|b| b.get(i).copied()).collect();
        Seen::of(&values)
    };
    Ok(Helped {
        own: seen(0),
        transferred: seen(1),
        waiting: seen(2),
        transfers: seen(3),
    })
}

impl<'a> Network<'a> {
    fn new(members: &'a [Member], rules: Together, stream: &mut Stream) -> Self {
        let places = members
            .iter()
            .map(|m| Place {
                on_hand: m.stock,
                waiting: 0,
                next: stream.exponential() / m.demand_rate,
                coming: VecDeque::new(),
            })
            .collect();
        Self {
            members,
            rules,
            places,
            now: 0.0,
            moving: VecDeque::new(),
            own: 0.0,
            transferred: 0.0,
            waited: 0.0,
        }
    }

    fn run(&mut self, demands: usize, stream: &mut Stream) {
        let mut left = demands;
        while left > 0 {
            let demand = earliest(self.places.iter().map(|p| p.next));
            let arrival = earliest(
                self.places
                    .iter()
                    .map(|p| p.coming.front().copied().unwrap_or(f64::INFINITY)),
            );
            let moved = self.moving.front().copied().unwrap_or(f64::INFINITY);
            let next = demand.1.min(arrival.1).min(moved);
            let waiting = self.moving.len() + self.places.iter().map(|p| p.waiting).sum::<usize>();
            self.waited += waiting as f64 * (next - self.now);
            self.now = next;
            if next == moved {
                self.moving.pop_front();
            } else if next == arrival.1 {
                self.arrive(arrival.0);
            } else {
                left -= 1;
                self.demand(demand.0, stream);
            }
        }
    }

    fn arrive(&mut self, at: usize) {
        if let Some(place) = self.places.get_mut(at) {
            place.coming.pop_front();
            if place.waiting > 0 {
                place.waiting -= 1;
            } else {
                place.on_hand += 1;
            }
        }
    }

    /// Takes a seal off a shelf, which re-orders it.
    fn take(&mut self, from: usize) {
        let due = self.now + self.rules.lead_time;
        if let Some(place) = self.places.get_mut(from) {
            place.on_hand -= 1;
            place.coming.push_back(due);
        }
    }

    fn demand(&mut self, at: usize, stream: &mut Stream) {
        let rate = self.members.get(at).map_or(1.0, |m| m.demand_rate);
        let pause = stream.exponential() / rate;
        let Some(place) = self.places.get_mut(at) else {
            return;
        };
        place.next = self.now + pause;
        if place.on_hand > 0 {
            self.own += 1.0;
            return self.take(at);
        }
        let fullest = self
            .places
            .iter()
            .enumerate()
            .max_by(|a, b| a.1.on_hand.cmp(&b.1.on_hand).then(b.0.cmp(&a.0)))
            .filter(|(_, p)| p.on_hand > 0)
            .map(|(i, _)| i);
        match (fullest, self.rules.transfer_time) {
            (Some(from), Some(days)) => {
                self.transferred += 1.0;
                self.take(from);
                self.moving.push_back(self.now + days);
            }
            _ if self.rules.urgent => {}
            _ => {
                let due = self.now + self.rules.lead_time;
                if let Some(place) = self.places.get_mut(at) {
                    place.waiting += 1;
                    place.coming.push_back(due);
                }
            }
        }
    }
}

fn earliest(times: impl Iterator<Item = f64>) -> (usize, f64) {
    times.enumerate().fold(
        (0, f64::INFINITY),
        |best, (i, t)| if t < best.1 { (i, t) } else { best },
    )
}
