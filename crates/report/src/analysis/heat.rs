//! Life against temperature, everything else held constant: the Arrhenius line and each temperature by itself.

use super::screen::{Explained, Ground};
use crate::column::spoken;
use crate::wire::compare::term::{ACTIVATION, BOLTZMANN_EV, ZERO_CELSIUS};
use crate::wire::compare::{Energy, Scatter, curvature};
use sealspan_life::quantity::Quantity;
use sealspan_life::regression::{Design, Place, Regression, Robust, Row, fit_design};
use sealspan_numeric::special::normal_quantile;
use serde::Serialize;

/// A median life with its interval at a temperature, in the unit of the clock.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AtHeat {
    /// °C.
    pub celsius: f64,
    /// Age by which half have failed.
    pub median: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// Life against temperature.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Heat {
    /// The temperature column.
    pub column: String,
    /// The group shown: the level with the most failures of each column of the question.
    pub group: String,
    /// What else is held constant.
    pub adjusted_for: Vec<String>,
    /// The line with its confidence band: 41 temperatures evenly from the coldest to the hottest seen. Median life goes as
    /// exp(E/kT), T in kelvin, numbers held constant at their means and without the conditions that stand out; intervals
    /// allow for like seals of one asset where assets are recorded, pointwise.
    pub line: Vec<AtHeat>,
    /// Each temperature at which three seals or more failed by itself, by a regression with a level for each.
    pub points: Vec<AtHeat>,
    /// Activation energy E in eV: estimate, lower and upper end (normal approximation, or Student's t where like seals
    /// of one asset are allowed for).
    pub energy_ev: (f64, f64, f64),
    /// How far the temperatures scatter about the line; `None` where that cannot be told.
    pub scatter: Option<Scatter>,
    /// The energy with an interval that allows for that, where it is more than chance has (p below 0.05): half its width is
    /// Student's t at the scatter's degrees of freedom times the standard error times the root of
    /// [`Scatter::times_the_variance`] (quasi-likelihood, McCullagh & Nelder 1989; from memory).
    pub energy_allowing_for_scatter_ev: Option<(f64, f64, f64)>,
    /// p-value of no bend of the line; `None` where a bend cannot be tested.
    pub bend_p_value: Option<f64>,
    /// How many times as wide the interval of the activation energy is as if nothing held constant went with temperature
    /// ([`Regression::blurs`]), and what goes with it most.
    pub blurred: Option<(f64, Vec<String>)>,
}

/// Temperatures on the line.
const STEPS: usize = 40;

/// Life against temperature in the group with the most failures. `None` without a temperature column at three or
/// more temperatures. Sites are not held constant, since each has its own temperatures.
#[must_use]
pub(crate) fn heat(explained: &Explained, confidence: f64) -> Option<Heat> {
    let frame = &explained.frame;
    let ground = Ground::without_site(frame);
    let column = ground
        .effects
        .iter()
        .find(|e| e.name == ACTIVATION)?
        .of
        .clone();
    let column = frame.columns.iter().find(|c| c.name == column)?;
    let temperatures = column.numbers()?;
    if temperatures.len() < 3 {
        return None;
    }
    let found = found_rows(explained);
    let more: Vec<(String, &Row)> = found.iter().map(|(n, r)| (n.clone(), r)).collect();
    let line = Fitted::new(explained, ground.design(frame, &more))?;
    let apart = ground.by_level(column);
    let points = Fitted::new(explained, apart.design(frame, &more))?;
    let group = main_group(explained);
    let (low, high) = temperatures
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), t| {
            (l.min(*t), h.max(*t))
        });
    let at = |fitted: &Fitted, ground: &Ground, celsius: f64| {
        fitted.median(place(ground, &group, column, celsius), celsius, confidence)
    };
    let grid = (0..=STEPS).map(|i| low + (high - low) * i as f64 / STEPS as f64);
    let failures = |code: usize| {
        let has = |at: usize| column.codes.get(at) == Some(&code);
        frame.pooled(has).tally().failures()
    };
    let shown = temperatures
        .iter()
        .enumerate()
        .filter(|(code, _)| failures(*code) >= 3.0);
    let energy = line.energy(confidence)?;
    let mut adjusted_for = ground.words();
    adjusted_for.retain(|w| w != "temperature");
    adjusted_for.extend(found.iter().map(|(name, _)| name.clone()));
    let bend = Fitted::position(&line.regression)
        .map(|at| curvature(&ground.design(frame, &more), line.regression.family, at));
    let scatter = Fitted::position(&line.regression)
        .and_then(|at| Scatter::of(&ground.design(frame, &more), line.regression.family, at));
    let widened = scatter.filter(Scatter::speaks).map(|s| {
        let (estimate, lower, upper) = energy;
        let e = Energy {
            estimate,
            lower,
            upper,
        };
        let e = s.widened(e, confidence);
        (e.estimate, e.lower, e.upper)
    });
    Some(Heat {
        scatter,
        energy_allowing_for_scatter_ev: widened,
        bend_p_value: bend.and_then(|b| b.p_value),
        blurred: blurred(&ground, &line.regression),
        column: column.name.clone(),
        group: group
            .iter()
            .map(|(_, level)| level.as_str())
            .collect::<Vec<_>>()
            .join(", "),
        adjusted_for,
        line: grid.filter_map(|t| at(&line, &ground, t)).collect(),
        points: shown.filter_map(|(_, t)| at(&points, &apart, *t)).collect(),
        energy_ev: energy,
    })
}

