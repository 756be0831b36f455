//! From a laboratory table to times, line, life and duty cycle. Times are in hours, temperatures in °C, the property and
//! its limit in the table's own unit.

use super::ageing_results::{duty_result, life_at, line_result, oven_result, temperature_for};
use super::ageing_words as words;
use super::celsius;
use crate::cautions;
use crate::number;
use crate::wire::GroupKey;
use crate::wire::ageing::{AgeingDocument, AgeingGroup, LocalResult};
use sealspan_life::ageing::arrhenius::{Stretch, kilojoules};
use sealspan_life::ageing::bend;
use sealspan_life::ageing::curve::Curve;
use sealspan_life::ageing::line::{self, Line, Point};
use sealspan_life::ageing::reach::{Limit, Oven, Reading, reach};
use sealspan_records::Source;
use sealspan_records::lab::{Lab, LabRow};
use std::collections::BTreeMap;

/// What is asked.
#[derive(Debug, Clone)]
pub struct AgeingQuestion {
    /// The limit of the property.
    pub limit: f64,
    /// Whether it rises to it. When not stated, whether more pairs of readings of an oven rise with time than fall.
    pub rising: Option<bool>,
    /// How the property goes with time.
    pub curve: Curve,
    /// Value at the start; when not stated, the mean of the readings at 0 hours, else 0 for a compression set.
    pub start: Option<f64>,
    /// Value approached; when not stated, 100 for a compression set (per cent, by its definition).
    pub end: Option<f64>,
    /// Whether ovens are weighted by their own errors ([`line::fit`]).
    pub weighted: bool,
    /// Two-sided level of the intervals, between 0 and 1.
    pub confidence: f64,
    /// Temperatures of service, °C.
    pub at: Vec<f64>,
    /// Lives, hours, for which the temperature is wanted.
    pub for_hours: Vec<f64>,
    /// Stretches of a duty cycle, hours and °C; empty when none is asked about.
    pub duty: Vec<Stretch>,
}

/// Kelvin below the coldest oven that reached the limit, beyond which a life is flagged as `far` (a rule of ours).
pub const FAR: f64 = 25.0;
/// Version of the shape.
const SCHEMA: &str = "sealspan.ageing.v1";

/// One oven with its measurements.
#[derive(Debug)]
pub struct Seen {
    /// Temperature, °C.
    pub celsius: f64,
    /// Measurements: hours and value.
    pub readings: Vec<Reading>,
    /// What they tell ([`reach`]); `Err` with the reason.
    pub oven: Result<Oven, String>,
}

/// One material worked through, for figures.
#[derive(Debug)]
pub struct Worked {
    /// Its name.
    pub key: GroupKey,
    /// The limit as used.
    pub limit: Limit,
    /// Its ovens, coolest first.
    pub ovens: Vec<Seen>,
    /// Its line; `None` where fewer than two ovens tell one, or hotter ovens last longer.
    pub line: Option<Line>,
}

/// The answer, and what its figures need.
#[derive(Debug)]
pub struct Ageing {
    /// The answer.
    pub document: AgeingDocument,
    /// Material by material.
    pub worked: Vec<Worked>,
    /// The table read.
    pub source: Source,
}

