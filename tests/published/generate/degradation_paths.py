"""Degradation paths: the likelihood of a linear mixed model as one multivariate normal density a seal
(scipy), its restricted form, maxima by scipy, and a gamma process. Written apart from the program it
checks: no sums, no matrix lemmas.

Needs numpy and scipy (general-purpose numerical libraries). Invented data from a fixed seed. Writes
expected/degradation-paths.json.
"""

import json
import pathlib

import numpy as np
from scipy import optimize, stats

FILE = pathlib.Path(__file__).resolve().parents[1] / "expected" / "degradation-paths.json"


def data():
    rng = np.random.default_rng(20240611)
    seals = []
    for i in range(14):
        count = [1, 2, 3, 5, 7, 6, 4][i % 7]
        ages = np.sort(rng.uniform(20, 700, count)).round(0)
        level, rate = 7.4 + 0.15 * rng.standard_normal(), -0.006 + 0.0018 * rng.standard_normal()
        values = level + rate * ages + 0.12 * rng.standard_normal(count)
        seals.append([[float(a), float(round(v, 3))] for a, v in zip(ages, values)])
    return seals


def wear_data():
    rng = np.random.default_rng(77)
    seals = []
    for _ in range(8):
        age, value, path = 0.0, 8.0, [[0.0, 8.0]]
        for _ in range(6):
            span = float(rng.integers(20, 90))
            age += span
            value -= rng.gamma(0.03 * span, 1 / 4.0)
            path.append([age, float(value)])
        seals.append(path)
    return seals


def moments(path, theta):
    b0, b1, noise, d00, d01, d11 = theta
    t = np.array([p[0] for p in path])
    z = np.column_stack([np.ones_like(t), t])
    v = noise**2 * np.eye(len(t)) + z @ np.array([[d00, d01], [d01, d11]]) @ z.T
    return z, z @ np.array([b0, b1]), v


def ln_likelihood(seals, theta):
    total = 0.0
    for path in seals:
        _, mean, v = moments(path, theta)
        total += stats.multivariate_normal(mean, v).logpdf([p[1] for p in path])
    return total


def gls(seals, spread):
    a, c = np.zeros((2, 2)), np.zeros(2)
    for path in seals:
        z, _, v = moments(path, [0, 0, *spread])
        a += z.T @ np.linalg.solve(v, z)
        c += z.T @ np.linalg.solve(v, np.array([p[1] for p in path]))
    return np.linalg.solve(a, c), a


def spread_of(x):
    noise, l1, l2, l3 = np.exp(x[0]), np.exp(x[1]), x[2], np.exp(x[3])
    root = np.array([[l1, 0], [l2 * 1e-3, l3 * 1e-3]])
    d = root @ root.T
    return [noise, d[0, 0], d[0, 1], d[1, 1]]


def solve(seals, restricted):
    def miss(x):
        spread = spread_of(x)
        b, a = gls(seals, spread)
        value = ln_likelihood(seals, [*b, *spread])
        if restricted:
            value += np.log(2 * np.pi) - 0.5 * np.linalg.slogdet(a)[1]
        return -value

    x = np.array([np.log(0.1), np.log(0.1), 0.0, np.log(1.0)])
    for _ in range(6):
        x = optimize.minimize(miss, x, method="Nelder-Mead", options={"xatol": 1e-11, "fatol": 1e-13, "maxiter": 20000, "maxfev": 20000}).x
    spread = spread_of(x)
    b, a = gls(seals, spread)
    return b, spread, np.linalg.inv(a), -miss(x)


def own_line(path, b, spread, mean_cov):
    """Level and rate of one seal: the conditional normal law, by block matrices."""
    z, mean, v = moments(path, [*b, *spread])
    d = np.array([[spread[1], spread[2]], [spread[2], spread[3]]])
    k = d @ z.T @ np.linalg.inv(v)
    off = k @ (np.array([p[1] for p in path]) - mean)
    kept = np.eye(2) - k @ z
    return b + off, d - k @ z @ d + kept @ mean_cov @ kept.T


def main():
    seals, wear = data(), wear_data()
    theta = [7.3, -0.0055, 0.15, 0.03, -1e-4, 4e-6]
    b, spread, cov, restricted = solve(seals, True)
    _, _, _, full = solve(seals, False)
    mean, covariance = own_line(seals[4], b, spread, cov)
    limit, ages = 3.5, [300.0, 600.0, 900.0]
    sd = lambda c, t: np.sqrt(c[0, 0] + 2 * t * c[0, 1] + t * t * c[1, 1])
    new = cov + np.array([[spread[1], spread[2]], [spread[2], spread[3]]])
    spans = np.array([q[0] - p[0] for path in wear for p, q in zip(path, path[1:])])
    drops = np.array([p[1] - q[1] for path in wear for p, q in zip(path, path[1:])])
    gamma = lambda x: -stats.gamma(np.exp(x[0]) * spans, scale=np.exp(-x[1])).logpdf(drops).sum()
    x = np.array([-3.0, 1.0])
    for _ in range(4):
        x = optimize.minimize(gamma, x, method="Nelder-Mead", options={"xatol": 1e-12, "fatol": 1e-14, "maxiter": 9000}).x
    shape, rate = np.exp(x)
    last = wear[0][-1]
    case = {
        "case": "degradation-paths",
        "source": "computed: multivariate normal densities and gamma densities of scipy; maxima by Nelder-Mead",
        "generated": "generate/degradation_paths.py",
        "invented": True,
        "seals": seals,
        "density": {"theta": "level, rate, noise, variance of level, covariance, variance of rate", "at": theta, "value": ln_likelihood(seals, theta)},
        "fit": {
            "mean": list(b),
            "noise": spread[0],
            "among": spread[1:],
            "mean_covariance": [cov[0, 0], cov[0, 1], cov[1, 1]],
            "restricted": restricted,
            "full": full,
        },
        "own": {"seal": 4, "mean": list(mean), "covariance": [covariance[0, 0], covariance[0, 1], covariance[1, 1]]},
        "limit": limit,
        "past_limit": [
            {
                "age": t,
                "new": float(stats.norm.cdf((limit - b[0] - b[1] * t) / sd(new, t))),
                "own": float(stats.norm.cdf((limit - mean[0] - mean[1] * t) / sd(covariance, t))),
            }
            for t in ages
        ],
        "wear": {
            "seals": wear,
            "shape": shape,
            "rate": rate,
            "log_likelihood": -gamma(x),
            "past_limit": [
                {"after": s, "chance": float(stats.gamma(shape * s, scale=1 / rate).sf(last[1] - limit))} for s in (100.0, 400.0, 700.0)
            ],
        },
    }
    FILE.write_text(json.dumps(case, indent=1, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
