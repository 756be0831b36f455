//! The edges of a family: simpler laws that belong to its closure (a failure-free time of 0, a share of 0 or 1),
//! or a parameter run so far that the law hardly changes any more. A likelihood region that reaches an edge goes
//! on along it.
//!
//! ```
//! use sealspan_life::{edge::{beside, outdone}, fit::fit, laws::by_name};
//! use sealspan_records::{Observation, Sample};
//! let ages = [150.0, 190.0, 240.0, 250.0, 310.0, 420.0, 280.0, 230.0];
//! let sample = Sample::new(ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap()).into());
//! let by = |name| fit(by_name(name).unwrap(), &sample).unwrap();
//! let (exponential, weibull, later) = (by("exponential"), by("weibull"), by("three_parameter_weibull"));
//! // Without a failure-free time the law of three parameters is the Weibull law of two.
//! let edges = beside(&later);
//! assert_eq!(edges.len(), 1);
//! assert!((edges[0].fit.log_likelihood - weibull.log_likelihood).abs() < 1e-9);
//! assert!((edges[0].gain - 2.0 * (later.log_likelihood - weibull.log_likelihood)).abs() < 1e-9);
//! // Lives so much alike are no exponential lives.
//! let better = outdone(&exponential).unwrap();
//! assert_eq!(better.family.name(), "weibull");
//! assert!((better.gain - (weibull.log_likelihood - exponential.log_likelihood)).abs() < 1e-9);
//! ```

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use crate::bounds::profile_end as end_of;
use crate::family::Family;
use crate::fit::{Fit, Model, fit_terms};
use crate::law::{AtLimit, Dimension, Edge};
use crate::laws::by_name;
use crate::maximise::{LogLikelihood, maximise};
use crate::quantity::Quantity;

/// The best law on an edge, fitted beside the family's own.
pub struct Beside {
    /// Which edge.
    pub edge: Edge,
    /// The fit to the same terms.
    pub fit: Fit,
    /// Twice the log-likelihood that the fit inside the family gains over it; below 0 where that was only a
    /// local peak.
    pub gain: f64,
}

/// The best laws on the edges of a fit with all parameters free, one for each edge where the likelihood has a maximum;
/// none where a parameter is stated.
#[must_use]
pub fn beside(fit: &Fit) -> Vec<Beside> {
    if fit.free.len() < fit.family.dimension() {
        return vec![];
    }
    let edges = fit.family.edges().iter();
    edges.filter_map(|edge| on(fit, *edge)).collect()
}

/// The best law on one edge.
fn on(fit: &Fit, edge: Edge) -> Option<Beside> {
    let found = match edge {
        Edge::Simpler { law, .. } => fit_terms(Model::free(by_name(law)?), &fit.terms).ok()?,
        Edge::Held { at, value } => held(fit, at, value)?,
    };
    Some(Beside {
        edge,
        gain: 2.0 * (fit.log_likelihood - found.log_likelihood),
        fit: found,
    })
}

/// A law that holds another as a special case, and is far likelier.
pub struct Outdone {
    /// That law.
    pub family: &'static dyn Family,
    /// By how much its log-likelihood is higher, above 5.4 (see [`outdone`]).
    pub gain: f64,
}

/// Twice the gain in log-likelihood by one parameter more from which a law is clearly beaten: by chance once in a
/// thousand samples (chi-square with one degree of freedom; a rule of ours).
const CLEARLY: f64 = 10.83;
/// Terms up to which the generalised gamma, whose tails are dear, is fitted for the comparison.
const FEW_TERMS: usize = 200;

