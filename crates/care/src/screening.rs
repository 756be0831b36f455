//! Screening of elastomer families against a duty: temperature limits and ratings by medium, with every
//! source shown, and conflicting sources side by side.
//!
//! Screening only: the tables hold for families and classes, not for compounds and concentrations.
//!
//! ```
//! use sealspan_care::screening::{Exposure, Tables, Verdict, screen, verdict};
//! use sealspan_records::materials::facts_of_text;
//! // A user's own limit, invented here, beside the program's words for media.
//! let rows = "material,grade,quantity,medium,value,basis,source,note\nNBR,,max_temperature_c,,100,from memory,invented,\n";
//! let tables = Tables { facts: facts_of_text("own.csv", rows)?, ..Tables::with_own(vec![])? };
//! let material = tables.materials()[0];
//! let at = |celsius| screen(&tables, material, &Exposure { celsius: Some(celsius), media: vec![] });
//! assert_eq!(verdict(&at(90.0)), Verdict::Passes);
//! assert_eq!(verdict(&at(110.0)).word(), "excluded");
//! // What nothing is known of is said to be so.
//! assert_eq!(tables.medium("hot caustic").as_deref(), Some("dilute caustic"));
//! let milk = Exposure { celsius: None, media: vec![("milk".to_owned(), tables.medium("milk"))] };
//! assert_eq!(verdict(&screen(&tables, material, &milk)), Verdict::NotKnown);
//! # Ok::<(), sealspan_records::Error>(())
//! ```

use sealspan_records::materials::{Basis, Fact, MediumWord, Rating, Says};
use sealspan_records::words::{Material, normal};
use sealspan_records::{Error, materials};

/// The tables that come with the program; users edit copies and give them as their own.
const TEMPERATURE: (&str, &str) = (
    "datasets/materials/temperature.csv",
    include_str!("../../../datasets/materials/temperature.csv"),
);
const MEDIA: (&str, &str) = (
    "datasets/materials/media.csv",
    include_str!("../../../datasets/materials/media.csv"),
);
const WORDS: (&str, &str) = (
    "datasets/materials/media-words.csv",
    include_str!("../../../datasets/materials/media-words.csv"),
);

/// Facts and words to screen with.
#[derive(Debug, Clone, PartialEq)]
pub struct Tables {
    /// The facts, a user's in place of ours where both answer a question.
    pub facts: Vec<Fact>,
    /// Users' words for media.
    pub words: Vec<MediumWord>,
}

impl Tables {
    /// The tables of the program, with a user's own facts in place of those that answer the same question.
    ///
    /// # Errors
    /// When a table of the program is broken, which its tests rule out.
    pub fn with_own(own: Vec<Fact>) -> Result<Self, Error> {
        let mut facts = materials::facts_of_text(TEMPERATURE.0, TEMPERATURE.1)?;
        facts.extend(materials::facts_of_text(MEDIA.0, MEDIA.1)?);
        let words = materials::medium_words(WORDS.0, WORDS.1)?;
        facts.retain(|f| !own.iter().any(|o| o.same_question(f)));
        facts.extend(own);
        Ok(Self { facts, words })
    }

    /// The medium of the tables that a user's word means; the word itself where facts name it so.
    #[must_use]
    pub fn medium(&self, asked: &str) -> Option<String> {
        let word = normal(asked);
        let listed = self.words.iter().find(|w| w.word == word);
        let named = || {
            let mut media = self.facts.iter().filter_map(|f| f.medium.as_ref());
            media.find(|m| normal(m) == word).cloned()
        };
        listed.map(|w| w.medium.clone()).or_else(named)
    }

    /// Families that any fact speaks of, in the order of the symbols' list.
    #[must_use]
    pub fn materials(&self) -> Vec<Material> {
        let mut out: Vec<Material> = self.facts.iter().map(|f| f.material).collect();
        out.sort_unstable();
        out.dedup();
        out
    }
}

/// What a seal is to stand.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Exposure {
    /// Temperature, °C.
    pub celsius: Option<f64>,
    /// Media as asked for, and as the tables name them.
    pub media: Vec<(String, Option<String>)>,
}

/// How a family comes out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Nothing known speaks against it.
    Passes,
    /// Something known asks for care: a grade, a limited rating, sources that differ.
    WithCare,
    /// Something asked for is not known.
    NotKnown,
    /// A limit excludes it.
    Excluded,
}

impl Verdict {
    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Passes => "passes",
            Self::WithCare => "with_care",
            Self::NotKnown => "not_known",
            Self::Excluded => "excluded",
        }
    }
}

/// One remark on a family, with the facts behind it.
#[derive(Debug, Clone, PartialEq)]
pub struct Remark {
    /// What it comes to.
    pub verdict: Verdict,
    /// In words.
    pub text: String,
    /// Whether sources differ.
    pub conflict: bool,
    /// Whether it is a temperature limit or the user's own table, which records do not overrule.
    pub hard: bool,
    /// The facts, all of them.
    pub facts: Vec<Fact>,
}

/// Screens one family: a remark for every question that the exposure asks.
#[must_use]
pub fn screen(tables: &Tables, material: Material, exposure: &Exposure) -> Vec<Remark> {
    let mut out = vec![];
    if let Some(celsius) = exposure.celsius {
        out.extend(too_hot(tables, material, celsius, None));
        for asked in &exposure.media {
            out.extend(too_hot(tables, material, celsius, Some(asked)));
        }
        out.extend(too_cold(tables, material, celsius));
    }
    for asked in &exposure.media {
        out.push(rated(tables, material, asked));
    }
    out
}

