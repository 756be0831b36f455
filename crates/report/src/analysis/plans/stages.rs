//! Two stages from a group's inspection histories, or why the log cannot tell them and one must do.

use crate::wire::defects::{DoubtRow, regroup};
use sealspan_life::bounds::Bounds;
use sealspan_life::defects::doubts::{Doubt, doubts, strays};
use sealspan_life::defects::goodness::{LookBand, by_look};
use sealspan_life::defects::{
    Counts, DefectDraw, DefectDraws, DefectFit, DefectQuantity, Model, StageLaw, fit,
};
use sealspan_life::quantity::Quantity;
use sealspan_records::histories::HistoryGroup;

/// The defect model of a group, with what it leaves open.
pub struct Stages {
    /// The model at the maximum of the likelihood, or at the middle of the draws.
    pub centre: DefectDraw,
    /// What the log leaves possible.
    pub draws: Vec<DefectDraw>,
    /// The same, all of it, for quantities of its own.
    pub all: DefectDraws,
    /// What the log does not tell, or tells badly.
    pub doubts: Vec<DoubtRow>,
    /// The fit, where its laws are in doubt.
    pub strays: Option<Box<DefectFit>>,
}

/// Why a group has no two stages, and the record that would cure it.
#[derive(Debug, Clone)]
pub struct OneStage {
    /// In words.
    pub reason: String,
    /// In words.
    pub cure: String,
    /// What the log does not tell.
    pub doubts: Vec<DoubtRow>,
}

/// Draws worth fewer independent ones than this are not weighed by.
const EFFECTIVE: f64 = 50.0;

/// Doubts that leave either detection or the delay open: with one of each the log cannot tell a missed
/// defect from a short delay.
const DETECTION_OPEN: [&str; 2] = ["detection_unclear", "confounded"];
const DELAY_OPEN: [&str; 2] = ["delay_unclear", "looks_too_rare"];

/// Fits the defect model of a group; `detection` where it is stated.
///
/// # Errors
/// [`OneStage`], when the log tells too little.
pub(crate) fn stages(
    group: &HistoryGroup,
    detection: Option<f64>,
    confidence: f64,
    count: usize,
    seed: u64,
) -> Result<Stages, OneStage> {
    let counts = Counts::of(&group.histories);
    let model = Model {
        defect: StageLaw::for_ends(counts.failed + counts.found),
        delay: StageLaw::for_ends(counts.failed),
        detection,
    };
    let one = |reason: String, cure: &str, doubts: Vec<DoubtRow>| OneStage {
        reason,
        cure: cure.to_owned(),
        doubts,
    };
    let fitted = fit(model, group.histories.clone())
        .map_err(|why| one(why.to_string(), why.cure(), vec![]))?;
    let draws = DefectDraws::few(&fitted, count, seed).map_err(|why| {
        one(
            why.to_string(),
            "go on recording looks and failures",
            vec![],
        )
    })?;
    let bands = by_look(&fitted);
    let found = open(&fitted, &draws, group.spacing, confidence, &bands);
    let mut rows: Vec<DoubtRow> = found.iter().map(row).collect();
    regroup(&mut rows, group);
    let any = |kinds: &[&str]| found.iter().any(|d| kinds.contains(&d.kind));
    if any(&DETECTION_OPEN) && any(&DELAY_OPEN) {
        let cure = found.iter().find(|d| DETECTION_OPEN.contains(&d.kind));
        return Err(one(
            "the log cannot tell defects that looks miss from defects that leak soon: detection and delay are confounded".to_owned(),
            cure.map_or("look again soon after some sound looks", |d| d.cure),
            rows,
        ));
    }
    if draws.effective < EFFECTIVE {
        return Err(one(
            format!(
                "the draws of the defect model are worth only {:.0} independent ones",
                draws.effective
            ),
            "go on recording; pool like groups",
            rows,
        ));
    }
    let list = draws.draws(count);
    let centre = centre(&fitted, &list).ok_or_else(|| {
        one(
            "the defect model has no middle to plan by".to_owned(),
            "go on recording looks and failures",
            rows.clone(),
        )
    })?;
    Ok(Stages {
        centre,
        draws: list,
        all: draws,
        doubts: rows,
        strays: strays(&fitted, &bands).map(|_| Box::new(fitted)),
    })
}

fn row(d: &Doubt) -> DoubtRow {
    DoubtRow {
        kind: d.kind,
        message: d.message.clone(),
        mend: d.cure.to_owned(),
    }
}

/// The doubts, by intervals of the draws.
fn open(
    fit: &DefectFit,
    draws: &DefectDraws,
    spacing: Option<f64>,
    confidence: f64,
    bands: &[LookBand],
) -> Vec<Doubt> {
    let bounds = |quantity: DefectQuantity| {
        let tail = 0.5 - 0.5 * confidence;
        let ends = draws.quantiles(quantity, &[tail, 1.0 - tail]);
        let end = |i: usize| ends.get(i).copied().flatten();
        Bounds {
            lower: end(0),
            upper: end(1),
            ..Bounds::default()
        }
    };
    doubts(
        fit,
        bounds(DefectQuantity::Detection),
        bounds(DefectQuantity::Delay(Quantity::Mean)),
        spacing,
        bands,
    )
}

/// The maximum of the likelihood; where that is at an edge (looks that miss nothing, delays all alike) and no middle, the
/// draw nearest to the medians of all.
fn centre(fit: &DefectFit, list: &[DefectDraw]) -> Option<DefectDraw> {
    if !fit.at_edge() {
        let (defect, delay) = fit.lives()?;
        return Some(DefectDraw {
            defect,
            delay,
            detection: fit.detection(),
        });
    }
    let places: Vec<[f64; 4]> = list.iter().map(place).collect();
    let middle = [0, 1, 2, 3].map(|i| {
        let mut all: Vec<f64> = places.iter().filter_map(|p| p.get(i).copied()).collect();
        all.sort_by(f64::total_cmp);
        let at = |share: f64| {
            let rank = (share * all.len() as f64) as usize;
            all.get(rank.min(all.len().max(1) - 1))
                .copied()
                .unwrap_or(0.0)
        };
        (at(0.5), (at(0.75) - at(0.25)).max(1e-9))
    });
    let off = |p: &[f64; 4]| -> f64 {
        let parts = p.iter().zip(&middle);
        parts
            .map(|(x, (at, width))| ((x - at) / width).powi(2))
            .sum()
    };
    let ranked = list.iter().zip(&places);
    ranked
        .min_by(|a, b| off(a.1).total_cmp(&off(b.1)))
        .map(|(draw, _)| draw.clone())
}

/// A draw as ln of the mean ages, the spread of the defect's age, and the logit of detection.
fn place(draw: &DefectDraw) -> [f64; 4] {
    let spread = draw.defect.quantile(0.9) / draw.defect.quantile(0.1);
    [
        draw.defect.mean().ln(),
        spread.ln(),
        draw.delay.mean().ln(),
        (draw.detection / (1.0 - draw.detection)).ln(),
    ]
}
