//! Checks across the rows of the seals: duplicates, positions, overlaps.

use crate::finding::Finding;
use crate::notes::Notes;
use crate::seal::Seal;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Where the findings of the seals table point to.
pub(crate) struct Place<'a> {
    pub(crate) file: &'a str,
    pub(crate) named: bool,
}

impl Place<'_> {
    fn at(&self, finding: Finding, row: u64, column: &str) -> Finding {
        finding.file(self.file).row(row).column(column)
    }
}

/// Notes seals without a name or an asset where others have one; they are used all the same.
pub(crate) fn unnamed(seals: &[Seal], place: &Place<'_>, notes: &mut Notes) {
    let with_asset = seals.iter().any(|s| s.asset.is_some());
    for seal in seals {
        if place.named && seal.seal == format!("row {}", seal.row) {
            let finding = Finding::note(
                "unnamed_seal",
                format!("the seal has no name; it is called row {}", seal.row),
            )
            .mend("give the seal its own name");
            notes.findings.push(place.at(finding, seal.row, "seal"));
        }
        if with_asset && seal.asset.is_none() {
            let finding = Finding::note(
                "no_asset",
                format!(
                    "seal {} names no asset: it belongs to no position",
                    seal.seal
                ),
            )
            .mend("name the asset it was fitted to");
            notes.findings.push(place.at(finding, seal.row, "asset"));
        }
    }
}

/// Sets aside second rows of one seal; the first row is kept.
pub(crate) fn duplicates(seals: Vec<Seal>, place: &Place<'_>, notes: &mut Notes) -> Vec<Seal> {
    let mut first: BTreeMap<String, usize> = BTreeMap::new();
    let mut kept: Vec<Seal> = Vec::with_capacity(seals.len());
    for seal in seals {
        if !place.named && seal.asset.is_none() {
            kept.push(seal);
            continue;
        }
        let key = if place.named {
            seal.seal.clone()
        } else {
            contents(&seal)
        };
        match first.get(&key).and_then(|at| kept.get(*at)) {
            Some(other) => {
                let same = contents(other) == contents(&seal);
                let how = if same {
                    "the same row as"
                } else {
                    "named like, but different from,"
                };
                let finding = Finding::error(
                    "duplicate_seal",
                    format!("seal {} is {how} row {}", seal.seal, other.row),
                )
                .mend("delete one of the two rows, or give the seal its own name");
                notes.aside(place.at(finding, seal.row, "seal"));
            }
            None => {
                first.insert(key, kept.len());
                kept.push(seal);
            }
        }
    }
    kept
}

fn contents(s: &Seal) -> String {
    format!(
        "{:?}",
        (
            &s.asset,
            &s.position,
            s.material,
            &s.part_no,
            &s.batch,
            s.fitted,
            s.removed,
            s.outcome,
            s.mechanism,
            s.sector
        )
    )
}

/// Sets aside seals without a position on assets that have several.
pub(crate) fn positions(seals: Vec<Seal>, place: &Place<'_>, notes: &mut Notes) -> Vec<Seal> {
    let mut named: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    let mut nameless: BTreeMap<&str, Vec<&Seal>> = BTreeMap::new();
    for seal in &seals {
        let Some(asset) = seal.asset.as_deref() else {
            continue;
        };
        match seal.position.as_deref() {
            Some(position) => {
                named.entry(asset).or_default().insert(position);
            }
            None => nameless.entry(asset).or_default().push(seal),
        }
    }
    let several: BTreeSet<String> = nameless
        .iter()
        .filter(|(asset, rows)| {
            named.get(**asset).is_some_and(|p| p.len() > 1) || !clashes(rows).is_empty()
        })
        .map(|(asset, _)| (*asset).to_owned())
        .collect();
    let mut kept = Vec::with_capacity(seals.len());
    for seal in seals {
        let asset = seal.asset.as_deref().filter(|a| several.contains(*a));
        match (asset, &seal.position) {
            (Some(asset), None) => {
                let finding = Finding::error(
                    "position_missing",
                    format!("asset {asset} has several positions and this row names none: no seal life can be told"),
                )
                .mend("name the position; else only replacements per asset can be counted");
                notes.aside(place.at(finding, seal.row, "position"));
            }
            _ => kept.push(seal),
        }
    }
    kept
}

/// Sets aside seals that were surely in one position at the same time.
pub(crate) fn overlaps(seals: Vec<Seal>, place: &Place<'_>, notes: &mut Notes) -> Vec<Seal> {
    let mut homes: BTreeMap<(&str, Option<&str>), Vec<&Seal>> = BTreeMap::new();
    for seal in &seals {
        if let Some(asset) = seal.asset.as_deref() {
            homes
                .entry((asset, seal.position.as_deref()))
                .or_default()
                .push(seal);
        }
    }
    let mut wrong: BTreeMap<usize, Finding> = BTreeMap::new();
    for rows in homes.values() {
        for (early, late) in clashes(rows) {
            let open = early.removed.is_none();
            let end = early
                .removed
                .map_or("in service".to_owned(), |r| format!("in place until {r}"));
            let text = |seal: &Seal, other: &Seal| {
                let finding = Finding::error(
                    "overlapping_seals",
                    format!(
                        "seals {} and {} (rows {} and {}) are in one position at one time: {} is {end}, {} was fitted on {}",
                        seal.seal, other.seal, seal.row, other.row, early.seal, late.seal, late.fitted
                    ),
                )
                .mend("give the first one its removal date, or correct the position or the dates");
                place.at(
                    finding,
                    seal.row,
                    if seal.row == early.row {
                        "removed"
                    } else {
                        "fitted"
                    },
                )
            };
            wrong.entry(early.at).or_insert_with(|| text(early, late));
            if !open {
                wrong.entry(late.at).or_insert_with(|| text(late, early));
            }
        }
    }
    let mut kept = Vec::with_capacity(seals.len());
    for seal in seals {
        match wrong.remove(&seal.at) {
            Some(finding) => notes.aside(finding),
            None => kept.push(seal),
        }
    }
    kept
}

/// Pairs (earlier, later) of seals that surely overlap.
fn clashes<'a>(rows: &[&'a Seal]) -> Vec<(&'a Seal, &'a Seal)> {
    let mut sorted: Vec<&Seal> = rows.to_vec();
    sorted.sort_by_key(|s| (s.fitted.first(), s.row));
    let end = |s: &Seal| s.removed.map_or(Date::MAX, |r| r.first());
    let mut pairs = Vec::new();
    let mut longest: Option<&Seal> = None;
    for seal in sorted {
        if let Some(early) = longest
            && end(early) > seal.fitted.last()
        {
            pairs.push((early, seal));
        }
        if longest.is_none_or(|l| end(seal) > end(l)) {
            longest = Some(seal);
        }
    }
    pairs
}
