//! The money of each place, all parts together.

use super::money::{NO_DRAWS, PlaceWorlds, Worlds, at, year};
use crate::wire::money_places::{PlaceMoney, RecordedFailures};
use sealspan_care::ahead::months::Cases;
use sealspan_care::costs::DAYS_PER_YEAR;
use sealspan_care::money::worth::quantile;
use sealspan_life::recurrence::hungry::Count;
use sealspan_records::practice::GroupPractice;
use sealspan_records::study::Costs;
use sealspan_records::words::Outcome;
use std::collections::BTreeMap;

/// What a year costs at every place in both worlds, by name; intervals at `side` of either tail.
pub(super) fn places(
    parts: &[Worlds],
    practice: &[GroupPractice],
    (months, side): (usize, f64),
    costs: &Costs,
) -> Vec<PlaceMoney> {
    let mut by_name: BTreeMap<&str, Vec<(&Worlds, &PlaceWorlds)>> = BTreeMap::new();
    for part in parts {
        for here in &part.places {
            by_name.entry(&here.place).or_default().push((part, here));
        }
    }
    let share = 12.0 / months as f64;
    let of = |(name, all): (&str, Vec<(&Worlds, &PlaceWorlds)>)| {
        let sum = |cases: fn(&PlaceWorlds) -> &Cases| {
            let each = all
                .iter()
                .map(|(part, here)| year(part, &at(&cases(here).best, months), share, costs));
            each.sum()
        };
        let (today, plan): (crate::wire::money::Year, crate::wire::money::Year) =
            (sum(|h| &h.today), sum(|h| &h.plan));
        let drawn = drawn(&all, (months, share), costs);
        PlaceMoney {
            place: name.to_owned(),
            positions: all.iter().map(|(_, here)| here.positions).sum(),
            recorded: recorded(&all, practice, (months, share), costs),
            saving: today.cost - plan.cost,
            today,
            plan,
            saving_lower: quantile(&drawn, side),
            saving_upper: quantile(&drawn, 1.0 - side),
            interval_reason: drawn.is_empty().then_some(NO_DRAWS),
        }
    };
    by_name.into_iter().map(of).collect()
}

/// What the log of a place counted, part by part, beside the rate at which seals fail there in the forecast of today's
/// practice; `None` where a part has no time under watch there.
fn recorded(
    all: &[(&Worlds, &PlaceWorlds)],
    practice: &[GroupPractice],
    (months, share): (usize, f64),
    costs: &Costs,
) -> Option<RecordedFailures> {
    let (mut counted, mut per_year, mut expected) = (0.0, 0.0, 0.0);
    for (part, here) in all {
        let group = practice.iter().find(|g| g.key == part.key.0)?;
        let mut sites = group.sites.iter();
        let own = sites.find(|s| s.site.as_deref().is_none_or(|site| site == here.place))?;
        let years = own.time / DAYS_PER_YEAR;
        if years <= 0.0 || here.positions <= 0.0 {
            return None;
        }
        let failed = own.ended_so(Outcome::Failed) as f64;
        let forecast = year(part, &at(&here.today.best, months), share, costs).failures;
        counted += failed;
        per_year += failed * here.positions / years;
        expected += forecast * years / here.positions;
    }
    let count = Count {
        seen: counted,
        expected,
    };
    Some(RecordedFailures {
        counted,
        per_year,
        expected,
        p_value: count.two_sided(),
    })
}

/// Mean and variance of the saving a year at each draw: draw i of every part together.
fn drawn(
    all: &[(&Worlds, &PlaceWorlds)],
    (months, share): (usize, f64),
    costs: &Costs,
) -> Vec<(f64, f64)> {
    let count = all
        .iter()
        .map(|(_, here)| here.today.drawn.len().min(here.plan.drawn.len()));
    let one = |i: usize| {
        let each = all.iter().filter_map(|(part, here)| {
            let prices = part.prices(costs);
            let (today, plan) = (here.today.drawn.get(i)?, here.plan.drawn.get(i)?);
            let (a, b) = (
                prices.money(&at(today, months)),
                prices.money(&at(plan, months)),
            );
            Some((share * (a.0 - b.0), share * share * (a.1 + b.1)))
        });
        each.fold((0.0, 0.0), |sum, m| (sum.0 + m.0, sum.1 + m.1))
    };
    (0..count.min().unwrap_or(0)).map(one).collect()
}
