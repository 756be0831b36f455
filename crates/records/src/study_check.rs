//! Checks a study's values: each complaint names the key.

use crate::error::{Error, Kind};
use crate::study::Study;
use jiff::civil::Date;

fn wrong(key: &str, message: String, mend: &str) -> Error {
    Error::new(Kind::Study, message, mend).in_column(key)
}

fn at_least_zero(key: &str, value: Option<f64>) -> Result<(), Error> {
    match value {
        Some(v) if !v.is_finite() || v < 0.0 => Err(wrong(
            key,
            format!("{v} is not allowed"),
            "give a finite number, zero or more, or leave the key out",
        )),
        _ => Ok(()),
    }
}

fn above_zero(key: &str, value: Option<f64>) -> Result<(), Error> {
    match value {
        Some(v) if !v.is_finite() || v <= 0.0 => Err(wrong(
            key,
            format!("{v} is not allowed"),
            "give a finite number above zero, or leave the key out",
        )),
        _ => Ok(()),
    }
}

fn date(key: &str, value: Option<&str>) -> Result<Option<Date>, Error> {
    let Some(text) = value else { return Ok(None) };
    text.trim().parse::<Date>().map(Some).map_err(|_| {
        wrong(
            key,
            format!("\"{text}\" is not a day of the calendar"),
            "write it as \"YYYY-MM-DD\"",
        )
    })
}

/// Checks every value of the study.
pub(crate) fn check(study: &Study) -> Result<(), Error> {
    let cut_off = date("cut_off", study.cut_off.as_deref())?;
    let from = date("records_from", study.records_from.as_deref())?;
    if let (Some(from), Some(cut_off)) = (from, cut_off)
        && from >= cut_off
    {
        return Err(wrong(
            "records_from",
            format!("{from} is not before the cut-off {cut_off}"),
            "correct one of the two dates",
        ));
    }
    if let Some(epoch) = study.dates.epoch
        && epoch != 1900
        && epoch != 1904
    {
        return Err(wrong(
            "dates.epoch",
            format!("{epoch} is no spreadsheet epoch"),
            "write 1900 or 1904",
        ));
    }
    if study.files.seals.is_some() && study.files.life.is_some() {
        return Err(wrong(
            "files",
            "both `seals` and `life` are named".into(),
            "keep one of them: a study rests on one table of lives",
        ));
    }
    costs(study)?;
    stock(study)?;
    question(study)
}

fn costs(study: &Study) -> Result<(), Error> {
    let c = &study.costs;
    above_zero("costs.seal_price", c.seal_price)?;
    for (name, price) in &c.seal_prices {
        above_zero(&format!("costs.seal_prices.{name}"), Some(*price))?;
        if c.seal_price.is_none() {
            return Err(wrong(
                "costs.seal_price",
                format!(
                    "`costs.seal_prices` gives a price for {name}, but `costs.seal_price` is missing"
                ),
                "give `costs.seal_price`, the price of all other seals",
            ));
        }
    }
    let rest = [
        ("costs.fitting_labour", c.fitting_labour),
        ("costs.planned_hours", c.planned_hours),
        ("costs.failure_hours", c.failure_hours),
        ("costs.downtime_cost_per_hour", c.downtime_cost_per_hour),
        (
            "costs.contribution_margin_per_hour",
            c.contribution_margin_per_hour,
        ),
        ("costs.standing_labour_per_hour", c.standing_labour_per_hour),
        ("costs.scrap_and_restart", c.scrap_and_restart),
        ("costs.clean_up", c.clean_up),
        ("costs.penalty", c.penalty),
        ("costs.inspection_labour", c.inspection_labour),
        ("costs.inspection_hours", c.inspection_hours),
        ("costs.turn_labour", c.turn_labour),
        ("costs.handling_damage", c.handling_damage),
        ("costs.discount_rate_per_year", c.discount_rate_per_year),
    ];
    for (key, value) in rest {
        at_least_zero(key, value)?;
    }
    if let Some(p) = c.handling_damage
        && p >= 1.0
    {
        return Err(wrong(
            "costs.handling_damage",
            format!("{p} is no probability below 1"),
            "write 2 % as 0.02",
        ));
    }
    let parts = c.contribution_margin_per_hour.is_some() || c.standing_labour_per_hour.is_some();
    if c.downtime_cost_per_hour.is_some() && parts {
        return Err(wrong(
            "costs.downtime_cost_per_hour",
            "given as one figure and in parts".into(),
            "keep downtime_cost_per_hour, or contribution_margin_per_hour and \
             standing_labour_per_hour, not both",
        ));
    }
    Ok(())
}

