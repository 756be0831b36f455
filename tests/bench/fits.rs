//! The library's side of `tests/bench/side_by_side`: estimates alone, timed inside one running program as the other
//! libraries are. One JSON line each: name, seconds of processor, answers.
//!
//! `cargo run --release --example fits -- FOLDER`, with RAYON_NUM_THREADS=1

use sealspan_life::fit::fit;
use sealspan_life::laws::by_name;
use sealspan_life::life::Life;
use sealspan_life::refits::Refits;
use sealspan_life::regression::{Design, Line, fit_design};
use sealspan_life::terms::Terms;
use sealspan_life::turnbull;
use sealspan_records::{LoadOptions, Question, Sample, ask, load};
use std::error::Error;
use std::hint::black_box;
use std::path::Path;
use std::sync::Arc;

/// Least time, in hundredths of a second, over which a task is repeated.
const LEAST: f64 = 60.0;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args()
        .nth(1)
        .ok_or("name the folder of the data")?;
    let folder = Path::new(&folder);
    for size in [2_000, 100_000] {
        let path = folder.join(format!("lives-{size}.csv"));
        let all = groups(&path, &[])?;
        let sample = all.first().ok_or("no lives")?;
        for law in ["weibull", "lognormal", "gamma"] {
            let family = by_name(law).ok_or("no such law")?;
            say(&format!("{law} {size}"), || {
                let fit = fit(family, sample)?;
                let life = Life::new(family, fit.theta.clone());
                let mut answer: Vec<f64> = life.parameters().iter().map(|(_, v)| *v).collect();
                answer.push(fit.log_likelihood);
                Ok(answer)
            })?;
        }
        let sites = groups(&path, &["site"])?;
        say(&format!("regression {size}"), || regression(&sites))?;
    }
    let all = groups(&folder.join("lives-200.csv"), &[])?;
    let sample = all.first().ok_or("no lives")?;
    let weibull = fit(by_name("weibull").ok_or("no such law")?, sample)?;
    say("refits of 200", || {
        let refits = Refits::new(&weibull, sample, 10_000, 1).ok_or("too few refits")?;
        Ok(vec![refits.drawn as f64])
    })?;
    let all = groups(&folder.join("looks-2000.csv"), &[])?;
    let looks = all.first().ok_or("no lives")?;
    say("interval curve 2000", || {
        let curve = turnbull::curve(looks, 0.9).ok_or("no curve")?;
        let at = |age: f64| {
            let gone = curve.masses.iter().take_while(|m| m.upper <= age);
            gone.last().map_or(1.0, |m| m.survival)
        };
        Ok([300.0, 600.0, 900.0, 1200.0].map(at).to_vec())
    })
}

fn groups(path: &Path, by: &[&str]) -> Result<Vec<Sample>, Box<dyn Error>> {
    let records = load(path, &LoadOptions::default())?;
    let question = Question {
        by: by.iter().map(|b| (*b).to_owned()).collect(),
        ..Question::default()
    };
    let answer = ask(&records, &question)?;
    Ok(answer.groups.into_iter().map(|g| g.sample).collect())
}

/// Weibull regression on a factor: coefficients against the first level, sigma and the log-likelihood.
fn regression(levels: &[Sample]) -> Result<Vec<f64>, Box<dyn Error>> {
    let line = |(level, sample): (usize, &Sample)| Line {
        row: std::iter::once((0, 1.0))
            .chain((level > 0).then_some((level, 1.0)))
            .collect(),
        offset: 0.0,
        stratum: 0,
        terms: Arc::new(Terms::new(sample)),
    };
    let design = Design {
        names: (0..levels.len()).map(|at| format!("level {at}")).collect(),
        lines: levels.iter().enumerate().map(line).collect(),
        strata: 1,
        penalties: vec![],
    };
    let found = fit_design(by_name("weibull").ok_or("no such law")?, &design)?.regression;
    let mut answer = found.x.get(1..levels.len()).unwrap_or_default().to_vec();
    answer.extend(found.x.last().map(|x| x.exp()));
    answer.push(found.log_likelihood);
    Ok(answer)
}

/// Repeats a task until it can be timed, and prints what one of it took.
fn say(
    name: &str,
    task: impl Fn() -> Result<Vec<f64>, Box<dyn Error>>,
) -> Result<(), Box<dyn Error>> {
    let answer = task()?;
    let start = processor()?;
    let mut times = 0.0;
    while processor()? - start < LEAST {
        black_box(task()?);
        times += 1.0;
    }
    let seconds = (processor()? - start) / 100.0 / times;
    println!(
        "{}",
        serde_json::json!({ "name": name, "seconds": seconds, "answer": answer })
    );
    Ok(())
}

/// Processor time of this program so far, in hundredths of a second as Linux counts it.
fn processor() -> Result<f64, Box<dyn Error>> {
    let stat = std::fs::read_to_string("/proc/self/stat")?;
    let after = stat.rsplit(')').next().unwrap_or_default();
    let fields: Vec<&str> = after.split_whitespace().collect();
    let ticks = |at: usize| fields.get(at).and_then(|f| f.parse::<f64>().ok());
    Ok(ticks(11).ok_or("no user time")? + ticks(12).ok_or("no system time")?)
}
