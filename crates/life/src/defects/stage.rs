//! One stage of the two, at fixed parameters: ln density, ln survival and the like with derivatives in
//! (μ, ln σ), all through z = (ln t − μ)/σ.

use crate::law::Law;
use sealspan_numeric::jet::{Jet, Scalar};

/// A value with its derivatives in μ and ln σ: first (μ, ln σ), second (μμ, μ ln σ, ln σ ln σ).
#[derive(Debug, Clone, Copy)]
pub(super) struct Local {
    pub(super) value: f64,
    pub(super) first: [f64; 2],
    pub(super) second: [f64; 3],
}

impl Local {
    fn jet(self) -> Jet<2> {
        let [aa, ab, bb] = self.second;
        Jet {
            value: self.value,
            gradient: self.first,
            hessian: [[aa, ab], [ab, bb]],
        }
    }

    fn of(jet: Jet<2>) -> Self {
        let [[aa, ab], [_, bb]] = jet.hessian;
        Self {
            value: jet.value,
            first: jet.gradient,
            second: [aa, ab, bb],
        }
    }
}

/// A stage's parameters.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stage {
    mu: f64,
    ln_sigma: f64,
    inverse: f64,
    width: f64,
}

/// What the delay contributes after a defect's age: its density or survival, the share between two ages, or
/// the share failed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Kernel {
    /// Density at the distance to the end.
    Density,
    /// Survival over the distance to the end.
    Survival,
    /// Survival over the distance to the end less that over the distance and this gap.
    Between(f64),
    /// Share failed within the distance to the end.
    Failed,
}

impl Stage {
    pub(super) fn new(mu: f64, ln_sigma: f64) -> Self {
        let inverse = (-ln_sigma).exp();
        Self {
            mu,
            ln_sigma,
            inverse,
            width: mu.exp() * (1.0 / inverse).min(1.0),
        }
    }

    /// A time over which the law's survival changes: its scale, less where it is narrow.
    pub(super) fn width(&self) -> f64 {
        self.width
    }

    /// Whether the density stays finite at age 0 (σ ≤ 1: a Weibull of shape 1 or more).
    pub(super) fn is_bounded(&self) -> bool {
        self.ln_sigma <= 0.0
    }

    /// How many σ of ln age lie between two ages.
    pub(super) fn apart(&self, from: f64, to: f64) -> f64 {
        (to / from).ln() * self.inverse
    }

    fn z(&self, ln_t: f64) -> f64 {
        (ln_t - self.mu) * self.inverse
    }

    /// The chain rule from z to (μ, ln σ): ∂z/∂μ = −1/σ, ∂z/∂ln σ = −z.
    fn chain(&self, z: f64, f: Jet<1>) -> Local {
        let ([d], [[dd]], s) = (f.gradient, f.hessian, self.inverse);
        Local {
            value: f.value,
            first: [-s * d, -z * d],
            second: [s * s * dd, s * (z * dd + d), z * (z * dd + d)],
        }
    }

    fn at(&self, ln_t: f64, f: impl Fn(Jet<1>) -> Jet<1>) -> Local {
        let z = self.z(ln_t);
        let [jet] = Jet::variables([z]);
        self.chain(z, f(jet))
    }

    pub(super) fn ln_density<L: Law<2>>(&self, ln_t: f64) -> Local {
        let mut out = self.at(ln_t, L::ln_density_of_z);
        out.value -= self.ln_sigma + ln_t;
        out.first[1] -= 1.0;
        out
    }

    pub(super) fn ln_survival<L: Law<2>>(&self, ln_t: f64) -> Local {
        self.at(ln_t, L::ln_survival_of_z)
    }

    /// ln of the kernel at distance `h`.
    pub(super) fn ln_kernel<L: Law<2>>(&self, kernel: Kernel, h: f64) -> Local {
        let ln_h = h.ln();
        match kernel {
            Kernel::Density => self.ln_density::<L>(ln_h),
            Kernel::Survival => self.ln_survival::<L>(ln_h),
            Kernel::Failed => self.at(ln_h, |z| L::ln_survival_of_z(z).ln_1m_exp()),
            Kernel::Between(gap) => {
                let near = self.ln_survival::<L>(ln_h).jet();
                let far = self.ln_survival::<L>((h + gap).ln()).jet();
                Local::of(near + (far - near).ln_1m_exp())
            }
        }
    }

    /// The values alone.
    pub(super) fn ln_density_value<L: Law<2>>(&self, ln_t: f64) -> f64 {
        L::ln_density_of_z(self.z(ln_t)) - self.ln_sigma - ln_t
    }

    pub(super) fn ln_kernel_value<L: Law<2>>(&self, kernel: Kernel, h: f64) -> f64 {
        let ln_h = h.ln();
        match kernel {
            Kernel::Density => self.ln_density_value::<L>(ln_h),
            Kernel::Survival => L::ln_survival_of_z(self.z(ln_h)),
            Kernel::Failed => L::ln_survival_of_z(self.z(ln_h)).ln_1m_exp(),
            Kernel::Between(gap) => {
                let near = L::ln_survival_of_z(self.z(ln_h));
                let far = L::ln_survival_of_z(self.z((h + gap).ln()));
                near + (far - near).ln_1m_exp()
            }
        }
    }
}
