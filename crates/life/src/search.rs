//! The search for the greatest maximum: from every start, along a parameter with several peaks, and against the laws
//! at the ends of the family's range.

use crate::fit::{NoFit, Problem};
use crate::law::Limit;
use crate::maximise::{LogLikelihood, Lost, Maximum, climb, maximise};

/// A log-likelihood higher by this part of its size is no rounding.
const ROUNDING: f64 = 1e-9;
/// A search that ended without a maximum proves a peak local only where it got higher by this part of its size.
const HIGHER: f64 = 1e-6;

/// With more free parameters than this the starts are made to lie near peaks of their own.
const MANY: usize = 3;
/// Values in turn without a fit, after which the parameters have run off.
const MOST_FAILED: usize = 2;

/// What the search found.
struct Found {
    best: Option<Maximum>,
    /// The highest maximum at which the law closes in on a few failures.
    aside: Option<Maximum>,
    /// Where it got without reaching a maximum, highest first, and why.
    lost: Option<(f64, NoFit)>,
}

/// The greatest maximum of a problem, and a higher one that was set aside because the law closes in on a few failures
/// there.
///
/// # Errors
/// [`NoFit`]: what lies where the likelihood is highest.
pub(crate) fn greatest(
    problem: &Problem,
    starts: &[Vec<f64>],
) -> Result<(Maximum, Option<Maximum>), NoFit> {
    let peaks = scan(problem, starts);
    let found = if peaks.is_empty() {
        from_all(problem, starts)
    } else {
        from_all(problem, &peaks)
    };
    let limit = limit(problem);
    match (found.best, found.lost, limit) {
        (Some(best), _, Some(limit)) if above(limit.value, best.value, ROUNDING) => {
            Err(NoFit::Edge(limit.words))
        }
        (Some(best), Some((value, why)), _)
            if above(value, best.value, HIGHER) && !problem.family.unbounded(problem.terms) =>
        {
            Err(named(problem, why))
        }
        (Some(best), ..) => {
            let aside = found.aside.filter(|a| above(a.value, best.value, HIGHER));
            Ok((best, aside))
        }
        // The end itself is never reached, so that the search stops a little below it.
        (None, Some((value, why)), Some(limit)) if above(value, limit.value, HIGHER) => {
            Err(named(problem, why))
        }
        // Laws of the family itself, all as likely as its end.
        (None, Some((value, NoFit::Ridge)), Some(limit))
            if !above(limit.value, value, ROUNDING) =>
        {
            Err(named(problem, NoFit::Ridge))
        }
        (None, _, Some(limit)) => Err(NoFit::Edge(limit.words)),
        (None, lost, None) => {
            let why = lost.map_or(NoFit::NotReached { slope: f64::NAN }, |l| l.1);
            Err(named(problem, why))
        }
    }
}

/// Whether a log-likelihood is higher than another by more than a part of its size.
fn above(value: f64, other: f64, part: f64) -> bool {
    value > other + part * (1.0 + other.abs())
}

/// Three parameters and more that run off together have no law of their own to name.
fn named(problem: &Problem, why: NoFit) -> NoFit {
    match why {
        NoFit::NotReached { .. } | NoFit::Ridge if problem.free.len() > 2 => NoFit::Edge(
            "the likelihood rises ever more slowly in a direction in which several parameters run off or trade places: the records do not fix all of this law's parameters; use a law with fewer, or look at more ages",
        ),
        why => why,
    }
}

fn from_all(problem: &Problem, starts: &[Vec<f64>]) -> Found {
    let mut out = Found {
        best: None,
        aside: None,
        lost: None,
    };
    for start in starts {
        let start = problem.pick(start);
        // From near a peak, downhill's first long step may leave a basin among many.
        let climbed = match problem.free.len() > MANY {
            true => climb(problem, &start).ok(),
            false => None,
        };
        if let Some(found) = climbed.filter(|found| sound(problem, found)) {
            out.keep(found);
            continue;
        }
        match maximise(problem, &start) {
            Ok(found) if sound(problem, &found) => out.keep(found),
            Ok(found) => {
                out.lose(problem, NoFit::Ridge, &found.x);
                out.set_aside(problem, found);
            }
            Err(Lost { why, x }) => out.lose(problem, why, &x),
        }
    }
    out
}

