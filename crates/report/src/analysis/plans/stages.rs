//! Two stages from a group's inspection histories, or why the log cannot tell them and one must do.

use crate::wire::defects::DoubtRow;
use sealspan_life::bounds::Bounds;
use sealspan_life::defects::doubts::{Doubt, TRUSTED, doubts};
use sealspan_life::defects::goodness::by_look;
use sealspan_life::defects::{
    Counts, DefectDraw, DefectDraws, DefectFit, DefectQuantity, Model, StageLaw, fit,
};
use sealspan_life::quantity::Quantity;
use sealspan_records::histories::HistoryGroup;

/// The defect model of a group, with what it leaves open.
pub struct Stages {
    /// The model at the middle of what is possible: medians of the draws where detection is at its edge,
    /// else the maximum of the likelihood.
    pub centre: DefectDraw,
    /// What the log leaves possible.
    pub draws: Vec<DefectDraw>,
    /// What the log does not tell, or tells badly.
    pub doubts: Vec<DoubtRow>,
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
pub fn stages(
    group: &HistoryGroup,
    detection: Option<f64>,
    confidence: f64,
    count: usize,
    seed: u64,
) -> Result<Stages, OneStage> {
    let counts = Counts::of(&group.histories);
    let few = |n: f64| {
        if n < TRUSTED {
            StageLaw::Exponential
        } else {
            StageLaw::Weibull
        }
    };
    let model = Model {
        defect: few(counts.failed + counts.found),
        delay: few(counts.failed),
        detection,
    };
    let one = |reason: String, cure: &str, doubts: Vec<DoubtRow>| OneStage {
        reason,
        cure: cure.to_owned(),
        doubts,
    };
    let fitted = fit(model, group.histories.clone())
        .map_err(|why| one(why.to_string(), why.cure(), vec![]))?;
    let draws = DefectDraws::new(&fitted, seed).map_err(|why| {
        one(
            why.to_string(),
            "go on recording looks and failures",
            vec![],
        )
    })?;
    let found = open(&fitted, &draws, group.spacing, confidence);
    let rows: Vec<DoubtRow> = found.iter().map(row).collect();
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
    let centre = centre(&fitted, &draws).ok_or_else(|| {
        one(
            "the defect model has no middle to plan by".to_owned(),
            "go on recording looks and failures",
            rows.clone(),
        )
    })?;
    Ok(Stages {
        centre,
        draws: list,
        doubts: rows,
    })
}

fn row(d: &Doubt) -> DoubtRow {
    DoubtRow {
        kind: d.kind,
        message: d.message.clone(),
        mend: d.cure,
    }
}

/// The doubts, by intervals of the draws.
fn open(fit: &DefectFit, draws: &DefectDraws, spacing: Option<f64>, confidence: f64) -> Vec<Doubt> {
    let bounds = |quantity: DefectQuantity| {
        let tail = 0.5 - 0.5 * confidence;
        let ends = draws.quantiles(quantity, &[tail, 1.0 - tail]);
        let end = |i: usize| ends.get(i).copied().flatten();
        Bounds {
            lower: end(0),
            upper: end(1),
        }
    };
    doubts(
        fit,
        bounds(DefectQuantity::Detection),
        bounds(DefectQuantity::Delay(Quantity::Mean)),
        spacing,
        &by_look(fit),
    )
}

/// Where looks that miss nothing fit best, detection at its median: a maximum at the edge is no middle.
fn centre(fit: &DefectFit, draws: &DefectDraws) -> Option<DefectDraw> {
    let (defect, delay) = fit.lives()?;
    let detection = if fit.detection_at_edge {
        let median = draws.quantiles(DefectQuantity::Detection, &[0.5]);
        median.first().copied().flatten()?
    } else {
        fit.detection()
    };
    Some(DefectDraw {
        defect,
        delay,
        detection,
    })
}
