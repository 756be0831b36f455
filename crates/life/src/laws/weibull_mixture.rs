//! Two-part Weibull mixture: a share π of seals follows one Weibull law, the rest another (two batches, two
//! duties under one name), S(t) = π exp(−(t/η₁)^β₁) + (1 − π) exp(−(t/η₂)^β₂).
//! θ = (ln η₁, ln σ₁, ln(η₂/η₁), ln σ₂, logit π) with σ = 1/β.

use crate::law::{
    Age, Dimension, Edge, HazardShape, LN_SIGMA, LOCATION, LOGIT, Law, Limit, Link, Parameter,
    Prior,
};
use crate::laws::limits::late_entries;
use crate::laws::two_parts;
use crate::laws::weibull;
use crate::terms::{Stretch, Terms};
use sealspan_numeric::jet::Scalar;
use sealspan_numeric::roots::bracketed;

/// The two-part Weibull mixture.
pub struct WeibullMixture;

/// A part: ln of its share, location and ln σ.
type Part<S> = (S, S, S);

fn parts<S: Scalar>([mu, ln_sigma, apart, ln_sigma_2, logit]: [S; 5]) -> [Part<S>; 2] {
    [
        (-(-logit).ln_1p_exp(), mu, ln_sigma),
        (-logit.ln_1p_exp(), mu + apart, ln_sigma_2),
    ]
}

fn z<S: Scalar>(part: Part<S>, ln_t: S) -> S {
    (ln_t - part.1) * (-part.2).exp()
}

/// ln Σ of both parts.
fn both<S: Scalar>(theta: [S; 5], term: impl Fn(Part<S>) -> S) -> S {
    let [a, b] = parts(theta);
    term(a).ln_add_exp(term(b))
}

/// ln survival and ln share failed, each from its own sum.
fn sums<S: Scalar>(theta: [S; 5], ln_t: S) -> (S, S) {
    let alive = both(theta, |part| part.0 - z(part, ln_t).exp());
    let failed = both(theta, |part| part.0 + weibull::ln_failed(z(part, ln_t)));
    (alive, failed)
}

fn ln_cdf_at<S: Scalar>(theta: [S; 5], ln_t: S) -> S {
    let (alive, failed) = sums(theta, ln_t);
    if failed.value() > -std::f64::consts::LN_2 {
        alive.ln_1m_exp()
    } else {
        failed
    }
}

fn ln_survival_at<S: Scalar>(theta: [S; 5], ln_t: S) -> S {
    let (alive, failed) = sums(theta, ln_t);
    if alive.value() > -std::f64::consts::LN_2 {
        failed.ln_1m_exp()
    } else {
        alive
    }
}

