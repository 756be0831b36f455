#![allow(clippy::unwrap_used)]

use super::*;
use sealspan_records::{Observation, Sample};

impl Posterior {
    /// Draws of the mean of an exponential law, in chains that end there.
    pub(crate) fn of_means(means: &[f64], chains: &[usize], effective: f64) -> Self {
        let weight = 1.0 / means.len() as f64;
        Self {
            family: crate::laws::by_name("exponential").unwrap(),
            points: means.iter().map(|m| (vec![m.ln()], weight)).collect(),
            sides: vec![],
            chains: chains.to_vec(),
            free: vec![0],
            effective_draws: Some(effective),
        }
    }
}

/// Four chains of two draws each, with 1, ½, 0 and 0 of them below the middle, which is a draw itself: the error of
/// that share is the standard error of the four; with few effective draws it is that of a binomial share.
#[test]
fn the_error_of_a_share_is_what_the_chains_show() {
    let values = [1.0f64, 2.0, 1.5, 5.0, 4.0, 6.0, 3.0, 7.0];
    let posterior = |effective: f64| Posterior::of_means(&values, &[2, 4, 6, 8], effective);
    let mean = Quantity::Mean;
    assert!((posterior(1e6).quantiles(mean, &[0.5])[0].unwrap() - 3.0).abs() < 1e-9);
    let shares = [1.0f64, 0.5, 0.0, 0.0];
    let squares: f64 = shares.iter().map(|x| (x - 0.375).powi(2)).sum();
    let error = posterior(1e6).error(mean, 0.5).unwrap();
    assert!((error - (squares / 12.0).sqrt()).abs() < 1e-9, "{error}");
    let error = posterior(4.0).error(mean, 0.5).unwrap();
    assert!((error - 0.25).abs() < 1e-12, "{error}");
}

/// Priors to begin from where a density has no mode of its own: independent, with their own variances.
#[test]
fn priors_are_independent_with_their_own_variances() {
    let prior = |sd: f64| Prior { mean: 1.0, sd };
    let target = WithPrior {
        problem: (),
        priors: vec![prior(2.0), prior(0.5)],
    };
    let want = DMatrix::from_row_slice(2, 2, &[4.0, 0.0, 0.0, 0.25]);
    assert_eq!(target.prior_covariance(), want);
}

fn exact(ages: &[f64], count: f64, unit: f64) -> Vec<Observation> {
    let rows = ages
        .iter()
        .map(|t| Observation::exact(t * unit, 0.0, count));
    rows.map(Result::unwrap).collect()
}

fn posterior(name: &str, rows: Vec<Observation>) -> Posterior {
    let family = crate::laws::by_name(name).unwrap();
    let terms = Terms::new(&Sample::new(rows));
    let base = family.starts(&terms).remove(0);
    let free: Vec<usize> = (0..family.dimension()).collect();
    Posterior::new(family, &terms, &base, &free, 1).unwrap()
}

/// Failures so close together that they are counted in a power of two say the same in another unit of age.
#[test]
fn ages_close_together_say_the_same_in_another_unit() {
    let ages = [90.0, 90.1, 90.25, 90.3, 90.5];
    let shares = [0.05, 0.5, 0.95];
    let [one, other] = [1.0, 1.3].map(|unit| {
        let found = posterior("exponential", exact(&ages, 1.0, unit));
        found.quantiles(Quantity::Mean, &shares)
    });
    for (a, b) in one.into_iter().zip(other) {
        let (a, b) = (a.unwrap(), b.unwrap());
        assert!((b / a / 1.3 - 1.0).abs() < 1e-6, "{a} {b}");
    }
}

/// Of thousands of seals, whose likelihood is far from 1, the posterior lies around the estimate, by its standard
/// error on either side.
#[test]
fn thousands_of_seals_have_a_posterior_about_their_estimate() {
    let ages = [30.0, 55.0, 70.0, 90.0, 105.0, 120.0, 140.0, 165.0];
    for (name, running) in [("weibull", 0.0), ("weak_fraction_weibull", 9000.0)] {
        let mut rows = exact(&ages, 300.0, 1.0);
        if running > 0.0 {
            rows.push(Observation::right(400.0, 0.0, running).unwrap());
        }
        let family = crate::laws::by_name(name).unwrap();
        let fit = crate::fit::fit(family, &Sample::new(rows.clone())).unwrap();
        let found = posterior(name, rows);
        let shares = [0.158_655, 0.5, 0.841_345];
        for quantity in [Quantity::Parameter(0), Quantity::Parameter(1)] {
            let own = found.quantiles(quantity, &shares);
            let error = fit.scaled_error(quantity);
            for (got, off) in own.into_iter().zip([-1.0, 0.0, 1.0]) {
                let off_by = (got.unwrap() / fit.estimate(quantity)).ln() / error - off;
                assert!(off_by.abs() < 0.2, "{name} {quantity:?}: {off_by}");
            }
        }
    }
}

