//! Starts of the two-part Weibull mixture: the failures cut into a window and the rest in many ways, each improved by
//! expectation and maximisation (Dempster, Laird & Rubin 1977, "Maximum likelihood from incomplete data via the EM
//! algorithm", JRSS B 39), and the likeliest kept that differ. Delayed entries are shared out like seals still
//! running: a start need not be exact.

#![expect(
    clippy::indexing_slicing,
    reason = "the two parts of the law, numbered 0 and 1"
)]

use crate::fit::Problem;
use crate::law::{Age, Law};
use crate::laws::by_name;
use crate::laws::weibull::{SPREAD, Weibull};
use crate::laws::weibull_mixture::WeibullMixture;
use crate::likelihood;
use crate::maximise::refine;
use crate::terms::{Point, Stretch, Terms};
use rayon::prelude::*;

/// Shares of the failures at which windows begin and end.
const CUTS: [f64; 10] = [0.0, 0.04, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.92, 1.0];
/// Failures in a tight run, and how many of the tightest runs of each length are looked at.
const RUNS: [usize; 4] = [5, 7, 10, 15];
const TIGHTEST: usize = 4;
/// Rounds of improvement of every start, how many go on, their rounds, and how many are returned.
const ROUNDS: usize = 8;
const KEPT: usize = 40;
const MORE_ROUNDS: usize = 30;
const RETURNED: usize = 16;
/// How many more are returned that close in on a few failures: what is set aside is to be named.
const ASIDE: usize = 3;
/// Two ends this close in every parameter are one.
const SAME: f64 = 0.1;

type Theta = [f64; 5];

/// The likeliest starts that differ, best first, and a few that close in on failures.
pub(super) fn starts(terms: &Terms) -> Vec<Theta> {
    let windows = windows(terms);
    let first = improved(windows.clone(), terms, ROUNDS);
    let inside = likeliest(&first, true, KEPT);
    let again = improved(inside, terms, MORE_ROUNDS);
    let mut out = likeliest(&again, true, RETURNED);
    // Where all run off the search says where to.
    if out.is_empty() {
        return windows.into_iter().step_by(5).take(RETURNED).collect();
    }
    out.extend(likeliest(&first, false, ASIDE));
    out
}

/// Where an improvement ended.
struct Ended {
    value: f64,
    theta: Theta,
    /// Whether that is inside the family.
    inside: bool,
}

fn improved(starts: Vec<Theta>, terms: &Terms, rounds: usize) -> Vec<Ended> {
    let end = |start: Theta| {
        let theta = WeibullMixture::in_order(improve(start, terms, rounds)?);
        let value = likelihood::value::<5, WeibullMixture>(theta, terms);
        let inside = WeibullMixture::edge(theta, terms).is_none();
        value.is_finite().then_some(Ended {
            value,
            theta,
            inside,
        })
    };
    let mut ends: Vec<Ended> = starts.into_par_iter().filter_map(end).collect();
    ends.sort_by(|a, b| b.value.total_cmp(&a.value));
    ends
}

/// The likeliest that differ, inside the family or outside.
fn likeliest(ends: &[Ended], inside: bool, keep: usize) -> Vec<Theta> {
    let mut out: Vec<Theta> = vec![];
    for end in ends.iter().filter(|end| end.inside == inside) {
        let near = |other: &Theta| {
            other
                .iter()
                .zip(end.theta)
                .all(|(a, b)| (a - b).abs() < SAME)
        };
        if !out.iter().any(near) {
            out.push(end.theta);
        }
        if out.len() == keep {
            break;
        }
    }
    out
}

