//! A fit is the greatest maximum there is, or a reason that names what lies where the likelihood is highest. All lives
//! are invented.

use crate::support::{close, fitted};
use sealspan_life::family::Family;
use sealspan_life::fit::{Fit, NoFit, fit};
use sealspan_life::laws;
use sealspan_life::maximise::{LogLikelihood, maximise};
use sealspan_life::posterior::Posterior;
use sealspan_life::quantity::{Derivatives, Quantity};
use sealspan_life::terms::Terms;
use sealspan_life::warning::Warning;
use sealspan_numeric::random::Stream;
use sealspan_records::{Observation, Sample};

/// Log-likelihoods of about a hundred, by two searches of their own.
const SAME_PEAK: f64 = 1e-6;

fn law(name: &str) -> &'static dyn Family {
    laws::by_name(name).unwrap()
}

fn exact(ages: &[(f64, f64)]) -> Vec<Observation> {
    let rows = ages.iter();
    rows.map(|(t, n)| Observation::exact(*t, 0.0, *n).unwrap())
        .collect()
}

fn with_running(mut rows: Vec<Observation>, age: f64, count: f64) -> Sample {
    rows.push(Observation::right(age, 0.0, count).unwrap());
    Sample::new(rows)
}

fn refusal(name: &str, sample: &Sample) -> String {
    match fit(law(name), sample) {
        Ok(fit) => panic!("{name} has {:?}", fit.theta),
        Err(why) => why.to_string(),
    }
}

const MONTHS: [(f64, f64); 5] = [
    (30.0, 6.0),
    (60.0, 9.0),
    (90.0, 8.0),
    (120.0, 6.0),
    (150.0, 3.0),
];

/// Ages rounded to months: the Pareto law from the first failure on is likelier than the peak inside.
#[test]
fn a_limit_beyond_a_local_peak_is_named() {
    let rounded = with_running(exact(&MONTHS), 180.0, 8.0);
    let why = refusal("generalised_gamma", &rounded);
    assert!(why.contains("q runs to minus infinity"), "{why}");
    // The same ages as the intervals they stand for have an estimate.
    let rows = MONTHS.map(|(t, n)| Observation::interval(t - 15.0, t + 15.0, 0.0, n).unwrap());
    let fit = fitted(
        law("generalised_gamma"),
        &with_running(rows.to_vec(), 180.0, 8.0),
    );
    assert!((-1.0..0.0).contains(&fit.theta[2]), "{:?}", fit.theta);
}

/// Invented lives, coarsely rounded, between looks or running.
fn coarse(seed: u64) -> Sample {
    let mut stream = Stream::new(seed, 0);
    let shape = 0.5 + 3.0 * stream.uniform();
    let step = [10.0, 30.0, 50.0][stream.below(3)];
    let rows = (0..10 + stream.below(30)).map(|_| {
        let age = 100.0 * stream.exponential().powf(1.0 / shape);
        let look = (age / step).ceil() * step;
        match (seed % 3, stream.uniform() < 0.3) {
            (_, true) => Observation::right(step * (1 + stream.below(6)) as f64, 0.0, 1.0),
            (0, _) => Observation::exact(look, 0.0, 1.0),
            (1, _) => Observation::interval(look - step, look, 0.0, 1.0),
            _ => Observation::exact(age.ceil(), 0.0, 1.0),
        }
        .unwrap()
    });
    Sample::new(rows.collect())
}

#[test]
fn no_generalised_gamma_on_a_grid_is_likelier_than_the_estimate_or_the_limit_named() {
    let family = law("generalised_gamma");
    let (mut fits, mut limits) = (0, 0);
    for seed in 0..18 {
        let sample = coarse(seed).reduce();
        let terms = Terms::new(&sample);
        let reached = match fit(family, &sample) {
            Ok(fit) => {
                fits += 1;
                fit.log_likelihood
            }
            // Beyond the largest |q| of the family, whose end is then no limit.
            Err(why) if why.to_string().contains("third parameter") => continue,
            Err(_) => {
                limits += 1;
                let limits = family.limits(&terms).into_iter().map(|l| l.value);
                limits.fold(f64::NEG_INFINITY, f64::max)
            }
        };
        for i in -16..=16 {
            for j in 0..24 {
                for k in 0..28 {
                    let (mu, ln_sigma) = (2.6 + 0.1 * f64::from(k), -2.6 + 0.16 * f64::from(j));
                    let theta = [mu, ln_sigma, 0.5 * f64::from(i)];
                    let value = family.log_likelihood(&theta, &terms);
                    assert!(
                        value < reached + 1e-6,
                        "{seed} {theta:?}: {value} {reached}"
                    );
                }
            }
        }
    }
    assert!(fits > 3 && limits > 3, "{fits} {limits}");
}

