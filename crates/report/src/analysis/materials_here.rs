//! Advice for one asset, or one exposure: what the regression over all records says of every material at its own
//! conditions, priced, and what became of the seals there.

use super::DRAWS;
use super::materials::{Here, MaterialsQuestion, Money};
use super::materials_field::{Columns, Where};
use super::materials_fit::{CONTRADICTED, Tested, check, ratio_test};
use super::materials_pairs::{Drawn, pairs};
use crate::column::spoken;
use crate::wire::GroupKey;
use crate::wire::Number;
use crate::wire::compare::{
    CompareOptions, Compared, Fitted, More, PredictedLife, PredictionResult, compared,
};
use crate::wire::materials::{AssetHistory, FitCheck, HereLife, Lives};
use nalgebra::DVector;
use sealspan_care::costs::{Costs, DAYS_PER_YEAR, Prices};
use sealspan_care::replacement::{Evaluator, Goal};
use sealspan_life::laws;
use sealspan_life::life::Life;
use sealspan_life::regression::{Place, Regression};
use sealspan_numeric::random::Stream;
use sealspan_records::words::{Material, Outcome};
use sealspan_records::{Clock, Error, NONE, Question, Records, Seal, ask};
use std::collections::{BTreeMap, BTreeSet};

/// Most levels of a column that enters the regression (a rule of ours: more are names, not conditions).
const MOST_LEVELS: usize = 12;
/// Fewest temperatures that show a slope.
const TEMPERATURES: usize = 3;

/// What the records say of an asset or an exposure: lives in days by a Weibull regression over all records
/// ([`compared`]), temperature by the Arrhenius law, other conditions as factors that multiply life. The temperature and the
/// media of most of the asset's seals enter the question where it states none. `None` where there is nothing to predict
/// at.
///
/// # Errors
/// As [`ask`]; when there is no such asset.
pub fn here(
    records: &Records,
    question: &mut MaterialsQuestion,
    asset: Option<&str>,
    place: &Where,
    money: &Money,
) -> Result<Option<Here>, Error> {
    let columns = Columns::there(records, place);
    let mut at: Vec<(String, String)> = vec![];
    let mut own = None;
    if let Some(name) = asset {
        own = Some(history(name, &records.seals_on(name)?));
        at = conditions(records, name, &columns)?;
    }
    let heat = columns.temperature.as_ref();
    if let Some(column) = heat {
        match question.celsius {
            Some(stated) => {
                at.retain(|(c, _)| c != column);
                at.insert(0, (column.clone(), stated.to_string()));
            }
            None => {
                let cell = at.iter().find(|(c, _)| c == column);
                question.celsius = cell.and_then(|(_, v)| v.trim().parse().ok());
            }
        }
    }
    let media = |c: &&(String, String)| columns.media.contains(&c.0);
    if question.media.is_empty() {
        question.media = at.iter().filter(media).map(|(_, v)| v.clone()).collect();
    } else {
        at.retain(|c| !media(&c) || question.media.contains(&c.1));
    }
    if at.is_empty() {
        return Ok(None);
    }
    Ok(Some(Here {
        asset: own,
        lives: lives(records, &at, heat, place, money, question),
    }))
}

/// The conditions of an asset: column and cell of the temperature and of every medium, those of most of its
/// seals; empty where none are recorded.
///
/// # Errors
/// As [`ask`].
pub(crate) fn conditions(
    records: &Records,
    asset: &str,
    columns: &Columns,
) -> Result<Vec<(String, String)>, Error> {
    let mut by = vec!["asset".to_owned()];
    by.extend(columns.all().cloned());
    let answer = ask(records, &days(by))?;
    let own = answer.groups.into_iter().filter(|g| {
        let named = g.key.iter().find(|(c, _)| c == "asset");
        named.is_some_and(|(_, v)| v == asset)
    });
    let most = own.max_by_key(|g| g.rows_used);
    let cells = most.map(|g| g.key).unwrap_or_default().into_iter();
    Ok(cells.filter(|(c, v)| c != "asset" && v != NONE).collect())
}

