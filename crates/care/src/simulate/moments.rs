//! Means and spreads of money and time over played cycles, in a fixed order.

/// Means and centred second moments of money and time (merged after Chan, Golub & LeVeque 1983, from
/// memory).
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Moments {
    pub n: f64,
    money: f64,
    time: f64,
    money_money: f64,
    money_time: f64,
    time_time: f64,
}

/// Sums about the first cycle of a block: quick, and exact enough for some thousands of cycles.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sums {
    n: u32,
    first: (f64, f64),
    money: f64,
    time: f64,
    money_money: f64,
    money_time: f64,
    time_time: f64,
}

impl Sums {
    /// Adds a cycle.
    #[inline]
    pub fn add(&mut self, money: f64, time: f64) {
        if self.n == 0 {
            self.first = (money, time);
        }
        self.n += 1;
        let (money, time) = (money - self.first.0, time - self.first.1);
        self.money += money;
        self.time += time;
        self.money_money += money * money;
        self.money_time += money * time;
        self.time_time += time * time;
    }

    /// The block's moments.
    pub fn moments(&self) -> Moments {
        if self.n == 0 {
            return Moments::default();
        }
        let n = f64::from(self.n);
        Moments {
            n,
            money: self.first.0 + self.money / n,
            time: self.first.1 + self.time / n,
            money_money: self.money_money - self.money * self.money / n,
            money_time: self.money_time - self.money * self.time / n,
            time_time: self.time_time - self.time * self.time / n,
        }
    }
}

impl Moments {
    /// Takes in another block.
    pub fn merge(&mut self, other: &Self) {
        let n = self.n + other.n;
        if n == 0.0 {
            return;
        }
        let (dm, dt) = (other.money - self.money, other.time - self.time);
        let weight = self.n * other.n / n;
        self.money_money += other.money_money + dm * dm * weight;
        self.money_time += other.money_time + dm * dt * weight;
        self.time_time += other.time_time + dt * dt * weight;
        self.money += dm * other.n / n;
        self.time += dt * other.n / n;
        self.n = n;
    }

    /// Mean time of a cycle.
    pub fn mean_time(&self) -> f64 {
        self.time
    }

    /// Money per unit of time and its standard error (ratio estimator, delta method).
    pub fn rate(&self) -> (f64, f64) {
        let rate = self.money / self.time;
        let spread = self.money_money - 2.0 * rate * self.money_time + rate * rate * self.time_time;
        let variance = spread.max(0.0) / (self.n - 1.0) / self.n;
        (rate, variance.sqrt() / self.time)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Blocks put together have the moments of all cycles: the rate and its error by the ratio estimator written out.
    #[test]
    fn blocks_together_are_all_their_cycles() {
        let cycles: Vec<(f64, f64)> = (0..40)
            .map(|i| {
                let i = f64::from(i);
                (
                    100.0 + 7.0 * (i * 0.7).sin() + 3.0 * i,
                    20.0 + (i * 1.3).cos() + i,
                )
            })
            .collect();
        let mut all = Moments::default();
        for block in [&cycles[..9], &cycles[9..33], &cycles[33..]] {
            let mut sums = Sums::default();
            block
                .iter()
                .for_each(|(money, time)| sums.add(*money, *time));
            all.merge(&sums.moments());
        }
        let n = cycles.len() as f64;
        let (money, time) = cycles
            .iter()
            .fold((0.0, 0.0), |a, c| (a.0 + c.0, a.1 + c.1));
        let rate = money / time;
        let left: f64 = cycles.iter().map(|c| (c.0 - rate * c.1).powi(2)).sum();
        let error = (left / (n - 1.0) / n).sqrt() / (time / n);
        let (got, got_error) = all.rate();
        assert!((got / rate - 1.0).abs() < 1e-12);
        assert!(
            (got_error / error - 1.0).abs() < 1e-9,
            "{got_error} {error}"
        );
        assert!((all.mean_time() / (time / n) - 1.0).abs() < 1e-12);
    }
}
