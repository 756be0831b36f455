//! What is said of a defect fit that is written out: one thing changed at a time, at either side of each threshold, and the
//! comparison by number of look against two stages of constant rate followed by hand.

use nalgebra::DMatrix;
use sealspan_life::bounds::Bounds;
use sealspan_life::defects::doubts::{Doubt, doubts, strays};
use sealspan_life::defects::goodness::{LookBand, agreement, by_look};
use sealspan_life::defects::{
    Counts, DETECTION, DefectFit, DefectQuantity, Model, PARAMETERS, StageLaw,
};
use sealspan_records::history::{Ended, History};
use std::sync::Arc;

const WEIBULLS: Model = Model {
    defect: StageLaw::Weibull,
    delay: StageLaw::Weibull,
    detection: None,
};

/// A fit that leaves no doubt: a mean delay of 100, estimates that have nothing to do with each other, and a log so large
/// that its intervals are hardly wider than a normal law's.
fn sure() -> DefectFit {
    DefectFit {
        model: WEIBULLS,
        theta: [500_f64.ln(), -0.8, 100_f64.ln(), 0.0, 0.5],
        covariance: DMatrix::identity(PARAMETERS, PARAMETERS),
        log_likelihood: 0.0,
        detection_at_edge: false,
        delay_at_edge: false,
        counts: Counts {
            seals: 3000.0,
            failed: 1000.0,
            found: 1000.0,
            running: 1000.0,
            truncated: 0.0,
            sound_looks: 9000.0,
            look_ages: 50,
        },
        histories: Arc::new(vec![]),
    }
}

fn with_counts(failed: f64, found: f64) -> DefectFit {
    let counts = Counts {
        failed,
        found,
        ..sure().counts
    };
    DefectFit { counts, ..sure() }
}

fn ends(lower: impl Into<Option<f64>>, upper: impl Into<Option<f64>>) -> Bounds {
    Bounds {
        lower: lower.into(),
        upper: upper.into(),
        ..Bounds::default()
    }
}

/// What is said of a fit whose intervals, looks and comparison leave no doubt of their own.
fn said(fit: &DefectFit) -> Vec<Doubt> {
    doubts(fit, ends(0.5, 0.7), ends(80.0, 150.0), Some(60.0), &[])
}

fn kinds(list: &[Doubt]) -> Vec<&'static str> {
    list.iter().map(|doubt| doubt.kind).collect()
}

#[test]
fn a_sure_fit_leaves_no_doubt() {
    assert_eq!(said(&sure()), []);
}

/// Five failures for a shape, ten for an answer that is more than indicative, and 10/n in the square of the widening: 5 %
/// at 97.6.
#[test]
fn few_failures_or_findings_are_said_at_their_numbers() {
    let many = 1000.0;
    let list = |failed, found| kinds(&said(&with_counts(failed, found)));
    assert_eq!(list(4.0, many), ["few_failures", "thin_log", "indicative"]);
    assert_eq!(list(5.0, many), ["thin_log", "indicative"]);
    assert_eq!(list(many, 4.0), ["thin_log", "indicative"]);
    assert_eq!(list(many, 9.0), ["thin_log", "indicative"]);
    assert_eq!(list(10.0, many), ["thin_log"]);
    assert_eq!(list(97.0, many), ["thin_log"]);
    assert_eq!(list(98.0, many), [""; 0]);
    let half_more = said(&with_counts(8.0, 8.0));
    assert!(half_more[0].message.contains("about 50 % farther"));
}

#[test]
fn a_delay_without_a_shape_asks_for_no_failures() {
    let model = Model {
        delay: StageLaw::Exponential,
        ..WEIBULLS
    };
    let list = |fit: DefectFit| kinds(&said(&DefectFit { model, ..fit }));
    assert_eq!(list(sure()), ["delay_shape_stated"]);
    let thin = ["delay_shape_stated", "thin_log", "indicative"];
    assert_eq!(list(with_counts(4.0, 1000.0)), thin);
}

#[test]
fn what_lies_at_an_edge_or_is_stated_is_said() {
    let (fit, known) = (sure(), |detection| Model {
        detection: Some(detection),
        ..WEIBULLS
    });
    let alike = DefectFit {
        delay_at_edge: true,
        ..fit.clone()
    };
    let perfect = DefectFit {
        detection_at_edge: true,
        model: known(1.0),
        ..fit.clone()
    };
    let both = DefectFit {
        delay_at_edge: true,
        ..perfect.clone()
    };
    let stated = DefectFit {
        model: known(0.8),
        theta: known(0.8).pinned(fit.theta),
        ..fit.clone()
    };
    assert_eq!(
        [&fit, &alike, &perfect, &both].map(DefectFit::at_edge),
        [false, true, true, true]
    );
    assert_eq!(kinds(&said(&alike)), ["delay_spread_at_edge"]);
    assert_eq!(kinds(&said(&perfect)), ["detection_at_edge"]);
    let list = said(&stated);
    assert_eq!(kinds(&list), ["detection_stated"]);
    assert!(list[0].message.starts_with("detection 0.8 is stated"));
}