fn days(by: Vec<String>) -> Question {
    Question {
        by,
        clock: Clock::Days,
        mode: None,
    }
}

/// What became of an asset's seals.
#[must_use]
pub(crate) fn history(asset: &str, seals: &[&Seal]) -> AssetHistory {
    let mut materials: BTreeMap<String, u64> = BTreeMap::new();
    let mut damage: BTreeMap<String, u64> = BTreeMap::new();
    let mut outcomes: BTreeMap<String, u64> = BTreeMap::new();
    let mut now = vec![];
    for seal in seals {
        let material = seal.material.map_or("not recorded", Material::word);
        *materials.entry(material.to_owned()).or_default() += 1;
        if seal.removed.is_none() {
            now.push(material.to_owned());
            continue;
        }
        *outcomes.entry(seal.outcome.word().to_owned()).or_default() += 1;
        if matches!(seal.outcome, Outcome::Failed | Outcome::Worn) {
            let why = seal.mechanism.map_or("not recorded", |m| m.word());
            *damage.entry(why.to_owned()).or_default() += 1;
        }
    }
    AssetHistory {
        asset: asset.to_owned(),
        seals: seals.len() as u64,
        materials,
        outcomes,
        damage,
        now,
    }
}

/// The lives of every material at the conditions `at`, by a regression over all records; or why there are none.
///
/// # Errors
/// In words.
pub(crate) fn lives(
    records: &Records,
    at: &[(String, String)],
    heat: Option<&String>,
    place: &Where,
    money: &Money,
    question: &MaterialsQuestion,
) -> Result<Lives, String> {
    let mut used: Vec<&(String, String)> = vec![];
    let mut left_out = vec![];
    for cell in at {
        match usable(records, cell, heat == Some(&cell.0)) {
            Ok(()) => used.push(cell),
            Err(why) => left_out.push(format!("{}: {why}", spoken(&cell.0))),
        }
    }
    loop {
        match regression(records, &used, heat, question, Richer::No) {
            Ok(plain) => {
                let rich = |how| regression(records, &used, heat, question, how);
                let (apart, tested) = tests(&plain, rich, used.iter().any(|c| heat == Some(&c.0)));
                let found = apart.unwrap_or(plain);
                let fit = check(&found, &tested, &used, heat, place);
                return Ok(told(&found, &used, left_out, money, question, fit));
            }
            Err(why) => {
                // Without the temperature last: it is what extrapolates best.
                let Some(at) = used.iter().rposition(|c| heat != Some(&c.0)) else {
                    return Err(why);
                };
                let dropped = used.remove(at);
                left_out.push(format!("{}: {why}", spoken(&dropped.0)));
            }
        }
    }
}

/// What the regression has beyond one shape and effects that multiply.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Richer {
    /// Nothing.
    No,
    /// A shape for each material.
    Shapes,
    /// An activation energy for each material.
    Energies,
}

/// Tests the plain regression against richer ones; the one with a shape for each material where one shape for all
/// is contradicted.
fn tests(
    plain: &Compared,
    rich: impl Fn(Richer) -> Result<Compared, String>,
    heat: bool,
) -> (Option<Compared>, Tested) {
    let shapes = rich(Richer::Shapes);
    let shape = ratio_test(plain, &shapes);
    let apart = shape.as_ref().is_ok_and(|p| *p < CONTRADICTED);
    let heat = heat.then(|| ratio_test(plain, &rich(Richer::Energies)));
    (shapes.ok().filter(|_| apart), Tested { shape, heat })
}

