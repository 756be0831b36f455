//! The asset that advice on materials is worked out for.

use super::screen::Screened;
use crate::wire::positions::PositionsDocument;
use sealspan_records::words::Outcome;
use sealspan_records::{Question, Records, ask};
use serde::Serialize;
use std::collections::BTreeMap;

/// The group within which another material may do better.
const MATERIAL: &str = "material";

/// An asset and why it was taken.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Chosen {
    /// The asset.
    pub asset: String,
    /// Why.
    pub why: Why,
}

/// Why an asset was taken: the first of these that the records give.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// What it meets shortens the life of one material, and of the assets that meet it, those with such a seal in service
    /// first, it failed the most seals of that material.
    Shortens(Box<Screened>),
    /// It uses up more seals than its like.
    Hungry,
    /// It had the most failures.
    MostFailures,
}

/// The first of these that the records have.
#[must_use]
pub(crate) fn chosen(
    records: &Records,
    found: &[Screened],
    positions: Option<&PositionsDocument>,
) -> Option<Chosen> {
    let shortens = found.iter().filter(|s| s.life_ratio < 1.0);
    let met = shortens.filter_map(|s| {
        let (column, material) = s.within.as_ref()?;
        let asset = (column == MATERIAL).then(|| worst(records, s, material))??;
        let why = Why::Shortens(Box::new(s.clone()));
        Some(Chosen { asset, why })
    });
    met.into_iter()
        .next()
        .or_else(|| {
            let all = positions?.positions.iter();
            let asset = all.filter(|p| p.hungry).map(|p| p.asset.clone()).next()?;
            let why = Why::Hungry;
            Some(Chosen { asset, why })
        })
        .or_else(|| {
            let asset = most_failures(records)?;
            let why = Why::MostFailures;
            Some(Chosen { asset, why })
        })
}

/// The asset with the condition whose seals of the material failed most often, of those that still have one in service where
/// any has; the first by name of like ones.
fn worst(records: &Records, s: &Screened, material: &str) -> Option<String> {
    let by = [MATERIAL, s.column.as_str(), "asset"];
    let question = Question {
        by: by.map(str::to_owned).to_vec(),
        ..Question::default()
    };
    let answer = ask(records, &question).ok()?;
    let own = answer.groups.iter().filter_map(|group| {
        let [own, level, asset] = group.key.as_slice() else {
            return None;
        };
        let failed = group.sample.tally().failures();
        let here = own.1 == material && level.1 == s.level && failed > 0.0;
        here.then(|| (asset.1.as_str(), !group.running().is_empty(), failed))
    });
    let order = |a: &(&str, bool, f64), b: &(&str, bool, f64)| {
        let by_count = a.1.cmp(&b.1).then(a.2.total_cmp(&b.2));
        by_count.then(b.0.cmp(a.0))
    };
    own.max_by(order).map(|(asset, ..)| asset.to_owned())
}

fn most_failures(records: &Records) -> Option<String> {
    let mut failed: BTreeMap<&str, u64> = BTreeMap::new();
    for seal in &records.seals {
        if let (Some(asset), Outcome::Failed) = (&seal.asset, seal.outcome) {
            *failed.entry(asset).or_default() += 1;
        }
    }
    let most = failed
        .into_iter()
        .max_by(|a, b| a.1.cmp(&b.1).then(b.0.cmp(a.0)));
    most.map(|(name, _)| name.to_owned())
}
