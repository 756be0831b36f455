"""Expected values of the motor insulation test that no source prints: each temperature by itself, and
one shape with the temperature as a factor. Writes them into expected/motor-insulation.json.

    python3 motor_insulation.py
"""

import json
import pathlib

import mpmath as mp
from likelihood import lives, maximum

FILE = pathlib.Path(__file__).resolve().parents[1] / "expected" / "motor-insulation.json"
LEVELS = ["170", "190", "220"]
LAWS = ["weibull", "lognormal"]


def chi_square(statistic, df):
    return {"statistic": float(statistic), "p_value": float(mp.gammainc(mp.mpf(df) / 2, statistic / 2, regularized=True))}


def one_temperature(law, rows):
    x, covariance, value = maximum(law, rows, lambda row: [1], [8.0, -1.0])
    standard = mp.log(-mp.log(mp.mpf("0.9"))) if law == "weibull" else -mp.sqrt(2) * mp.erfinv(mp.mpf("0.8"))
    return x, {
        "mu": float(x[0]),
        "logsigma": float(x[1]),
        "loglik": float(value),
        "cov.mu_mu": float(covariance[0, 0]),
        "cov.mu_logsigma": float(covariance[0, 1]),
        "cov.logsigma_logsigma": float(covariance[1, 1]),
        "B10": float(mp.exp(x[0] + mp.exp(x[1]) * standard)),
    }, value


def main():
    rows = [r for r in lives("motor-insulation") if r[5]["temperature_c"] in LEVELS]
    alone, factor = {}, {}
    for law in LAWS:
        alone[law], apart = {}, mp.mpf(0)
        for level in LEVELS:
            mine = [r for r in rows if r[5]["temperature_c"] == level]
            _, alone[law][level], value = one_temperature(law, mine)
            apart += value
        design = lambda row: [1] + [int(row["temperature_c"] == level) for level in LEVELS[1:]]
        x, covariance, value = maximum(law, rows, design, [8.8, -0.5, -1.0, -0.7])
        _, _, pooled = maximum(law, rows, lambda row: [1], [8.3, -0.5])
        names = ["b0", "b_190", "b_220", "logsigma"]
        factor[law] = {name: float(v) for name, v in zip(names, x)}
        factor[law] |= {f"se_{name}": float(mp.sqrt(covariance[i, i])) for i, name in enumerate(names)}
        factor[law]["loglik"] = float(value)
        factor[law]["common_shape"] = chi_square(2 * (apart - value), 2)
        factor[law]["common_life"] = chi_square(2 * (value - pooled), 2)
    case = json.loads(FILE.read_text())
    case["by_temperature"], case["factor"] = alone, factor
    case["generated"] = "by_temperature and factor: generate/motor_insulation.py, 50-digit arithmetic (mpmath)"
    FILE.write_text(json.dumps(case, indent=1, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
