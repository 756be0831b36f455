//! Weighted draws from a density known up to a constant, by adaptive multiple importance sampling (Cornuet,
//! Marin, Mira & Robert 2012, "Adaptive multiple importance sampling", Scandinavian Journal of Statistics 39;
//! from memory): kernels around draws that weigh most so far, every draw weighted against all proposals.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use rayon::prelude::*;
use sealspan_numeric::random::Stream;

/// Degrees of freedom of the t laws.
const FREEDOM: f64 = 5.0;
/// Change of ln volume for each parameter, from one round to the next, at which the draws reach far enough.
const SETTLED: f64 = 0.05;
/// Rounds at most, whatever is asked.
pub(crate) const MOST_ROUNDS: u64 = 20;
/// Kernels of a later proposal.
const KERNELS: usize = 100;
const WIDENED: f64 = 1.5;
const FLATTER: f64 = 0.75;
/// Fewest effective draws, for each parameter, that the next t law is fitted to.
const FITTED_TO: f64 = 25.0;

/// How long to go on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Effort {
    /// Draws of a round.
    pub(crate) draws: u64,
    /// Rounds at least.
    pub(crate) rounds: u64,
    /// Rounds at most.
    pub(crate) most: u64,
    /// Effective draws that are enough.
    pub(crate) enough: f64,
}

/// Points with weights, which need not sum to 1, and the effective number of independent draws among them.
pub(crate) struct Draws {
    pub(crate) points: Vec<(Vec<f64>, f64)>,
    pub(crate) effective: f64,
    /// The largest ln target drawn, which weights are relative to.
    pub(crate) top: f64,
}

/// Multivariate t laws of one shape around centres of equal weight.
struct Proposal {
    centres: Vec<DVector<f64>>,
    /// The centres seen through the inverse root of the shape.
    plain: Vec<DVector<f64>>,
    shape: Cholesky<f64, Dyn>,
}

impl Proposal {
    fn new(centres: Vec<DVector<f64>>, shape: Cholesky<f64, Dyn>) -> Self {
        let plain = centres
            .iter()
            .filter_map(|c| shape.l_dirty().solve_lower_triangular(c))
            .collect();
        Self {
            centres,
            plain,
            shape,
        }
    }

    fn draw(&self, stream: &mut Stream) -> DVector<f64> {
        let which = (stream.uniform() * self.centres.len() as f64) as usize;
        let n = self.shape.l_dirty().nrows();
        let centre = self.centres.get(which).or(self.centres.last());
        let normal = DVector::from_fn(n, |_, _| stream.normal());
        // χ² with whole degrees of freedom as a sum of squares.
        let chi: f64 = (0..FREEDOM as usize).map(|_| stream.normal().powi(2)).sum();
        let step = self.shape.l() * normal * (FREEDOM / chi).sqrt();
        centre.map_or(step.clone(), |c| c + step)
    }

    /// Density but for a constant common to all.
    fn density(&self, x: &DVector<f64>) -> f64 {
        let root = self.shape.l_dirty();
        let Some(seen) = root.solve_lower_triangular(x) else {
            return 0.0;
        };
        let volume: f64 = root.diagonal().iter().product();
        let power = -0.5 * (FREEDOM + x.len() as f64);
        let at = |c: &DVector<f64>| (1.0 + seen.metric_distance(c).powi(2) / FREEDOM).powf(power);
        self.plain.iter().map(at).sum::<f64>() / (volume * self.plain.len() as f64)
    }
}

/// A place where the density is high: its centre and the shape of a t law around it.
pub(crate) type Mode = (DVector<f64>, Cholesky<f64, Dyn>);

/// What one round draws from: parts with their shares.
struct Round(Vec<(f64, Proposal)>);

impl Round {
    fn draw(&self, stream: &mut Stream) -> DVector<f64> {
        // One part alone is not chosen.
        let mut left = if self.0.len() > 1 {
            stream.uniform()
        } else {
            0.0
        };
        let part = self.0.iter().find(|(share, _)| {
            left -= share;
            left <= 0.0
        });
        let part = part.or(self.0.last());
        part.map_or_else(|| DVector::zeros(0), |(_, p)| p.draw(stream))
    }

