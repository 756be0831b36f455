//! Sample charts. All numbers are invented.

use sealspan_report::chart::{
    AtRisk, AtRiskRow, Axis, Bar, Chart, Layer, Mark, Marker, Stroke, Tone,
};
use sealspan_report::scale::{Tick, WEIBULL_PAPER};

/// Every kind of chart.
pub fn all() -> Vec<Chart> {
    vec![
        probability(),
        survival(),
        cost(),
        stock(),
        forecast(),
        ratios(),
    ]
}

/// Evenly spaced values, both ends included.
fn spread(from: f64, to: f64, steps: u32) -> impl Iterator<Item = f64> {
    (0..=steps).map(move |i| from + (to - from) * f64::from(i) / f64::from(steps))
}

fn weibull_survival(t: f64, shape: f64, scale: f64) -> f64 {
    (-(t / scale).powf(shape)).exp()
}

fn probability() -> Chart {
    let (shape, scale) = (2.3, 410.0);
    let quantile = |f: f64, shift: f64| {
        let z = (-(-f).ln_1p()).ln();
        scale * (z / shape + shift * (0.06 + 0.035 * (z - 0.2).powi(2))).exp()
    };
    let shares: Vec<f64> = spread(-6.6, 1.9, 80)
        .map(|z| -(-z.exp()).exp_m1())
        .collect();
    let edge = |shift| shares.iter().map(|f| (quantile(*f, shift), *f)).collect();
    let marks = (1..=24)
        .map(|i| {
            let f = (f64::from(i) - 0.3) / 31.4;
            Mark::at(quantile(f, 0.6 * f64::from(i * 37 % 11) / 11.0 - 0.3), f)
        })
        .collect();
    Chart {
        id: "probability".into(),
        title: "Invented EPDM door seals follow a Weibull law: one in ten has failed by day 154"
            .into(),
        alt: "Weibull probability plot of 24 failures. The points lie along a straight line \
              within its 90 % confidence band."
            .into(),
        x: Axis::log("age at failure", "days").over(30.0, 1200.0),
        y: Axis::new("share failed", "", WEIBULL_PAPER).over(0.005, 0.99),
        layers: vec![
            Layer::Band {
                name: "90 % confidence band".into(),
                lower: edge(-1.0),
                upper: edge(1.0),
                tone: Tone::Group(0),
                stepped: false,
            },
            Layer::HLine {
                at: 0.1,
                stroke: Stroke::dashed(Tone::Muted),
                label: Some("one in ten failed".into()),
            },
            Layer::Line {
                name: "Weibull fit".into(),
                points: edge(0.0),
                stroke: Stroke::solid(Tone::Group(0)),
                label: Some("Weibull, shape 2.3 (1.7 to 3.0)".into()),
            },
            Layer::Points {
                name: "failures".into(),
                marks,
                tone: Tone::Ink,
                marker: Marker::Ring,
                label: Some("failures at median ranks".into()),
            },
        ],
        at_risk: None,
        notes: vec![
            "Shaded: 90 % confidence band of the age, from the likelihood. 24 failures, \
             7 seals still in service. Invented numbers."
                .into(),
        ],
    }
}