/// Ends of the mean delay four times apart, or one of them open.
#[test]
fn a_wide_interval_of_the_delay_is_said() {
    let list = |delay| kinds(&doubts(&sure(), ends(0.5, 0.7), delay, Some(60.0), &[]));
    let unclear = ["delay_unclear"];
    for (delay, unsure) in [
        (ends(100.0, 399.0), false),
        (ends(100.0, 401.0), true),
        (ends(0.1, 0.5), true),
        (ends(0.1, 0.3), false),
        (ends(80.0, None), true),
        (ends(None, 150.0), true),
        (ends(None, None), true),
    ] {
        let want: &[&str] = if unsure { &unclear } else { &[] };
        assert_eq!(list(delay), want, "{delay:?}");
    }
}

/// An interval of detection wider than a half, open ends at 0 and 1.
#[test]
fn a_wide_interval_of_detection_is_said() {
    for (detection, unsure) in [
        (ends(0.2, 0.69), false),
        (ends(0.2, 0.71), true),
        (ends(0.6, None), false),
        (ends(0.4, None), true),
        (ends(None, 0.4), false),
        (ends(None, 0.6), true),
    ] {
        let list = doubts(&sure(), detection, ends(80.0, 150.0), Some(60.0), &[]);
        let want: &[&str] = if unsure { &["detection_unclear"] } else { &[] };
        assert_eq!(kinds(&list), want, "{detection:?}");
    }
}

/// Looks more than two mean delays of 100 apart; looks at three ages or fewer.
#[test]
fn looks_too_rare_or_at_the_same_ages_are_said() {
    let spaced = |gap| {
        kinds(&doubts(
            &sure(),
            ends(0.5, 0.7),
            ends(80.0, 150.0),
            gap,
            &[],
        ))
    };
    assert_eq!(spaced(Some(199.0)), [""; 0]);
    assert_eq!(spaced(Some(201.0)), ["looks_too_rare"]);
    assert_eq!(spaced(None), [""; 0]);
    let at_ages = |look_ages| {
        let counts = Counts {
            look_ages,
            ..sure().counts
        };
        kinds(&said(&DefectFit { counts, ..sure() }))
    };
    assert_eq!(at_ages(3), ["looks_at_same_ages"]);
    assert_eq!(at_ages(4), [""; 0]);
}

/// A correlation is a covariance over both standard errors, 0 where one of them is; beyond 0.9 with detection it is said.
#[test]
fn estimates_that_go_together_are_said() {
    let together = |share: f64| {
        let mut fit = sure();
        let (a, b) = (2.0_f64, 3.0_f64);
        fit.covariance[(2, 2)] = a * a;
        fit.covariance[(DETECTION, DETECTION)] = b * b;
        fit.covariance[(2, DETECTION)] = share * a * b;
        fit.covariance[(DETECTION, 2)] = share * a * b;
        fit.covariance[(1, 1)] = 0.0;
        fit
    };
    for share in [0.91, -0.91, 0.89, -0.3] {
        let fit = together(share);
        assert!((fit.correlation(2, DETECTION) - share).abs() < 1e-12);
        assert_eq!(fit.correlation(0, DETECTION), 0.0);
        assert_eq!(fit.correlation(1, DETECTION), 0.0);
        assert!((fit.correlation(0, 0) - 1.0).abs() < 1e-12);
        let want: &[&str] = match share.abs() > 0.9 {
            true => &["confounded"],
            false => &[],
        };
        assert_eq!(kinds(&said(&fit)), want, "{share}");
    }
}