fn finite(key: &str, value: Option<f64>) -> Result<(), Error> {
    match value.filter(|v| !v.is_finite()) {
        Some(v) => Err(wrong(
            key,
            format!("{v} is no number"),
            "give a number, or leave it out",
        )),
        None => Ok(()),
    }
}

fn stock(study: &Study) -> Result<(), Error> {
    let s = &study.stock;
    at_least_zero("stock.lead_time_days", s.lead_time_days)?;
    at_least_zero("stock.urgent_lead_time_days", s.urgent_lead_time_days)?;
    above_zero("stock.urgent_price", s.urgent_price)?;
    at_least_zero("stock.order_cost", s.order_cost)?;
    at_least_zero("stock.carrying_rate_per_year", s.carrying_rate_per_year)?;
    above_zero("stock.shelf_life_days", s.shelf_life_days)?;
    at_least_zero("stock.age_on_arrival_days", s.age_on_arrival_days)?;
    at_least_zero("stock.lead_time_deviation_days", s.lead_time_deviation_days)?;
    above_zero("forecast.horizon_days", study.forecast.horizon_days)?;
    finite("condition.limit", study.condition.limit)?;
    finite("ageing.limit", study.ageing.limit)?;
    for at in &study.ageing.at_temperature_c {
        if !(-150.0..=1000.0).contains(at) {
            return Err(wrong(
                "ageing.at_temperature_c",
                format!("{at} °C is no temperature for a seal"),
                "give °C",
            ));
        }
    }
    above_zero("practice.replace_at_days", study.practice.replace_at_days)?;
    above_zero(
        "practice.inspect_every_days",
        study.practice.inspect_every_days,
    )?;
    if let (Some(urgent), Some(normal)) = (s.urgent_lead_time_days, s.lead_time_days)
        && urgent > normal
    {
        return Err(wrong(
            "stock.urgent_lead_time_days",
            format!("{urgent} days urgent is longer than {normal} days normal"),
            "swap or correct them",
        ));
    }
    Ok(())
}

fn question(study: &Study) -> Result<(), Error> {
    if let Some(c) = study.question.confidence
        && !(c > 0.0 && c < 1.0)
    {
        return Err(wrong(
            "question.confidence",
            format!("{c} is no level between 0 and 1"),
            "write 90 % as 0.90",
        ));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
    use crate::study::Study;
    use std::path::Path;

    fn refused(text: &str) -> (String, Option<String>) {
        let error = Study::parse(text, Path::new("study.toml")).unwrap_err();
        (error.to_string(), error.column().map(str::to_owned))
    }

    #[test]
    fn bad_values_name_their_key() {
        for (text, key) in [
            ("[costs]\nseal_price = 0", "costs.seal_price"),
            (
                "[costs]\nseal_price = 9\nseal_prices = { FKM = -1 }",
                "costs.seal_prices.FKM",
            ),
            ("[costs]\nseal_prices = { FKM = 9 }", "costs.seal_price"),
            ("[costs]\nclean_up = -1", "costs.clean_up"),
            ("[costs]\npenalty = nan", "costs.penalty"),
            ("[costs]\nhandling_damage = 2", "costs.handling_damage"),
            (
                "[stock]\nlead_time_days = 3\nurgent_lead_time_days = 5",
                "stock.urgent_lead_time_days",
            ),
            ("cut_off = \"2024-02-30\"", "cut_off"),
            (
                "cut_off = \"2024-01-01\"\nrecords_from = \"2024-05-01\"",
                "records_from",
            ),
            ("[question]\nconfidence = 90", "question.confidence"),
            ("[dates]\nepoch = 1970", "dates.epoch"),
            (
                "[costs]\ndowntime_cost_per_hour = 5\nstanding_labour_per_hour = 5",
                "costs.downtime_cost_per_hour",
            ),
        ] {
            assert_eq!(refused(text).1.as_deref(), Some(key), "{text}");
        }
    }

    #[test]
    fn an_unknown_key_names_its_line() {
        let (message, _) = refused("title = \"Harrow Lane\"\n[costs]\nseal_prise = 3\n");
        assert!(
            message.contains("row 3") && message.contains("seal_prise"),
            "{message}"
        );
    }

    #[test]
    fn costs_add_up() {
        let text = "[costs]\nseal_price = 40\nfitting_labour = 60\nclean_up = 100\npenalty = 5\n\
                    contribution_margin_per_hour = 900\nstanding_labour_per_hour = 100\n";
        let study = Study::parse(text, Path::new("study.toml")).unwrap();
        assert_eq!(study.costs.planned_cost(), Some(100.0));
        assert_eq!(study.costs.failure_cost(), Some(205.0));
        assert_eq!(study.costs.downtime_cost(), Some(1000.0));
    }
}
