//! One depot that feeds several sites: where the spares should lie.
//!
//! A demand at a site takes a seal there and asks the depot for another; the depot orders from outside. Orders
//! the depot cannot fill wait there, first come first served, and lengthen the sites' lead times. With the
//! depot's backorders B₀ known, a site has on order X = Poisson(own demand during the transit) + its share of
//! B₀. Three ways to that share: its mean alone (METRIC; Sherbrooke 1968, from memory), its mean and variance
//! with a negative binomial law (Graves 1985, from memory), and exactly, by thinning B₀ with the site's share
//! of the demand, for steady transit times.

use crate::counts::Counts;
use crate::error::{Error, Result, not_negative, positive};
use crate::pipeline::Pipeline;
use serde::Serialize;

/// A site fed by the depot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Site {
    /// Demands per day.
    pub demand_rate: f64,
    /// Days from the depot to the site.
    pub transit: f64,
    /// What one backorder counts there: 1, or money a day.
    pub weight: f64,
}

/// The depot and its sites.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// The sites.
    pub sites: Vec<Site>,
    /// Mean days from the depot's order to its arrival there.
    pub depot_lead: f64,
}

/// How a site's share of the depot's backorders is taken into account.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// By its mean: too few backorders, up to a quarter.
    Mean,
    /// By mean and variance: within a few per cent.
    TwoMoments,
    /// In full.
    Exact,
}

/// What the depot's stock does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AtDepot {
    /// Seals held or on order there.
    pub stock: usize,
    /// Mean orders of sites waiting.
    pub expected_backorders: f64,
    /// Variance of their number.
    pub variance: f64,
    /// Mean days an order of a site waits.
    pub mean_delay: f64,
    /// Mean seals on its shelf.
    pub expected_on_hand: f64,
}

/// What one site's stock does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AtSite {
    /// Seals held or on order there.
    pub stock: usize,
    /// Mean number on order.
    pub on_order: f64,
    /// Variance of the number on order.
    pub variance: f64,
    /// Share of demands met at once.
    pub fill_rate: f64,
    /// Mean number of positions waiting for a seal.
    pub expected_backorders: f64,
    /// Mean seals on its shelf.
    pub expected_on_hand: f64,
}

/// Where the spares lie and what that gives.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Split {
    /// All spares.
    pub total: usize,
    /// The depot.
    pub depot: AtDepot,
    /// The sites, in the order given.
    pub sites: Vec<AtSite>,
    /// Positions waiting at all sites, weighted.
    pub backorders: f64,
}

/// Above this mean number on order at the depot the exact way is too much work.
const MOST_EXACT: f64 = 400.0;
/// Most sites and spares.
const MOST_SITES: usize = 1000;
const MOST_SPARES: usize = 2000;

impl Chain {
    /// Checks the numbers.
    ///
    /// # Errors
    /// When there is no site, a number is negative or not finite, or no site has any demand.
    pub fn checked(self) -> Result<Self> {
        if self.sites.is_empty() || self.sites.len() > MOST_SITES {
            return Err(Error::input(
                "the number of sites",
                self.sites.len(),
                "give 1 to 1000",
            ));
        }
        not_negative("the lead time of the depot in days", self.depot_lead)?;
        for site in &self.sites {
            not_negative("the demand rate of a site per day", site.demand_rate)?;
            not_negative("the transit time to a site in days", site.transit)?;
            not_negative("the weight of a backorder", site.weight)?;
        }
        positive("the demand of all sites together per day", self.demand())?;
        Ok(self)
    }

    fn demand(&self) -> f64 {
        self.sites.iter().map(|s| s.demand_rate).sum()
    }

    /// The exact way where it is little work, else mean and variance.
    #[must_use]
    pub fn finest(&self) -> Method {
        if self.demand() * self.depot_lead <= MOST_EXACT {
            Method::Exact
        } else {
            Method::TwoMoments
        }
    }

    fn at_depot(&self, stock: usize) -> Result<(AtDepot, Counts)> {
        let demand = self.demand();
        let pipeline = Pipeline::new(demand, self.depot_lead)?;
        let waiting = pipeline.backorders(stock);
        let depot = AtDepot {
            stock,
            expected_backorders: waiting,
            variance: pipeline.backorder_variance(stock),
            mean_delay: waiting / demand,
            expected_on_hand: pipeline.on_hand(stock),
        };
        Ok((depot, pipeline.counts().excess(stock)))
    }

    /// Seals on order at a site.
    fn on_order(&self, site: &Site, depot: &AtDepot, waiting: &Counts, method: Method) -> Pipeline {
        let own = site.demand_rate * site.transit;
        let share = site.demand_rate / self.demand();
        let mean = own + share * depot.expected_backorders;
        let variance = own
            + share * (1.0 - share) * depot.expected_backorders
            + share * share * depot.variance;
        Pipeline::of(match method {
            Method::Mean => Counts::poisson(mean, 1e-300),
            Method::TwoMoments => Counts::negative_binomial(mean, variance, 1e-300),
            Method::Exact => waiting
                .clone()
                .trimmed(1e-20)
                .thinned(share)
                .plus(&Counts::poisson(own, 1e-30)),
        })
    }