impl Law<5> for WeibullMixture {
    const NAME: &'static str = "weibull_mixture";
    const TITLE: &'static str = "two-part Weibull mixture";
    const REPORTED: &'static [Parameter] = &[
        Parameter {
            name: "share_1",
            meaning: "share of the first part",
            link: Link::Logit,
            dimension: Dimension::None,
        },
        Parameter {
            name: "shape_1",
            meaning: "shape of the first part",
            link: Link::Log,
            dimension: Dimension::None,
        },
        Parameter {
            name: "scale_1",
            meaning: "characteristic life of the first part",
            link: Link::Log,
            dimension: Dimension::Time,
        },
        Parameter {
            name: "shape_2",
            meaning: "shape of the second part",
            link: Link::Log,
            dimension: Dimension::None,
        },
        Parameter {
            name: "scale_2",
            meaning: "characteristic life of the second part",
            link: Link::Log,
            dimension: Dimension::Time,
        },
    ];
    const EDGES: &'static [Edge] = &[
        Edge::Simpler {
            law: "weibull",
            parameter: 0,
            end: f64::NEG_INFINITY,
        },
        Edge::Simpler {
            law: "weibull",
            parameter: 0,
            end: f64::INFINITY,
        },
    ];
    const REFITTED: bool = false;
    const PRIORS: [Prior; 5] = [
        LOCATION,
        LN_SIGMA,
        Prior { mean: 1.0, sd: 1.5 },
        LN_SIGMA,
        LOGIT,
    ];

    fn report<S: Scalar>([mu, ln_sigma, apart, ln_sigma_2, logit]: [S; 5], index: usize) -> S {
        match index {
            0 => logit,
            1 => -ln_sigma,
            2 => mu,
            3 => -ln_sigma_2,
            _ => mu + apart,
        }
    }

    fn ln_density<S: Scalar>(theta: [S; 5], age: Age) -> S {
        both(theta, |part| {
            let z = z(part, S::constant(age.ln));
            part.0 + z - z.exp() - part.2
        }) - age.ln
    }

    fn ln_survival<S: Scalar>(theta: [S; 5], age: Age) -> S {
        ln_survival_at(theta, S::constant(age.ln))
    }

    fn ln_cdf<S: Scalar>(theta: [S; 5], age: Age) -> S {
        ln_cdf_at(theta, S::constant(age.ln))
    }

    fn ln_between<S: Scalar>(theta: [S; 5], lower: Option<Age>, upper: Age) -> S {
        if lower.is_none() {
            return Self::ln_cdf(theta, upper);
        }
        both(theta, |part| {
            part.0 + weibull::Weibull::ln_between([part.1, part.2], lower, upper)
        })
    }

    fn ln_age_at<S: Scalar>(theta: [S; 5], ln_share: S) -> S {
        let plain = theta.map(Scalar::value);
        let target = (-ln_share.value()).ln();
        // The two parts' own ages hold the mixture's between them.
        let ends = parts(plain).map(|part| part.1 + part.2.exp() * target);
        let (low, high) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
        let miss = |ln_t: f64| (-ln_survival_at(plain, ln_t)).ln() - target;
        let Some(root) = bracketed(miss, low - 1e-9, high + 1e-9, 1e-15) else {
            return S::constant(f64::NAN);
        };
        // Newton's steps over numbers with derivatives: each makes one more order exact.
        let age = Age::from_ln(root);
        let alive = Self::ln_survival(plain, age);
        let slope = (Self::ln_density(plain, age) + root - alive).exp() / -alive;
        let wanted = (-ln_share).ln();
        let step = |x: S| x - ((-ln_survival_at(theta, x)).ln() - wanted) * (1.0 / slope);
        step(step(S::constant(root)))
    }

    fn ln_mean<S: Scalar>(theta: [S; 5]) -> S {
        both(theta, |part| {
            part.0 + part.1 + (part.2.exp() + 1.0).ln_gamma()
        })
    }

    fn hazard_shape(_: [f64; 5]) -> HazardShape {
        HazardShape::Turning
    }

    fn limits(terms: &Terms) -> Vec<Limit> {
        late_entries(terms)
    }

    fn unbounded(_: &Terms) -> bool {
        true
    }

    fn starts(terms: &Terms) -> Vec<[f64; 5]> {
        two_parts::starts(terms)
    }

    fn in_order([mu, ln_sigma, apart, ln_sigma_2, logit]: [f64; 5]) -> [f64; 5] {
        // The part with the shorter characteristic life comes first.
        if apart < 0.0 {
            [mu + apart, ln_sigma_2, -apart, ln_sigma, -logit]
        } else {
            [mu, ln_sigma, apart, ln_sigma_2, logit]
        }
    }

    fn edge(theta: [f64; 5], terms: &Terms) -> Option<&'static str> {
        let [_, ln_sigma, _, ln_sigma_2, logit] = theta;
        if logit.abs() > 8.0 {
            Some("one part takes all seals: the plain Weibull fits as well")
        } else if holds_too_few(theta, terms) {
            Some(if terms.density.is_empty() {
                "one part shrinks onto a few stretches between looks: fewer than five close together come by chance in most samples, so these failures do not show two parts (a rule of ours)"
            } else {
                "one part shrinks onto a few failure ages, where the likelihood of exact ages has no limit: these failures do not show two parts"
            })
        } else if too_narrow(ln_sigma.min(ln_sigma_2), terms) {
            Some(
                "one part shrinks onto a single age: these failures do not fix its shape, and do not show two parts",
            )
        } else {
            unlike(ln_sigma, ln_sigma_2).then_some(
                "one part is more than ten times as narrow as the other, as a few failures that come close together by chance make it: these failures do not show two parts",
            )
        }
    }

    fn closes_in(theta: [f64; 5], terms: &Terms) -> bool {
        let [_, ln_sigma, _, ln_sigma_2, logit] = theta;
        logit.abs() <= 8.0
            && (holds_too_few(theta, terms) || too_narrow(ln_sigma.min(ln_sigma_2), terms))
    }

    fn unlike([_, ln_sigma, _, ln_sigma_2, _]: [f64; 5]) -> bool {
        unlike(ln_sigma, ln_sigma_2)
    }
}