/// Works a table through, material by material: the time to the limit in each oven ([`reach`]), the Arrhenius line
/// ln t = a + b/T through them ([`line::fit`]; t in hours, T in kelvin; E = bR), its bend ([`bend::curvature`]), and the
/// times asked for, in hours. A material without a line has no life and no energy; its reason stands in the answer.
///
/// # Errors
/// In words, when a curve lacks its start or end, or the direction cannot be told: then for all materials.
///
/// ```
/// use sealspan_life::ageing::curve::Curve;
/// use sealspan_records::lab::lab;
/// use sealspan_report::analysis::ageing::{AgeingQuestion, ageing};
/// use sealspan_report::{chart::Layer, story::ageing::charts};
/// # use std::fmt::Write as _;
/// // Invented: 1000 h to half the elongation at 100 °C and an activation energy of 90 kJ/mol; each oven is looked at
/// // when three quarters and one quarter of it are left, so that half is crossed at the middle of the two in ln t.
/// let hours = |celsius: f64| {
///     let kelvin = |c: f64| c + 273.15;
///     1000.0 * (90_000.0 / 8.314_462_618 * (1.0 / kelvin(celsius) - 1.0 / kelvin(100.0))).exp()
/// };
/// let mut text = "temperature_c,time_h,elongation\n".to_owned();
/// for celsius in [80.0, 100.0, 120.0] {
///     let t = hours(celsius);
///     writeln!(text, "{celsius},{},75\n{celsius},{},25", 0.5 * t, 2.0 * t)?;
/// }
/// # let path = std::env::temp_dir().join(format!("sealspan-doc-ageing-{}.csv", std::process::id()));
/// # std::fs::write(&path, text)?;
/// let question = AgeingQuestion {
///     limit: 50.0,
///     rising: None,
///     curve: Curve::BetweenLnTime,
///     start: None,
///     end: None,
///     weighted: false,
///     confidence: 0.9,
///     at: vec![60.0],
///     for_hours: vec![],
///     duty: vec![],
/// };
/// let answer = ageing(&lab(&path, None, None)?, &question)?;
/// let group = &answer.document.groups[0];
/// let energy = group.line.as_ref().unwrap().activation_energy_kj_per_mol.estimate.unwrap();
/// assert!((energy - 90.0).abs() < 1e-6);
/// assert!((group.life[0].estimate / hours(60.0) - 1.0).abs() < 1e-9);
/// assert_eq!(group.direction, "falling");
/// // Its figures: the property against time with the limit, and the line.
/// let figures = charts(&answer, question.curve);
/// assert_eq!(figures.len(), 2);
/// assert!(figures[0].layers.iter().any(|l| matches!(l, Layer::HLine { at, .. } if *at == 50.0)));
/// # std::fs::remove_file(&path)?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn ageing(lab: &Lab, question: &AgeingQuestion) -> Result<Ageing, String> {
    let mut by: BTreeMap<Option<&str>, Vec<&LabRow>> = BTreeMap::new();
    for row in &lab.rows {
        by.entry(row.material.as_deref()).or_default().push(row);
    }
    let mut worked = vec![];
    let mut groups = vec![];
    for (material, rows) in by {
        let key = material.map(|m| ("material".to_owned(), m.to_owned()));
        let limit = limit(lab, question, &rows)?;
        let ovens = ovens(&rows, question, &limit);
        let points: Vec<Point> = ovens
            .iter()
            .filter_map(|s| {
                Some(Point {
                    celsius: s.celsius,
                    reach: s.oven.as_ref().ok()?.reach,
                })
            })
            .collect();
        let line = line::fit(&points, question.weighted)
            .map_err(|e| e.to_string())
            .and_then(forwards);
        let one = Worked {
            key: GroupKey(key.into_iter().collect()),
            limit,
            ovens,
            line: line.as_ref().ok().copied(),
        };
        groups.push(group(&one, &points, line, question));
        worked.push(one);
    }
    let seen = lab
        .rows
        .iter()
        .map(|r| r.celsius)
        .chain(question.at.iter().copied());
    let (low, high) = seen.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), c| {
        (l.min(c), h.max(c))
    });
    let mut notes = words::notes();
    notes.extend(celsius::doubt(
        "temperature of the ovens and of service",
        low,
        high,
    ));
    let document = AgeingDocument {
        schema: SCHEMA,
        measure: Some(lab.measure.clone()),
        unit: "hours",
        limit: Some(question.limit),
        curve: Some(question.curve.word()),
        confidence: question.confidence,
        rows_read: lab.rows.len(),
        groups,
        duty: None,
        notes,
        cautions: cautions::always(),
    };
    Ok(Ageing {
        document,
        worked,
        source: lab.source.clone(),
    })
}

/// The line where heat shortens life; else why there is none: no life at another temperature and no prior follow
/// from ageing that runs backwards.
fn forwards(line: Line) -> Result<Line, String> {
    if line.slope > 0.0 {
        return Ok(line);
    }
    Err(format!(
        "hotter ovens last longer here (the line's slope would be {} kJ/mol): that is no Arrhenius ageing, so no life at another temperature and no activation energy follow; check the temperatures and the limit",
        number::fixed(kilojoules(line.slope), 0)
    ))
}

/// A duty cycle at a stated activation energy, `kilojoules` per mole, without a table: the constant temperature that ages
/// as fast ([`equivalent_temperature`](sealspan_life::ageing::arrhenius::equivalent_temperature)), without an interval.
/// `None` where there is no such temperature.
#[must_use]
pub fn stated_duty(duty: &[Stretch], kilojoules: f64, confidence: f64) -> Option<AgeingDocument> {
    Some(AgeingDocument {
        schema: SCHEMA,
        measure: None,
        unit: "hours",
        limit: None,
        curve: None,
        confidence,
        rows_read: 0,
        groups: vec![],
        duty: Some(duty_result(duty, kilojoules, None)?),
        notes: vec![],
        cautions: cautions::always(),
    })
}

