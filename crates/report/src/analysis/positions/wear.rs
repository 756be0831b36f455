//! Where on the door frames seals give way, and what turning or mending would give.

use super::expected::Expected;
use super::{Asked, say};
use crate::wire::positions::{PositionResult, PositionsDocument, PracticalTurning, RayleighResult};
use sealspan_life::recurrence::many::{false_discovery, worth_testing};
use sealspan_life::sectors::rayleigh::by_sector;
use sealspan_life::sectors::ring::Turning;
use sealspan_life::sectors::severity::{Shape, draws, interval, mending, severity, turning_limit};
use sealspan_life::sectors::shares::shares;
use sealspan_life::sectors::uneven::{Route, Uneven, uneven};
use sealspan_records::positions::{Frame, PositionLog};
use std::f64::consts::TAU;

/// Failures with a known place from which a door is tested.
pub(super) const FEWEST: u32 = 3;
/// Draws behind the intervals of a door.
const DRAWS: usize = 2000;

/// Fills the wear of every position; `document.positions` stand in the order of `logs`.
pub(super) fn fill(
    document: &mut PositionsDocument,
    logs: &[PositionLog],
    expected: &Expected,
    asked: &Asked,
) {
    let k = asked.question.sectors as usize;
    document.wear.sectors = vec![0; k];
    for (row, log) in document.positions.iter_mut().zip(logs) {
        count(row, log, &mut document.wear);
    }
    let tested: Vec<usize> = (0..logs.len())
        .filter(|i| placed(document.positions.get(*i)) >= FEWEST)
        .collect();
    document.wear.tested = tested.len();
    let doors: Vec<Vec<u32>> = tested
        .iter()
        .filter_map(|i| Some(document.positions.get(*i)?.sectors.clone()))
        .collect();
    let tests: Vec<Uneven> = doors.iter().filter_map(|d| uneven(d, asked.seed)).collect();
    let least: Vec<f64> = tests.iter().map(|t| t.least).collect();
    let able = worth_testing(&least, asked.false_discovery);
    let chosen: Vec<f64> = tests
        .iter()
        .zip(&able)
        .filter(|(_, able)| **able)
        .map(|(t, _)| t.p_value)
        .collect();
    document.wear.corrected_over = chosen.len();
    let mut adjusted = false_discovery(&chosen).into_iter();
    let (share, drawn) = shares(&doors);
    document.wear.share_out_of_line = (!doors.is_empty()).then_some(share);
    document.wear.share_reason = doors
        .is_empty()
        .then_some("no door has enough failed or worn seals with a known place to be tested");
    for (((at, test), able), door) in tested.iter().zip(&tests).zip(&able).zip(&drawn) {
        let (Some(row), Some(log)) = (document.positions.get_mut(*at), logs.get(*at)) else {
            continue;
        };
        row.uneven_adjusted_p_value = able.then(|| adjusted.next()).flatten();
        row.out_of_line = row
            .uneven_adjusted_p_value
            .is_some_and(|p| p <= asked.false_discovery);
        row.probability_out_of_line = Some(door.out_of_line);
        judge(row, test);
        gains(row, &door.shares, expected.law(*at, log), asked);
    }
    document.wear.out_of_line = document.positions.iter().filter(|r| r.out_of_line).count();
}

fn placed(row: Option<&PositionResult>) -> u32 {
    row.map_or(0, |r| r.sectors.iter().sum())
}

/// Counts a position's failures by frame sector.
fn count(row: &mut PositionResult, log: &PositionLog, wear: &mut crate::wire::positions::Wear) {
    for removal in &log.removals {
        match removal.frame {
            Frame::At(sector) => {
                let at = sector.saturating_sub(1) as usize;
                for counts in [&mut row.sectors, &mut wear.sectors] {
                    if let Some(cell) = counts.get_mut(at) {
                        *cell += 1;
                    }
                }
                wear.placed += 1;
            }
            Frame::NotRecorded => {
                row.not_placed += 1;
                wear.no_sector += 1;
            }
            Frame::TurnsUnknown => {
                row.not_placed += 1;
                wear.turns_unknown += 1;
            }
            Frame::NotWear => {}
        }
    }
    let here: u32 = row.sectors.iter().sum();
    if here < FEWEST {
        say(
            row,
            &format!(
                "{here} failed or worn seals with a known place on the frame: no test of places below {FEWEST}"
            ),
        );
    }
}

fn judge(row: &mut PositionResult, test: &Uneven) {
    row.uneven_p_value = Some(test.p_value);
    row.uneven_method = Some(match test.route {
        Route::Exact => "exact".to_owned(),
        Route::Drawn(n) => format!("{n} tables drawn"),
    });
    row.rayleigh = by_sector(&row.sectors).map(|r| RayleighResult {
        length: r.length,
        direction_sectors: r.direction * row.sectors.len() as f64 / TAU,
        z: r.z,
        p_limit: r.p_limit,
        p_series: r.p_series,
        p_root: r.p_root,
    });
}

fn gains(row: &mut PositionResult, shares: &[f64], law: Option<(Shape, f64)>, asked: &Asked) {
    let Some((shape, scale)) = law else {
        let why = "no life is fitted, so no shape turns shares of failures into severities";
        say(row, why);
        return;
    };
    let Some(w) = severity(shares, shape.estimate) else {
        let why = "shares of failures give no severities at this shape";
        say(row, why);
        return;
    };
    row.turning_gain = Some(turning_limit(&w, shape.estimate));
    row.mending_gain = Some(mending(shares, shape.estimate));
    row.practical_turning = practical(shares, shape.estimate, scale, asked.turn_every);
    row.relative_severity = Some(w);
    if !row.out_of_line {
        let why = match row.uneven_adjusted_p_value {
            Some(_) => "intervals are given for doors found out of line",
            None => {
                "no places of so few failures could be flagged among so many doors; intervals are given for doors found out of line"
            }
        };
        say(row, why);
        return;
    }
    let drawn = draws(&row.sectors, shape, DRAWS, asked.seed);
    let level = asked.confidence;
    row.turning_gain_interval = interval(drawn.iter().map(|d| d.turning).collect(), level);
    row.mending_gain_interval = interval(drawn.iter().map(|d| d.mending).collect(), level);
    let each = (0..row.sectors.len()).map(|j| {
        let of = drawn.iter().filter_map(|d| d.severity.get(j).copied());
        interval(of.collect(), level)
    });
    row.relative_severity_interval = each.collect();
}

/// Turning by one sector at a practical interval: that asked for, else an eighth of the characteristic life.
/// The sectors other than the worst wear as at a door in line, whose seals have the fitted life.
fn practical(
    shares: &[f64],
    shape: f64,
    scale: f64,
    every: Option<f64>,
) -> Option<PracticalTurning> {
    let k = shares.len() as f64;
    let worst = shares.iter().copied().fold(0.0, f64::max);
    let others = (shares.iter().sum::<f64>() - worst) / (k - 1.0);
    let every = every.unwrap_or(scale / 8.0);
    let ring = Turning {
        rates: shares
            .iter()
            .map(|p| (p / others).powf(1.0 / shape))
            .collect(),
        every,
        step: 1,
    };
    let gain = ring.gain(shape, scale * k.powf(1.0 / shape))?;
    Some(PracticalTurning { every, gain })
}
