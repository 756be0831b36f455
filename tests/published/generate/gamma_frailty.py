"""Gamma frailty by litter, baseline rate open: penalised Newton steps in 30 digits over the coefficient and
all fifty log frailties at once (the crate takes EM steps), and the variance where the slope of the
integrated log-likelihood vanishes. Writes out what stands under `frailty` in expected/rats-by-litter.json.

    python3 tests/published/generate/gamma_frailty.py   # needs mpmath; a few minutes
"""

import csv
import json
import pathlib

from mpmath import mp, mpf, exp, log, log1p, matrix, lu_solve, sqrt

mp.dps = 30
HERE = pathlib.Path(__file__).resolve().parent
ROWS = list(csv.DictReader(open(HERE / "../../../datasets/published/rats-by-litter/life.csv")))
LITTERS = sorted({int(r["litter"]) for r in ROWS})
TIME = [float(r["time"]) for r in ROWS]
DEAD = [r["status"] == "failed" for r in ROWS]
X = [mpf(r["rx"]) for r in ROWS]
AT = [1 + LITTERS.index(int(r["litter"])) for r in ROWS]
SIZE = 1 + len(LITTERS)
FAILED = [sum(d for d, a in zip(DEAD, AT) if a == 1 + j) for j in range(len(LITTERS))]


def partial(p, efron):
    """Log partial likelihood, slope, information."""
    value, slope, info = mpf(0), [mpf(0)] * SIZE, matrix(SIZE, SIZE)
    eta = [X[i] * p[0] + p[AT[i]] for i in range(len(X))]
    w = [exp(e) for e in eta]
    for t in sorted({t for t, d in zip(TIME, DEAD) if d}):
        dead = [i for i in range(len(X)) if DEAD[i] and TIME[i] == t]
        risk = [i for i in range(len(X)) if TIME[i] >= t]
        for k in range(len(dead)):
            share = {i: mpf(1) for i in risk}
            if efron:
                share.update({i: 1 - mpf(k) / len(dead) for i in dead})
            s0 = sum(w[i] * share[i] for i in risk)
            mean = [mpf(0)] * SIZE
            for i in risk:
                q = w[i] * share[i] / s0
                mean[0] += q * X[i]
                mean[AT[i]] += q
                info[0, 0] += q * X[i] ** 2
                info[0, AT[i]] += q * X[i]
                info[AT[i], 0] += q * X[i]
                info[AT[i], AT[i]] += q
            value -= log(s0)
            live = [a for a in range(SIZE) if mean[a]]
            for a in live:
                slope[a] -= mean[a]
                for b in live:
                    info[a, b] -= mean[a] * mean[b]
        for i in dead:
            value += eta[i]
            slope[0] += X[i]
            slope[AT[i]] += 1
    return value, slope, info


def solve(theta, p, efron):
    for _ in range(50):
        value, slope, info = partial(p, efron)
        for j in range(1, SIZE):
            slope[j] += (1 - exp(p[j])) / theta
            info[j, j] += exp(p[j]) / theta
        step = lu_solve(info, matrix(slope))
        p = [a + b for a, b in zip(p, step)]
        if max(abs(s) for s in step) < mpf(10) ** -22:
            break
    value, _, info = partial(p, efron)
    for j in range(1, SIZE):
        info[j, j] += exp(p[j]) / theta
    return p, value, info


def integrated(theta, p, value):
    nu, total, slope = 1 / theta, value, mpf(0)
    for d, om in zip(FAILED, p[1:]):
        pen = om - exp(om) + 1
        total += d + nu * pen + sum(log1p(i * theta) for i in range(d)) - (nu + d) * log1p(d * theta)
        slope += -nu**2 * pen + sum(mpf(i) / (1 + i * theta) for i in range(d))
        slope += nu**2 * log1p(d * theta) - (nu + d) * d / (1 + d * theta)
    return total, slope


def main():
    out = {}
    for name, efron in [("breslow", False), ("efron", True)]:
        p = [mpf("0.9")] + [mpf(0)] * (SIZE - 1)
        a, b = mpf("0.4"), mpf("0.5")
        p, v, _ = solve(a, p, efron)
        fa = integrated(a, p, v)[1]
        for _ in range(30):
            p, v, info = solve(b, p, efron)
            total, fb = integrated(b, p, v)
            if abs(fb) < mpf(10) ** -18:
                break
            a, b, fa = b, b - fb * (b - a) / (fb - fa), fb
        unit = matrix([1] + [0] * (SIZE - 1))
        out[name] = {
            "theta": float(b),
            "coefficient": float(p[0]),
            "std_error": float(sqrt(lu_solve(info, unit)[0])),
            "log_likelihood": float(total),
        }
    print(json.dumps(out, indent=1))


if __name__ == "__main__":
    main()
