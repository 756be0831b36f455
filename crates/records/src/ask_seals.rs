//! Seals to observations.

use crate::ages::{self, Case, NoAge, Target};
use crate::ask::{Group, InService, Question, Remarks, Running};
use crate::cells::Cells;
use crate::error::{Error, Kind};
use crate::finding::{Finding, SetAside};
use crate::keys::{self, Factor};
use crate::load::Records;
use crate::looks::Looks;
use crate::observation::{Clock, Observation, Sample};
use crate::seal::Seal;
use crate::words::{Mechanism, Outcome, nearest, normal};
use polars::prelude::*;
use std::borrow::Cow;

/// A seal's observation, and what is known of it while it runs.
struct Life {
    observation: Observation,
    running: Option<Running>,
}

/// The groups of a question.
pub(crate) fn groups(
    records: &Records,
    question: &Question,
    remarks: &mut Remarks,
) -> Result<Vec<Group>, Error> {
    let target = target(records, question.mode.as_deref(), remarks)?;
    let looks = Looks::new(&records.inspections, &records.seals);
    let file = file(records);
    let lives: Vec<Option<Life>> = records
        .seals
        .iter()
        .map(
            |seal| match life(records, seal, &looks, question.clock, target) {
                Ok(life) => Some(life),
                Err(why) => {
                    aside(seal, &why, &file, question.clock, remarks);
                    None
                }
            },
        )
        .collect();
    let factors = question
        .by
        .iter()
        .map(|name| factor(records, name, remarks))
        .collect::<Result<Vec<_>, _>>()?;
    let used = (0..lives.len()).filter(|at| lives.get(*at).is_some_and(Option::is_some));
    let bunches = keys::bunches(&factors, used);
    Ok(bunches
        .into_iter()
        .map(|(key, rows)| {
            let mine = || rows.iter().filter_map(|at| lives.get(*at)?.as_ref());
            Group {
                key,
                sample: Sample::new(mine().map(|l| l.observation).collect()),
                rows_used: rows.len() as u64,
                in_service: InService::Each(mine().filter_map(|l| l.running.clone()).collect()),
            }
        })
        .collect())
}

pub(crate) fn file(records: &Records) -> String {
    records
        .seal_table
        .as_ref()
        .map(|(t, _)| t.file.clone())
        .unwrap_or_default()
}

fn life(
    records: &Records,
    seal: &Seal,
    looks: &Looks<'_>,
    clock: Clock,
    target: Target,
) -> Result<Life, NoAge> {
    let asset = seal
        .asset
        .as_deref()
        .and_then(|a| records.asset_index.get(a));
    let of = looks.of(seal);
    let case = Case {
        seal,
        looks: &of,
        reading_now: reading_now(records, seal, looks),
    };
    let observation = ages::observe(&case, clock, target)?;
    let running = if ages::is_running(&case) {
        Some(Running {
            seal: Some(seal.seal.clone()),
            batch: seal.batch.clone(),
            asset: seal.asset.clone(),
            position: seal.position.clone(),
            material: seal.material.map(|m| m.word().to_owned()),
            site: asset
                .and_then(|a| a.site.clone())
                .or_else(|| condition(seal, "site")),
            age: ages::running_age(&case, clock)?,
            count: 1.0,
        })
    } else {
        None
    };
    Ok(Life {
        observation,
        running,
    })
}

/// The latest reading known at the seal's position: its asset's own, or that of a look.
pub(crate) fn reading_now(records: &Records, seal: &Seal, looks: &Looks<'_>) -> Option<f64> {
    let asset = seal
        .asset
        .as_deref()
        .and_then(|a| records.asset_index.get(a));
    match (
        asset.and_then(|a| a.current_reading),
        looks.latest_reading(seal),
    ) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    }
}

fn condition(seal: &Seal, name: &str) -> Option<String> {
    seal.conditions
        .iter()
        .find(|(n, _)| normal(n) == name)
        .map(|(_, v)| v.clone())
}

pub(crate) fn aside(seal: &Seal, why: &NoAge, file: &str, clock: Clock, remarks: &mut Remarks) {
    remarks.set_aside.push(SetAside {
        file: file.to_owned(),
        row: seal.row,
        column: Some(why.column.to_owned()),
        reason: why.reason.clone(),
    });
    remarks.findings.push(
        Finding::warning(
            "no_age_on_clock",
            format!("set aside on the clock of {}: {}", clock.unit(), why.reason),
        )
        .file(file)
        .row(seal.row)
        .column(why.column)
        .mend("record the readings, or ask on the clock of days"),
    );
}