/// The failures inside each window as one part, those outside as the other; seals still running count with the part
/// that lasts longer, which is taken to last as long as they say, or not.
fn windows(terms: &Terms) -> Vec<Theta> {
    let points = terms.density.iter().map(|p| (p.age.ln, p.weight));
    let stretches = terms.interval.iter().map(|s| (middle(s).ln(), s.weight));
    let mut failures: Vec<(f64, f64)> = points.chain(stretches).collect();
    failures.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all: f64 = failures.iter().map(|f| f.1).sum();
    let running = (terms.extent.total - all).max(0.0);
    let spread = terms.ln_spread().max(f64::MIN_POSITIVE);
    let mut out = vec![];
    for (from, to) in cuts(&failures, all) {
        let (mut inside, mut outside) = (Moments::default(), Moments::default());
        let mut before = 0.0;
        for (x, w) in &failures {
            let at = (before + 0.5 * w) / all;
            before += w;
            let side = if (from..to).contains(&at) {
                &mut inside
            } else {
                &mut outside
            };
            side.add(*x, *w);
        }
        if inside.weight <= 0.0 || outside.weight <= 0.0 {
            continue;
        }
        let [a, b] = [&inside, &outside].map(|m| m.weibull(spread));
        let later = [a.0 > b.0, a.0 <= b.0].map(|x| f64::from(u8::from(x)));
        let share = (inside.weight + running * later[0]) / (all + running);
        out.push(theta(a, b, share));
        if running > 0.2 * all {
            // As in the exponential law: ln of the time watched over the failures.
            let longer = [&inside, &outside].map(|m| (1.0 + running / m.weight).ln());
            let stretch = |part: (f64, f64), i: usize| (part.0 + later[i] * longer[i], part.1);
            out.push(theta(stretch(a, 0), stretch(b, 1), share));
            out.push(theta(a, b, inside.weight / all));
        }
    }
    out
}

/// Where windows begin and end, in shares of the failures: at even cuts, and around the tightest runs of a few.
fn cuts(failures: &[(f64, f64)], all: f64) -> Vec<(f64, f64)> {
    let later = CUTS
        .iter()
        .enumerate()
        .flat_map(|(i, from)| CUTS.iter().skip(i + 1).map(|to| (*from, *to)));
    let mut out: Vec<(f64, f64)> = later.collect();
    let mut ends = vec![0.0];
    for (_, w) in failures {
        ends.push(ends.last().copied().unwrap_or(0.0) + w / all);
    }
    for count in RUNS {
        let run = |slice: &[(f64, f64)]| Some(slice.last()?.0 - slice.first()?.0);
        let mut runs: Vec<(f64, usize)> = failures
            .windows(count)
            .map(run)
            .zip(0..)
            .filter_map(|(w, i)| Some((w?, i)))
            .collect();
        runs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut taken: Vec<usize> = vec![];
        for (_, at) in runs {
            if taken.len() < TIGHTEST && taken.iter().all(|other| other.abs_diff(at) >= count) {
                taken.push(at);
            }
        }
        let window = |at: &usize| Some((*ends.get(*at)?, *ends.get(at + count)?));
        out.extend(taken.iter().filter_map(window));
    }
    out
}

fn theta(a: (f64, f64), b: (f64, f64), share: f64) -> Theta {
    let share = share.clamp(0.01, 0.99);
    [a.0, a.1, b.0 - a.0, b.1, share.ln() - (-share).ln_1p()]
}

fn middle(s: &Stretch) -> f64 {
    0.5 * (s.lower.map_or(0.0, |a| a.t) + s.upper.t)
}

#[derive(Default)]
struct Moments {
    weight: f64,
    mean: f64,
    square: f64,
}

impl Moments {
    fn add(&mut self, x: f64, w: f64) {
        self.weight += w;
        let off = x - self.mean;
        self.mean += off * w / self.weight;
        self.square += w * off * (x - self.mean);
    }

    /// Location and ln σ, not much narrower than all failures together.
    fn weibull(&self, spread: f64) -> (f64, f64) {
        let own = (self.square / self.weight).sqrt().max(0.02 * spread);
        (self.mean + 0.45 * own, (SPREAD * own).ln())
    }
}

/// Rounds of expectation and maximisation; `None` where a part has no fit.
fn improve(start: Theta, terms: &Terms, rounds: usize) -> Option<Theta> {
    let mut theta = start;
    for _ in 0..rounds {
        let [mu, ln_sigma, apart, ln_sigma_2, logit] = theta;
        let (first, second) = ([mu, ln_sigma], [mu + apart, ln_sigma_2]);
        let (mine, other, share) = shared_out(terms, first, second, logit);
        let a = part(&mine, first)?;
        let b = part(&other, second)?;
        theta = [a[0], a[1], b[0] - a[0], b[1], share.ln() - (-share).ln_1p()];
        if !theta.iter().all(|v| v.is_finite()) {
            return None;
        }
    }
    Some(theta)
}

