//! How fast a material wears on a given tank.

use super::file::{Attack, Group, Material, Supply, Wear};

/// Molar gas constant in J/(mol K) (SI, exact).
const GAS_CONSTANT: f64 = 8.314_462_618_153_24;
/// 0 °C in kelvin.
const ZERO_CELSIUS: f64 = 273.15;

/// Arrhenius acceleration exp[(E/R)(1/T_ref − 1/T)] of a process with activation energy E.
pub(super) fn arrhenius(energy_kj_per_mol: f64, reference_c: f64, temperature_c: f64) -> f64 {
    let inverse = |celsius: f64| 1.0 / (celsius + ZERO_CELSIUS);
    (energy_kj_per_mol * 1000.0 / GAS_CONSTANT * (inverse(reference_c) - inverse(temperature_c)))
        .exp()
}

/// Attacks of `material` that act on tanks of `group`.
pub(super) fn attacks<'a>(
    material: &'a Material,
    group: &'a Group,
) -> impl Iterator<Item = &'a Attack> {
    material
        .attack
        .iter()
        .filter(|attack| group.conditions.get(&attack.condition) == Some(&attack.value))
}

/// Damage days per day on an even frame: cleaning duty × temperature ÷ attack factors.
pub(super) fn wear_rate(
    wear: &Wear,
    material: &Material,
    group: &Group,
    cycles_per_week: f64,
) -> f64 {
    let duty = (1.0 - wear.cycle_share)
        + wear.cycle_share * cycles_per_week / wear.reference_cycles_per_week;
    let heat = arrhenius(
        material.activation_energy_kj_per_mol,
        wear.reference_c,
        group.temperature_c,
    );
    let attack: f64 = attacks(material, group)
        .map(|attack| attack.life_factor)
        .product();
    duty * heat / attack
}

/// The life factor of a batch: 1 unless the scenario says the batch is faulty.
pub(super) fn batch_factor(
    supply: &Supply,
    material: &str,
    cured: super::calendar::Quarter,
) -> f64 {
    supply
        .faulty
        .iter()
        .filter(|faulty| faulty.material == material && faulty.cured == cured)
        .map(|faulty| faulty.life_factor)
        .product()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 51 kJ/mol doubles the rate from 20 to 30 °C: exp(51000/8.314462618 × (1/293.15 − 1/303.15)).
    #[test]
    fn ten_degrees_double_the_rate_at_51_kj_per_mol() {
        let factor = arrhenius(51.0, 20.0, 30.0);
        assert!((factor - 1.994).abs() < 1e-3, "{factor}");
        assert!((arrhenius(51.0, 30.0, 20.0) * factor - 1.0).abs() < 1e-12);
    }
}
