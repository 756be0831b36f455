//! The user's own lives by material in the exposure asked for, and what they cost.

use super::DRAWS;
use super::materials::{MaterialsQuestion, Money, RANKED_FROM};
use crate::wire::log_rank::rank_tests;
use crate::wire::materials::{FieldChoice, FieldLife};
use crate::wire::{GroupKey, Number};
use sealspan_care::costs::{Costs, DAYS_PER_YEAR, Prices};
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_care::screening::Tables;
use sealspan_life::bounds::{Method, bounds};
use sealspan_life::draws::lives;
use sealspan_life::few::lower_bounds;
use sealspan_life::fit::fit;
use sealspan_life::laws;
use sealspan_life::life::Life;
use sealspan_life::log_rank::Weighting;
use sealspan_life::quantity::Quantity;
use sealspan_records::words::{Material, normal};
use sealspan_records::{Clock, Error, Observation, Question, Records, Sample, ask};
use std::collections::{BTreeMap, BTreeSet};

/// Columns in which media are looked for when none are named.
const MEDIUM_COLUMNS: [&str; 7] = [
    "medium",
    "media",
    "cleaning",
    "agent",
    "cleaning_agent",
    "product",
    "duty",
];
/// Column of temperatures when none is named.
const TEMPERATURE: &str = "temperature_c";

/// How the exposure is found in the records.
#[derive(Debug, Clone, Default)]
pub struct Where {
    /// Column of temperatures, °C; `temperature_c` when not named.
    pub temperature: Option<String>,
    /// Columns of media; the usual ones that the records have when empty.
    pub media: Vec<String>,
    /// Kelvin either side of the temperature asked for.
    pub within: f64,
    /// Columns by which the lives are split further.
    pub by: Vec<String>,
}

/// The lives of one material.
pub struct MaterialLives {
    /// The material.
    pub material: Material,
    /// Its lives, in days.
    pub sample: Sample,
    /// Mean temperature of its seals, °C, where temperatures choose them.
    pub celsius: Option<f64>,
}

/// The lives of all materials in the exposure.
pub struct Field {
    /// How they were chosen.
    pub choice: FieldChoice,
    /// Material by material.
    pub groups: Vec<MaterialLives>,
    /// Split further by the columns asked for, in the order of their keys; empty without such columns.
    pub split: Vec<(GroupKey, MaterialLives)>,
}

/// The columns in which the exposure is looked for.
pub struct Columns {
    /// Temperatures, °C.
    pub temperature: Option<String>,
    /// Media.
    pub media: Vec<String>,
}

impl Columns {
    /// All of them, the temperature first.
    pub(super) fn all(&self) -> impl Iterator<Item = &String> {
        self.temperature.iter().chain(&self.media)
    }

    /// Every column of conditions there is, asked for or not.
    #[must_use]
    pub(crate) fn there(records: &Records, place: &Where) -> Self {
        let columns = records.columns();
        let find = |name: &str| columns.iter().find(|c| normal(c) == normal(name)).cloned();
        let usual = MEDIUM_COLUMNS.iter().filter_map(|c| find(c));
        Self {
            temperature: place.temperature.clone().or_else(|| find(TEMPERATURE)),
            media: if place.media.is_empty() {
                usual.collect()
            } else {
                place.media.clone()
            },
        }
    }

    fn of(records: &Records, question: &MaterialsQuestion, place: &Where) -> Self {
        let columns = records.columns();
        let there = |name: &str| columns.iter().any(|c| normal(c) == normal(name));
        let temperature = place
            .temperature
            .clone()
            .or_else(|| Some(TEMPERATURE.to_owned()).filter(|t| there(t)))
            .filter(|_| question.celsius.is_some());
        let media: Vec<String> = if place.media.is_empty() {
            let usual = MEDIUM_COLUMNS.iter().filter(|c| there(c));
            usual.map(|c| (*c).to_owned()).collect()
        } else {
            place.media.clone()
        };
        Self {
            temperature,
            media: if question.media.is_empty() {
                vec![]
            } else {
                media
            },
        }
    }

