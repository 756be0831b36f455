//! Everything read, and what can be asked of it without a question.

use crate::asset::{Asset, Assets};
use crate::columns::Known;
use crate::decision::Decision;
use crate::error::{Error, Kind};
use crate::finding::{Finding, SetAside};
use crate::inspection::Inspection;
use crate::life::Life;
use crate::notes::Notes;
use crate::seal::Seal;
use crate::study::Study;
use crate::table::{Source, Table};
use crate::words::nearest;
use jiff::civil::Date;

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
    /// Rows of the table of lives, blank lines apart; always used + set aside.
    pub rows_read: u64,
    /// The seals that are used (form `Seals`).
    pub seals: Vec<Seal>,
    /// The lives (form `Life`), one a row, or one a distinct observation where they were counted while they were read.
    pub life: Option<Life>,
    /// The inspections that could be read, in the order of the table.
    pub inspections: Vec<Inspection>,
    /// The assets that could be read, in the order of the table.
    pub assets: Vec<Asset>,
    /// What was found, gravest first; of one kind, file and column the first 50 one by one, the rest as one finding.
    pub findings: Vec<Finding>,
    /// What was assumed, in order.
    pub decisions: Vec<Decision>,
    /// Last day the records cover (form `Seals`; `None` for plain lives).
    pub cut_off: Option<Date>,
    /// The files read: the study, the table of lives, assets, inspections, as far as there are such.
    pub sources: Vec<Source>,
    /// Rows of the table of lives that are not used on any clock, by row.
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
    pub(super) fn empty(form: Form, study: Study, rows_read: u64, sources: Vec<Source>) -> Self {
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

    /// Rows of the table of lives that are used: those read less those set aside while reading. A question may set more
    /// aside (readings that are missing on a clock of usage).
    #[must_use]
    pub fn rows_used(&self) -> u64 {
        self.rows_read - self.set_aside.len() as u64
    }

    /// Every column a question can group by, by the files' own names: of the table of lives (of plain lives those
    /// that are no ages or counts, and where they were counted while they were read those asked for), then of the assets.
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

    /// The seals that are used and were fitted to an asset, in the order of the table; the name as the table spells it.
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

    /// With what was found and assumed while reading.
    pub(super) fn with_notes(mut self, mut notes: Notes) -> Self {
        notes.set_aside.sort_by_key(|s| s.row);
        self.findings = notes.findings.finish();
        self.decisions = notes.log.finish();
        self.set_aside = notes.set_aside;
        self.context_set_aside = notes.context_set_aside;
        self.refusal = notes.refusal;
        self
    }
}
