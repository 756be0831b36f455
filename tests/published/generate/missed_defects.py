"""Share of defects that regular looks miss until they fail, when a defect comes at any time between two
looks: closed form for exponential delays, quadrature for Weibull ones, in 30-digit arithmetic. The model is
that of Christer & Waller 1984 (definition read; formulas derived).

Needs mpmath (a general-purpose numerical library). Writes expected/missed-defects.json.
"""

import json
import pathlib

import mpmath as mp

mp.mp.dps = 30
FILE = pathlib.Path(__file__).resolve().parents[1] / "expected" / "missed-defects.json"


def exponential(rate, every, r):
    """1 - r(1 - e^-mT)/(mT(1 - (1 - r)e^-mT))."""
    x = mp.mpf(rate) * every
    r = mp.mpf(r)
    return 1 - r * (1 - mp.exp(-x)) / (x * (1 - (1 - r) * mp.exp(-x)))


def weibull(shape, scale, every, r):
    b, n, r = mp.mpf(shape), mp.mpf(scale), mp.mpf(r)
    alive = lambda h: mp.exp(-((h / n) ** b))
    found, looks = mp.mpf(0), 0
    while looks == 0 or (r < 1 and alive(looks * every) * (1 - r) ** looks > mp.mpf(10) ** -26):
        missed = (1 - r) ** looks if looks else 1
        found += r * missed * mp.quad(alive, [looks * every, (looks + 0.25) * every, (looks + 1) * every])
        looks += 1
    return 1 - found / every


def main():
    rows = [dict(law="exponential", rate=float(m), every=t, detection=float(r), missed=float(exponential(m, t, r)))
            for m in ("0.05", "0.2") for t in (2, 5, 10, 30) for r in ("1", "0.9", "0.6")]
    rows += [dict(law="weibull", shape=float(b), scale=n, every=t, detection=float(r), missed=float(weibull(b, n, t, r)))
             for b, n, t, r in (("2", 12, 6, "1"), ("2", 12, 6, "0.7"), ("3", 20, 10, "0.9"), ("0.7", 9, 2, "0.5"), ("6", 5, 60, "0.8"))]
    FILE.write_text(json.dumps(dict(
        source="Christer & Waller 1984, J. Opl Res. Soc. 35 (model; page not read); the exponential form is that of Christer's later reviews, derived here",
        generated="generate/missed_defects.py, 30-digit arithmetic (mpmath)", rows=rows), indent=1) + "\n")


if __name__ == "__main__":
    main()
