//! Screening of material families by facts written here: limits by grade, ratings that agree, differ or are missing, and
//! a user's own facts before and beside the tables'.

use sealspan_care::screening::{Exposure, Remark, Tables, Verdict, screen, verdict};
use sealspan_records::materials::{Basis, Fact, facts_of_text};
use sealspan_records::words::Material;

const HEAD: &str = "material,grade,quantity,medium,value,basis,source,note";

fn facts(rows: &str) -> Vec<Fact> {
    facts_of_text("invented", &format!("{HEAD}\n{rows}")).unwrap()
}

/// Only these facts, with the program's words for media.
fn tables(rows: &str) -> Tables {
    Tables {
        facts: facts(rows),
        ..Tables::with_own(vec![]).unwrap()
    }
}

const LIMITS: &str = "NBR,standard,max_temperature_c,,100,from memory,invented,
NBR,special,max_temperature_c,,120,from memory,invented,
NBR,standard,min_temperature_c,,-30,from memory,invented,
NBR,special,min_temperature_c,,-50,from memory,invented,
NBR,,max_temperature_c,steam,60,from memory,invented,
";

fn material(tables: &Tables) -> Material {
    tables.materials()[0]
}

fn at(tables: &Tables, celsius: f64, media: &[&str]) -> Vec<Remark> {
    let media = media.iter().map(|m| ((*m).to_owned(), tables.medium(m)));
    let exposure = Exposure {
        celsius: Some(celsius),
        media: media.collect(),
    };
    screen(tables, material(tables), &exposure)
}

#[test]
fn limits_are_kept_by_all_grades_by_some_or_by_none() {
    let tables = tables(LIMITS);
    let of = |celsius: f64| verdict(&at(&tables, celsius, &[]));
    for (celsius, wanted) in [
        (20.0, Verdict::Passes),
        (100.0, Verdict::Passes),
        (101.0, Verdict::WithCare),
        (120.0, Verdict::WithCare),
        (121.0, Verdict::Excluded),
        (-30.0, Verdict::Passes),
        (-31.0, Verdict::WithCare),
        (-51.0, Verdict::Excluded),
    ] {
        assert_eq!(of(celsius), wanted, "{celsius}");
    }
    let hot = at(&tables, 110.0, &[]);
    assert!(hot[0].text.contains("standard up to 100 °C") && hot[0].hard);
    assert_eq!(hot[0].facts.len(), 2);
    let cold = at(&tables, -40.0, &[]);
    assert!(
        cold.iter()
            .any(|r| r.text.contains("special down to -50 °C"))
    );
    // A limit of its own in a medium; none is asked for where no source gives it.
    let steam = at(&tables, 80.0, &["steam"]);
    assert!(
        steam
            .iter()
            .any(|r| r.verdict == Verdict::Excluded && r.text.contains("in steam"))
    );
    let water = at(&tables, 80.0, &["water"]);
    assert!(water.iter().all(|r| r.verdict != Verdict::Excluded));
}

#[test]
fn ratings_agree_differ_or_are_not_known() {
    let rows = "EPDM,,max_temperature_c,,140,from memory,invented,
EPDM,,rating,steam,suitable,from memory,one,
EPDM,,rating,bench coolant,suitable,from memory,one,
EPDM,,rating,bench coolant,unsuitable,from memory,another,
EPDM,,rating,dilute caustic,unsuitable,from memory,one,
EPDM,,rating,sea water,limited,from memory,one,
";
    let tables = tables(rows);
    let of = |medium: &str| at(&tables, 20.0, &[medium]).pop().unwrap();
    for (medium, wanted, conflict) in [
        ("steam", Verdict::Passes, false),
        ("bench coolant", Verdict::WithCare, true),
        // A word that the program's list takes to a medium.
        ("caustic soda", Verdict::Excluded, false),
        ("sea water", Verdict::WithCare, false),
        ("honey", Verdict::NotKnown, false),
    ] {
        let remark = of(medium);
        assert_eq!(
            (remark.verdict, remark.conflict),
            (wanted, conflict),
            "{medium}: {remark:?}"
        );
        assert!(!remark.hard && remark.text.starts_with(medium));
    }
    assert!(of("bench coolant").text.contains("sources differ"));
    assert_eq!(
        tables.medium("caustic soda").as_deref(),
        Some("dilute caustic")
    );
    assert_eq!(
        tables.medium("Bench Coolant").as_deref(),
        Some("bench coolant")
    );
    assert_eq!(tables.medium("honey"), None);
    // The worst of all remarks counts; without any there is nothing against it.
    assert_eq!(
        verdict(&at(&tables, 20.0, &["steam", "honey", "caustic soda"])),
        Verdict::Excluded
    );
    assert_eq!(
        verdict(&at(&tables, 20.0, &["steam", "honey"])),
        Verdict::NotKnown
    );
    assert_eq!(verdict(&[]), Verdict::Passes);
}

/// A user's own facts answer in place of the program's where both answer the same question; on the very word asked for
/// they speak alone, on a word of the medium beside it.
#[test]
fn own_facts_come_first() {
    let own = |rows: &str| -> Vec<Fact> {
        let mut all = facts(rows);
        for fact in &mut all {
            fact.basis = Basis::YourTable;
        }
        all
    };
    let plain = Tables::with_own(vec![]).unwrap();
    assert!(plain.materials().len() > 3 && plain.facts.len() > 20);
    let asked = "NBR,,rating,aliphatic hydrocarbons,unsuitable,from memory,mine,\n";
    let with = Tables::with_own(own(asked)).unwrap();
    assert_eq!(with.facts.len(), plain.facts.len());
    let of = |tables: &Tables, medium: &str| {
        let exposure = Exposure {
            celsius: None,
            media: vec![(medium.to_owned(), tables.medium(medium))],
        };
        screen(tables, own(asked)[0].material, &exposure)
            .pop()
            .unwrap()
    };
    assert_eq!(
        of(&plain, "aliphatic hydrocarbons").verdict,
        Verdict::Passes
    );
    let mine = of(&with, "aliphatic hydrocarbons");
    assert!(mine.hard && mine.verdict == Verdict::Excluded && !mine.conflict);
    // On a word of a medium: alone for that word, beside the table's for the medium.
    let word = "NBR,,rating,caustic soda,unsuitable,from memory,mine,\nNBR,,rating,dilute caustic,suitable,from memory,one,\n";
    let mut tables = tables(word);
    tables.facts[0].basis = Basis::YourTable;
    assert_eq!(of(&tables, "caustic soda").facts.len(), 1);
    let both = of(&tables, "dilute caustic");
    assert!(both.conflict && both.facts.len() == 2, "{both:?}");
    assert_eq!(of(&tables, "hot caustic").facts.len(), 1);
}

/// A user's own fact on one medium says nothing of another.
#[test]
fn own_facts_are_of_their_medium_alone() {
    let rows = "NBR,,rating,steam,suitable,from memory,one,\nNBR,,rating,bench coolant,unsuitable,from memory,mine,\n";
    let mut tables = tables(rows);
    tables.facts[1].basis = Basis::YourTable;
    let steam = at(&tables, 20.0, &["steam"]).pop().unwrap();
    assert_eq!((steam.verdict, steam.facts.len()), (Verdict::Passes, 1));
}
