//! Which levels differ: failures of each against those that one regression of all expects, many looks allowed for.
//!
//! One fit serves all levels: each is judged by its failures against those expected under the regression without
//! it, with what the level itself tells the regression taken off (a score test, Rao 1948, with the Poisson law for
//! the tails). So ten thousand levels cost about as much as ten. What a level tells is weighed by the failures
//! expected, not those seen: a level far off would otherwise seem to have no information of its own.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::expected;
use crate::family::Family;
use crate::fit::NoFit;
use crate::regression::{Design, Line, Regression, fit_design};
use crate::terms::Terms;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use sealspan_numeric::special::{chi_square_survival, ln_gamma, normal_at_ln_survival};
use sealspan_records::observation::Sample;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// A level whose p-value, times the number of levels, is below this is left out of the others' rest.
const BEYOND_DOUBT: f64 = 0.01;
/// Most levels left out so (a rule of ours).
const MOST_APART: usize = 12;
/// A level of whose information the regression's own columns leave no more than this share cannot be judged.
const OWN_SHARE: f64 = 1e-3;
/// Failures seen and expected up to which the tail of the Poisson law is summed term by term.
const SUMMED: f64 = 200.0;
/// Steps and the last one of a level's own shift.
const STEPS: usize = 60;
const LAST: f64 = 1e-9;

/// A level against the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Differing {
    /// Life ratio to the rest, not drawn towards 1; `None` where none of its seals failed or nothing can be
    /// compared.
    pub ratio: Option<f64>,
    /// Standard error of ln ratio, from the level's own lives, the law of the rest taken as known; `None` without a
    /// ratio, or where the likelihood does not bend down there.
    pub std_error: Option<f64>,
    /// p-value of no difference, for this level alone; `None` where nothing can be compared.
    pub p_value: Option<f64>,
    /// The share of false discoveries among levels with so small a p-value (Benjamini & Hochberg 1995); `None` without
    /// a p-value.
    pub false_discovery: Option<f64>,
}

/// Lives that share a design row, a stratum and a level.
#[derive(Clone)]
pub struct Marked {
    /// What they share in the design.
    pub line: Line,
    /// Their lives.
    pub sample: Sample,
    /// Their level; `None` where it is not recorded.
    pub level: Option<usize>,
}

