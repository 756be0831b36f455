//! The question of `compare`, from its arguments.

use crate::args::{Compare, RegressionBounds};
use crate::failure::Failure;
use crate::input;
use sealspan_report::wire::compare::{CompareOptions, Concentration, KJ_PER_MOL, More, unit_of};

/// The options, as far as the arguments tell them.
pub fn options(args: &Compare) -> Result<CompareOptions, Failure> {
    Ok(CompareOptions {
        by: args.by.clone(),
        given: args.given.clone(),
        number: args.number.clone(),
        arrhenius: args.arrhenius.clone(),
        inverse_power: args.inverse_power.as_deref().map(|text| power(text).0),
        base: args
            .base
            .iter()
            .map(|text| pair("--base", text, "COL=LEVEL", '='))
            .collect::<Result<_, _>>()?,
        family: input::family(&args.family)?,
        confidence: args.confidence,
        more: more(args)?,
    })
}

fn more(args: &Compare) -> Result<More, Failure> {
    Ok(More {
        power_unit: args.inverse_power.as_deref().and_then(|text| power(text).1),
        eyring: args.eyring.as_ref().map(|text| match text.split_once(',') {
            Some((heat, stress)) => (heat.to_owned(), Some(stress.to_owned())),
            None => (text.clone(), None),
        }),
        concentration: args
            .concentration
            .iter()
            .map(|text| concentration(text))
            .collect::<Result<_, _>>()?,
        interactions: args
            .interaction
            .iter()
            .map(|text| pair("--interaction", text, "A:B", ':'))
            .collect::<Result<_, _>>()?,
        shape_by: args.shape_by.clone(),
        offset: args.offset.clone(),
        cluster: args.cluster.clone(),
        frailty: args.frailty.clone(),
        profile: args.bounds == RegressionBounds::Profile,
        prior: args
            .prior_activation_energy
            .as_deref()
            .map(prior)
            .transpose()?,
        penalty: match args.penalty {
            Some(sd) if !(sd > 0.0 && sd.is_finite()) => {
                return Err(Failure::argument(
                    format!("--penalty {sd} is no standard deviation"),
                    "give a number above zero: 1 lets effects of 0.4 to 2.7 times pass lightly",
                ));
            }
            sd => sd,
        },
        predict: args
            .predict
            .iter()
            .map(|text| {
                text.split(',')
                    .map(|part| pair("--predict", part.trim(), "COL=VALUE,COL=VALUE", '='))
                    .collect()
            })
            .collect::<Result<_, _>>()?,
        regression_only: false,
        seed: args.seed,
        seals_on_assets: None,
    })
}

fn pair(argument: &str, text: &str, form: &str, mark: char) -> Result<(String, String), Failure> {
    text.split_once(mark)
        .map(|(a, b)| (a.trim().to_owned(), b.trim().to_owned()))
        .filter(|(a, b)| !a.is_empty() && !b.is_empty())
        .ok_or_else(|| {
            Failure::argument(
                format!("{argument} {text} does not have two parts"),
                format!("write {argument} {form}"),
            )
        })
}

/// A column, and its unit where one is stated behind a colon.
fn power(text: &str) -> (String, Option<String>) {
    match text.split_once(':') {
        Some((column, unit)) if !unit.trim().is_empty() => {
            (column.trim().to_owned(), Some(unit.trim().to_owned()))
        }
        _ => (text.to_owned(), None),
    }
}

fn concentration(text: &str) -> Result<Concentration, Failure> {
    let mut parts = text.splitn(3, ':');
    let column = parts.next().unwrap_or_default().to_owned();
    let power = match parts.next() {
        None | Some("power") => true,
        Some("linear") => false,
        Some(other) => {
            return Err(Failure::argument(
                format!("--concentration {text}: there is no law `{other}`"),
                "write --concentration COL:power:UNIT or COL:linear:UNIT",
            ));
        }
    };
    let unit = parts.next().map_or_else(|| unit_of(&column), str::to_owned);
    Ok(Concentration {
        column,
        power,
        unit,
    })
}

/// More than this is no activation energy of ageing in eV: 5 eV are 482 kJ/mol (a rule of ours).
const MOST_EV: f64 = 5.0;

/// Mean and standard deviation in eV, from `MEAN,SD` or `MEAN,SD,UNIT`.
fn prior(text: &str) -> Result<(f64, f64), Failure> {
    let wrong = |what: &str, mend: &str| {
        Failure::argument(format!("--prior-activation-energy {text} {what}"), mend)
    };
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    let (numbers, unit) = match parts.as_slice() {
        [mean, sd] => ((mean, sd), None),
        [mean, sd, unit] => ((mean, sd), Some(unit.to_lowercase())),
        _ => {
            return Err(wrong(
                "is not a mean and a standard deviation",
                "write MEAN,SD in eV, or with its unit: 0.85,0.10,eV or 82,10,kJ/mol",
            ));
        }
    };
    let read = |t: &str| t.parse::<f64>().ok().filter(|x| x.is_finite() && *x > 0.0);
    let (Some(mean), Some(sd)) = (read(numbers.0), read(numbers.1)) else {
        return Err(wrong(
            "is not a mean and a standard deviation above zero",
            "give both above zero, with their unit: 0.85,0.10,eV or 82,10,kJ/mol",
        ));
    };
    let factor = match unit.as_deref() {
        None | Some("ev") => 1.0,
        Some("kj/mol" | "kj") => 1.0 / KJ_PER_MOL,
        Some(other) => {
            return Err(wrong(
                &format!("is in `{other}`, which is no unit of energy known here"),
                "write the unit as eV or kJ/mol",
            ));
        }
    };
    let (mean, sd) = (mean * factor, sd * factor);
    if mean > MOST_EV {
        let mend = if unit.is_none() {
            format!("name the unit: {},{},kJ/mol", numbers.0, numbers.1)
        } else {
            "check the number and its unit: ageing of elastomers has about 0.5 to 1.5 eV, 50 to 150 kJ/mol".to_owned()
        };
        return Err(wrong(
            &format!("would be {mean:.0} eV, far above any ageing: it looks like kJ/mol"),
            &mend,
        ));
    }
    Ok((mean, sd))
}