    /// What given stocks do.
    ///
    /// # Errors
    /// When there is not one stock a site, or more than 100,000 seals would be on order.
    ///
    /// ```
    /// use sealspan_care::spares::depot::{Chain, Method, Site};
    /// let site = Site { demand_rate: 0.1, transit: 2.0, weight: 1.0 };
    /// let chain = Chain { sites: vec![site, site], depot_lead: 14.0 }.checked()?;
    /// let split = chain.given(3, &[1, 1], Method::Exact)?;
    /// assert!((split.backorders - 0.2679139502).abs() < 1e-9);
    /// // The best of two spares is the best of all six ways to place them.
    /// assert_eq!(chain.finest(), Method::Exact);
    /// let best = chain.best_splits(2, Method::Exact)?.pop().unwrap().backorders;
    /// let each = [(2, [0, 0]), (1, [1, 0]), (1, [0, 1]), (0, [2, 0]), (0, [1, 1]), (0, [0, 2])]
    ///     .map(|(depot, sites)| chain.given(depot, &sites, Method::Exact).unwrap().backorders);
    /// assert!((each.into_iter().fold(f64::INFINITY, f64::min) - best).abs() < 1e-12);
    /// # Ok::<(), sealspan_care::error::Error>(())
    /// ```
    pub fn given(&self, depot: usize, sites: &[usize], method: Method) -> Result<Split> {
        if sites.len() != self.sites.len() {
            return Err(Error::input(
                "the number of site stocks",
                sites.len(),
                "give one stock for each site",
            ));
        }
        let (at_depot, waiting) = self.at_depot(depot)?;
        let at_sites: Vec<AtSite> = self
            .sites
            .iter()
            .zip(sites)
            .map(|(site, &stock)| {
                let x = self.on_order(site, &at_depot, &waiting, method);
                AtSite {
                    stock,
                    on_order: x.mean(),
                    variance: x.counts().variance(),
                    fill_rate: x.fill_rate(stock),
                    expected_backorders: x.backorders(stock),
                    expected_on_hand: x.on_hand(stock),
                }
            })
            .collect();
        let weighted = self.sites.iter().zip(&at_sites);
        Ok(Split {
            total: depot + sites.iter().sum::<usize>(),
            backorders: weighted
                .map(|(s, a)| s.weight * a.expected_backorders)
                .sum(),
            depot: at_depot,
            sites: at_sites,
        })
    }

    /// The best split of 0, 1, ... `most` spares. With the depot's stock fixed, a site's backorders fall by less
    /// with every seal, so the sites are filled where a seal takes off most; every depot stock is tried. Best
    /// splits of neighbouring totals may be far apart: building one from the other by a seal at a time fails.
    ///
    /// # Errors
    /// As [`Chain::given`], and when more than 2,000 spares are to be split.
    pub fn best_splits(&self, most: usize, method: Method) -> Result<Vec<Split>> {
        if most > MOST_SPARES {
            return Err(Error::input(
                "the number of spares",
                most,
                "give at most 2,000",
            ));
        }
        let mut best: Vec<Option<(f64, usize, Vec<usize>)>> = vec![None; most + 1];
        for depot in 0..=most {
            let (at_depot, waiting) = self.at_depot(depot)?;
            let x: Vec<Pipeline> = self
                .sites
                .iter()
                .map(|site| self.on_order(site, &at_depot, &waiting, method))
                .collect();
            let mut held = vec![0usize; x.len()];
            let total = |held: &[usize]| -> f64 {
                let each = self.sites.iter().zip(&x).zip(held);
                each.map(|((s, x), n)| s.weight * x.backorders(*n)).sum()
            };
            for slot in best.iter_mut().skip(depot) {
                let here = total(&held);
                // Equal splits within rounding: the one with less at the depot stays.
                if slot.as_ref().is_none_or(|b| here < b.0 - 1e-13 * b.0) {
                    *slot = Some((here, depot, held.clone()));
                }
                let gains = self.sites.iter().zip(&x).zip(&held);
                let gain = gains.map(|((s, x), n)| s.weight * x.above(*n));
                let next = gain
                    .enumerate()
                    .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
                if let Some(n) = next.and_then(|(i, _)| held.get_mut(i)) {
                    *n += 1;
                }
            }
        }
        best.into_iter()
            .flatten()
            .map(|(_, depot, held)| self.given(depot, &held, method))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::{Chain, Method, Site};

    /// 200 on order at the depot on average are followed one by one, 700 by mean and variance, however they come about.
    #[test]
    fn few_on_order_are_followed_exactly() {
        for (rate, lead, method) in [
            (20.0, 10.0, Method::Exact),
            (0.2, 1000.0, Method::Exact),
            (50.0, 14.0, Method::TwoMoments),
            (0.5, 1400.0, Method::TwoMoments),
        ] {
            let site = Site {
                demand_rate: 0.5 * rate,
                transit: 1.0,
                weight: 1.0,
            };
            let chain = Chain {
                sites: vec![site, site],
                depot_lead: lead,
            };
            assert_eq!(chain.finest(), method, "{rate} {lead}");
        }
    }

    /// Without transit a spare at the depot does no more than one at its only site: all stand at the site.
    #[test]
    fn spares_as_good_at_the_site_stand_there() {
        let site = Site {
            demand_rate: 0.3,
            transit: 0.0,
            weight: 1.0,
        };
        let chain = Chain {
            sites: vec![site],
            depot_lead: 10.0,
        };
        let splits = chain.best_splits(6, Method::Exact).unwrap();
        for (total, split) in splits.iter().enumerate() {
            assert_eq!((split.depot.stock, split.sites[0].stock), (0, total));
        }
    }
}
