//! Three-parameter Weibull law: S(t) = exp(−((t − γ)/η)^β) for t > γ, 1 before. γ is a failure-free time.
//! θ = (ln η, ln σ, ln(γ/η)) with σ = 1/β.

use crate::law::{
    Age, Dimension, Edge, HazardShape, LN_SIGMA, LOCATION, Law, Limit, Link, Parameter, Prior,
};
use crate::laws::limits::late_entries;
use crate::laws::weibull::{self, hazard_of_shape};
use crate::terms::Terms;
use sealspan_numeric::jet::Scalar;

/// The three-parameter Weibull law.
pub struct ThreeParameterWeibull;

/// Standardised ln of the age beyond γ; `None` up to γ.
fn z<S: Scalar>([mu, ln_sigma, ln_ratio]: [S; 3], age: Age) -> Option<S> {
    let beyond = -((mu + ln_ratio).exp() - age.t);
    (beyond.value() > 0.0).then(|| (beyond.ln() - mu) * (-ln_sigma).exp())
}

impl Law<3> for ThreeParameterWeibull {
    const NAME: &'static str = "three_parameter_weibull";
    const TITLE: &'static str = "three-parameter Weibull";
    const REPORTED: &'static [Parameter] = &[
        Parameter {
            name: "shape",
            meaning: "above 1: wears out with age beyond the failure-free time",
            link: Link::Log,
            dimension: Dimension::None,
        },
        Parameter {
            name: "scale",
            meaning: "time beyond the failure-free time by which 63.2 % have failed",
            link: Link::Log,
            dimension: Dimension::Time,
        },
        Parameter {
            name: "failure_free_time",
            meaning: "age before which none fails; needs a physical reason",
            link: Link::Log,
            dimension: Dimension::Time,
        },
    ];
    const EDGES: &'static [Edge] = &[Edge::Simpler {
        law: "weibull",
        parameter: 2,
        end: f64::NEG_INFINITY,
    }];
    const PRIORS: [Prior; 3] = [
        LOCATION,
        LN_SIGMA,
        Prior {
            mean: -2.0,
            sd: 2.0,
        },
    ];

    fn report<S: Scalar>([mu, ln_sigma, ln_ratio]: [S; 3], index: usize) -> S {
        match index {
            0 => -ln_sigma,
            1 => mu,
            _ => mu + ln_ratio,
        }
    }

    fn ln_density<S: Scalar>(theta: [S; 3], age: Age) -> S {
        let Some(z) = z(theta, age) else {
            return S::constant(f64::NEG_INFINITY);
        };
        // ln(t − γ) = μ + σz.
        z - z.exp() - theta[1] - theta[0] - theta[1].exp() * z
    }

    fn ln_survival<S: Scalar>(theta: [S; 3], age: Age) -> S {
        z(theta, age).map_or(S::constant(0.0), |z| -z.exp())
    }

    fn ln_cdf<S: Scalar>(theta: [S; 3], age: Age) -> S {
        z(theta, age).map_or(S::constant(f64::NEG_INFINITY), weibull::ln_failed)
    }

    fn ln_age_at<S: Scalar>([mu, ln_sigma, ln_ratio]: [S; 3], ln_share: S) -> S {
        mu + (ln_ratio).ln_add_exp(ln_sigma.exp() * (-ln_share).ln())
    }

    fn ln_mean<S: Scalar>([mu, ln_sigma, ln_ratio]: [S; 3]) -> S {
        mu + ln_ratio.ln_add_exp((ln_sigma.exp() + 1.0).ln_gamma())
    }

    fn hazard_shape([_, ln_sigma, _]: [f64; 3]) -> HazardShape {
        hazard_of_shape(-ln_sigma)
    }

    fn limits(terms: &Terms) -> Vec<Limit> {
        late_entries(terms)
    }

    fn unbounded(terms: &Terms) -> bool {
        terms.extent.exact > 0.0
    }

    fn starts(terms: &Terms) -> Vec<[f64; 3]> {
        let [mu, ln_sigma] = weibull::start(terms);
        let earliest = terms.extent.youngest;
        let usual = [0.2, 0.7].map(|share| [mu, ln_sigma, (share * earliest).ln() - mu]);
        // Closer below the first failure, by parts of the failures' own spread.
        let width = earliest * terms.ln_spread();
        let closer = [0.02, 0.2, 1.0, 3.0].map(|part| earliest - part * width);
        let closer = closer.into_iter().filter(|time| *time > 0.0);
        let closer = closer.filter_map(|time| {
            let (mean, spread) = terms.ln_moments(time)?;
            let mu = mean + 0.45 * spread;
            Some([mu, (spread * weibull::SPREAD).ln(), time.ln() - mu])
        });
        usual.into_iter().chain(closer).collect()
    }

    fn edge([mu, ln_sigma, ln_ratio]: [f64; 3], terms: &Terms) -> Option<&'static str> {
        let earliest = terms.extent.exact_range.0;
        let beyond = earliest - (mu + ln_ratio).exp();
        if beyond < 1e-3 * earliest.min(mu.exp()) && ln_sigma > -0.2 {
            Some(
                "the likelihood grows without limit as the failure-free time nears the first failure (shape below 1): this law has no estimate here; use the two-parameter Weibull",
            )
        } else {
            (ln_ratio < -8.0).then_some(
                "the failure-free time goes to 0: the two-parameter Weibull fits as well",
            )
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::fit::{NoFit, fit};
    use crate::laws::by_name;
    use sealspan_records::{Observation, Sample};

    /// A chance is at most 1, so that only exact ages can be ever more likely.
    #[test]
    fn only_exact_ages_are_likely_without_limit() {
        let looks = Observation::interval(30.0, 50.0, 0.0, 4.0).unwrap();
        let exact = Observation::exact(70.0, 0.0, 1.0).unwrap();
        let terms = |rows: &[Observation]| Terms::new(&Sample::new(rows.to_vec()));
        assert!(!ThreeParameterWeibull::unbounded(&terms(&[looks])));
        assert!(ThreeParameterWeibull::unbounded(&terms(&[looks, exact])));
    }

    /// Failed before a look at one age, and sound at a later one: a constant share explains the most.
    #[test]
    fn looks_that_say_nothing_of_age_have_no_estimate() {
        let rows = vec![
            Observation::interval(0.0, 50.0, 0.0, 4.0).unwrap(),
            Observation::right(80.0, 0.0, 6.0).unwrap(),
        ];
        let law = by_name("three_parameter_weibull").unwrap();
        let why = fit(law, &Sample::new(rows)).err().unwrap();
        let words = "these looks say nothing of how life goes with age";
        assert!(
            matches!(why, NoFit::Edge(said) if said.contains(words)),
            "{why:?}"
        );
    }

    /// Shape 2.2, scale 100 and nothing before 50: what is reported, beside ln S = −((t − 50)/100)^2.2 written out.
    #[test]
    fn what_is_reported_is_what_the_survival_goes_by() {
        let theta = [100f64.ln(), -2.2f64.ln(), 0.5f64.ln()];
        let reported =
            [0, 1, 2].map(|i| <ThreeParameterWeibull as Law<3>>::report::<f64>(theta, i).exp());
        for (got, want) in reported.into_iter().zip([2.2, 100.0, 50.0]) {
            assert!((got / want - 1.0).abs() < 1e-12, "{got} {want}");
        }
        for t in [60.0, 150.0, 250.0] {
            let want = -((t - reported[2]) / reported[1]).powf(reported[0]);
            let got: f64 = ThreeParameterWeibull::ln_survival(theta, Age::new(t));
            assert!((got / want - 1.0).abs() < 1e-12, "{t}: {got} {want}");
        }
    }

    /// Where the failure-free time has come to the first failure with a shape near 1 or less there is no estimate, nor
    /// where it has gone to 0; elsewhere there is, with the same shape too.
    #[test]
    fn a_failure_free_time_at_either_end_is_no_estimate() {
        let ages = [60.0, 90.0, 130.0, 200.0].map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let terms = Terms::new(&Sample::new(ages.into()));
        let said = |shape: f64, time: f64| {
            let theta = [100f64.ln(), -shape.ln(), (time / 100.0).ln()];
            ThreeParameterWeibull::edge(theta, &terms)
        };
        let first = said(0.9, 59.99).unwrap();
        assert!(first.contains("grows without limit"), "{first}");
        let nought = said(0.9, 0.03).unwrap();
        assert!(nought.contains("goes to 0"), "{nought}");
        for (shape, time) in [(1.1, 50.0), (0.9, 50.0), (2.2, 50.0), (2.2, 59.99)] {
            assert_eq!(said(shape, time), None, "{shape} {time}");
        }
    }

    /// No edge is near 20 days before the first failure, whatever the shape and the unit; within a thousandth of it there
    /// is one for shapes about 1, and none for a shape of 2.
    #[test]
    fn the_edge_lies_close_to_the_first_failure() {
        for unit in [1.0, 1e-4, 1e3] {
            let ages = [120.0, 150.0, 210.0, 330.0, 500.0];
            let rows = ages.map(|t| Observation::exact(unit * t, 0.0, 1.0).unwrap());
            let terms = Terms::new(&Sample::new(rows.into()));
            let edge = |time: f64, shape: f64| {
                let (scale, time) = ((unit * 200.0_f64).ln(), (unit * time).ln());
                ThreeParameterWeibull::edge([scale, -f64::ln(shape), time - scale], &terms)
            };
            assert!(
                edge(100.0, 1.1).is_none() && edge(100.0, 0.9).is_none(),
                "{unit}"
            );
            assert!(edge(100.0, 2.0).is_none() && edge(120.0 * (1.0 - 1e-4), 2.0).is_none());
            for shape in [0.85, 1.0, 1.2] {
                assert!(
                    edge(120.0 * (1.0 - 1e-4), shape).is_some(),
                    "{unit} {shape}"
                );
            }
        }
    }

    /// Failure-free times are sought at 0.02, 0.2 and 1 of the failures' own spread before the first of them.
    #[test]
    fn searches_begin_close_below_the_first_failure_too() {
        let ages = [100.0, 110.0, 125.0, 140.0, 170.0_f64];
        let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        let starts = ThreeParameterWeibull::starts(&Terms::new(&Sample::new(rows.into())));
        let mean = ages.iter().map(|t| t.ln()).sum::<f64>() / 5.0;
        let square: f64 = ages.iter().map(|t| (t.ln() - mean).powi(2)).sum();
        // Whichever way the standard deviation is taken.
        let spreads = [(square / 5.0).sqrt(), (square / 4.0).sqrt()];
        for part in [0.02, 0.2, 1.0] {
            let near = |spread: f64| {
                let want = 100.0 * (1.0 - part * spread);
                let at = |[mu, _, ln_ratio]: &[f64; 3]| (mu + ln_ratio).exp();
                starts.iter().any(|s| (at(s) - want).abs() < 1e-6)
            };
            assert!(spreads.into_iter().any(near), "{part}: {starts:?}");
        }
    }
}