/// Tests each of `count` levels, numbered from 0, beside the effects of a design, of which only names, strata and
/// penalties are read. Also gives the regression of all that does not differ beyond doubt.
///
/// A level's failures are held against those that the regression of all expects of it: z is the normal deviate with the
/// tail of the Poisson law at their number, half of that number's own chance in it (the signed root of the deviance
/// from 200 seen and expected together on), over the root of the share of the level's information that the design's
/// columns do not tell; p = P(χ² > z²) with one degree of freedom (a score test, Rao 1948, with the Poisson law for its
/// tails). A level in several strata has twice the lesser of p of its failures together and of Σ z² over the strata, at
/// most 1. Levels whose p times `count` is below 0.01 are left out of the regression one after another, the plainest
/// first, up to twelve and half of all, and the others are judged again without them (a rule of ours). A ratio is the
/// shift of ln life, turned into a factor, that makes the level's own lives likeliest under the regression.
///
/// # Errors
/// [`NoFit`] where the design cannot be fitted.
///
/// ```
/// use sealspan_life::batches::{Marked, differing};
/// use sealspan_life::regression::{Design, Line};
/// use sealspan_life::{laws::by_name, terms::Terms};
/// use sealspan_records::{Observation, Sample};
/// let marked = |level: usize| {
///     let ages = [20.0, 60.0, 100.0, 220.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
///     let sample = Sample::new(ages.into());
///     let terms = Terms::new(&sample).into();
///     let line = Line { row: vec![(0, 1.0)], offset: 0.0, stratum: 0, terms };
///     Marked { line, sample, level: Some(level) }
/// };
/// let base = Design { names: vec!["intercept".to_owned()], strata: 1, ..Design::default() };
/// let all = [marked(0), marked(1), marked(2)];
/// let (levels, rest) = differing(by_name("exponential").unwrap(), &base, &all, 3).unwrap();
/// // Three levels alike: no ratio but 1, with the error 1/√4 of four exponential lives, and no doubt of it.
/// for level in &levels {
///     assert!((level.ratio.unwrap() - 1.0).abs() < 1e-6);
///     assert!((level.std_error.unwrap() - 0.5).abs() < 1e-6);
///     assert!(level.p_value.unwrap() > 0.5 && level.false_discovery.unwrap() > 0.5);
/// }
/// assert!((rest.x[0] - 100.0_f64.ln()).abs() < 1e-6);
/// ```
pub fn differing(
    family: &'static dyn Family,
    base: &Design,
    marked: &[Marked],
    count: usize,
) -> Result<(Vec<Differing>, Regression), NoFit> {
    let mut apart: BTreeSet<usize> = BTreeSet::new();
    let mut fit = Judged::new(family, base, marked, &apart)?;
    let mut looks = fit.looks(count);
    // What differs beyond doubt is no measure for the others: they are judged again without it. One after another,
    // the plainest first, for a level far off makes others look off the other way.
    while apart.len() < MOST_APART.min(count / 2) {
        let Some(next) = plainest(&looks, &apart) else {
            break;
        };
        let mut without = apart.clone();
        without.insert(next);
        let Ok(again) = Judged::new(family, base, marked, &without) else {
            break;
        };
        for (at, (own, other)) in looks.iter_mut().zip(again.looks(count)).enumerate() {
            if !without.contains(&at) {
                *own = other;
            }
        }
        (fit, apart) = (again, without);
    }
    let p: Vec<Option<f64>> = looks.iter().map(|l| l.map(|l| l.p_value)).collect();
    let known: Vec<f64> = p.iter().filter_map(|p| *p).collect();
    let mut shares = discoveries(&known).into_iter();
    let ratios = ratios(&fit.regression, marked, count);
    let level = |(p_value, own): (Option<f64>, Option<Shift>)| Differing {
        ratio: p_value.and(own).map(|s| s.delta.exp()),
        std_error: p_value.and(own).and_then(|s| s.std_error),
        p_value,
        false_discovery: p_value.and_then(|_| shares.next()),
    };
    Ok((
        p.into_iter().zip(ratios).map(level).collect(),
        fit.regression,
    ))
}

/// A level's look: its p-value, and its largest root, which tells p-values of 0 apart.
#[derive(Clone, Copy)]
struct Look {
    p_value: f64,
    furthest: f64,
}

/// The level that differs most plainly among those beyond doubt that are not left out yet.
fn plainest(looks: &[Option<Look>], apart: &BTreeSet<usize>) -> Option<usize> {
    let beyond = |look: &Look| look.p_value * (looks.len() as f64) < BEYOND_DOUBT;
    let all = looks.iter().enumerate();
    all.filter_map(|(at, look)| Some((at, look.filter(beyond)?)))
        .filter(|(at, _)| !apart.contains(at))
        .max_by(|a, b| {
            let plain = b.1.p_value.total_cmp(&a.1.p_value);
            plain.then(a.1.furthest.total_cmp(&b.1.furthest))
        })
        .map(|(at, _)| at)
}

/// A fit with failures and expectations line by line.
struct Judged {
    design: Design,
    regression: Regression,
    levels: Vec<Option<usize>>,
    seen: Vec<f64>,
    expected: Vec<f64>,
    /// Inverse of the information of the design's columns, in expected failures.
    inverse: DMatrix<f64>,
}

