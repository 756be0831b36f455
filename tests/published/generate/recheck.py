"""Works the Weibull, lognormal and log-logistic fits of the expected files out again from the data, and says how far
the stored estimates, covariances and log-likelihoods are from it.

    python3 recheck.py [NAME ...]
"""

import json
import pathlib
import sys

import mpmath as mp
from likelihood import lives, maximum

EXPECTED = pathlib.Path(__file__).resolve().parents[1] / "expected"
FIELDS = ["mu", "sigma", "loglik", "cov.mu_mu", "cov.mu_logsigma", "cov.logsigma_logsigma"]


def recheck(name):
    worst = 0.0
    for fit in json.loads((EXPECTED / f"{name}.json").read_text()).get("fits", []):
        law, group, stored = fit["family"], fit["group"], fit["values"]
        if law not in ("weibull", "lognormal", "loglogistic"):
            continue
        rows = [r for r in lives(name) if group in ("all", r[5].get("group"))]
        start = [float(stored["mu"]) + 0.1, float(mp.log(stored["sigma"])) + 0.1]
        x, covariance, value = maximum(law, rows, lambda row: [1], start)
        ours = [x[0], mp.exp(x[1]), value, covariance[0, 0], covariance[0, 1], covariance[1, 1]]
        for field, mine in zip(FIELDS, ours):
            off = abs(mine - mp.mpf(stored[field])) / max(abs(mine), mp.mpf("1e-12"))
            worst = max(worst, float(off))
    print(f"{name}: worst relative difference {worst:.1e}")


if __name__ == "__main__":
    names = sys.argv[1:] or sorted(p.stem for p in EXPECTED.glob("*.json"))
    for each in names:
        recheck(each)
