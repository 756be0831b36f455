//! Positions: how many seals they consume, which take too many, and which doors are out of line.

mod common;
mod curves;
mod expected;
mod like;
mod sentences;
mod wear;

use super::alike::{ln_duty, place_columns, words};
use super::habits::habits;
use crate::wire::habits::Habits;
use crate::wire::positions::{PositionResult, PositionsDocument, SpreadResult};
use crate::wire::{GroupKey, Number};
use expected::Expected;
use sealspan_life::recurrence::hungry::Count;
use sealspan_life::recurrence::many::false_discovery;
use sealspan_life::recurrence::ratios::{Spread, spread};
use sealspan_records::positions::{
    PositionLog, Positions, PositionsQuestion, mode, not_more_than_numbered, positions,
};
use sealspan_records::words::Outcome;
use sealspan_records::{Clock, Error, Form, Records};
use std::collections::BTreeMap;

/// Expected share of false alarms unless told otherwise (a rule of ours).
pub const FALSE_DISCOVERY: f64 = 0.1;

/// Outcomes that count as replacements unless told otherwise: what nobody planned.
pub const COUNTED: [Outcome; 3] = [Outcome::Failed, Outcome::Worn, Outcome::Damaged];

/// Sectors of a ring unless told otherwise (a rule of ours).
pub const SECTORS: u32 = 4;

/// What the caller decides; the study, then the usual, fills what is left open.
#[derive(Debug, Clone, Default)]
pub struct PositionsOptions {
    /// Columns that make groups of positions for the curves.
    pub by: Vec<String>,
    /// Columns whose seals are alike; those of the study's question, else the material, when not stated.
    pub like: Option<Vec<String>>,
    /// Not to hold constant what the records know of the place of a seal: site, columns of the assets, duty.
    pub not_adjusted: bool,
    /// The time scale.
    pub clock: Option<Clock>,
    /// Outcomes that count; [`COUNTED`] when empty.
    pub counted: Vec<Outcome>,
    /// An outcome to count alone, or a mechanism.
    pub mode: Option<String>,
    /// Sectors of a ring.
    pub sectors: Option<u32>,
    /// Two-sided confidence; the study's, else 0.9.
    pub confidence: Option<f64>,
    /// Expected share of false alarms; [`FALSE_DISCOVERY`] when not stated.
    pub false_discovery: Option<f64>,
    /// Time between turns to be judged, on the clock; the study's time between looks where the clock is that of days.
    pub turn_every: Option<f64>,
    /// Seed of everything random.
    pub seed: u64,
}

/// The question with everything filled in.
struct Asked {
    question: PositionsQuestion,
    /// Columns whose seals share a law; those of the places stand behind them in the question.
    like: Vec<String>,
    /// Columns of the places.
    places: Vec<String>,
    confidence: f64,
    false_discovery: f64,
    turn_every: Option<f64>,
    seed: u64,
}

impl Asked {
    fn of_habits(&self) -> super::habits::Asked<'_> {
        super::habits::Asked {
            like: &self.like,
            clock: self.question.clock,
            confidence: Some(self.confidence),
            false_discovery: self.false_discovery,
            seed: self.seed,
        }
    }
}

fn ask(records: &Records, options: &PositionsOptions) -> Result<Asked, Error> {
    let study = &records.study.question;
    let word = options.mode.as_ref().or(study.mode.as_ref());
    let (alone, mechanism) = word.map_or(Ok((None, None)), |word| mode(word))?;
    let counted = match (alone, options.counted.as_slice()) {
        (Some(outcome), _) => vec![outcome],
        (None, []) => COUNTED.to_vec(),
        (None, stated) => stated.to_vec(),
    };
    let has_material =
        records.form == Form::Seals && records.seals.iter().any(|s| s.material.is_some());
    let usual = || match study.by.as_slice() {
        [] if has_material => vec!["material".to_owned()],
        by => by.to_vec(),
    };
    let clock = options.clock.or(study.clock).unwrap_or_default();
    let looked = records.study.practice.inspect_every_days;
    let like = options.like.clone().unwrap_or_else(usual);
    let places = match options.not_adjusted {
        true => vec![],
        false => place_columns(records, &like),
    };
    Ok(Asked {
        question: PositionsQuestion {
            clock,
            counted,
            mechanism,
            by: options.by.clone(),
            like: like.iter().chain(&places).cloned().collect(),
            sectors: options.sectors.or(study.sectors).unwrap_or(SECTORS),
        },
        like,
        places,
        confidence: options.confidence.or(study.confidence).unwrap_or(0.9),
        false_discovery: options.false_discovery.unwrap_or(FALSE_DISCOVERY),
        turn_every: options
            .turn_every
            .or(looked.filter(|_| clock == Clock::Days)),
        seed: options.seed,
    })
}

