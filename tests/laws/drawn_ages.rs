//! Tests and proportional hazards with ages drawn between two looks: their size where nothing differs, the
//! coverage of a real effect, and the answer of exact data as the looks come closer.

use sealspan_life::hazards::{Prepared, Source, Ties, TimeScale, WatchedLife, fit, fit_drawn};
use sealspan_life::laws::by_name;
use sealspan_life::life::Life;
use sealspan_life::log_rank::{Weighting, drawn, log_rank};
use sealspan_life::regression::{Design, Fitting, Line, Place, fit_design};
use sealspan_life::terms::Terms;
use sealspan_numeric::random::Stream;
use sealspan_records::{Observation, Sample};
use std::sync::Arc;

const SEED: u64 = 20_261_126;

/// Lives of shape 2 and this scale, looked at so often from a random first look on, watched to 700 days.
fn looked_at(stream: &mut Stream, seals: usize, scale: f64, every: f64) -> Sample {
    let life = Life::weibull(2.0, scale).unwrap();
    let rows = (0..seals).map(|_| {
        let age = life.sample(stream.uniform());
        let first = every * stream.uniform();
        if age > 700.0 {
            return Observation::right(700.0, 0.0, 1.0).unwrap();
        }
        let upper = first + every * ((age - first) / every).ceil().max(0.0);
        let lower = (upper - every).max(0.0);
        Observation::interval(lower, upper, 0.0, 1.0).unwrap()
    });
    Sample::new(rows.collect())
}

/// Two groups, the second with a column of 1.
struct Two {
    fitting: Fitting,
    places: Vec<Place>,
    lives: Vec<WatchedLife>,
}

impl Two {
    fn new(groups: &[Sample]) -> Self {
        let places: Vec<Place> = [vec![(0, 1.0)], vec![(0, 1.0), (1, 1.0)]]
            .map(|row| Place {
                row,
                offset: 0.0,
                stratum: 0,
            })
            .into();
        let lines = groups.iter().zip(&places).map(|(sample, place)| Line {
            row: place.row.clone(),
            offset: 0.0,
            stratum: 0,
            terms: Arc::new(Terms::new(sample)),
        });
        let design = Design {
            names: vec!["intercept".to_owned(), "b".to_owned()],
            lines: lines.collect(),
            strata: 1,
            penalties: vec![],
        };
        let lives = groups.iter().enumerate().flat_map(|(design, sample)| {
            sample.rows().iter().map(move |o| WatchedLife {
                observation: *o,
                design,
                stratum: 0,
                cluster: 0,
            })
        });
        Self {
            fitting: fit_design(by_name("weibull").unwrap(), &design).unwrap(),
            places,
            lives: lives.collect(),
        }
    }

    fn hazards(&self, copies: usize, seed: u64) -> sealspan_life::hazards::DrawnHazards {
        let source = Source {
            regression: &self.fitting.regression,
            places: &self.places,
            copies,
            seed,
        };
        let names = ["b".to_owned()];
        let design = [vec![0.0], vec![1.0]];
        fit_drawn(&names, &design, &self.lives, source, false, 0.9).unwrap()
    }
}

/// Where nothing differs but how often the groups are looked at, each test rejects about as often as stated.
#[test]
fn tests_keep_their_size_though_groups_are_looked_at_differently() {
    let sets = 300;
    let mut rejected = [0.0; 4];
    for set in 0..sets {
        let mut stream = Stream::new(SEED, set);
        let groups = [
            looked_at(&mut stream, 50, 400.0, 60.0),
            looked_at(&mut stream, 50, 400.0, 170.0),
        ];
        let weightings = [Weighting::LogRank, Weighting::Gehan];
        let tests = drawn(&[groups.to_vec()], &weightings, 25, set).unwrap();
        let two = Two::new(&groups).hazards(25, set);
        let p = [
            tests[0].scores.test("log_rank").unwrap().p_value,
            tests[1].scores.test("gehan").unwrap().p_value,
            two.effects[0].p_value,
            two.proportionality.unwrap().global.p_value,
        ];
        for (count, p) in rejected.iter_mut().zip(p) {
            *count += f64::from(u8::from(p < 0.05));
        }
    }
    let share = rejected.map(|n| n / sets as f64);
    println!("rejected at 5 %: log-rank, Gehan, hazards, drift {share:?}");
    // Three standard errors of 300 sets: 3.8 points. The drift test may be cautious: ages are drawn from a law
    // without drift.
    for share in &share[..3] {
        assert!((0.012..0.088).contains(share), "{share}");
    }
    assert!(share[3] < 0.088, "{}", share[3]);
}