/// A grid along axes that go across a ridge grows until there is no density left anywhere on its edge: one of 21
/// failed, so that scale and shape hang together.
#[test]
fn a_grid_grows_until_its_whole_edge_is_bare() {
    let mut rows = exact(&[0.5], 1.0, 1.0);
    rows.push(Observation::right(1.0, 0.0, 20.0).unwrap());
    let terms = Terms::new(&Sample::new(rows));
    let family = crate::laws::by_name("weibull").unwrap();
    let target = WithPrior {
        problem: Problem {
            family,
            terms: &terms,
            base: vec![0.0; 2],
            free: vec![0, 1],
        },
        priors: family.priors().to_vec(),
    };
    let mode = maximise(&target, &[1.0, -0.5]).unwrap();
    let own = mode.covariance.try_inverse().unwrap();
    // Widths of each parameter with the other held.
    let width = [0, 1].map(|i| 1.0 / own[(i, i)].sqrt());
    let root = DMatrix::from_diagonal(&DVector::from_row_slice(&width));
    let centre = DVector::from_vec(mode.x);
    let list = grid(&target, &centre, &root);
    let step = |x: &[f64], axis: usize| {
        ((x[axis] - centre[axis]) / (width[axis] * GRID_STEP)).round() as i64
    };
    let top = list.iter().map(|p| p.1).fold(0.0, f64::max);
    assert!((top - 1.0).abs() < 1e-6, "{top}");
    for axis in [0, 1] {
        let steps = || list.iter().map(|(x, w)| (step(x, axis), *w));
        let low = steps().map(|s| s.0).min().unwrap();
        let high = steps().map(|s| s.0).max().unwrap();
        for edge in [low, high] {
            let left = steps().filter(|s| s.0 == edge).map(|s| s.1);
            let left = left.fold(0.0, f64::max);
            assert!(left <= VANISHED, "{axis} {edge}: {left}");
        }
        assert!(high > REACH && high < FARTHEST, "{axis} {high}");
    }
}

/// Two that failed close together among many that run on far longer, so that the prior of the location counts: the
/// same in units in which the oldest age is a power of two or well above one.
#[test]
fn two_early_failures_among_many_say_the_same_in_another_unit() {
    let found = |unit: f64| {
        let mut rows = exact(&[500.0, 505.0], 1.0, unit);
        rows.push(Observation::right(8000.0 * unit, 0.0, 200.0).unwrap());
        let found = posterior("exponential", rows);
        found.quantiles(Quantity::Mean, &[0.05, 0.5, 0.95])
    };
    let one = found(1.0);
    for unit in [1.024, 1.4, 1.9] {
        for (a, b) in one.iter().zip(found(unit)) {
            let ratio = b.unwrap() / a.unwrap() / unit;
            assert!((ratio - 1.0).abs() < 1e-6, "{unit}: {ratio}");
        }
    }
}

/// Each chain draws by itself: what they differ by says how far to trust them.
#[test]
fn no_two_chains_draw_the_same() {
    let mut rows = exact(&[30.0, 55.0, 70.0, 90.0, 115.0, 140.0], 50.0, 1.0);
    rows.push(Observation::right(400.0, 0.0, 500.0).unwrap());
    let family = crate::laws::by_name("weak_fraction_weibull").unwrap();
    let terms = Terms::new(&Sample::new(rows));
    let base = family.starts(&terms).remove(0);
    let one = Posterior::new(family, &terms, &base, &[0, 1, 2], 1).unwrap();
    assert_eq!(one.chains.len(), CHAINS as usize);
    let starts: Vec<usize> = std::iter::once(0)
        .chain(one.chains.iter().copied())
        .take(one.chains.len())
        .collect();
    for (i, a) in starts.iter().enumerate() {
        for b in &starts[i + 1..] {
            assert_ne!(one.points[*a], one.points[*b], "{a} {b}");
        }
    }
}

/// Of n lives each point has as many as its weight says, within one: the first of them too.
#[test]
fn lives_are_drawn_as_often_as_they_weigh() {
    let weights = [1e-14, 0.25, 0.45, 0.3 - 1e-14];
    let points = weights.iter().enumerate();
    let found = Posterior {
        family: crate::laws::by_name("exponential").unwrap(),
        points: points.map(|(i, w)| (vec![i as f64], *w)).collect(),
        sides: vec![],
        chains: vec![],
        free: vec![0],
        effective_draws: None,
    };
    for seed in 0..20 {
        let lives = found.lives(50, seed);
        assert_eq!(lives.len(), 50);
        for (i, weight) in weights.iter().enumerate() {
            let own = lives.iter().filter(|l| l.theta()[0] == i as f64).count() as f64;
            let want = 50.0 * weight;
            assert!(own >= (want - 1e-9).floor(), "{seed} {i}: {own}");
            assert!(own <= (want - 1e-9).ceil(), "{seed} {i}: {own}");
        }
    }
}
