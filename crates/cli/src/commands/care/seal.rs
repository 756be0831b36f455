//! The seal that `care` is asked about: its laws and what handling does to it.

use crate::args::Care;
use crate::failure::Failure;
use sealspan_care::seal::{FailureSign, Seal};
use sealspan_care::terms::Handling;
use sealspan_life::life::Life;
use sealspan_records::Study;
use sealspan_report::analysis::plans::{Facts, MeasuredFacts, OneStageAsked, PRICE_RANGE};
use sealspan_report::analysis::prices;

/// Prices of looking and turning: the arguments over the study.
pub fn handling(args: &Care, study: &Study) -> Handling {
    let study = prices::handling(study);
    let given = &args.handling;
    Handling {
        inspection_cost: given.inspection_cost.unwrap_or(study.inspection_cost),
        turn_cost: given.turn_cost.unwrap_or(study.turn_cost),
        opening_hours: given.inspection_hours.unwrap_or(study.opening_hours),
        undetected_cost: given.undetected_cost.unwrap_or(0.0),
        spare_wait_hours: given.spare_wait_hours.unwrap_or(0.0),
    }
}

/// The seal of the laws stated.
pub fn stated(args: &Care) -> Result<Seal, Failure> {
    let parse = |text: &str, example: &str| {
        Life::parse(text).map_err(|why| Failure::argument(why, format!("for example {example}")))
    };
    let seal = match (&args.life, &args.defect, &args.delay) {
        (_, Some(defect), Some(delay)) => Seal::two_stage(
            parse(defect, "--defect weibull:shape=2.5,scale=300")?,
            parse(delay, "--delay exponential:mean=60")?,
        ),
        (Some(life), ..) => Seal::one_stage(parse(life, "--life weibull:shape=2.5,scale=1000")?),
        _ => {
            return Err(Failure::argument(
                "there is no life to decide on",
                "state one with --life, or --defect and --delay",
            ));
        }
    };
    with_facts(seal, args, None)
}

/// What is stated of the seals beside their lives.
pub fn facts(args: &Care, study: &Study, mode: Option<&str>) -> Facts {
    let given = &args.handling;
    let one_stage = match mode {
        _ if args.weigh.one_stage => Some(OneStageAsked::Stated),
        Some(_) => Some(OneStageAsked::Mode),
        None => None,
    };
    Facts {
        detection: given.detection,
        handling_damage: given
            .handling_damage
            .or(study.costs.handling_damage)
            .unwrap_or(0.0),
        hidden: given.undetected_cost.is_some(),
        severities: given.sector_severity.clone(),
        one_stage,
        measured: measured(args, study),
        calendar: args.weigh.calendar.unwrap_or_default().into(),
        shortest: args.weigh.least_between_openings,
        price_range: args.weigh.price_range.unwrap_or(PRICE_RANGE),
    }
}

/// The property measured at looks: the arguments over the study.
fn measured(args: &Care, study: &Study) -> Option<MeasuredFacts> {
    let given = &args.weigh;
    Some(MeasuredFacts {
        measure: given
            .measure
            .clone()
            .or_else(|| study.condition.measure.clone())?,
        limit: given.functional_limit.or(study.condition.limit)?,
        reading: given.measured_limit,
    })
}

/// A seal of a life fitted to records.
pub fn of_life(life: Life, args: &Care, study: &Study) -> Result<Seal, Failure> {
    with_facts(Seal::one_stage(life), args, study.costs.handling_damage)
}

fn with_facts(seal: Seal, args: &Care, damage: Option<f64>) -> Result<Seal, Failure> {
    let given = &args.handling;
    let seal = Seal {
        detection: given.detection.unwrap_or(1.0),
        handling_damage: given.handling_damage.or(damage).unwrap_or(0.0),
        failure: if given.undetected_cost.is_some() {
            FailureSign::Hidden
        } else {
            FailureSign::Evident
        },
        ..seal
    };
    if given.sector_severity.is_empty() {
        return Ok(seal.checked()?);
    }
    Ok(seal.with_severities(&given.sector_severity)?.checked()?)
}
