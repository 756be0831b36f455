//! Seals whose onset fell between two stops, followed until they fail or are taken off.

use super::curve::Delay;
use sealspan_numeric::double_exponential::Node;

/// Rows of the delay at the distances of evenly spaced stops, worked out once for all cohorts, and for all policies with
/// stops so far apart.
#[derive(Debug, Clone, Default)]
pub(crate) struct EvenRows {
    pub step: f64,
    rows: Vec<Vec<(f64, f64)>>,
}

impl EvenRows {
    /// Survival and time spent at the distance of the nodes from a stop `steps` on.
    fn row(&mut self, delay: &Delay, nodes: &[Node], step: f64, steps: usize) -> &[(f64, f64)] {
        if self.step != step {
            self.step = step;
            self.rows.clear();
        }
        while self.rows.len() <= steps {
            let past = self.rows.len() as f64;
            let row = nodes.iter().map(|n| delay.at((past + n.right) * step));
            self.rows.push(row.collect());
        }
        self.rows.get(steps).map_or(&[], Vec::as_slice)
    }
}

/// Seals that went defective in one stretch.
#[derive(Debug, Clone)]
pub(crate) struct Cohort {
    /// End of the stretch and its length.
    end: f64,
    length: f64,
    /// Share not noticed so far.
    pub weight: f64,
    /// Onset density times quadrature weight, by node; the first node's place among all.
    mass: Vec<f64>,
    first: usize,
    /// Mean time spent defective up to the last stop, by node.
    spent: Vec<f64>,
    /// The same for money: masses discounted by the age at onset, and time discounted from there; none without
    /// discounting.
    present_mass: Vec<f64>,
    present_spent: Vec<f64>,
    /// Stops since.
    stops: usize,
}

/// A cohort's defective seals at the end of a stretch, and their time in it, both by seal fitted.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Defective {
    pub share: f64,
    pub time: f64,
}

impl Cohort {
    pub fn new(
        end: f64,
        length: f64,
        first: usize,
        mass: Vec<f64>,
        present_mass: Vec<f64>,
    ) -> Self {
        Self {
            end,
            length,
            weight: 1.0,
            spent: vec![0.0; mass.len()],
            present_spent: vec![0.0; present_mass.len()],
            mass,
            present_mass,
            first,
            stops: 0,
        }
    }

    /// Follows the cohort to a stop at age `to`. With `even`, all stretches so far had this length.
    pub fn follow(
        &mut self,
        delay: &Delay,
        nodes: &[Node],
        to: f64,
        even: Option<(&mut EvenRows, f64)>,
    ) -> Defective {
        let skip = self.first;
        let mut sum = Defective::default();
        let mut add = |mass: f64, spent: &mut f64, (alive, now): (f64, f64)| {
            sum.share += mass * alive;
            sum.time += mass * (now - *spent);
            *spent = now;
        };
        let own = self.mass.iter().zip(&mut self.spent);
        match even {
            Some((rows, step)) => {
                let row = rows.row(delay, nodes, step, self.stops);
                for ((mass, spent), at) in own.zip(row.iter().skip(skip)) {
                    add(*mass, spent, *at);
                }
            }
            None => {
                let past = to - self.end;
                for ((mass, spent), node) in own.zip(nodes.iter().skip(skip)) {
                    add(*mass, spent, delay.at(past + node.right * self.length));
                }
            }
        }
        self.stops += 1;
        Defective {
            share: sum.share * self.weight,
            time: sum.time * self.weight,
        }
    }

    /// Time spent defective in the stretch to a stop at age `to`, discounted by age. To be asked before the cohort
    /// is followed there.
    pub fn follow_present(
        &mut self,
        delay: &Delay,
        nodes: &[Node],
        to: f64,
        even: Option<(&mut EvenRows, f64)>,
    ) -> f64 {
        let mut sum = 0.0;
        let mut add = |mass: f64, spent: &mut f64, (_, now): (f64, f64)| {
            sum += mass * (now - *spent);
            *spent = now;
        };
        let own = self.present_mass.iter().zip(&mut self.present_spent);
        match even {
            Some((rows, step)) => {
                let row = rows.row(delay, nodes, step, self.stops);
                for ((mass, spent), at) in own.zip(row.iter().skip(self.first)) {
                    add(*mass, spent, *at);
                }
            }
            None => {
                let past = to - self.end;
                for ((mass, spent), node) in own.zip(nodes.iter().skip(self.first)) {
                    add(*mass, spent, delay.at(past + node.right * self.length));
                }
            }
        }
        sum * self.weight
    }
}
