//! The rules a site of the scenario keeps.

use super::exposure::wear_rate;
use super::file::{Group, Mess, OutOfLine, Plan, Practice, Site};
use super::rules::{
    Checked, above_zero, alone, filled, known_material, not_negative, probability, rule,
    temperature, weights,
};

/// Outcomes a clerk may have own words for.
const OUTCOMES: [&str; 6] = [
    "in_service",
    "failed",
    "worn",
    "preventive",
    "damaged",
    "opportunity",
];

/// Checks one site.
pub(super) fn site(plan: &Plan, site: &Site) -> Checked {
    let key = |tail: &str| format!("site[{}].{tail}", site.code);
    if let Some(day) = site.records_from {
        rule(
            day >= plan.records_from && day < plan.cut_off,
            key("records_from"),
            || format!("{day} is not between records_from and cut_off"),
        )?;
    }
    filled(&key("group"), site.groups.len())?;
    for each in &site.groups {
        group(&key("group"), each)?;
    }
    practice(plan, &key("practice"), &site.practice)?;
    for door in &site.out_of_line {
        out_of_line(plan, site, &key("out_of_line"), door)?;
    }
    lives(plan, site, &key("group"))?;
    match &site.mess {
        Some(each) => mess(&key("mess"), each),
        None => Ok(()),
    }
}

fn group(key: &str, group: &Group) -> Checked {
    filled(&format!("{key}.tanks"), group.tanks)?;
    filled(&format!("{key}.positions"), group.positions.len())?;
    for (place, position) in group.positions.iter().enumerate() {
        alone(
            &format!("{key}.positions"),
            position,
            group.positions.iter().take(place),
        )?;
    }
    above_zero(format!("{key}.cycles_per_week"), group.cycles_per_week)?;
    let spread = group.cycles_spread;
    rule(
        (0.0..1.0).contains(&spread),
        format!("{key}.cycles_spread"),
        || format!("{spread} is a share: 0 or more, below 1"),
    )?;
    temperature(format!("{key}.temperature_c"), group.temperature_c)
}

/// No seal's characteristic life may fall below a day: nobody fits such seals, and a run would not end.
fn lives(plan: &Plan, site: &Site, key: &str) -> Checked {
    let severities = site.out_of_line.iter().flat_map(|door| &door.severity);
    let worst = severities.copied().fold(1.0, f64::max);
    let batch = plan
        .supply
        .faulty
        .iter()
        .map(|faulty| faulty.life_factor)
        .fold(1.0, f64::min);
    for (group, material) in site
        .groups
        .iter()
        .flat_map(|g| plan.materials.iter().map(move |m| (g, m)))
    {
        let cycles = group.cycles_per_week * (1.0 + group.cycles_spread);
        let rate = wear_rate(&plan.wear, material, group, cycles) * worst / batch;
        let life = material.defect.scale_days / rate;
        rule(life >= 1.0 && life.is_finite(), key, || {
            format!(
                "{} would last {life:.2e} days in {}; at least 1 is needed",
                material.symbol, group.model
            )
        })?;
    }
    Ok(())
}

fn practice(plan: &Plan, key: &str, practice: &Practice) -> Checked {
    weights(&format!("{key}.mix"), &practice.mix)?;
    for symbol in practice.mix.keys() {
        known_material(plan, format!("{key}.mix"), symbol)?;
    }
    for (name, every) in [
        ("inspect_every_days", practice.inspect_every_days),
        ("turn_every_days", practice.turn_every_days),
        ("replace_at_days", practice.replace_at_days),
    ] {
        let every = every.unwrap_or(1.0);
        rule(
            (1.0..=1e6).contains(&every),
            format!("{key}.{name}"),
            || format!("{every} is outside 1 to 1000000 days"),
        )?;
    }
    for (name, chance) in [
        ("detection", practice.detection),
        ("handling_damage", practice.handling_damage),
        ("silent_failures", practice.silent_failures),
    ] {
        probability(format!("{key}.{name}"), chance)?;
    }
    not_negative(
        format!("{key}.opportunities_per_year"),
        practice.opportunities_per_year,
    )?;
    not_negative(
        format!("{key}.opportunity_from_days"),
        practice.opportunity_from_days,
    )?;
    looks(plan, key, practice)
}

/// What only makes sense where seals are inspected.
fn looks(plan: &Plan, key: &str, practice: &Practice) -> Checked {
    rule(
        practice.turn_sectors < plan.sectors,
        format!("{key}.turn_sectors"),
        || format!("{} arcs is a full round or more", practice.turn_sectors),
    )?;
    let inspects = practice.inspect_every_days.is_some();
    let turns = practice.turn_every_days.is_some();
    rule(inspects || !turns, format!("{key}.turn_every_days"), || {
        "turns are made at inspections; give inspect_every_days too".to_owned()
    })?;
    let silent = practice.silent_failures > 0.0;
    rule(
        inspects || !silent,
        format!("{key}.silent_failures"),
        || "a silent failure is found at an inspection; give inspect_every_days too".to_owned(),
    )
}

fn out_of_line(plan: &Plan, site: &Site, key: &str, door: &OutOfLine) -> Checked {
    let number = door.tank.strip_prefix(&format!("{}-T", site.code));
    let tanks: usize = site.groups.iter().map(|group| group.tanks).sum();
    let known = (1..=tanks).any(|n| number == Some(format!("{n:02}").as_str()));
    rule(known, format!("{key}.tank"), || {
        format!("this site has no tank `{}`", door.tank)
    })?;
    rule(
        door.severity.len() == plan.sectors,
        format!("{key}.severity"),
        || {
            format!(
                "{} values for {} sectors",
                door.severity.len(),
                plan.sectors
            )
        },
    )?;
    door.severity
        .iter()
        .try_for_each(|severity| above_zero(format!("{key}.severity"), *severity))
}

fn mess(key: &str, mess: &Mess) -> Checked {
    for (name, chance) in [
        ("month_dates", mess.month_dates),
        ("quarter_dates", mess.quarter_dates),
        (
            "month_dates and quarter_dates together",
            mess.month_dates + mess.quarter_dates,
        ),
        ("missing_fitted", mess.missing_fitted),
        ("missing_reading", mess.missing_reading),
        ("missing_position", mess.missing_position),
        ("missing_sector", mess.missing_sector),
        ("unknown_outcome", mess.unknown_outcome),
        ("swapped_dates", mess.swapped_dates),
        ("swapped_readings", mess.swapped_readings),
        ("duplicates", mess.duplicates),
        ("own_words", mess.own_words),
    ] {
        probability(format!("{key}.{name}"), chance)?;
    }
    for (outcome, words) in &mess.words {
        rule(
            OUTCOMES.contains(&outcome.as_str()),
            format!("{key}.words"),
            || {
                format!(
                    "`{outcome}` is no outcome; choose from {}",
                    OUTCOMES.join(", ")
                )
            },
        )?;
        filled(&format!("{key}.words.{outcome}"), words.len())?;
    }
    Ok(())
}
