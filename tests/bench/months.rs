//! A year by month of running seals of distinct ages, 200 draws of the life: invented.

use sealspan_care::ahead::ending::Ending;
use sealspan_care::ahead::fleet::Fleet;
use sealspan_care::ahead::months::{Ahead, Months};
use sealspan_care::forecast::Running;
use sealspan_life::life::Life;
use sealspan_numeric::random::Stream;

pub struct Year {
    running: Vec<Running>,
    ending: Ending,
    draws: Vec<Ending>,
}

impl Year {
    pub fn of(seals: usize) -> Self {
        let mut stream = Stream::new(2, 0);
        let running = (0..seals).map(|_| Running {
            age: 1500.0 * stream.uniform(),
            count: 1,
        });
        let running = running.collect();
        let life =
            |scale: f64| Ending::new(&Life::weibull(2.0, scale).unwrap(), Some(900.0)).unwrap();
        Self {
            running,
            ending: life(700.0),
            draws: (0..200)
                .map(|_| life(700.0 * (0.03 * stream.normal()).exp()))
                .collect(),
        }
    }

    pub fn answer(&self) -> Months {
        let fleet = Fleet::of(&self.running);
        Ahead {
            ending: &self.ending,
            draws: &self.draws,
            fleet: &fleet,
            period: 30.4375,
            periods: 12,
            confidence: 0.9,
            batch_spread: 0.0,
            seed: 1,
        }
        .answer()
        .unwrap()
    }
}
