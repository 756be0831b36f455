//! Doubts about the intervals and about reaching beyond the records, by method.

use super::{Detail, FitOptions, GoodnessResult};
use crate::number;
use sealspan_life::bounds::Method;
use sealspan_life::edge::{Outdone, beside, outdone};
use sealspan_life::fit::Fit;
use sealspan_life::law::Edge;
use sealspan_life::quantity::Quantity;
use sealspan_numeric::special::chi_square_quantile;

/// Fewer failures than this and a normal approximation is shown with the profile beside it, and one end by
/// itself is doubted (Jeng & Meeker, preprint 97-39).
pub(super) const NORMAL_FAILURES: f64 = 50.0;
/// Fewer failures than this and plain likelihood-ratio intervals run short (the same).
const PLAIN_FAILURES: f64 = 20.0;
/// Failures asked for a failure-free time (a rule of ours).
const FAILURE_FREE: f64 = 21.0;

/// Failures for which the output says what coverage to expect, and the confidence it was measured at.
const SIMULATED_FAILURES: std::ops::Range<f64> = 4.0..10.0;
const SIMULATED_CONFIDENCE: f64 = 0.9;
/// Laws it was measured for.
const SIMULATED_LAWS: [&str; 3] = ["weibull", "lognormal", "gamma"];

/// Coverage of 90 % intervals of shape, B10 and survival with 4 to 9 failures, from the simulations of
/// `tests/coverage/table.md`: covered, and missed on one side; the shape's are the worst where failures are known only
/// between looks.
fn measured(method: Method, between_looks: bool) -> Option<[&'static str; 2]> {
    match method {
        Method::Calibrated if between_looks => Some(["82 to 93 %", "2 to 14 %"]),
        Method::Calibrated => Some(["86 to 95 %", "2 to 10 %"]),
        Method::Wald => Some(["73 to 95 %", "up to 26 %"]),
        Method::Profile => Some(["81 to 93 %", "up to 18 %"]),
        Method::Bootstrap => Some(["70 to 96 %", "up to 25 %"]),
        Method::Posterior => Some(["89 to 98 %", "up to 8 %"]),
        Method::ChiSquare => None,
    }
}

/// What coverage to expect with few failures, or that none was simulated for such lives.
fn expected_coverage(fit: &Fit, method: Method, confidence: f64) -> Option<String> {
    if !SIMULATED_FAILURES.contains(&fit.terms.extent.failures) || method == Method::ChiSquare {
        return None;
    }
    let between_looks = !fit.terms.interval.is_empty();
    if let Some(unlike) = not_simulated(fit, method) {
        return Some(format!(
            "how often such intervals hold with 4 to 9 failures was not simulated for {unlike}: take them as rough"
        ));
    }
    let [covered, missed] = measured(method, between_looks)?;
    let elsewhere = if (confidence - SIMULATED_CONFIDENCE).abs() < 1e-9 {
        String::new()
    } else {
        format!(
            "; none were simulated at the {} asked for here, where they stray too",
            number::level(confidence)
        )
    };
    Some(format!(
        "where 4 to 9 failures were to be expected, all seals watched from new, simulated 90 % intervals of shape, B10 and survival of this kind covered {covered}, and missed on one side {missed} of the time (5 % is nominal){elsewhere}; of samples that chanced to show fewer failures than were to be expected, the lower ends of lives and survival lie too high more often than that"
    ))
}

/// What sets a fit apart from those simulated with few failures, if anything does.
fn not_simulated(fit: &Fit, method: Method) -> Option<String> {
    let late = fit.terms.survival.iter().any(|p| p.weight < 0.0);
    // Gamma lives were watched to exact ages only, and no normal approximation was simulated for them.
    let gamma = fit.family.name() == "gamma";
    if fit.free.len() < fit.family.dimension() {
        Some("a law with a stated parameter".to_owned())
    } else if !SIMULATED_LAWS.contains(&fit.family.name()) {
        Some(format!("the {} law", fit.family.title()))
    } else if late {
        Some("seals watched from a later age on".to_owned())
    } else if gamma && !fit.terms.interval.is_empty() {
        Some("the gamma law where failures are known between looks".to_owned())
    } else if gamma && method == Method::Wald {
        Some("the gamma law by a normal approximation".to_owned())
    } else {
        None
    }
}

