"""Expected cost of replacing at an age when the Weibull's parameters are uncertain.

Survival R(t) = exp(-alpha t^beta); beta on a grid with prior weights, alpha given beta gamma distributed, so that the
posterior after failures and censored ages stays of that form (after Mazzuchi & Soyer 1996, form from memory, paper not
read; prior and records invented). The trapezoid rule in ln alpha, which converges faster than any power here; the best
age as the root of the derivative. Writes expected/bayes-age-replacement.json.
"""
import json
import pathlib

import numpy as np
from scipy import optimize, special

BETAS = np.array([1.2, 1.6, 2.0, 2.4, 2.8, 3.2, 3.6, 4.0])
WEIGHTS = np.array([1, 2, 4, 5, 4, 3, 2, 1.0]) / 22
A0, RATE0 = 3.0, 3.0 * 25.0**BETAS
PLANNED, FAILURE = 1.0, 8.0
FAILED = [14.2, 19.8, 23.1, 27.5]
RUNNING = [12.0, 12.0, 15.0, 18.0, 22.0, 30.0]


def posterior():
    total = np.array([sum(x**b for x in FAILED + RUNNING) for b in BETAS])
    a, rate = A0 + len(FAILED), RATE0 + total
    ln = np.log(WEIGHTS) + len(FAILED) * np.log(BETAS) + (BETAS - 1) * np.log(FAILED).sum()
    ln += A0 * np.log(RATE0) - a * np.log(rate)
    weight = np.exp(ln - ln.max())
    return weight / weight.sum(), a, rate


def nodes(weight, a, rate):
    y = np.linspace(-16.0, 6.0, 2201)
    density = np.exp(a * y - np.exp(y) - special.gammaln(a)) * (y[1] - y[0])
    alpha = np.exp(y)[None, :] / rate[:, None]
    return alpha, weight[:, None] * density[None, :]


def cycle(t, alpha, beta):
    survival = np.exp(-alpha * t**beta)
    eta = alpha ** (-1 / beta)
    time = eta * special.gammainc(1 / beta, alpha * t**beta) * special.gamma(1 / beta) / beta
    money = PLANNED * survival - FAILURE * np.expm1(-alpha * t**beta)
    slope = (FAILURE - PLANNED) * alpha * beta * t ** (beta - 1) * survival
    return survival, time, money, slope


def decide(weight, a, rate):
    alpha, w = nodes(weight, a, rate)
    beta = np.repeat(BETAS[:, None], alpha.shape[1], 1)

    def mean_rate(t):
        _, time, money, _ = cycle(t, alpha, beta)
        return (w * money / time).sum()

    def mean_rate_slope(t):
        survival, time, money, slope = cycle(t, alpha, beta)
        return (w * (slope * time - money * survival) / time**2).sum()

    def ratio_slope(t):
        survival, time, money, slope = cycle(t, alpha, beta)
        return (w * slope).sum() * (w * time).sum() - (w * money).sum() * (w * survival).sum()

    best = optimize.brentq(mean_rate_slope, 5, 20, xtol=1e-13, rtol=1e-14)
    ratio = optimize.brentq(ratio_slope, 5, 20, xtol=1e-13, rtol=1e-14)
    _, time, money, _ = cycle(ratio, alpha, beta)
    known = 0.0
    for k, b in enumerate(BETAS):
        def off(x, b=b):
            _, time, _, _ = cycle(x, 1.0, b)
            return b * x ** (b - 1) * time + np.expm1(-(x**b)) - PLANNED / (FAILURE - PLANNED)
        x = optimize.brentq(off, 1e-3, 30, xtol=1e-14, rtol=1e-14)
        known += (w[k] * (FAILURE - PLANNED) * b * x ** (b - 1) * alpha[k] ** (1 / b)).sum()
    return {
        "weights": weight.tolist(),
        "gamma_shape": a,
        "gamma_rate": rate.tolist(),
        "best_age": best,
        "expected_cost_rate": mean_rate(best),
        "best_age_by_ratio_of_means": ratio,
        "ratio_of_means": (w * money).sum() / (w * time).sum(),
        "expected_cost_rate_if_known": known,
    }


out = {
    "source": "after Mazzuchi & Soyer 1996 (form from memory, paper not read); prior and records invented; generate/bayes_age_replacement.py",
    "shapes": BETAS.tolist(),
    "planned_cost": PLANNED,
    "failure_cost": FAILURE,
    "failed": FAILED,
    "running": RUNNING,
    "prior": decide(WEIGHTS, A0, RATE0),
    "posterior": decide(*posterior()),
}
place = pathlib.Path(__file__).resolve().parents[1] / "expected" / "bayes-age-replacement.json"
place.write_text(json.dumps(out, indent=1) + "\n")
