//! Records to the log of each position.

use super::counter::{Axis, day};
use super::frame::{self, Frame, Turns};
use super::{Positions, PositionsQuestion};
use crate::ask::Remarks;
use crate::ask_seals;
use crate::error::{Error, Kind};
use crate::finding::SetAside;
use crate::inspection::Inspection;
use crate::keys::Factor;
use crate::load::{Form, Records};
use crate::looks::Looks;
use crate::observation::{Clock, Observation};
use crate::seal::Seal;
use crate::words::Outcome;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// What one position consumed. Times are on the question's clock: days since the first day that any seal was watched,
/// or the usage of the asset since this position's records begin, in hours or cycles, between two readings in proportion
/// to the days. A date known to a month or longer stands at its middle.
#[derive(Debug, Clone, PartialEq)]
pub struct PositionLog {
    /// The asset.
    pub asset: String,
    /// The position; `None` where none is recorded.
    pub position: Option<String>,
    /// Its group: column and value, in the order asked; `None` when its seals do not agree.
    pub group: Option<Vec<(String, String)>>,
    /// Start of watching.
    pub from: f64,
    /// End of watching: of the records, or the removal of the last seal where none followed it.
    pub to: f64,
    /// True when watching ended because the last seal came off and none followed it.
    pub left_empty: bool,
    /// True when watching began with the fitting of its first seal.
    pub new_at_start: bool,
    /// True when seals of its asset are turned at times.
    pub turned: bool,
    /// Replacements that count, earliest first.
    pub removals: Vec<Removal>,
    /// Other removals within the watch, by outcome.
    pub uncounted: BTreeMap<Outcome, u64>,
    /// The stretches of life under watch, a seal each; none for a replacement that counts without any usage since fitting.
    pub stretches: Vec<Stretch>,
}

/// A replacement that counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Removal {
    /// The seal taken off.
    pub seal: String,
    /// The file's own row number.
    pub row: u64,
    /// When, on the clock, after [`from`](PositionLog::from) and no later than [`to`](PositionLog::to).
    pub time: f64,
    /// How the seal ended.
    pub outcome: Outcome,
    /// Where on the door frame it gave way.
    pub frame: Frame,
}

/// A seal's life under watch: its age when watching began and when it ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Which seals it is alike to: column and value, in the order asked.
    pub like: Vec<(String, String)>,
    /// Exact where the seal ended in a replacement that counts, else right-censored; ages in the unit of the clock. A seal
    /// removed on the day of fitting, or on the day when watching began, counts half a day under watch (a rule of ours).
    pub life: Observation,
}

/// The logs of all positions.
///
/// # Errors
/// When something must be settled first (see [`Records::refusal`]), the records are plain lives or name no
/// assets, the readings do not count what the clock asks for, a column is unknown, fewer than 2 sectors are asked for, a
/// sector is beyond the ring's, or no position can be followed on the clock.
pub fn positions(records: &Records, question: &PositionsQuestion) -> Result<Positions, Error> {
    if let Some(refusal) = &records.refusal {
        return Err(refusal.clone());
    }
    if records.form == Form::Life {
        return Err(Error::new(
            Kind::NothingLeft,
            "plain lives name no positions, so nothing recurs in them",
            "give a table of seals with asset, position, fitted, removed and outcome",
        ));
    }
    if let Some(count) = records.study.question.readings
        && question.clock != Clock::Days
        && question.clock != count
    {
        return Err(Error::new(
            Kind::ClockMissing,
            format!(
                "the readings count {}, not {}",
                count.unit(),
                question.clock.unit()
            ),
            format!("ask on the clock of {} or of days", count.unit()),
        ));
    }
    if question.sectors < 2 {
        return Err(Error::new(
            Kind::BadSector,
            "a ring has two sectors or more",
            "say --sectors 4, or as many as your sheets number",
        ));
    }
    frame::check(records, question.sectors)?;
    let mut remarks = Remarks::default();
    let by = factors(records, &question.by, &mut remarks)?;
    let like = factors(records, &question.like, &mut remarks)?;
    let looks = Looks::new(&records.inspections, &records.seals);
    let house = House {
        records,
        question,
        turns: Turns::new(records, &looks, question.sectors),
        origin: origin(records),
        by,
        like,
    };
    house.all()
}