/// Share of the refits without an estimate from which on it is spoken of.
pub(super) const LEFT_OUT_SHARE: f64 = 0.02;

/// What one end of an interval is by itself, by method; `lost` is the share of the refits without an estimate, and the law
/// has so many parameters.
pub(super) fn one_sided(
    method: Method,
    failures: f64,
    confidence: f64,
    beyond_draws: bool,
    (lost, parameters): (f64, usize),
) -> String {
    let each = number::level(0.5 + 0.5 * confidence);
    if lost > LEFT_OUT_SHARE {
        return format!(
            "each end by itself is meant as a {each} bound, given that the law has an estimate: {} of the refits behind it had none, and how often such ends hold was not measured",
            number::percent(lost)
        );
    }
    let rough = beyond_draws || failures < SIMULATED_FAILURES.end;
    let aim = if rough { "roughly a" } else { "a" };
    match method {
        Method::Calibrated | Method::Bootstrap if parameters > 2 => format!(
            "each end by itself is meant as a {each} bound; simulated ends of such laws missed more often on some sides"
        ),
        Method::Calibrated | Method::Bootstrap => {
            format!("each end by itself is {aim} {each} bound")
        }
        Method::Profile if failures < NORMAL_FAILURES => format!(
            "the two ends together hold at {} {}; one end by itself is no sure {each} bound",
            if failures < PLAIN_FAILURES {
                "somewhat less than"
            } else {
                "about"
            },
            number::level(confidence)
        ),
        Method::Profile => format!("each end by itself is nearly a {each} bound"),
        Method::Wald => format!(
            "neither end by itself is a {each} bound: a normal approximation misses mostly on one side"
        ),
        Method::Posterior => format!(
            "{} of the posterior lies beyond each end: a probability under the priors, no confidence",
            number::level(0.5 - 0.5 * confidence)
        ),
        Method::ChiSquare => format!("each end by itself is at least a {each} bound"),
    }
}

/// A test of fit below this is answered (a rule of ours).
const POOR: f64 = 0.05;

/// What a small p-value means and what to try.
pub(super) fn poor_fit(fit: &Fit, g: &GoodnessResult) -> Option<String> {
    let (p, test) = if g.p_value <= g.p_value_cramer_von_mises {
        (g.p_value, "Anderson–Darling")
    } else {
        (g.p_value_cramer_von_mises, "Cramér–von Mises")
    };
    if p >= POOR {
        return None;
    }
    let least = 1.5 / (g.refits as f64 + 1.0);
    let how_often = if p < least {
        format!(
            "none of {} samples drawn from it departs as much",
            number::count(g.refits as u64)
        )
    } else {
        format!(
            "about {} in 1,000 samples drawn from it depart as much",
            number::fixed(1000.0 * p, 0)
        )
    };
    let many = if fit.terms.extent.failures >= MANY_FAILURES {
        "; with so many failures the test also sees departures that do not matter"
    } else {
        ""
    };
    Some(format!(
        "the {} law does not suit these lives ({test} test, {}: {how_often}): distrust its earliest and latest ages{many}; see where the curve without a family leaves it (fit --curve), and try other laws (--family all), groups (--by) or failure modes (--modes)",
        fit.family.title(),
        number::simulated_p_value(p, g.refits)
    ))
}

/// Failures from which a test of fit finds fault with any law (a rule of ours).
const MANY_FAILURES: f64 = 200.0;

/// How the intervals were made.
#[derive(Debug, Clone, Copy)]
pub(super) struct Asked {
    /// Method used.
    pub(super) method: Method,
    /// Whether another was asked for and could not be had.
    pub(super) in_vain: bool,
}

