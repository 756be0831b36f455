"""The life under two independent Weibull modes, from the fitted parameters in the expected file: survival,
quantiles and mean in 50-digit arithmetic. Written apart from the program it checks.

Needs mpmath (a general-purpose numerical library). Writes `together` into the expected file.
"""

import json
import pathlib

import mpmath as mp

mp.mp.dps = 50
FILE = pathlib.Path(__file__).resolve().parents[1] / "expected" / "monoclonal-gammopathy.json"


def main():
    case = json.loads(FILE.read_text())
    modes = [(mp.mpf(w["shape"]), mp.mpf(w["scale"])) for w in case["weibull"].values()]
    hazard = lambda t: sum((t / scale) ** shape for shape, scale in modes)
    quantile = lambda p: mp.findroot(lambda x: mp.log(hazard(mp.exp(x)) / -mp.log(1 - mp.mpf(p))), 4)
    # t = exp(x): the integrand is smooth, and nothing to 40 digits outside these ends.
    mean = mp.quad(lambda x: mp.exp(x - hazard(mp.exp(x))), list(range(-100, 12)))
    case["together"] = {
        "survival": [{"age": age, "value": float(mp.exp(-hazard(mp.mpf(age))))} for age in (12, 120, 600)],
        "quantile": [{"share": float(p), "value": float(mp.exp(quantile(p)))} for p in ("0.01", "0.1", "0.5", "0.99")],
        "mean": float(mean),
    }
    case["generated"] = "together: generate/competing_life.py, 50-digit arithmetic (mpmath)"
    FILE.write_text(json.dumps(case, indent=1, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