    /// Whether a group's temperature is near the one asked for.
    fn near(&self, key: &[(String, String)], question: &MaterialsQuestion, within: f64) -> bool {
        let (Some(asked), Some(column)) = (question.celsius, &self.temperature) else {
            return true;
        };
        let cell = value(key, column).map(str::parse::<f64>);
        matches!(cell, Some(Ok(at)) if (at - asked).abs() <= within)
    }
}

/// The value of a column in a group's key.
fn value<'a>(key: &'a [(String, String)], name: &str) -> Option<&'a str> {
    key.iter().find(|(c, _)| c == name).map(|(_, v)| v.as_str())
}

/// Lives by material and by the values of further columns.
type Lives = BTreeMap<(Material, Vec<(String, String)>), Vec<Observation>>;

/// Takes the lives in the exposure from the records, in days: those of seals within so many kelvin of the temperature asked
/// for, ends included, that met every medium asked for. Where no seal met all media the temperature alone chooses, and
/// [`FieldChoice::media_met`] is false.
///
/// # Errors
/// As [`ask`]; a column that is named and not there is an error.
pub fn field(
    records: &Records,
    tables: &Tables,
    question: &MaterialsQuestion,
    place: &Where,
) -> Result<Field, Error> {
    let columns = Columns::of(records, question, place);
    let mut by = vec!["material".to_owned()];
    by.extend(columns.temperature.clone());
    by.extend(columns.media.iter().cloned());
    by.extend(place.by.iter().cloned());
    let answer = ask(
        records,
        &Question {
            by,
            clock: Clock::Days,
            mode: None,
        },
    )?;
    // Only seals that met every medium asked for speak of them; where none did, the temperature alone chooses.
    let media_met = answer
        .groups
        .iter()
        .any(|g| met(tables, question, &columns.media, &g.key).is_some());
    let mut taken_as = BTreeSet::new();
    let mut lives = Lives::new();
    let mut heat: BTreeMap<Material, (f64, f64)> = BTreeMap::new();
    for group in &answer.groups {
        let hit = met(tables, question, &columns.media, &group.key);
        let material = value(&group.key, "material").and_then(Material::from_word);
        let exposed =
            columns.near(&group.key, question, place.within) && (!media_met || hit.is_some());
        if let Some(material) = material.filter(|_| exposed) {
            taken_as.extend(hit.into_iter().flatten().map(str::to_owned));
            let cell = columns
                .temperature
                .as_ref()
                .and_then(|c| value(&group.key, c));
            if let Some(celsius) = cell.and_then(|v| v.trim().parse::<f64>().ok()) {
                let seals = group.sample.tally().total();
                let slot = heat.entry(material).or_default();
                slot.0 += seals;
                slot.1 += seals * celsius;
            }
            let key = place.by.iter();
            let key = key.map(|c| (c.clone(), value(&group.key, c).unwrap_or("").to_owned()));
            lives
                .entry((material, key.collect()))
                .or_default()
                .extend(group.sample.rows().iter().copied());
        }
    }
    let temperatures_c = question
        .celsius
        .filter(|_| columns.temperature.is_some())
        .map(|c| [c - place.within, c + place.within]);
    let words = words(question, temperatures_c, &taken_as);
    let choice = FieldChoice {
        unit: Clock::Days.unit(),
        temperature_column: columns.temperature,
        temperatures_c,
        medium_columns: columns.media,
        taken_as: taken_as.into_iter().collect(),
        media_met: media_met || question.media.is_empty(),
        words,
    };
    let mut found = gathered(choice, lives, !place.by.is_empty());
    for group in &mut found.groups {
        let mean = heat.get(&group.material).filter(|h| h.0 > 0.0);
        group.celsius = mean.map(|(seals, sum)| sum / seals);
    }
    Ok(found)
}

