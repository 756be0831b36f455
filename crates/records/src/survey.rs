//! What the table of lives shows as a whole: the notes that no single row carries.

use crate::finding::Finding;
use crate::life::Life;
use crate::load::Records;
use crate::looks::Looks;
use crate::notes::Notes;
use crate::seal::Seal;
use crate::words::{Look, Mechanism, Outcome};
use std::collections::BTreeMap;

/// Share above which a kind of removal is remarked on. A judgement, not from a source.
const SHARE: f64 = 0.1;
/// Failures of a mechanism that make it one of several (a rule of ours).
const SEVERAL: u64 = 5;

/// A reading below this share of the one before it looks like a counter that began again from
/// zero, not like a slip. A judgement, not from a source.
const RESET_SHARE: f64 = 0.1;

/// The notes of plain life data.
pub(crate) fn life(life: &Life, notes: &mut Notes) {
    let used = || (0..life.len()).filter(|at| life.is_used(*at));
    let running = used().any(|at| life.row(at).1.is_infinite());
    if !running && used().next().is_some() {
        notes.findings.push(none_running(&life.table.file));
    }
}

fn none_running(file: &str) -> Finding {
    Finding::warning(
        "no_running_seals",
        "every life has ended: were seals still in service, or replaced by schedule, left out?",
    )
    .file(file)
    .mend("add them; without them lives look shorter than they are")
}

/// The notes of a fleet of seals.
pub(crate) fn seals(records: &Records, file: &str, notes: &mut Notes) {
    outcomes(records, file, notes);
    starts(records, file, notes);
    coarse(records, file, notes);
    readings(records, file, notes);
    looks(records, file, notes);
    assets(records, file, notes);
}

fn outcomes(records: &Records, file: &str, notes: &mut Notes) {
    let count = |outcome| {
        records
            .seals
            .iter()
            .filter(|s| s.outcome == outcome)
            .count()
    };
    let all = records.seals.len();
    if all > 0 && count(Outcome::InService) == 0 {
        notes.findings.push(none_running(file));
    }
    let removed = all - count(Outcome::InService);
    let unknown = count(Outcome::Unknown);
    if unknown as f64 > SHARE * removed as f64 {
        let text = format!(
            "{unknown} of {removed} removals have an unknown outcome; they count as not failed"
        );
        notes.findings.push(
            Finding::warning("unknown_outcomes", text)
                .file(file)
                .column("outcome")
                .mend("record why seals are removed; compare the best and the worst reading"),
        );
    }
    let mut mechanisms: BTreeMap<&'static str, u64> = BTreeMap::new();
    for seal in records
        .seals
        .iter()
        .filter(|s| s.outcome == Outcome::Failed)
    {
        if let Some(mechanism) = seal.mechanism.filter(|m| *m != Mechanism::Unknown) {
            *mechanisms.entry(mechanism.word()).or_insert(0) += 1;
        }
    }
    let common = mechanisms.values().filter(|n| **n >= SEVERAL).count();
    if common > 1 {
        notes.findings.push(
            Finding::note(
                "several_mechanisms",
                format!("failures by {common} mechanisms, {SEVERAL} or more each: one law for all may mislead"),
            )
            .file(file)
            .column("mechanism")
            .mend("set them against each other: sealspan fit FILE --modes"),
        );
    }
    let (failed, worn) = (count(Outcome::Failed), count(Outcome::Worn));
    let censored = all - failed;
    if worn as f64 > SHARE * censored as f64 {
        let text = format!(
            "{worn} of {censored} seals that did not fail were taken off worn; they would have failed sooner than the rest"
        );
        notes.findings.push(
            Finding::note("worn_removals", text)
                .file(file)
                .column("outcome")
                .mend(if records.inspections.is_empty() {
                    "read the life to failure as too long; record the inspections, sound looks too, and `sealspan defects STUDY` tells by how much"
                } else {
                    "read the life to failure as too long: `sealspan defects STUDY` tells by how much, from the looks"
                }),
        );
    }
}

fn starts(records: &Records, file: &str, notes: &mut Notes) {
    let early: Vec<&Seal> = records
        .seals
        .iter()
        .filter(|s| s.watched_from.is_some())
        .collect();
    for seal in &early {
        notes.log.row(
            "left_truncation",
            "fitted before the records begin: watched from its age on that day",
            file,
            seal.row,
        );
    }
    if let Some(first) = early.first() {
        let text = format!(
            "{} seals were fitted before the records begin; they are watched from their age then",
            early.len()
        );
        notes.findings.push(
            Finding::note("fitted_before_records", text)
                .file(file)
                .row(first.row)
                .column("fitted")
                .mend("check that seals removed before the records begin are not expected here"),
        );
    }
}

fn coarse(records: &Records, file: &str, notes: &mut Notes) {
    for seal in &records.seals {
        if !seal.fitted.is_day() || seal.removed.is_some_and(|r| !r.is_day()) {
            notes.log.row(
                "coarse_date",
                "a month, quarter or year stands for any of its days: the age is an interval",
                file,
                seal.row,
            );
        }
    }
}

