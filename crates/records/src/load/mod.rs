//! From a path to records: the study, its tables, and what was found in them.

mod options;
mod records;
mod study_or_table;

pub use options::{LoadOptions, Needs, Progress, ProgressHook};
pub use records::{Form, Records};

use crate::dates::Span;
use crate::error::{Error, Kind};
use crate::notes::Notes;
use crate::read;
use jiff::civil::Date;
use std::path::Path;
use study_or_table::{Paths, form_of, study_or_table};

/// Reads a study file with the tables it names, or a bare table in the `seals` or `life` form, told apart by the columns.
///
/// # Errors
/// When a file is missing, unreadable, damaged, too large or without a row, was written to meanwhile, or lacks a needed
/// column; when the study has a fault, names no table of lives, or prices a group that there is none of; for a folder,
/// when no [`needs`](LoadOptions::needs) are given or its files are not one table of plain lives in Parquet; when no row
/// of plain lives can be read. Faults of single rows are findings instead, and what must be settled before any question
/// is kept as [`Records::refusal`].
pub fn load(path: &Path, options: &LoadOptions) -> Result<Records, Error> {
    let silent = |_: Progress| {};
    let progress: &(dyn Fn(Progress) + Sync) = match &options.progress {
        Some(hook) => &**hook,
        None => &silent,
    };
    let (study, paths, mut sources) = study_or_table(path, options.needs.is_some(), progress)?;
    let mut notes = Notes::default();
    let main = paths
        .seals
        .as_ref()
        .or(paths.life.as_ref())
        .ok_or_else(|| {
            Error::new(
                Kind::Study,
                "the study names no table of lives",
                "name one under [files]: seals = \"...\" or life = \"...\"",
            )
            .in_file(path)
            .in_column("files.seals")
        })?;
    let sheet = if paths.seals.is_some() {
        &study.sheets.seals
    } else {
        &study.sheets.life
    };
    let bare = sources.is_empty();
    if let Some(needs) = &options.needs
        && let Some(outline) = countable(main, &paths, bare)?
    {
        let (life, source) = crate::stream::read(outline, needs, &study, progress, &mut notes)?;
        let rows = source.rows;
        sources.push(source);
        let mut records = Records::empty(Form::Life, study, rows, sources);
        context(&mut records, &paths, options, progress, &mut notes)?;
        crate::survey::life(&life, &mut notes);
        records.life = Some(life);
        return finish(records, notes, path);
    }
    let mut table = read::table(main, sheet.as_deref(), progress)?;
    table.check_filled()?;
    crate::missing::clear(&mut table, &study.words);
    notes.take(&mut table, true);
    let form = form_of(&table, &paths, bare)?;
    sources.push(table.source(if form == Form::Seals { "seals" } else { "life" }));
    let mut records = Records::empty(form, study, table.rows_read(), sources);
    context(&mut records, &paths, options, progress, &mut notes)?;
    match form {
        Form::Life => {
            let life = crate::life::read(table, &records.study, &mut notes)?;
            crate::survey::life(&life, &mut notes);
            records.life = Some(life);
        }
        Form::Seals => crate::fleet::read(table, &mut records, options, &mut notes)?,
    }
    finish(records, notes, path)
}

fn finish(records: Records, notes: Notes, path: &Path) -> Result<Records, Error> {
    let records = records.with_notes(notes);
    crate::own_prices::check(&records).map_err(|e| e.in_file(path))?;
    Ok(records)
}

/// The columns of a table of plain lives that can be counted while it is read.
fn countable(
    main: &Path,
    paths: &Paths,
    bare: bool,
) -> Result<Option<crate::stream::Outline>, Error> {
    if !crate::stream::is_parquet(main)? {
        return Ok(None);
    }
    let outline = crate::stream::outline(main)?;
    if form_of(&outline.table, paths, bare)? == Form::Life {
        return Ok(Some(outline));
    }
    if main.is_dir() {
        return Err(Error::new(
            Kind::Directory,
            "a table of seals is not read from a folder: every seal is followed by its own rows",
            "give the seals as one file; or reduce them to lives first (time and status, or lower and upper)",
        )
        .in_file(main));
    }
    Ok(None)
}

/// Reads the assets and inspections of a study.
fn context(
    records: &mut Records,
    paths: &Paths,
    options: &LoadOptions,
    progress: &(dyn Fn(Progress) + Sync),
    notes: &mut Notes,
) -> Result<(), Error> {
    if let Some(path) = &paths.assets {
        let mut table = read::table(path, records.study.sheets.assets.as_deref(), progress)?;
        crate::missing::clear(&mut table, &records.study.words);
        notes.take(&mut table, false);
        let (assets, known) = crate::asset::read(&table, &records.study, notes)?;
        records.sources.push(table.source("assets"));
        records.assets.clone_from(&assets.list);
        records.asset_index = assets;
        records.asset_table = Some((table, known));
    }
    if let Some(path) = &paths.inspections {
        let mut table = read::table(path, records.study.sheets.inspections.as_deref(), progress)?;
        crate::missing::clear(&mut table, &records.study.words);
        notes.take(&mut table, false);
        records.inspections =
            crate::inspection::read(&table, &records.study, options.today, notes)?;
        records.sources.push(table.source("inspections"));
    }
    Ok(())
}

/// The latest of some dates, as surely reached, not after `today`.
pub(crate) fn latest(dates: impl Iterator<Item = Span>, today: Option<Date>) -> Option<Date> {
    dates
        .map(|d| d.first())
        .filter(|d| today.is_none_or(|t| *d <= t))
        .max()
}