/// The lives by material, and split further where asked.
fn gathered(choice: FieldChoice, lives: Lives, split: bool) -> Field {
    let mut whole: BTreeMap<Material, Vec<Observation>> = BTreeMap::new();
    let mut parts = vec![];
    for ((material, key), rows) in lives {
        whole.entry(material).or_default().extend(&rows);
        if split {
            let sample = Sample::new(rows);
            let celsius = None;
            parts.push((
                GroupKey(key),
                MaterialLives {
                    material,
                    sample,
                    celsius,
                },
            ));
        }
    }
    Field {
        choice,
        groups: whole
            .into_iter()
            .map(|(material, rows)| MaterialLives {
                material,
                sample: Sample::new(rows),
                celsius: None,
            })
            .collect(),
        split: parts,
    }
}

/// The cells of a group's key in the columns of media.
fn cells<'a>(
    key: &'a [(String, String)],
    media: &'a [String],
) -> impl Iterator<Item = &'a str> + 'a {
    key.iter()
        .filter(|(c, _)| media.contains(c))
        .map(|(_, v)| v.as_str())
}

/// The cells that name the media asked for, where each of them is named.
fn met<'a>(
    tables: &Tables,
    question: &MaterialsQuestion,
    columns: &'a [String],
    key: &'a [(String, String)],
) -> Option<Vec<&'a str>> {
    let cell_of = |m: &String| cells(key, columns).find(|cell| same(tables, m, cell));
    question.media.iter().map(cell_of).collect()
}

/// Whether a cell names a medium: the same word, or a word of the same medium of the tables.
fn same(tables: &Tables, asked: &str, cell: &str) -> bool {
    normal(asked) == normal(cell)
        || tables
            .medium(asked)
            .is_some_and(|m| tables.medium(cell).is_some_and(|c| c == m))
}

fn words(
    question: &MaterialsQuestion,
    temperatures: Option<[f64; 2]>,
    taken_as: &BTreeSet<String>,
) -> String {
    let mut out = match temperatures {
        Some([low, high]) => format!("seals at {low} to {high} °C"),
        None if question.celsius.is_some() => {
            "seals at every temperature (the records have no such column)".to_owned()
        }
        None => "seals at every temperature".to_owned(),
    };
    if !question.media.is_empty() {
        if taken_as.is_empty() {
            out.push_str(", in every medium (no seal is marked with all of those asked for, so these lives say nothing of them)");
        } else {
            let list: Vec<&str> = taken_as.iter().map(String::as_str).collect();
            out.push_str(&format!(", marked with: {}", list.join(", ")));
        }
    }
    out
}

/// Years under watch, all seals together.
fn seal_years(sample: &Sample) -> f64 {
    let watched = |o: &Observation| o.count() * (o.last() - o.entry());
    sample.rows().iter().map(watched).sum::<f64>() / DAYS_PER_YEAR
}

/// Probability that the failures of two materials differ so much where both wear out alike: log-rank test, over ages drawn
/// between looks where they are not known; `None` where a material has no field lives, or the test cannot be made.
pub(super) fn alike(field: &Field, of: &str, to: &str, seed: u64) -> Option<f64> {
    let lives = |word: &str| {
        let group = field.groups.iter().find(|g| g.material.word() == word)?;
        let key = GroupKey(vec![("material".to_owned(), word.to_owned())]);
        Some((key, group.sample.clone()))
    };
    let (tests, _) = rank_tests(&[lives(of)?, lives(to)?], "material", &[], seed);
    let log_rank = tests.iter().find(|t| t.name == Weighting::LogRank.name())?;
    log_rank.p_value
}

