"""Posterior quantiles of two-parameter laws by dense integration: the values in tests/laws/posterior.rs.

Two failures at 80 and 90 and fifty seals sound at 100 (invented). Priors: location normal about ln 100 with
standard deviation 3, ln sigma normal about -0.7 with standard deviation 1.
"""

import numpy as np
from scipy.stats import norm

mu = np.linspace(2.0, 16.0, 2801)
s = np.linspace(-4.0, 3.0, 2801)
M, L = np.meshgrid(mu, s, indexing="ij")
sigma = np.exp(L)


def terms(law, t):
    z = (np.log(t) - M) / sigma
    if law == "weibull":
        return z - np.exp(z) - L - np.log(t), -np.exp(z)
    return norm.logpdf(z) - L - np.log(t), norm.logsf(z)


for law in ["weibull", "lognormal"]:
    ll = terms(law, 80.0)[0] + terms(law, 90.0)[0] + 50 * terms(law, 100.0)[1]
    lp = ll - 0.5 * ((M - np.log(100.0)) / 3) ** 2 - 0.5 * (L + 0.7) ** 2
    w = np.exp(lp - lp.max())
    w /= w.sum()
    z10 = np.log(-np.log(0.9)) if law == "weibull" else norm.ppf(0.1)
    for name, q in [("location", M), ("ln_sigma", L), ("ln_b10", M + sigma * z10)]:
        # A fine histogram with linear interpolation of the distribution function.
        h, e = np.histogram(q.ravel(), bins=200000, weights=w.ravel(), range=(-20, 20))
        c = np.concatenate([[0], np.cumsum(h)])
        print(law, name, [float(np.interp(p, c, e)) for p in (0.05, 0.5, 0.95)], "edge", w[0].sum() + w[-1].sum() + w[:, 0].sum() + w[:, -1].sum())
