//! Forward selection: the condition that explains most beside those already in, again and again, while the gain
//! could not well be chance among so many looks.

use super::candidate::Candidate;
use super::frame::Frame;
use super::ground::Ground;
use super::{ALARM, Explained, Screened};
use rayon::prelude::*;
use sealspan_life::family::Family;
use sealspan_life::regression::{AddedColumn, Design, Fitting, Regression, Row, fit_design};
use sealspan_life::residuals::residuals_at;
use sealspan_numeric::special::{chi_square_survival, normal_quantile};

/// Conditions tried in full at each step, the most promising first.
const TRIED: usize = 12;
/// Most conditions in the end.
const MOST: usize = 12;
/// A condition with a smaller share of information of its own is told by the others.
const OWN_SHARE: f64 = 0.02;
/// Conditions whose own parts go together to this correlation cannot be told apart.
const ALIKE: f64 = 0.9;
/// And are the same seals from here on.
const SAME: f64 = 0.999;

/// A condition taken in.
#[derive(Clone)]
struct Chosen {
    candidate: usize,
    alike: Vec<usize>,
}

/// The finished search.
pub struct Search {
    chosen: Vec<Chosen>,
    told: Vec<usize>,
    design: Design,
    fitting: Fitting,
    ground_size: usize,
    family: &'static dyn Family,
}

impl Search {
    /// Searches. `None` when the ground itself cannot be fitted.
    pub fn run(
        frame: &Frame,
        ground: &Ground,
        candidates: &[Candidate],
        family: &'static dyn Family,
    ) -> Option<Self> {
        let mut search = Self::with(frame, ground, vec![], candidates, family)?;
        let scores = Scores::new(
            frame,
            &search.fitting.regression,
            &search.design,
            candidates,
        );
        search.told = scores.told();
        while search.chosen.len() < MOST {
            let scores = Scores::new(
                frame,
                &search.fitting.regression,
                &search.design,
                candidates,
            );
            let Some(next) = search.next(frame, ground, candidates, &scores) else {
                break;
            };
            search = next;
        }
        search.prune(frame, ground, candidates)
    }

    fn with(
        frame: &Frame,
        ground: &Ground,
        chosen: Vec<Chosen>,
        candidates: &[Candidate],
        family: &'static dyn Family,
    ) -> Option<Self> {
        let more: Vec<(String, &Row)> = chosen
            .iter()
            .filter_map(|c| candidates.get(c.candidate))
            .map(|c| (c.words(), &c.row))
            .collect();
        let design = ground.design(frame, &more);
        let fitting = fit_design(family, &design).ok()?;
        Some(Self {
            chosen,
            told: vec![],
            design,
            fitting,
            ground_size: 1 + ground.effects.len(),
            family,
        })
    }

    fn plus(&self, candidate: usize, alike: Vec<usize>) -> Vec<Chosen> {
        let mut chosen = self.chosen.clone();
        chosen.push(Chosen { candidate, alike });
        chosen
    }

    fn minus(&self, out: usize) -> Vec<Chosen> {
        let mut chosen = self.chosen.clone();
        chosen.remove(out);
        chosen
    }

    /// The search with the best further condition, if it is worth having.
    fn next(
        &self,
        frame: &Frame,
        ground: &Ground,
        candidates: &[Candidate],
        scores: &Scores<'_>,
    ) -> Option<Self> {
        let tried: Vec<Self> = scores
            .promising(TRIED)
            .into_par_iter()
            .filter_map(|at| {
                Self::with(
                    frame,
                    ground,
                    self.plus(at, vec![]),
                    candidates,
                    self.family,
                )
            })
            .collect();
        let best = tried.into_iter().max_by(|a, b| {
            let (a, b) = (&a.fitting.regression, &b.fitting.regression);
            a.log_likelihood.total_cmp(&b.log_likelihood)
        })?;
        let gain =
            2.0 * (best.fitting.regression.log_likelihood - self.fitting.regression.log_likelihood);
        let looks = candidates.len().saturating_sub(self.chosen.len()) as f64;
        if chi_square_survival(gain.max(0.0), 1.0) * looks >= ALARM {
            return None;
        }
        let found = best.chosen.last()?.candidate;
        let (name, alike) = scores.representative(found, candidates);
        let mut next = Self::with(
            frame,
            ground,
            self.plus(name, alike),
            candidates,
            self.family,
        )?;
        next.told.clone_from(&self.told);
        Some(next)
    }