/// Seven cells that expect five or more against five parameters: two degrees of freedom, whose chi-square law has the tail
/// e^(−x/2).
#[test]
fn a_misfit_is_said_by_the_tail_of_its_chi_square() {
    let band = |found, failed, failed_expected| LookBand {
        found,
        found_expected: 100.0,
        failed,
        failed_expected,
        ..LookBand::default()
    };
    let bands = |seen| {
        [
            band(100.0, 100.0, 100.0),
            band(100.0, 100.0, 100.0),
            band(100.0, 5.0, 5.0),
            // Too few to compare, however far off.
            band(seen, 60.0, 4.9),
        ]
    };
    let fit = sure();
    for (seen, kind) in [
        (124.0, None),
        (76.0, None),
        (125.0, Some("doubtful_fit")),
        (130.0, Some("doubtful_fit")),
        (131.0, Some("misfit")),
        (69.0, Some("misfit")),
    ] {
        let bands = bands(seen);
        let statistic = (seen - 100.0_f64).powi(2) / 100.0;
        let a = agreement(&fit, &bands).unwrap();
        assert_eq!((a.statistic, a.df), (statistic, 2.0));
        assert!((a.p_value - (-0.5 * statistic).exp()).abs() < 1e-12);
        assert_eq!(strays(&fit, &bands), kind.map(|_| a));
        let list = doubts(&fit, ends(0.5, 0.7), ends(80.0, 150.0), None, &bands);
        assert_eq!(kinds(&list), kind.into_iter().collect::<Vec<_>>(), "{seen}");
        if kind == Some("doubtful_fit") {
            let once = format!("one group of {:.0}", (0.5 * statistic).exp());
            assert!(list[0].message.contains(&once), "{}", list[0].message);
        }
    }
    // Six cells leave one degree of freedom, five none.
    let six = [bands(100.0)[0], bands(100.0)[1], bands(100.0)[0]];
    let five = [six[0], six[1], bands(100.0)[3]];
    assert_eq!(agreement(&fit, &six).map(|a| a.df), Some(1.0));
    assert_eq!(agreement(&fit, &five), None);
}

const RATES: (f64, f64) = (1.0 / 500.0, 1.0 / 150.0);
const FINDS: f64 = 0.6;

/// Chances of a seal that has not failed: sound, and with a defect.
#[derive(Clone, Copy)]
struct Chances(f64, f64);

impl Chances {
    /// After a time without looks: defects come, and some of them fail.
    fn after(self, time: f64) -> Self {
        let (a, b) = RATES;
        let (sound, delayed) = ((-a * time).exp(), (-b * time).exp());
        let comes = a / (b - a) * (sound - delayed);
        Self(self.0 * sound, self.1 * delayed + self.0 * comes)
    }
    /// Given that the look found nothing.
    fn looked_at(self) -> Self {
        Self(self.0, self.1 * (1.0 - FINDS))
    }
    fn alive(self) -> f64 {
        self.0 + self.1
    }
    /// Given that it has not failed.
    fn given(self) -> Self {
        Self(self.0 / self.alive(), self.1 / self.alive())
    }
}

/// Adds what is to be expected of one seal: looks, findings and failures, each beside what came.
fn follow(out: &mut [[f64; 5]; 6], seal: &History) {
    let band = |number: usize| {
        [0, 0, 1, 2, 3, 3, 4, 4, 4, 4]
            .get(number)
            .map_or(5, |at| *at)
    };
    let (mut here, mut age, mut number) = (Chances(1.0, 0.0), 0.0, 1);
    let n = seal.count();
    let (before, since): (Vec<f64>, Vec<f64>) =
        seal.looks().iter().partition(|a| **a < seal.entry());
    for look in before {
        here = here.after(look - age).looked_at();
        age = look;
    }
    here = here.after(seal.entry() - age).given();
    age = seal.entry();
    for look in since {
        here = here.after(look - age);
        let row = &mut out[band(number)];
        row[0] += n;
        row[2] += n * FINDS * here.1 / here.alive();
        row[4] -= n * here.alive().ln();
        here = here.looked_at().given();
        (age, number) = (look, number + 1);
    }
    let (row, last) = (
        &mut out[band(number)],
        here.after(seal.ended().last() - age),
    );
    match seal.ended() {
        Ended::Running(_) => row[4] -= n * last.alive().ln(),
        Ended::Failed(_) => {
            row[3] += n;
            row[4] -= n * last.alive().ln();
        }
        Ended::FailedBetween(..) => {
            row[3] += n;
            row[4] += n * (1.0 - last.alive());
        }
        Ended::Found(_) => {
            row[0] += n;
            row[1] += n;
            row[2] += n * FINDS * last.1 / last.alive();
            row[4] -= n * last.alive().ln();
        }
    }
}

/// A fit of two constant rates to these seals, its parameters written out.
fn constant(list: Vec<History>) -> DefectFit {
    let model = Model {
        defect: StageLaw::Exponential,
        delay: StageLaw::Exponential,
        detection: Some(FINDS),
    };
    let theta = model.pinned([-RATES.0.ln(), 0.0, -RATES.1.ln(), 0.0, 0.0]);
    DefectFit {
        model,
        theta,
        counts: Counts::of(&list),
        histories: Arc::new(list),
        ..sure()
    }
}

