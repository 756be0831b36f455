//! Returns of shipped batches, kits and reserves, against plain sums and play.

use sealspan_care::returns::{ReturnsQuestion, Shipped, kit};
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;

fn batch(batch: &str, quantity: usize, age: f64, returned: usize) -> Shipped {
    Shipped {
        batch: batch.to_owned(),
        quantity,
        age,
        returned,
    }
}

fn question<'a>(life: &'a Life, draws: &'a [Life]) -> ReturnsQuestion<'a> {
    ReturnsQuestion {
        life,
        draws,
        horizon: 365.0,
        warranty: Some(730.0),
        claimed: 0.8,
        cost: 120.0,
        confidence: 0.9,
        reserve_chance: 0.95,
    }
}

#[test]
fn returns_against_play() {
    let life = Life::weibull(2.0, 1500.0).unwrap();
    let shipped = [
        batch("A", 300, 100.0, 1),
        batch("B", 200, 500.0, 9),
        batch("C", 50, 900.0, 12),
    ];
    let got = question(&life, &[]).answer(&shipped).unwrap();
    // Out of warranty: nothing comes back of C, and B has 230 days left.
    assert_eq!((got.batches[2].expected, got.batches[2].upper), (0.0, 0));
    // Of all that were shipped, what is out, and what should have come back within the warranty by now.
    let by_now = |n: f64, age: f64| 0.8 * n * (1.0 - life.survival(age));
    for (of, (out, due)) in got.batches.iter().zip([
        (299, by_now(300.0, 100.0)),
        (191, by_now(200.0, 500.0)),
        (38, by_now(50.0, 730.0)),
    ]) {
        assert_eq!(of.out, out);
        assert!((of.expected_by_now / due - 1.0).abs() < 1e-12);
    }
    let chance = |age: f64, span: f64| 1.0 - life.survival(age + span) / life.survival(age);
    let want = 0.8 * (299.0 * chance(100.0, 365.0) + 191.0 * chance(500.0, 230.0));
    assert!((got.expected / want - 1.0).abs() < 1e-12);
    assert!((got.expected_cost - 120.0 * want).abs() < 1e-9);
    let (mut inside, mut enough, runs) = (0, 0, 20_000u64);
    for run in 0..runs {
        let mut stream = Stream::new(6, run);
        let mut seen = 0usize;
        for (n, age, span) in [(299, 100.0, 365.0), (191, 500.0, 230.0)] {
            seen += (0..n)
                .filter(|_| stream.uniform() < 0.8 * chance(age, span))
                .count();
        }
        inside += u32::from((got.lower..=got.upper).contains(&seen));
        enough += u32::from(seen as f64 * 120.0 <= got.reserve);
    }
    let share = |n: u32| f64::from(n) / runs as f64;
    assert!((0.895..0.95).contains(&share(inside)), "{}", share(inside));
    assert!((0.945..0.98).contains(&share(enough)), "{}", share(enough));
    // An uncertain life asks for more reserve.
    let mut stream = Stream::new(9, 0);
    let draws: Vec<Life> = (0..300)
        .map(|_| Life::weibull(2.0, 1500.0 * (0.2 * stream.normal()).exp()).unwrap())
        .collect();
    assert!(question(&life, &draws).answer(&shipped).unwrap().reserve > 1.2 * got.reserve);
    let off = question(&life, &[])
        .answer(&[batch("D", 3, 1.0, 4)])
        .unwrap_err();
    assert!(off.to_string().contains("4 returns of 3"));
}

#[test]
fn kits() {
    let life = Life::weibull(2.0, 1000.0).unwrap();
    let got = kit(&life, &[], 10, 365.0, 0.95).unwrap();
    let p = life.failed(365.0);
    let mut below = 0.0;
    let mut k = 0;
    loop {
        let ways = (0..k)
            .map(|i| (10 - i) as f64 / (i + 1) as f64)
            .product::<f64>();
        below += ways * p.powi(k) * (1.0 - p).powi(10 - k);
        if below >= 0.95 {
            break;
        }
        k += 1;
    }
    assert_eq!(got.quantity, k as usize);
    assert!((got.enough - below).abs() < 1e-12 && (got.expected - 10.0 * p).abs() < 1e-12);
    assert!(kit(&life, &[], 0, 365.0, 0.95).is_err() && kit(&life, &[], 3, 365.0, 1.0).is_err());
}

/// A share of failures sent back lies above 0 and at most at 1.
#[test]
fn shares_that_cannot_be_are_refused() {
    let life = Life::exponential(50.0).unwrap();
    let batch = || Shipped {
        batch: "A".to_owned(),
        quantity: 40,
        age: 50.0,
        returned: 0,
    };
    for (claimed, is_a_share) in [
        (1.0, true),
        (0.2, true),
        (0.0, false),
        (-0.5, false),
        (50.0, false),
    ] {
        let asked = ReturnsQuestion {
            claimed,
            ..question(&life, &[])
        };
        assert_eq!(asked.answer(&[batch()]).is_ok(), is_a_share, "{claimed}");
    }
}
