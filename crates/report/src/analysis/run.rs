//! The whole study: every question of the report, answered from one set of records.

use super::ageing::Ageing;
use super::back_test::back_test;
use super::compared::compared;
use super::condition::Condition;
use super::detections::{DetectionDoubt, doubts};
use super::due::{self, due};
use super::duties::{DutyTemperatures, by_duty, temperatures};
use super::extras;
use super::finance;
use super::heat::{Heat, heat};
use super::intervals::{self, SheetQuestion};
use super::lives::{GroupLife, groups, together};
use super::material_for::{Chosen, chosen};
use super::outlook::{self, Total, totals};
use super::planned::{led_by, planned, whole_plans};
use super::positions::{PositionsOptions, answer as positions};
use super::practised::{Practice, practice};
use super::screen::{Explained, Screen, add_damage, screen};
use super::what_if::{WhatIf, what_if};
use super::without_batches::{WithoutBatch, intervals_without, without_batches};
use super::{prices, spares};
use crate::wire::GroupKey;
use crate::wire::ageing::AgeingDocument;
use crate::wire::batches::BatchesDocument;
use crate::wire::care::{CareDocument, CareQuestion, GroupCare, block};
use crate::wire::check::{CheckDocument, document};
use crate::wire::compare::CompareDocument;
use crate::wire::condition::ConditionDocument;
use crate::wire::demand::BackTest;
use crate::wire::due::DueDocument;
use crate::wire::fit::{self, Detail, FitDocument, FitOptions, GroupFit, Refitted, group};
use crate::wire::forecast::{ForecastDocument, ForecastQuestion};
use crate::wire::intervals::IntervalsDocument;
use crate::wire::materials::MaterialsDocument;
use crate::wire::money::MoneyDocument;
use crate::wire::positions::PositionsDocument;
use crate::wire::stock::StockDocument;
use sealspan_care::calendar::Calendar;
use sealspan_care::costs::Costs;
use sealspan_care::plan::{Choice, Request};
use sealspan_care::replacement::Goal;
use sealspan_life::family::Family;
use sealspan_life::laws;
use sealspan_records::study::Costs as StatedCosts;
use sealspan_records::{Clock, Error, Form, Question, Records, Study, ask};
use serde::Serialize;

/// Two-sided confidence unless the study says otherwise.
pub const CONFIDENCE: f64 = 0.9;
/// Periods a forecast is cut into.
const PERIODS: usize = 12;
/// Share that may fail within an interval that is stated.
const SHARE_STATED: f64 = 0.1;
/// Shares failed at which lives are given.
const SHARES: [f64; 2] = [0.1, 0.5];

/// A part of the study, or why it is missing.
#[derive(Debug, Clone, Serialize)]
#[serde(untagged)]
pub enum Part<T> {
    /// The answer.
    Found(T),
    /// Why there is none.
    Missing {
        /// In words.
        reason: String,
    },
}

impl<T> Part<T> {
    /// The answer, if there is one.
    pub fn found(&self) -> Option<&T> {
        match self {
            Self::Found(value) => Some(value),
            Self::Missing { .. } => None,
        }
    }

    /// Why there is none.
    pub(crate) fn reason(&self) -> Option<&str> {
        match self {
            Self::Found(_) => None,
            Self::Missing { reason } => Some(reason),
        }
    }

    pub(super) fn of<E: ToString>(result: Result<T, E>) -> Self {
        result.map_or_else(
            |e| Self::Missing {
                reason: e.to_string(),
            },
            Self::Found,
        )
    }
}

