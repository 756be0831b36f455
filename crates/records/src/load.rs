//! From a path to records: the study, its tables, and what was found in them.

use crate::asset::{Asset, Assets};
use crate::columns::Known;
use crate::dates::Span;
use crate::decision::Decision;
use crate::error::{Error, Kind};
use crate::finding::{Finding, SetAside};
use crate::inspection::Inspection;
use crate::life::Life;
use crate::notes::Notes;
use crate::read;
use crate::seal::Seal;
use crate::study::Study;
use crate::table::{Source, Table};
use crate::words::{nearest, normal};
use jiff::civil::Date;
use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How far a reading has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// What is being done.
    pub stage: &'static str,
    /// Bytes or rows done.
    pub done: u64,
    /// Bytes or rows in all.
    pub total: u64,
}

/// Told now and then how far the reading has come.
pub type ProgressHook = Arc<dyn Fn(Progress) + Send + Sync>;

/// What a reading needs besides the path. The clock of the machine is never read.
#[derive(Clone, Default)]
pub struct LoadOptions {
    /// Today; dates after it are in the future. Unchecked when not given.
    pub today: Option<Date>,
    /// Last day the records cover; goes before the study's own.
    pub cut_off: Option<Date>,
    /// Told how far the reading has come.
    pub progress: Option<ProgressHook>,
    /// What a question needs. When given, plain lives in Parquet are counted while they are read, and a folder of
    /// Parquet files is read as one table.
    pub needs: Option<Needs>,
}

/// What a question needs of plain lives besides ages and endings.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Needs {
    /// Columns to group by; the study's own when there are none.
    pub by: Vec<String>,
    /// Whether modes are told apart, which a study may ask for too.
    pub mode: bool,
}

impl fmt::Debug for LoadOptions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("LoadOptions")
            .field("today", &self.today)
            .field("cut_off", &self.cut_off)
            .field("needs", &self.needs)
            .finish_non_exhaustive()
    }
}

/// Which table of lives the records rest on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// One row a fitted seal, with dates.
    Seals,
    /// Plain life data, with ages.
    Life,
}

/// Everything read, and everything found while reading.
#[derive(Debug, Clone)]
pub struct Records {
    /// Which form the lives have.
    pub form: Form,
    /// The study; all defaults for a bare table.
    pub study: Study,
    /// Rows of the table of lives; always used + set aside.
    pub rows_read: u64,
    /// The seals that are used (form `Seals`).
    pub seals: Vec<Seal>,
    /// The lives (form `Life`).
    pub life: Option<Life>,
    /// The inspections that could be read.
    pub inspections: Vec<Inspection>,
    /// The assets that could be read.
    pub assets: Vec<Asset>,
    /// What was found, gravest first.
    pub findings: Vec<Finding>,
    /// What was assumed, in order.
    pub decisions: Vec<Decision>,
    /// Last day the records cover (form `Seals`).
    pub cut_off: Option<Date>,
    /// The files read.
    pub sources: Vec<Source>,
    /// Rows of the table of lives that are not used.
    pub set_aside: Vec<SetAside>,
    /// Rows of inspections and assets that are not used.
    pub context_set_aside: Vec<SetAside>,
    /// Why no question can be answered before something is settled (two date orders in a column,
    /// dates of an unknown epoch, an unreadable column).
    pub refusal: Option<Error>,
    pub(crate) seal_table: Option<(Table, Known)>,
    pub(crate) asset_table: Option<(Table, Known)>,
    pub(crate) asset_index: Assets,
}

impl Records {
    fn empty(form: Form, study: Study, rows_read: u64, sources: Vec<Source>) -> Self {
        Self {
            form,
            rows_read,
            seals: Vec::new(),
            life: None,
            inspections: Vec::new(),
            assets: Vec::new(),
            findings: Vec::new(),
            decisions: Vec::new(),
            cut_off: None,
            sources,
            set_aside: Vec::new(),
            context_set_aside: Vec::new(),
            refusal: None,
            seal_table: None,
            asset_table: None,
            asset_index: Assets::default(),
            study,
        }
    }

    /// Rows of the table of lives that are used on the calendar clock.
    #[must_use]
    pub fn rows_used(&self) -> u64 {
        self.rows_read - self.set_aside.len() as u64
    }

    /// Every column a question can group by, by the files' own names: of the table of lives, then
    /// of the assets.
    #[must_use]
    pub fn columns(&self) -> Vec<String> {
        let life = self.life.as_ref().map(|l| l.table.names());
        let seals = self.seal_table.as_ref().map(|(t, _)| t.names());
        let assets = self.asset_table.as_ref().map(|(t, _)| t.names());
        let mut out: Vec<String> = Vec::new();
        for name in [life, seals, assets].into_iter().flatten().flatten() {
            if !out.iter().any(|n| n == name) {
                out.push(name.to_owned());
            }
        }
        out
    }