fn survival() -> Chart {
    let groups = [
        ("FKM", 2.6, 640.0),
        ("EPDM", 2.1, 420.0),
        ("NBR, batch B-17", 1.4, 240.0),
    ];
    let mut layers = Vec::new();
    for (n, (name, shape, scale)) in groups.into_iter().enumerate() {
        let steps = |wide: f64| -> Vec<(f64, f64)> {
            spread(0.0, 700.0, 25)
                .map(|t| {
                    let s = weibull_survival(t, shape, scale);
                    (t, (s + wide * (s * (1.0 - s)).sqrt()).clamp(0.0, 1.0))
                })
                .collect()
        };
        layers.push(Layer::Band {
            name: format!("{name}, 90 % confidence band"),
            lower: steps(-0.22),
            upper: steps(0.22),
            tone: Tone::Group(n),
            stepped: true,
        });
        layers.push(Layer::Steps {
            name: name.into(),
            points: steps(0.0),
            stroke: Stroke::group(n),
            label: Some(name.into()),
        });
    }
    let at: Vec<f64> = spread(0.0, 700.0, 7).collect();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "invented counts are small and positive"
    )]
    let rows = groups
        .into_iter()
        .enumerate()
        .map(|(n, (name, shape, scale))| {
            let seals = 420.0 * f64::from(n as u32 + 1);
            let counts = at
                .iter()
                .map(|t| (seals * weibull_survival(*t, shape, scale)) as u64);
            AtRiskRow {
                name: name.into(),
                tone: Tone::Group(n),
                counts: counts.collect(),
            }
        });
    let rows = rows.collect();
    Chart {
        id: "survival".into(),
        title: "Half of the invented FKM seals outlive 560 days; batch B-17 lasts a third of that"
            .into(),
        alt: "Survival curves of three materials with 90 % confidence bands. FKM lies highest, \
              NBR of batch B-17 lowest."
            .into(),
        x: Axis::linear("age", "days").over(0.0, 700.0),
        y: Axis::linear("share still sound", "").over(0.0, 1.0),
        layers,
        at_risk: Some(AtRisk {
            heading: "Seals at risk".into(),
            at,
            rows,
        }),
        notes: vec!["Shaded: pointwise 90 % confidence bands. Invented numbers.".into()],
    }
}

fn cost() -> Chart {
    let (shape, scale, planned, failure) = (2.6, 420.0, 180.0, 2400.0);
    let mut integral = 0.0;
    let mut points = Vec::new();
    let mut before = 1.0;
    for t in spread(1.0, 900.0, 899) {
        let s = weibull_survival(t, shape, scale);
        integral += 0.5 * (before + s);
        before = s;
        points.push((t, (planned * s + failure * (1.0 - s)) / integral));
    }
    let best = points
        .iter()
        .copied()
        .fold((0.0, f64::INFINITY), |a, b| if b.1 < a.1 { b } else { a });
    let flat: Vec<f64> = points
        .iter()
        .filter(|(_, g)| *g <= best.1 * 1.02)
        .map(|(t, _)| *t)
        .collect();
    let ends = (
        flat.first().copied().unwrap_or(0.0),
        flat.last().copied().unwrap_or(0.0),
    );
    let points: Vec<(f64, f64)> = points.into_iter().step_by(4).collect();
    Chart {
        id: "cost".into(),
        title: "Replacing at about 140 days costs least; anything in the flat zone is as good"
            .into(),
        alt: "Cost per day against replacement age: it falls steeply, is flat around the best \
              age, and rises to the run-to-failure level."
            .into(),
        x: Axis::linear("replacement age", "days").over(0.0, 900.0),
        y: Axis::linear("long-run cost", "EUR per day and seal").over(0.0, 8.0),
        layers: vec![
            Layer::ZoneX {
                from: ends.0,
                to: ends.1,
                tone: Tone::Group(2),
                label: "within 2 % of the best".into(),
            },
            Layer::HLine {
                at: 6.43,
                stroke: Stroke::dashed(Tone::Muted),
                label: Some("run to failure".into()),
            },
            Layer::Line {
                name: "cost rate".into(),
                points,
                stroke: Stroke::solid(Tone::Group(0)),
                label: Some("replace at this age".into()),
            },
            Layer::Points {
                name: "best".into(),
                marks: vec![Mark::at(best.0, best.1)],
                tone: Tone::Group(1),
                marker: Marker::Disc,
                label: Some(format!(
                    "best: {:.0} days, EUR {:.2} per day",
                    best.0, best.1
                )),
            },
        ],
        at_risk: None,
        notes: vec!["Downtime is priced in. Invented numbers.".into()],
    }
}