/// Readings that fall from fitting to removal, or from one inspection to the next.
fn readings(records: &Records, file: &str, notes: &mut Notes) {
    for seal in &records.seals {
        if let (Some(from), Some(to)) = (seal.fitted_reading, seal.removed_reading)
            && to < from
        {
            notes.findings.push(
                fallen(from, to, "from fitting to removal")
                    .file(file)
                    .row(seal.row)
                    .column("removed_reading"),
            );
        }
    }
    let file = records.sources.iter().find(|s| s.role == "inspections");
    let file = file
        .map(|s| s.path.display().to_string())
        .unwrap_or_default();
    let mut homes: BTreeMap<_, Vec<_>> = BTreeMap::new();
    for look in &records.inspections {
        if let (Some(asset), Some(reading)) = (&look.asset, look.reading) {
            homes.entry((asset, &look.position)).or_default().push((
                look.date.first(),
                look.row,
                reading,
            ));
        }
    }
    for list in homes.values_mut() {
        list.sort_by_key(|(date, row, _)| (*date, *row));
        for pair in list.windows(2) {
            if let [(_, _, from), (_, row, to)] = pair
                && to < from
            {
                notes.findings.push(
                    fallen(*from, *to, "since the inspection before")
                        .file(&file)
                        .row(*row)
                        .column("reading"),
                );
            }
        }
    }
}

fn fallen(from: f64, to: f64, when: &str) -> Finding {
    if to < RESET_SHARE * from {
        Finding::warning(
            "counter_reset",
            format!("the reading falls from {from} to {to} {when}: the counter was reset"),
        )
        .mend("add what the counter had shown before it was reset")
    } else {
        Finding::warning(
            "reading_backwards",
            format!("the reading falls from {from} to {to} {when}"),
        )
        .mend("swap or correct the readings")
    }
}

/// Failures found at an inspection, and failures of seals still in place.
fn looks(records: &Records, file: &str, notes: &mut Notes) {
    let looks = Looks::new(&records.inspections, &records.seals);
    for seal in &records.seals {
        let of = looks.of(seal);
        let failed = of.iter().find(|l| l.finding == Some(Look::Failed));
        if let (Outcome::InService, Some(look)) = (seal.outcome, failed) {
            notes.findings.push(
                Finding::warning("failed_but_in_service", format!("seal {} was found failed on {} (inspections row {}), yet has no removal; it counts as failed then", seal.seal, look.date, look.row))
                    .file(file)
                    .row(seal.row)
                    .column("removed")
                    .mend("give the removal date and outcome, or correct the inspection"),
            );
        }
        let ended = matches!(seal.outcome, Outcome::Failed | Outcome::Worn);
        let at_removal = seal.removed.is_some_and(|r| {
            of.iter()
                .any(|l| l.date.meets(&r) && l.finding.is_some_and(|f| f != Look::Sound))
        });
        if ended && at_removal && seal.last_known_good.is_none() {
            notes.log.row("found_at_inspection", "the end was found at an inspection: it lies between the last good look and that day", file, seal.row);
            if seal.outcome == Outcome::Failed {
                notes.findings.push(
                    Finding::note("exact_date_at_inspection", "the failure carries the date of the inspection that found it; it is read as an interval since the last good look")
                        .file(file)
                        .row(seal.row)
                        .column("removed")
                        .mend("record last_known_good, or the day of the failure itself"),
                );
            }
        }
        if seal.last_known_good.is_some() && ended {
            notes.log.row(
                "last_known_good",
                "the end lies between the day last known good and the day found",
                file,
                seal.row,
            );
        }
    }
}

fn assets(records: &Records, file: &str, notes: &mut Notes) {
    let mut counts: BTreeMap<&str, (u64, u64)> = BTreeMap::new();
    for seal in &records.seals {
        if let Some(asset) = seal.asset.as_deref() {
            counts.entry(asset).or_insert((0, seal.row)).0 += 1;
        }
    }
    let most = counts.iter().max_by_key(|(_, (count, _))| *count);
    if let Some((asset, (count, _))) = most
        && *count > 1
    {
        let several = counts.values().filter(|(c, _)| *c > 1).count();
        let text = format!(
            "assets with several seals: {several} (up to {count} seals, asset {asset}); lives of one asset may be alike"
        );
        notes.findings.push(
            Finding::note("several_seals_per_asset", text)
                .file(file)
                .column("asset")
                .mend("read the errors of a comparison as too small by an unknown amount"),
        );
    }
    if records.assets.is_empty() {
        return;
    }
    for (asset, (count, row)) in &counts {
        if records.asset_index.get(asset).is_none() {
            notes.findings.push(
                Finding::warning(
                    "asset_not_listed",
                    format!("asset {asset} ({count} seals) is not in the table of assets"),
                )
                .file(file)
                .row(*row)
                .column("asset")
                .mend("add it, or correct its name"),
            );
        }
    }
}
