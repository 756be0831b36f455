"""Cumulative hazard at the failure ages of two data sets: the sums as exact fractions, the standard error
and the interval at 95 % on the log scale in 50-digit arithmetic. Written apart from the program it checks.

Needs mpmath (a general-purpose numerical library). Writes `cumulative_hazard` into the expected files.
"""

import csv
import json
import pathlib
from fractions import Fraction

import mpmath as mp

mp.mp.dps = 50
HERE = pathlib.Path(__file__).resolve()
DATA = HERE.parents[3] / "datasets" / "published"
EXPECTED = HERE.parents[1] / "expected"
Z = mp.sqrt(2) * mp.erfinv(mp.mpf(95) / 100)


def steps(rows):
    """Rows of a right-censored set, failures before censorings at one age."""
    hazard, variance, out = Fraction(0), Fraction(0), []
    for time in sorted({float(r["time"]) for r in rows if r["status"] == "failed"}):
        at_risk = sum(float(r["time"]) >= time for r in rows)
        failed = sum(float(r["time"]) == time and r["status"] == "failed" for r in rows)
        hazard += Fraction(failed, at_risk)
        variance += Fraction(failed, at_risk**2)
        h = mp.mpf(hazard.numerator) / hazard.denominator
        error = mp.sqrt(mp.mpf(variance.numerator) / variance.denominator)
        out.append({
            "time": time,
            "hazard_exact": str(hazard),
            "variance_exact": str(variance),
            "hazard": float(h),
            "std_error": float(error),
            "lower": float(h * mp.exp(-Z * error / h)),
            "upper": float(h * mp.exp(Z * error / h)),
        })
    return out


def main():
    for name in ("leukaemia-maintenance", "bone-marrow-transplant"):
        with open(DATA / name / "life.csv", newline="") as file:
            rows = list(csv.DictReader(file))
        groups = {r.get("group", "all"): [] for r in rows}
        for r in rows:
            groups[r.get("group", "all")].append(r)
        path = EXPECTED / f"{name}.json"
        case = json.loads(path.read_text())
        case["cumulative_hazard"] = {group: steps(rows) for group, rows in groups.items()}
        case["generated"] = "cumulative_hazard: generate/cumulative_hazard.py, exact fractions and 50-digit arithmetic (mpmath)"
        path.write_text(json.dumps(case, indent=1, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
