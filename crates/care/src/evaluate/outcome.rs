//! What one cycle of a policy comes to on average, and the rates that follow from it.

use crate::terms::Terms;
use serde::Serialize;

/// Long-run figures of a policy: ratios of means over one cycle, from a fitting to the next (renewal
/// reward). Times are in units of the clock; shares are of cycles.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Outcome {
    /// Money per unit of the clock, downtime priced in.
    pub cost_rate: f64,
    /// Share of time up: in service and not failed unseen. Of clock time where downtime takes none.
    pub availability: f64,
    /// Mean time from one fitting to the next, downtime included.
    pub mean_cycle: f64,
    /// Mean age at removal.
    pub mean_service: f64,
    /// Mean time failed without anybody knowing.
    pub undetected_time: f64,
    /// Share found worn at an inspection, before failure.
    pub found: f64,
    /// Share that failed, seen at once or later.
    pub failed: f64,
    /// Share replaced by schedule.
    pub preventive: f64,
    /// Share spoilt by handling.
    pub damaged: f64,
    /// Share replaced while the asset was open anyway.
    pub opportunity: f64,
    /// Openings in a cycle, each for a look, a turn or both.
    pub openings_per_cycle: f64,
    /// Looks in a cycle.
    pub inspections_per_cycle: f64,
    /// Turns in a cycle.
    pub turns_per_cycle: f64,
}

/// Sums over one cycle.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Totals {
    pub service: f64,
    pub undetected: f64,
    pub found: f64,
    pub failed: f64,
    pub preventive: f64,
    pub damaged: f64,
    pub opportunity: f64,
    pub openings: f64,
    pub looks: f64,
    pub turns: f64,
}

impl Totals {
    /// The figures at these prices.
    pub fn outcome(&self, terms: &Terms) -> Outcome {
        let ends = [
            (self.failed, terms.failed),
            (self.found, terms.found),
            (self.preventive, terms.planned),
            (self.damaged, terms.damaged),
            (self.opportunity, terms.opportunity),
            (self.openings, terms.opening),
        ];
        let money: f64 = ends.iter().map(|(share, event)| share * event.money).sum();
        let down: f64 = ends.iter().map(|(share, event)| share * event.down).sum();
        let labour =
            self.looks * terms.look + self.turns * terms.turn + self.undetected * terms.undetected;
        let cycle = self.service + down;
        Outcome {
            cost_rate: (money + labour) / cycle,
            availability: (self.service - self.undetected) / cycle,
            mean_cycle: cycle,
            mean_service: self.service,
            undetected_time: self.undetected,
            // Rounding may leave a share a last digit above 1.
            found: self.found.min(1.0),
            failed: self.failed.min(1.0),
            preventive: self.preventive.min(1.0),
            damaged: self.damaged,
            opportunity: self.opportunity,
            openings_per_cycle: self.openings,
            inspections_per_cycle: self.looks,
            turns_per_cycle: self.turns,
        }
    }
}

impl Outcome {
    /// The same cycle at other prices and times down: nothing has to be worked out anew.
    #[must_use]
    pub(crate) fn priced(&self, terms: &Terms) -> Self {
        Totals {
            service: self.mean_service,
            undetected: self.undetected_time,
            found: self.found,
            failed: self.failed,
            preventive: self.preventive,
            damaged: self.damaged,
            opportunity: self.opportunity,
            openings: self.openings_per_cycle,
            looks: self.inspections_per_cycle,
            turns: self.turns_per_cycle,
        }
        .outcome(terms)
    }

    /// Largest difference of the figures from those of another, relative for times and rates and
    /// absolute for shares.
    pub(crate) fn difference(&self, other: &Self) -> f64 {
        let relative = |a: f64, b: f64| (a - b).abs() / a.abs().max(b.abs()).max(1e-300);
        [
            relative(self.cost_rate, other.cost_rate),
            relative(self.mean_cycle, other.mean_cycle),
            relative(self.mean_service, other.mean_service),
            (self.undetected_time - other.undetected_time).abs() / self.mean_cycle,
            (self.found - other.found).abs(),
            (self.failed - other.failed).abs(),
        ]
        .into_iter()
        .fold(0.0, f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::Outcome;

    /// Times and rates by their share, and shares as they are: whichever differs most.
    #[test]
    fn figures_differ_by_that_which_differs_most() {
        let one = Outcome {
            cost_rate: 3.0,
            mean_cycle: 100.0,
            mean_service: 90.0,
            undetected_time: 5.0,
            found: 0.3,
            failed: 0.2,
            ..Outcome::default()
        };
        let other = |change: &dyn Fn(&mut Outcome)| {
            let mut other = one;
            change(&mut other);
            one.difference(&other)
        };
        assert_eq!(one.difference(&one), 0.0);
        for (got, want) in [
            (other(&|o| o.failed += 0.1), 0.1),
            (other(&|o| o.found -= 0.1), 0.1),
            (other(&|o| o.undetected_time += 20.0), 0.2),
            (other(&|o| o.cost_rate = 4.0), 0.25),
            (other(&|o| o.mean_service = 75.0), 15.0 / 90.0),
            (other(&|o| o.mean_cycle = 125.0), 0.2),
        ] {
            assert!((got - want).abs() < 1e-12, "{got} {want}");
        }
    }
}