    fn density(&self, x: &DVector<f64>) -> f64 {
        self.0.iter().map(|(share, p)| share * p.density(x)).sum()
    }
}

/// A draw with ln target, the sum of all proposals' densities at it, and the mode it lies nearest to.
struct Drawn {
    x: DVector<f64>,
    ln_target: f64,
    proposed: f64,
    near: usize,
}

/// Draws from exp(`ln_target`), first from t laws around its modes, in rounds until enough are effective.
pub(crate) fn sample(
    ln_target: impl Fn(&[f64]) -> f64 + Sync,
    modes: Vec<Mode>,
    effort: Effort,
    seed: u64,
) -> Draws {
    let share = 1.0 / modes.len().max(1) as f64;
    let around = |(centre, shape): Mode| (share, Proposal::new(vec![centre], shape));
    let first = Round(modes.into_iter().map(around).collect());
    let mut rounds = vec![first];
    let mut drawn: Vec<Drawn> = vec![];
    let mut weights = vec![];
    let mut last_volume = f64::NEG_INFINITY;
    for round in 0..effort.most.min(MOST_ROUNDS) {
        let (Some(first), Some(latest)) = (rounds.first(), rounds.last()) else {
            break;
        };
        drawn
            .par_iter_mut()
            .for_each(|d| d.proposed += latest.density(&d.x));
        drawn.par_extend((0..effort.draws).into_par_iter().map(|i| {
            let x = latest.draw(&mut Stream::new(seed, round * effort.draws + i));
            Drawn {
                ln_target: ln_target(x.as_slice()),
                proposed: rounds.iter().map(|p| p.density(&x)).sum(),
                near: nearest(first, &x),
                x,
            }
        }));
        let finite = drawn.iter().map(|d| d.ln_target).filter(|l| l.is_finite());
        let top = finite.fold(f64::NEG_INFINITY, f64::max);
        weights = drawn.iter().map(|d| d.weight(top)).collect();
        let Some((mean, covariance)) = moments(&drawn, &weights) else {
            break;
        };
        let volume = covariance.determinant().ln();
        let settled = (volume - last_volume).abs() < SETTLED * mean.len() as f64;
        if round + 1 >= effort.rounds && effective(&weights) >= effort.enough && settled {
            break;
        }
        last_volume = volume;
        let Some(next) = fitted(&drawn, &weights, first.0.len()) else {
            break;
        };
        rounds.push(next);
    }
    let effective = effective(&weights);
    let finite = drawn.iter().map(|d| d.ln_target).filter(|l| l.is_finite());
    let top = finite.fold(f64::NEG_INFINITY, f64::max);
    let points = drawn.iter().map(|d| d.x.iter().copied().collect());
    Draws {
        points: points.zip(weights).collect(),
        effective,
        top,
    }
}

/// The mode whose t law is densest at a point.
fn nearest(modes: &Round, x: &DVector<f64>) -> usize {
    let densities = modes.0.iter().map(|(_, p)| p.density(x)).enumerate();
    densities
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(0, |d| d.0)
}

impl Drawn {
    /// Target over the sum of the proposals.
    fn weight(&self, top: f64) -> f64 {
        let weight = (self.ln_target - top).exp() / self.proposed;
        if weight.is_finite() { weight } else { 0.0 }
    }
}

fn effective(weights: &[f64]) -> f64 {
    let sum: f64 = weights.iter().sum();
    let squares: f64 = weights.iter().map(|w| w * w).sum();
    if squares > 0.0 {
        sum * sum / squares
    } else {
        0.0
    }
}

