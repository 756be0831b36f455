//! Ovens, line, life and duty cycle in the shapes that are written out.

use super::ageing::{FAR, Seen, Worked};
use super::ageing_words as words;
use crate::wire::Number;
use crate::wire::ageing::{
    DutyResult, Ends, LifeAt, LineResult, OvenResult, PriorResult, StretchResult, TemperatureFor,
};
use sealspan_life::ageing::arrhenius::{
    Stretch, electronvolts, equivalent_temperature, kilojoules, mean_temperature,
};
use sealspan_life::ageing::bend::Bend;
use sealspan_life::ageing::line::Line;
use sealspan_life::ageing::reach::Reach;
use sealspan_numeric::special::normal_quantile;

/// Level at which a normal prior is matched to the line's own interval.
const LEVEL_OF_PRIOR: f64 = 0.9;

pub(super) fn oven_result(seen: &Seen) -> OvenResult {
    let longest = seen.readings.iter().map(|r| r.hours).fold(0.0, f64::max);
    let (reached, time_to_limit) = match seen.oven.as_ref().map(|o| o.reach) {
        Ok(Reach::At(at)) => (
            "within_test",
            Number {
                estimate: Some(at.ln_hours.exp()),
                lower: at.interval.map(|i| i.0.exp()),
                upper: at.interval.map(|i| i.1.exp()),
                reason: at.interval.is_none().then(|| {
                    "no interval: too few looks to show their scatter (several specimens, or a curve through three looks or more)".to_owned()
                }),
            },
        ),
        Ok(Reach::After(hours)) => (
            "not_reached",
            Number {
                lower: Some(hours),
                reason: Some("the limit was not reached in this oven: only the longest time is known".to_owned()),
                ..Number::default()
            },
        ),
        Ok(Reach::Before(hours)) => (
            "before_first_look",
            Number {
                upper: Some(hours),
                reason: Some("the limit was passed before the first look".to_owned()),
                ..Number::default()
            },
        ),
        Err(why) => (
            "no_curve",
            Number {
                reason: Some(why.clone()),
                ..Number::default()
            },
        ),
    };
    OvenResult {
        temperature_c: seen.celsius,
        measurements: seen.readings.len(),
        longest,
        reached,
        time_to_limit,
        left_out: seen.oven.as_ref().map_or(0, |o| o.left_out),
    }
}

pub(super) fn line_result(line: &Line, level: f64) -> LineResult {
    let interval = line.slope_interval(level);
    let energy = |scale: fn(f64) -> f64| Number {
        estimate: Some(scale(line.slope)),
        lower: interval.map(|i| scale(i.0)),
        upper: interval.map(|i| scale(i.1)),
        reason: interval
            .is_none()
            .then(|| "two ovens draw a line without showing its error".to_owned()),
    };
    let prior = line.slope_interval(LEVEL_OF_PRIOR).map(|i| {
        let mean_ev = electronvolts(line.slope);
        let half = electronvolts(0.5 * (i.1 - i.0));
        let by_line = half / normal_quantile(0.5 + 0.5 * LEVEL_OF_PRIOR);
        // Few ovens can lie on a line by luck: no surer than their own errors allow.
        let sd_ev = by_line.max(electronvolts(line.own_slope_error.unwrap_or(0.0)));
        PriorResult {
            mean_ev,
            sd_ev,
            option: format!("{mean_ev:.4},{sd_ev:.4}"),
        }
    });
    LineResult {
        method: line.method.words(),
        intercept: line.intercept(),
        slope_k: line.slope,
        slope_std_error_k: line.slope_error(),
        residual_sd: line.residual,
        degrees_of_freedom: line.freedom,
        ovens_reached: line.reached,
        ovens_not_reached: line.censored,
        activation_energy_kj_per_mol: energy(kilojoules),
        activation_energy_ev: energy(electronvolts),
        prior,
    }
}

pub(super) fn life_at(
    one: &Worked,
    line: &Line,
    bend: Option<Bend>,
    celsius: f64,
    level: f64,
) -> LifeAt {
    let tested = Tested::of(one);
    let found = line.at(celsius, level);
    let ends = |i: Option<(f64, f64)>| {
        i.map(|(a, b)| Ends {
            lower: a.exp(),
            upper: b.exp(),
        })
    };
    let (extrapolation, below) = tested.extrapolation(celsius);
    let estimate = found.ln_hours.exp();
    let if_bent = bend
        .map(|b| b.ln_hours_at(celsius).exp())
        .filter(|h| h.is_finite());
    LifeAt {
        temperature_c: celsius,
        estimate,
        confidence: ends(found.confidence),
        prediction: ends(found.prediction),
        reason: found
            .prediction
            .is_none()
            .then(|| "two ovens draw a line without showing its error".to_owned()),
        below_coldest_k: below,
        extrapolation,
        times_longest_test: estimate / tested.longest,
        if_bent,
        words: tested.words(celsius, estimate),
    }
}