/// Whether the parts' widths differ more than the family admits.
///
/// With a bound on the ratio of the two σ the likelihood of exact ages has a limit, and its greatest maximum finds the
/// truth where that keeps the bound (Hathaway 1985, "A constrained formulation of maximum-likelihood estimation for
/// normal mixture distributions", Annals of Statistics 13, for normal parts; from memory). The bound is a rule of ours.
fn unlike(ln_sigma: f64, ln_sigma_2: f64) -> bool {
    (ln_sigma - ln_sigma_2).abs() > LEAST_RATIO.recip().ln()
}

/// Whether a part is too narrow to be anything but a single age.
fn too_narrow(ln_sigma: f64, terms: &Terms) -> bool {
    ln_sigma < (NARROWEST * terms.ln_spread().min(1.0)).ln()
}

/// Whether a part holds too few failures for its width.
fn holds_too_few(theta: [f64; 5], terms: &Terms) -> bool {
    let [_, ln_sigma, _, ln_sigma_2, _] = theta;
    let thinner = [ln_sigma - ln_sigma_2, ln_sigma_2 - ln_sigma];
    (0..2).zip(thinner).any(|(part, thinner)| {
        let fewest = if thinner < NARROW {
            FEWEST_NARROW
        } else {
            FEWEST_AGES
        };
        distinct_ages(theta, terms, part) < fewest
    })
}

/// The least ratio of the two σ, and why a count of failures stands beside it: `tests/coverage/mixtures.md`.
const LEAST_RATIO: f64 = 0.1;
/// A part whose σ is a smaller share of the spread of ln life over all failures has shrunk.
const NARROWEST: f64 = 0.02;
/// A part holds at least three distinct ages, or nearly: two close ages alone make a narrow peak of their own.
const FEWEST_AGES: f64 = 2.5;
/// A part much narrower than the other, by ln of the ratio of their σ, holds at least five: fewer that close together
/// come by chance in most samples.
const NARROW: f64 = -1.6;
const FEWEST_NARROW: f64 = 4.5;

/// The effective number of distinct failure ages of a part, (Σp)²/Σp² over its chances at each; each interval between
/// looks counts as one.
fn distinct_ages(theta: [f64; 5], terms: &Terms, part: usize) -> f64 {
    let parts = parts(theta);
    let ln = |part: Part<f64>, age: Age| {
        let z = z(part, age.ln);
        part.0 + z - z.exp() - part.2
    };
    let within = |part: Part<f64>, s: &Stretch| {
        part.0 + weibull::Weibull::ln_between([part.1, part.2], s.lower, s.upper)
    };
    let chance = |ln: [f64; 2]| {
        let [a, b] = ln;
        let odds = if part == 0 { a - b } else { b - a };
        1.0 / (1.0 + (-odds).exp())
    };
    let points = terms.density.iter();
    let points = points.map(|p| {
        (
            p.age.t,
            0.0,
            p.weight * chance(parts.map(|part| ln(part, p.age))),
        )
    });
    let stretches = terms.interval.iter().map(|s| {
        let lower = s.lower.map_or(-1.0, |a| -a.t);
        (
            s.upper.t,
            lower,
            s.weight * chance(parts.map(|part| within(part, s))),
        )
    });
    let mut ages: Vec<(f64, f64, f64)> = points.chain(stretches).filter(|a| a.2 > 0.0).collect();
    ages.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let sums = ages
        .chunk_by(|a, b| (a.0, a.1) == (b.0, b.1))
        .map(|same| same.iter().map(|a| a.2).sum::<f64>());
    let (sum, squares) = sums.fold((0.0, 0.0), |(sum, squares), p| (sum + p, squares + p * p));
    if squares > 0.0 {
        sum * sum / squares
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests;
