//! Cases far from what is usual: very many or none against what was expected, labels of many digits, ages alike to many
//! digits, watches whose events all lie at one end; each beside a formula or a sum written out.

use sealspan_life::fit::fit;
use sealspan_life::laws::by_name;
use sealspan_life::log_rank::{Weighting, trend as log_rank_trend};
use sealspan_life::quantity::Quantity;
use sealspan_life::recurrence::{
    hungry::Count,
    power_law::power_law,
    ratios::spread,
    system::History,
    trend::{lewis_robinson, mil_hdbk_189},
};
use sealspan_records::observation::{Observation, Sample};

fn near(a: f64, b: f64, by: f64) -> bool {
    (a / b - 1.0).abs() < by
}

/// Labels that are dates as numbers: only their distances count.
#[test]
fn a_trend_over_dates_is_that_over_days() {
    let group = |shift: f64| {
        let ages = (0..20).map(|i| shift + 10.0 * f64::from(i * i % 23) + f64::from(i));
        let rows = ages.map(|t| Observation::exact(t, 0.0, 1.0).unwrap());
        Sample::new(rows.collect())
    };
    let strata = [vec![group(40.3), group(33.1), group(45.7)]];
    for weighting in [Weighting::LogRank, Weighting::Peto] {
        let test = |numbers: &[f64]| log_rank_trend(&strata, numbers, weighting).unwrap();
        let days = test(&[1.0, 2.0, 3.0]).statistic;
        let dates = test(&[20_240_101.0, 20_240_102.0, 20_240_103.0]).statistic;
        assert!(near(dates, days, 1e-9), "{days} {dates}");
    }
}

/// The chance of so many and more is worked out from its own terms where it is small, and as the rest where it is not.
#[test]
fn far_tails_of_counts_have_all_their_digits() {
    let p = |seen: f64, expected: f64| Count { seen, expected }.p_value();
    assert_eq!(p(0.0, 800.0), 1.0);
    assert!(near(p(1.0, 800.0), 1.0, 1e-12));
    // e⁻² Σ 2ⁿ/n! from n = 40 on.
    let mut term = (-2f64).exp();
    let mut sum = 0.0;
    for n in 1..120 {
        term *= 2.0 / f64::from(n);
        if n >= 40 {
            sum += term;
        }
    }
    assert!(sum < 1e-30);
    assert!(near(p(40.0, 2.0), sum, 1e-9), "{} {sum}", p(40.0, 2.0));
}

/// One watch whose events all come late: growth n/Σ ln(T/t), whatever the unit.
#[test]
fn events_all_late_in_a_watch_in_hours_have_a_power_law() {
    let times = [50_000.0, 52_000.0, 56_000.0, 58_000.0];
    let sum: f64 = times.iter().map(|t: &f64| (60_000.0 / t).ln()).sum();
    for unit in [1.0 / 8766.0, 1.0, 3600.0] {
        let events = times.iter().map(|t| t * unit).collect();
        let watch = History::new(0.0, 60_000.0 * unit, events).unwrap();
        let law = power_law(&[watch]).unwrap();
        assert!(near(law.growth, 4.0 / sum, 1e-9), "{unit}: {}", law.growth);
    }
}

/// Events on the last day alone tell no growth: any would do.
#[test]
fn watches_with_events_on_their_last_day_alone_have_no_power_law() {
    let watch = |to: f64| History::new(0.0, to, vec![to]).unwrap();
    assert!(power_law(&[watch(100.0), watch(200.0)]).is_none());
}

/// Gaps alike but for the rounding of their sums tell no trend by their order; a watch without events tells none at all.
#[test]
fn equal_gaps_and_no_events_have_no_test() {
    let gap = 1234.7;
    let times = (1..12).map(|i| gap * f64::from(i)).collect();
    let even = History::new(0.0, 14_000.0, times).unwrap().new_at_start();
    assert_eq!(lewis_robinson(std::slice::from_ref(&even)), None);
    assert_eq!(lewis_robinson(&[even.clone(), even]), None);
    let quiet = History::new(0.0, 14_000.0, vec![]).unwrap();
    assert_eq!(mil_hdbk_189(&[quiet]), None);
}

