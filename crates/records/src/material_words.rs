//! Trade words for elastomer families and the symbols they stand for.
//!
//! From memory: the chemical names that ISO 1629 makes its symbols from, older symbols, words of the trade. A word that
//! means several families (polyurethane: AU or EU) is not guessed at, only suggested. A user's own words come first,
//! under `[words.material]` of the study.

use crate::words::{Material, nearest, normal};

/// A word, in the form in which words are compared, and its family.
const NAMES: [(&str, Material); 48] = [
    ("nitrile", Material::Nbr),
    ("nitrile_rubber", Material::Nbr),
    ("nitrile_butadiene_rubber", Material::Nbr),
    ("acrylonitrile_butadiene", Material::Nbr),
    ("acrylonitrile_butadiene_rubber", Material::Nbr),
    ("buna_n", Material::Nbr),
    ("hydrogenated_nitrile", Material::Hnbr),
    ("hydrogenated_nitrile_rubber", Material::Hnbr),
    (
        "hydrogenated_acrylonitrile_butadiene_rubber",
        Material::Hnbr,
    ),
    ("highly_saturated_nitrile", Material::Hnbr),
    ("ethylene_propylene_diene", Material::Epdm),
    ("ethylene_propylene_diene_monomer", Material::Epdm),
    ("ethylene_propylene_diene_rubber", Material::Epdm),
    ("fpm", Material::Fkm),
    ("fluoro_rubber", Material::Fkm),
    ("fluororubber", Material::Fkm),
    ("fluorocarbon", Material::Fkm),
    ("fluorocarbon_rubber", Material::Fkm),
    ("fluoroelastomer", Material::Fkm),
    ("ffpm", Material::Ffkm),
    ("perfluoro_rubber", Material::Ffkm),
    ("perfluororubber", Material::Ffkm),
    ("perfluoroelastomer", Material::Ffkm),
    ("perfluorocarbon_rubber", Material::Ffkm),
    ("silicone", Material::Vmq),
    ("silicone_rubber", Material::Vmq),
    ("vinyl_methyl_silicone", Material::Vmq),
    ("vinyl_methyl_silicone_rubber", Material::Vmq),
    ("mvq", Material::Vmq),
    ("fluorosilicone", Material::Fvmq),
    ("fluoro_silicone", Material::Fvmq),
    ("fluorosilicone_rubber", Material::Fvmq),
    ("mfvq", Material::Fvmq),
    ("chloroprene", Material::Cr),
    ("chloroprene_rubber", Material::Cr),
    ("polychloroprene", Material::Cr),
    ("polychloroprene_rubber", Material::Cr),
    ("neoprene", Material::Cr),
    ("butyl", Material::Iir),
    ("butyl_rubber", Material::Iir),
    ("isobutene_isoprene", Material::Iir),
    ("isobutene_isoprene_rubber", Material::Iir),
    ("isobutylene_isoprene_rubber", Material::Iir),
    ("polyester_urethane", Material::Au),
    ("polyester_urethane_rubber", Material::Au),
    ("polyester_polyurethane", Material::Au),
    ("polytetrafluoroethylene", Material::Ptfe),
    ("polytetrafluorethylene", Material::Ptfe),
];

/// Words that may mean a family, or another one: what to ask.
const UNCLEAR: [(&str, &str); 10] = [
    ("polyurethane", URETHANE),
    ("polyurethane_rubber", URETHANE),
    ("urethane", URETHANE),
    ("pu", URETHANE),
    ("pur", URETHANE),
    ("tpu", URETHANE),
    ("eu", URETHANE),
    ("epm", PROPYLENE),
    ("epr", PROPYLENE),
    ("ethylene_propylene", PROPYLENE),
];
const URETHANE: &str = "is it \"AU\" (polyester urethane)? a polyether urethane (EU) is \"other\"";
const PROPYLENE: &str =
    "is it \"EPDM\" (with a diene)? ethylene-propylene rubber without one is \"other\"";

/// Hardness in Shore A or IRHD that may stand beside a family: `EPDM 70`.
const HARDNESS: std::ops::RangeInclusive<u32> = 30..=95;
/// Words that go with a hardness.
const SCALES: [&str; 6] = ["shore", "sh", "a", "shorea", "sha", "irhd"];

/// The family a word of the trade names: an ISO 1629 symbol, a chemical or trade name, either with a hardness beside it
/// (30 to 95, Shore A or IRHD); `None` for any other word, and for one that may mean several families.
///
/// ```
/// use sealspan_records::material_words::material;
/// use sealspan_records::words::Material;
/// assert_eq!(material("Nitrile rubber"), Some(Material::Nbr));
/// assert_eq!(material("EPDM 70 Shore A"), Some(Material::Epdm));
/// assert_eq!(material("polyurethane"), None);
/// ```
#[must_use]
pub fn material(word: &str) -> Option<Material> {
    named(word).or_else(|| named(&without_hardness(word)?))
}

