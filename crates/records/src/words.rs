//! The trade's words as types: outcome, mechanism, inspection finding, material.
//!
//! Words are compared in any case, with spaces, hyphens and underscores alike.
//!
//! ```
//! use sealspan_records::words::{Look, Material, Mechanism, Outcome, clipped, nearest};
//! assert_eq!(Outcome::from_word("In Service"), Some(Outcome::InService));
//! assert_eq!(Outcome::InService.word(), "in_service");
//! assert!(Mechanism::WORDS.iter().all(|w| Mechanism::from_word(w).unwrap().word() == *w));
//! assert!(Look::WORDS.iter().all(|w| Look::from_word(w).unwrap().word() == *w));
//! assert_eq!(Material::from_word("epdm").map(Material::word), Some("EPDM"));
//! assert_eq!(nearest("failled", &["failed", "worn"]), Some("failed")); // one edit away
//! assert_eq!(nearest("xyz", &["failed", "worn"]), None);
//! assert_eq!(clipped(&"a".repeat(300)).len(), 204); // 200 letters and " ..."
//! ```

use serde::Serialize;

/// Characters of a line that a message shows.
const SHOWN: usize = 200;

/// A message with each line cut after 200 characters and marked ` ...`: what a file holds may be one line without end.
#[must_use]
pub fn clipped(message: &str) -> String {
    let lines = message
        .lines()
        .map(|line| match line.char_indices().nth(SHOWN) {
            Some((end, _)) => format!("{} ...", line.get(..end).unwrap_or_default()),
            None => line.to_owned(),
        });
    lines.collect::<Vec<_>>().join("\n")
}

/// A word in the form in which words are compared: without spaces round it, lower case, runs of spaces, hyphens and
/// underscores as one underscore.
///
/// ```
/// assert_eq!(sealspan_records::words::normal("  In-Service "), "in_service");
/// ```
#[must_use]
pub fn normal(word: &str) -> String {
    let mut out = String::with_capacity(word.len());
    for c in word.trim().chars() {
        if c.is_whitespace() || c == '-' || c == '_' {
            if !out.ends_with('_') {
                out.push('_');
            }
        } else {
            out.extend(c.to_lowercase());
        }
    }
    out
}

/// The nearest of `words` to `word`, both as [`normal`] writes them, by the fewest letters put in, left out or changed
/// (Levenshtein's distance, from memory; of each word its first 64 letters); the first in the alphabet of several.
/// `None` when it is further than 1 + n/3, rounded down, with n letters in the shorter word: no slip then (a rule of ours).
#[must_use]
pub fn nearest<'a>(word: &str, words: &[&'a str]) -> Option<&'a str> {
    let word = normal(word);
    words
        .iter()
        .map(|w| (edits(&word, &normal(w)), *w))
        .min()
        .filter(|(d, w)| *d <= 1 + w.chars().count().min(word.chars().count()) / 3)
        .map(|(_, w)| w)
}

/// Levenshtein distance.
fn edits(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().take(64).collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().take(64).enumerate() {
        let mut diagonal = i;
        let mut left = i + 1;
        for (cell, cb) in row.iter_mut().skip(1).zip(&b) {
            let cost = usize::from(ca != *cb);
            let next = (diagonal + cost).min(*cell + 1).min(left + 1);
            diagonal = *cell;
            *cell = next;
            left = next;
        }
        if let Some(first) = row.first_mut() {
            *first = i + 1;
        }
    }
    row.last().copied().unwrap_or(0)
}

macro_rules! word_enum {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        pub enum $name {
            $($(#[$vdoc])* #[serde(rename = $word)] $variant,)+
        }

        impl $name {
            /// Every word of the list.
            pub const WORDS: &'static [&'static str] = &[$($word),+];

            /// The word of this member.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $($name::$variant => $word,)+ }
            }

            /// The member a word names, in any case, spaces, hyphens and underscores alike; `None` for any other word.
            #[must_use]
            pub fn from_word(word: &str) -> Option<Self> {
                let word = normal(word);
                [$(($name::$variant, $word)),+]
                    .into_iter()
                    .find(|(_, w)| normal(w) == word)
                    .map(|(member, _)| member)
            }
        }
    };
}

word_enum! {
    /// How a seal's time ended.
    Outcome {
        /// Still fitted at the cut-off.
        InService = "in_service",
        /// Function lost: it leaked or lost vacuum.
        Failed = "failed",
        /// Taken off on condition at an inspection, before it failed.
        Worn = "worn",
        /// Replaced by schedule.
        Preventive = "preventive",
        /// Handling or fitting damage.
        Damaged = "damaged",
        /// Replaced because the asset was open anyway.
        Opportunity = "opportunity",
        /// Not recorded.
        Unknown = "unknown",
    }
}

word_enum! {
    /// Why a seal ended.
    Mechanism {
        /// Worn away by rubbing.
        Abraded = "abraded",
        /// Cut.
        Cut = "cut",
        /// Cracked (ozone, heat, fatigue).
        Cracked = "cracked",
        /// Hardened.
        Hardened = "hardened",
        /// Softened.
        Softened = "softened",
        /// Swollen by the medium.
        Swollen = "swollen",
        /// Lost its height under load.
        CompressionSet = "compression_set",
        /// Pressed into the gap.
        Extruded = "extruded",
        /// Torn.
        Torn = "torn",
        /// Blistered by gas.
        Blistered = "blistered",
        /// Another one.
        Other = "other",
        /// Not recorded.
        Unknown = "unknown",
    }
}

word_enum! {
    /// What an inspection saw.
    Look {
        /// No defect.
        Sound = "sound",
        /// A defect that has not yet leaked.
        Worn = "worn",
        /// Function lost.
        Failed = "failed",
    }
}

word_enum! {
    /// Elastomer family by its ISO 1629 symbol (PTFE by ISO 1043-1), or `other`.
    Material {
        /// Acrylonitrile-butadiene rubber.
        Nbr = "NBR",
        /// Hydrogenated acrylonitrile-butadiene rubber.
        Hnbr = "HNBR",
        /// Ethylene-propylene-diene rubber.
        Epdm = "EPDM",
        /// Fluoro rubber.
        Fkm = "FKM",
        /// Perfluoro rubber.
        Ffkm = "FFKM",
        /// Silicone rubber with methyl and vinyl groups.
        Vmq = "VMQ",
        /// Silicone rubber with fluoro, methyl and vinyl groups.
        Fvmq = "FVMQ",
        /// Chloroprene rubber.
        Cr = "CR",
        /// Isobutene-isoprene rubber.
        Iir = "IIR",
        /// Polyester urethane rubber.
        Au = "AU",
        /// Polytetrafluoroethylene.
        Ptfe = "PTFE",
        /// Another material.
        Other = "other",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_match_in_any_dress() {
        assert_eq!(Outcome::from_word(" In Service"), Some(Outcome::InService));
        assert_eq!(
            Mechanism::from_word("Compression-Set"),
            Some(Mechanism::CompressionSet)
        );
        assert_eq!(Material::from_word("epdm"), Some(Material::Epdm));
        assert_eq!(Outcome::from_word("leaked"), None);
    }

    #[test]
    fn the_nearest_word_is_offered_for_slips_only() {
        assert_eq!(nearest("faild", Outcome::WORDS), Some("failed"));
        assert_eq!(nearest("preventative", Outcome::WORDS), Some("preventive"));
        assert_eq!(nearest("zzzzzz", Outcome::WORDS), None);
    }
}
