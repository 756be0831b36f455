//! One position of one tank through the years: fit, wait for the next event, look, turn, replace.

use super::calendar::{Quarter, Written, day_after};
use super::draw::Draw;
use super::exposure::{attacks, batch_factor, wear_rate};
use super::file::{Material, Plan};
use super::ring::Ring;
use super::rows::{InspectionRow, SealRow};
use super::tank::Tank;

/// Planned visits come at this part of the day; failures come at any time.
const VISIT_HOUR: f64 = 10.0 / 24.0;

/// What ends the wait for the next event.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Event {
    Failure,
    Inspection,
    Schedule,
    Opportunity,
    CutOff,
}

/// A seal in place, and what is planned for it. Times are days since the start of the run.
struct InPlace<'a> {
    material: &'a Material,
    ring: Ring,
    row: SealRow,
    fitted: f64,
    now: f64,
    last_look: Option<f64>,
    next_look: f64,
    next_turn: f64,
    schedule: f64,
    opportunity: f64,
    shows_failure: bool,
}

/// The log of one position.
#[derive(Default)]
pub(super) struct Log {
    pub seals: Vec<SealRow>,
    pub inspections: Vec<InspectionRow>,
}

/// Runs `position` of `tank` from the start of the burn-in to the cut-off. `serial` numbers the
/// tank's seals; only what the records saw is kept.
pub(super) fn run(tank: &Tank<'_>, position: &str, serial: &mut usize, draw: &mut Draw) -> Log {
    let mut log = Log::default();
    let mut now = 0.0;
    while now < tank.end {
        *serial += 1;
        let Some(mut seal) = fit(tank, position, *serial, now, draw) else {
            break;
        };
        now = live(tank, &mut seal, draw, &mut log.inspections);
        if now >= tank.records_from {
            log.seals.push(seal.row);
        }
    }
    log
}

/// Fits the next seal.
fn fit<'a>(
    tank: &Tank<'a>,
    position: &str,
    serial: usize,
    now: f64,
    draw: &mut Draw,
) -> Option<InPlace<'a>> {
    let (plan, practice) = (tank.plan, &tank.site.practice);
    let symbol = draw.weighted(&practice.mix)?;
    let material = plan.materials.iter().find(|m| m.symbol == symbol)?;
    let day = tank.day(now);
    let cured = Quarter::of(day_after(day, -i64::from(plan.supply.shelf_days))).previous();
    let rate = wear_rate(&plan.wear, material, tank.group, tank.cycles_per_week)
        / batch_factor(&plan.supply, symbol, cured);
    let frame = tank
        .severity
        .iter()
        .map(|severity| severity * rate)
        .collect();
    let every = practice.inspect_every_days.unwrap_or(f64::INFINITY);
    let turn = practice.turn_every_days.unwrap_or(f64::INFINITY);
    let jitter = draw.jitter(practice.jitter_days);
    let opportunity =
        now + practice.opportunity_from_days + draw.wait(practice.opportunities_per_year / 365.25);
    Some(InPlace {
        ring: Ring::new(material.defect, material.delay, frame, draw),
        row: new_row(plan, tank, position, serial, material, cured, now),
        material,
        fitted: now,
        now,
        last_look: None,
        next_look: visit(now + every + jitter, now),
        next_turn: now + turn,
        schedule: visit(now + practice.replace_at_days.unwrap_or(f64::INFINITY), now),
        opportunity: visit(opportunity, now),
        shows_failure: !draw.chance(practice.silent_failures),
    })
}

/// The visiting hour of the day of `time`, at least a day after `now`.
fn visit(time: f64, now: f64) -> f64 {
    time.max(now + 1.0).floor() + VISIT_HOUR
}

fn new_row(
    plan: &Plan,
    tank: &Tank<'_>,
    position: &str,
    serial: usize,
    material: &Material,
    cured: Quarter,
    now: f64,
) -> SealRow {
    let suppliers = &plan.supply.suppliers;
    let turn = cured.serial() % suppliers.len().max(1);
    SealRow {
        seal: format!("{}-{serial:03}", tank.asset),
        asset: tank.asset.clone(),
        position: Some(position.to_owned()),
        material: material.symbol.clone(),
        part_no: material.part_no.clone(),
        batch: format!("{}-{}", material.symbol, cured.code()),
        cure_date: cured.to_string(),
        supplier: suppliers.get(turn).cloned().unwrap_or_default(),
        fitted: Some(Written::day(tank.day(now))),
        fitted_reading: Some(tank.reading(now)),
        removed: None,
        removed_reading: None,
        last_known_good: None,
        outcome: "in_service".to_owned(),
        mechanism: None,
        sector: None,
    }
}