/// Everything a report tells; also what `results.json` holds.
#[derive(Debug, Serialize)]
pub struct Results {
    /// Version of this shape.
    pub schema: &'static str,
    /// Title of the study.
    pub title: String,
    /// True when the data are invented.
    pub invented: bool,
    /// Currency of every amount; empty when not stated.
    pub currency: String,
    /// Unit of ages.
    pub unit: &'static str,
    /// Two-sided confidence of intervals; the interval sheets state one-sided bounds of the confidence (1 + it)/2.
    pub confidence: f64,
    /// What was read, set aside and found.
    pub check: CheckDocument,
    /// Lives by group.
    pub fit: FitDocument,
    /// Lives of all seals together.
    pub all: GroupFit,
    /// Whether the groups differ.
    pub compare: Part<CompareDocument>,
    /// What else differs.
    pub screen: Part<Screen>,
    /// What positions consume and which doors are out of line.
    pub positions: Part<PositionsDocument>,
    /// Which batches differ.
    pub batches: Part<BatchesDocument>,
    /// Which material one asset should get.
    pub materials: Part<MaterialsDocument>,
    /// The asset of that advice; left out where no seal names its asset.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub material_for: Option<Chosen>,
    /// Measured condition, where the study names a property and its limit.
    pub condition: Option<Part<ConditionDocument>>,
    /// Laboratory ageing, where the study names its table and limit.
    pub ageing: Option<Part<AgeingDocument>>,
    /// Life against temperature.
    pub heat: Option<Heat>,
    /// When to replace.
    pub care: Part<CareDocument>,
    /// The whole plan by group: looks, turns and replacement age together.
    pub plans: Part<Vec<GroupCare>>,
    /// Groups whose looks are put at finding far fewer defects than those of the others.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub detections: Vec<DetectionDoubt>,
    /// Groups planned again without a bad batch of which no seal is in service any more.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub without_batches: Vec<WithoutBatch>,
    /// Today's stated replacement age against the best, by group.
    pub practice: Vec<Practice>,
    /// Spare seals.
    pub stock: Part<StockDocument>,
    /// Money month by month, what the plan saves and its risk, what extra spares and looks buy.
    pub money: Part<MoneyDocument>,
    /// Every seal in service with the day it is due, first things first.
    pub due: Part<DueDocument>,
    /// Forecasts of failures held against the records' own past.
    pub back_test: Part<BackTest>,
    /// First failures ahead, by group and together.
    pub forecast: Part<ForecastDocument>,
    /// First failures of all groups together; empty without a horizon in the study.
    pub totals: Vec<Total>,
    /// What to state as an interval, by group.
    pub intervals: IntervalsDocument,
    /// The same by what seals meet; `None` where the records do not say.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub intervals_by_duty: Option<IntervalsDocument>,
    /// The temperatures at which each of those duties was seen; empty where the records name none.
    pub duty_temperatures: Vec<DutyTemperatures>,
    /// The interval sheet without bad batches that are gone; left out without one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub intervals_without_batches: Option<IntervalsDocument>,
    /// The regression that the screen ends with, for figures.
    #[serde(skip)]
    pub explained: Option<Explained>,
    /// The fitted groups, for figures.
    #[serde(skip)]
    pub lives: Vec<GroupLife>,
    /// The measured paths, for figures.
    #[serde(skip)]
    pub paths: Option<Condition>,
    /// The ovens, for figures.
    #[serde(skip)]
    pub ovens: Option<Ageing>,
    /// Costs on the clock, if the study gives them.
    #[serde(skip)]
    pub costs: Option<Costs>,
    /// Events under every policy, for the page's own controls.
    #[serde(skip)]
    pub what_if: Option<WhatIf>,
}

/// What the caller decides.
#[derive(Debug, Clone, Copy)]
pub struct RunOptions {
    /// Two-sided confidence; the study's, else 0.9, when none.
    pub confidence: Option<f64>,
    /// Seed of everything random.
    pub seed: u64,
}