impl Judged {
    fn new(
        family: &'static dyn Family,
        base: &Design,
        marked: &[Marked],
        apart: &BTreeSet<usize>,
    ) -> Result<Self, NoFit> {
        let used = marked
            .iter()
            .filter(|m| m.level.is_none_or(|l| !apart.contains(&l)));
        let used: Vec<&Marked> = used.collect();
        let design = Design {
            lines: used.iter().map(|m| m.line.clone()).collect(),
            ..base.clone()
        };
        let regression = fit_design(family, &design)?.regression;
        let of = |m: &&Marked| -> f64 {
            let theta = regression.theta(&m.line.row, m.line.offset, m.line.stratum);
            let rows = m.sample.rows().iter();
            rows.map(|o| expected(family, &theta, o)).sum()
        };
        let expected: Vec<f64> = used.par_iter().map(of).collect();
        Ok(Self {
            levels: used.iter().map(|m| m.level).collect(),
            seen: used.iter().map(|m| m.sample.tally().failures()).collect(),
            inverse: inverse(&regression, &design, &expected)?,
            expected,
            design,
            regression,
        })
    }

    fn looks(&self, count: usize) -> Vec<Option<Look>> {
        let mut rows: Vec<BTreeMap<usize, Vec<usize>>> = vec![BTreeMap::new(); count];
        for (at, (level, line)) in self.levels.iter().zip(&self.design.lines).enumerate() {
            if let Some(own) = level.and_then(|l| rows.get_mut(l)) {
                own.entry(line.stratum).or_default().push(at);
            }
        }
        rows.par_iter().map(|own| self.look(own)).collect()
    }

    /// A level in one stratum: failures against those expected. In several: the lesser of a shift common to all,
    /// and of one in any of them, doubled for the choice.
    fn look(&self, strata: &BTreeMap<usize, Vec<usize>>) -> Option<Look> {
        let each: Vec<f64> = strata
            .values()
            .filter_map(|lines| self.root(lines))
            .collect();
        let two_sided = |z: f64| chi_square_survival(z * z, 1.0);
        let furthest = each.iter().map(|z| z.abs()).fold(0.0, f64::max);
        match each.as_slice() {
            [] => None,
            [one] => Some(Look {
                p_value: two_sided(*one),
                furthest,
            }),
            several => {
                let all: Vec<usize> = strata.values().flatten().copied().collect();
                let common = self.root(&all).unwrap_or(0.0);
                let squares: f64 = several.iter().map(|z| z * z).sum();
                let any = chi_square_survival(squares, several.len() as f64);
                Some(Look {
                    p_value: (2.0 * two_sided(common).min(any)).min(1.0),
                    furthest: furthest.max(common.abs()),
                })
            }
        }
    }

    /// Signed root of some lines' failures against those expected, standard normal when they do not differ.
    fn root(&self, lines: &[usize]) -> Option<f64> {
        let sum = |of: &[f64]| -> f64 { lines.iter().filter_map(|at| of.get(*at)).sum() };
        let own_share = self.own_share(lines);
        let (seen, expected) = (sum(&self.seen), sum(&self.expected));
        (own_share > OWN_SHARE && expected > 0.0)
            .then(|| poisson_root(seen, expected) / own_share.sqrt())
    }
}

impl Judged {
    /// Share of some lines' information that the design's columns do not tell.
    fn own_share(&self, lines: &[usize]) -> f64 {
        let mut with = DVector::zeros(self.inverse.nrows());
        let mut own = 0.0;
        for at in lines {
            let (Some(line), Some(weight)) = (self.design.lines.get(*at), self.expected.get(*at))
            else {
                continue;
            };
            own += weight;
            for (j, value) in &line.row {
                with[*j] += weight * value;
            }
        }
        let told = with.dot(&(&self.inverse * &with));
        if own > 0.0 { 1.0 - told / own } else { 0.0 }
    }
}

