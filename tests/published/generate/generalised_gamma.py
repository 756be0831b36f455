"""Generalised gamma fits of exact and right-censored lives in 50-digit arithmetic, written into the
expected files. ln T = mu + sigma W with W log-gamma of parameter q (Prentice 1974; Lawless 2003,
section 5.3; from memory), here for q > 0. Shares no code with the program it checks.

    python3 generalised_gamma.py

Needs mpmath and scipy (general-purpose numerical libraries).
"""

import json
import pathlib

import mpmath as mp
import numpy as np
from likelihood import derivatives, lives
from scipy.optimize import minimize
from scipy.special import gammaincc, gammaln

EXPECTED = pathlib.Path(__file__).resolve().parents[1] / "expected"
CASES = ["ball-bearings", "nist-weibull"]


def rough(x, rows):
    """Minus the log-likelihood in double precision."""
    mu, sigma, q = x[0], np.exp(x[1]), x[2]
    k, total = q**-2, 0.0
    for kind, lower, _, _, count, _ in rows:
        w = (float(mp.log(lower)) - mu) / sigma
        if kind == "exact":
            term = np.log(q) - gammaln(k) + k * np.log(k) + k * (q * w - np.exp(q * w))
            term -= x[1] + float(mp.log(lower))
        else:
            term = np.log(gammaincc(k, k * np.exp(q * w)))
        total += count * term
    return -total if np.isfinite(total) else 1e9


def log_likelihood(x, rows):
    mu, sigma, q = x[0], mp.exp(x[1]), x[2]
    k, total = q**-2, mp.mpf(0)
    for kind, lower, _, _, count, _ in rows:
        w = (mp.log(lower) - mu) / sigma
        if kind == "exact":
            term = mp.log(q) - mp.loggamma(k) + k * mp.log(k) + k * (q * w - mp.exp(q * w))
            term -= x[1] + mp.log(lower)
        else:
            term = mp.log(mp.gammainc(k, k * mp.exp(q * w), mp.inf, regularized=True))
        total += count * term
    return total


def fitted(name):
    rows = lives(name)
    assert all(r[0] in ("exact", "right") and r[3] == 0 for r in rows), name
    stored = json.loads((EXPECTED / f"{name}.json").read_text())["fits"][0]["values"]
    start = [stored["mu"], np.log(stored["sigma"]), 0.7]
    best = minimize(rough, start, args=(rows,), method="Nelder-Mead",
                    options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 20000, "maxfev": 20000})
    x, f = [mp.mpf(v) for v in best.x], lambda x: log_likelihood(x, rows)
    for _ in range(20):
        gradient, hessian = derivatives(f, x)
        step = mp.lu_solve(hessian, -gradient)
        x = [a + b for a, b in zip(x, step)]
        if mp.norm(step) < mp.mpf(10) ** -25:
            break
    else:
        raise SystemExit(f"{name}: no convergence")
    _, hessian = derivatives(f, x)
    covariance, value = mp.inverse(-hessian), f(x)
    names, out = ["mu", "logsigma", "q"], {}
    out["loglik"], out["aic"] = value, 6 - 2 * value
    out["mu"], out["sigma"], out["q"] = x[0], mp.exp(x[1]), x[2]
    for i, a in enumerate(names):
        for j, b in enumerate(names[i:], i):
            out[f"cov.{a}_{b}"] = covariance[i, j]
    return {key: float(v) for key, v in out.items()}


def main():
    for name in CASES:
        path = EXPECTED / f"{name}.json"
        case = json.loads(path.read_text())
        case["fits"] = [f for f in case["fits"] if f["family"] != "generalised_gamma"]
        values = fitted(name)
        case["fits"].append({"family": "generalised_gamma", "group": "all", "values": values})
        case["generated"] = "generalised_gamma: generate/generalised_gamma.py, 50-digit arithmetic (mpmath)"
        path.write_text(json.dumps(case, indent=1, ensure_ascii=False) + "\n")
        print(name, values)


if __name__ == "__main__":
    main()
