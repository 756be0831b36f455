//! How often does a fit of a law with several peaks miss a higher maximum that many random starts find?
//!
//! `cargo run --release -p sealspan-tests --example optima -- [SAMPLES] [FAMILY,..]` prints the table in
//! `tests/coverage/optima.md`, and on standard error which samples were missed.
//! The seed is fixed; the samples are invented.
#![allow(clippy::print_stdout, clippy::print_stderr)]

mod several_peaks;

use rayon::prelude::*;
use sealspan_life::family::Family;
use sealspan_life::fit::Model;
use sealspan_life::fit::fit_terms;
use sealspan_life::laws::by_name;
use sealspan_life::life::Life;
use sealspan_life::maximise::maximise;
use sealspan_life::terms::Terms;
use sealspan_numeric::random::Stream;
use sealspan_numeric::special::normal_quantile;
use several_peaks::{SEED, TRUTHS, Whole, sample};
use std::sync::Arc;

/// Random starts for each sample.
const STARTS: u64 = 80;
/// A log-likelihood higher by this much is a higher maximum.
const HIGHER: f64 = 1e-5;

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
                let outcome = outcome(family, life, number);
                if let Outcome::Missed(by) = outcome {
                    eprintln!("{name}: sample {number} missed by {by:.5}");
                }
                Some(outcome)
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
