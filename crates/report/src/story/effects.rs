//! Figures of the regression: what shortens or lengthens life, life against temperature, and whether the law holds.

use super::forest::{Frame, Ratio, forest as draw};
use crate::analysis::heat::Heat;
use crate::analysis::run::Results;
use crate::analysis::screen::Screened;
use crate::chart::{Axis, Chart, Layer, Mark, Marker, Stroke, Tone};
use crate::column::spoken;
use crate::number;
use crate::scale::ARRHENIUS_PAPER;

/// Conditions shown in one forest.
const MOST: usize = 15;

/// A condition in words: "EPDM, product dry hopped".
pub fn condition(s: &Screened) -> String {
    let own = format!("{} {}", spoken(&s.column), s.level);
    match &s.within {
        Some((_, group)) => format!("{group}, {own}"),
        None => own,
    }
}

/// Life ratios of the conditions that stand out, each within the others.
pub fn forest(results: &Results) -> Option<Chart> {
    let screen = results.screen.found()?;
    let shown: Vec<&Screened> = screen.found.iter().take(MOST).collect();
    if shown.is_empty() {
        return None;
    }
    let alt = format!(
        "Life ratios with confidence intervals of {}; 1 means as long as without the condition.",
        shown
            .iter()
            .map(|s| condition(s))
            .collect::<Vec<_>>()
            .join("; ")
    );
    let note = format!(
        "Bars: {} confidence intervals; they allow for seals of one asset being alike. Held constant: {}.",
        number::level(results.confidence),
        super::words::held(&screen.adjusted_for)
    );
    let ratio = |s: &&Screened| Ratio {
        text: condition(s),
        estimate: s.life_ratio,
        ends: (s.lower, s.upper),
    };
    let frame = Frame {
        id: "conditions",
        title: "What shortens or lengthens life, each condition judged within all the others",
        axis: "life with the condition over life without it",
        one: "no effect",
        holds: (0.8, 1.25),
    };
    Some(draw(&frame, shown.iter().map(ratio).collect(), alt, note))
}

/// Life against temperature on paper where the Arrhenius law is a straight line.
pub fn arrhenius(results: &Results) -> Option<Chart> {
    let heat = results.heat.as_ref()?;
    let edge = |f: fn(&crate::analysis::heat::AtHeat) -> f64| -> Vec<(f64, f64)> {
        heat.line.iter().map(|p| (p.celsius, f(p))).collect()
    };
    let marks: Vec<Mark> = heat
        .points
        .iter()
        .map(|p| Mark {
            y_interval: Some((p.lower, p.upper)),
            ..Mark::at(p.celsius, p.median)
        })
        .collect();
    let kj = crate::wire::compare::KJ_PER_MOL;
    let (ev, low, high) = heat
        .energy_allowing_for_scatter_ev
        .unwrap_or(heat.energy_ev);
    let width = kj * (high - low);
    let allowing = match (heat.scatter, heat.energy_allowing_for_scatter_ev) {
        (Some(s), Some(_)) => format!(
            ", allowing for what else differs between the {} temperatures, which scatter about the line more than chance has it; {} to {} by the seals alone",
            s.temperatures,
            number::to_width(kj * heat.energy_ev.1, width),
            number::to_width(kj * heat.energy_ev.2, width)
        ),
        _ => String::new(),
    };
    let all = || heat.line.iter().chain(&heat.points);
    let bottom = all().map(|p| p.lower).fold(f64::INFINITY, f64::min);
    let top = all().map(|p| p.upper).fold(0.0, f64::max);
    let (cold, hot) = (heat.line.first()?.celsius, heat.line.last()?.celsius);
    Some(Chart {
        id: "temperature".into(),
        title: format!(
            "{}: half-failed age against temperature, on paper where the Arrhenius law is a straight line",
            heat.group
        ),
        alt: format!(
            "Median life of {} seals against {}, each temperature by itself with its interval, and the Arrhenius line with its confidence band.",
            heat.group,
            spoken(&heat.column)
        ),
        x: Axis::new("temperature", "°C", ARRHENIUS_PAPER).over(cold - 2.0, hot + 2.0),
        y: Axis::log("age by which half have failed", results.unit).over(bottom * 0.9, top * 1.1),
        layers: vec![
            Layer::Band {
                name: "confidence band of the line".into(),
                lower: edge(|p| p.lower),
                upper: edge(|p| p.upper),
                tone: Tone::Group(0),
                stepped: false,
            },
            Layer::Line {
                name: "Arrhenius line".into(),
                points: edge(|p| p.median),
                stroke: Stroke::solid(Tone::Group(0)),
                label: Some("Arrhenius line".into()),
            },
            Layer::Points {
                name: "each temperature by itself".into(),
                marks,
                tone: Tone::Ink,
                marker: Marker::Ring,
                label: Some("each temperature by itself".into()),
            },
        ],
        at_risk: None,
        notes: doubts(heat).into_iter().chain([format!(
            "Activation energy {} kJ/mol ({} confidence interval {} to {}{}; {} eV). Bars and band: {} confidence intervals. Held constant: {}; sites are not, since each has its own temperatures, so what else differs between them is in this picture too. Do not read it beyond {} to {} °C.",
            number::to_width(kj * ev, width),
            number::level(results.confidence),
            number::to_width(kj * low, width),
            number::to_width(kj * high, width),
            allowing,
            number::to_width(ev, high - low),
            number::level(results.confidence),
            super::words::held(&heat.adjusted_for),
            number::significant(cold, 3),
            number::significant(hot, 3)
        )])
        .collect(),
    })
}