/// The terms of each part, every weight shared out by the chances of either, and the first part's share.
fn shared_out(terms: &Terms, a: [f64; 2], b: [f64; 2], logit: f64) -> (Terms, Terms, f64) {
    let chance = |one: f64, other: f64| {
        let odds = logit + one - other;
        if odds.is_nan() {
            0.5
        } else {
            1.0 / (1.0 + (-odds).exp())
        }
    };
    let (mut first, mut second) = (empty(terms), empty(terms));
    let (mut own, mut all) = (0.0, 0.0);
    let mut count = |weight: f64, chance: f64| {
        own += weight * chance;
        all += weight;
    };
    let mut points =
        |list: &[Point], ln: fn([f64; 2], Age) -> f64, to: fn(&mut Terms) -> &mut Vec<Point>| {
            for p in list {
                let r = chance(ln(a, p.age), ln(b, p.age));
                count(p.weight, r);
                to(&mut first).push(Point {
                    weight: p.weight * r,
                    ..*p
                });
                to(&mut second).push(Point {
                    weight: p.weight * (1.0 - r),
                    ..*p
                });
            }
        };
    points(&terms.density, Weibull::ln_density::<f64>, |t| {
        &mut t.density
    });
    points(&terms.survival, Weibull::ln_survival::<f64>, |t| {
        &mut t.survival
    });
    for s in &terms.interval {
        let between = |part: [f64; 2]| Weibull::ln_between(part, s.lower, s.upper);
        let r = chance(between(a), between(b));
        count(s.weight, r);
        first.interval.push(Stretch {
            weight: s.weight * r,
            ..*s
        });
        second.interval.push(Stretch {
            weight: s.weight * (1.0 - r),
            ..*s
        });
    }
    let share = if all > 0.0 { own / all } else { 0.5 };
    (first, second, share.clamp(1e-4, 1.0 - 1e-4))
}

fn empty(terms: &Terms) -> Terms {
    Terms {
        density: Vec::with_capacity(terms.density.len()),
        survival: Vec::with_capacity(terms.survival.len()),
        interval: Vec::with_capacity(terms.interval.len()),
        extent: terms.extent,
    }
}

fn part(terms: &Terms, start: [f64; 2]) -> Option<[f64; 2]> {
    let problem = Problem {
        family: by_name("weibull")?,
        terms,
        base: start.to_vec(),
        free: vec![0, 1],
    };
    let found = refine(&problem, &start).ok()?;
    found.x.try_into().ok()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use sealspan_records::observation::{Observation, Sample};

    /// Each term goes to the parts by the chance that it belongs to either (Bayes), and nothing is lost or made.
    #[test]
    fn weights_are_shared_out_by_the_chances_of_the_parts() {
        let rows = vec![
            Observation::exact(70.0, 0.0, 2.0).unwrap(),
            Observation::right(150.0, 0.0, 3.0).unwrap(),
            Observation::interval(90.0, 120.0, 0.0, 4.0).unwrap(),
        ];
        let terms = Terms::new(&Sample::new(rows));
        // Exponential parts, ln σ = 0, of means 50 and 300, a fifth in the first.
        let (means, logit) = ([50.0f64, 300.0], (0.2f64 / 0.8).ln());
        let [a, b] = means.map(|mean| [mean.ln(), 0.0]);
        let (first, second, share) = shared_out(&terms, a, b, logit);
        let chance = |of: &dyn Fn(f64) -> f64| {
            let [one, other] = means.map(of);
            0.2 * one / (0.2 * one + 0.8 * other)
        };
        let r = [
            chance(&|m| (-70.0 / m).exp() / m),
            chance(&|m| (-150.0 / m).exp()),
            chance(&|m| (-90.0 / m).exp() - (-120.0 / m).exp()),
        ];
        let weights = |t: &Terms| {
            [
                t.density[0].weight,
                t.survival[0].weight,
                t.interval[0].weight,
            ]
        };
        let (own, rest) = (weights(&first), weights(&second));
        for ((r, count), (own, rest)) in r.iter().zip([2.0, 3.0, 4.0]).zip(own.iter().zip(rest)) {
            assert!((own / (count * r) - 1.0).abs() < 1e-12);
            assert!((own + rest - count).abs() < 1e-12);
        }
        let want = (2.0 * r[0] + 3.0 * r[1] + 4.0 * r[2]) / 9.0;
        assert!((share / want - 1.0).abs() < 1e-12);
    }
}