impl Found {
    fn keep(&mut self, found: Maximum) {
        if self.best.as_ref().is_none_or(|b| found.value > b.value) {
            self.best = Some(found);
        }
    }

    fn set_aside(&mut self, problem: &Problem, found: Maximum) {
        let (family, theta) = (problem.family, problem.place(&found.x));
        let closed = family.closes_in(&theta, problem.terms) || family.unlike(&theta);
        let higher = self.aside.as_ref().is_none_or(|a| found.value > a.value);
        if closed && higher {
            self.aside = Some(found);
        }
    }

    fn lose(&mut self, problem: &Problem, why: NoFit, x: &[f64]) {
        let value = problem.value(x);
        let value = if value.is_nan() {
            f64::NEG_INFINITY
        } else {
            value
        };
        if self.lost.is_none_or(|(top, _)| value > top) {
            let edge = problem.family.edge(&problem.place(x), problem.terms);
            self.lost = Some((value, edge.map_or(why, NoFit::Edge)));
        }
    }
}

/// A maximum far out on the family's edge is none.
fn sound(problem: &Problem, found: &Maximum) -> bool {
    let theta = problem.place(&found.x);
    problem.family.edge(&theta, problem.terms).is_none()
}

/// The likeliest law at an end of the family's whole range.
fn limit(problem: &Problem) -> Option<Limit> {
    if problem.free.len() < problem.family.dimension() {
        return None;
    }
    let limits = problem.family.limits(problem.terms).into_iter();
    limits.max_by(|a, b| a.value.total_cmp(&b.value))
}

/// The peaks of the profile along a family's scanned parameter; none where it has none, or its value is stated.
fn scan(problem: &Problem, starts: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let Some((at, values)) = problem.family.scanned() else {
        return vec![];
    };
    let Some(first) = starts.first().filter(|_| problem.free.contains(&at)) else {
        return vec![];
    };
    let held: Vec<usize> = problem.free.iter().copied().filter(|i| *i != at).collect();
    let fitted = |start: &[f64], value: f64, search: bool| {
        let mut base = start.to_vec();
        *base.get_mut(at)? = value;
        let problem = Problem {
            base,
            free: held.clone(),
            ..*problem
        };
        let start = problem.pick(&problem.base);
        let found = match search {
            true => maximise(&problem, &start),
            false => climb(&problem, &start),
        };
        found
            .ok()
            .map(|found| (problem.place(&found.x), found.value))
    };
    let along = outwards(values, first, &fitted);
    // From the largest value down: the other way round, but peaks have no direction.
    let value = |i: usize| along.get(i).and_then(|a| a.as_ref()).map(|a| a.1);
    let lower = |other: Option<f64>, here: f64| other.is_none_or(|other| other <= here);
    let peak = |i: &usize| {
        value(*i).is_some_and(|here| {
            let before = i.checked_sub(1).and_then(value);
            lower(before, here) && lower(value(i + 1), here)
        })
    };
    let peaks = (0..along.len()).filter(peak);
    peaks
        .filter_map(|i| along.get(i)?.as_ref().map(|a| a.0.clone()))
        .collect()
}

/// A place and the log-likelihood there, where one is found.
type Place = Option<(Vec<f64>, f64)>;

