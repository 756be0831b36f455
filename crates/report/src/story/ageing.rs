//! Figures of laboratory ageing: the property against time by oven, and Arrhenius paper.

use crate::analysis::ageing::{Ageing, Worked};
use crate::analysis::ageing_words::plain;
use crate::chart::{Axis, Chart, Layer, Mark, Marker, Stroke, Tone};
use crate::column::{spoken, unit};
use crate::number;
use crate::scale::Tick;
use sealspan_life::ageing::arrhenius::kelvin;
use sealspan_life::ageing::curve::Curve;
use sealspan_life::ageing::line::{Line, Prediction};
use sealspan_life::ageing::reach::Reach;

/// Points of a drawn curve.
const STEPS: usize = 60;

/// Two figures a material: the property against hours on a logarithmic axis, by oven, with the limit; and where it has a line,
/// hours to the limit on Arrhenius paper with the line's confidence band, the prediction band of one more oven, both at the
/// document's level, and the service temperatures asked for.
#[must_use]
pub fn charts(ageing: &Ageing, curve: Curve) -> Vec<Chart> {
    let measure = ageing.document.measure.clone().unwrap_or_default();
    let level = ageing.document.confidence;
    let at: Vec<Vec<f64>> = ageing
        .document
        .groups
        .iter()
        .map(|g| g.life.iter().map(|l| l.temperature_c).collect())
        .collect();
    let mut out = vec![];
    for (one, at) in ageing.worked.iter().zip(at) {
        out.push(against_time(one, &measure, curve));
        out.extend(paper(one, &at, level));
    }
    out
}

/// A name for files from a material's.
fn slug(one: &Worked) -> String {
    let words = one.key.words().to_lowercase();
    words
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .take(40)
        .collect()
}

fn title(one: &Worked) -> String {
    if one.key.0.is_empty() {
        String::new()
    } else {
        format!("{}: ", one.key.words())
    }
}

fn against_time(one: &Worked, measure: &str, curve: Curve) -> Chart {
    let mut layers = vec![Layer::HLine {
        at: one.limit.value,
        stroke: Stroke::dashed(Tone::Ink),
        label: Some("limit".into()),
    }];
    for (n, seen) in one.ovens.iter().enumerate() {
        let name = format!("{} °C", plain(seen.celsius));
        let line = match &seen.oven {
            Ok(oven) if curve.is_fitted() => oven.line,
            _ => None,
        };
        let times = seen.readings.iter().map(|r| r.hours).filter(|h| *h > 0.0);
        let (first, last) = times.fold((f64::INFINITY, 0.0_f64), |(a, b), h| (a.min(h), b.max(h)));
        let points: Vec<(f64, f64)> = match line {
            Some(line) => (0..=STEPS)
                .map(|i| {
                    let share = i as f64 / STEPS as f64;
                    let x = first.ln() + share * (last / first).ln();
                    let straight = line.level + line.slope * (x - line.centre);
                    let (start, end) = one.limit.ends();
                    let y = curve.bend_back(straight, start, end, one.limit.rising);
                    (x.exp(), y)
                })
                .collect(),
            None => means(seen.readings.iter().map(|r| (r.hours, r.value))),
        };
        layers.push(Layer::Line {
            name: name.clone(),
            points: points.into_iter().filter(|p| p.0 > 0.0).collect(),
            stroke: Stroke::group(n),
            label: Some(name.clone()),
        });
        layers.push(Layer::Points {
            name,
            marks: seen
                .readings
                .iter()
                .filter(|r| r.hours > 0.0)
                .map(|r| Mark::at(r.hours, r.value))
                .collect(),
            tone: Tone::Group(n),
            marker: Marker::group(n),
            label: None,
        });
    }
    Chart {
        id: format!("property-{}", slug(one)),
        title: format!(
            "{}the hotter the oven, the sooner the limit is reached",
            title(one)
        ),
        alt: format!(
            "{measure} against hours in the oven, one curve a temperature, with the limit of {} as a dashed line.",
            plain(one.limit.value)
        ),
        x: Axis::log("time in the oven", "hours"),
        y: Axis::linear(spoken(measure), unit(measure)),
        layers,
        at_risk: None,
        notes: vec![format!("Curve: {}.", curve.words())],
    }
}

/// Means by time, in order.
fn means(points: impl Iterator<Item = (f64, f64)>) -> Vec<(f64, f64)> {
    let mut sorted: Vec<(f64, f64)> = points.collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    sorted
        .chunk_by(|a, b| a.0 == b.0)
        .map(|same| {
            let count = same.len() as f64;
            let hours = same.first().map_or(0.0, |p| p.0);
            (hours, same.iter().map(|p| p.1).sum::<f64>() / count)
        })
        .collect()
}

/// 1000/T of a temperature in °C.
fn place(celsius: f64) -> f64 {
    1000.0 / kelvin(celsius)
}