/// Inverse of the design's information with each line weighed by its expected failures. Penalties are of ln life,
/// information of the failure rate: the law's σ stands between.
fn inverse(fit: &Regression, design: &Design, expected: &[f64]) -> Result<DMatrix<f64>, NoFit> {
    let n = design.names.len();
    let mut information = DMatrix::zeros(n, n);
    for (line, weight) in design.lines.iter().zip(expected) {
        for (i, a) in &line.row {
            for (j, b) in &line.row {
                information[(*i, *j)] += weight * a * b;
            }
        }
    }
    let sigma = fit.sigma(0.5).map_or(1.0, |s| s.0);
    for p in &design.penalties {
        information[(p.at, p.at)] += (sigma / p.sd).powi(2);
    }
    // Columns without a life left are told by nothing; they meet no line.
    for i in 0..n {
        if information[(i, i)] <= 0.0 {
            information[(i, i)] = 1.0;
        }
    }
    let inverse = information.cholesky().map(|c| c.inverse());
    inverse.ok_or(NoFit::NotReached { slope: f64::NAN })
}

/// The normal deviate with the tail that a Poisson count has, half of the count's own chance in it.
fn poisson_root(seen: f64, expected: f64) -> f64 {
    if seen + expected < SUMMED {
        let mass = |n: f64| (n * expected.ln() - expected - ln_gamma(n + 1.0)).exp();
        let whole = seen.floor();
        let here = mass(seen);
        let high = seen > expected;
        // Sum the tail on the side where the count lies: nothing is lost to rounding.
        let (mut n, mut tail) = (whole, 0.5 * here);
        loop {
            n += if high { 1.0 } else { -1.0 };
            let more = mass(n);
            if n < 0.0 || more < 1e-17 * tail {
                break;
            }
            tail += more;
        }
        let z = normal_at_ln_survival(tail.clamp(1e-300, 0.5).ln());
        return if high { z } else { -z };
    }
    let log = if seen > 0.0 {
        seen * (seen / expected).ln()
    } else {
        0.0
    };
    let deviance = 2.0 * (log - seen + expected);
    (seen - expected).signum() * deviance.max(0.0).sqrt()
}

/// A level's shift of ln life by its own lives.
#[derive(Clone, Copy)]
struct Shift {
    delta: f64,
    std_error: Option<f64>,
}

/// Shift of ln life of each level by its own lives, the regression taken as known.
fn ratios(fit: &Regression, marked: &[Marked], count: usize) -> Vec<Option<Shift>> {
    let mut own: Vec<Vec<(Vec<f64>, Arc<Terms>)>> = vec![vec![]; count];
    for m in marked {
        if let Some(list) = m.level.and_then(|l| own.get_mut(l)) {
            let theta = fit.theta(&m.line.row, m.line.offset, m.line.stratum);
            list.push((theta, Arc::clone(&m.line.terms)));
        }
    }
    own.par_iter()
        .map(|lives| shift(fit.family, lives))
        .collect()
}

/// The shift of ln life that makes some lives likeliest: Newton's method; its error is from the observed
/// information. `None` without failures.
fn shift(family: &'static dyn Family, lives: &[(Vec<f64>, Arc<Terms>)]) -> Option<Shift> {
    let failures: f64 = lives.iter().map(|(_, t)| t.extent.failures).sum();
    if failures <= 0.0 {
        return None;
    }
    let mut delta = 0.0;
    let mut information = 0.0_f64;
    for _ in 0..STEPS {
        let (mut slope, mut bend) = (0.0, 0.0);
        for (theta, terms) in lives {
            let mut theta = theta.clone();
            if let Some(location) = theta.first_mut() {
                *location += delta;
            }
            let d = family.log_likelihood_derivatives(&theta, terms);
            slope += d.gradient.first().copied().unwrap_or(0.0);
            bend += d
                .hessian
                .first()
                .and_then(|r| r.first())
                .copied()
                .unwrap_or(0.0);
        }
        let step = if bend < 0.0 {
            -slope / bend
        } else {
            slope.signum()
        };
        delta += step.clamp(-1.0, 1.0);
        information = -bend;
        if step.abs() < LAST {
            break;
        }
    }
    delta.is_finite().then(|| Shift {
        delta,
        std_error: (information > 0.0).then(|| information.sqrt().recip()),
    })
}