/// The worst of some remarks.
#[must_use]
pub fn verdict(remarks: &[Remark]) -> Verdict {
    remarks
        .iter()
        .map(|r| r.verdict)
        .max()
        .unwrap_or(Verdict::Passes)
}

/// A medium as asked for, and as the tables name it.
type Asked = (String, Option<String>);

/// What the facts say to one question, with each fact. A user's own facts on the very word asked for speak alone;
/// those on a word of the medium asked for speak beside the medium's.
fn answers<T>(
    tables: &Tables,
    material: Material,
    asked: Option<&Asked>,
    says: impl Fn(&Says) -> Option<T>,
) -> Vec<(T, Fact)> {
    let facts = |wanted: &dyn Fn(&Fact) -> bool| -> Vec<(T, Fact)> {
        let own = tables.facts.iter().filter(|f| f.material == material);
        own.filter(|f| wanted(f))
            .filter_map(|f| Some((says(&f.says)?, f.clone())))
            .collect()
    };
    let Some((word, medium)) = asked else {
        return facts(&|f| f.medium.is_none());
    };
    let word = normal(word);
    let named = |f: &Fact| f.medium.as_deref().map(normal);
    let exact = facts(&|f| f.basis == Basis::YourTable && named(f).as_ref() == Some(&word));
    if !exact.is_empty() {
        return exact;
    }
    let medium = medium.as_deref().map(normal);
    let whole = medium.as_ref() == Some(&word);
    facts(&|f| {
        let Some(name) = named(f) else { return false };
        let within = || tables.medium(&name).map(|m| normal(&m)) == medium;
        Some(&name) == medium.as_ref() || (whole && f.basis == Basis::YourTable && within())
    })
}

fn grade(fact: &Fact) -> &str {
    fact.grade.as_deref().unwrap_or("every grade")
}

fn too_hot(
    tables: &Tables,
    material: Material,
    celsius: f64,
    asked: Option<&Asked>,
) -> Option<Remark> {
    let facts = answers(tables, material, asked, |says| match says {
        Says::MaxTemperature(limit) => Some(*limit),
        _ => None,
    });
    let place = facts.first().and_then(|(_, f)| f.medium.as_ref());
    let place = place.map_or_else(String::new, |m| format!(" in {m}"));
    if facts.is_empty() {
        // Without a medium the limit is asked for; with one it is an extra where a source gives it.
        return asked.is_none().then(|| Remark {
            verdict: Verdict::NotKnown,
            text: "no upper service temperature known".to_owned(),
            conflict: false,
            hard: false,
            facts: vec![],
        });
    }
    Some(against(
        celsius,
        &facts,
        |limit| celsius <= limit,
        |limit| format!("up to {limit} °C{place}"),
    ))
}

fn too_cold(tables: &Tables, material: Material, celsius: f64) -> Option<Remark> {
    let facts = answers(tables, material, None, |says| match says {
        Says::MinTemperature(limit) => Some(*limit),
        _ => None,
    });
    let below = facts.iter().any(|(limit, _)| celsius < *limit);
    below.then(|| {
        against(
            celsius,
            &facts,
            |limit| celsius >= limit,
            |limit| format!("down to {limit} °C"),
        )
    })
}

/// A temperature against limits that may differ by grade or source.
fn against(
    celsius: f64,
    facts: &[(f64, Fact)],
    within: impl Fn(f64) -> bool,
    words: impl Fn(f64) -> String,
) -> Remark {
    let list: Vec<String> = facts
        .iter()
        .map(|(limit, f)| format!("{} {}", grade(f), words(*limit)))
        .collect();
    let good = facts.iter().filter(|(limit, _)| within(*limit)).count();
    let (verdict, head) = if good == facts.len() {
        (Verdict::Passes, "within its limits".to_owned())
    } else if good > 0 {
        (
            Verdict::WithCare,
            format!("{celsius} °C is for some grades only"),
        )
    } else {
        (
            Verdict::Excluded,
            format!("{celsius} °C is beyond its limits"),
        )
    };
    Remark {
        verdict,
        text: format!("{head}: {}", list.join(", ")),
        conflict: false,
        hard: true,
        facts: facts.iter().map(|(_, f)| f.clone()).collect(),
    }
}

fn rated(tables: &Tables, material: Material, asked: &Asked) -> Remark {
    let facts = answers(tables, material, Some(asked), |says| match says {
        Says::Rating(rating) => Some(*rating),
        _ => None,
    });
    let asked = &asked.0;
    let known = facts.iter().map(|f| f.0);
    let (Some(best), Some(worst)) = (known.clone().min(), known.max()) else {
        return Remark {
            verdict: Verdict::NotKnown,
            text: format!("{asked}: no rating known"),
            conflict: false,
            hard: false,
            facts: vec![],
        };
    };
    let own = facts.iter().any(|(_, f)| f.basis == Basis::YourTable);
    let list: Vec<String> = facts
        .iter()
        .map(|(r, f)| format!("{} ({})", r.word(), f.basis.words()))
        .collect();
    let conflict = best != worst;
    let verdict = match (best, worst) {
        (Rating::Unsuitable, _) => Verdict::Excluded,
        (Rating::Suitable, Rating::Suitable) => Verdict::Passes,
        _ => Verdict::WithCare,
    };
    let differ = if conflict { "sources differ: " } else { "" };
    Remark {
        verdict,
        text: format!("{asked}: {differ}{}", list.join(", ")),
        conflict,
        hard: own,
        facts: facts.into_iter().map(|f| f.1).collect(),
    }
}