/// What to say of the fit's intervals and of the ages asked about.
pub(super) fn doubts(fit: &Fit, asked: Asked, options: &FitOptions) -> Vec<String> {
    let method = asked.method;
    let e = &fit.terms.extent;
    let failures = e.failures;
    let mut out = vec![];
    match method {
        Method::Wald if failures < NORMAL_FAILURES => out.push(format!(
            "normal-approximation intervals with {failures:.0} failures are lopsided: the profile-likelihood interval stands beside them (below 50 failures)"
        )),
        Method::Profile if failures < PLAIN_FAILURES && fit.family.refitted() => out.push(format!(
            "{failures:.0} failures: plain likelihood-ratio intervals run short below 20; ask for --bounds {}",
            if asked.in_vain { "posterior" } else { "calibrated or bootstrap" }
        )),
        _ => {}
    }
    if failures < NORMAL_FAILURES && matches!(method, Method::Wald | Method::Profile) {
        out.push(
            "one end taken by itself as a bound covers less surely than the two ends together"
                .to_owned(),
        );
    }
    out.extend(expected_coverage(fit, method, options.confidence));
    if options.detail == Detail::Whole {
        out.extend(beaten(fit));
    }
    if options.bounds.is_none() {
        out.extend(picked(fit, method).map(str::to_owned));
    }
    if fit.family.name() == "three_parameter_weibull" {
        let few = if failures < FAILURE_FREE {
            format!("; {failures:.0} failures are fewer than the 21 asked for it (a rule of ours)")
        } else {
            String::new()
        };
        out.push(format!(
            "a failure-free time needs a physical reason, and the lower end of the law hangs on it{few}; the likelihood grows without limit as it nears the first failure once the shape is below 1 (recorded ages are taken as exact): on the way there likelihood intervals hold the shape at 1, so that the failure-free time ends at the first failure at the latest"
        ));
    }
    out.extend(not_excluded(fit, options.confidence));
    let oldest = e.oldest;
    for age in options
        .at
        .iter()
        .chain(&options.ages_now)
        .filter(|a| **a > oldest)
    {
        let far = if *age > 2.0 * oldest {
            ", and at more than twice that age do not plan on it"
        } else {
            ""
        };
        out.push(format!(
            "the age of {age} {} is beyond the oldest seal seen ({} {0}): only the law speaks there{far}",
            options.unit,
            number::tidy(oldest)
        ));
    }
    for p in &options.quantiles {
        let age = fit.estimate(Quantity::Quantile(*p));
        if age > 2.0 * oldest {
            out.push(format!(
                "the age by which {} have failed lies beyond twice the oldest seal seen ({} {}): do not plan on it",
                number::level(*p),
                number::tidy(oldest),
                options.unit
            ));
        }
    }
    out
}

/// Why a law with three parameters and more has the default that it has, from the simulations of
/// `tests/coverage/table.md`.
fn picked(fit: &Fit, method: Method) -> Option<&'static str> {
    let all_free = fit.free.len() == fit.family.dimension();
    match (fit.family.name(), method) {
        _ if !all_free => None,
        ("generalised_gamma", Method::Profile) => Some(
            "plain profile likelihood is this law's default: with 14 and 20 failures simulated 90 % intervals of q, B10 and survival covered 95, 90, 90 % and 92, 89, 89 %, calibrated ones no better (91, 94, 91 % and 94, 91, 89 %)",
        ),
        ("weibull_mixture", Method::Profile) => Some(
            "plain profile likelihood is this law's default: simulated 90 % intervals of share, B10 and survival covered 89, 91, 89 % with 80 failures, and 84, 88, 89 % with 30",
        ),
        ("three_parameter_weibull", Method::Calibrated) => Some(
            "calibrated intervals are this law's default: with 14 and 40 failures simulated 90 % intervals of shape, B10 and survival covered 93, 89, 93 % and 82, 90, 90 %, plain profile likelihood 100, 87, 92 % and 86, 85, 88 %; the shape's upper end missed in 12 % with 40",
        ),
        ("weak_fraction_weibull", Method::Calibrated) => Some(
            "calibrated intervals are this law's default: with 18 failures simulated 90 % intervals of shape, B10 and survival covered 92, 90, 87 %, plain profile likelihood 88, 87, 87 %, missing the shape below in 12 %",
        ),
        _ => None,
    }
}