/// What the ovens have seen.
struct Tested {
    /// Coldest oven that reached the limit, °C.
    coldest: f64,
    /// Hottest, °C.
    hottest: f64,
    /// Longest time in any oven, hours.
    longest: f64,
}

impl Tested {
    fn of(one: &Worked) -> Self {
        let reached = one
            .ovens
            .iter()
            .filter_map(|s| match s.oven.as_ref().ok()?.reach {
                Reach::At(_) => Some(s.celsius),
                _ => None,
            });
        let (coldest, hottest) = reached.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), c| {
            (a.min(c), b.max(c))
        });
        let readings = one.ovens.iter().flat_map(|s| &s.readings);
        Self {
            coldest,
            hottest,
            longest: readings.map(|r| r.hours).fold(0.0, f64::max),
        }
    }

    /// How far a temperature lies outside, in one word, and kelvin below the coldest.
    fn extrapolation(&self, celsius: f64) -> (&'static str, f64) {
        let below = self.coldest - celsius;
        let kind = if celsius > self.hottest {
            "hotter"
        } else if below > FAR {
            "far"
        } else if below > 0.0 {
            "near"
        } else {
            "within"
        };
        (kind, below)
    }

    fn words(&self, celsius: f64, hours: f64) -> String {
        let (kind, below) = self.extrapolation(celsius);
        let times = hours / self.longest;
        words::extrapolation(kind, below, self.coldest, self.hottest, times)
    }
}

pub(super) fn temperature_for(one: &Worked, line: &Line, hours: f64, level: f64) -> TemperatureFor {
    let temperature_c = line.temperature_for(hours);
    let ends = line.temperature_interval(hours, level, false);
    let safe = line.temperature_interval(hours, level, true);
    let [lower_c, upper_c] = ends.unwrap_or_default();
    let safe_c = safe.and_then(|[lower, _]| lower);
    let missing = lower_c.is_none() || upper_c.is_none() || safe_c.is_none();
    let reason = if temperature_c.is_none() {
        Some("the line does not give so long a life at any temperature")
    } else if ends.is_none() {
        Some("two ovens draw a line without showing its error")
    } else {
        missing.then_some("an end of the interval is reached at no temperature: the line's slope is too uncertain")
    };
    let tested = Tested::of(one);
    let outside = temperature_c.map(|c| tested.extrapolation(c));
    TemperatureFor {
        hours,
        temperature_c,
        lower_c,
        upper_c,
        safe_c,
        reason: reason.map(str::to_owned),
        below_coldest_k: outside.map(|o| o.1),
        extrapolation: outside.map(|o| o.0),
        words: temperature_c.map(|c| tested.words(c, hours)),
    }
}

/// A duty cycle at an activation energy, with the interval that the line's gives.
pub(super) fn duty_result(
    duty: &[Stretch],
    energy: f64,
    line: Option<(&Line, f64)>,
) -> Option<DutyResult> {
    let estimate = equivalent_temperature(duty, energy)?;
    let ends = line.and_then(|(line, level)| {
        let (lower, upper) = line.slope_interval(level)?;
        // A larger energy lets the hot stretches weigh more.
        Some((
            equivalent_temperature(duty, kilojoules(lower))?,
            equivalent_temperature(duty, kilojoules(upper))?,
        ))
    });
    let mean_c = mean_temperature(duty);
    Some(DutyResult {
        stretches: duty
            .iter()
            .map(|s| StretchResult {
                hours: s.hours,
                temperature_c: s.celsius,
            })
            .collect(),
        mean_c,
        kj_per_mol: energy,
        equivalent_c: Number {
            estimate: Some(estimate),
            lower: ends.map(|e| e.0),
            upper: ends.map(|e| e.1),
            reason: ends
                .is_none()
                .then(|| "the activation energy has no interval above 0 here".to_owned()),
        },
        life: None,
        words: words::duty(duty, energy, estimate, mean_c),
    })
}
