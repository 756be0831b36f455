//! Sums of positive terms e^v together with their derivatives, kept on a floating scale so that nothing
//! underflows. The five parameters: μ and ln σ of the defect's age, μ and ln σ of the delay, and the logit of detection.

#![expect(
    clippy::indexing_slicing,
    reason = "the indices run over arrays of a length that the type says"
)]

use super::integral::Point;
use super::stage::Local;
use sealspan_numeric::jet::Jet;
use std::ops::Sub;

/// Number of parameters.
pub const PARAMETERS: usize = 5;
/// Place of the logit of detection among them.
pub const DETECTION: usize = 4;
/// Place of ln σ of the delay.
pub const DELAY_SPREAD: usize = 3;
/// Growth of a term over the scale, as a power of e, before the scale follows.
const HEADROOM: f64 = 30.0;

/// Σ e^v, with derivatives ([`Moments`]) or without ([`Plain`]).
pub(super) trait Sum: Copy {
    /// Whether derivatives are kept.
    const SLOPES: bool;
    /// No term yet.
    const EMPTY: Self;
    /// What the logarithm comes as.
    type Ln: Copy + Sub<Output = Self::Ln>;

    /// ln of the sum.
    fn ln_value(&self) -> f64;
    /// Adds e^ln alone.
    fn add_value(&mut self, ln: f64);
    /// Adds e^ln, where ln moves with the defect's age as `a` does and with the delay as `b` does.
    fn add(&mut self, ln: f64, a: &Local, b: &Local);
    /// Adds e^`ln` times another sum, where ln moves with the logit of detection by `slope` and `bend`.
    fn add_all(&mut self, other: &Self, ln: f64, slope: f64, bend: f64);
    /// ln of the sum with what is kept.
    fn ln(&self) -> Self::Ln;
    /// `ln` of a chance that a look found the defect as well.
    fn found(ln: Self::Ln, point: &Point) -> Self::Ln;
}

/// Σ e^v alone, as a multiple of e^shift.
#[derive(Debug, Clone, Copy)]
pub(super) struct Plain {
    shift: f64,
    sum: f64,
}

impl Sum for Plain {
    const SLOPES: bool = false;
    const EMPTY: Self = Self {
        shift: f64::NEG_INFINITY,
        sum: 0.0,
    };
    type Ln = f64;

    fn ln_value(&self) -> f64 {
        self.shift + self.sum.ln()
    }

    #[inline]
    fn add_value(&mut self, ln: f64) {
        if ln > self.shift + HEADROOM {
            self.sum *= (self.shift - ln).exp();
            self.shift = ln;
        }
        self.sum += (ln - self.shift).exp();
    }

    fn add(&mut self, ln: f64, _: &Local, _: &Local) {
        self.add_value(ln);
    }

    fn add_all(&mut self, other: &Self, ln: f64, _: f64, _: f64) {
        if other.sum <= 0.0 {
            return;
        }
        let ln = other.shift + ln;
        if ln > self.shift + HEADROOM {
            self.sum *= (self.shift - ln).exp();
            self.shift = ln;
        }
        self.sum += (ln - self.shift).exp() * other.sum;
    }

    fn ln(&self) -> f64 {
        self.ln_value()
    }

    fn found(ln: f64, point: &Point) -> f64 {
        ln + point.detection.ln()
    }
}

/// Σ e^v with first and second derivatives, all as multiples of e^shift.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moments {
    shift: f64,
    sum: f64,
    first: [f64; PARAMETERS],
    /// Upper triangle.
    second: [[f64; PARAMETERS]; PARAMETERS],
}

impl Moments {
    fn follow(&mut self, ln: f64) {
        if ln <= self.shift + HEADROOM {
            return;
        }
        let down = (self.shift - ln).exp();
        self.sum *= down;
        for x in self
            .first
            .iter_mut()
            .chain(self.second.iter_mut().flatten())
        {
            *x *= down;
        }
        self.shift = ln;
    }
}

impl Sum for Moments {
    const SLOPES: bool = true;
    const EMPTY: Self = Self {
        shift: f64::NEG_INFINITY,
        sum: 0.0,
        first: [0.0; PARAMETERS],
        second: [[0.0; PARAMETERS]; PARAMETERS],
    };
    type Ln = Jet<PARAMETERS>;

    fn ln_value(&self) -> f64 {
        self.shift + self.sum.ln()
    }

    fn add_value(&mut self, ln: f64) {
        self.follow(ln);
        self.sum += (ln - self.shift).exp();
    }

    fn add(&mut self, ln: f64, a: &Local, b: &Local) {
        self.follow(ln);
        let w = (ln - self.shift).exp();
        self.sum += w;
        let slope = [a.first[0], a.first[1], b.first[0], b.first[1]];
        let bend = [
            [a.second[0], a.second[1], 0.0, 0.0],
            [0.0, a.second[2], 0.0, 0.0],
            [0.0, 0.0, b.second[0], b.second[1]],
            [0.0, 0.0, 0.0, b.second[2]],
        ];
        for i in 0..4 {
            self.first[i] += w * slope[i];
            for j in i..4 {
                self.second[i][j] += w * (slope[i] * slope[j] + bend[i][j]);
            }
        }
    }

    fn add_all(&mut self, other: &Self, ln: f64, slope: f64, bend: f64) {
        if other.sum <= 0.0 {
            return;
        }
        self.follow(other.shift + ln);
        let w = (other.shift + ln - self.shift).exp();
        self.sum += w * other.sum;
        for i in 0..DETECTION {
            self.first[i] += w * other.first[i];
            for j in i..DETECTION {
                self.second[i][j] += w * other.second[i][j];
            }
            self.second[i][DETECTION] += w * other.first[i] * slope;
        }
        self.first[DETECTION] += w * other.sum * slope;
        self.second[DETECTION][DETECTION] += w * other.sum * (slope * slope + bend);
    }

    fn ln(&self) -> Jet<PARAMETERS> {
        let gradient = self.first.map(|x| x / self.sum);
        let mut hessian = [[0.0; PARAMETERS]; PARAMETERS];
        for i in 0..PARAMETERS {
            for j in i..PARAMETERS {
                let bend = self.second[i][j] / self.sum - gradient[i] * gradient[j];
                hessian[i][j] = bend;
                hessian[j][i] = bend;
            }
        }
        Jet {
            value: self.ln_value(),
            gradient,
            hessian,
        }
    }
    fn found(mut ln: Self::Ln, point: &Point) -> Self::Ln {
        let (r, missed) = (point.detection, point.ln_missed.exp());
        ln.value += r.ln();
        ln.gradient[DETECTION] += missed;
        ln.hessian[DETECTION][DETECTION] -= r * missed;
        ln
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn terms_without_slopes_add_up() {
        let mut sum = Moments::EMPTY;
        for ln in [1.0, 2.0, -3.0, 80.0, 79.0] {
            sum.add_value(ln);
        }
        let want = 80.0 + (1.0 + (-1f64).exp()).ln();
        assert!((sum.ln_value() - want).abs() < 1e-13, "{}", sum.ln_value());
        let mut sum = Moments::EMPTY;
        sum.add_value(1.0);
        sum.add_value(2.0);
        let want = 2.0 + (-1f64).exp().ln_1p();
        assert!((sum.ln_value() - want).abs() < 1e-13, "{}", sum.ln_value());
    }
}