fn paper(one: &Worked, at: &[f64], level: f64) -> Option<Chart> {
    let line = one.line?;
    let ovens = one.ovens.iter().map(|s| s.celsius);
    let (cold, hot) = ovens
        .chain(at.iter().copied())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), c| {
            (a.min(c), b.max(c))
        });
    let (cold, hot) = (cold - 5.0, hot + 5.0);
    let steps = (0..=STEPS).map(|i| hot + (cold - hot) * i as f64 / STEPS as f64);
    let drawn: Vec<_> = steps.map(|c| (place(c), line.at(c, level))).collect();
    let mut layers = line_layers(&line, &drawn);
    layers.extend(marks(one));
    if !at.is_empty() {
        layers.push(Layer::Points {
            name: "service".into(),
            marks: at
                .iter()
                .map(|c| Mark::at(place(*c), line.at(*c, level).ln_hours.exp()))
                .collect(),
            tone: Tone::Group(1),
            marker: Marker::Ring,
            label: None,
        });
    }
    let coldest = one
        .ovens
        .iter()
        .filter(|s| matches!(s.oven.as_ref().map(|o| o.reach), Ok(Reach::At(_))))
        .map(|s| s.celsius)
        .fold(f64::INFINITY, f64::min);
    layers.push(Layer::VLine {
        at: place(coldest),
        stroke: Stroke::dashed(Tone::Muted),
        label: Some("coldest oven that reached it".into()),
    });
    Some(Chart {
        id: format!("arrhenius-{}", slug(one)),
        title: format!("{}time to the limit on Arrhenius paper", title(one)),
        alt: "Hours to the limit on a logarithmic axis against the reciprocal of absolute temperature: ovens, line, and its bands.".into(),
        x: Axis::new("temperature on a reciprocal scale", "°C", crate::scale::LINEAR)
            .over(place(hot), place(cold))
            .with_ticks(ticks(cold, hot)),
        y: Axis::log("time to the limit", "hours"),
        layers,
        at_risk: None,
        notes: vec![
            format!("Bands: {} confidence band of the line within the prediction band of one more oven.", number::level(level)),
            "Orange rings: service temperatures asked for. Right of the dashed line no oven has reached the limit: the line is extrapolated there.".into(),
        ],
    })
}

/// The line with its bands, through points of 1000/T.
fn line_layers(line: &Line, drawn: &[(f64, Prediction)]) -> Vec<Layer> {
    let band = |name: &str, tone: Tone, of: fn(&Prediction) -> Option<(f64, f64)>| {
        let edge = |pick: fn((f64, f64)) -> f64| -> Vec<(f64, f64)> {
            drawn
                .iter()
                .filter_map(|(x, p)| Some((*x, pick(of(p)?).exp())))
                .collect()
        };
        Layer::Band {
            name: name.into(),
            lower: edge(|i| i.0),
            upper: edge(|i| i.1),
            tone,
            stepped: false,
        }
    };
    let mut layers = vec![];
    if line.residual.is_some() {
        layers.push(band("prediction", Tone::Muted, |p| p.prediction));
        layers.push(band("confidence", Tone::Group(0), |p| p.confidence));
    }
    layers.push(Layer::Line {
        name: "line".into(),
        points: drawn.iter().map(|(x, p)| (*x, p.ln_hours.exp())).collect(),
        stroke: Stroke::group(0),
        label: None,
    });
    layers
}

fn marks(one: &Worked) -> Vec<Layer> {
    let mut reached = vec![];
    let mut running = vec![];
    for seen in &one.ovens {
        match seen.oven.as_ref().map(|o| o.reach) {
            Ok(Reach::At(at)) => reached.push(Mark {
                y_interval: at.interval.map(|i| (i.0.exp(), i.1.exp())),
                ..Mark::at(place(seen.celsius), at.ln_hours.exp())
            }),
            Ok(Reach::After(hours)) => running.push(Mark::at(place(seen.celsius), hours)),
            _ => {}
        }
    }
    let layer =
        |name: &str, marks: Vec<Mark>, marker: Marker, label: Option<String>| Layer::Points {
            name: name.into(),
            marks,
            tone: Tone::Ink,
            marker,
            label,
        };
    let mut out = vec![layer("ovens", reached, Marker::Disc, None)];
    if !running.is_empty() {
        out.push(layer(
            "not reached",
            running,
            Marker::Triangle,
            Some("not reached yet".into()),
        ));
    }
    out
}

/// Round temperatures, coolest at the right.
fn ticks(cold: f64, hot: f64) -> Vec<Tick> {
    let step = if hot - cold > 100.0 { 20.0 } else { 10.0 };
    let first = (cold / step).ceil();
    let mut ticks: Vec<Tick> = (0..40)
        .map(|i| (first + f64::from(i)) * step)
        .take_while(|c| *c <= hot)
        .map(|c| Tick {
            at: place(c),
            text: number::fixed(c, 0),
        })
        .collect();
    ticks.reverse();
    ticks
}