/// The normal law of 0 to 4 days after a start: mean 2, variance 2 (with n below).
#[test]
fn failures_a_few_parts_in_a_million_apart_have_a_fit() {
    for start in [1e4, 1e5, 1e6, 1e7] {
        let rows: Vec<(f64, f64)> = (0..5).map(|i| (start + f64::from(i), 1.0)).collect();
        let sample = Sample::new(exact(&rows));
        let normal = fitted(law("normal"), &sample);
        let sigma = normal.estimate(Quantity::Parameter(1));
        close(sigma / 2f64.sqrt(), 1.0, 1e-7, "sigma");
        close(normal.estimate(Quantity::Mean) - start, 2.0, 1e-6, "mean");
        // The log-likelihoods tend to those of the laws of age itself.
        for (name, want) in [
            ("lognormal", normal.log_likelihood),
            ("gamma", normal.log_likelihood),
            ("weibull", -8.958_468),
            ("loglogistic", -9.069_860),
        ] {
            let fit = fitted(law(name), &sample);
            close(fit.log_likelihood, want, 20.0 / start + 1e-6, name);
        }
    }
    let rows: Vec<(f64, f64)> = (0..5).map(|i| (1e10 + f64::from(i), 1.0)).collect();
    let why = refusal("weibull", &Sample::new(exact(&rows)));
    assert!(why.contains("eight digits"), "{why}");
}

#[test]
fn the_largest_and_smallest_ages_are_fitted_as_any_others() {
    let at = |unit: f64| {
        let rows: Vec<(f64, f64)> = (1..=10).map(|i| (unit * f64::from(i), 1.0)).collect();
        with_running(exact(&rows), 12.0 * unit, 3.0)
    };
    for name in [
        "weibull",
        "exponential",
        "lognormal",
        "loglogistic",
        "gamma",
        "normal",
        "generalised_gamma",
        "weak_fraction_weibull",
    ] {
        let plain = fitted(law(name), &at(1.0));
        for unit in [1e-300, 1e300] {
            let far = fitted(law(name), &at(unit));
            close(far.theta[0] - unit.ln(), plain.theta[0], 1e-9, name);
            for (a, b) in far.theta.iter().zip(&plain.theta).skip(1) {
                close(*a, *b, 1e-9, name);
            }
            let moved = far.log_likelihood + 10.0 * unit.ln();
            close(moved, plain.log_likelihood, 1e-9, name);
        }
    }
}

/// Every seal entered late and survival falls as a power of age.
#[test]
fn late_entries_can_run_to_a_power_of_age() {
    let rows = (0..40).map(|i| {
        let entry = 10.0 + 5.0 * f64::from(i * 7 % 11);
        let age = entry * ((f64::from(i) + 0.5) / 40.0).powf(-1.25);
        if age < 2000.0 {
            Observation::exact(age, entry, 1.0).unwrap()
        } else {
            Observation::right(2000.0, entry, 1.0).unwrap()
        }
    });
    let sample = Sample::new(rows.collect());
    for (name, word) in [
        ("weibull", "entered late"),
        ("lognormal", "entered late"),
        ("gamma", "entered late"),
        ("generalised_gamma", "Pareto law"),
        ("normal", "mean life of 0 or less"),
    ] {
        let why = refusal(name, &sample);
        assert!(why.contains(word), "{name}: {why}");
    }
}

#[test]
fn records_that_fix_no_shape_say_which() {
    let one_age = with_running(exact(&[(90.0, 3.0)]), 150.0, 4.0);
    let why = refusal("weak_fraction_weibull", &one_age);
    assert!(why.contains("one single age"), "{why}");
    let left = Observation::interval(0.0, 96.0, 0.0, 1.0).unwrap();
    let rows = [111.0, 91.0, 156.0].map(|t| Observation::right(t, 0.0, 1.0).unwrap());
    let sample = Sample::new(rows.into_iter().chain([left]).collect());
    for name in ["weibull", "lognormal", "loglogistic", "gamma", "normal"] {
        let why = refusal(name, &sample);
        assert!(why.contains("a share fails at once"), "{name}: {why}");
    }
    // Found failed at their first look after entry, all of them.
    let rows =
        [(50.0, 60.0), (70.0, 90.0)].map(|(a, b)| Observation::interval(a, b, a, 1.0).unwrap());
    let sample = Sample::new(rows.to_vec());
    for family in laws::all() {
        let why = fit(family, &sample).err();
        assert_eq!(why, Some(NoFit::AllBeforeFirstLook), "{}", family.name());
    }
}

struct Whole<'a>(&'static dyn Family, &'a Terms);