fn factors(
    records: &Records,
    names: &[String],
    remarks: &mut Remarks,
) -> Result<Vec<Factor>, Error> {
    names
        .iter()
        .map(|name| ask_seals::factor(records, name, remarks))
        .collect()
}

/// The first day that anything is watched.
fn origin(records: &Records) -> Date {
    let start = |s: &Seal| s.watched_from.unwrap_or(s.fitted.first());
    let first = records.seals.iter().map(start).min();
    first.unwrap_or(Date::constant(1970, 1, 1))
}

/// Everything a position's log is made from.
struct House<'a> {
    records: &'a Records,
    question: &'a PositionsQuestion,
    turns: Turns<'a>,
    origin: Date,
    by: Vec<Factor>,
    like: Vec<Factor>,
}

/// A seal and its place among the records' seals.
type Placed<'a> = (usize, &'a Seal);
type Home<'a> = (&'a str, Option<&'a str>);

fn key(factors: &[Factor], at: usize) -> Vec<(String, String)> {
    let label = |f: &Factor| {
        let code = f.codes.get(at).copied().unwrap_or(0) as usize;
        (
            f.name.clone(),
            f.labels.get(code).cloned().unwrap_or_default(),
        )
    };
    factors.iter().map(label).collect()
}

impl House<'_> {
    fn all(&self) -> Result<Positions, Error> {
        let mut homes: BTreeMap<Home<'_>, Vec<Placed<'_>>> = BTreeMap::new();
        let mut set_aside = self.records.set_aside.clone();
        for (at, seal) in self.records.seals.iter().enumerate() {
            match seal.asset.as_deref() {
                Some(asset) => homes
                    .entry((asset, seal.position.as_deref()))
                    .or_default()
                    .push((at, seal)),
                None => set_aside.push(self.aside(
                    seal,
                    "asset",
                    "names no asset: it belongs to no position",
                )),
            }
        }
        let mut looks: BTreeMap<&str, Vec<&Inspection>> = BTreeMap::new();
        for look in &self.records.inspections {
            if let Some(asset) = look.asset.as_deref() {
                looks.entry(asset).or_default().push(look);
            }
        }
        let mut list = vec![];
        for ((asset, position), mut seals) in homes {
            seals.sort_by_key(|(at, s)| (s.fitted.first(), *at));
            let seen = looks.get(asset).map_or(&[][..], Vec::as_slice);
            match self.log((asset, position), &seals, seen) {
                Some(log) => list.push(log),
                None => set_aside.extend(seals.iter().map(|(_, seal)| {
                    self.aside(
                        seal,
                        "fitted_reading",
                        "no two readings tell the usage of its position",
                    )
                })),
            }
        }
        if list.is_empty() {
            return Err(Error::new(
                Kind::NothingLeft,
                "no position can be followed",
                "fill the columns asset and position, and the readings for a clock of usage",
            ));
        }
        set_aside.sort_by_key(|s| s.row);
        Ok(Positions {
            clock: self.question.clock,
            list,
            set_aside,
            assumed: self.assumed(),
        })
    }

    fn assumed(&self) -> Vec<String> {
        let mut out = vec![];
        let sectors = self.records.seals.iter().any(|s| s.sector.is_some());
        if sectors && !self.turns.recorded {
            out.push(
                "No turn is recorded anywhere, so seals are taken as never turned.".to_owned(),
            );
        }
        if self
            .records
            .seals
            .iter()
            .any(|s| s.removed.is_some_and(|r| !r.is_day()))
        {
            out.push(
                "A removal known to the month, quarter or year only stands at its middle."
                    .to_owned(),
            );
        }
        out
    }

    fn aside(&self, seal: &Seal, column: &str, reason: &str) -> SetAside {
        let table = self.records.seal_table.as_ref();
        SetAside {
            file: table.map(|(t, _)| t.file.clone()).unwrap_or_default(),
            row: seal.row,
            column: Some(column.to_owned()),
            reason: reason.to_owned(),
        }
    }

    fn log(
        &self,
        home: Home<'_>,
        seals: &[Placed<'_>],
        looks: &[&Inspection],
    ) -> Option<PositionLog> {
        let (first, last) = (seals.first()?.1, seals.last()?.1);
        let asset = self.records.asset_index.get(home.0);
        let now = asset
            .and_then(|a| a.current_reading)
            .map(|r| (last.watched_to, r));
        let bare: Vec<&Seal> = seals.iter().map(|(_, s)| *s).collect();
        let axis = Axis::new(self.question.clock, self.origin, &bare, looks, now);
        let fitted = day(self.origin, &first.fitted);
        let watched = first
            .watched_from
            .map(|d| day(self.origin, &crate::dates::Span::day(d)));
        let end = day(self.origin, &crate::dates::Span::day(last.watched_to));
        // A place without a seal uses none up: nothing is at risk there until another is fitted.
        let emptied = seals.iter().map(|(_, s)| s.removed.as_ref());
        let emptied: Option<Vec<f64>> = emptied.map(|r| r.map(|r| day(self.origin, r))).collect();
        let emptied = emptied.and_then(|all| all.into_iter().reduce(f64::max));
        let start_day = watched.unwrap_or(fitted);
        let end = emptied.map_or(end, |day| day.max(start_day + 0.5).min(end));
        let (start, end) = axis.reach(start_day, end);
        // An axis of usage starts at 0 with the position's records; days are common to all positions.
        let zero = if self.question.clock == Clock::Days {
            0.0
        } else {
            axis.at(start)
        };
        let place = |day: f64| axis.at(day) - zero;
        let (from, to) = (place(start), place(end));
        if from >= to || from.is_nan() || to.is_nan() {
            return None;
        }
        let group = key(&self.by, seals.first()?.0);
        let agree = seals.iter().all(|(at, _)| key(&self.by, *at) == group);
        let mut log = PositionLog {
            asset: home.0.to_owned(),
            position: home.1.map(str::to_owned),
            group: agree.then_some(group),
            from,
            to,
            left_empty: emptied.is_some(),
            new_at_start: watched.is_none() && start <= fitted,
            turned: self.turns.turned.contains(home.0),
            removals: vec![],
            uncounted: BTreeMap::new(),
            stretches: vec![],
        };
        for (at, seal) in seals {
            self.add(&mut log, *at, seal, &place);
        }
        log.removals
            .sort_by(|a, b| a.time.total_cmp(&b.time).then(a.row.cmp(&b.row)));
        Some(log)
    }

    fn counts(&self, seal: &Seal) -> bool {
        let mechanism = self.question.mechanism;
        self.question.counted.contains(&seal.outcome)
            && mechanism.is_none_or(|wanted| seal.mechanism == Some(wanted))
    }

    /// Adds a seal's removal and its stretch of life.
    fn add(&self, log: &mut PositionLog, at: usize, seal: &Seal, place: &dyn Fn(f64) -> f64) {
        // Within the watch, however coarse the date.
        let nudge = 1e-6 * (log.to - log.from);
        let inside = |t: f64| t.max(log.from + nudge.min(0.5)).min(log.to);
        let fitted = place(day(self.origin, &seal.fitted));
        let removed = seal.removed.map(|r| inside(place(day(self.origin, &r))));
        let counted = seal.removed.is_some() && self.counts(seal);
        let exit = removed.unwrap_or(log.to) - fitted;
        let entry = (log.from - fitted).max(0.0);
        // A seal that ended on the day it was fitted lived for part of that day.
        let exit = if self.question.clock == Clock::Days {
            exit.max(entry + 0.5)
        } else {
            exit
        };
        let life = if counted {
            Observation::exact(exit, entry, 1.0)
        } else {
            Observation::right(exit, entry, 1.0)
        };
        if let Ok(life) = life {
            log.stretches.push(Stretch {
                like: key(&self.like, at),
                life,
            });
        }
        match removed {
            Some(time) if counted => log.removals.push(Removal {
                seal: seal.seal.clone(),
                row: seal.row,
                time,
                outcome: seal.outcome,
                frame: self.turns.frame(seal),
            }),
            Some(_) => *log.uncounted.entry(seal.outcome).or_default() += 1,
            None => {}
        }
    }
}
