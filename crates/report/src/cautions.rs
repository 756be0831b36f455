//! What to mind before acting on advice. Advice never replaces a written scheme, a statutory
//! inspection, a permit or a risk assessment, and never lengthens an interval set by them.

/// A caution with where it comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Caution {
    /// Stable word for programs.
    pub id: &'static str,
    /// What to do.
    pub text: &'static str,
    /// Source, and whether it was read or is from memory.
    pub source: &'static str,
}

/// Cautions for the seals of doors, manways and shafts.
const ALL: [Caution; 10] = [
    Caution {
        id: "precedence",
        text: "The maker's limits, local codes and licensed practice decide. This advice never replaces a written scheme, statutory inspection, permit or risk assessment, and never lengthens an interval set by one.",
        source: "rule of this tool",
    },
    Caution {
        id: "lockout",
        text: "Isolate and lock out all energy before seal work.",
        source: "29 CFR 1910.147, control of hazardous energy (title read, section text from memory)",
    },
    Caution {
        id: "pressure_door",
        text: "Stored pressure: isolate, vent and confirm that none is left before opening; never defeat a door interlock.",
        source: "HSE guidance note PM73 rev. 3, autoclaves (first page read); Pressure Equipment Directive 2014/68/EU (from memory)",
    },
    Caution {
        id: "vacuum",
        text: "Vacuum: equalise before opening. A leak-up test, not age alone, decides the return to service.",
        source: "general engineering practice (from memory)",
    },
    Caution {
        id: "hot_surface",
        text: "Let the equipment cool before looking at, turning or replacing a seal: a warm gasket stretches, and a burn is quick.",
        source: "ISO 13732-1, touchable hot surfaces (from memory); look cold, never warm: common practice, no source",
    },
    Caution {
        id: "confined_space",
        text: "A manway leads into a confined space: entry may need a permit. Lockout alone does not remove what can flow in.",
        source: "29 CFR 1910.146(b) (definition read)",
    },
    Caution {
        id: "chemicals",
        text: "Drain and flush; use the safety data sheet. A material's compatibility class holds for the stated concentration, temperature and time only: confirm by immersion test or the maker.",
        source: "ISO 1817 and ASTM D471 as immersion methods (known by name, texts not read)",
    },
    Caution {
        id: "fkm_fire",
        text: "FKM or FFKM after a fire can carry hydrofluoric acid: do not touch the residue.",
        source: "common safety literature (from memory)",
    },
    Caution {
        id: "food",
        text: "In food contact the new seal needs the declaration for its compound, not only for its polymer family.",
        source: "21 CFR 177.2600 (read in part); Regulation (EC) 1935/2004 (secondary pages only)",
    },
    Caution {
        id: "shelf_life",
        text: "Check the cure date of a spare before fitting it; years in service are not years on the shelf.",
        source: "ISO 2230 (secondary pages only)",
    },
];

/// Every caution, the most general first.
#[must_use]
pub fn all() -> Vec<Caution> {
    ALL.to_vec()
}

/// Cautions for the terminal: the first five, which hold for every opening.
#[must_use]
pub fn always() -> Vec<String> {
    ALL.iter().take(5).map(|c| c.text.to_owned()).collect()
}