/// p-value below which a bend is spoken of, and how much wider an interval is when it is called blurred (as in the
/// comparison of groups).
const BENT: f64 = 0.05;
const BLURRED: f64 = 2.0;

/// What to doubt about the line of heat, and why its slope differs from that of other regressions.
fn doubts(heat: &Heat) -> Vec<String> {
    let mut out = vec![];
    if let Some(p) = heat.bend_p_value.filter(|p| *p < BENT) {
        out.push(format!(
            "The straight line does not fit every temperature ({} of no bend): it bends, or something not held constant goes with temperature.",
            number::p_value(p)
        ));
    }
    if let Some((width, by)) = heat.blurred.as_ref().filter(|b| b.0 >= BLURRED) {
        out.push(format!(
            "Temperature can hardly be told from {} in these records: the interval of the energy is {} times as wide as if they did not go together.",
            by.join(", "),
            number::significant(*width, 2)
        ));
    }
    let bends = heat.bend_p_value.is_some_and(|p| p < BENT);
    let blurred = heat.blurred.as_ref().is_some_and(|b| b.0 >= BLURRED);
    out.push(if bends {
        "Take no activation energy from these records: read the points, each temperature by itself. Other regressions (sealspan compare, sealspan materials) hold other columns constant, and their energies are no better.".to_owned()
    } else if blurred {
        "Regressions that hold other columns constant (sealspan compare, sealspan materials) have other energies: each says what it holds.".to_owned()
    } else {
        "This is the one to go by: other regressions (sealspan compare, sealspan materials) hold other columns constant, some of which go with temperature here, and their energies say so.".to_owned()
    });
    out
}

/// Cox-Snell residuals of the regression against the exponential law they follow when it holds.
pub fn residuals(results: &Results) -> Option<Chart> {
    let explained = results.explained.as_ref()?;
    let fit = &explained.fitting.regression;
    let lines = explained.design.lines.iter();
    let thetas = lines.map(|line| fit.theta(&line.row, line.offset, line.stratum));
    let seals = thetas.zip(&explained.frame.samples);
    super::residuals::chart(
        fit.family,
        seals,
        results.confidence,
        &conditions(explained),
    )
}

fn conditions(explained: &crate::analysis::screen::Explained) -> String {
    let mut all = explained.ground.words();
    let named = explained
        .found
        .iter()
        .filter_map(|at| explained.design.names.get(*at));
    all.extend(named.cloned());
    all.join(", ")
}