/// Taking each failure at the end of its interval would blame the group that is looked at seldom.
#[test]
fn intervals_of_a_real_effect_cover() {
    let sets = 300;
    let (mut held, mut naive) = (0.0, 0.0);
    // Scales 300 and 450 at shape 2: the second group fails at (300/450)² times the rate.
    let truth = 2.0 * (300.0_f64 / 450.0).ln();
    for set in 0..sets {
        let mut stream = Stream::new(SEED + 1, set);
        let groups = [
            looked_at(&mut stream, 50, 300.0, 60.0),
            looked_at(&mut stream, 50, 450.0, 170.0),
        ];
        let two = Two::new(&groups);
        let effect = &two.hazards(25, set).effects[0];
        held += f64::from(u8::from(effect.lower <= truth && truth <= effect.upper));
        let at_the_end: Vec<WatchedLife> = two
            .lives
            .iter()
            .map(|l| {
                let o = l.observation;
                let observation = if o.ended() {
                    Observation::exact(o.last(), 0.0, 1.0).unwrap()
                } else {
                    o
                };
                WatchedLife { observation, ..*l }
            })
            .collect();
        let names = ["b".to_owned()];
        let data = Prepared::new(&names, &[vec![0.0], vec![1.0]], &at_the_end).unwrap();
        let late = fit(data, Ties::Efron).unwrap();
        let late = &late.effects(&late.covariance(), 0.9)[0];
        naive += f64::from(u8::from(late.lower <= truth && truth <= late.upper));
    }
    let (held, naive) = (held / sets as f64, naive / sets as f64);
    println!("coverage of 90 % intervals: drawn {held:.3}, at the end of the interval {naive:.3}");
    // Three standard errors of 300 sets: 5.2 points.
    assert!((0.848..0.952).contains(&held), "{held}");
    assert!(naive < held - 0.05, "{naive}");
}

/// As the looks come closer, the answers become those of the exact ages.
#[test]
fn closer_looks_lead_to_the_exact_answer() {
    let mut stream = Stream::new(SEED + 2, 0);
    let mut ages = |scale: f64| -> Vec<f64> {
        let life = Life::weibull(2.0, scale).unwrap();
        (0..60).map(|_| life.sample(stream.uniform())).collect()
    };
    let (a, b) = (ages(400.0), ages(520.0));
    let exact = |ages: &[f64]| {
        let rows = ages
            .iter()
            .map(|t| Observation::exact(*t, 0.0, 1.0).unwrap());
        Sample::new(rows.collect())
    };
    let within = |ages: &[f64], width: f64| {
        let rows = ages.iter().map(|t| {
            let lower = (t - 0.4 * width).max(0.0);
            Observation::interval(lower, t + 0.6 * width, 0.0, 1.0).unwrap()
        });
        Sample::new(rows.collect())
    };
    let truth = [exact(&a), exact(&b)];
    let test = log_rank(&truth, Weighting::LogRank).unwrap();
    let two = Two::new(&truth);
    let data = Prepared::new(&["b".to_owned()], &[vec![0.0], vec![1.0]], &two.lives).unwrap();
    let whole = fit(data, Ties::Efron).unwrap();
    let effect = &whole.effects(&whole.covariance(), 0.9)[0];
    let drift = whole.proportionality(TimeScale::ShareFailed).unwrap();
    let mut last = f64::INFINITY;
    for width in [200.0, 20.0, 1e-3] {
        let groups = [within(&a, width), within(&b, width)];
        let own = drawn(&[groups.to_vec()], &[Weighting::LogRank], 100, 7).unwrap();
        let own_test = own[0].scores.test("log_rank").unwrap();
        let hazards = Two::new(&groups).hazards(100, 7);
        let off = (own_test.statistic - test.statistic).abs();
        println!(
            "looks {width} apart: statistic off by {off:.4}, share {:.4}",
            own[0].share
        );
        assert!(off < last, "{width}: {off} after {last}");
        assert!(own[0].share >= 0.0 && hazards.shares[0] >= 0.0);
        last = off;
        if width < 1.0 {
            let one = &hazards.effects[0];
            assert!(off < 1e-9 * test.statistic && own[0].share < 1e-9);
            assert!((one.estimate - effect.estimate).abs() < 1e-9);
            assert!((one.lower - effect.lower).abs() < 1e-6);
            assert!(hazards.shares[0] < 1e-9);
            let global = hazards.proportionality.unwrap().global;
            assert!((global.statistic - drift.global.statistic).abs() < 1e-3);
        }
    }
}

/// The same seed gives the same bytes, another one nearly the same answer.
#[test]
fn drawing_is_seeded() {
    let mut stream = Stream::new(SEED + 3, 0);
    let groups = [
        looked_at(&mut stream, 40, 300.0, 90.0),
        looked_at(&mut stream, 40, 400.0, 90.0),
    ];
    let test = |seed| {
        let all = drawn(&[groups.to_vec()], &[Weighting::LogRank], 100, seed).unwrap();
        all[0].scores.test("log_rank").unwrap().statistic
    };
    assert_eq!(test(1).to_bits(), test(1).to_bits());
    assert!(test(1) != test(2) && (test(1) / test(2) - 1.0).abs() < 0.3);
}
