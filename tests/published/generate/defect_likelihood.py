"""Likelihood of a handful of inspection histories under the two-stage (delay-time) model, by 30-digit
quadrature between the looks, and closed forms for exponential stages. Written apart from the program it
checks; the model is that of Christer & Waller 1984 (definition read, formulas derived).

Needs mpmath (a general-purpose numerical library). Writes expected/defect-likelihood.json. Histories are
invented.
"""

import json
import pathlib

import mpmath as mp

mp.mp.dps = 30
FILE = pathlib.Path(__file__).resolve().parents[1] / "expected" / "defect-likelihood.json"


def weibull(shape, scale):
    b, n = mp.mpf(shape), mp.mpf(scale)
    s = lambda t: mp.exp(-((t / n) ** b)) if t > 0 else mp.mpf(1)
    f = lambda t: b / n * (t / n) ** (b - 1) * s(t) if t > 0 else mp.mpf(0)
    return f, s, lambda t: -mp.expm1(-((t / n) ** b))


def lognormal(mu, sigma):
    m, d = mp.mpf(mu), mp.mpf(sigma)
    z = lambda t: (mp.log(t) - m) / d
    s = lambda t: mp.erfc(z(t) / mp.sqrt(2)) / 2 if t > 0 else mp.mpf(1)
    f = lambda t: mp.exp(-z(t) ** 2 / 2) / (t * d * mp.sqrt(2 * mp.pi))
    return f, s, lambda t: mp.erfc(-z(t) / mp.sqrt(2)) / 2


def law(spec):
    return (lognormal if spec["family"] == "lognormal" else weibull)(*spec["parameters"])


def between(looks, end, scales):
    """Ends of the smooth pieces: the looks, and cuts that keep each piece short and graded to both ends."""
    marks = {mp.mpf(0), mp.mpf(end)} | {mp.mpf(a) for a in looks if a < end}
    step = min(mp.mpf(s) for s in scales) / 4
    x = step
    while x < end:
        marks.add(x)
        x += step
    for k in range(1, 12):
        marks.add(mp.mpf(end) / 4 ** k)
        marks.add(end - mp.mpf(end) / 4 ** k)
    return sorted(marks)


def weighted(f_u, kernel, looks, end, r, scales):
    """Integral of f_U(u) (1 - r)^(looks after u) kernel(end - u) over (0, end); the last piece runs over the
    distance from the end, so that a singularity there keeps its digits."""
    total = mp.mpf(0)
    marks = between(looks, end, scales)
    for a, b in zip(marks, marks[1:]):
        after = sum(1 for look in looks if look >= b)
        factor = (1 - mp.mpf(r)) ** after if after else mp.mpf(1)
        if factor:
            total += factor * (mp.quad(lambda d: f_u(end - d) * kernel(d), [0, end - a]) if b == end and a > 0
                               else mp.quad(lambda u: f_u(u) * kernel(end - u), [a, b]))
    return total


def running(u, h, looks, t, r, scales):
    return u[1](t) + weighted(u[0], h[1], looks, t, r, scales)


def likelihood(case):
    u, h, r = law(case["defect"]), law(case["delay"]), mp.mpf(case["detection"])
    looks, entry, scales = case["looks"], case["entry"], case["steps"]
    kind, times = case["ended"], [mp.mpf(t) for t in case["ages"]]
    t = times[-1]
    if kind == "running":
        value = running(u, h, looks, t, r, scales)
    elif kind == "failed":
        value = weighted(u[0], h[0], looks, t, r, scales)
    elif kind == "found":
        value = r * weighted(u[0], h[1], looks, t, r, scales)
    else:
        s = times[0]
        value = weighted(u[0], lambda d: h[1](d) - h[1](t - s + d), looks, s, r, scales) if s else 0
        cuts = sorted({s, t} | {s + (t - s) * k / 16 for k in range(17)} | {t - (t - s) / 4 ** k for k in range(3, 14)}
                      | ({t / 4 ** k for k in range(3, 14)} if s == 0 else set()))
        value += sum(mp.quad(lambda x: u[0](x) * h[2](t - x), [a, b]) for a, b in zip(cuts, cuts[1:]))
    if entry:
        before = [a for a in looks if a < entry]
        value /= running(u, h, before, mp.mpf(entry), r, scales)
    return mp.log(value)


def weib(shape, scale):
    return {"family": "weibull", "parameters": [shape, scale]}


def histories():
    usual = dict(defect=weib("2.6", "480"), delay=weib("1.8", "190"), steps=["300", "120"])
    steep = dict(defect=weib("12", "400"), delay=weib("9", "150"), steps=["20", "10"])
    early = dict(defect=weib("0.6", "300"), delay=weib("0.7", "100"), steps=["100", "50"])
    short = dict(defect=weib("2.6", "480"), delay=weib("1.5", "9"), steps=["300", "8"])
    logs = dict(defect={"family": "lognormal", "parameters": ["6", "0.5"]},
                delay={"family": "lognormal", "parameters": ["4.5", "0.8"]}, steps=["100", "30"])
    sixty = [60, 120, 180, 240, 300]
    for name, laws in (("usual", usual), ("steep", steep), ("early", early), ("short delay", short), ("lognormal", logs)):
        for ended, looks, entry, ages, r in (
            ("failed", sixty, 0, [352], "0.7"),
            ("failed", sixty, 0, [352], "1"),
            ("failed", [], 0, [352], "0.7"),
            ("found", sixty, 0, [361], "0.7"),
            ("found", [], 0, [90], "1"),
            ("running", sixty, 0, [340], "0.7"),
            ("running", sixty, 0, [300], "0.25"),
            ("running", [3], 0, [700], "0.9"),
            ("between", sixty, 0, [300, 360], "0.7"),
            ("between", sixty, 0, [350, 351], "0.7"),
            ("between", [], 0, [0, 45], "0.7"),
            ("found", sixty, 200, [361], "0.7"),
            ("failed", [240, 300], 200, [352], "0.7"),
            ("running", sixty, 150, [340], "0.6"),
        ):
            yield dict(name=f"{name}: {ended}, {len(looks)} looks, r {r}", ended=ended, looks=looks, entry=entry,
                       ages=ages, detection=r, **laws)


def closed(a, m, t):
    """Density of U + H at t for exponential U (rate a) and H (rate m)."""
    return a * m / (m - a) * (mp.exp(-a * t) - mp.exp(-m * t))


def main():
    out = []
    for case in histories():
        case["value"] = float(likelihood(case))
        case["detection"] = float(case["detection"])
        for stage in ("defect", "delay"):
            case[stage]["numbers"] = [float(p) for p in case[stage]["parameters"]]
        case.pop("steps")
        out.append(case)
        print(case["name"], case["value"], flush=True)
    forms = []
    for a, m, t in (("0.002", "0.01", 300), ("0.01", "0.002", 50), ("0.004", "0.1", 900)):
        a, m = mp.mpf(a), mp.mpf(m)
        alive = (m * mp.exp(-a * t) - a * mp.exp(-m * t)) / (m - a)
        forms.append(dict(defect_rate=float(a), delay_rate=float(m), age=t,
                          ln_density=float(mp.log(closed(a, m, t))), ln_survival=float(mp.log(alive))))
    FILE.write_text(json.dumps(dict(
        source="Christer & Waller 1984 (model; page not read), formulas derived; invented histories",
        generated="generate/defect_likelihood.py, 30-digit quadrature (mpmath)",
        histories=out, exponential=forms), indent=1, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
