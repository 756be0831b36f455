//! The `assets` table: one row a piece of equipment.

use crate::dates::Span;
use crate::error::Error;
use crate::fields::Fields;
use crate::finding::Finding;
use crate::notes::Notes;
use crate::study::Study;
use crate::table::Table;
use std::collections::BTreeMap;

/// Our columns of the assets.
pub(crate) const COLUMNS: &[&str] = &[
    "asset",
    "site",
    "model",
    "records_from",
    "records_to",
    "current_reading",
];

/// One asset.
#[derive(Debug, Clone, PartialEq)]
pub struct Asset {
    /// Its place in the table read, from 0.
    pub(crate) at: usize,
    /// The file's own row number.
    pub row: u64,
    /// Its name.
    pub asset: String,
    /// Its site.
    pub site: Option<String>,
    /// Its model.
    pub model: Option<String>,
    /// When its records begin; where `None`, as the study says.
    pub records_from: Option<Span>,
    /// When its records end; where `None`, at the cut-off.
    pub records_to: Option<Span>,
    /// Its counter or hour meter at the end of the records, in cycles or hours, 0 or more.
    pub current_reading: Option<f64>,
}

/// Assets in the file's order, findable by name.
#[derive(Debug, Clone, Default)]
pub(crate) struct Assets {
    pub(crate) list: Vec<Asset>,
    by_name: BTreeMap<String, usize>,
}

impl Assets {
    pub(crate) fn get(&self, name: &str) -> Option<&Asset> {
        self.by_name.get(name).and_then(|at| self.list.get(*at))
    }
}

/// Reads the assets; rows without a name and second rows of an asset are set aside.
pub(crate) fn read(
    table: &Table,
    study: &Study,
    notes: &mut Notes,
) -> Result<(Assets, crate::columns::Known), Error> {
    let dates = ["records_from", "records_to"];
    let fields = Fields::new(
        table,
        COLUMNS,
        &dates,
        &study.columns.assets,
        "assets",
        study,
        notes,
    )?;
    if !fields.known.has("asset") {
        return Err(crate::columns::lacking(
            table,
            "asset",
            "which names each row",
        ));
    }
    let mut assets = Assets::default();
    for at in 0..fields.height() {
        match one(&fields, at, &assets, notes) {
            Ok(asset) => {
                assets
                    .by_name
                    .insert(asset.asset.clone(), assets.list.len());
                assets.list.push(asset);
            }
            Err(finding) => notes.context_aside(*finding),
        }
    }
    Ok((assets, fields.known))
}

fn one(
    fields: &Fields<'_>,
    at: usize,
    seen: &Assets,
    notes: &mut Notes,
) -> Result<Asset, Box<Finding>> {
    let name = fields.text("asset", at).ok_or_else(|| {
        let finding = Finding::error("asset_missing", "the row names no asset")
            .mend("name the asset, or delete the row");
        fields.place(finding, "asset", at)
    })?;
    if let Some(first) = seen.get(&name) {
        let finding = Finding::error(
            "duplicate_asset",
            format!("asset {name} stands in row {} already", first.row),
        )
        .mend("keep one row for each asset");
        return Err(fields.place(finding, "asset", at));
    }
    let records_from = fields.date("records_from", at)?;
    let records_to = fields.date("records_to", at)?;
    if let (Some(from), Some(to)) = (records_from, records_to)
        && to.last() < from.first()
    {
        let finding = Finding::error(
            "records_end_before_start",
            format!("records end on {to}, before they begin on {from}"),
        )
        .mend("correct one of the two dates");
        return Err(fields.place(finding, "records_to", at));
    }
    Ok(Asset {
        at,
        row: fields.row(at),
        site: fields.text("site", at),
        model: fields.text("model", at),
        records_from,
        records_to,
        current_reading: fields.amount("current_reading", at, notes),
        asset: name,
    })
}
