//! Facts about materials from editable tables: temperature limits and ratings by medium, each with its
//! source and how it is known.

use crate::error::{Error, Kind};
use crate::material_words;
use crate::sheet::Sheet;
use crate::words::{Material, normal};
use serde::Serialize;
use std::path::Path;

/// What a fact says.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Says {
    /// Highest service temperature, °C.
    MaxTemperature(f64),
    /// Lowest service temperature, °C.
    MinTemperature(f64),
    /// How it stands a medium.
    Rating(Rating),
}

/// How a material stands a medium; the order is from best to worst. Four steps are common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rating {
    /// It stands it.
    Suitable,
    /// Usually good enough at rest, not for movement.
    Limited,
    /// Doubtful.
    Doubtful,
    /// It does not.
    Unsuitable,
}

/// Every rating with its word.
const RATINGS: [(Rating, &str); 4] = [
    (Rating::Suitable, "suitable"),
    (Rating::Limited, "limited"),
    (Rating::Doubtful, "doubtful"),
    (Rating::Unsuitable, "unsuitable"),
];

impl Rating {
    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        RATINGS.iter().find(|r| r.0 == self).map_or("", |r| r.1)
    }
}

/// How a fact is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// Seen in the source named.
    Read,
    /// From memory: to be checked before use.
    FromMemory,
    /// Common practice in the trade, without a source.
    CommonPractice,
    /// The user's own table, a maker's as a rule.
    YourTable,
}

impl Basis {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::FromMemory => "from memory",
            Self::CommonPractice => "common practice, no source",
            Self::YourTable => "your table",
        }
    }
}

/// One fact.
///
/// ```
/// use sealspan_records::materials::{Basis, Rating, Says, facts, facts_of_text, medium_words};
/// let ours = facts_of_text(
///     "ours",
///     "material,quantity,value,medium,source,basis\n\
///      EPDM,max_temperature_c,140,,invented,from memory\n\
///      NBR,rating,limited,steam,invented,common practice\n",
/// )?;
/// assert_eq!(ours[0].says, Says::MaxTemperature(140.0));
/// assert_eq!(ours[0].basis.words(), "from memory");
/// assert_eq!(ours[1].says, Says::Rating(Rating::Limited));
/// assert_eq!(Rating::Limited.word(), "limited");
///
/// let path = std::env::temp_dir().join(format!("sealspan-doc-facts-{}.csv", std::process::id()));
/// std::fs::write(&path, "material,quantity,value,source\nEPDM,max_temperature_c,150,invented\n")?;
/// let yours = facts(&path)?;
/// assert_eq!(yours[0].basis, Basis::YourTable);
/// assert!(yours[0].same_question(&ours[0]) && !yours[0].same_question(&ours[1]));
///
/// let words = medium_words("words", "word,medium\nLive Steam,steam\n")?;
/// assert_eq!((words[0].word.as_str(), words[0].medium.as_str()), ("live_steam", "steam"));
/// # std::fs::remove_file(&path)?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fact {
    /// The elastomer family.
    pub material: Material,
    /// The grade it holds for; `None`: every grade.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grade: Option<String>,
    /// The medium it holds for; `None`: any (never of a rating).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub medium: Option<String>,
    /// What it says.
    pub says: Says,
    /// How it is known.
    pub basis: Basis,
    /// Where it comes from.
    pub source: String,
    /// A remark.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The file and the file's own row number.
    #[serde(skip)]
    pub place: (String, u64),
}

impl Fact {
    /// True when two facts answer the same question, so that a user's one takes the place of ours: the same material, kind
    /// of fact and medium. Their grades may differ.
    #[must_use]
    pub fn same_question(&self, other: &Self) -> bool {
        self.material == other.material
            && std::mem::discriminant(&self.says) == std::mem::discriminant(&other.says)
            && self.medium.as_deref().map(normal) == other.medium.as_deref().map(normal)
    }
}

/// A user's word for a medium, and the medium of our tables that it belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MediumWord {
    /// The word, in the form in which words are compared ([`normal`]).
    pub word: String,
    /// The medium, as the table spells it.
    pub medium: String,
}

/// Reads a table of facts from a file: the user's own, one a row. Columns: `material` (a symbol of ISO 1629 or a word of
/// the trade, see [`material_words`]), `quantity` (`max_temperature_c`, `min_temperature_c` or `rating`), `value` (°C, from
/// -273.15 to 1000, or a rating), `source`, and where there are such `grade`, `medium` and `note`. The basis of every fact
/// is [`Basis::YourTable`].
///
/// # Errors
/// As [`Sheet::open`], and at the first fault (a column that is missing, an empty or unknown cell, a temperature out of
/// range, a rating without a medium), with file, row, column and mend.
pub fn facts(path: &Path) -> Result<Vec<Fact>, Error> {
    read(&Sheet::open(path)?, &path.display().to_string(), true)
}