    /// Leaves out what is no longer needed beside later ones.
    fn prune(mut self, frame: &Frame, ground: &Ground, candidates: &[Candidate]) -> Option<Self> {
        loop {
            let p = self.p_values(frame, ground, candidates);
            let holm = holm(&p, candidates.len());
            let worst = (0..p.len()).max_by(|a, b| {
                let at = |i: &usize| holm.get(*i).copied().unwrap_or(0.0);
                at(a).total_cmp(&at(b))
            });
            match worst.filter(|w| holm.get(*w).is_some_and(|p| *p >= ALARM)) {
                None => return Some(self),
                Some(worst) => {
                    let told = std::mem::take(&mut self.told);
                    let chosen = self.minus(worst);
                    self = Self::with(frame, ground, chosen, candidates, self.family)?;
                    self.told = told;
                }
            }
        }
    }

    /// Likelihood-ratio p-value of leaving each condition out.
    fn p_values(&self, frame: &Frame, ground: &Ground, candidates: &[Candidate]) -> Vec<f64> {
        (0..self.chosen.len())
            .into_par_iter()
            .map(|out| {
                let less = Self::with(frame, ground, self.minus(out), candidates, self.family);
                less.map_or(0.0, |less| {
                    let full = self.fitting.regression.log_likelihood;
                    let gain = 2.0 * (full - less.fitting.regression.log_likelihood);
                    chi_square_survival(gain.max(0.0), 1.0)
                })
            })
            .collect()
    }

    /// The conditions found, largest effect first.
    pub fn told(
        &self,
        frame: &Frame,
        ground: &Ground,
        candidates: &[Candidate],
        confidence: f64,
    ) -> Vec<Screened> {
        let fit = &self.fitting.regression;
        let p = self.p_values(frame, ground, candidates);
        let holm = holm(&p, candidates.len());
        let robust = frame.robust(fit, &self.design);
        let z = normal_quantile(0.5 + 0.5 * confidence);
        let mut out: Vec<Screened> = self
            .chosen
            .iter()
            .enumerate()
            .filter_map(|(n, chosen)| {
                let candidate = candidates.get(chosen.candidate)?;
                let weights = fit.unit(self.ground_size + n);
                let (estimate, own) = fit.combination(&weights);
                let wide = robust.as_ref().map_or(0.0, |r| r.error(&weights));
                let half = z * own.max(wide);
                Some(Screened {
                    column: candidate.column.clone(),
                    level: candidate.level.clone(),
                    within: candidate.within.clone(),
                    same_seals: chosen
                        .alike
                        .iter()
                        .filter_map(|at| candidates.get(*at))
                        .map(Candidate::words)
                        .collect(),
                    seals: candidate.seals,
                    failures: candidate.failures,
                    life_ratio: estimate.exp(),
                    lower: (estimate - half).exp(),
                    upper: (estimate + half).exp(),
                    p_value: p.get(n).copied().unwrap_or(1.0),
                    p_value_all_looks: holm.get(n).copied().unwrap_or(1.0),
                    damage: None,
                })
            })
            .collect();
        out.sort_by(|a, b| b.life_ratio.ln().abs().total_cmp(&a.life_ratio.ln().abs()));
        out
    }

    /// Conditions that what is held constant tells already.
    pub fn not_told_apart(&self, candidates: &[Candidate]) -> Vec<String> {
        let told = self.told.iter().filter_map(|at| candidates.get(*at));
        told.filter(|c| c.within.is_none())
            .map(Candidate::words)
            .collect()
    }

    /// What the search ends with.
    pub fn explained(self, frame: Frame, ground: Ground) -> Explained {
        let found = (0..self.chosen.len())
            .map(|n| self.ground_size + n)
            .collect();
        Explained {
            frame,
            ground,
            design: self.design,
            fitting: self.fitting,
            found,
        }
    }
}

/// What each condition promises beside a fitted regression.
struct Scores<'a> {
    added: AddedColumn<'a>,
    candidates: &'a [Candidate],
    scores: Vec<sealspan_life::regression::Score>,
    promise: Vec<f64>,
}