/// Fits at all values, which rise, from 0 upwards and from 0 downwards; listed from the largest down.
fn outwards(
    values: &[f64],
    first: &[f64],
    fitted: &impl Fn(&[f64], f64, bool) -> Place,
) -> Vec<Place> {
    let (below, above): (Vec<f64>, Vec<f64>) = values.iter().partition(|v| **v < 0.0);
    let mut along: Vec<Place> = vec![];
    walk(above.iter(), first, fitted, &mut along);
    let from = along
        .first()
        .cloned()
        .flatten()
        .map_or(first.to_vec(), |a| a.0);
    along.reverse();
    walk(below.iter().rev(), &from, fitted, &mut along);
    along
}

/// Fits at each value in turn, each from where the last two point.
fn walk<'a>(
    values: impl Iterator<Item = &'a f64>,
    from: &[f64],
    fitted: &impl Fn(&[f64], f64, bool) -> Place,
    along: &mut Vec<Place>,
) {
    let mut last = from.to_vec();
    let mut step = vec![0.0; last.len()];
    let mut failed = 0;
    for value in values {
        let ahead: Vec<f64> = last.iter().zip(&step).map(|(a, s)| a + s).collect();
        let found = fitted(&ahead, *value, false).or_else(|| fitted(&last, *value, false));
        let found = found.or_else(|| fitted(&last, *value, true));
        failed = if found.is_some() { 0 } else { failed + 1 };
        if failed > MOST_FAILED {
            break;
        }
        if let Some((theta, _)) = &found {
            let moved = theta.iter().zip(&last).map(|(a, b)| a - b);
            step = if last == from {
                vec![0.0; last.len()]
            } else {
                moved.collect()
            };
            last = theta.clone();
        }
        along.push(found);
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::laws::by_name;
    use crate::terms::Terms;
    use nalgebra::DMatrix;
    use sealspan_records::{Observation, Sample};

    /// A profile with no fit at one end: every value that has one is fitted, each from its neighbour's side of 0.
    #[test]
    fn a_profile_is_walked_from_0_outwards() {
        let values: Vec<f64> = (-6..=6).map(|i| 0.5 * f64::from(i)).collect();
        for (low, high) in [(-1.0, 3.0), (-3.0, 1.0)] {
            // A fit is found only from near: it moves by as much as its value.
            let fitted = |from: &[f64], value: f64, _: bool| {
                let near = from.iter().all(|x| (x - value).abs() < 0.6);
                let has = (low..=high).contains(&value);
                (near && has).then(|| (vec![value], -value * value))
            };
            let along = outwards(&values, &[0.0], &fitted);
            let got: Vec<f64> = along.into_iter().flatten().map(|(x, _)| x[0]).collect();
            let has = values.iter().rev().filter(|v| (low..=high).contains(*v));
            let want: Vec<f64> = has.copied().collect();
            assert_eq!(got, want);
        }
    }

    /// Of maxima set aside, and of places where a search was lost, the highest is kept, whichever came first.
    #[test]
    fn the_highest_is_kept_in_any_order() {
        let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let terms = Terms::new(&Sample::new(ages.into()));
        let family = by_name("weibull_mixture").unwrap();
        let problem = Problem {
            family,
            terms: &terms,
            base: vec![0.0; 5],
            free: (0..5).collect(),
        };
        // A part a thousand times as narrow as the other.
        let narrow = [(0, 0.25), (1, 2000.0), (2, 60.0), (3, 2.0), (4, 100.0)];
        let narrow = family.stated(&narrow).unwrap();
        let places = [[4.0, 0.0], [4.6, -0.4], [6.0, 0.5]];
        let plain = by_name("weibull").unwrap();
        let flat = Problem {
            family: plain,
            terms: &terms,
            base: vec![0.0; 2],
            free: vec![0, 1],
        };
        let values = places.map(|x| flat.value(&x));
        let highest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        for order in [[0, 1, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]] {
            let mut found = Found {
                best: None,
                aside: None,
                lost: None,
            };
            for at in order {
                found.set_aside(
                    &problem,
                    Maximum {
                        x: narrow.clone(),
                        value: values[at],
                        covariance: DMatrix::identity(5, 5),
                    },
                );
                found.lose(&flat, NoFit::Ridge, &places[at]);
            }
            assert_eq!(found.aside.map(|a| a.value), Some(highest), "{order:?}");
            assert_eq!(found.lost.map(|l| l.0), Some(highest), "{order:?}");
        }
    }

    /// A law without parts to tell apart has none that are unlike.
    #[test]
    fn a_law_of_one_part_is_never_set_aside() {
        for family in crate::laws::all() {
            let flat = vec![0.0; family.dimension()];
            assert!(!family.unlike(&flat), "{}", family.name());
        }
    }

    /// Log-likelihoods of millions carry a rounding of 1e-9 and more, which makes none of two the higher.
    #[test]
    fn rounding_is_not_higher() {
        for size in [0.0, 10.0, 1e7] {
            for part in [ROUNDING, HIGHER] {
                let margin = part * (1.0 + size);
                assert!(!above(-size + 0.9 * margin, -size, part), "{size} {part}");
                assert!(above(-size + 1.1 * margin, -size, part), "{size} {part}");
            }
        }
    }

    /// Ages rounded to months: the profile of the generalised gamma has a peak inside and rises to an end of its values.
    /// Both are found, as by fitting at each value by itself.
    #[test]
    fn every_peak_of_the_profile_is_found() {
        let family = by_name("generalised_gamma").unwrap();
        let months = [
            (30.0, 6.0),
            (60.0, 9.0),
            (90.0, 8.0),
            (120.0, 6.0),
            (150.0, 3.0),
        ];
        let early = [
            (2.0, 1.0),
            (60.0, 2.0),
            (64.0, 3.0),
            (70.0, 2.0),
            (71.0, 1.0),
        ];
        let mut many = false;
        for (failed, running) in [(&months, 8.0), (&early, 1.0)] {
            let failed = failed
                .iter()
                .map(|(t, n)| Observation::exact(*t, 0.0, *n).unwrap());
            let running = [Observation::right(180.0, 0.0, running).unwrap()];
            let terms = Terms::new(&Sample::new(failed.chain(running).collect()));
            let starts = family.starts(&terms);
            let problem = |base: Vec<f64>, free: Vec<usize>| Problem {
                family,
                terms: &terms,
                base,
                free,
            };
            let (at, values) = family.scanned().unwrap();
            let alone = |q: f64| {
                let each = starts.iter().filter_map(|start| {
                    let mut base = start.clone();
                    base[at] = q;
                    let held = problem(base, vec![0, 1]);
                    maximise(&held, &held.pick(&held.base)).ok()
                });
                each.map(|found| found.value)
                    .fold(f64::NEG_INFINITY, f64::max)
            };
            let profile: Vec<f64> = values.iter().map(|q| alone(*q)).collect();
            let higher = |i: Option<usize>, here: f64| {
                i.and_then(|i| profile.get(i)).is_some_and(|v| *v > here)
            };
            let mut want: Vec<(f64, f64)> = vec![];
            for (i, (q, here)) in values.iter().zip(&profile).enumerate() {
                if here.is_finite()
                    && !higher(i.checked_sub(1), *here)
                    && !higher(Some(i + 1), *here)
                {
                    want.push((*q, *here));
                }
            }
            many |= want.len() > 1;
            let whole = problem(vec![0.0; 3], vec![0, 1, 2]);
            let mut found = scan(&whole, &starts);
            found.sort_by(|a, b| a[at].total_cmp(&b[at]));
            assert_eq!(found.len(), want.len(), "{found:?} {want:?}");
            for (theta, (q, here)) in found.iter().zip(&want) {
                let value = family.log_likelihood(theta, &terms);
                assert!(
                    theta[at] == *q && (value - here).abs() < 1e-6,
                    "{theta:?} {q} {here} {value}"
                );
            }
        }
        assert!(many);
    }
}
