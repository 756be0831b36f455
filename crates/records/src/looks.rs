//! Which inspections looked at which seal, and the latest reading of each position.

use crate::inspection::Inspection;
use crate::seal::Seal;
use std::collections::BTreeMap;

type Home<'a> = (&'a str, Option<&'a str>);

/// Inspections by seal and by position.
pub(crate) struct Looks<'a> {
    by_seal: BTreeMap<&'a str, Vec<&'a Inspection>>,
    by_home: BTreeMap<Home<'a>, Vec<&'a Inspection>>,
    readings: BTreeMap<Home<'a>, f64>,
}

impl<'a> Looks<'a> {
    pub(crate) fn new(inspections: &'a [Inspection], seals: &'a [Seal]) -> Self {
        let mut looks = Self {
            by_seal: BTreeMap::new(),
            by_home: BTreeMap::new(),
            readings: BTreeMap::new(),
        };
        let homes: BTreeMap<&str, Home<'_>> = seals
            .iter()
            .filter_map(|s| {
                Some((
                    s.seal.as_str(),
                    (s.asset.as_deref()?, s.position.as_deref()),
                ))
            })
            .collect();
        for inspection in inspections {
            let home = match (inspection.asset.as_deref(), inspection.seal.as_deref()) {
                (Some(asset), _) => Some((asset, inspection.position.as_deref())),
                (None, Some(seal)) => homes.get(seal).copied(),
                (None, None) => None,
            };
            match (inspection.seal.as_deref(), home) {
                (Some(seal), _) => looks.by_seal.entry(seal).or_default().push(inspection),
                (None, Some(home)) => looks.by_home.entry(home).or_default().push(inspection),
                (None, None) => {}
            }
            if let (Some(home), Some(reading)) = (home, inspection.reading) {
                let latest = looks.readings.entry(home).or_insert(reading);
                *latest = latest.max(reading);
            }
        }
        looks
    }

    /// The inspections of a seal, earliest first.
    pub(crate) fn of(&self, seal: &Seal) -> Vec<&'a Inspection> {
        let end = seal.removed.map_or(seal.watched_to, |r| r.last());
        let named = self.by_seal.get(seal.seal.as_str()).into_iter().flatten();
        let there = seal
            .asset
            .as_deref()
            .and_then(|asset| self.by_home.get(&(asset, seal.position.as_deref())))
            .into_iter()
            .flatten();
        let within =
            |i: &&&Inspection| i.date.first() >= seal.fitted.first() && i.date.first() <= end;
        let mut looks: Vec<&Inspection> = named.chain(there).filter(within).copied().collect();
        looks.sort_by_key(|i| (i.date.first(), i.row));
        looks
    }

    /// The greatest reading an inspection took at the seal's position.
    pub(crate) fn latest_reading(&self, seal: &Seal) -> Option<f64> {
        let asset = seal.asset.as_deref()?;
        self.readings
            .get(&(asset, seal.position.as_deref()))
            .copied()
    }
}