/// The law one parameter larger that clearly beats this fit, if one does: twice the gain in log-likelihood is above
/// 10.83, by chance once in a thousand samples (chi-square with one degree of freedom; a rule of ours). Asked of the
/// exponential law against the Weibull, and of Weibull, lognormal and gamma against the generalised gamma where the
/// sample has no more than 200 terms; `None` for other laws, and where a parameter is stated or the larger law has no
/// fit.
#[must_use]
pub fn outdone(fit: &Fit) -> Option<Outdone> {
    if fit.free.len() < fit.family.dimension() {
        return None;
    }
    let terms = &fit.terms;
    let few = terms.density.len() + terms.survival.len() + terms.interval.len() <= FEW_TERMS;
    let larger = match fit.family.name() {
        "exponential" => "weibull",
        "weibull" | "lognormal" | "gamma" if few => "generalised_gamma",
        _ => return None,
    };
    let family = by_name(larger)?;
    let other = fit_terms(Model::free(family), terms).ok()?;
    let gain = other.log_likelihood - fit.log_likelihood;
    (2.0 * gain > CLEARLY).then_some(Outdone { family, gain })
}

/// A gain below this is no rounding (in units of twice the log-likelihood, for each unit of its size).
const ROUNDING: f64 = 1e-9;

/// Whether a simpler law on an edge is more likely than the fit, which is then a local peak only.
#[must_use]
pub(crate) fn beaten(fit: &Fit) -> bool {
    if fit.free.len() < fit.family.dimension() {
        return false;
    }
    let least = -ROUNDING * (1.0 + fit.log_likelihood.abs());
    let simpler = |edge: &&Edge| matches!(edge, Edge::Simpler { .. });
    let mut edges = fit.family.edges().iter().filter(simpler);
    // Edges with the same law differ in the parameter's end only.
    let mut last = None;
    edges.any(|edge| {
        let Edge::Simpler { law, .. } = *edge else {
            return false;
        };
        last.replace(law) != Some(law) && on(fit, *edge).is_some_and(|b| b.gain < least)
    })
}

/// Longest step on the way to a held value.
const STEP: f64 = 0.5;

/// The fit with θ held at a value, reached from the free estimate in short steps.
fn held(fit: &Fit, at: usize, value: f64) -> Option<Fit> {
    let mut out = fit.clone();
    out.free.retain(|i| *i != at);
    let from = *fit.theta.get(at)?;
    let steps = ((value - from).abs() / STEP).ceil().max(1.0);
    for k in 1..=steps as usize {
        *out.theta.get_mut(at)? = from + (value - from) * k as f64 / steps;
        let problem = out.problem(&fit.terms);
        let maximum = maximise(&problem, &problem.pick(&out.theta)).ok()?;
        out.theta = problem.place(&maximum.x);
        out.log_likelihood = problem.value(&maximum.x);
        out.covariance.fill(0.0);
        for (i, a) in out.free.iter().enumerate() {
            for (j, b) in out.free.iter().enumerate() {
                out.covariance[(*a, *b)] = maximum.covariance[(i, j)];
            }
        }
    }
    Some(out)
}

/// The extreme of a quantity over the edges' laws whose log-likelihood is at least ℓ̂ − z²/2, on the quantity's
/// scale; `None` where none is that likely or none has the quantity. With `towards`, only edges that lie in the
/// direction of that θ from the estimate count.
pub(crate) fn profile_end(
    fit: &Fit,
    quantity: Quantity,
    z: f64,
    side: f64,
    towards: Option<&[f64]>,
) -> Option<f64> {
    let ahead = |b: &Beside| towards.is_none_or(|theta| b.edge.ahead(fit, theta));
    let ends = beside(fit)
        .into_iter()
        .filter(|b| b.gain < z * z && ahead(b));
    ends.filter_map(|b| b.end(fit, quantity, (z * z - b.gain.max(0.0)).sqrt(), side))
        .reduce(|a, b| if (b - a) * side > 0.0 { b } else { a })
}

/// The end of a quantity where the likelihood region reaches laws that no parameters of the family reach.
pub(crate) fn at_limit(fit: &Fit, quantity: Quantity, z: f64, side: f64) -> Option<AtLimit> {
    if fit.free.len() < fit.family.dimension() {
        return None;
    }
    let cut = fit.log_likelihood - 0.5 * z * z;
    fit.family.end_at_limit(quantity, &fit.terms, cut, side)
}