impl LogLikelihood for Whole<'_> {
    fn value(&self, x: &[f64]) -> f64 {
        self.0.log_likelihood(x, self.1)
    }
    fn derivatives(&self, x: &[f64]) -> Derivatives {
        self.0.log_likelihood_derivatives(x, self.1)
    }
    fn weight(&self) -> f64 {
        self.1.extent.total
    }
}

/// Two invented batches under one name, in turn all failed, some running, and between looks.
fn two_batches(seed: u64) -> Sample {
    let mut stream = Stream::new(seed, 7);
    let share = 0.2 + 0.6 * stream.uniform();
    let (first, second) = (0.8 + 2.0 * stream.uniform(), 1.5 + 2.5 * stream.uniform());
    let rows = (0..50).map(|_| {
        let (shape, scale) = if stream.uniform() < share {
            (first, 100.0)
        } else {
            (second, 400.0)
        };
        let age = scale * stream.exponential().powf(1.0 / shape);
        let look = (age / 20.0).floor() * 20.0;
        match seed % 3 {
            0 => Observation::exact(age, 0.0, 1.0),
            1 if age > 450.0 => Observation::right(450.0, 0.0, 1.0),
            1 => Observation::exact(age, 0.0, 1.0),
            _ => Observation::interval(look, look + 20.0, 0.0, 1.0),
        }
        .unwrap()
    });
    Sample::new(rows.collect())
}

/// No start of sixty drawn at random leads to a higher peak inside the mixture than the search's own starts.
#[test]
fn random_starts_find_no_higher_peak_of_a_mixture() {
    let family = law("weibull_mixture");
    for seed in 0..6 {
        let sample = two_batches(seed);
        let terms = Terms::new(&sample);
        let problem = Whole(family, &terms);
        let reached = match fit(family, &sample) {
            Ok(fit) => fit.log_likelihood,
            // The plain Weibull is likelier, or no peak inside.
            Err(_) => fitted(law("weibull"), &sample).log_likelihood,
        };
        for start in 0..60 {
            let mut draw = Stream::new(100 + seed, start);
            let mut between = |low: f64, high: f64| low + (high - low) * draw.uniform();
            let (early, late) = (between(2.0, 6.5), between(2.0, 7.0));
            let from = [
                early,
                between(-2.5, 0.5),
                late - early,
                between(-2.5, 0.5),
                between(-3.0, 3.0),
            ];
            let Ok(peak) = maximise(&problem, &from) else {
                continue;
            };
            if family.edge(&peak.x, &terms).is_none() {
                assert!(
                    peak.value < reached + SAME_PEAK,
                    "{seed}: {} {:?} against {reached}",
                    peak.value,
                    peak.x
                );
            }
        }
    }
}

#[test]
fn a_mixture_says_that_its_likelihood_has_no_limit() {
    let said = |w: &Warning| matches!(w, Warning::GreatestInside { .. });
    let mentioned = |fit: &Fit| fit.warnings.iter().any(said);
    let family = law("weibull_mixture");
    assert!(mentioned(&fitted(family, &two_batches(0))));
    assert!(!mentioned(&fitted(law("weibull"), &two_batches(0))));
}

/// Two peaks: either part may be the wide one. The ends of independent runs agree within their stated errors.
#[test]
fn a_posterior_with_two_modes_states_its_error_honestly() {
    let mut stream = Stream::new(3, 0);
    let rows = (0..40).map(|i| {
        let (scale, power) = if i % 3 == 0 {
            (60.0, 1.0 / 1.2)
        } else {
            (300.0, 1.0 / 3.0)
        };
        let age = scale * stream.exponential().powf(power);
        if age < 400.0 {
            Observation::exact(age, 0.0, 1.0).unwrap()
        } else {
            Observation::right(400.0, 0.0, 1.0).unwrap()
        }
    });
    let sample = Sample::new(rows.collect());
    let family = law("weibull_mixture");
    let terms = Terms::new(&sample);
    let free: Vec<usize> = (0..family.dimension()).collect();
    let runs: Vec<Posterior> = (0..3)
        .map(|seed| Posterior::new(family, &terms, &[], &free, seed).unwrap())
        .collect();
    for quantity in [0, 2, 4].map(Quantity::Parameter) {
        for share in [0.05, 0.95] {
            for (one, other) in [(0, 1), (1, 2), (2, 0)] {
                let end = runs[one].quantiles(quantity, &[share])[0].unwrap();
                let off = runs[other].share_below(quantity, end) - share;
                let error = |run: usize| runs[run].error(quantity, share).unwrap();
                let both = error(one).hypot(error(other));
                assert!(off.abs() < 4.0 * both, "{quantity:?} {share}: {off} {both}");
                assert!(both < 0.03, "{quantity:?} {share}: {both}");
            }
        }
    }
}
