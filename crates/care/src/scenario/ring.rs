//! One fitted ring: damage gathered arc by arc, the first defect, and the failure that follows.
//!
//! Each arc i of the seal gathers damage age D_i at the rate of the frame arc it lies against. Arc i
//! goes defective at its own threshold, Weibull with scale η k^(1/β), so that on an even frame the
//! first of the k arcs goes at a Weibull(β, η) age (weakest link). The first defective arc then fails
//! once it has gathered the delay on top. Turning moves the seal's arcs round the frame.

use super::draw::Draw;
use super::file::Law;

/// State of one ring. Ages are days of service; arcs are numbered from 0.
#[derive(Debug, Clone)]
pub(super) struct Ring {
    damage: Vec<f64>,
    limit: Vec<f64>,
    delay: f64,
    /// Wear rate of each frame arc, damage days per day.
    frame: Vec<f64>,
    turned: usize,
    defect: Option<usize>,
    failed: bool,
}

impl Ring {
    /// A new seal against a frame that wears its arcs at the given rates.
    pub fn new(defect: Law, delay: Law, frame: Vec<f64>, draw: &mut Draw) -> Self {
        let arc = Law {
            scale_days: defect.scale_days * (frame.len() as f64).powf(1.0 / defect.shape),
            ..defect
        };
        Self {
            damage: vec![0.0; frame.len()],
            limit: frame.iter().map(|_| draw.life(arc)).collect(),
            delay: draw.life(delay),
            frame,
            turned: 0,
            defect: None,
            failed: false,
        }
    }

    /// Wear rates by seal arc, where it lies now.
    fn rates(&self) -> impl Iterator<Item = f64> + '_ {
        let arcs = self.frame.len();
        self.frame
            .iter()
            .copied()
            .cycle()
            .skip(self.turned)
            .take(arcs)
    }

    /// The arc that goes first and when, if none has yet.
    fn next_defect(&self) -> Option<(usize, f64)> {
        self.limit
            .iter()
            .zip(&self.damage)
            .zip(self.rates())
            .map(|((limit, damage), rate)| (limit - damage) / rate)
            .enumerate()
            .min_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// Days until this seal fails if it stays as it lies; `None` once it has failed.
    pub fn days_to_failure(&self) -> Option<f64> {
        if self.failed {
            return None;
        }
        let (arc, wait) = match self.defect {
            Some(arc) => (arc, 0.0),
            None => self.next_defect()?,
        };
        let rate = self.rates().nth(arc)?;
        match self.defect {
            Some(_) => {
                let end = self.limit.get(arc)? + self.delay;
                Some((end - self.damage.get(arc)?).max(0.0) / rate)
            }
            None => Some(wait + self.delay / rate),
        }
    }

    /// Lets `days` of service pass.
    pub fn advance(&mut self, days: f64) {
        self.failed |= self.days_to_failure().is_some_and(|wait| wait <= days);
        if self.defect.is_none() {
            self.defect = self
                .next_defect()
                .filter(|(_, wait)| *wait <= days)
                .map(|(arc, _)| arc);
        }
        let rates: Vec<f64> = self.rates().collect();
        for (damage, rate) in self.damage.iter_mut().zip(rates) {
            *damage += rate * days;
        }
    }

    /// Refits the seal `arcs` further round.
    pub fn turn(&mut self, arcs: usize) {
        self.turned = (self.turned + arcs) % self.frame.len().max(1);
    }

    /// The defective arc, counted from 0 on the seal itself.
    pub fn defect(&self) -> Option<usize> {
        self.defect
    }

    /// True once function is lost.
    pub fn failed(&self) -> bool {
        self.failed
    }

    /// How far the most worn arc is towards its defect: 0 new, 1 defect, 2 at failure.
    pub fn worn_share(&self) -> f64 {
        match self.defect {
            Some(arc) => {
                let over = self.damage.get(arc).zip(self.limit.get(arc));
                1.0 + over
                    .map_or(0.0, |(damage, limit)| (damage - limit) / self.delay)
                    .min(1.0)
            }
            None => {
                let shares = self.damage.iter().zip(&self.limit).map(|(d, l)| d / l);
                shares.fold(0.0, f64::max)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn law(shape: f64, scale_days: f64) -> Law {
        Law { shape, scale_days }
    }

    fn mean_life(frame: &[f64], turn_every: f64, seals: usize) -> f64 {
        let mut draw = Draw::new(11, "ring", "test");
        let mut total = 0.0;
        for _ in 0..seals {
            let mut ring = Ring::new(law(2.5, 400.0), law(2.0, 1e-6), frame.to_vec(), &mut draw);
            let mut age = 0.0;
            loop {
                let wait = ring.days_to_failure().unwrap();
                if wait <= turn_every {
                    total += age + wait;
                    break;
                }
                age += turn_every;
                ring.advance(turn_every);
                ring.turn(1);
            }
        }
        total / seals as f64
    }

    /// On an even frame the ring lives as the stated law, mean η Γ(1 + 1/β), turned or not; on an
    /// uneven one never turned it lives shorter by ((Σ w^β)/k)^(1/β), turned often by the mean of w.
    #[test]
    fn weakest_link_lives_match_their_closed_forms() {
        // 400 Γ(1.4) = 354.9; coefficient of variation 0.428, so 3 % is four standard errors at 4000
        let even = 354.9;
        let uneven = [4.0, 1.0, 1.0, 1.0];
        let power_mean = ((4.0_f64.powf(2.5) + 3.0) / 4.0).powf(1.0 / 2.5);
        for (frame, every, expected) in [
            ([1.0; 4], 1e9, even),
            ([1.0; 4], 30.0, even),
            (uneven, 1e9, even / power_mean),
            (uneven, 2.0, even / 1.75),
        ] {
            let mean = mean_life(&frame, every, 4000);
            assert!(
                (mean / expected - 1.0).abs() < 0.03,
                "{frame:?} {every}: {mean} {expected}"
            );
        }
    }

    #[test]
    fn a_defect_comes_before_the_failure_and_on_the_same_arc() {
        let mut draw = Draw::new(3, "ring", "test");
        let mut ring = Ring::new(
            law(3.0, 300.0),
            law(2.0, 90.0),
            vec![1.0, 2.0, 1.0],
            &mut draw,
        );
        let wait = ring.days_to_failure().unwrap();
        assert!(ring.defect().is_none());
        ring.advance(wait - 1e-3);
        assert!(ring.defect().is_some() && !ring.failed());
        let share = ring.worn_share();
        assert!(share > 1.9 && share <= 2.0, "{share}");
        assert!((ring.days_to_failure().unwrap() - 1e-3).abs() < 1e-9);
        ring.advance(2e-3);
        assert!(ring.failed());
        assert!(ring.days_to_failure().is_none());
    }
}