/// A larger law that leaves this one behind.
fn beaten(fit: &Fit) -> Option<String> {
    let Outdone { family, gain } = outdone(fit)?;
    Some(format!(
        "the {} law is clearly beaten by the {} law, of which it is a special case: log-likelihood higher by {} for one parameter more (by chance in fewer than one sample in a thousand); its intervals hold only if it is true: use --family {}",
        fit.family.title(),
        family.title(),
        number::fixed(gain, 1),
        family.name()
    ))
}

/// The simpler law at the edge of the family that lies within the interval's depth.
fn not_excluded(fit: &Fit, confidence: f64) -> Option<String> {
    let depth = chi_square_quantile(confidence, 1.0);
    let closest = beside(fit)
        .into_iter()
        .filter(|b| matches!(b.edge, Edge::Simpler { .. }))
        .min_by(|a, b| a.gain.total_cmp(&b.gain))
        .filter(|b| b.gain < depth)?;
    Some(format!(
        "the data do not exclude the simpler {} law (twice the gain in log-likelihood {}): the likelihood's intervals reach to it and take in its own",
        closest.fit.family.title(),
        number::fixed(closest.gain, 2)
    ))
}

/// Fewer effective draws than this and a posterior's ends are noise (a rule of ours).
const FEWEST_DRAWS: f64 = 400.0;

/// Said of a sampled posterior that too few draws bear.
pub(super) fn few_draws(effective: Option<f64>) -> Option<String> {
    let draws = effective.filter(|n| *n < FEWEST_DRAWS)?;
    Some(format!(
        "only {draws:.0} effective draws of the posterior: its ends change from seed to seed; do not use them"
    ))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const TABLE: &str = include_str!("../../../../../tests/coverage/table.md");

    /// What is said of few failures is what the table of simulations holds, to the last per cent said.
    #[test]
    fn the_sentences_are_those_of_the_table() {
        let methods = [
            ("wald", Method::Wald),
            ("profile", Method::Profile),
            ("calibrated", Method::Calibrated),
            ("bootstrap", Method::Bootstrap),
            ("posterior", Method::Posterior),
        ];
        for (name, method) in methods {
            // A sentence that holds for both ways of watching is judged by both.
            let (mut low, mut high, mut most) = ([101.0_f64; 2], [0.0_f64; 2], [0.0_f64; 2]);
            for line in TABLE.lines() {
                let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
                let known = cells.len() >= 12 && SIMULATED_LAWS.contains(&cells[0]);
                let watched = ["one-end", "staggered", "looks"];
                if !known || !watched.contains(&cells[1]) || cells[5] != name {
                    continue;
                }
                if !SIMULATED_FAILURES.contains(&cells[4].parse().unwrap()) {
                    continue;
                }
                let at = usize::from(cells[1] == "looks");
                for held in cells[9].split(',') {
                    let held: f64 = held.trim().parse().unwrap();
                    (low[at], high[at]) = (low[at].min(held), high[at].max(held));
                }
                for missed in cells[6..9].iter().flat_map(|c| c.split(',')) {
                    most[at] = most[at].max(missed.trim().parse().unwrap());
                }
            }
            let numbers = |text: &str| -> Vec<f64> {
                text.split_whitespace()
                    .filter_map(|w| w.parse().ok())
                    .collect()
            };
            let said = [false, true].map(|looks| measured(method, looks).unwrap());
            let same = said[0] == said[1];
            for at in 0..2 {
                let both =
                    |x: [f64; 2], f: fn(f64, f64) -> f64| if same { f(x[0], x[1]) } else { x[at] };
                let covered = numbers(said[at][0]);
                let missed = *numbers(said[at][1]).last().unwrap();
                let (low, high) = (both(low, f64::min), both(high, f64::max));
                let most = both(most, f64::max);
                assert!(
                    (covered[0] - low).abs() < 1.0 && (covered[1] - high).abs() < 1.0,
                    "{name} {low} {high}"
                );
                assert!((missed - most).abs() < 1.0, "{name} {most}");
            }
        }
    }
}