fn stock() -> Chart {
    let level = |s: f64| (420.0 * s, 61_000.0 * (-0.85 * s).exp());
    let line =
        |pick: fn((f64, f64)) -> f64| spread(0.0, 9.0, 9).map(|s| (s, pick(level(s)))).collect();
    Chart {
        id: "stock".into(),
        title: "Six spares cost least: below that downtime dominates, above it the shelf".into(),
        alt: "Yearly cost against spares held. Downtime falls, holding rises, the sum is least \
              at six."
            .into(),
        x: Axis::linear("spares held", "seals").over(0.0, 9.0),
        y: Axis::linear("expected cost", "EUR per year").over(0.0, 20_000.0),
        layers: vec![
            Layer::VLine {
                at: 6.0,
                stroke: Stroke::dashed(Tone::Ink),
                label: Some("hold six".into()),
            },
            Layer::Line {
                name: "holding".into(),
                points: line(|(holding, _)| holding),
                stroke: Stroke::group(2),
                label: Some("holding".into()),
            },
            Layer::Line {
                name: "downtime".into(),
                points: line(|(_, downtime)| downtime),
                stroke: Stroke::group(1),
                label: Some("downtime".into()),
            },
            Layer::Line {
                name: "sum".into(),
                points: line(|(holding, downtime)| holding + downtime),
                stroke: Stroke::solid(Tone::Group(0)),
                label: Some("sum".into()),
            },
            Layer::Points {
                name: "levels".into(),
                marks: spread(2.0, 9.0, 7)
                    .map(|s| Mark::at(s, level(s).0 + level(s).1))
                    .collect(),
                tone: Tone::Group(0),
                marker: Marker::Disc,
                label: None,
            },
        ],
        at_risk: None,
        notes: vec!["Poisson demand over a lead time of 45 days. Invented numbers.".into()],
    }
}

fn forecast() -> Chart {
    let months = [
        "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
    ];
    let bars = spread(0.0, 11.0, 11)
        .map(|m| {
            let height = 14.0 + 5.0 * (m * 0.6).sin() + 0.5 * m;
            Bar {
                from: m + 0.12,
                to: m + 0.88,
                base: 0.0,
                height,
                interval: Some((height - 1.64 * height.sqrt(), height + 1.9 * height.sqrt())),
            }
        })
        .collect();
    let ticks = months
        .iter()
        .zip(spread(0.5, 11.5, 11))
        .map(|(name, at)| Tick {
            at,
            text: (*name).into(),
        });
    Chart {
        id: "forecast".into(),
        title: "Between 150 and 240 replacements are to be expected next year".into(),
        alt: "Expected replacements by month with 90 % prediction intervals.".into(),
        x: Axis::linear("month of 2031", "")
            .over(0.0, 12.0)
            .with_ticks(ticks.collect()),
        y: Axis::linear("replacements", "seals per month").over(0.0, 30.0),
        layers: vec![Layer::Bars {
            name: "expected".into(),
            bars,
            tone: Tone::Group(0),
            label: Some("expected, with 90 % prediction interval".into()),
        }],
        at_risk: None,
        notes: vec!["Renewals included. Invented numbers.".into()],
    }
}

fn ratios() -> Chart {
    let mark = |x: f64, y, low, high| Mark {
        x_interval: Some((low, high)),
        ..Mark::at(x, y)
    };
    let tick = |at, text: &str| Tick {
        at,
        text: text.into(),
    };
    Chart {
        id: "ratios".into(),
        title: "FKM lasts 1.8 times as long as EPDM; hot caustic halves every material's life"
            .into(),
        alt: "Life ratios with 90 % confidence intervals against a reference line at one.".into(),
        x: Axis::log("life ratio", "").over(0.2, 4.0),
        y: Axis::linear("compared with EPDM in cold water", "")
            .over(0.0, 5.0)
            .with_ticks(vec![
                tick(1.0, "hot caustic"),
                tick(2.0, "peracetic acid"),
                tick(3.0, "NBR"),
                tick(4.0, "FKM"),
            ]),
        layers: vec![
            Layer::VLine {
                at: 1.0,
                stroke: Stroke::dashed(Tone::Muted),
                label: Some("no difference".into()),
            },
            Layer::Points {
                name: "life ratio".into(),
                marks: vec![
                    mark(0.52, 1.0, 0.41, 0.66),
                    mark(0.94, 2.0, 0.7, 1.27),
                    mark(0.71, 3.0, 0.58, 0.88),
                    mark(1.82, 4.0, 1.21, 2.63),
                ],
                tone: Tone::Group(0),
                marker: Marker::Disc,
                label: None,
            },
        ],
        at_risk: None,
        notes: vec!["Bars: 90 % confidence intervals. Invented numbers.".into()],
    }
}