/// Works the study through: seals grouped by material unless the study says otherwise, the first of its families (Weibull
/// unless it names one) behind every decision. A part that cannot be answered says why in its place.
///
/// # Errors
/// When the study's question cannot be answered from the records at all.
pub fn run(records: &Records, options: RunOptions) -> Result<Results, Error> {
    let study = &records.study;
    let question = question(records);
    let confidence = options
        .confidence
        .or(study.question.confidence)
        .unwrap_or(CONFIDENCE);
    let answer = ask(records, &question)?;
    let families = families(study);
    let [weibull, ..] = laws::all();
    let family = families.first().copied().unwrap_or(weibull);
    let lives = groups(&answer, family, options.seed);
    let all = together(&answer, family, options.seed);
    let fit_options = FitOptions {
        unit: question.clock.unit(),
        families,
        bounds: None,
        confidence,
        quantiles: SHARES.to_vec(),
        at: vec![],
        ages_now: vec![],
        shape: None,
        residuals: false,
        refitted: Refitted::First,
        detail: Detail::Whole,
        seed: options.seed,
    };
    let pooled_options = FitOptions {
        refitted: Refitted::None,
        ..fit_options.clone()
    };
    let costs = costs(study, question.clock);
    let horizon = study
        .forecast
        .horizon_days
        .filter(|_| question.clock == Clock::Days);
    let ahead = ForecastQuestion {
        horizon: horizon.unwrap_or_default(),
        periods: PERIODS,
        confidence,
        with_renewals: false,
    };
    let positions = Part::of(positions(
        records,
        &PositionsOptions {
            confidence: Some(confidence),
            seed: options.seed,
            ..PositionsOptions::default()
        },
    ));
    let (condition, paths) = parts(
        extras::measured_condition(records, &question, confidence),
        |c| c.document.clone(),
    );
    let (ageing, ovens) = parts(extras::ovens(records, confidence), |a| a.document.clone());
    let (clocks, one_clock) = intervals::clocks(records, &question, &answer);
    let stated = SheetQuestion {
        share: SHARE_STATED,
        confidence: 0.5 + 0.5 * confidence,
        calendar: Calendar::default(),
        family,
        prices: intervals::prices_of(study),
        seed: options.seed,
    };
    let plans = planned(
        records,
        &question,
        &lives,
        costs.as_ref(),
        Request::default(),
        (confidence, options.seed),
    );
    let whole_plans = whole_plans(&plans);
    let care = cared(
        &lives,
        &all,
        costs.as_ref(),
        confidence,
        options.seed,
        (question.clock, &study.costs),
    );
    let detections = costs.as_ref().map_or_else(
        |_| vec![],
        |costs| {
            let known = (whole_plans.as_slice(), lives.as_slice());
            doubts(records, &question, known, costs, (confidence, options.seed))
        },
    );
    let asked = (records, &question);
    let stock = stocked(asked, &lives, (costs.as_ref(), study), &whole_plans);
    let money = costs.as_ref().map_err(Clone::clone).and_then(|costs| {
        let found = finance::Found {
            lives: &lives,
            plans: &whole_plans,
            stock: stock.as_ref().map_err(Clone::clone),
            costs,
        };
        let options = finance::Options {
            months: finance::MONTHS,
            confidence,
            seed: options.seed,
            replace: Choice::Free,
            batch_spread: 0.0,
            left_out: vec![],
        };
        finance::money(records, &question, family, &found, &options)
    });
    let listed = money.as_ref().map_err(Clone::clone).and_then(|found| {
        let asked = due::Asked {
            as_of: records.cut_off,
            confidence,
            seed: options.seed,
        };
        let known = due::Known {
            condition: condition.as_ref().and_then(Part::found),
            positions: positions.found(),
        };
        let left_out = found.money.left_out.clone();
        due(&found.parts, left_out, known, &asked).map_err(|e| e.to_string())
    });
    let (screen, explained) = screened(records, &question, family, confidence);
    let conditions = screen.found().map_or(&[][..], |s| &s.found);
    let material_for = chosen(records, conditions, positions.found());
    let intervals_without_batches = screen
        .found()
        .and_then(|screen| intervals_without(records, &question, screen, &stated));
    let without_batches = match (&costs, screen.found()) {
        (Ok(costs), Some(screen)) => {
            let ask = (family, confidence, options.seed);
            without_batches(records, &question, (&whole_plans, screen), costs, ask)
        }
        _ => vec![],
    };
    let mut results = Results {
        schema: "sealspan.results.v1",
        title: study
            .title
            .clone()
            .unwrap_or_else(|| "Life of seals".to_owned()),
        invented: study.invented,
        currency: study.currency.clone().unwrap_or_default(),
        unit: question.clock.unit(),
        confidence,
        check: document(records, &question, Ok(&answer)),
        fit: fit::document(records, &answer, &fit_options),
        all: group(GroupKey::default(), &all.sample, &pooled_options),
        compare: compared(records, &answer, &question, family, confidence),
        heat: explained.as_ref().and_then(|e| heat(e, confidence)),
        screen,
        batches: Part::of(extras::watched(
            records,
            &question,
            family,
            confidence,
            options.seed,
        )),
        materials: Part::of(match &material_for {
            Some(chosen) => extras::advised(records, &chosen.asset, confidence, options.seed),
            None => Err("no seal names its asset".to_owned()),
        }),
        material_for,
        positions,
        condition,
        ageing,
        paths,
        ovens,
        intervals: intervals::sheet(records, &clocks, one_clock, (&question.by, &stated)),
        duty_temperatures: temperatures(records, &question),
        intervals_by_duty: by_duty(records, &question, &stated),
        intervals_without_batches,
        explained,
        care: Part::of(care.map(|care| led_by(care, &whole_plans))),
        practice: costs
            .as_ref()
            .map(|c| practice(&lives, c, study, &whole_plans))
            .unwrap_or_default(),
        stock: Part::of(stock),
        money: Part::of(money.map(|found| found.money)),
        due: Part::of(listed),
        back_test: Part::of(tested(
            records,
            &question,
            family,
            (confidence, options.seed),
        )),
        plans: Part::of(plans),
        detections,
        without_batches,
        forecast: Part::of(foreseen(
            &lives,
            &all,
            horizon.map(|_| ahead),
            question.clock,
        )),
        totals: match horizon {
            Some(_) => totals(&lives, ahead).unwrap_or_default(),
            None => vec![],
        },
        lives,
        costs: costs.ok(),
        what_if: None,
    };
    let terms = prices::stock(study).ok();
    results.what_if = what_if(&results, (records, &question), terms.as_ref());
    Ok(results)
}