fn named(word: &str) -> Option<Material> {
    Material::from_word(word).or_else(|| {
        let word = normal(word);
        NAMES.iter().find(|n| n.0 == word).map(|n| n.1)
    })
}

/// The letters of a word and the number that ends it: `NBR70`.
fn numbered(part: &str) -> Option<(&str, u32)> {
    let letters = part.trim_end_matches(|c: char| c.is_ascii_digit());
    let number = part.get(letters.len()..)?.parse().ok()?;
    Some((letters, number))
}

/// The word without its hardness; `None` where there is none.
fn without_hardness(word: &str) -> Option<String> {
    let word = normal(word);
    let mut kept: Vec<&str> = vec![];
    let mut hard = false;
    for part in parts(&word) {
        let bare = std::iter::once(part).chain(SCALES.iter().filter_map(|s| part.strip_suffix(s)));
        if bare
            .filter_map(|p| p.parse().ok())
            .any(|n: u32| HARDNESS.contains(&n))
        {
            hard = true;
        } else if let Some((letters, _)) = numbered(part).filter(|(_, n)| HARDNESS.contains(n)) {
            hard = true;
            kept.push(letters);
        } else if !SCALES.contains(&part) {
            kept.push(part);
        }
    }
    hard.then(|| kept.join("_"))
}

fn parts(word: &str) -> impl Iterator<Item = &str> {
    word.split(|c: char| !c.is_alphanumeric())
        .filter(|part| !part.is_empty())
}

/// The family nearest to an unknown word, if one is near: a family with something added, such as its cure or its colour,
/// or a slip.
#[must_use]
pub(crate) fn near(word: &str) -> Option<Material> {
    let whole = without_hardness(word).unwrap_or_else(|| normal(word));
    let known = |m: &Material| *m != Material::Other;
    let within = parts(&whole).find_map(|part| named(part).filter(known));
    let slip = || {
        let names = NAMES.map(|n| n.0);
        let words: Vec<&str> = Material::WORDS.iter().copied().chain(names).collect();
        nearest(&whole, &words).and_then(named).filter(known)
    };
    within.or_else(slip)
}

/// What an unknown word may have meant, as a question; empty where nothing is near.
///
/// ```
/// use sealspan_records::material_words::question;
/// assert_eq!(question("NBR, black"), "did you mean \"NBR\"? ");
/// assert_eq!(question("qqqqqqqqqq"), "");
/// ```
#[must_use]
pub fn question(word: &str) -> String {
    let whole = without_hardness(word).unwrap_or_else(|| normal(word));
    match UNCLEAR.iter().find(|u| u.0 == whole) {
        Some((_, ask)) => format!("{ask}; "),
        None => near(word).map_or_else(String::new, |m| format!("did you mean \"{}\"? ", m.word())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn trade_words_name_their_family() {
        for (word, family) in [
            ("NBR", Some(Material::Nbr)),
            ("nitrile", Some(Material::Nbr)),
            ("Buna-N", Some(Material::Nbr)),
            ("FPM", Some(Material::Fkm)),
            ("Silicone Rubber", Some(Material::Vmq)),
            ("fluorosilicone", Some(Material::Fvmq)),
            ("neoprene", Some(Material::Cr)),
            ("EPDM 70", Some(Material::Epdm)),
            ("NBR70", Some(Material::Nbr)),
            ("70 IRHD nitrile", Some(Material::Nbr)),
            ("FKM 75 Shore A", Some(Material::Fkm)),
            ("EPDM 75ShA", Some(Material::Epdm)),
            // Not guessed at: a grade that is not a hardness, two families, a word of several meanings.
            ("EPDM 1995", None),
            ("EPDM peroxide", None),
            ("NBR/FKM", None),
            ("urethane", None),
            ("EPM", None),
            ("70", None),
            ("white", None),
            ("", None),
        ] {
            assert_eq!(material(word), family, "{word}");
        }
    }

    #[test]
    fn names_are_in_the_form_compared_and_stand_once() {
        for (at, (name, _)) in NAMES.iter().enumerate() {
            assert_eq!(*name, normal(name));
            assert!(Material::from_word(name).is_none(), "{name}");
            assert!(NAMES.iter().skip(at + 1).all(|n| n.0 != *name), "{name}");
        }
    }

    #[test]
    fn what_was_meant_is_asked_not_guessed() {
        assert_eq!(question("EDPM"), "did you mean \"EPDM\"? ");
        assert_eq!(question("silicon"), "did you mean \"VMQ\"? ");
        assert_eq!(question("EPDM peroxide cured"), "did you mean \"EPDM\"? ");
        assert!(question("PU 90").starts_with("is it \"AU\""));
        assert_eq!(question("white"), "");
    }
}
