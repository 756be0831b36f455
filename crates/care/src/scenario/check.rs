//! The rules a scenario keeps. The first broken rule is reported with its key.

use jiff::civil::{Date, date};

use super::check_site::site;
use super::file::{Law, Material, Plan};
use super::rules::{
    Checked, above_zero, alone, filled, known_material, not_negative, probability, rule,
    temperature, weights,
};

/// At most this many tanks in one scenario, and seals' worth of years before the records.
const MOST_TANKS: usize = 1_000_000;
const LONGEST_BURN_IN: u32 = 36_525;

/// Checks the whole plan.
pub(super) fn check(plan: &Plan) -> Checked {
    dates(plan)?;
    duty(plan)?;
    filled("material", plan.materials.len())?;
    for (place, material) in plan.materials.iter().enumerate() {
        let earlier = plan.materials.iter().take(place);
        alone(
            "material.symbol",
            &material.symbol,
            earlier.map(|m| &m.symbol),
        )?;
        self::material(plan, material)?;
    }
    supply(plan)?;
    filled("site", plan.sites.len())?;
    for (place, each) in plan.sites.iter().enumerate() {
        alone(
            "site.code",
            &each.code,
            plan.sites.iter().take(place).map(|s| &s.code),
        )?;
        site(plan, each)?;
    }
    let tanks: usize = plan
        .sites
        .iter()
        .flat_map(|site| &site.groups)
        .map(|g| g.tanks)
        .sum();
    rule(tanks <= MOST_TANKS, "site.group.tanks", || {
        format!("{tanks} tanks in all; at most {MOST_TANKS}")
    })?;
    columns(plan)
}

fn within(key: &str, day: Date) -> Checked {
    rule(
        day >= date(1900, 1, 1) && day <= date(2999, 12, 31),
        key,
        || format!("{day} lies outside the years 1900 to 2999"),
    )
}

fn dates(plan: &Plan) -> Checked {
    within("records_from", plan.records_from)?;
    within("cut_off", plan.cut_off)?;
    rule(plan.cut_off > plan.records_from, "cut_off", || {
        format!(
            "{} is not after records_from {}",
            plan.cut_off, plan.records_from
        )
    })?;
    rule(plan.burn_in_days <= LONGEST_BURN_IN, "burn_in_days", || {
        format!("{} is more than {LONGEST_BURN_IN} days", plan.burn_in_days)
    })
}

fn duty(plan: &Plan) -> Checked {
    rule((2..=360).contains(&plan.sectors), "sectors", || {
        format!("{} arcs; give 2 to 360", plan.sectors)
    })?;
    temperature("wear.reference_c", plan.wear.reference_c)?;
    above_zero(
        "wear.reference_cycles_per_week",
        plan.wear.reference_cycles_per_week,
    )?;
    probability("wear.cycle_share", plan.wear.cycle_share)?;
    above_zero("gauge.new_mm", plan.gauge.new_mm)?;
    not_negative("gauge.loss_at_defect_mm", plan.gauge.loss_at_defect_mm)?;
    not_negative("gauge.noise_mm", plan.gauge.noise_mm)
}

fn material(plan: &Plan, material: &Material) -> Checked {
    let key = |tail: &str| format!("material[{}].{tail}", material.symbol);
    law(&key("defect"), material.defect)?;
    law(&key("delay"), material.delay)?;
    let energy = material.activation_energy_kj_per_mol;
    rule(
        (0.0..=300.0).contains(&energy),
        key("activation_energy_kj_per_mol"),
        || format!("{energy} is outside 0 to 300 kJ/mol"),
    )?;
    weights(&key("mechanisms"), &material.mechanisms)?;
    for attack in &material.attack {
        above_zero(key("attack.life_factor"), attack.life_factor)?;
        let groups = || plan.sites.iter().flat_map(|site| &site.groups);
        let met = groups().any(|g| g.conditions.get(&attack.condition) == Some(&attack.value));
        rule(met, key("attack"), || {
            format!(
                "no group has the condition {} = \"{}\"",
                attack.condition, attack.value
            )
        })?;
    }
    Ok(())
}

fn law(key: &str, law: Law) -> Checked {
    rule(
        (0.1..=50.0).contains(&law.shape),
        format!("{key}.shape"),
        || format!("{} is outside 0.1 to 50", law.shape),
    )?;
    rule(
        (1.0..=1e6).contains(&law.scale_days),
        format!("{key}.scale_days"),
        || format!("{} is outside 1 to 1000000 days", law.scale_days),
    )
}

fn supply(plan: &Plan) -> Checked {
    rule(
        plan.supply.shelf_days <= LONGEST_BURN_IN,
        "supply.shelf_days",
        || {
            format!(
                "{} is more than {LONGEST_BURN_IN} days",
                plan.supply.shelf_days
            )
        },
    )?;
    filled("supply.suppliers", plan.supply.suppliers.len())?;
    for faulty in &plan.supply.faulty {
        known_material(plan, "supply.faulty.material", &faulty.material)?;
        above_zero("supply.faulty.life_factor", faulty.life_factor)?;
    }
    Ok(())
}

fn columns(plan: &Plan) -> Checked {
    for table in plan.columns.keys() {
        rule(
            ["seals", "inspections", "assets"].contains(&table.as_str()),
            format!("columns.{table}"),
            || "choose from seals, inspections, assets".to_owned(),
        )?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_lie_between_1900_and_2999() {
        for (day, kept) in [
            (date(1899, 12, 31), false),
            (date(1900, 1, 1), true),
            (date(2999, 12, 31), true),
            (date(3000, 1, 1), false),
        ] {
            assert_eq!(within("cut_off", day).is_ok(), kept, "{day}");
        }
    }
}
