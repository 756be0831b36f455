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

    fn exact(ages: &[f64]) -> Vec<Observation> {
        let each = |t: &f64| Observation::exact(*t, 0.0, 1.0).unwrap();
        ages.iter().map(each).collect()
    }

    fn terms(rows: Vec<Observation>) -> Terms {
        Terms::new(&Sample::new(rows))
    }

    /// Quantiles of a Weibull law of shape 2 and scale 500.
    fn spread_out(n: u32) -> Vec<f64> {
        let at = |i: u32| (f64::from(i) + 0.5) / f64::from(n);
        (0..n).map(|i| 500.0 * (-(-at(i)).ln_1p()).sqrt()).collect()
    }

    /// The part that failures alone begin: a Weibull law by their mean and standard deviation of ln age.
    fn begun(ln_ages: &[f64]) -> (f64, f64) {
        let n = ln_ages.len() as f64;
        let mean = ln_ages.iter().sum::<f64>() / n;
        let square = ln_ages.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n;
        let sd = square.sqrt();
        (
            mean + 0.45 * sd,
            (sd * 6f64.sqrt() / std::f64::consts::PI).ln(),
        )
    }

    fn parts([a, ln_a, apart, ln_b, _]: Theta) -> [(f64, f64); 2] {
        [(a, ln_a), (a + apart, ln_b)]
    }

    fn near(a: (f64, f64), b: (f64, f64), by: f64) -> bool {
        (a.0 - b.0).abs() < by && (a.1 - b.1).abs() < by
    }

    #[test]
    fn counted_ages_have_their_weighted_mean_and_spread() {
        let mut moments = Moments::default();
        moments.add(0.0, 1.0);
        moments.add(0.2, 3.0);
        // 0.25 · 0.15² + 0.75 · 0.05² about the mean of 0.15.
        let sd = (0.25 * 0.15f64.powi(2) + 0.75 * 0.05f64.powi(2)).sqrt();
        let want = |sd: f64| {
            (
                0.15 + 0.45 * sd,
                (sd * 6f64.sqrt() / std::f64::consts::PI).ln(),
            )
        };
        assert!(near(moments.weibull(0.1), want(sd), 1e-12));
        // At least a fiftieth of the spread of all.
        assert!(near(moments.weibull(100.0), want(2.0), 1e-12));
    }

    #[test]
    fn of_ends_alike_the_likeliest_is_kept() {
        let end = |value: f64, x: f64, inside: bool| Ended {
            value,
            theta: [x, 2.0 * x, 3.0, x - 1.0, 1.0 - x],
            inside,
        };
        let ends = [
            end(-1.0, 1.0, true),
            end(-2.0, 1.04, true),
            end(-3.0, -1.0, true),
            end(-4.0, 5.0, false),
            end(-5.0, 9.0, true),
            end(-6.0, 1.2, true),
        ];
        let kept = |inside: bool, keep: usize| -> Vec<f64> {
            let kept = likeliest(&ends, inside, keep);
            kept.iter().map(|theta| theta[0]).collect()
        };
        assert_eq!(kept(true, 16), [1.0, -1.0, 9.0, 1.2]);
        assert_eq!(kept(true, 3), [1.0, -1.0, 9.0]);
        assert_eq!(kept(false, 16), [5.0]);
        // Ends that differ in each parameter, two of them each the other's mirror.
        let apart = [[1.0; 5], [-1.0; 5], [2.0; 5]].map(|theta| Ended {
            value: 0.0,
            theta,
            inside: true,
        });
        assert_eq!(likeliest(&apart, true, 9).len(), 3);
    }

    #[test]
    fn a_tight_run_of_five_is_a_part_by_itself() {
        let mut ages = spread_out(60);
        let run = [300.0, 300.5, 301.0, 310.0, 310.5];
        ages.retain(|t| !(290.0..330.0).contains(t));
        ages.extend(run);
        let want = begun(&run.map(f64::ln));
        let found = windows(&terms(exact(&ages)));
        assert!(found.iter().all(|t| t.iter().all(|v| v.is_finite())));
        let has = |t: &Theta| parts(*t).iter().any(|p| near(*p, want, 1e-9));
        assert!(found.iter().any(has));
    }

    #[test]
    fn windows_lie_around_each_of_two_tight_runs() {
        let mut failures: Vec<(f64, f64)> = (0..30).map(|i| (0.1 * f64::from(i), 1.0)).collect();
        failures.extend((0..8).map(|i| (4.0 + 0.002 * f64::from(i), 1.0)));
        failures.extend((0..10).map(|i| (4.1 + 0.1 * f64::from(i), 1.0)));
        failures.extend((0..8).map(|i| (6.0 + 0.003 * f64::from(i), 1.0)));
        failures.extend((0..4).map(|i| (6.2 + 0.1 * f64::from(i), 1.0)));
        let all = 60.0;
        let found = cuts(&failures, all);
        for first in [30.0, 48.0] {
            for count in [5.0, 7.0] {
                let inside = |(from, to): &(f64, f64)| {
                    from * all > first - 1e-9
                        && to * all < first + 8.0 + 1e-9
                        && ((to - from) * all - count).abs() < 1e-9
                };
                assert!(found.iter().any(inside), "{first} {count}");
            }
        }
    }

    /// Of failures between looks the middles count; two batches apart have a window each.
    #[test]
    fn failures_between_looks_count_in_the_middle() {
        let lows = [60.0, 70.0, 85.0, 100.0, 330.0, 360.0, 400.0, 450.0];
        let rows = lows.map(|a| Observation::interval(a, a + 20.0, 0.0, 3.0).unwrap());
        let found = windows(&terms(rows.into()));
        let middles = lows.map(|a: f64| (a + 10.0).ln());
        let (early, late) = (begun(&middles[..4]), begun(&middles[4..]));
        let has = |t: &Theta| {
            let [a, b] = parts(*t);
            near(a, early, 1e-9) && near(b, late, 1e-9) && t[4].abs() < 1e-9
        };
        assert!(found.iter().any(has), "{found:?}");
    }

    /// Where many run each window begins in three ways: the part that lasts longer has all that run, lasts as long as
    /// the time watched over its failures says as well, or has no more than its failures.
    #[test]
    fn with_many_running_each_window_begins_in_three_ways() {
        let ages = [
            40.0, 55.0, 61.0, 90.0, 130.0, 210.0, 300.0, 340.0, 410.0, 500.0,
        ];
        let rows = |running: f64| {
            let mut rows = exact(&ages);
            rows.push(Observation::right(600.0, 0.0, running).unwrap());
            terms(rows)
        };
        let (few, many) = (windows(&rows(1.0)), windows(&rows(90.0)));
        assert_eq!(many.len(), 3 * few.len());
        for (one, three) in few.iter().zip(many.chunks(3)) {
            let [first, second, third] = [three[0], three[1], three[2]];
            for (a, b) in parts(*one).into_iter().zip(parts(first)) {
                assert!(near(a, b, 1e-9));
            }
            let share = |t: Theta| 1.0 / (1.0 + (-t[4]).exp());
            let own = 10.0 * share(third);
            let [a, b] = parts(first);
            let later = usize::from(a.0 <= b.0);
            let failed = [own, 10.0 - own][later];
            let want = (own + if later == 0 { 90.0 } else { 0.0 }) / 100.0;
            assert!((share(first) - want).abs() < 1e-9, "{want}");
            let longer = parts(second)[later].0 - parts(first)[later].0;
            assert!((longer - (1.0 + 90.0 / failed).ln()).abs() < 1e-9);
            assert!((parts(second)[1 - later].0 - parts(first)[1 - later].0).abs() < 1e-9);
        }
    }

    /// No round of expectation and maximisation loses likelihood (Dempster, Laird & Rubin 1977).
    #[test]
    fn no_round_of_improvement_loses_likelihood() {
        let mut rows = exact(&[30.0, 42.0, 47.0, 60.0, 210.0, 250.0, 280.0, 320.0]);
        rows.push(Observation::right(270.0, 0.0, 4.0).unwrap());
        rows.push(Observation::interval(40.0, 55.0, 0.0, 2.0).unwrap());
        let terms = terms(rows);
        let value = |theta: Theta| likelihood::value::<5, WeibullMixture>(theta, &terms);
        let starts = windows(&terms);
        let mut rounds = 0;
        for start in &starts {
            let mut last = *start;
            for _ in 0..4 {
                let Some(next) = improve(last, &terms, 1) else {
                    break;
                };
                let (before, after) = (value(last), value(next));
                assert!(after > before - 1e-7, "{start:?}: {before} {after}");
                last = next;
                rounds += 1;
            }
        }
        // A part that closes in on a single failure has no fit and ends the rounds; most have one.
        assert!(rounds > 2 * starts.len() && starts.len() > 10, "{rounds}");
        // All of them so improved, the likeliest first.
        let ends = improved(starts.clone(), &terms, 4);
        let mut want: Vec<f64> = starts
            .iter()
            .filter_map(|s| improve(*s, &terms, 4).map(value))
            .filter(|v| v.is_finite())
            .collect();
        want.sort_by(|a, b| b.total_cmp(a));
        assert_eq!(ends.len(), want.len());
        for (end, want) in ends.iter().zip(want) {
            assert!((end.value - want).abs() < 1e-9 * want.abs());
            assert!((value(end.theta) - want).abs() < 1e-9 * want.abs());
        }
    }

    /// Sixty failures of one law and twelve within four hours of each other: one start closes in on those twelve,
    /// and the starts inside the family come likeliest first.
    #[test]
    fn a_start_closes_in_on_twelve_failures_within_hours() {
        let mut ages = spread_out(60);
        let run: Vec<f64> = (0..12).map(|i| 400.0 + f64::from(i) / 72.0).collect();
        ages.extend(&run);
        let terms = terms(exact(&ages));
        let found = starts(&terms);
        let ln_run: Vec<f64> = run.iter().map(|t| t.ln()).collect();
        let at = begun(&ln_run).0;
        // Narrower than the window began, which has at least a fiftieth of the spread of all.
        let began = (0.02 * terms.ln_spread() * SPREAD).ln();
        let has = |t: &Theta| {
            let mut parts = parts(*t).into_iter();
            parts.any(|p| (p.0 - at).abs() < 0.001 && p.1 < began - 0.5)
        };
        assert!(found.iter().any(has), "{found:?}");
        let value = |theta: Theta| likelihood::value::<5, WeibullMixture>(theta, &terms);
        let inside = found
            .iter()
            .filter(|t| WeibullMixture::edge(**t, &terms).is_none());
        let values: Vec<f64> = inside.map(|t| value(*t)).collect();
        assert!(values.len() > 1 && values.is_sorted_by(|a, b| a >= b));
    }
}