/// The life of one material in words and numbers: a Weibull fit, or a lower bound while failures are few.
#[must_use]
pub(crate) fn field_of(group: &MaterialLives, level: f64) -> FieldLife {
    let tally = group.sample.tally();
    let mut out = FieldLife {
        seals: tally.total(),
        failures: tally.failures(),
        seal_years: seal_years(&group.sample),
        mean_temperature_c: group.celsius,
        family: "weibull",
        mean_life: Number::default(),
        b10: Number::default(),
        words: String::new(),
    };
    let fitted = laws::by_name("weibull")
        .filter(|_| out.failures >= RANKED_FROM)
        .map(|family| fit(family, &group.sample));
    match fitted {
        Some(Ok(fit)) => {
            let number = |quantity: Quantity| {
                let ends = bounds(&fit, quantity, Method::Profile, level);
                let open = ends.lower.is_none() || ends.upper.is_none();
                let estimate = fit.finite_estimate(quantity);
                let why = match estimate {
                    None => Some("no finite number under this law"),
                    Some(_) => open.then_some("the data set no end"),
                };
                Number {
                    estimate,
                    lower: ends.lower,
                    upper: ends.upper,
                    reason: why.map(str::to_owned),
                }
            };
            out.mean_life = number(Quantity::Mean);
            out.b10 = number(Quantity::Quantile(0.1));
            out.words = if out.failures < 10.0 {
                "indicative: fewer than ten failures".to_owned()
            } else {
                "Weibull, profile likelihood".to_owned()
            };
        }
        Some(Err(why)) => {
            out.mean_life.reason = Some(why.to_string());
            out.b10.reason = Some(why.to_string());
            out.words = why.to_string();
        }
        None => {
            let bound = lower_bounds(&group.sample, 1.0, 0.5 + 0.5 * level);
            let reason =
                "fewer than five failures: a lower bound, as if failures came at a constant rate";
            out.family = "exponential";
            out.mean_life = Number {
                lower: bound.map(|b| b.mean()),
                reason: Some(reason.to_owned()),
                ..Number::default()
            };
            out.b10 = Number {
                lower: bound.map(|b| b.quantile(0.1)),
                reason: Some(reason.to_owned()),
                ..Number::default()
            };
            out.words = reason.to_owned();
        }
    }
    out
}

/// Cost per position and year at the better of replacing on failure and at the best age.
#[must_use]
pub(crate) fn cost(
    group: &MaterialLives,
    money: &Money,
    price: Option<f64>,
    question: &MaterialsQuestion,
) -> Number {
    let none = |why: &str| Number {
        reason: Some(why.to_owned()),
        ..Number::default()
    };
    let (Some(prices), Some(price)) = (money.prices, price) else {
        return none("no costs: name a study with [costs] seal_price");
    };
    let more = price - money.seal_price.unwrap_or(price);
    let prices = Prices {
        planned_cost: prices.planned_cost + more,
        failure_cost: prices.failure_cost + more,
        ..prices
    };
    let costs = Costs::new(prices, Clock::Days).ok();
    if group.sample.tally().failures() < RANKED_FROM {
        let most = costs.and_then(|costs| most(group, &costs, question.confidence));
        return Number {
            upper: most,
            reason: Some("fewer than five failures: at most this, as if they came at a constant rate and each seal were left to fail".to_owned()),
            ..Number::default()
        };
    }
    let found = (|| {
        let fit = fit(laws::by_name("weibull")?, &group.sample).ok()?;
        let costs = costs?;
        let best = Evaluator::new(&fit.life(), &costs, Goal::Cost).ok()?;
        let age = best.best_age().ok()?;
        let rate = |e: &Evaluator| match age {
            Some(age) => e.cost_rate(age),
            None => e.run_to_failure_rate(),
        };
        let drawn: Vec<f64> = lives(&fit, DRAWS, question.seed)
            .iter()
            .filter_map(|life| Evaluator::new(life, &costs, Goal::Cost).ok())
            .map(|e| rate(&e) * DAYS_PER_YEAR)
            .collect();
        Some(Number::of_draws(
            rate(&best) * DAYS_PER_YEAR,
            drawn,
            question.confidence,
        ))
    })();
    found.unwrap_or_else(|| none("no Weibull life could be fitted or priced"))
}

/// Cost per year at the lower bound of the mean life, each seal left to fail.
fn most(group: &MaterialLives, costs: &Costs, level: f64) -> Option<f64> {
    let mean = lower_bounds(&group.sample, 1.0, 0.5 + 0.5 * level)?.mean();
    let life = Life::exponential(mean)?;
    let left = Evaluator::new(&life, costs, Goal::Cost).ok()?;
    Some(left.run_to_failure_rate() * DAYS_PER_YEAR)
}
