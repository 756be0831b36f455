//! The words of laboratory ageing.

use super::ageing::{FAR, Seen};
use crate::number;
use crate::wire::ageing::CurvatureResult;
use sealspan_life::ageing::arrhenius::Stretch;
use sealspan_life::ageing::bend::{Bend, LocalEnergy};
use sealspan_life::ageing::line::Line;
use sealspan_life::ageing::reach::Reach;

/// A p-value below this speaks for a bend.
const CLEAR: f64 = 0.1;

/// What holds for every answer of this kind.
pub(crate) fn notes() -> Vec<String> {
    vec![
        "The line holds for this property, this limit and this medium: another limit is another line, and a leak is not a compression set.".to_owned(),
        "An oven ages in air and at rest; service adds cleaning agents, movement and pressure. Field lives decide; the activation energy can enter the field regression as a prior.".to_owned(),
    ]
}

/// Doubts about single ovens.
pub(crate) fn oven_notes(ovens: &[Seen]) -> Vec<String> {
    let mut notes = vec![];
    for seen in ovens {
        let at = format!("{} °C", plain(seen.celsius));
        match &seen.oven {
            Err(why) => notes.push(format!("the oven at {at} is not used: {why}")),
            Ok(oven) => {
                if oven.crosses_back {
                    notes.push(format!(
                        "at {at} the means cross the limit more than once: the first crossing is taken"
                    ));
                }
                if oven.left_out > 0 {
                    notes.push(format!(
                        "at {at} the curve cannot use {} measurement(s): not yet moved from the start, or beyond the end value",
                        oven.left_out
                    ));
                }
                if let Reach::Before(hours) = oven.reach {
                    notes.push(format!(
                        "at {at} the limit was passed before the first look at {} h: look earlier there",
                        number::significant(hours, 3)
                    ));
                }
            }
        }
    }
    notes
}

/// Doubts about the line.
pub(crate) fn line_notes(line: &Line) -> Vec<String> {
    let mut notes = vec![];
    if line.reached == 2 {
        notes.push("two ovens draw a line that fits them exactly: no interval, and no test of the line. Age at a third temperature.".to_owned());
    } else if line.reached == 3 {
        notes.push(
            "three ovens leave one degree of freedom: the intervals rest on a single departure from the line, and may be far too short by luck"
                .to_owned(),
        );
    }
    if line.reached == 2 && line.censored > 0 {
        notes.push("ovens that did not reach the limit are not used: with two that did, the scatter is not known".to_owned());
    }
    notes
}

/// A bend of the line in words.
pub(crate) fn curvature(bend: &Bend, local: &[LocalEnergy]) -> CurvatureResult {
    let trend = match (local.first(), local.last()) {
        (Some(cool), Some(hot)) if cool.from < hot.from => format!(
            "between the coolest two ovens {} kJ/mol, between the hottest two {}",
            number::fixed(cool.kilojoules, 0),
            number::fixed(hot.kilojoules, 0)
        ),
        _ => "no neighbours to compare".to_owned(),
    };
    let lower = bend.coefficient < 0.0;
    let words = if bend.p_value < CLEAR {
        let danger = if lower {
            "the line flattens towards the cold, so the straight line promises too long a life there"
        } else {
            "the line steepens towards the cold, so the straight line is on the safe side there"
        };
        format!(
            "the line is bent ({}): {danger}; {trend}",
            number::p_value(bend.p_value)
        )
    } else {
        format!(
            "no bend can be shown ({}; with {} degree(s) of freedom only a strong one could be); {trend}",
            number::p_value(bend.p_value),
            number::fixed(bend.freedom, 0)
        )
    };
    CurvatureResult {
        coefficient_k2: bend.coefficient,
        p_value: bend.p_value,
        degrees_of_freedom: bend.freedom,
        bent: bend.p_value < CLEAR,
        words,
    }
}

/// How far a life is extrapolated, in words.
pub(crate) fn extrapolation(
    kind: &str,
    below: f64,
    coldest: f64,
    hottest: f64,
    times_longest: f64,
) -> String {
    let (coldest, hottest) = (number::fixed(coldest, 0), number::fixed(hottest, 0));
    let below = number::fixed(below, 0);
    let longer = if times_longest > 1.0 {
        format!(
            "; {} times as long as the longest test",
            number::significant(times_longest, 2)
        )
    } else {
        String::new()
    };
    match kind {
        "far" => format!(
            "EXTRAPOLATED {below} K below the coldest oven that reached the limit ({coldest} °C), more than {} K: no basis for an interval of care unless somebody answerable signs for it{longer}",
            number::fixed(FAR, 0)
        ),
        "near" => format!(
            "extrapolated {below} K below the coldest oven that reached the limit ({coldest} °C){longer}"
        ),
        "hotter" => format!(
            "extrapolated above the hottest oven ({hottest} °C): another mechanism may rule there{longer}"
        ),
        _ => format!("within the ovens that reached the limit ({coldest} to {hottest} °C){longer}"),
    }
}

/// A duty cycle in words.
pub(crate) fn duty(duty: &[Stretch], energy: f64, equivalent: f64, mean: f64) -> String {
    let parts: Vec<String> = duty
        .iter()
        .map(|s| format!("{} h at {} °C", plain(s.hours), plain(s.celsius)))
        .collect();
    format!(
        "{} acts like {} °C all the time at {} kJ/mol, not like the {} °C mean",
        parts.join(" plus "),
        number::fixed(equivalent, 0),
        number::fixed(energy, 1).trim_end_matches(".0"),
        number::fixed(mean, 0)
    )
}

/// A number as the user wrote it, with the true minus sign.
#[must_use]
pub fn plain(value: f64) -> String {
    value.to_string().replace('-', "\u{2212}")
}

/// Hours for people, to three figures: from one year up (8,766 h) with years of 365.25 days beside them, to two.
///
/// ```
/// use sealspan_report::analysis::ageing_words::hours;
/// assert_eq!(hours(500.0), "500 h");
/// assert_eq!(hours(87_660.0), "87,700 h (10 years)"); // 10 x 24 x 365.25
/// ```
#[must_use]
pub fn hours(hours: f64) -> String {
    const YEAR: f64 = 24.0 * 365.25;
    let text = format!("{} h", number::significant(hours, 3));
    if hours >= YEAR {
        format!("{text} ({} years)", number::significant(hours / YEAR, 2))
    } else {
        text
    }
}