/// With half of what was expected all ratios are doubled, those apart as well, and nobody is more apart.
#[test]
fn half_of_what_was_expected_doubles_all_ratios() {
    let counts = |times: f64| -> Vec<Count> {
        let mut out: Vec<Count> = (0..280)
            .map(|i| Count {
                seen: [2.0, 3.0, 4.0, 3.0, 5.0][i % 5],
                expected: 3.4 * times,
            })
            .collect();
        for (seen, expected) in [(19.0, 1.7), (8.0, 1.0)] {
            let expected = expected * times;
            out.push(Count { seen, expected });
        }
        out
    };
    let fleet = |times: f64| spread(&counts(times)).unwrap();
    let (one, half) = (fleet(1.0), fleet(0.5));
    let (apart, far) = (one.apart.unwrap(), half.apart.unwrap());
    assert!(near(half.mean, 2.0 * one.mean, 1e-6));
    assert!(near(far.mean, 2.0 * apart.mean, 1e-6));
    assert!(near(far.share, apart.share, 1e-4));
    for (a, b) in counts(1.0).into_iter().zip(counts(0.5)).skip(274) {
        let (a, b) = (one.chance_apart(a), half.chance_apart(b));
        assert!((a - b).abs() < 1e-4, "{a} {b}");
    }
}

/// Counts of places whose ratios follow a gamma law of shape 1, a geometric law with 4 expected, and five of forty times
/// as many: the many keep their wide law beside those apart.
#[test]
fn beside_a_few_apart_the_many_may_differ_widely() {
    let each = |seen: f64| Count {
        seen,
        expected: 4.0,
    };
    let ratio = 0.8f64.ln();
    let at = (0..300).map(|i| (f64::from(i) + 0.5) / 300.0);
    let mut counts: Vec<Count> = at.map(|u| each(((1.0 - u).ln() / ratio).floor())).collect();
    counts.extend([each(160.0); 5]);
    let fleet = spread(&counts).unwrap();
    let apart = fleet.apart.unwrap();
    // Gamma ratios make negative binomial counts: Γ(a + n)/(Γ(a) n!) qⁿ (1 − q)ᵃ with q/(1 − q) = mE/a. With what was
    // found of those apart no other shape of the many is likelier.
    let mass = |n: f64, a: f64, m: f64| {
        let q = m * 4.0 / (a + m * 4.0);
        let rise = (0..n as u32).map(|i| (a + f64::from(i)) * q / (f64::from(i) + 1.0));
        rise.product::<f64>() * (1.0 - q).powf(a)
    };
    let value = |shape: f64| -> f64 {
        let each = counts.iter().map(|c| {
            let own = (1.0 - apart.share) * mass(c.seen, shape, fleet.mean);
            (own + apart.share * mass(c.seen, 1.0, apart.mean)).ln()
        });
        each.sum()
    };
    let grid = (60..800).map(|i| 0.005 * f64::from(i));
    let best = grid.max_by(|a, b| value(*a).total_cmp(&value(*b))).unwrap();
    let shape = fleet.shape.unwrap();
    assert!((shape - best).abs() < 0.01, "{shape} {best}");
    assert!(shape < 2.0, "{shape}");
}

/// Ages alike to eight digits: ln age is as good as age over a hundred million, so that the Weibull law is that of the
/// smallest extreme value of what is left, whose b solves Σ x eˣ⸍ᵇ/Σ eˣ⸍ᵇ − mean = b.
#[test]
fn failures_alike_to_eight_digits_have_a_fit() {
    let left = [0.0, 1.0, 2.0, 3.0, 4.0f64];
    let off = |b: f64| {
        let weights = left.map(|x| (x / b).exp());
        let all: f64 = weights.iter().sum();
        let mean: f64 = weights.iter().zip(left).map(|(w, x)| w * x).sum();
        mean / all - 2.0 - b
    };
    let (mut low, mut high) = (0.1, 10.0);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if off(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    let rows = left.map(|x| Observation::exact(1e8 + x, 0.0, 1.0).unwrap());
    let found = fit(by_name("weibull").unwrap(), &Sample::new(rows.into())).unwrap();
    let shape = found.estimate(Quantity::Parameter(0));
    assert!(near(shape, 1e8 / low, 1e-5), "{shape} {}", 1e8 / low);
}