/// Answers everything about positions: mean cumulative curves and trends, each position's replacements against what alike
/// seals would have needed, wear round the door frames, and the habits of the sites. How each figure is worked out stands
/// at the fields of [`PositionsDocument`].
///
/// # Errors
/// When the records do not let positions be followed at all, the mode is no outcome or mechanism, or more sectors are
/// asked for than the records number.
pub fn answer(records: &Records, options: &PositionsOptions) -> Result<PositionsDocument, Error> {
    let asked = ask(records, options)?;
    if let Some(sectors) = options.sectors {
        not_more_than_numbered(records, sectors)?;
    }
    let logs = positions(records, &asked.question)?;
    let duty = (!options.not_adjusted)
        .then(|| ln_duty(records, asked.question.clock))
        .flatten();
    let alike = like::alike(&logs.list, asked.like.len(), duty.as_ref());
    let expected = Expected::new(&alike, asked.confidence);
    let mut document = frame(&asked, &logs, &expected);
    document.held_constant = match alike.adjusted {
        true => words(records, &asked.places, duty.is_some()),
        false => vec![],
    };
    curves::fill(&mut document, &logs.list, &asked);
    document.positions = rank(&alike.logs, &expected, &asked, &mut document.spread);
    wear::fill(&mut document, &alike.logs, &expected, &asked);
    document.positions.sort_by(order);
    let shared = common::shared(records, &asked.question, &document);
    document.habits = habits(records, &asked.of_habits());
    document.sentences = sentences::sentences(&document, &shared);
    document.warnings = sentences::warnings(&document, &logs);
    Ok(document)
}

/// Most hungry first: by p-value, then by ratio, then by name.
fn order(a: &PositionResult, b: &PositionResult) -> std::cmp::Ordering {
    let p = |r: &PositionResult| r.p_value.unwrap_or(2.0);
    let ratio = |r: &PositionResult| r.ratio.unwrap_or(0.0);
    p(a).total_cmp(&p(b))
        .then(ratio(b).total_cmp(&ratio(a)))
        .then_with(|| (&a.asset, &a.position).cmp(&(&b.asset, &b.position)))
}

/// The document with what is counted, before any statistics.
fn frame(asked: &Asked, logs: &Positions, expected: &Expected) -> PositionsDocument {
    let question = &asked.question;
    let mut not_counted: BTreeMap<&'static str, u64> = BTreeMap::new();
    for (outcome, count) in logs.list.iter().flat_map(|l| &l.uncounted) {
        *not_counted.entry(outcome.word()).or_default() += count;
    }
    PositionsDocument {
        schema: "sealspan.positions.v1",
        cautions: crate::cautions::always(),
        unit: logs.clock.unit(),
        confidence: asked.confidence,
        false_discovery: asked.false_discovery,
        counted: question.counted.iter().map(|o| o.word()).collect(),
        mechanism: question.mechanism.map(|m| m.word()),
        like: asked.like.clone(),
        held_constant: vec![],
        ring_sectors: question.sectors,
        watched: logs.list.len(),
        replacements: logs.list.iter().map(|l| l.removals.len() as u64).sum(),
        not_counted,
        set_aside: logs.set_aside.len(),
        mean_cumulative: vec![],
        mean_cumulative_reason: None,
        groups: vec![],
        in_several_groups: 0,
        difference: None,
        difference_reason: None,
        differences: vec![],
        trend: vec![],
        renewal: curves::untold(),
        power_law: Default::default(),
        log_linear: Default::default(),
        expectation: expected.told(),
        spread: Default::default(),
        wear: Default::default(),
        positions: vec![],
        habits: Habits::default(),
        sentences: vec![],
        warnings: vec![],
    }
}

const ALONE: &str = "one position by itself has nothing to be compared with";
const NOTHING: &str = "no replacement that counts, so nothing is expected";
const CHANCE: &str = "positions differ no more than chance would have them";
/// Why a position without any spread to draw from keeps the fleet's ratio.
const NOT_DRAWN: &str = "the ratio of the fleet, without an interval: positions differ no more than chance would have them";