/// Whether a pure number among the parameters has no end on its way to where the likelihood admits a law that no
/// parameters of the family reach: there it has run off.
pub(crate) fn runs_to_limit(fit: &Fit, quantity: Quantity, z: f64) -> bool {
    let cut = fit.log_likelihood - 0.5 * z * z;
    let number = match quantity {
        Quantity::Parameter(i) => fit.family.reported().get(i),
        _ => None,
    };
    let whole = fit.free.len() == fit.family.dimension();
    let limits = || fit.family.limits(&fit.terms);
    whole
        && number.is_some_and(|p| p.dimension == Dimension::None)
        && limits().iter().any(|limit| limit.value >= cut)
}

/// Whether a parameter has no end because the likelihood admits the edge beyond which the law hardly changes while
/// its parameters run off, on the way from the estimate to θ. The location stays: a power law's end, or the start of
/// a Pareto law.
pub(crate) fn runs_off(fit: &Fit, quantity: Quantity, z: f64, towards: &[f64]) -> bool {
    let held = |b: &Beside| matches!(b.edge, Edge::Held { .. }) && b.edge.ahead(fit, towards);
    matches!(quantity, Quantity::Parameter(i) if i > 0)
        && beside(fit).iter().any(|b| b.gain < z * z && held(b))
}

impl Edge {
    /// Whether θ lies on the way from the estimate to this edge.
    fn ahead(&self, fit: &Fit, theta: &[f64]) -> bool {
        let (from, to, end) = match *self {
            Self::Simpler { parameter, end, .. } => {
                let at = |theta: &[f64]| {
                    fit.family
                        .quantity(theta, Quantity::Parameter(parameter))
                        .value
                };
                (at(&fit.theta), at(theta), end)
            }
            Self::Held { at, value } => {
                let of = |theta: &[f64]| theta.get(at).copied().unwrap_or(value);
                (of(&fit.theta), of(theta), value)
            }
        };
        (to - from) * (end - from).signum() > 0.0
    }
}

impl Beside {
    fn end(&self, fit: &Fit, quantity: Quantity, left: f64, side: f64) -> Option<f64> {
        let asked = match (self.edge, quantity) {
            (Edge::Simpler { parameter, end, .. }, Quantity::Parameter(i)) if i == parameter => {
                return (end * side > 0.0).then_some(end);
            }
            (Edge::Simpler { .. }, Quantity::Parameter(i)) => self.namesake(fit, i)?,
            // Parameters run off there: they have no end.
            (Edge::Held { .. }, Quantity::Parameter(_)) => return None,
            _ => quantity,
        };
        end_of(&self.fit, asked, left, side).ok()
    }

