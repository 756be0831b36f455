//! How often does a fit of a law with several peaks miss a higher maximum that many random starts find?
//!
//! `cargo run --release -p sealspan-tests --example optima -- [SAMPLES] [FAMILY,..]` prints the table in `tests/coverage/optima.md`.
//! The seed is fixed; the samples are invented.
#![allow(clippy::print_stdout)]

use rayon::prelude::*;
use sealspan_life::family::Family;
use sealspan_life::fit::Model;
use sealspan_life::fit::fit_terms;
use sealspan_life::laws::by_name;
use sealspan_life::life::Life;
use sealspan_life::maximise::{LogLikelihood, maximise};
use sealspan_life::quantity::Derivatives;
use sealspan_life::terms::Terms;
use sealspan_numeric::random::Stream;
use sealspan_numeric::special::normal_quantile;
use sealspan_records::{Observation, Sample};
use std::sync::Arc;

const SEED: u64 = 20_261_126;
/// Random starts for each sample.
const STARTS: u64 = 80;
/// A log-likelihood higher by this much is a higher maximum.
const HIGHER: f64 = 1e-5;

/// The ages at which watching ends at the latest; the second where some are to be left running, if six in ten never
/// fail.
const LONGEST: f64 = 5_000.0;
const SHORTER: f64 = 600.0;

/// The laws that lives are drawn from, one sample in turn from each.
const TRUTHS: [(&str, &[&str]); 4] = [
    (
        "weibull_mixture",
        &[
            "weibull_mixture:share_1=0.3,shape_1=3,scale_1=200,shape_2=3,scale_2=900",
            "weibull_mixture:share_1=0.1,shape_1=1,scale_1=100,shape_2=2.5,scale_2=700",
            "weibull_mixture:share_1=0.5,shape_1=2,scale_1=400,shape_2=5,scale_2=800",
            "weibull:shape=2,scale=600",
        ],
    ),
    (
        "weak_fraction_weibull",
        &[
            "weak_fraction_weibull:shape=2,scale=300,weak_share=0.2",
            "weak_fraction_weibull:shape=1.2,scale=500,weak_share=0.6",
        ],
    ),
    (
        "three_parameter_weibull",
        &[
            "three_parameter_weibull:shape=1.5,scale=400,failure_free_time=200",
            "three_parameter_weibull:shape=3,scale=600,failure_free_time=100",
        ],
    ),
    (
        "generalised_gamma",
        &[
            "generalised_gamma:mu=6.5,sigma=0.5,q=1.5",
            "generalised_gamma:mu=6.5,sigma=0.5,q=-0.8",
            "lognormal:mu=6.5,sigma=0.5",
        ],
    ),
];

/// Sample `number`: 20, 60 or 200 seals; watched until nearly all have failed that ever do, or to the age at which six in ten have; ages
/// known, or between looks.
fn sample(life: &Life, number: u64) -> Sample {
    let mut stream = Stream::new(SEED, number);
    let seals = [20, 60, 200][(number / 4 % 3) as usize];
    let end = if (number / 12).is_multiple_of(2) {
        LONGEST
    } else {
        life.quantile(0.6).min(SHORTER)
    };
    let spacing = (number / 24 % 2 == 1).then(|| life.quantile(0.5) / 6.0);
    let row = |age: f64| match spacing {
        _ if age > end => Observation::right(end, 0.0, 1.0),
        None => Observation::exact(age, 0.0, 1.0),
        Some(spacing) => {
            let upper = (age / spacing).ceil() * spacing;
            Observation::interval(upper - spacing, upper, 0.0, 1.0)
        }
    };
    let rows = (0..seals).filter_map(|_| row(life.sample(stream.uniform())).ok());
    Sample::new(rows.collect())
}

struct Whole<'a> {
    family: &'static dyn Family,
    terms: &'a Terms,
}

impl LogLikelihood for Whole<'_> {
    fn value(&self, x: &[f64]) -> f64 {
        self.family.log_likelihood(x, self.terms)
    }
    fn derivatives(&self, x: &[f64]) -> Derivatives {
        self.family.log_likelihood_derivatives(x, self.terms)
    }
    fn weight(&self) -> f64 {
        self.terms.extent.total
    }
}

/// The highest maximum inside the family that random starts come to.
fn by_force(family: &'static dyn Family, terms: &Terms, number: u64) -> Option<f64> {
    let problem = Whole { family, terms };
    let bases = family.starts(terms);
    let mut stream = Stream::new(SEED ^ 0x5eed, number);
    let mut best: Option<f64> = None;
    for i in 0..STARTS {
        let base = bases.get(stream.below(bases.len()))?;
        let spread = [0.3, 1.0, 2.0][(i % 3) as usize];
        let start: Vec<f64> = base
            .iter()
            .map(|x| x + spread * normal_quantile(stream.uniform()))
            .collect();
        if let Ok(found) = maximise(&problem, &start)
            && family.edge(&found.x, terms).is_none()
            && best.is_none_or(|b| found.value > b)
        {
            best = Some(found.value);
        }
    }
    best
}

/// What came of one sample.
#[derive(Clone, Copy, PartialEq)]
enum Outcome {
    /// Nothing higher was found.
    Highest,
    /// A higher maximum was found, by so much.
    Missed(f64),
    /// The fit was refused; random starts found a maximum, or none.
    Refused { maximum: bool },
}

fn outcome(family: &'static dyn Family, life: &Life, number: u64) -> Outcome {
    let terms = Arc::new(Terms::new(&sample(life, number)));
    let forced = by_force(family, &terms, number);
    match (fit_terms(Model::free(family), &terms), forced) {
        (Ok(fit), Some(value)) if value > fit.log_likelihood + HIGHER => {
            Outcome::Missed(value - fit.log_likelihood)
        }
        (Ok(_), _) => Outcome::Highest,
        (Err(_), forced) => Outcome::Refused {
            maximum: forced.is_some(),
        },
    }
}

fn main() {
    let mut args = std::env::args().skip(1);
    let samples: u64 = args.next().and_then(|a| a.parse().ok()).unwrap_or(200);
    let wanted = args.next();
    println!(
        "| family | samples | nothing higher found | missed | by at most (ln L) | refused, no maximum found | refused, though a maximum was found |"
    );
    println!("|---|---|---|---|---|---|---|");
    for (name, truths) in TRUTHS {
        if wanted
            .as_ref()
            .is_some_and(|w| !w.split(',').any(|w| w == name))
        {
            continue;
        }
        let lives: Vec<Life> = truths.iter().filter_map(|t| Life::parse(t).ok()).collect();
        let Some(family) = by_name(name) else {
            continue;
        };
        let outcomes: Vec<Outcome> = (0..samples)
            .into_par_iter()
            .filter_map(|number| {
                let life = lives.get((number % truths.len() as u64) as usize)?;
                Some(outcome(family, life, number))
            })
            .collect();
        let count =
            |wanted: &dyn Fn(&Outcome) -> bool| outcomes.iter().filter(|o| wanted(o)).count();
        let by = outcomes.iter().fold(0.0, |most: f64, o| match o {
            Outcome::Missed(by) => most.max(*by),
            _ => most,
        });
        println!(
            "| {name} | {} | {} | {} | {by:.5} | {} | {} |",
            outcomes.len(),
            count(&|o| *o == Outcome::Highest),
            count(&|o| matches!(o, Outcome::Missed(_))),
            count(&|o| *o == Outcome::Refused { maximum: false }),
            count(&|o| *o == Outcome::Refused { maximum: true }),
        );
    }
}
