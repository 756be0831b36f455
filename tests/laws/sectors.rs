//! What must hold for wear by sector whatever the counts.

use crate::support::close;
use crate::tolerances::ARITHMETIC;
use sealspan_life::sectors::rayleigh::by_sector;
use sealspan_life::sectors::ring::Turning;
use sealspan_life::sectors::severity::{Shape, draws, interval, mending, severity, turning_limit};
use sealspan_life::sectors::shares::shares;
use sealspan_life::sectors::uneven::uneven;
use sealspan_numeric::random::Stream;
use std::f64::consts::TAU;

#[test]
fn relabelling_the_sectors_by_a_turn_changes_no_test() {
    let counts = [7, 0, 2, 1, 3];
    let (test, rose) = (uneven(&counts, 1).unwrap(), by_sector(&counts).unwrap());
    for turn in 1..5 {
        let mut moved = counts;
        moved.rotate_right(turn);
        let (other, turned) = (uneven(&moved, 1).unwrap(), by_sector(&moved).unwrap());
        close(other.p_value, test.p_value, ARITHMETIC, "multinomial");
        close(turned.p_series, rose.p_series, ARITHMETIC, "Rayleigh");
        let by = (turned.direction - rose.direction).rem_euclid(TAU);
        close(by, turn as f64 * TAU / 5.0, ARITHMETIC, "direction");
    }
}

#[test]
fn exact_probabilities_of_all_tables_add_up_to_one() {
    // The least statistic there is has p = 1; the largest has k tables.
    for (k, n) in [(2_usize, 5_u32), (3, 6), (4, 9), (6, 4)] {
        let mut flat = vec![n / k as u32; k];
        for cell in flat.iter_mut().take(n as usize % k) {
            *cell += 1;
        }
        close(uneven(&flat, 1).unwrap().p_value, 1.0, ARITHMETIC, "even");
        let mut all = vec![0; k];
        all[0] = n;
        let test = uneven(&all, 1).unwrap();
        close(
            test.p_value,
            (k as f64).powi(1 - n as i32),
            ARITHMETIC,
            "one sector",
        );
        close(test.p_value, test.least, ARITHMETIC, "least");
    }
}

#[test]
fn even_wear_is_seldom_called_uneven() {
    let mut stream = Stream::new(8, 8);
    let p: Vec<f64> = (0..2000)
        .map(|_| {
            let mut counts = [0; 4];
            for _ in 0..12 {
                counts[stream.below(4)] += 1;
            }
            uneven(&counts, 1).unwrap().p_value
        })
        .collect();
    for level in [0.01, 0.05, 0.1, 0.3] {
        let share = p.iter().filter(|p| **p <= level).count() as f64 / 2000.0;
        let error = (level * (1.0 - level) / 2000.0_f64).sqrt();
        // Exact and of few values: at most the level, and not far below it.
        assert!(share < level + 4.0 * error, "{share} at {level}");
        assert!(share > 0.5 * level - 4.0 * error, "{share} at {level}");
    }
}

#[test]
fn many_failures_are_drawn_and_agree_with_the_exact_test() {
    // 12 sectors of 20 failures are too many tables; a chi-square of 11 degrees is near.
    let counts = [5, 0, 1, 2, 3, 0, 1, 0, 4, 1, 2, 1];
    let (a, b) = (uneven(&counts, 1).unwrap(), uneven(&counts, 1).unwrap());
    assert_eq!(a, b);
    let near = sealspan_numeric::special::chi_square_survival(a.statistic, 11.0);
    assert!((a.p_value - near).abs() < 0.02, "{} {near}", a.p_value);
}

