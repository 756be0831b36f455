//! Factors of places: what they shrink to, and how often their intervals hold the truth.

use sealspan_care::ahead::places::{Seen, factors, factors_of_parts};
use sealspan_numeric::random::Stream;
use sealspan_numeric::special::chi_square_quantile;

fn seen(list: &[(f64, f64)]) -> Vec<Seen> {
    let of = |(happened, expected): &(f64, f64)| Seen {
        happened: *happened,
        expected: *expected,
    };
    list.iter().map(of).collect()
}

#[test]
fn one_place_differs_from_nothing() {
    let got = factors(&seen(&[(3.0, 9.0)]), 4, 1);
    assert_eq!(got.centre, [1.0]);
    assert_eq!(got.drawn, vec![vec![1.0]; 4]);
}

/// A place with many endings goes its own way; one of which next to nothing is known stays near all others.
#[test]
fn what_is_known_decides() {
    let got = factors(
        &seen(&[(240.0, 100.0), (50.0, 100.0), (90.0, 100.0), (0.0, 0.2)]),
        10,
        1,
    );
    assert!((got.centre[0] - 2.4).abs() < 0.1, "{got:?}");
    assert!((got.centre[1] - 0.5).abs() < 0.05, "{got:?}");
    assert!(got.centre[3] > 0.6 && got.centre[3] < 1.3, "{got:?}");
    // Places all alike: shrunk by three tenths of the way from 90 and 110 to 100.
    let same = factors(
        &seen(&[(90.0, 100.0), (110.0, 100.0), (100.0, 100.0)]),
        10,
        1,
    );
    assert!(
        same.centre.iter().all(|f| (f - 1.0).abs() < 0.07),
        "{same:?}"
    );
}

/// Two parts at two places: the worse place is so for both, and each part keeps what its law expects. A third part, at
/// the worse place only, keeps its law there.
#[test]
fn a_part_keeps_its_law() {
    let table = [
        seen(&[(240.0, 160.0), (80.0, 160.0)]),
        seen(&[(120.0, 75.0), (30.0, 75.0)]),
        seen(&[(50.0, 50.0), (0.0, 0.0)]),
    ];
    let got = factors_of_parts(&table, 3, 1);
    let all = got.drawn.iter().chain([&got.centre]);
    for by_part in all {
        for (part, factors) in table.iter().zip(by_part) {
            let expected: f64 = part.iter().map(|s| s.expected).sum();
            let moved: f64 = part.iter().zip(factors).map(|(s, f)| s.expected * f).sum();
            assert!((moved / expected - 1.0).abs() < 1e-12, "{by_part:?}");
        }
        let ratio = |i: usize| by_part[i][0] / by_part[i][1];
        assert!((ratio(0) / ratio(1) - 1.0).abs() < 1e-12);
        assert!((by_part[2][0] - 1.0).abs() < 1e-12);
    }
    // Three to one and four to one, shrunk.
    let ratio = got.centre[0][0] / got.centre[0][1];
    assert!(ratio > 2.7 && ratio < 3.4, "{ratio}");
}

#[test]
fn nothing_seen_is_no_factor() {
    let got = factors_of_parts(&[seen(&[(0.0, 0.0), (0.0, 0.0)])], 2, 1);
    assert!(got.centre[0].iter().all(|f| (f - 1.0).abs() < 1e-12));
    assert_eq!(factors_of_parts(&[], 2, 1).centre.len(), 0);
}

/// Six places with gamma factors of a known shape: nine intervals of ten hold the factor, over shapes from 1 to 50 and
/// expected endings from 1 to 60. The simulation error is 0.7 points; the shape has to be learnt from six places.
#[test]
fn intervals_hold_the_factor() {
    let (mut held, mut all) = (0, 0);
    for number in 0..300 {
        let mut stream = Stream::new(20, number);
        let a = 50f64.powf(stream.uniform());
        let gamma = |k: f64, u: f64| 0.5 * chi_square_quantile(u, 2.0 * k);
        let truths: Vec<f64> = (0..6).map(|_| gamma(a, stream.uniform()) / a).collect();
        let list: Vec<Seen> = truths
            .iter()
            .map(|f| {
                let expected = 60f64.powf(stream.uniform());
                // Events of a steady rate within the expected time.
                let (mut t, mut n) = (stream.exponential(), 0.0);
                while t < expected * f {
                    n += 1.0;
                    t += stream.exponential();
                }
                Seen {
                    happened: n,
                    expected,
                }
            })
            .collect();
        let got = factors(&list, 200, number);
        for (j, truth) in truths.iter().enumerate() {
            let mut drawn: Vec<f64> = got.drawn.iter().map(|d| d[j]).collect();
            drawn.sort_by(f64::total_cmp);
            all += 1;
            held += usize::from(drawn[10] <= *truth && *truth <= drawn[189]);
        }
    }
    let share = held as f64 / all as f64;
    assert!((share - 0.9).abs() < 0.025, "{share}");
}