/// Lets the seal live to its end or to the cut-off; returns when.
fn live(
    tank: &Tank<'_>,
    seal: &mut InPlace<'_>,
    draw: &mut Draw,
    looks: &mut Vec<InspectionRow>,
) -> f64 {
    loop {
        let (event, time) = next_event(tank, seal);
        seal.ring.advance(time - seal.now);
        seal.now = time;
        let ending = match event {
            Event::CutOff => return tank.end,
            Event::Failure => Some("failed"),
            _ if seal.ring.failed() => {
                if event == Event::Inspection {
                    looks.extend(look(tank, seal, "failed", 0, draw));
                }
                let good = seal.last_look.unwrap_or(seal.fitted);
                seal.row.last_known_good = Some(tank.day(good));
                Some("failed")
            }
            Event::Schedule => Some("preventive"),
            Event::Opportunity => Some("opportunity"),
            Event::Inspection => inspect(tank, seal, draw, looks),
        };
        if let Some(word) = ending {
            remove(tank, seal, word, draw);
            return time;
        }
    }
}

/// The first thing to happen, and when. A silent failure is nobody's event.
fn next_event(tank: &Tank<'_>, seal: &InPlace<'_>) -> (Event, f64) {
    let failure = seal
        .ring
        .days_to_failure()
        .filter(|_| seal.shows_failure)
        .map_or(f64::INFINITY, |wait| seal.now + wait);
    [
        (Event::Inspection, seal.next_look),
        (Event::Schedule, seal.schedule),
        (Event::Opportunity, seal.opportunity),
        (Event::CutOff, tank.end),
    ]
    .into_iter()
    .fold((Event::Failure, failure), |first, next| {
        if next.1 < first.1 { next } else { first }
    })
}

/// An inspection of a seal that has not failed: the word of its ending, if it ends here.
fn inspect(
    tank: &Tank<'_>,
    seal: &mut InPlace<'_>,
    draw: &mut Draw,
    looks: &mut Vec<InspectionRow>,
) -> Option<&'static str> {
    let practice = &tank.site.practice;
    if seal.ring.defect().is_some() && draw.chance(practice.detection) {
        looks.extend(look(tank, seal, "worn", 0, draw));
        return Some("worn");
    }
    let spoilt = draw.chance(practice.handling_damage);
    let turns = if !spoilt && seal.now >= seal.next_turn {
        seal.next_turn = seal.now + practice.turn_every_days.unwrap_or(f64::INFINITY);
        practice.turn_sectors
    } else {
        0
    };
    looks.extend(look(tank, seal, "sound", turns, draw));
    seal.ring.turn(turns);
    seal.last_look = Some(seal.now);
    let every = practice.inspect_every_days.unwrap_or(f64::INFINITY);
    seal.next_look = visit(
        seal.now + every + draw.jitter(practice.jitter_days),
        seal.now,
    );
    spoilt.then_some("damaged")
}

/// The inspection's row, unless the records had not begun. The gauge is read either way, so that a
/// later start of the records changes no draw.
fn look(
    tank: &Tank<'_>,
    seal: &InPlace<'_>,
    finding: &str,
    turns: usize,
    draw: &mut Draw,
) -> Option<InspectionRow> {
    let gauge = &tank.plan.gauge;
    let thickness = gauge.new_mm - gauge.loss_at_defect_mm * seal.ring.worn_share()
        + draw.normal(gauge.noise_mm);
    (seal.now >= tank.records_from).then(|| InspectionRow {
        seal: seal.row.seal.clone(),
        asset: tank.asset.clone(),
        position: seal.row.position.clone().unwrap_or_default(),
        date: tank.day(seal.now),
        reading: tank.reading(seal.now),
        finding: finding.to_owned(),
        sector: sector(seal).filter(|_| finding != "sound"),
        turned: i64::try_from(turns).unwrap_or(0),
        thickness_mm: (thickness.max(0.0) * 10.0).round() / 10.0,
    })
}

fn sector(seal: &InPlace<'_>) -> Option<i64> {
    seal.ring
        .defect()
        .and_then(|arc| i64::try_from(arc + 1).ok())
}

/// Takes the seal off and writes why.
fn remove(tank: &Tank<'_>, seal: &mut InPlace<'_>, word: &str, draw: &mut Draw) {
    let row = &mut seal.row;
    row.removed = Some(Written::day(tank.day(seal.now)));
    row.removed_reading = Some(tank.reading(seal.now));
    row.outcome = word.to_owned();
    row.mechanism = match word {
        "failed" | "worn" => mechanism(tank, seal.material, draw),
        "damaged" => Some("torn".to_owned()),
        _ => None,
    };
    if matches!(word, "failed" | "worn") {
        seal.row.sector = sector(seal);
    }
}

/// An attack's own mechanism where there is one, else a draw from the material's.
fn mechanism(tank: &Tank<'_>, material: &Material, draw: &mut Draw) -> Option<String> {
    let usual = draw.weighted(&material.mechanisms).map(str::to_owned);
    attacks(material, tank.group)
        .find_map(|attack| attack.mechanism.clone())
        .or(usual)
}