    /// The simpler law's parameter of the same name.
    fn namesake(&self, fit: &Fit, index: usize) -> Option<Quantity> {
        let name = fit.family.reported().get(index)?.name;
        let own = self.fit.family.reported();
        let at = own.iter().position(|p| p.name == name)?;
        Some(Quantity::Parameter(at))
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::fit::fit;
    use sealspan_records::observation::{Observation, Sample};

    /// Where the edge at q = 8 is admitted the spread and q run off on the way to it; the location and all ages stay, and
    /// nothing runs off on the other way, nor where that edge is not admitted.
    #[test]
    fn spread_and_power_alone_run_off_to_an_admitted_edge() {
        let ages = [
            41.0, 77.0, 80.0, 122.0, 150.0, 170.0, 215.0, 260.0, 300.0, 420.0,
        ];
        let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let family = by_name("generalised_gamma").unwrap();
        let found = fit(family, &Sample::new(rows.into())).unwrap();
        let gain = |at: f64| {
            let beside = beside(&found);
            let own = beside
                .iter()
                .find(|b| matches!(b.edge, Edge::Held { value, .. } if value == at));
            own.unwrap().gain
        };
        let (up, down) = (gain(8.0), gain(-8.0));
        assert!(found.theta[2].abs() < 7.0 && up > 0.0 && down > 0.0);
        let towards = |q: f64| vec![found.theta[0], found.theta[1], q];
        let off = |quantity, z: f64, q| runs_off(&found, quantity, z, &towards(q));
        let admitted = up.max(down).sqrt() + 0.1;
        for q in [7.9, -7.9] {
            assert!(off(Quantity::Parameter(1), admitted, q));
            assert!(off(Quantity::Parameter(2), admitted, q));
            assert!(!off(Quantity::Parameter(0), admitted, q));
            assert!(!off(Quantity::Quantile(0.1), admitted, q));
            assert!(!off(Quantity::Survival(100.0), admitted, q));
        }
        assert!(!off(Quantity::Parameter(2), up.sqrt() - 0.1, 7.9));
        // With one of the edges admitted only the way to that one runs off.
        let between = 0.5 * (up.sqrt() + down.sqrt());
        let (near, far) = if up < down { (7.9, -7.9) } else { (-7.9, 7.9) };
        assert!(off(Quantity::Parameter(2), between, near));
        assert!(!off(Quantity::Parameter(2), between, far));
    }

    /// Where the power law and the Pareto law are both admitted the end is the farther of their own ends, whichever of
    /// them that is.
    #[test]
    fn of_two_admitted_edges_the_farther_end_is_taken() {
        let ages = [
            41.0, 77.0, 80.0, 122.0, 150.0, 170.0, 215.0, 260.0, 300.0, 420.0,
        ];
        let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let found = fit(
            by_name("generalised_gamma").unwrap(),
            &Sample::new(rows.into()),
        )
        .unwrap();
        let edges = beside(&found);
        assert_eq!(edges.len(), 2);
        let z = edges.iter().map(|b| b.gain).fold(0.0, f64::max).sqrt() + 0.5;
        let mut taken = vec![];
        for (quantity, side) in [0.01, 0.5, 0.99]
            .map(Quantity::Quantile)
            .into_iter()
            .flat_map(|q| [(q, -1.0), (q, 1.0)])
        {
            let own = edges.iter().map(|b| {
                let left = (z * z - b.gain).sqrt();
                crate::bounds::profile_end(&b.fit, quantity, left, side).unwrap()
            });
            let own: Vec<f64> = own.collect();
            let second_farther = own[1] * side > own[0] * side;
            taken.push((side > 0.0, second_farther));
            let want = if second_farther { own[1] } else { own[0] };
            let got = profile_end(&found, quantity, z, side, None).unwrap();
            assert!(
                (got - want).abs() < 1e-9,
                "{quantity:?} {side}: {got} {own:?}"
            );
        }
        // Either law's upper end is the farther one somewhere.
        assert!(taken.contains(&(true, false)) && taken.contains(&(true, true)));
    }

    /// Weibull fits to more ages sound than failed, to looks alone, and to ages of a law with q = −1.5: the generalised
    /// gamma outdoes a fit where twice its gain is above 10.83, and then only.
    #[test]
    fn a_weibull_fit_is_held_against_the_generalised_gamma() {
        let larger = by_name("generalised_gamma").unwrap();
        let exact = [40.0, 75.0, 90.0, 120.0, 200.0].map(|t| Observation::exact(t, 0.0, 1.0));
        let running = (0..20).map(|i| Observation::right(60.0 + 7.0 * f64::from(i), 0.0, 1.0));
        let mixed: Vec<Observation> = exact
            .into_iter()
            .chain(running)
            .map(Result::unwrap)
            .collect();
        let looks = [
            (20.0, 50.0),
            (40.0, 70.0),
            (60.0, 95.0),
            (80.0, 130.0),
            (120.0, 180.0),
        ];
        let looks = looks.map(|(a, b)| Observation::interval(a, b, 0.0, 2.0).unwrap());
        let skew = (0..40).map(|i| {
            let share = (f64::from(i) + 0.5) / 40.0;
            let t = larger.ln_age_at(&[5.0, -0.7, -1.5], (-share).ln_1p()).exp();
            Observation::exact(t, 0.0, 4.0).unwrap()
        });
        for (rows, beaten) in [
            (mixed, false),
            (looks.to_vec(), false),
            (skew.collect(), true),
        ] {
            let sample = Sample::new(rows);
            let found = fit(by_name("weibull").unwrap(), &sample).unwrap();
            let gain =
                fit(larger, &sample).map_or(0.0, |f| f.log_likelihood - found.log_likelihood);
            assert_eq!(2.0 * gain > 10.83, beaten, "{gain}");
            let outdone = outdone(&found);
            assert_eq!(outdone.is_some(), beaten);
            if let Some(by) = outdone {
                assert_eq!(by.family.name(), "generalised_gamma");
                assert!((by.gain - gain).abs() < 1e-6 * gain);
            }
        }
    }

    /// Of a path on which q falls from 3 to 1, or from 1 to 0.5, the edge at −8 lies ahead and that at 8 behind; on one
    /// where it grows it is the other way about.
    #[test]
    fn an_edge_lies_ahead_where_the_path_goes_towards_it() {
        let ages = [
            41.0, 77.0, 80.0, 122.0, 150.0, 170.0, 215.0, 260.0, 300.0, 420.0,
        ];
        let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let family = by_name("generalised_gamma").unwrap();
        let mut found = fit(family, &Sample::new(rows.into())).unwrap();
        for (from, to) in [
            (3.0, 1.0),
            (1.0, 0.5),
            (-2.0, -3.0),
            (0.5, 2.0),
            (-3.0, -1.0),
        ] {
            found.theta[2] = from;
            let towards = [found.theta[0], found.theta[1], to];
            let ahead = |value: f64| Edge::Held { at: 2, value }.ahead(&found, &towards);
            assert_eq!(
                [ahead(8.0), ahead(-8.0)],
                [to > from, to < from],
                "{from} {to}"
            );
        }
    }

    /// Where all entered late a Weibull law's shape runs off to the Pareto law once that is admitted; its scale, ages and
    /// shapes of a fit with a stated scale do not, nor a shape where not all entered late.
    #[test]
    fn a_pure_number_alone_runs_off_to_a_limit_that_is_admitted() {
        let found = |entry: f64| {
            let ages = [
                41.0, 77.0, 80.0, 122.0, 150.0, 170.0, 215.0, 260.0, 300.0, 420.0,
            ];
            let rows = ages.map(|t| Observation::exact(t, entry, 1.0).unwrap());
            fit(by_name("weibull").unwrap(), &Sample::new(rows.into())).unwrap()
        };
        let late = found(30.0);
        let limits = late.family.limits(&late.terms);
        let value = limits.iter().map(|l| l.value).fold(f64::MIN, f64::max);
        let depth = (2.0 * (late.log_likelihood - value)).sqrt();
        assert!(depth > 0.2, "{depth}");
        let off = |quantity, z: f64| runs_to_limit(&late, quantity, z);
        assert!(off(Quantity::Parameter(0), depth + 0.1));
        assert!(!off(Quantity::Parameter(0), depth - 0.1));
        assert!(!off(Quantity::Parameter(1), depth + 0.1));
        assert!(!off(Quantity::Quantile(0.1), depth + 0.1));
        let held = Fit {
            free: vec![1],
            ..late.clone()
        };
        assert!(!runs_to_limit(&held, Quantity::Parameter(0), depth + 0.1));
        assert!(!runs_to_limit(
            &found(0.0),
            Quantity::Parameter(0),
            depth + 0.1
        ));
    }
}