/// Whether a condition can enter the regression, and the asset's own cell was seen.
fn usable(records: &Records, (column, cell): &(String, String), heat: bool) -> Result<(), String> {
    let answer = ask(records, &days(vec![column.clone()])).map_err(|e| e.message().to_owned())?;
    let levels: BTreeSet<&str> = answer
        .groups
        .iter()
        .filter_map(|g| g.key.first().map(|(_, v)| v.as_str()))
        .filter(|v| *v != NONE)
        .collect();
    let number = |v: &&str| v.trim().parse::<f64>().is_ok_and(f64::is_finite);
    if heat {
        return match levels.iter().filter(|v| number(v)).count() {
            n if n < TEMPERATURES => Err(format!("only {n} temperature(s) in the records")),
            _ => Ok(()),
        };
    }
    match levels.len() {
        0 | 1 => Err("the same for every seal".to_owned()),
        n if n > MOST_LEVELS => Err(format!("{n} different values")),
        _ if !levels.contains(cell.as_str()) => Err(format!("no seal was seen with {cell}")),
        _ => Ok(()),
    }
}

fn regression(
    records: &Records,
    at: &[&(String, String)],
    heat: Option<&String>,
    question: &MaterialsQuestion,
    richer: Richer,
) -> Result<Compared, String> {
    let family = laws::by_name("weibull").ok_or_else(|| "no such law".to_owned())?;
    let has_assets = records.seals.iter().any(|s| s.asset.is_some());
    let of_heat = |c: &str| heat.is_some_and(|h| h == c);
    let arrhenius = at.iter().find(|c| of_heat(&c.0)).map(|c| c.0.clone());
    let given: Vec<String> = at
        .iter()
        .filter(|c| !of_heat(&c.0))
        .map(|c| c.0.clone())
        .collect();
    let mut by = vec!["material".to_owned()];
    by.extend(at.iter().map(|c| c.0.clone()));
    by.extend(has_assets.then(|| "asset".to_owned()));
    let answer = ask(records, &days(by)).map_err(|e| e.message().to_owned())?;
    let known = |g: &sealspan_records::Group| {
        let material = g.key.first().map(|(_, v)| v.as_str());
        material.is_some_and(|m| Material::from_word(m).is_some_and(|m| m != Material::Other))
    };
    let groups: Vec<_> = answer
        .groups
        .into_iter()
        .filter(known)
        .map(|g| (GroupKey(g.key), g.sample))
        .collect();
    let materials: BTreeSet<String> = groups
        .iter()
        .filter_map(|(k, _)| k.0.first().map(|(_, v)| v.clone()))
        .collect();
    let predict = materials
        .into_iter()
        .map(|m| {
            let own = std::iter::once(("material".to_owned(), m));
            own.chain(at.iter().map(|c| (*c).clone())).collect()
        })
        .collect();
    let of_material = || "material".to_owned();
    let crossed = arrhenius.clone().filter(|_| richer == Richer::Energies);
    let options = CompareOptions {
        by: Some(of_material()),
        given,
        number: vec![],
        arrhenius,
        inverse_power: None,
        base: vec![],
        family,
        confidence: question.confidence,
        more: More {
            cluster: has_assets.then(|| "asset".to_owned()),
            predict,
            seed: question.seed,
            regression_only: true,
            shape_by: (richer == Richer::Shapes).then(of_material),
            interactions: crossed.map(|c| (of_material(), c)).into_iter().collect(),
            ..More::default()
        },
    };
    let found = compared(Clock::Days.unit(), &groups, &options)?;
    match &found.document.regression_reason {
        Some(why) => Err(why.clone()),
        None => Ok(found),
    }
}

fn told(
    found: &Compared,
    at: &[&(String, String)],
    left_out: Vec<String>,
    money: &Money,
    question: &MaterialsQuestion,
    fit: FitCheck,
) -> Lives {
    let mut drawn = vec![];
    let each = found.document.predictions.iter().filter_map(|p| {
        let material = p.at.get("material")?.clone();
        let find = |column: &str| p.at.get(column).map(String::as_str);
        let fitted = found.fitted.as_ref()?;
        let place = fitted.plan.place(&find).ok()?;
        drawn.push(Drawn::of(fitted, &place, &material, question.seed));
        Some(HereLife {
            mean_life: number(p, "mean_life"),
            b10: number(p, "b10_life"),
            cost_per_year: cost(fitted, &place, &material, money, question),
            extrapolated: p.extrapolated,
            extrapolation: p.extrapolation.clone(),
            material,
        })
    });
    let lives = each.collect();
    Lives {
        at: at.iter().map(|c| (*c).clone()).collect(),
        left_out,
        lives,
        pairs: pairs(&drawn, question.confidence),
        fit,
        warnings: warnings(found),
    }
}