/// The event asked for: failure by default, an outcome, or a mechanism.
fn target(records: &Records, mode: Option<&str>, remarks: &mut Remarks) -> Result<Target, Error> {
    let Some(mode) = mode else {
        return Ok(Target::Outcome(Outcome::Failed));
    };
    let outcome = Outcome::from_word(mode).filter(|o| *o != Outcome::InService);
    let target = match (outcome, Mechanism::from_word(mode)) {
        (Some(outcome), _) => Target::Outcome(outcome),
        (None, Some(mechanism)) => Target::Mechanism(mechanism),
        (None, None) => return Err(unknown_mode(mode)),
    };
    if let Target::Mechanism(_) = target {
        let failed = records
            .seals
            .iter()
            .filter(|s| s.outcome == Outcome::Failed);
        let (mut others, mut unnamed) = (0, 0);
        for seal in failed {
            match seal.mechanism {
                None | Some(Mechanism::Unknown) => unnamed += 1,
                Some(m) => others += u64::from(target != Target::Mechanism(m)),
            }
        }
        let file = file(records);
        remarks.log.whole(
            "other_mechanisms_censor",
            "failures by another mechanism censor at the age known",
            Some(&file),
            others,
        );
        if unnamed > 0 {
            remarks.findings.push(
                Finding::note(
                    "mechanism_missing",
                    format!("{unnamed} failures name no mechanism; they censor"),
                )
                .file(&file)
                .column("mechanism")
                .mend("record the mechanism of each failure"),
            );
        }
    }
    Ok(target)
}

pub(crate) fn unknown_mode(mode: &str) -> Error {
    let words: Vec<&str> = Outcome::WORDS
        .iter()
        .filter(|w| !matches!(**w, "in_service" | "unknown"))
        .chain(Mechanism::WORDS)
        .copied()
        .collect();
    let near = nearest(mode, &words).map_or(String::new(), |n| format!("did you mean \"{n}\"? "));
    Error::new(
        Kind::UnknownMode,
        format!("\"{mode}\" is neither an outcome nor a mechanism"),
        format!("{near}they are: {}", words.join(", ")),
    )
}

/// A group column of the seals, or of the assets joined by name.
pub(crate) fn factor(
    records: &Records,
    name: &str,
    remarks: &mut Remarks,
) -> Result<Factor, Error> {
    let Some((table, known)) = &records.seal_table else {
        return Err(keys::unknown(name, &[]));
    };
    let word = normal(name);
    let typed: Option<fn(&Seal) -> Option<&'static str>> = match word.as_str() {
        "material" => Some(|s| s.material.map(|m| m.word())),
        "outcome" => Some(|s| Some(s.outcome.word())),
        "mechanism" => Some(|s| s.mechanism.map(|m| m.word())),
        _ => None,
    };
    if let Some(of) = typed.filter(|_| known.has(&word)) {
        return Ok(Factor::new(
            &word,
            records.seals.iter().map(|s| of(s).map(Cow::Borrowed)),
            remarks,
        ));
    }
    let names = table.names();
    let here = known.theirs(&word).or_else(|| keys::pick(name, &names));
    if let Some(column) = here {
        let cells = Cells::of(table, Some(column));
        return Ok(Factor::new(
            name,
            records.seals.iter().map(|s| cells.text(s.at)),
            remarks,
        ));
    }
    let mut all = names.clone();
    if let Some((assets, known_assets)) = &records.asset_table {
        let theirs = assets.names();
        if let Some(column) = known_assets
            .theirs(&word)
            .or_else(|| keys::pick(name, &theirs))
        {
            return of_assets(records, name, &Cells::of(assets, Some(column)), remarks);
        }
        all.extend(theirs);
    }
    Err(keys::unknown(name, &all))
}

/// A column of the assets, joined to the seals on the asset.
fn of_assets(
    records: &Records,
    name: &str,
    cells: &Cells<'_>,
    remarks: &mut Remarks,
) -> Result<Factor, Error> {
    let broken = |e: PolarsError| keys::unknown(name, &[&e.to_string()]);
    let values = records.assets.iter().map(|a| cells.text(a.at));
    let right = DataFrame::new(
        records.assets.len(),
        vec![
            Column::new(
                "asset".into(),
                records
                    .assets
                    .iter()
                    .map(|a| a.asset.as_str())
                    .collect::<Vec<_>>(),
            ),
            Column::new(
                "value".into(),
                values
                    .collect::<Vec<Option<Cow<'_, str>>>>()
                    .iter()
                    .map(|v| v.as_deref())
                    .collect::<Vec<_>>(),
            ),
        ],
    )
    .map_err(broken)?;
    let assets: Vec<Option<&str>> = records.seals.iter().map(|s| s.asset.as_deref()).collect();
    let left =
        DataFrame::new(assets.len(), vec![Column::new("asset".into(), assets)]).map_err(broken)?;
    let mut args = JoinArgs::new(JoinType::Left);
    args.maintain_order = MaintainOrderJoin::Left;
    let joined = left
        .join(&right, ["asset"], ["asset"], args, None)
        .map_err(broken)?;
    let column = joined.column("value").map_err(broken)?;
    let value = Cells::of_column(column, false);
    Ok(Factor::new(
        name,
        (0..joined.height()).map(|at| value.text(at)),
        remarks,
    ))
}
