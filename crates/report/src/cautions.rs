//! What to mind before acting on advice. Advice never replaces a written scheme, a statutory
//! inspection, a permit or a risk assessment, and never lengthens an interval set by them.

/// What a seal's service brings with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Service {
    /// Gas or liquid under pressure.
    Pressure,
    /// Vacuum.
    Vacuum,
    /// Steam, hot surfaces, hot cleaning.
    Heat,
    /// Solvents, caustic, acids, process chemicals.
    Chemicals,
    /// A manway or another way into a vessel.
    ManwayEntry,
    /// Food, drink or medicine.
    FoodContact,
    /// An explosive atmosphere.
    ExplosiveAtmosphere,
}

/// A caution with where it comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Caution {
    /// Stable word for programs.
    pub id: &'static str,
    /// Kinds of service it is for; empty when it holds for all.
    pub when: &'static [Service],
    /// What to do.
    pub text: &'static str,
    /// Source, and whether it was read or is from memory.
    pub source: &'static str,
}

/// Cautions for the seals of doors, manways and shafts.
const ALL: [Caution; 13] = [
    Caution {
        id: "precedence",
        when: &[],
        text: "The maker's limits, local codes and licensed practice decide. This advice never replaces a written scheme, statutory inspection, permit or risk assessment, and never lengthens an interval set by one.",
        source: "rule of this tool",
    },
    Caution {
        id: "lockout",
        when: &[],
        text: "Isolate and lock out all energy before seal work.",
        source: "29 CFR 1910.147, control of hazardous energy (title read, section text from memory)",
    },
    Caution {
        id: "pressure_door",
        when: &[Service::Pressure],
        text: "Stored pressure: isolate, vent and confirm that none is left before opening; never defeat a door interlock.",
        source: "HSE guidance note PM73 rev. 3, autoclaves (first page read); Pressure Equipment Directive 2014/68/EU (from memory)",
    },
    Caution {
        id: "vacuum",
        when: &[Service::Vacuum],
        text: "Vacuum: equalise before opening. A leak-up test, not age alone, decides the return to service.",
        source: "general engineering practice (from memory)",
    },
    Caution {
        id: "hot_surface",
        when: &[Service::Heat],
        text: "Let the equipment cool before looking at, turning or replacing a seal: a warm gasket stretches, and a burn is quick.",
        source: "ISO 13732-1, touchable hot surfaces (from memory); look cold, never warm: common practice, no source",
    },
    Caution {
        id: "confined_space",
        when: &[Service::ManwayEntry],
        text: "A manway leads into a confined space: entry may need a permit. Lockout alone does not remove what can flow in.",
        source: "29 CFR 1910.146(b) (definition read)",
    },
    Caution {
        id: "chemicals",
        when: &[Service::Chemicals],
        text: "Drain and flush; use the safety data sheet. A material's compatibility class holds for the stated concentration, temperature and time only: confirm by immersion test or the maker.",
        source: "ISO 1817 and ASTM D471 as immersion methods (known by name, texts not read)",
    },
    Caution {
        id: "fkm_fire",
        when: &[Service::Heat],
        text: "FKM or FFKM after a fire can carry hydrofluoric acid: do not touch the residue.",
        source: "common safety literature (from memory)",
    },
    Caution {
        id: "food",
        when: &[Service::FoodContact],
        text: "In food contact the new seal needs the declaration for its compound, not only for its polymer family.",
        source: "21 CFR 177.2600 (read in part); Regulation (EC) 1935/2004 (secondary pages only)",
    },
    Caution {
        id: "shelf_life",
        when: &[],
        text: "Check the cure date of a spare before fitting it; years in service are not years on the shelf.",
        source: "ISO 2230 (secondary pages only)",
    },
    Caution {
        id: "explosive_atmosphere",
        when: &[Service::ExplosiveAtmosphere],
        text: "Another seal material can change the equipment's certified protection and its static charge: keep the certified part number.",
        source: "Directives 2014/34/EU and 1999/92/EC (guideline title pages read, texts from memory)",
    },
    Caution {
        id: "static_leak",
        when: &[Service::Pressure, Service::Vacuum],
        text: "A seal at rest can pass a leak test although it has set far: for long-lived seals measure compression set or hardness too.",
        source: "BAM, O-ring ageing programme (abstracts read)",
    },
    Caution {
        id: "extrapolation",
        when: &[],
        text: "Where advice reaches beyond the ages or temperatures that were seen, stop at what was seen unless somebody answerable signs for more.",
        source: "rule of this tool",
    },
];

/// Every caution, the most general first.
#[must_use]
pub fn all() -> Vec<Caution> {
    ALL.to_vec()
}

/// All of it in one sentence, where advice stands before the cautions in full.
pub const IN_SHORT: &str =
    "Isolate, depressurise and cool; the maker's limits, local codes and licensed practice decide.";

/// Cautions for the terminal: the first five, which hold for every opening.
///
/// ```
/// use sealspan_report::cautions::{all, always};
/// let stands = always();
/// for word in ["The maker's limits", "Isolate and lock out", "isolate, vent", "Vacuum", "cool"] {
///     assert!(stands.iter().any(|text| text.contains(word)), "{word}");
/// }
/// // Each of them stands among all with where it comes from.
/// let source = |text: &str| all().iter().find(|c| c.text == text).map(|c| c.source);
/// assert_eq!(source(&stands[0]), Some("rule of this tool"));
/// assert!(source(&stands[1]).unwrap().starts_with("29 CFR 1910.147"));
/// ```
#[must_use]
pub fn always() -> Vec<String> {
    ALL.iter().take(5).map(|c| c.text.to_owned()).collect()
}

/// The cautions that hold for a seal in the given service, the most general first.
#[must_use]
pub(crate) fn for_service(service: &[Service]) -> Vec<Caution> {
    let holds = |c: &&Caution| c.when.is_empty() || c.when.iter().any(|w| service.contains(w));
    ALL.iter().filter(holds).copied().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ids(service: &[Service]) -> Vec<&'static str> {
        for_service(service).iter().map(|c| c.id).collect()
    }

    #[test]
    fn service_selects() {
        assert_eq!(
            ids(&[]),
            ["precedence", "lockout", "shelf_life", "extrapolation"]
        );
        let brewing = ids(&[Service::ManwayEntry, Service::Heat, Service::FoodContact]);
        for id in ["lockout", "confined_space", "hot_surface", "food"] {
            assert!(brewing.contains(&id), "{id}");
        }
        assert!(!brewing.contains(&"vacuum") && !brewing.contains(&"explosive_atmosphere"));
    }

    #[test]
    fn every_caution_names_its_source_once() {
        let mut seen: Vec<&str> = ALL.iter().map(|c| c.id).collect();
        seen.sort_unstable();
        seen.dedup();
        assert_eq!(seen.len(), ALL.len());
        assert!(
            ALL.iter()
                .all(|c| !c.text.is_empty() && !c.source.is_empty())
        );
    }
}