/// What a part tells, and the whole of it for figures.
fn parts<T, D>(
    found: Option<Result<T, String>>,
    told: impl Fn(&T) -> D,
) -> (Option<Part<D>>, Option<T>) {
    match found {
        Some(Ok(whole)) => (Some(Part::Found(told(&whole))), Some(whole)),
        Some(Err(reason)) => (Some(Part::Missing { reason }), None),
        None => (None, None),
    }
}

/// The study's question; seals are grouped by material unless it says otherwise.
fn question(records: &Records) -> Question {
    let study = &records.study.question;
    let has_material =
        records.form == Form::Seals && records.seals.iter().any(|s| s.material.is_some());
    let by = if study.by.is_empty() && has_material {
        vec!["material".to_owned()]
    } else {
        study.by.clone()
    };
    Question {
        by,
        clock: study.clock.unwrap_or_default(),
        mode: study.mode.clone(),
    }
}

fn families(study: &Study) -> Vec<&'static dyn Family> {
    let named: Vec<_> = study
        .question
        .families
        .iter()
        .filter_map(|n| laws::by_name(n))
        .collect();
    if named.is_empty() {
        laws::usual().to_vec()
    } else {
        named
    }
}

fn costs(study: &Study, clock: Clock) -> Result<Costs, String> {
    if study.costs.planned_cost().is_none() {
        return Err("the study gives no `costs.seal_price`".to_owned());
    }
    Costs::new(prices::replacement(study), clock).map_err(|e| e.to_string())
}

fn screened(
    records: &Records,
    question: &Question,
    family: &'static dyn Family,
    confidence: f64,
) -> (Part<Screen>, Option<Explained>) {
    match screen(records, question, family, confidence) {
        Some((mut screen, explained)) => {
            add_damage(records, question, &mut screen.found);
            (Part::Found(screen), Some(explained))
        }
        None => {
            let reason = "no other column groups the seals, too few failed, or their columns combine in too many ways".to_owned();
            (Part::Missing { reason }, None)
        }
    }
}

fn cared(
    lives: &[GroupLife],
    all: &GroupLife,
    costs: Result<&Costs, &String>,
    confidence: f64,
    seed: u64,
    (clock, stated): (Clock, &StatedCosts),
) -> Result<CareDocument, String> {
    let question = CareQuestion {
        costs: costs.map_err(Clone::clone)?,
        goal: Goal::Cost,
        replace_at: None,
        confidence,
        seed,
    };
    let answer = |group: &GroupLife| {
        let fitted = group.trusted()?;
        let own = question.costs.dearer(prices::dearer(stated, &group.key));
        let question = CareQuestion {
            costs: &own,
            ..question
        };
        block(
            &fitted.life,
            &fitted.draws,
            Some(group.sample.oldest()),
            &question,
        )
        .map_err(|e| e.to_string())
    };
    let groups = lives.iter().map(|group| {
        let result = answer(group);
        GroupCare {
            group: group.key.clone(),
            reason: result.as_ref().err().cloned(),
            block: result.ok(),
        }
    });
    Ok(CareDocument {
        schema: "sealspan.care.v1",
        unit: clock.unit(),
        goal: Goal::Cost,
        all: Some(answer(all)?),
        reason: None,
        groups: groups.collect(),
        cautions: crate::cautions::always(),
    })
}

/// Stocks under the plans ([`spares::places`]), or why there are none.
///
/// # Errors
/// In words: when the clock is not that of days, the study gives no costs or no terms of stock, or a number is out of its
/// range.
pub fn stocked(
    asked: (&Records, &Question),
    lives: &[GroupLife],
    (costs, study): (Result<&Costs, &String>, &Study),
    plans: &[GroupCare],
) -> Result<StockDocument, String> {
    if asked.1.clock != Clock::Days {
        return Err("stocks are worked out on the clock of days".to_owned());
    }
    let terms = prices::stock(study)?;
    let costs = (costs.map_err(Clone::clone)?, study);
    spares::places(asked, lives, costs, &terms, plans).map_err(|e| e.to_string())
}

/// Forecasts held against the past, or why there are none.
fn tested(
    records: &Records,
    question: &Question,
    family: &'static dyn Family,
    (confidence, seed): (f64, u64),
) -> Result<BackTest, String> {
    if records.form != Form::Seals {
        return Err("plain lives do not say when a seal was fitted".to_owned());
    }
    if question.clock != Clock::Days {
        return Err("the past is forecast on the clock of days".to_owned());
    }
    back_test(records, &question.by, family, confidence, seed)
}

fn foreseen(
    lives: &[GroupLife],
    all: &GroupLife,
    question: Option<ForecastQuestion>,
    clock: Clock,
) -> Result<ForecastDocument, String> {
    let question =
        question.ok_or("the study gives no `forecast.horizon_days` on the clock of days")?;
    outlook::document(lives, all, question, clock.unit())
}