/// Every position against its expectation.
fn rank(
    logs: &[PositionLog],
    expected: &Expected,
    asked: &Asked,
    told: &mut SpreadResult,
) -> Vec<PositionResult> {
    let counts: Vec<Option<Count>> = logs.iter().map(|log| expected.count(log)).collect();
    let known: Vec<Count> = counts.iter().flatten().copied().collect();
    let spread = spread(&known).filter(|_| known.len() > 1);
    *told = spread_told(spread, known.len());
    let p: Vec<f64> = known.iter().map(Count::p_value).collect();
    let mut adjusted = false_discovery(&p).into_iter();
    let rows = logs.iter().zip(&counts).map(|(log, count)| {
        let mut row = bare(log, asked.question.sectors);
        let Some(count) = count else {
            say(&mut row, NOTHING);
            row.shrunk_rate_ratio.reason = Some(NOTHING.to_owned());
            return row;
        };
        row.expected = expected.ordinary(log);
        row.ratio = row.expected.map(|e| count.seen / e);
        row.expected_at_its_ages = Some(count.expected);
        row.rate_ratio = Some(count.seen / count.expected);
        let adjusted = adjusted.next();
        if known.len() > 1 {
            compare(&mut row, *count, spread, asked.confidence);
            row.adjusted_p_value = adjusted;
            row.hungry = adjusted.is_some_and(|p| p <= asked.false_discovery);
        } else {
            say(&mut row, ALONE);
            row.shrunk_rate_ratio.reason = Some(ALONE.to_owned());
        }
        row
    });
    rows.collect()
}

/// Adds a reason why something of a position is missing.
fn say(row: &mut PositionResult, why: &str) {
    row.reason = Some(match row.reason.take() {
        Some(before) => format!("{before}; {why}"),
        None => why.to_owned(),
    });
}

fn spread_told(spread: Option<Spread>, known: usize) -> SpreadResult {
    let variation = spread.and_then(|s| s.shape).map(|s| s.sqrt().recip());
    let why = match (known, spread) {
        (0, _) | (2.., None) => NOTHING,
        (1, _) => ALONE,
        (_, Some(_)) => CHANCE,
    };
    let apart = spread.and_then(|s| s.apart);
    let no_few = match spread {
        Some(_) => "one law of ratios says it all: no few positions stand apart",
        None => why,
    };
    SpreadResult {
        variation,
        reason: variation.is_none().then(|| why.to_owned()),
        apart_share: apart.map(|a| a.share),
        apart_mean: apart.map(|a| a.mean),
        apart_reason: apart.is_none().then(|| no_few.to_owned()),
    }
}

fn compare(row: &mut PositionResult, count: Count, spread: Option<Spread>, level: f64) {
    row.p_value = Some(count.p_value());
    row.mid_p_value = Some(count.mid_p_value());
    row.probability_apart = spread.map(|s| s.chance_apart(count));
    row.shrunk_rate_ratio = match spread.and_then(|s| s.draw(count, level)) {
        Some(drawn) => Number {
            estimate: Some(drawn.estimate),
            lower: Some(drawn.lower),
            upper: Some(drawn.upper),
            reason: None,
        },
        None => Number {
            estimate: spread.map(|s| s.mean),
            reason: Some(NOT_DRAWN.to_owned()),
            ..Number::default()
        },
    };
}

fn bare(log: &PositionLog, sectors: u32) -> PositionResult {
    PositionResult {
        asset: log.asset.clone(),
        position: log.position.clone(),
        watched: log.to - log.from,
        replacements: log.removals.len() as u64,
        expected: None,
        ratio: None,
        expected_at_its_ages: None,
        rate_ratio: None,
        shrunk_rate_ratio: Number::default(),
        probability_apart: None,
        p_value: None,
        mid_p_value: None,
        adjusted_p_value: None,
        hungry: false,
        sectors: vec![0; sectors as usize],
        not_placed: 0,
        turned: log.turned,
        uneven_p_value: None,
        uneven_adjusted_p_value: None,
        uneven_method: None,
        rayleigh: None,
        out_of_line: false,
        probability_out_of_line: None,
        relative_severity: None,
        relative_severity_interval: None,
        turning_gain: None,
        turning_gain_interval: None,
        practical_turning: None,
        mending_gain: None,
        mending_gain_interval: None,
        reason: None,
    }
}

fn key(columns: &[(String, String)]) -> GroupKey {
    GroupKey(columns.to_vec())
}
