//! The sector of the door frame where a seal gave way: its own sector, with the turns undone.
//!
//! Sector 1 of a seal stands at sector 1 of the frame when it is fitted; each turn moves the seal on
//! clockwise. The look of a day comes before the turn of that day.

use crate::error::{Error, Kind};
use crate::inspection::Inspection;
use crate::load::Records;
use crate::looks::Looks;
use crate::seal::Seal;
use crate::words::{Look, Outcome};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// Where on the door frame a seal gave way. Sector 1 of a seal stands at sector 1 of the frame when it is fitted, each turn
/// moves the seal on clockwise, and the look of a day comes before the turn of that day (rules of ours).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Frame {
    /// At this sector, numbered clockwise from 1: (s - 1 + t) mod n + 1, with the seal's own sector s, the sectors t it was
    /// turned before the last day of its removal's date, and n sectors in all. No turn is recorded anywhere: t = 0.
    At(u32),
    /// No sector is recorded, neither with the seal nor with a look that found a defect (the last such look counts).
    NotRecorded,
    /// The turns before are not all known: turns are recorded, but one of its looks says no whole number of them, or its
    /// asset's seals are turned and it was fitted before the records began.
    TurnsUnknown,
    /// Not by wear (its outcome is neither `failed` nor `worn`): the ending tells nothing of the door.
    NotWear,
}

/// What the records say of turns.
pub(super) struct Turns<'a> {
    looks: &'a Looks<'a>,
    sectors: u32,
    /// Assets whose seals are turned.
    pub(super) turned: BTreeSet<&'a str>,
    /// Whether any turn cell is filled at all.
    pub(super) recorded: bool,
}

impl<'a> Turns<'a> {
    pub(super) fn new(records: &'a Records, looks: &'a Looks<'a>, sectors: u32) -> Self {
        let homes: BTreeMap<&str, &str> = records
            .seals
            .iter()
            .filter_map(|s| Some((s.seal.as_str(), s.asset.as_deref()?)))
            .collect();
        let turned = records
            .inspections
            .iter()
            .filter(|i| i.turned.is_some_and(|t| t > 0.0))
            .filter_map(|i| {
                let named = i.seal.as_deref().and_then(|s| homes.get(s).copied());
                i.asset.as_deref().or(named)
            })
            .collect();
        Self {
            looks,
            sectors,
            turned,
            recorded: records.inspections.iter().any(|i| i.turned.is_some()),
        }
    }

    /// Where on the frame a seal that is off gave way.
    pub(super) fn frame(&self, seal: &Seal) -> Frame {
        if !matches!(seal.outcome, Outcome::Failed | Outcome::Worn) {
            return Frame::NotWear;
        }
        let looks = self.looks.of(seal);
        let Some(own) = seal.sector.or_else(|| found(&looks)) else {
            return Frame::NotRecorded;
        };
        match self.turns(seal, &looks) {
            Some(turns) => Frame::At((own - 1 + turns) % self.sectors + 1),
            None => Frame::TurnsUnknown,
        }
    }

    /// Sectors turned before the removal, within one round; `None` when they are not all known.
    fn turns(&self, seal: &Seal, looks: &[&Inspection]) -> Option<u32> {
        let is_turned = seal
            .asset
            .as_deref()
            .is_some_and(|a| self.turned.contains(a));
        if seal.watched_from.is_some() && is_turned {
            return None;
        }
        if !self.recorded {
            return Some(0);
        }
        let end = seal.removed?.last();
        let mut sum = 0;
        for look in looks.iter().filter(|l| l.date.first() < end) {
            let turned = look.turned.filter(|t| t.fract() == 0.0)?;
            sum = (sum + (turned % f64::from(self.sectors)) as u32) % self.sectors;
        }
        Some(sum)
    }
}

/// The sector of the last defect that a look saw.
fn found(looks: &[&Inspection]) -> Option<u32> {
    let defect = |l: &&&Inspection| l.finding.is_some_and(|f| f != Look::Sound);
    looks.iter().rev().filter(defect).find_map(|l| l.sector)
}

/// Chance below which sectors that no seal failed in do not exist.
const NOT_THERE: f64 = 1e-3;

/// Refuses more sectors than the sheets number: those stated in the study, or those in which seals are recorded where
/// so many sectors, all worn alike, would hardly leave the last ones empty. Sectors that cannot be hit would make
/// every door look out of line.
///
/// Hardly: (m/n)^k below 0.001, the chance that k recorded sectors, each of the n asked for as likely as the others, go no
/// further than m, the greatest recorded (a rule of ours).
///
/// # Errors
/// When more are asked for, with the number to ask for.
pub fn not_more_than_numbered(records: &Records, asked: u32) -> Result<(), Error> {
    let refuse = |why: String, own: u32| {
        Err(Error::new(
            Kind::BadSector,
            format!(
                "{asked} sectors are asked for, and {why}: those above {own} could never be hit, and every door would look out of line"
            ),
            format!("say --sectors {own}, or as many as your sheets number"),
        ))
    };
    if let Some(own) = records.study.question.sectors.filter(|own| *own < asked) {
        return refuse(format!("the study states {own}"), own);
    }
    let seals = records.seals.iter().filter_map(|s| s.sector);
    let looks = records.inspections.iter().filter_map(|l| l.sector);
    let seen: Vec<u32> = seals.chain(looks).collect();
    let most = seen.iter().copied().max().unwrap_or(asked);
    let chance = (f64::from(most) / f64::from(asked)).powf(seen.len() as f64);
    if most < asked && chance < NOT_THERE {
        let count = seen.len();
        return refuse(
            format!("the {count} recorded sectors go up to {most}"),
            most,
        );
    }
    Ok(())
}

/// Refuses sectors beyond the ring's.
pub(super) fn check(records: &Records, sectors: u32) -> Result<(), Error> {
    let refuse = |sector: u32, row: u64, column: &str| {
        Error::new(
            Kind::BadSector,
            format!("sector {sector} is beyond the {sectors} sectors of a ring"),
            format!(
                "correct the sector, or say how many there are: --sectors {sector}, or sectors = {sector} under [question] of the study"
            ),
        )
        .at_row(row)
        .in_column(column)
    };
    let beyond = |sector: Option<u32>| sector.filter(|s| *s > sectors);
    if let Some((table, known)) = &records.seal_table {
        for seal in &records.seals {
            if let Some(sector) = beyond(seal.sector) {
                let column = known.theirs("sector").unwrap_or("sector");
                return Err(refuse(sector, seal.row, column).in_file(Path::new(&table.file)));
            }
        }
    }
    let mapped = records.study.columns.inspections.get("sector");
    let source = records.sources.iter().find(|s| s.role == "inspections");
    for look in &records.inspections {
        if let Some(sector) = beyond(look.sector) {
            let column = mapped.map_or("sector", String::as_str);
            let error = refuse(sector, look.row, column);
            return Err(match source {
                Some(source) => error.in_file(&source.path),
                None => error,
            });
        }
    }
    Ok(())
}