/// How far what is held constant blurs the activation energy.
fn blurred(ground: &Ground, fit: &Regression) -> Option<(f64, Vec<String>)> {
    let mut names: Vec<&str> = vec![];
    let mut places: Vec<Vec<usize>> = vec![];
    for (at, effect) in (1..).zip(&ground.effects) {
        match names.iter().position(|n| *n == effect.of) {
            Some(own) => places.iter_mut().skip(own).take(1).for_each(|p| p.push(at)),
            None => {
                names.push(&effect.of);
                places.push(vec![at]);
            }
        }
    }
    let heat = ground.effects.iter().find(|e| e.name == ACTIVATION)?;
    let own = names.iter().position(|n| *n == heat.of)?;
    let blurs = fit.blurs(&places)?;
    let blur = blurs.terms.get(own)?;
    let by = blur.by.iter().filter_map(|t| names.get(*t));
    Some((blur.width, by.map(|n| spoken(n)).collect()))
}

/// The conditions found, as columns over the gatherings.
fn found_rows(explained: &Explained) -> Vec<(String, Row)> {
    let column = |at: &usize| {
        let name = explained.design.names.get(*at)?.clone();
        let has = |(line, row): (usize, &sealspan_life::regression::Line)| {
            row.row
                .iter()
                .find(|(j, _)| j == at)
                .map(|(_, v)| (line, *v))
        };
        Some((
            name,
            explained
                .design
                .lines
                .iter()
                .enumerate()
                .filter_map(has)
                .collect(),
        ))
    };
    explained.found.iter().filter_map(column).collect()
}

/// The levels of the question's columns with the most failures.
fn main_group(explained: &Explained) -> Vec<(String, String)> {
    let frame = &explained.frame;
    frame
        .by
        .iter()
        .filter_map(|by| {
            let failures = |code: &usize| {
                let has = |at: usize| by.codes.get(at) == Some(code);
                frame.pooled(has).tally().failures()
            };
            let best = (0..by.levels.len()).max_by(|a, b| failures(a).total_cmp(&failures(b)))?;
            Some((by.name.clone(), by.levels.get(best)?.clone()))
        })
        .collect()
}

/// The design row of a group at a temperature, numbers at their means and no condition found.
fn place(
    ground: &Ground,
    group: &[(String, String)],
    column: &super::screen::Column,
    celsius: f64,
) -> Row {
    let mut row = vec![(0, 1.0)];
    for (at, effect) in (1..).zip(&ground.effects) {
        let value = if effect.name == ACTIVATION {
            1.0 / (BOLTZMANN_EV * (celsius + ZERO_CELSIUS))
        } else if effect.of == column.name {
            let named = |l: &&String| l.trim().parse::<f64>().is_ok_and(|t| t == celsius);
            let level = column.levels.iter().find(named);
            let own = level.is_some_and(|l| effect.name == format!("{}={l}", column.name));
            f64::from(u8::from(own))
        } else if effect.level {
            let own = group.iter().any(|(c, l)| effect.name == format!("{c}={l}"));
            f64::from(u8::from(own))
        } else {
            effect.values.iter().sum::<f64>() / effect.values.len().max(1) as f64
        };
        if value != 0.0 {
            row.push((at, value));
        }
    }
    row
}

/// A regression with the covariance its intervals are made of: the one that allows for like seals of one asset,
/// where assets are recorded.
struct Fitted {
    regression: Regression,
    robust: Option<Robust>,
}

impl Fitted {
    fn new(explained: &Explained, design: Design) -> Option<Self> {
        let family = explained.fitting.regression.family;
        let regression = fit_design(family, &design).ok()?.regression;
        let robust = explained.frame.robust(&regression, &design);
        Some(Self { regression, robust })
    }

    /// Standard errors on either side of an interval.
    fn critical(&self, confidence: f64) -> f64 {
        self.robust.as_ref().map_or_else(
            || normal_quantile(0.5 + 0.5 * confidence),
            |r| r.critical(confidence),
        )
    }

    fn position(fit: &Regression) -> Option<usize> {
        fit.names.iter().position(|n| n == ACTIVATION)
    }

    fn energy(&self, confidence: f64) -> Option<(f64, f64, f64)> {
        let fit = &self.regression;
        let at = Self::position(fit)?;
        let weights = fit.unit(at);
        let (estimate, own) = fit.combination(&weights);
        let error = self.robust.as_ref().map_or(own, |r| r.error(&weights));
        let half = self.critical(confidence) * error;
        Some((estimate, estimate - half, estimate + half))
    }

    fn median(&self, row: Row, celsius: f64, confidence: f64) -> Option<AtHeat> {
        let place = Place {
            row,
            offset: 0.0,
            stratum: 0,
        };
        let fit = &self.regression;
        let covariance = self
            .robust
            .as_ref()
            .map_or(&fit.covariance, |r| &r.covariance);
        let half = Quantity::Quantile(0.5);
        let life = fit.predict(&place, half, covariance, self.critical(confidence));
        Some(AtHeat {
            celsius,
            median: life.estimate,
            lower: life.lower?,
            upper: life.upper?,
        })
    }
}