/// What the regression warns of, but for columns that go together: that blurs effects, which are not given here, and
/// the check of the fit says it of heat.
fn warnings(found: &Compared) -> Vec<String> {
    let regression = found.document.regression.as_ref();
    let blurs = regression.and_then(|r| r.collinearity.as_ref());
    let of_effects: &[String] = blurs.map_or(&[], |c| &c.words);
    let all = found.document.warnings.iter();
    all.filter(|w| !of_effects.contains(w)).cloned().collect()
}

/// With the interval that allows for like seals of one asset, where there is one.
fn number(p: &PredictionResult, name: &str) -> Number {
    let own: Option<&PredictedLife> = p.life.iter().find(|l| l.quantity == name);
    own.map_or_else(Number::default, |l| Number {
        estimate: l.estimate,
        lower: l.robust_lower.or(l.lower),
        upper: l.robust_upper.or(l.upper),
        reason: l.reason.clone(),
    })
}

/// Cost per position and year at the better of replacing on failure and at the best age.
fn cost(
    fitted: &Fitted,
    place: &Place,
    material: &str,
    money: &Money,
    question: &MaterialsQuestion,
) -> Number {
    let own = Material::from_word(material).and_then(|m| question.prices.get(&m).copied());
    let (Some(prices), Some(price)) = (money.prices, own.or(money.seal_price)) else {
        return Number {
            reason: Some("no costs: name a study with [costs] seal_price".to_owned()),
            ..Number::default()
        };
    };
    let more = price - money.seal_price.unwrap_or(price);
    let prices = Prices {
        planned_cost: prices.planned_cost + more,
        failure_cost: prices.failure_cost + more,
        ..prices
    };
    priced(fitted, place, prices, question).unwrap_or_else(|| Number {
        reason: Some("the life at these conditions cannot be priced".to_owned()),
        ..Number::default()
    })
}

fn priced(
    fitted: &Fitted,
    place: &Place,
    prices: Prices,
    question: &MaterialsQuestion,
) -> Option<Number> {
    let costs = Costs::new(prices, Clock::Days).ok()?;
    let fit = &fitted.regression;
    let life = |x: Vec<f64>| {
        let fit = Regression { x, ..fit.clone() };
        Life::new(
            fit.family,
            fit.theta(&place.row, place.offset, place.stratum),
        )
    };
    let best = Evaluator::new(&life(fit.x.clone()), &costs, Goal::Cost).ok()?;
    let age = best.best_age().ok()?;
    let rate = |e: &Evaluator| match age {
        Some(age) => e.cost_rate(age),
        None => e.run_to_failure_rate(),
    };
    let covariance = fitted
        .robust
        .as_ref()
        .map_or(&fit.covariance, |r| &r.covariance);
    let root = covariance.clone().cholesky().map(|c| c.l());
    let drawn: Vec<f64> = root
        .map(|root| {
            let draw = |i: usize| {
                let mut stream = Stream::new(question.seed, i as u64);
                let z = DVector::from_fn(fit.x.len(), |_, _| stream.normal());
                let step = &root * z;
                let x = fit.x.iter().zip(step.iter()).map(|(x, s)| x + s);
                let e = Evaluator::new(&life(x.collect()), &costs, Goal::Cost).ok()?;
                Some(rate(&e) * DAYS_PER_YEAR)
            };
            (0..DRAWS).filter_map(draw).collect()
        })
        .unwrap_or_default();
    Some(Number::of_draws(
        rate(&best) * DAYS_PER_YEAR,
        drawn,
        question.confidence,
    ))
}
