//! The records as polars tables.

use jiff::civil::Date;
use polars::prelude::{Column, DataFrame, IntoColumn, NamedFrom, PolarsResult, Series};

use super::error::ScenarioError;
use super::rows::{Fleet, InspectionRow, SealRow};

/// The three record tables.
#[derive(Debug, Clone)]
pub struct Frames {
    /// One row a seal.
    pub seals: DataFrame,
    /// One row a look.
    pub inspections: DataFrame,
    /// One row a tank.
    pub assets: DataFrame,
}

impl Fleet {
    /// The records as tables. Dates are text, because some are written to the month or quarter.
    ///
    /// # Errors
    /// When two columns of a table carry the same name.
    pub fn frames(&self) -> Result<Frames, ScenarioError> {
        let build = |table: &'static str, columns: PolarsResult<DataFrame>| {
            columns.map_err(|source| ScenarioError::table(table, source))
        };
        let mut frames = Frames {
            seals: build("seals", seals(&self.seals))?,
            inspections: build("inspections", inspections(&self.inspections))?,
            assets: build("assets", self.assets())?,
        };
        for (table, ours, written) in &self.renamed {
            let (name, frame) = match table.as_str() {
                "seals" => ("seals", &mut frames.seals),
                "inspections" => ("inspections", &mut frames.inspections),
                _ => ("assets", &mut frames.assets),
            };
            frame
                .rename(ours, written.as_str().into())
                .map_err(|source| ScenarioError::table(name, source))?;
        }
        Ok(frames)
    }

    fn assets(&self) -> PolarsResult<DataFrame> {
        let rows = &self.assets;
        let mut columns = vec![
            text("asset", rows, |r| Some(r.asset.clone())),
            text("site", rows, |r| Some(r.site.clone())),
            text("model", rows, |r| Some(r.model.clone())),
            text("records_from", rows, |r| Some(r.records_from.to_string())),
            text("records_to", rows, |r| Some(r.records_to.to_string())),
            number("temperature_c", rows, |r| r.temperature_c),
            whole("current_reading", rows, |r| Some(r.current_reading)),
        ];
        for (place, name) in self.conditions.iter().enumerate() {
            columns.push(text(name, rows, |r| {
                r.conditions.get(place).cloned().flatten()
            }));
        }
        DataFrame::new(rows.len(), columns)
    }
}

fn seals(rows: &[SealRow]) -> PolarsResult<DataFrame> {
    let columns = vec![
        text("seal", rows, |r| Some(r.seal.clone())),
        text("asset", rows, |r| Some(r.asset.clone())),
        text("position", rows, |r| r.position.clone()),
        text("material", rows, |r| Some(r.material.clone())),
        text("part_no", rows, |r| Some(r.part_no.clone())),
        text("batch", rows, |r| Some(r.batch.clone())),
        text("cure_date", rows, |r| Some(r.cure_date.clone())),
        text("supplier", rows, |r| Some(r.supplier.clone())),
        text("fitted", rows, |r| r.fitted.map(|date| date.to_string())),
        whole("fitted_reading", rows, |r| r.fitted_reading),
        text("removed", rows, |r| r.removed.map(|date| date.to_string())),
        whole("removed_reading", rows, |r| r.removed_reading),
        text("last_known_good", rows, |r| r.last_known_good.map(day)),
        text("outcome", rows, |r| Some(r.outcome.clone())),
        text("mechanism", rows, |r| r.mechanism.clone()),
        whole("sector", rows, |r| r.sector),
    ];
    DataFrame::new(rows.len(), columns)
}

fn inspections(rows: &[InspectionRow]) -> PolarsResult<DataFrame> {
    let columns = vec![
        text("seal", rows, |r| Some(r.seal.clone())),
        text("asset", rows, |r| Some(r.asset.clone())),
        text("position", rows, |r| Some(r.position.clone())),
        text("date", rows, |r| Some(day(r.date))),
        whole("reading", rows, |r| Some(r.reading)),
        text("finding", rows, |r| Some(r.finding.clone())),
        whole("sector", rows, |r| r.sector),
        whole("turned", rows, |r| Some(r.turned)),
        number("thickness_mm", rows, |r| r.thickness_mm),
    ];
    DataFrame::new(rows.len(), columns)
}

fn day(date: Date) -> String {
    date.to_string()
}

fn text<R>(name: &str, rows: &[R], cell: impl Fn(&R) -> Option<String>) -> Column {
    let cells: Vec<Option<String>> = rows.iter().map(cell).collect();
    Series::new(name.into(), cells).into_column()
}

fn whole<R>(name: &str, rows: &[R], cell: impl Fn(&R) -> Option<i64>) -> Column {
    let cells: Vec<Option<i64>> = rows.iter().map(cell).collect();
    Series::new(name.into(), cells).into_column()
}

fn number<R>(name: &str, rows: &[R], cell: impl Fn(&R) -> f64) -> Column {
    let cells: Vec<f64> = rows.iter().map(cell).collect();
    Series::new(name.into(), cells).into_column()
}
