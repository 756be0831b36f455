//! The greatest penalised partial likelihood: concave in (β, ω), so by Newton's method, each step by conjugate gradients.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run over the shape of the matrices and vectors made here, never over what was read"
)]

use super::data::NoHazards;
use super::fit::{RANGE, range, separated};
use super::penalised::{Penalised, Point};
use nalgebra::{DMatrix, DVector};

/// A step no longer than this is the last, measured by the information along it, that is in standard errors, so that
/// rounding is short also where columns are nearly alike. What it leaves is its square, and the share not solved for.
const LAST: f64 = 1e-7;
const STEPS: usize = 100;
/// How closely a step is solved for, at first and at last, as a share of its size.
const CLOSE: [f64; 2] = [0.03, 1e-8];
/// Steps of conjugate gradients after which there is no hope.
const DIRECTIONS: usize = 2000;

/// Where the search stands.
#[derive(Clone)]
pub(super) struct State {
    pub beta: DVector<f64>,
    /// ln u by cluster.
    pub omega: Vec<f64>,
    /// Log partial likelihood there.
    pub partial: f64,
}

impl Penalised<'_> {
    /// Solves information · x = `of` by conjugate gradients, to a share `close` of its size.
    fn solved(&self, here: &Point, of: &DVector<f64>, close: f64) -> Option<DVector<f64>> {
        let mut x = DVector::zeros(of.len());
        let mut left = of.clone();
        let mut scaled = left.component_div(&here.diagonal);
        let mut direction = scaled.clone();
        let mut size = left.dot(&scaled);
        let enough = close * close * size;
        for _ in 0..DIRECTIONS {
            if size <= enough {
                return Some(x);
            }
            let product = self.product(here, &direction);
            let bend = direction.dot(&product);
            if bend.is_nan() || bend <= 0.0 {
                return None;
            }
            let far = size / bend;
            x.axpy(far, &direction, 1.0);
            left.axpy(-far, &product, 1.0);
            scaled = left.component_div(&here.diagonal);
            let next = left.dot(&scaled);
            direction = &scaled + &direction * (next / size);
            size = next;
        }
        None
    }

    /// The best (β, ω) at the variance `theta`.
    pub fn best(&self, theta: f64, start: &State) -> Result<State, NoHazards> {
        let p = self.data.columns();
        let mut state = start.clone();
        let mut here = self.point(theta, &state.beta, &state.omega);
        let lost = || NoHazards::NotReached { slope: f64::NAN };
        let mut last = f64::INFINITY;
        for _ in 0..STEPS {
            let close = last.clamp(CLOSE[1], CLOSE[0]);
            let step = self.solved(&here, &here.slope, close).ok_or_else(lost)?;
            let length = here.slope.dot(&step).sqrt();
            let mut scale = 1.0;
            loop {
                let beta = &state.beta + step.rows(0, p) * scale;
                let moved = state.omega.iter().zip(step.iter().skip(p));
                let omega: Vec<f64> = moved.map(|(o, s)| o + scale * s).collect();
                let next = self.point(theta, &beta, &omega);
                if next.value >= here.value - 1e-12 * here.value.abs().max(1.0) {
                    state = State {
                        beta,
                        omega,
                        partial: next.partial,
                    };
                    here = next;
                    break;
                }
                scale *= 0.5;
                if scale < 1e-12 {
                    return Err(lost());
                }
            }
            if length <= LAST {
                return Ok(state);
            }
            if range(self.data, &state.beta) > RANGE {
                return Err(separated(self.data, &state.beta));
            }
            last = length;
        }
        Err(lost())
    }

    /// The part of β in the inverse of the penalised information: θ is taken as known.
    pub fn covariance(&self, theta: f64, state: &State) -> Option<DMatrix<f64>> {
        let p = self.data.columns();
        let here = self.point(theta, &state.beta, &state.omega);
        let mut out = DMatrix::zeros(p, p);
        for j in 0..p {
            let mut unit = DVector::zeros(p + self.data.clusters);
            unit[j] = 1.0;
            let column = self.solved(&here, &unit, 1e-12)?;
            out.set_column(j, &column.rows(0, p));
        }
        Some((&out + out.transpose()) * 0.5)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::hazards::WatchedLife;
    use crate::hazards::data::{Line, Prepared};
    use crate::hazards::partial::{Ties, derivatives};
    use sealspan_numeric::random::Stream;
    use sealspan_records::observation::Observation;

    /// Invented lives of clusters in two strata, ages rounded so that some are tied.
    fn lives(clusters: usize) -> Prepared {
        let design: Vec<Vec<f64>> = (0..6)
            .map(|i| vec![f64::from(i % 2), f64::from(i)])
            .collect();
        lives_with(clusters, &design)
    }

    /// The same with other design rows, six of two columns.
    fn lives_with(clusters: usize, design: &[Vec<f64>]) -> Prepared {
        let mut stream = Stream::new(7, 0);
        let names = ["a".to_owned(), "b".to_owned()];
        let mut out = vec![];
        for cluster in 0..clusters {
            for seal in 0..4 {
                let age = (1.0 + 12.0 * stream.exponential()).round();
                let observation = match stream.exponential() > 0.6 {
                    true => Observation::exact(age, 0.0, 1.0),
                    false => Observation::right(age, 0.0, 2.0),
                };
                out.push(WatchedLife {
                    observation: observation.unwrap(),
                    design: (cluster + 5 * seal) % 6,
                    stratum: seal % 2,
                    cluster,
                });
            }
        }
        Prepared::new(&names, design, &out).unwrap()
    }

    /// The same lives with a column for each cluster, for the formulas that know of no clusters.
    fn widened(data: &Prepared) -> Prepared {
        let (p, j) = (data.columns(), data.clusters);
        let mut out = data.clone();
        out.names = vec![String::new(); p + j];
        out.design.clear();
        let lines = out.strata.iter_mut().flat_map(|s| &mut s.lines);
        for (design, line) in lines.enumerate() {
            out.design.extend_from_slice(data.row(line));
            let own = |k: usize| f64::from(u8::from(k == line.cluster));
            out.design.extend((0..j).map(own));
            *line = Line { design, ..*line };
        }
        out
    }

    #[test]
    fn the_best_and_its_errors_are_those_of_the_matrices_written_out() {
        let data = lives(12);
        let (p, j) = (data.columns(), data.clusters);
        let wide = widened(&data);
        for ties in [Ties::Efron, Ties::Breslow] {
            for theta in [0.01, 0.5, 6.0] {
                let penalised = Penalised::new(&data, ties);
                let start = State {
                    beta: DVector::zeros(p),
                    omega: vec![0.0; j],
                    partial: 0.0,
                };
                let best = penalised.best(theta, &start).unwrap();
                let all = best.beta.iter().chain(&best.omega).copied();
                let mut d = derivatives(&wide, ties, &DVector::from_iterator(p + j, all));
                for (k, omega) in best.omega.iter().enumerate() {
                    d.slope[p + k] -= omega.exp_m1() / theta;
                    d.information[(p + k, p + k)] += omega.exp() / theta;
                }
                assert!(d.slope.amax() < 1e-8, "{theta}: {}", d.slope);
                assert!((d.value - best.partial).abs() < 1e-10 * d.value.abs());
                let whole = d.information.cholesky().unwrap().inverse();
                let errors = penalised.covariance(theta, &best).unwrap();
                let off = (errors - whole.view((0, 0), (p, p))).amax();
                assert!(off < 1e-9, "{theta}: {off}");
            }
        }
    }

    fn none(data: &Prepared) -> State {
        State {
            beta: DVector::zeros(data.columns()),
            omega: vec![0.0; data.clusters],
            partial: 0.0,
        }
    }

    /// A column of −1, 0 and 1 in equal parts is 0 where it is at its mean, and the best is found all the same.
    #[test]
    fn a_cell_at_its_column_s_mean_is_no_trouble() {
        let design: Vec<Vec<f64>> = [-1.0, 0.0, 1.0, -1.0, 0.0, 1.0]
            .iter()
            .enumerate()
            .map(|(i, x)| vec![*x, f64::from(u8::from(i < 3))])
            .collect();
        let mut stream = Stream::new(9, 0);
        let lives: Vec<WatchedLife> = (0..36)
            .map(|i| WatchedLife {
                observation: Observation::exact(stream.exponential(), 0.0, 1.0).unwrap(),
                design: i % 6,
                stratum: 0,
                cluster: i / 6,
            })
            .collect();
        let names = ["a".to_owned(), "b".to_owned()];
        let data = Prepared::new(&names, &design, &lives).unwrap();
        assert!(data.design.contains(&0.0));
        let penalised = Penalised::new(&data, Ties::Efron);
        let best = penalised.best(0.5, &none(&data)).unwrap();
        let here = penalised.point(0.5, &best.beta, &best.omega);
        assert!(here.slope.amax() < 1e-7, "{}", here.slope);
    }

    /// From the frailties of a variance of 20, as from none, the best at a thousandth is the same.
    #[test]
    fn a_search_from_large_frailties_finds_small_ones() {
        let data = lives(12);
        let penalised = Penalised::new(&data, Ties::Efron);
        let large = penalised.best(20.0, &none(&data)).unwrap();
        for theta in [1e-3, 1e-5] {
            let from_none = penalised.best(theta, &none(&data)).unwrap();
            let from_large = penalised.best(theta, &large).unwrap();
            assert!((&from_none.beta - &from_large.beta).amax() < 1e-6);
            assert!((from_none.partial - from_large.partial).abs() < 1e-6);
        }
    }

    /// From effects and frailties far off a whole step leads further off, so that it is halved; the best is the same.
    #[test]
    fn a_search_from_far_off_finds_the_same() {
        let data = lives(12);
        let penalised = Penalised::new(&data, Ties::Efron);
        let best = penalised.best(0.5, &none(&data)).unwrap();
        for (beta, omega) in [(3.0, 2.0), (3.0, 4.0), (-3.0, 2.0), (1.5, -4.0)] {
            let far = State {
                beta: DVector::from_element(data.columns(), beta),
                omega: (0..12)
                    .map(|i| if i % 2 == 0 { omega } else { -omega })
                    .collect(),
                partial: 0.0,
            };
            let found = penalised.best(0.5, &far).unwrap();
            assert!((&found.beta - &best.beta).amax() < 1e-6, "{beta} {omega}");
            for (a, b) in found.omega.iter().zip(&best.omega) {
                assert!((a - b).abs() < 1e-6, "{beta} {omega}: {a} {b}");
            }
        }
    }

    /// Columns that are nearly each other are no trouble: the best is that of the two columns they are made of.
    #[test]
    fn columns_that_are_nearly_each_other_are_no_trouble() {
        let rows: Vec<[f64; 2]> = (0..6)
            .map(|i| [f64::from(i), f64::from(i % 2) + 0.3])
            .collect();
        let apart: Vec<Vec<f64>> = rows.iter().map(|r| r.to_vec()).collect();
        let near: Vec<Vec<f64>> = rows
            .iter()
            .map(|r| vec![r[0], r[0] + 1e-4 * r[1]])
            .collect();
        let (apart, near) = (lives_with(12, &apart), lives_with(12, &near));
        let best = |data: &Prepared| Penalised::new(data, Ties::Efron).best(0.5, &none(data));
        let (apart, near) = (best(&apart).unwrap(), best(&near).unwrap());
        assert!((apart.partial - near.partial).abs() < 1e-6);
        for (a, b) in apart.omega.iter().zip(&near.omega) {
            assert!((a - b).abs() < 1e-5, "{a} {b}");
        }
    }
}
