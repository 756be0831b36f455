//! Which sites look at their seals, and which never do.

use super::{Asked, Seals};
use crate::wire::habits::LooksResult;
use sealspan_care::costs::DAYS_PER_YEAR;
use sealspan_life::recurrence::hungry::Count;
use sealspan_life::recurrence::many::false_discovery;
use sealspan_records::{Clock, NONE, Records};
use std::collections::BTreeMap;

/// Looks to be expected from which their absence is called a habit (a rule of ours).
const EXPECTED: f64 = 10.0;

#[derive(Default)]
struct Site {
    years: f64,
    looks: u64,
    failed: f64,
    worn: f64,
}

/// Looks by site, where the records hold looks, sites and days.
pub(super) fn looks(records: &Records, seals: &Seals, asked: &Asked<'_>) -> Vec<LooksResult> {
    if records.inspections.is_empty() || !seals.site || asked.clock != Clock::Days {
        return vec![];
    }
    let mut sites: BTreeMap<&str, Site> = BTreeMap::new();
    let mut of_asset: BTreeMap<&str, &str> = BTreeMap::new();
    for group in &seals.answer.groups {
        let parts = seals.parts(&group.key);
        let Some(site) = parts.site.filter(|s| *s != NONE) else {
            continue;
        };
        of_asset.insert(parts.asset, site);
        let own = sites.entry(site).or_default();
        let rows = group.sample.rows().iter();
        own.years += rows
            .map(|o| o.count() * (o.last() - o.entry()) / DAYS_PER_YEAR)
            .sum::<f64>();
        let count = group.sample.tally().total();
        match parts.outcome {
            "failed" => own.failed += count,
            "worn" => own.worn += count,
            _ => {}
        }
    }
    let of_seal: BTreeMap<&str, &str> = records
        .seals
        .iter()
        .filter_map(|s| Some((s.seal.as_str(), s.asset.as_deref()?)))
        .collect();
    for look in &records.inspections {
        let named = look.seal.as_deref().and_then(|s| of_seal.get(s).copied());
        let asset = look.asset.as_deref().or(named);
        let own = asset.and_then(|a| sites.get_mut(of_asset.get(a)?));
        if let Some(own) = own {
            own.looks += 1;
        }
    }
    let mut out = told(&sites);
    let p: Vec<f64> = out.iter().filter_map(|r| r.p_value).collect();
    let mut adjusted = false_discovery(&p).into_iter();
    for row in &mut out {
        row.adjusted_p_value = row.p_value.and_then(|_| adjusted.next());
        row.never_inspects = row.looks == 0
            && row.expected.is_some_and(|e| e >= EXPECTED)
            && row
                .adjusted_p_value
                .is_some_and(|p| p <= asked.false_discovery);
    }
    out
}

fn told(sites: &BTreeMap<&str, Site>) -> Vec<LooksResult> {
    let one = |(name, site): (&&str, &Site)| {
        let others = sites.iter().filter(|(n, s)| *n != name && s.looks > 0);
        let (looks, years) = others.fold((0.0, 0.0), |(l, y), (_, s)| {
            (l + s.looks as f64, y + s.years)
        });
        let expected = (years > 0.0).then(|| looks / years * site.years);
        let count = expected.filter(|e| *e > 0.0).map(|expected| Count {
            seen: site.looks as f64,
            expected,
        });
        LooksResult {
            site: (*name).to_owned(),
            years: site.years,
            looks: site.looks,
            expected,
            failed: site.failed,
            worn: site.worn,
            // At most so many: what is not more than that.
            p_value: count.map(|c| {
                let more = Count {
                    seen: c.seen + 1.0,
                    ..c
                };
                (1.0 - more.p_value()).max(f64::MIN_POSITIVE)
            }),
            adjusted_p_value: None,
            never_inspects: false,
            reason: expected
                .is_none()
                .then_some("no other site records looks to compare with"),
        }
    };
    sites.iter().map(one).collect()
}
