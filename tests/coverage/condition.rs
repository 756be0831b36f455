//! How often do the intervals of measured condition hold the truth, with few seals and many?
//!
//! `cargo run --release -p sealspan-tests --example condition_coverage -- [FLEETS] [SEALS,..]` prints the table of
//! `tests/coverage/condition.md`. The seed is fixed; the fleets are invented.
#![allow(clippy::print_stdout)]

use rayon::prelude::*;
use sealspan_life::degradation::mixed::fit;
use sealspan_life::degradation::{Limit, Scale, wear};
use sealspan_numeric::random::Stream;
use sealspan_numeric::roots::bracketed;
use sealspan_numeric::special::{chi_square_survival, normal_quantile};

const SEED: u64 = 20_261_126;
const LEVEL: f64 = 0.9;
const LIMIT: Limit = Limit {
    value: 3.5,
    rising: false,
};
/// Looks at each seal at most.
const LOOKS: usize = 4;

/// Held and asked: the seal's own age, a new seal's age, the age by which a tenth and half of new seals are past.
type Tally = [[f64; 2]; 4];

/// One fleet of straight paths; `rate_sd` is how much the seals differ in their rates.
fn straight(seals: usize, rate_sd: f64, seed: u64) -> Option<Tally> {
    let mut draw = Stream::new(SEED, seed);
    let mut line = || {
        (
            7.5 + 0.2 * draw.normal(),
            -(0.008 + rate_sd * draw.normal()),
        )
    };
    let lines: Vec<(f64, f64)> = (0..seals).map(|_| line()).collect();
    let new = line();
    let path = |(level, rate): &(f64, f64), draw: &mut Stream| -> Vec<(f64, f64)> {
        let count = 3 + draw.below(LOOKS);
        (0..count)
            .map(|k| {
                let age = 60.0 * k as f64;
                (age, level + rate * age + 0.1 * draw.normal())
            })
            .collect()
    };
    let paths: Vec<Vec<(f64, f64)>> = lines.iter().map(|l| path(l, &mut draw)).collect();
    let model = fit(&paths, Scale::Plain).ok()?;
    let truth = |(level, rate): &(f64, f64)| (LIMIT.value - level) / rate;
    let mut out = Tally::default();
    let tail = 0.5 - 0.5 * LEVEL;
    for (path, line) in paths.iter().zip(&lines) {
        let c = model.of_seal(path, LIMIT)?;
        count(
            &mut out[0],
            [c.age_at(tail), c.age_at(1.0 - tail)],
            truth(line),
        );
    }
    let c = model.new_seal(LIMIT)?;
    count(
        &mut out[1],
        [c.age_at(tail), c.age_at(1.0 - tail)],
        truth(&new),
    );
    for (slot, p) in [(2, 0.1), (3, 0.5)] {
        // Level + rate × age is normal: the age at which a share p of seals is past the limit.
        let z = normal_quantile(p);
        let miss = |age: f64| {
            let sd = (0.04 + rate_sd * rate_sd * age * age).sqrt();
            (7.5 - 0.008 * age - LIMIT.value) + z * sd
        };
        let age = bracketed(miss, 1.0, 5000.0, 1e-9)?;
        count(&mut out[slot], model.share_interval(LIMIT, p, LEVEL), age);
    }
    Some(out)
}

fn count(slot: &mut [f64; 2], [lower, upper]: [Option<f64>; 2], truth: f64) {
    let above = lower.unwrap_or(0.0) <= truth;
    let below = upper.is_none_or(|u| truth <= u);
    slot[0] += f64::from(u8::from(above && below));
    slot[1] += 1.0;
}

/// Gamma deviate by inversion of the tail.
fn gamma(draw: &mut Stream, shape: f64, rate: f64) -> Option<f64> {
    let tail = draw.uniform();
    let miss = |ln_x: f64| chi_square_survival(2.0 * ln_x.exp(), 2.0 * shape) - tail;
    Some(bracketed(miss, -200.0, 10.0, 1e-13)?.exp() / rate)
}

const SHAPE: f64 = 0.02;
const RATE: f64 = 2.5;

/// One fleet of gamma wear, looked at every 60 days so often as the straight ones.
fn worn(seals: usize, seed: u64) -> Option<Tally> {
    let mut draw = Stream::new(SEED + 1, seed);
    let mut paths = vec![];
    let mut truths = vec![];
    for _ in 0..=seals {
        let looks = 2 + draw.below(LOOKS);
        let (mut value, mut age, mut path) = (8.0, 0.0, vec![(0.0, 8.0)]);
        while value > LIMIT.value {
            age += 5.0;
            value -= gamma(&mut draw, SHAPE * 5.0, RATE)?;
            if age % 60.0 == 0.0 && age <= 60.0 * looks as f64 {
                path.push((age, value));
            }
        }
        truths.push(age);
        paths.push(path);
    }
    let (new, last) = (*truths.last()?, paths.pop());
    last?;
    let model = wear::fit(&paths, LIMIT).ok()?;
    let tail = 0.5 - 0.5 * LEVEL;
    let mut out = Tally::default();
    // The truth is known to the five days in which the limit was passed: its middle.
    for (path, truth) in paths.iter().zip(&truths) {
        if path.last().is_some_and(|p| p.1 <= LIMIT.value) {
            continue;
        }
        let c = model.of_seal(path, LIMIT)?;
        count(
            &mut out[0],
            [c.age_at(tail), c.age_at(1.0 - tail)],
            truth - 2.5,
        );
    }
    let c = model.new_seal(LIMIT);
    count(
        &mut out[1],
        [c.age_at(tail), c.age_at(1.0 - tail)],
        new - 2.5,
    );
    for (slot, p) in [(2, 0.1), (3, 0.5)] {
        let miss = |age: f64| chi_square_survival(2.0 * RATE * 4.5, 2.0 * SHAPE * age) - p;
        let age = bracketed(miss, 1.0, 5000.0, 1e-9)?;
        count(&mut out[slot], model.share_interval(LIMIT, p, LEVEL), age);
    }
    Some(out)
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let fleets: u64 = args.first().and_then(|a| a.parse().ok()).unwrap_or(500);
    let seals: Vec<usize> = args.get(1).map_or_else(
        || vec![4, 6, 10, 15, 30],
        |list| list.split(',').filter_map(|n| n.parse().ok()).collect(),
    );
    println!(
        "| paths | seals | a seal's own age, % | a new seal's age, % | age at 10 % past, % | age at 50 % past, % | fleets |"
    );
    println!("|---|---|---|---|---|---|---|");
    type Play = fn(usize, u64) -> Option<Tally>;
    let designs: [(&str, Play); 3] = [
        ("straight, rates differ by a fifth", |n, s| {
            straight(n, 0.0015, s)
        }),
        ("straight, rates alike", |n, s| straight(n, 0.0, s)),
        ("gamma wear", worn),
    ];
    for (name, play) in designs {
        for n in &seals {
            let all: Vec<Tally> = (0..fleets)
                .into_par_iter()
                .filter_map(|s| play(*n, s))
                .collect();
            let share = |slot: usize| {
                let held: f64 = all.iter().map(|t| t[slot][0]).sum();
                let asked: f64 = all.iter().map(|t| t[slot][1]).sum();
                format!("{:.1}", 100.0 * held / asked)
            };
            println!(
                "| {name} | {n} | {} | {} | {} | {} | {} of {fleets} |",
                share(0),
                share(1),
                share(2),
                share(3),
                all.len()
            );
        }
    }
}