/// Kernels around resampled draws, so that the next proposal bends as the density does; weights are flattened
/// until enough draws have a say. Kernels have the shape of the draws around their own mode.
fn fitted(drawn: &[Drawn], weights: &[f64], modes: usize) -> Option<Round> {
    let n = drawn.first()?.x.len();
    // Somewhat flatter than the density, so that each round reaches farther into its tails.
    let mut flat: Vec<f64> = weights.iter().map(|w| w.powf(FLATTER)).collect();
    for _ in 0..30 {
        if effective(&flat) >= FITTED_TO * n as f64 {
            break;
        }
        flat.iter_mut().for_each(|w| *w = w.sqrt());
    }
    let total: f64 = flat.iter().sum();
    // Silverman's rule for the width of normal kernels, widened: draws reach no farther than kernels do.
    let width = WIDENED * (4.0 / ((n as f64 + 2.0) * KERNELS as f64)).powf(1.0 / (n as f64 + 4.0));
    let part = |mode: usize| {
        let own = drawn.iter().zip(&flat);
        let own: Vec<f64> = own
            .map(|(d, w)| if d.near == mode { *w } else { 0.0 })
            .collect();
        let share = own.iter().sum::<f64>() / total;
        if effective(&own) < FITTED_TO {
            return None;
        }
        let shape = (moments(drawn, &own)?.1 * (width * width)).cholesky()?;
        Some((share, Proposal::new(resampled(drawn, &own), shape)))
    };
    let mut parts: Vec<(f64, Proposal)> = (0..modes).filter_map(part).collect();
    let whole: f64 = parts.iter().map(|p| p.0).sum();
    if whole <= 0.0 {
        let shape = (moments(drawn, &flat)?.1 * (width * width)).cholesky()?;
        return Some(Round(vec![(
            1.0,
            Proposal::new(resampled(drawn, &flat), shape),
        )]));
    }
    parts.iter_mut().for_each(|p| p.0 /= whole);
    Some(Round(parts))
}

/// Mean and covariance of the weighted draws.
fn moments(drawn: &[Drawn], weights: &[f64]) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let n = drawn.first()?.x.len();
    let sum: f64 = weights.iter().sum();
    let mut mean = DVector::zeros(n);
    for (d, w) in drawn.iter().zip(weights) {
        mean += &d.x * (w / sum);
    }
    let mut covariance = DMatrix::zeros(n, n);
    for (d, w) in drawn.iter().zip(weights) {
        let off = &d.x - &mean;
        covariance += &off * off.transpose() * (w / sum);
    }
    Some((mean, covariance))
}

/// Draws at even steps of the cumulative weight.
fn resampled(drawn: &[Drawn], weights: &[f64]) -> Vec<DVector<f64>> {
    let sum: f64 = weights.iter().sum();
    let mut out = Vec::with_capacity(KERNELS);
    let mut reached = 0.0;
    for (d, w) in drawn.iter().zip(weights) {
        reached += w / sum * KERNELS as f64;
        while (out.len() as f64 + 0.5) < reached && out.len() < KERNELS {
            out.push(d.x.clone());
        }
    }
    out
}

#[cfg(test)]
#[allow(clippy::expect_used)]
mod tests {
    use super::*;

    /// A strongly curved ridge: x normal with sd 2, y normal around x²/2 with sd 1 (E y = 2, E x² = 4). Its far
    /// tails are reached late: the variance may come out up to a tenth short.
    #[test]
    fn a_curved_ridge_keeps_its_moments() {
        let ln = |v: &[f64]| {
            let (x, y) = (v[0], v[1]);
            -0.5 * (x / 2.0).powi(2) - 0.5 * (y - 0.5 * x * x).powi(2)
        };
        let start = DMatrix::from_diagonal(&DVector::from_vec(vec![4.0, 1.0]));
        let draws = sample(
            ln,
            vec![(DVector::zeros(2), start.cholesky().expect("positive"))],
            Effort {
                draws: 2000,
                rounds: 4,
                most: MOST_ROUNDS,
                enough: 2000.0,
            },
            3,
        );
        let sum: f64 = draws.points.iter().map(|p| p.1).sum();
        let mean = |f: &dyn Fn(&[f64]) -> f64| {
            draws.points.iter().map(|p| f(&p.0) * p.1).sum::<f64>() / sum
        };
        assert!(draws.effective > 2000.0, "{}", draws.effective);
        for (got, want) in [
            (mean(&|v| v[0]), 0.0),
            (mean(&|v| v[0] * v[0]), 4.0),
            (mean(&|v| v[1]), 2.0),
        ] {
            assert!((got - want).abs() < 0.4, "{got} {want}");
        }
    }

    fn drawn(points: &[[f64; 2]]) -> Vec<Drawn> {
        let one = |p: &[f64; 2]| Drawn {
            x: DVector::from_vec(p.to_vec()),
            ln_target: 0.0,
            proposed: 1.0,
            near: 0,
        };
        points.iter().map(one).collect()
    }