/// False discovery share at each p-value, in the order given.
#[must_use]
pub(crate) fn discoveries(p_values: &[f64]) -> Vec<f64> {
    crate::recurrence::many::false_discovery(p_values)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::panic)]
    use super::*;
    use crate::laws::by_name;
    use crate::regression::Penalty;
    use sealspan_numeric::special::normal_survival;
    use sealspan_records::observation::Observation;

    /// Two columns, the second held near 0: expected failures E in all and e with it. The information is E, e and
    /// e + (σ/s)², and a level of w expected failures, all with the second column, is told w² times the sum of its inverse.
    #[test]
    fn a_level_beside_a_penalised_column_has_an_information_of_its_own() {
        let marked = |level: usize, ages: &[f64]| {
            let rows = ages.iter().map(|t| Observation::exact(*t, 0.0, 1.0));
            let sample = Sample::new(rows.map(Result::unwrap).collect());
            let terms = Terms::new(&sample).into();
            let with = (level > 0).then_some((1, 1.0));
            let line = Line {
                row: std::iter::once((0, 1.0)).chain(with).collect(),
                offset: 0.0,
                stratum: 0,
                terms,
            };
            Marked {
                line,
                sample,
                level: Some(level),
            }
        };
        let all = [
            marked(0, &[40.0, 90.0, 130.0, 210.0, 260.0]),
            marked(1, &[110.0, 180.0, 400.0]),
            marked(2, &[60.0, 240.0]),
        ];
        for sd in [0.2, 3.0] {
            let penalty = Penalty {
                at: 1,
                mean: 0.0,
                sd,
            };
            let base = Design {
                names: vec!["intercept".to_owned(), "other".to_owned()],
                strata: 1,
                penalties: vec![penalty],
                ..Design::default()
            };
            let family = by_name("weibull").unwrap();
            let judged = Judged::new(family, &base, &all, &BTreeSet::new()).unwrap();
            let sigma = judged.regression.sigma(0.5).unwrap().0;
            assert!((sigma - 1.0).abs() > 0.1, "{sigma}");
            let [first, second, third] = judged.expected[..] else {
                panic!("{:?}", judged.expected)
            };
            let (whole, with) = (first + second + third, second + third);
            let held = with + (sigma / sd).powi(2);
            // [[E, e], [e, h]] inverted by hand: its entries are h, −e, −e and E over the determinant.
            let sum = (held - 2.0 * with + whole) / (whole * held - with * with);
            for (at, own) in [(1, second), (2, third)] {
                let share = judged.own_share(&[at]);
                let want = 1.0 - own * sum;
                assert!((share - want).abs() < 1e-9, "{sd} {at}: {share} {want}");
            }
        }
    }

    /// The tail beyond the root is that of a Poisson count, by a sum over all of it; of many it is near that of a normal law.
    #[test]
    fn roots_leave_the_tail_of_a_count() {
        for (seen, expected) in [(12, 5.0), (3, 8.5), (0, 2.5), (45, 9.0), (2, 40.0)] {
            let mass =
                |k: i32| (1..=k).fold(f64::exp(-expected), |p, i| p * expected / f64::from(i));
            let high = f64::from(seen) > expected;
            let beyond = if high { seen + 1..400 } else { 0..seen };
            let tail = beyond.map(mass).sum::<f64>() + 0.5 * mass(seen);
            let root = poisson_root(f64::from(seen), expected);
            assert_eq!(root > 0.0, high);
            let got = normal_survival(root.abs());
            assert!(
                (got / tail - 1.0).abs() < 1e-8,
                "{seen} {expected}: {got} {tail}"
            );
        }
        for (seen, expected) in [(1100.0, 1000.0), (900.0, 1000.0f64)] {
            let plain = (seen - expected) / expected.sqrt();
            assert!((poisson_root(seen, expected) / plain - 1.0).abs() < 0.03);
        }
    }
}
