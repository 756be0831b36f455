//! The law of failures of each group at each site, with lives drawn from what its estimate leaves open.

use super::{DRAWS, Seals};
use crate::analysis::alike::{Draft, Seat, place};
use nalgebra::{DMatrix, DVector};
use sealspan_life::laws;
use sealspan_life::life::Life;
use sealspan_life::regression::{Regression, fit_design};
use sealspan_numeric::random::Stream;
use std::collections::BTreeMap;

/// Failures that a group needs for a law of its own (a rule of ours).
const FEW: f64 = 5.0;

/// Site and group.
pub(super) type Home = (Option<String>, Vec<(String, String)>);

/// The laws by site and group.
pub(super) struct Laws {
    fit: Regression,
    homes: BTreeMap<Home, Middle>,
    seed: u64,
}

/// The mean design row of the seals of one group at one site.
struct Middle {
    weights: Vec<f64>,
    stratum: usize,
}

impl Laws {
    /// Fits one regression to all. `None` where no group has failures enough.
    pub(super) fn new(
        seals: &Seals,
        duty: Option<&BTreeMap<String, f64>>,
        seed: u64,
    ) -> Option<Self> {
        let mut failures: BTreeMap<&[(String, String)], f64> = BTreeMap::new();
        for group in &seals.answer.groups {
            let like = seals.parts(&group.key).like;
            *failures.entry(like).or_default() += group.sample.tally().failures();
        }
        let strata: BTreeMap<&[(String, String)], usize> = failures
            .into_iter()
            .filter(|(_, n)| *n >= FEW)
            .map(|(like, _)| like)
            .zip(0..)
            .collect();
        let mut rows = vec![];
        for group in &seals.answer.groups {
            let parts = seals.parts(&group.key);
            if let Some(stratum) = strata.get(parts.like) {
                let own = duty.and_then(|d| d.get(parts.asset).copied());
                let home = (parts.site.map(str::to_owned), parts.like.to_vec());
                let seat = (*stratum, place(parts.place), own.unwrap_or(0.0), home);
                rows.extend(group.sample.rows().iter().map(|o| (seat.clone(), *o)));
            }
        }
        let seats: Vec<Seat<'_>> = rows
            .iter()
            .map(|((stratum, place, ln_duty, _), life)| Seat {
                stratum: *stratum,
                place,
                ln_duty: *ln_duty,
                mark: 0,
                life: *life,
            })
            .collect();
        let draft = Draft::new(strata.len(), &seats, true);
        let [weibull, ..] = laws::all();
        let fit = fit_design(weibull, &draft.design).ok()?.regression;
        let mut sums: BTreeMap<Home, (Vec<f64>, f64, usize)> = BTreeMap::new();
        for (((stratum, .., home), life), line) in rows.iter().zip(draft.lines_of_seats()) {
            let own = sums
                .entry(home.clone())
                .or_insert_with(|| (vec![0.0; fit.x.len()], 0.0, *stratum));
            own.1 += life.count();
            for (at, value) in &line.row {
                if let Some(slot) = own.0.get_mut(*at) {
                    *slot += life.count() * value;
                }
            }
        }
        let middle = |(sum, n, stratum): (Vec<f64>, f64, usize)| Middle {
            weights: sum.into_iter().map(|v| v / n).collect(),
            stratum,
        };
        Some(Self {
            fit,
            homes: sums.into_iter().map(|(h, s)| (h, middle(s))).collect(),
            seed,
        })
    }

    /// The life of a group at a site, then lives drawn from the normal law of its estimate.
    pub(super) fn of(&self, home: &Home) -> Option<(Life, Vec<Life>)> {
        let middle = self.homes.get(home)?;
        let own = self.fit.stratum_at(middle.stratum);
        let shared = self.fit.family.dimension().saturating_sub(1);
        let n = self.fit.x.len();
        // θ is linear in the regression's unknowns: the location by the mean row, the rest by itself.
        let map = DMatrix::from_fn(1 + shared, n, |i, j| match i {
            0 => middle.weights.get(j).copied().unwrap_or(0.0),
            _ => f64::from(u8::from(j == own + i - 1)),
        });
        let theta = &map * DVector::from_column_slice(&self.fit.x);
        let covariance = &map * &self.fit.covariance * map.transpose();
        let life = |theta: &DVector<f64>| Life::new(self.fit.family, theta.as_slice().to_vec());
        let root = covariance.cholesky()?.l();
        let draws = (0..DRAWS).map(|i| {
            let mut stream = Stream::new(self.seed, i as u64);
            let normal = DVector::from_fn(1 + shared, |_, _| stream.normal());
            life(&(&theta + &root * normal))
        });
        Some((life(&theta), draws.collect()))
    }
}
