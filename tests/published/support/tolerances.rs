//! Every tolerance of the published checks, in one place.

/// A comparison: relative to the expected value, or absolute where that is the larger allowance.
#[derive(Debug, Clone, Copy)]
pub struct Tolerance {
    pub relative: f64,
    pub absolute: f64,
}

/// Estimates, standard errors, covariances, log-likelihoods, criteria, Wald bounds.
pub const ESTIMATE: Tolerance = Tolerance {
    relative: 1e-10,
    absolute: 1e-12,
};

/// Profile-likelihood bounds.
pub const PROFILE: Tolerance = Tolerance {
    relative: 1e-10,
    absolute: 0.0,
};

/// Product-limit and Nelson–Aalen values, adjusted ranks: sums and products of small fractions.
pub const ARITHMETIC: Tolerance = Tolerance {
    relative: 1e-13,
    absolute: 1e-14,
};

/// Masses and log-likelihood of Turnbull's curve.
pub const TURNBULL: Tolerance = Tolerance {
    relative: 1e-9,
    absolute: 1e-11,
};

/// Chi-square statistics and their tail probabilities.
pub const TEST: Tolerance = Tolerance {
    relative: 1e-11,
    absolute: 0.0,
};

/// A normal tail probability far out, from an estimate good to [`ESTIMATE`].
pub const FAR_TAIL: Tolerance = Tolerance {
    relative: 1e-7,
    absolute: 0.0,
};

/// Exact median ranks (inverse of the beta distribution).
pub const MEDIAN_RANK: Tolerance = Tolerance {
    relative: 1e-10,
    absolute: 0.0,
};

/// Critical values and ends of simultaneous bands: what the expected values are good to.
pub const BAND: Tolerance = Tolerance {
    relative: 1e-8,
    absolute: 1e-10,
};

/// Intensities of recurring events, differences of log-likelihoods, sums of many small probabilities.
pub const RECURRENCE: Tolerance = Tolerance {
    relative: 1e-8,
    absolute: 0.0,
};

/// Values of a second program alone, to what its own search for the maximum leaves.
pub const SECOND_ROUTE: Tolerance = Tolerance {
    relative: 1e-8,
    absolute: 0.0,
};

/// Values stored to twelve significant digits.
pub const TWELVE_DIGITS: Tolerance = Tolerance {
    relative: 1e-11,
    absolute: 0.0,
};

/// Estimates that the other side found by a search without derivatives.
pub const SEARCHED: Tolerance = Tolerance {
    relative: 1e-6,
    absolute: 1e-12,
};

/// The same program's cumulative baseline hazard: the error of its coefficient enters, and grows.
pub const BASELINE: Tolerance = Tolerance {
    relative: 1e-8,
    absolute: 1e-10,
};

/// Estimates of a second program that stops its search early.
pub const STOPPED_EARLY: Tolerance = Tolerance {
    relative: 2e-5,
    absolute: 0.0,
};

/// Half a unit in the last digit printed by a source.
pub fn printed(value: f64, decimals: i32) -> Tolerance {
    let half = 0.5 * 10f64.powi(-decimals);
    Tolerance {
        relative: 0.0,
        absolute: half + 1e-12 * value.abs(),
    }
}

/// Log-likelihoods made of integrals.
pub const QUADRATURE: Tolerance = Tolerance {
    relative: 1e-9,
    absolute: 1e-10,
};

/// Figures of a care policy by quadrature: costs, shares, times.
pub const POLICY: Tolerance = Tolerance {
    relative: 1e-8,
    absolute: 1e-11,
};

/// The best step or age of a policy: the cost is flat there, so that its least is found to the root of the
/// rounding.
pub const POLICY_STEP: Tolerance = Tolerance {
    relative: 1e-6,
    absolute: 0.0,
};