    /// The seals fitted to an asset, in the order of the table.
    ///
    /// # Errors
    /// When no seal that is used is on an asset of that name.
    pub fn seals_on(&self, asset: &str) -> Result<Vec<&Seal>, Error> {
        let named = |s: &&Seal| s.asset.as_deref() == Some(asset);
        let own: Vec<&Seal> = self.seals.iter().filter(named).collect();
        if !own.is_empty() {
            return Ok(own);
        }
        let mut all: Vec<&str> = self
            .seals
            .iter()
            .filter_map(|s| s.asset.as_deref())
            .collect();
        all.sort_unstable();
        all.dedup();
        let near = nearest(asset, &all).map_or(String::new(), |n| format!("did you mean {n}? "));
        Err(Error::new(
            Kind::NothingLeft,
            format!("no seal in use is on an asset \"{asset}\""),
            format!("{near}name an asset as the table of seals does"),
        ))
    }

    /// The columns of the assets, by the file's own names; none where there is no such table.
    #[must_use]
    pub fn asset_columns(&self) -> Vec<String> {
        let names = self.asset_table.iter().flat_map(|(t, _)| t.names());
        names.map(ToOwned::to_owned).collect()
    }
}

/// Where the tables of a study are.
#[derive(Debug, Default)]
struct Paths {
    seals: Option<PathBuf>,
    life: Option<PathBuf>,
    inspections: Option<PathBuf>,
    assets: Option<PathBuf>,
}

/// Reads a study file, or a bare table in the `seals` or `life` form.
///
/// # Errors
/// When a file is missing, unreadable, damaged or empty, or lacks a needed column. Faults of
/// single rows are findings instead.
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
    let records = close(records, notes);
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

fn close(mut records: Records, mut notes: Notes) -> Records {
    notes.set_aside.sort_by_key(|s| s.row);
    records.findings = notes.findings.finish();
    records.decisions = notes.log.finish();
    records.set_aside = notes.set_aside;
    records.context_set_aside = notes.context_set_aside;
    records.refusal = notes.refusal;
    records
}

/// The study and its paths; a bare table stands as a study of one file.
fn study_or_table(
    path: &Path,
    folders: bool,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<(Study, Paths, Vec<Source>), Error> {
    let bare = || Paths {
        seals: Some(path.to_path_buf()),
        ..Paths::default()
    };
    if folders && path.is_dir() {
        return Ok((Study::default(), bare(), Vec::new()));
    }
    let file = read::Opened::open(path)?;
    if !is_study(path, file.head()) {
        return Ok((Study::default(), bare(), Vec::new()));
    }
    if file.size() > read::LARGEST_STUDY {
        return Err(Error::new(
            Kind::TooLarge,
            format!("the study file is larger than {} MiB", read::LARGEST_STUDY >> 20),
            "a study names tables and prices; the records themselves go into a table (CSV, Parquet, XLSX)",
        )
        .in_file(path));
    }
    let input = read::Input {
        path,
        sheet: None,
        progress,
    };
    let decoded = read::read_text(&input, file)?;
    let study = Study::parse(&decoded.text, path)?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let at = |p: &Option<PathBuf>| p.as_ref().map(|p| folder.join(p));
    let paths = Paths {
        seals: at(&study.files.seals),
        life: at(&study.files.life),
        inspections: at(&study.files.inspections),
        assets: at(&study.files.assets),
    };
    let source = Source {
        role: "study",
        path: path.to_path_buf(),
        bytes: decoded.bytes,
        sha256: decoded.sha256,
        format: "TOML",
        encoding: Some(decoded.encoding),
        rows: 0,
    };
    Ok((study, paths, vec![source]))
}

/// True for a `.toml` file that is no binary table, and for text that opens like a study.
fn is_study(path: &Path, head: &[u8]) -> bool {
    if head.starts_with(b"PAR1") || head.starts_with(b"PK\x03\x04") {
        return false;
    }
    if path
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("toml"))
    {
        return true;
    }
    let text = String::from_utf8_lossy(head);
    let first = text
        .trim_start_matches('\u{feff}')
        .lines()
        .map(str::trim)
        .find(|l| !l.is_empty() && !l.starts_with('#'));
    first.is_some_and(|line| {
        let section = line.starts_with('[') && line.ends_with(']');
        let key = line.split_once('=').map(|(k, _)| k.trim());
        section
            || key.is_some_and(|k| {
                ["title", "currency", "invented", "cut_off", "records_from"].contains(&k)
            })
    })
}

/// Which form a table has: as the study says, else by its columns.
fn form_of(table: &Table, paths: &Paths, bare: bool) -> Result<Form, Error> {
    if !bare {
        return Ok(if paths.seals.is_some() {
            Form::Seals
        } else {
            Form::Life
        });
    }
    let names: Vec<String> = table.names().iter().map(|n| normal(n)).collect();
    let has = |name: &str| names.iter().any(|n| n == name);
    if has("fitted") && (has("removed") || has("outcome")) {
        Ok(Form::Seals)
    } else if has("time") || has("lower") || has("upper") {
        Ok(Form::Life)
    } else {
        Err(Error::new(
            Kind::MissingColumn,
            "the table is neither seals nor plain lives",
            format!(
                "a table of seals has fitted, removed and outcome; a table of lives has time and \
                 status, or lower and upper; this one has: {}. A study file can map the names",
                table.names().join(", ")
            ),
        )
        .in_file(&table.path)
        .at_row(1))
    }
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