/// Reads a table of facts that is part of the program, with a column `basis` besides (`read`, `from memory` or
/// `common practice`); `name` stands for the file.
///
/// # Errors
/// As [`facts`].
pub fn facts_of_text(name: &str, text: &str) -> Result<Vec<Fact>, Error> {
    read(&Sheet::of_text(name, text)?, name, false)
}

/// Reads the table of words for media that is part of the program: columns `word` and `medium`, both filled; `name` stands
/// for the file.
///
/// # Errors
/// As [`facts`].
pub fn medium_words(name: &str, text: &str) -> Result<Vec<MediumWord>, Error> {
    let sheet = Sheet::of_text(name, text)?;
    let (word, medium) = (
        sheet.need("word", "the user's word")?,
        sheet.need("medium", "the medium of our tables")?,
    );
    (0..sheet.height())
        .map(|at| {
            Ok(MediumWord {
                word: normal(&filled(&sheet, word, at)?),
                medium: filled(&sheet, medium, at)?,
            })
        })
        .collect()
}

fn filled(sheet: &Sheet, column: &str, at: usize) -> Result<String, Error> {
    sheet.text(Some(column), at).ok_or_else(|| {
        sheet.fault(
            column,
            at,
            format!("the cell of {column} is empty"),
            "fill it, or delete the row",
        )
    })
}

fn read(sheet: &Sheet, name: &str, own: bool) -> Result<Vec<Fact>, Error> {
    let material = sheet.need("material", "the ISO 1629 symbol")?;
    let quantity = sheet.need("quantity", "max_temperature_c, min_temperature_c or rating")?;
    let value = sheet.need("value", "a temperature in °C, or a rating")?;
    let source = sheet.need("source", "where the fact comes from")?;
    let facts = (0..sheet.height())
        .map(|at| {
            let text = filled(sheet, material, at)?;
            let family = material_words::material(&text).filter(|m| *m != Material::Other);
            Ok(Fact {
                material: family.ok_or_else(|| unknown_material(sheet, material, at, &text))?,
                grade: sheet.text(sheet.find("grade"), at),
                medium: sheet.text(sheet.find("medium"), at),
                says: says(sheet, quantity, value, at)?,
                basis: basis(sheet, at, own)?,
                source: filled(sheet, source, at)?,
                note: sheet.text(sheet.find("note"), at),
                place: (name.to_owned(), sheet.row(at)),
            })
        })
        .collect::<Result<Vec<Fact>, Error>>()?;
    for fact in &facts {
        if matches!(fact.says, Says::Rating(_)) && fact.medium.is_none() {
            return Err(Error::new(
                Kind::UnreadableColumn,
                "a rating names no medium",
                "fill the column `medium`",
            )
            .in_file(Path::new(name))
            .at_row(fact.place.1)
            .in_column("medium"));
        }
    }
    Ok(facts)
}

fn unknown_material(sheet: &Sheet, column: &str, at: usize, text: &str) -> Error {
    let ask = material_words::question(text);
    sheet.fault(
        column,
        at,
        format!("\"{text}\" is no elastomer family we know"),
        format!("{ask}the symbols are: {}", Material::WORDS.join(", ")),
    )
}

fn says(sheet: &Sheet, quantity: &str, value: &str, at: usize) -> Result<Says, Error> {
    let word = filled(sheet, quantity, at)?;
    let temperature = || {
        let celsius = sheet.filled(value, at)?;
        if (-273.15..=1000.0).contains(&celsius) {
            return Ok(celsius);
        }
        Err(sheet.fault(
            value,
            at,
            format!("{celsius} °C is no temperature of a seal"),
            "give °C, not kelvin or °F",
        ))
    };
    match normal(&word).as_str() {
        "max_temperature_c" => Ok(Says::MaxTemperature(temperature()?)),
        "min_temperature_c" => Ok(Says::MinTemperature(temperature()?)),
        "rating" => {
            let text = filled(sheet, value, at)?;
            let rating = RATINGS.iter().find(|r| r.1 == normal(&text));
            rating.map(|r| Says::Rating(r.0)).ok_or_else(|| {
                sheet.fault(
                    value,
                    at,
                    format!("\"{text}\" is no rating we know"),
                    "write suitable, limited, doubtful or unsuitable",
                )
            })
        }
        _ => Err(sheet.fault(
            quantity,
            at,
            format!("\"{word}\" is no quantity we know"),
            "write max_temperature_c, min_temperature_c or rating",
        )),
    }
}

fn basis(sheet: &Sheet, at: usize, own: bool) -> Result<Basis, Error> {
    if own {
        return Ok(Basis::YourTable);
    }
    let column = sheet.need("basis", "read, from memory, or common practice")?;
    let text = filled(sheet, column, at)?;
    match normal(&text).as_str() {
        "read" => Ok(Basis::Read),
        "from_memory" => Ok(Basis::FromMemory),
        "common_practice" => Ok(Basis::CommonPractice),
        _ => Err(sheet.fault(
            column,
            at,
            format!("\"{text}\" does not say how the fact is known"),
            "write read, from memory, or common practice",
        )),
    }
}