fn seal(entry: f64, looks: &[f64], ended: Ended, count: f64) -> History {
    History::new(entry, looks.to_vec(), ended, count).unwrap()
}

/// Seals of every end, watched from new and from later, with looks from before watching began, and one with looks enough
/// for all bands.
#[test]
fn what_is_expected_by_number_of_look_follows_two_constant_rates() {
    let often: Vec<f64> = (1..=12).map(|k| 25.0 * f64::from(k)).collect();
    let list = vec![
        seal(0.0, &[60.0, 120.0], Ended::Failed(150.0), 2.0),
        seal(0.0, &[60.0, 120.0], Ended::FailedBetween(120.0, 210.0), 3.0),
        seal(0.0, &[70.0], Ended::Found(140.0), 4.0),
        seal(0.0, &[], Ended::Running(90.0), 5.0),
        seal(0.0, &often, Ended::Running(340.0), 2.0),
        seal(100.0, &[40.0, 80.0, 130.0], Ended::Found(190.0), 1.0),
        seal(100.0, &[40.0, 80.0, 130.0], Ended::Failed(160.0), 3.0),
        seal(100.0, &[40.0], Ended::FailedBetween(100.0, 200.0), 2.0),
        seal(100.0, &[40.0, 80.0], Ended::Running(400.0), 6.0),
        seal(100.0, &[], Ended::Running(170.0), 1.0),
    ];
    let mut want = [[0.0; 5]; 6];
    for history in &list {
        follow(&mut want, history);
    }
    let bands = by_look(&constant(list));
    let labels: Vec<_> = bands.iter().map(|b| (b.from, b.to)).collect();
    let numbers = [(1, 1), (2, 2), (3, 3), (4, 5), (6, 9)];
    let numbers = numbers.map(|(from, to)| (from, Some(to)));
    assert_eq!(labels, [numbers.as_slice(), &[(10, None)]].concat());
    for (band, want) in bands.iter().zip(want) {
        let (found, failed) = (band.found_expected, band.failed_expected);
        let seen = [band.looks, band.found, found, band.failed, failed];
        let near = seen.iter().zip(want).all(|(a, b)| (a - b).abs() < 1e-8);
        assert!(near, "{} on: {seen:?} {want:?}", band.from);
    }
}

/// A band is kept where there was a look, or time watched without one, and not else.
#[test]
fn bands_without_looks_or_time_are_left_out() {
    let looked = vec![seal(0.0, &[60.0], Ended::Found(120.0), 1.0)];
    let first: Vec<_> = by_look(&constant(looked)).iter().map(|b| b.from).collect();
    assert_eq!(first, [1, 2]);
    // The second look was never made, but the seals were watched on, and failed.
    let failed = vec![seal(0.0, &[60.0], Ended::Failed(100.0), 7.0)];
    let bands = by_look(&constant(failed));
    assert_eq!(bands.iter().map(|b| b.from).collect::<Vec<_>>(), [1, 2]);
    assert_eq!((bands[1].looks, bands[1].failed), (0.0, 7.0));
    assert!(bands[1].failed_expected > 0.0);
}

/// Deeper than the normal quantile by √(1 + 10/n), n the fewer of failures and findings and at least 1.
#[test]
fn intervals_are_deeper_by_the_fewer_of_failures_and_findings() {
    for (failed, found, wider) in [
        (10.0, 400.0, 2_f64.sqrt()),
        (400.0, 10.0, 2_f64.sqrt()),
        (1.0, 1.0, 11_f64.sqrt()),
        (0.0, 9.0, 11_f64.sqrt()),
    ] {
        let fit = with_counts(failed, found);
        for (level, normal) in [(0.9, 1.644_853_626_951), (0.95, 1.959_963_984_540)] {
            assert!((fit.depth(level) - wider * normal).abs() < 1e-9);
        }
    }
}

/// Looks that follow each other at once find the share 1 of defects, to the last digits a number has.
#[test]
fn looks_without_time_between_find_every_defect() {
    for logit in [-1.0, 0.0, 0.4, 2.0, 40.0] {
        for every in [1e-9, 1e-12, 1e-14] {
            let mut fit = sure();
            fit.theta[DETECTION] = logit;
            let share = fit.estimate(DefectQuantity::Caught { every });
            let near = share.is_some_and(|share| (share - 1.0).abs() < 1e-9);
            assert!(near, "{logit} {every}: {share:?}");
        }
    }
}