#[test]
fn severities_come_back_from_the_shares_they_make() {
    let (w, shape): ([f64; 4], f64) = ([0.5, 0.5, 2.5, 0.5], 2.6);
    let sum: f64 = w.iter().map(|w| w.powf(shape)).sum();
    let p: Vec<f64> = w.iter().map(|w| w.powf(shape) / sum).collect();
    for (ours, want) in severity(&p, shape).unwrap().iter().zip(w) {
        close(*ours, want, ARITHMETIC, "severity");
    }
    // Mending takes the worst sector to the others: life by the sum of powers.
    let want = (sum / (4.0 * 0.5_f64.powf(shape))).powf(1.0 / shape);
    close(mending(&p, shape), want, ARITHMETIC, "mending");
    assert!(severity(&[1.0, 0.0], shape).is_none());
    close(turning_limit(&[1.0; 4], shape), 1.0, ARITHMETIC, "even");
    close(turning_limit(&w, 1.0), 1.0, ARITHMETIC, "shape 1");
}

#[test]
fn turning_gains_between_nothing_and_the_limit() {
    let (rates, shape, scale) = (vec![4.0, 1.0, 1.0, 1.0], 2.5, 1000.0);
    let ring = |every| Turning {
        rates: rates.clone(),
        every,
        step: 1,
    };
    let limit = turning_limit(&rates, shape);
    let mut before = limit + 1e-6;
    for every in [2.0, 20.0, 60.0, 150.0, 5000.0] {
        let gain = ring(every).gain(shape, scale).unwrap();
        assert!(gain <= before + 1e-3, "{every}: {gain} after {before}");
        before = gain;
    }
    close(
        ring(5000.0).gain(shape, scale).unwrap(),
        1.0,
        1e-9,
        "too late",
    );
    close(
        ring(0.5).gain(shape, scale).unwrap(),
        limit,
        1e-4,
        "ever more often",
    );
    // Never turned, in closed form and by quadrature over one long stay.
    let long = ring(1e6);
    close(
        long.mean_life(shape, scale),
        ring(f64::INFINITY).mean_life(shape, scale),
        1e-8,
        "mean",
    );
    let total: f64 = ring(37.0).damage(1234.5).iter().sum();
    close(total, 7.0 * 1234.5, ARITHMETIC, "damage is only shared out");
    assert!(ring(-1.0).gain(shape, scale).is_none() && ring(9.0).gain(0.1, scale).is_none());
}

#[test]
fn shares_follow_a_plain_door_and_leave_the_others_even() {
    let mut doors = vec![vec![1, 1, 1, 1]; 60];
    doors.push(vec![0, 1, 14, 0]);
    doors.push(vec![3, 0, 0, 0]);
    let (part, all) = shares(&doors);
    assert!(part > 0.0 && part < 0.1);
    let [.., plain, odd] = all.as_slice() else {
        panic!()
    };
    assert!(plain.out_of_line > 0.99 && plain.shares[2] > 0.8);
    assert!(
        odd.shares[0] < 0.6,
        "three failures at one sector are not yet a door out of line"
    );
    for door in &all {
        close(door.shares.iter().sum::<f64>(), 1.0, ARITHMETIC, "sum");
    }
}

#[test]
fn draws_hold_the_truth_as_often_as_they_say() {
    // Doors with shares drawn from the prior itself: then the intervals are exact but for simulation.
    let shape = Shape {
        estimate: 2.0,
        ln_error: 0.0,
    };
    let (mut held, runs) = (0, 400);
    for i in 0..runs {
        let truth = draws(&[0, 0, 0, 0], shape, 1, 70_000 + i).remove(0);
        let mut stream = Stream::new(31, i);
        let power: Vec<f64> = truth.severity.iter().map(|w| w.powi(2)).collect();
        let total: f64 = power.iter().sum();
        let mut counts = [0; 4];
        for _ in 0..15 {
            let mut u = stream.uniform() * total;
            let at = power
                .iter()
                .position(|p| {
                    u -= p;
                    u <= 0.0
                })
                .unwrap_or(3);
            counts[at] += 1;
        }
        let gains = draws(&counts, shape, 400, i)
            .iter()
            .map(|d| d.turning)
            .collect();
        let (lower, upper) = interval(gains, 0.9).unwrap();
        held += u64::from(lower <= truth.turning && truth.turning <= upper);
    }
    let share = held as f64 / runs as f64;
    assert!(
        (share - 0.9).abs() < 4.0 * (0.09_f64 / runs as f64).sqrt() + 0.01,
        "{share}"
    );
}