impl<'a> Scores<'a> {
    fn new(
        frame: &Frame,
        fit: &'a Regression,
        design: &'a Design,
        candidates: &'a [Candidate],
    ) -> Self {
        let added = AddedColumn::new(fit, design);
        let scores: Vec<_> = candidates.iter().map(|c| added.test(&c.row)).collect();
        // Failures expected of each gathering.
        let expected: Vec<f64> = frame
            .samples
            .iter()
            .zip(&design.lines)
            .map(|(sample, line)| {
                let theta = fit.theta(&line.row, line.offset, line.stratum);
                let residuals = residuals_at(fit.family, &theta, sample);
                residuals
                    .iter()
                    .map(|r| r.cox_snell * r.observation.count())
                    .sum()
            })
            .collect();
        let promise = candidates
            .iter()
            .zip(&scores)
            .map(|(candidate, score)| {
                let at = candidate.row.iter().filter_map(|(at, _)| expected.get(*at));
                let (d, e) = (candidate.failures, at.sum::<f64>().max(1e-12));
                score.own_share * 2.0 * (d * (d / e).ln() - d + e).max(0.0)
            })
            .collect();
        Self {
            added,
            candidates,
            scores,
            promise,
        }
    }

    /// Conditions with next to no information of their own.
    fn told(&self) -> Vec<usize> {
        let scores = self.scores.iter().enumerate();
        scores
            .filter(|(_, s)| s.own_share < OWN_SHARE)
            .map(|(at, _)| at)
            .collect()
    }

    /// The most promising conditions that have information of their own. Of those that the same seals have, one.
    fn promising(&self, most: usize) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.scores.len())
            .filter(|at| {
                self.scores
                    .get(*at)
                    .is_some_and(|s| s.own_share >= OWN_SHARE)
            })
            .collect();
        let promise = |at: &usize| self.promise.get(*at).copied().unwrap_or(0.0);
        order.sort_by(|a, b| promise(b).total_cmp(&promise(a)));
        let mut kept: Vec<usize> = vec![];
        for at in order {
            if kept.len() >= most {
                break;
            }
            if kept
                .iter()
                .all(|other| self.correlation(*other, at).abs() < SAME)
            {
                kept.push(at);
            }
        }
        kept
    }

    fn correlation(&self, a: usize, b: usize) -> f64 {
        let part = |at: usize| Some((&self.candidates.get(at)?.row, self.scores.get(at)?));
        part(a)
            .zip(part(b))
            .map_or(0.0, |(a, b)| self.added.correlation(a, b))
    }

    /// The condition's name among those that the same seals have, and the others it cannot be told from.
    fn representative(&self, found: usize, candidates: &[Candidate]) -> (usize, Vec<usize>) {
        let alike: Vec<(usize, f64)> = (0..candidates.len())
            .filter(|at| *at != found)
            .filter(|at| {
                self.scores
                    .get(*at)
                    .is_some_and(|s| s.own_share >= OWN_SHARE)
            })
            .map(|at| (at, self.correlation(found, at)))
            .filter(|(_, r)| r.abs() >= ALIKE)
            .collect();
        let same = alike.iter().filter(|(_, r)| *r >= SAME).map(|(at, _)| *at);
        let remoteness = |at: &usize| candidates.get(*at).map_or(9, |c| c.remoteness);
        let name = std::iter::once(found)
            .chain(same)
            .min_by_key(remoteness)
            .unwrap_or(found);
        let mut others: Vec<usize> = alike.into_iter().map(|(at, _)| at).collect();
        others.push(found);
        others.retain(|at| *at != name);
        others.sort_unstable();
        (name, others)
    }
}

/// Holm's adjusted p-values of the smallest of `looks`.
fn holm(p: &[f64], looks: usize) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    let at = |i: usize| p.get(i).copied().unwrap_or(1.0);
    order.sort_by(|a, b| at(*a).total_cmp(&at(*b)));
    let mut out = vec![1.0; p.len()];
    let mut so_far: f64 = 0.0;
    for (rank, i) in order.into_iter().enumerate() {
        so_far = so_far
            .max(at(i) * looks.saturating_sub(rank) as f64)
            .min(1.0);
        if let Some(slot) = out.get_mut(i) {
            *slot = so_far;
        }
    }
    out
}
