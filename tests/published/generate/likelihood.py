"""Log-likelihood of exact, right-censored and interval lives with delayed entry, in 50-digit
arithmetic, and its maximum. Written apart from the program it checks: it shares no code with it.

Needs mpmath and scipy (general-purpose numerical libraries).
"""

import csv
import pathlib

import mpmath as mp
from scipy.optimize import minimize

mp.mp.dps = 90
STEP = mp.mpf(10) ** -20
DATA = pathlib.Path(__file__).resolve().parents[3] / "datasets" / "published"


def lives(name):
    """Rows of a data set: kind (exact, right, interval), lower, upper, entry, count, columns."""
    out = []
    with open(DATA / name / "life.csv", newline="") as file:
        for row in csv.DictReader(file):
            entry, count = mp.mpf(row.get("entry") or 0), int(row.get("count") or 1)
            if "time" in row:
                kind = {"failed": "exact", "running": "right"}[row["status"]]
                lower = upper = mp.mpf(row["time"])
            else:
                lower = mp.mpf(row["lower"] or 0)
                kind = "interval" if row["upper"] else "right"
                upper = mp.mpf(row["upper"] or 0)
            out.append((kind, lower, upper, entry, count, row))
    return out


def survival(law, z):
    """S at the standardised ln age z."""
    if law == "loglogistic":
        return 1 / (1 + mp.exp(z))
    return mp.exp(-mp.exp(z)) if law == "weibull" else mp.erfc(z / mp.sqrt(2)) / 2


def ln_density(law, z):
    """ln density of the standardised ln age."""
    if law == "loglogistic":
        return z - 2 * mp.log(1 + mp.exp(z))
    return z - mp.exp(z) if law == "weibull" else -z * z / 2 - mp.log(2 * mp.pi) / 2


def log_likelihood(law, x, rows, design):
    """x: coefficients of the design, then ln sigma."""
    sigma, total = mp.exp(x[-1]), mp.mpf(0)
    for kind, lower, upper, entry, count, row in rows:
        mu = sum(a * b for a, b in zip(design(row), x))
        s = lambda t: survival(law, (mp.log(t) - mu) / sigma) if t > 0 else mp.mpf(1)
        if kind == "exact":
            term = ln_density(law, (mp.log(lower) - mu) / sigma) - x[-1] - mp.log(lower)
        elif kind == "right":
            term = mp.log(s(lower))
        else:
            term = mp.log(s(lower) - s(upper))
        total += count * (term - mp.log(s(entry)))
    return total


def derivatives(f, x):
    """Gradient and Hessian by central differences; the step leaves about 40 digits."""
    n = len(x)
    moved = lambda *steps: f([v + sum(h for i, h in steps if i == k) for k, v in enumerate(x)])
    gradient = mp.matrix(n, 1)
    hessian = mp.matrix(n, n)
    for i in range(n):
        gradient[i] = (moved((i, STEP)) - moved((i, -STEP))) / (2 * STEP)
        for j in range(i + 1):
            corners = [moved((i, a * STEP), (j, b * STEP)) * a * b for a in (1, -1) for b in (1, -1)]
            hessian[i, j] = hessian[j, i] = sum(corners) / (4 * STEP * STEP)
    return gradient, hessian


def maximum(law, rows, design, start):
    """Estimate, covariance (inverse observed information) and log-likelihood."""
    f = lambda x: log_likelihood(law, x, rows, design)
    rough = minimize(lambda x: float(-f([mp.mpf(v) for v in x])), start, method="Nelder-Mead",
                     options={"xatol": 1e-6, "fatol": 1e-9, "maxiter": 4000})
    x = [mp.mpf(v) for v in rough.x]
    for _ in range(12):
        gradient, hessian = derivatives(f, x)
        step = mp.lu_solve(hessian, -gradient)
        x = [a + b for a, b in zip(x, step)]
        if mp.norm(step) < mp.mpf(10) ** -30:
            break
    else:
        raise SystemExit("no convergence")
    _, hessian = derivatives(f, x)
    return x, mp.inverse(-hessian), f(x)