/// The limit with its direction, start and end.
fn limit(lab: &Lab, question: &AgeingQuestion, rows: &[&LabRow]) -> Result<Limit, String> {
    let curve = question.curve;
    let set = sealspan_records::words::normal(&lab.measure).contains("compression_set");
    let new: Vec<f64> = rows
        .iter()
        .filter(|r| r.hours == 0.0)
        .map(|r| r.value)
        .collect();
    let mean_new = (!new.is_empty()).then(|| new.iter().sum::<f64>() / new.len() as f64);
    // A compression set is 0 before the test and 100 % when nothing springs back, by its definition.
    let start = question.start.or(mean_new).or(set.then_some(0.0));
    let end = question.end.or(set.then_some(100.0));
    if curve.needs_start() && start.is_none() {
        return Err(format!(
            "the curve {} needs the value at the start: state it with --start, or add rows at time 0",
            curve.word()
        ));
    }
    if curve.needs_end() && end.is_none() {
        return Err(format!(
            "the curve {} needs the value that is approached in the end: state it with --end",
            curve.word()
        ));
    }
    let rising = match question.rising {
        Some(rising) => rising,
        None => {
            let trend = trend(rows);
            if trend == 0.0 {
                return Err(
                    "whether the property rises or falls cannot be told: state --direction"
                        .to_owned(),
                );
            }
            trend > 0.0
        }
    };
    Ok(Limit {
        value: question.limit,
        rising,
        start,
        end,
    })
}

/// Covariance of the value with time's rank, oven by oven; its sign is the direction.
fn trend(rows: &[&LabRow]) -> f64 {
    let mut total = 0.0;
    for (i, a) in rows.iter().enumerate() {
        for b in rows.iter().skip(i + 1).filter(|b| b.celsius == a.celsius) {
            let later = (b.hours - a.hours).partial_cmp(&0.0).map_or(0, |o| o as i8);
            let more = (b.value - a.value).partial_cmp(&0.0).map_or(0, |o| o as i8);
            total += f64::from(later * more);
        }
    }
    total
}

fn ovens(rows: &[&LabRow], question: &AgeingQuestion, limit: &Limit) -> Vec<Seen> {
    let mut temperatures: Vec<f64> = rows.iter().map(|r| r.celsius).collect();
    temperatures.sort_by(f64::total_cmp);
    temperatures.dedup();
    let of = |celsius: f64| {
        let readings: Vec<Reading> = rows
            .iter()
            .filter(|r| r.celsius == celsius)
            .map(|r| Reading {
                hours: r.hours,
                value: r.value,
            })
            .collect();
        let oven = reach(&readings, question.curve, limit, question.confidence);
        Seen {
            celsius,
            oven: oven.map_err(|e| e.to_string()),
            readings,
        }
    };
    temperatures.into_iter().map(of).collect()
}

fn group(
    one: &Worked,
    points: &[Point],
    line: Result<Line, String>,
    question: &AgeingQuestion,
) -> AgeingGroup {
    let bent = bend::curvature(points);
    let local = bend::local_energies(points);
    let mut notes = words::oven_notes(&one.ovens);
    if let Ok(line) = &line {
        notes.extend(words::line_notes(line));
    }
    let life = |celsius: f64| {
        let line = line.as_ref().ok()?;
        Some(life_at(one, line, bent, celsius, question.confidence))
    };
    let duty = line
        .as_ref()
        .ok()
        .filter(|_| !question.duty.is_empty())
        .and_then(|line| {
            let mut duty = duty_result(
                &question.duty,
                kilojoules(line.slope),
                Some((line, question.confidence)),
            )?;
            duty.life = duty.equivalent_c.estimate.and_then(life);
            Some(duty)
        });
    AgeingGroup {
        group: one.key.clone(),
        direction: if one.limit.rising {
            "rising"
        } else {
            "falling"
        },
        ovens: one.ovens.iter().map(oven_result).collect(),
        curvature: bent.map(|b| words::curvature(&b, &local)),
        curvature_reason: bent
            .is_none()
            .then(|| "a bend is tested from four ovens that reached the limit upwards".to_owned()),
        local_energies: local
            .iter()
            .map(|l| LocalResult {
                from_c: l.from,
                to_c: l.to,
                kj_per_mol: l.kilojoules,
            })
            .collect(),
        life: question.at.iter().filter_map(|c| life(*c)).collect(),
        temperature_for: question
            .for_hours
            .iter()
            .filter_map(|hours| {
                let line = line.as_ref().ok()?;
                Some(temperature_for(one, line, *hours, question.confidence))
            })
            .collect(),
        duty,
        line_reason: line.as_ref().err().cloned(),
        line: line.ok().map(|l| line_result(&l, question.confidence)),
        notes,
    }
}