    /// Weighted moments as those of points listed as often as their weights say.
    #[test]
    fn moments_are_those_of_points_counted() {
        let points = [[5.0, 1.0], [7.0, -2.0], [4.0, 3.0]];
        let (mean, covariance) = moments(&drawn(&points), &[1.0, 2.0, 3.0]).expect("points");
        let listed = [0, 1, 1, 2, 2, 2].map(|i| points[i]);
        for i in 0..2 {
            let m = listed.iter().map(|p| p[i]).sum::<f64>() / 6.0;
            assert!((mean[i] - m).abs() < 1e-12);
            for j in 0..2 {
                let other = listed.iter().map(|p| p[j]).sum::<f64>() / 6.0;
                let c = listed
                    .iter()
                    .map(|p| (p[i] - m) * (p[j] - other))
                    .sum::<f64>()
                    / 6.0;
                assert!((covariance[(i, j)] - c).abs() < 1e-12);
            }
        }
    }

    /// As many kernels as the weights' shares of all, to one.
    #[test]
    fn kernels_stand_at_even_steps_of_the_weight() {
        let points = [[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [3.0, 0.0]];
        let weights = [1.0, 0.0, 2.0, 5.0];
        let kernels = resampled(&drawn(&points), &weights);
        assert_eq!(kernels.len(), KERNELS);
        for (i, w) in weights.iter().enumerate() {
            let got = kernels.iter().filter(|k| k[0] == points[i][0]).count() as f64;
            assert!((got - w / 8.0 * KERNELS as f64).abs() <= 1.0, "{i}: {got}");
        }
    }

    /// Draws of a round fall to its parts by their shares, about their centres, by t laws of their shape: the share
    /// within one unit of a centre is that of a t law in one dimension.
    #[test]
    fn draws_follow_the_density_of_a_round() {
        let part = |centres: &[f64], sd: f64| {
            let shape = DMatrix::from_element(1, 1, sd * sd)
                .cholesky()
                .expect("positive");
            let centres = centres.iter().map(|c| DVector::from_element(1, *c));
            Proposal::new(centres.collect(), shape)
        };
        let round = Round(vec![
            (0.2, part(&[-200.0], 1.0)),
            (0.8, part(&[100.0, 300.0], 2.0)),
        ]);
        let draws: Vec<f64> = (0..4000)
            .map(|i| round.draw(&mut Stream::new(4, i))[0])
            .collect();
        let share = |low: f64, high: f64| {
            let inside = draws.iter().filter(|x| **x > low && **x < high);
            inside.count() as f64 / 4000.0
        };
        // The constant that the density leaves out, from the whole of it.
        let density = |x: f64| round.density(&DVector::from_element(1, x));
        let sum = |low: f64, high: f64| {
            let step = (high - low) / 4000.0;
            let nodes = (0..4000).map(|i| density(low + (f64::from(i) + 0.5) * step));
            nodes.sum::<f64>() * step
        };
        let whole = sum(-400.0, 600.0);
        for (low, high) in [
            (-400.0, 0.0),
            (-201.0, -199.0),
            (0.0, 200.0),
            (99.0, 103.0),
            (200.0, 600.0),
            (297.0, 300.0),
        ] {
            let (got, want) = (share(low, high), sum(low, high) / whole);
            assert!(
                (got - want).abs() < 4.0 * (want / 4000.0).sqrt(),
                "{low}: {got} {want}"
            );
        }
    }

    fn one_mode(centre: f64, sd: f64) -> Mode {
        let shape = DMatrix::from_element(1, 1, sd * sd).cholesky();
        (DVector::from_element(1, centre), shape.expect("positive"))
    }

    /// Two normals far apart, of shares 0.3 and 0.7, in the first round alone: each mode has its share of the weight.
    #[test]
    fn a_first_round_gives_each_mode_its_share() {
        let ln = |v: &[f64]| {
            let normal = |middle: f64, share: f64| share * (-0.5 * (v[0] - middle).powi(2)).exp();
            (normal(-20.0, 0.3) + normal(20.0, 0.7)).ln()
        };
        let effort = Effort {
            draws: 4000,
            rounds: 1,
            most: 1,
            enough: 1.0,
        };
        let draws = sample(
            ln,
            vec![one_mode(-20.0, 1.0), one_mode(20.0, 1.0)],
            effort,
            5,
        );
        let sum: f64 = draws.points.iter().map(|p| p.1).sum();
        let right = draws.points.iter().filter(|p| p.0[0] > 0.0);
        let share = right.map(|p| p.1).sum::<f64>() / sum;
        // Of as many draws as are effective, four standard errors.
        let error = (0.21 / draws.effective).sqrt();
        assert!(
            draws.effective > 1000.0 && (share - 0.7).abs() < 4.0 * error,
            "{share}"
        );
    }

    /// No round of 500 draws has 1500 effective ones: it goes on beyond the least number of rounds until there are.
    #[test]
    fn rounds_go_on_until_enough_draws_are_effective() {
        let effort = Effort {
            draws: 500,
            rounds: 1,
            most: MOST_ROUNDS,
            enough: 1500.0,
        };
        let ln = |v: &[f64]| -0.5 * v[0] * v[0];
        let draws = sample(ln, vec![one_mode(0.0, 1.0)], effort, 5);
        assert!(draws.effective >= 1500.0, "{}", draws.effective);
        assert!(draws.points.len() < 500 * MOST_ROUNDS as usize);
    }

    /// A mode with five draws of 105 is no part of the next round, whose other part then has all of it.
    #[test]
    fn shares_of_a_round_make_one_where_a_mode_is_left_out() {
        let one = |i: i32| Drawn {
            x: DVector::from_element(1, f64::from(i)),
            ln_target: 0.0,
            proposed: 1.0,
            near: usize::from(i >= 100),
        };
        let drawn: Vec<Drawn> = (0..105).map(one).collect();
        let shares = |modes: usize| -> Vec<f64> {
            let round = fitted(&drawn, &[1.0; 105], modes).expect("spread out");
            round.0.iter().map(|p| p.0).collect()
        };
        let left = shares(2);
        assert!(left.len() == 1 && (left[0] - 1.0).abs() < 1e-12, "{left:?}");
        assert_eq!(shares(1).len(), 1);
    }

    /// A constant factor of the density, e^-500, changes no weight.
    #[test]
    fn weights_do_not_hang_on_the_density_s_scale() {
        let draws = |below: f64| {
            let unit = DMatrix::identity(1, 1).cholesky().expect("positive");
            let effort = Effort {
                draws: 200,
                rounds: 2,
                most: 3,
                enough: 100.0,
            };
            let ln = |x: &[f64]| -0.5 * x[0] * x[0] - below;
            sample(ln, vec![(DVector::zeros(1), unit)], effort, 5)
        };
        let (plain, low) = (draws(0.0), draws(500.0));
        assert!(plain.effective > 100.0);
        assert_eq!(plain.points.len(), low.points.len());
        for ((x, weight), (y, other)) in plain.points.iter().zip(&low.points) {
            assert!((x[0] - y[0]).abs() < 1e-9 && (weight / other - 1.0).abs() < 1e-9);
        }
    }

    /// Twenty draws of each of three modes are too few for kernels of their own shape: all sixty share one.
    #[test]
    fn modes_with_few_draws_share_their_kernels() {
        let draws = |each: usize| -> Vec<Drawn> {
            let one = |i: usize| Drawn {
                x: DVector::from_element(1, (100 * (i / each) + i % each) as f64),
                ln_target: 0.0,
                proposed: 1.0,
                near: i / each,
            };
            (0..3 * each).map(one).collect()
        };
        let round = fitted(&draws(20), &[1.0; 60], 3).expect("draws");
        assert_eq!(round.0.len(), 1);
        let (share, part) = &round.0[0];
        assert!(*share == 1.0 && part.centres.len() == KERNELS);
        for mode in 0..3 {
            let own = |c: &&DVector<f64>| (100.0 * f64::from(mode) + 10.0 - c[0]).abs() < 50.0;
            let own = part.centres.iter().filter(own).count();
            assert!((32..=35).contains(&own), "{own}");
        }
        // With thirty of each every mode has its own.
        let round = fitted(&draws(30), &[1.0; 90], 3).expect("draws");
        assert_eq!(round.0.len(), 3);
    }
}
