"""Trials planned ahead, by 50-digit arithmetic: writes expected/trial-plans.json.

Seals to show a reliability, n = ln(1 - C) / (m^b ln R), and with failures allowed the least n with
P(at most r fail) <= 1 - C; Weibull lower bounds with known shape, (2 sum t^b / chi2)^(1/b); the confidence that is
left when the shape is wrong; and the asymptotic variance of the ln ratio of two Weibull lives with a common shape,
each score's square integrated directly over ln life.

    python3 tests/published/generate/trial_plans.py   # from the top folder; needs mpmath; a minute
"""
import json
import mpmath as mp

mp.mp.dps = 50
f = lambda x: mp.mpf(str(x))
near = lambda x: float(x)

out = {"source": "binomial and Weibull arithmetic in 50 digits (generate/trial_plans.py); formulas from memory, "
                 "Meeker & Escobar 1998, section 10.6"}

out["zero_failures"] = [
    {"shape": b, "ratio": m, "confidence": c, "reliability": r, "exact": near(x), "seals": int(mp.ceil(x - mp.mpf("1e-12")))}
    for c in (0.5, 0.6, 0.8, 0.9, 0.95, 0.99) for r in (0.8, 0.9, 0.95, 0.99, 0.999)
    for b, m in ((1, 1), (1, 1.5), (1.5, 2), (2, 2), (2, 3), (2.5, 1.5), (3, 2), (3, 3))
    for x in [mp.log(1 - f(c)) / (f(m) ** f(b) * mp.log(f(r)))]]


def at_most(r, n, q):
    return mp.fsum(mp.binomial(n, k) * q ** k * (1 - q) ** (n - k) for k in range(r + 1))


def least(r, q, c):
    n = r + 1
    while at_most(r, n, q) > 1 - c:
        n += 1
    return n


out["with_failures"] = [
    {"reliability": r, "confidence": c, "failures": k, "seals": least(k, 1 - f(r), f(c))}
    for r in (0.9, 0.95, 0.99) for c in (0.9, 0.95) for k in range(4)]


def failing(n, k, c):
    return mp.findroot(lambda q: at_most(k, n, q) - (1 - c), (f(k) / n + mp.mpf(1) / (10 * n), f(k + 3) / n), solver="anderson")


out["durations"] = [
    {"seals": n, "failures": k, "shape": b, "confidence": 0.9, "reliability": 0.9,
     "ratio": near((mp.log(1 - q) / mp.log(f(0.9))) ** (1 / f(b)))}
    for n in (5, 10, 22) for k in (0, 1, 2) for b in (1, 2, 3) for q in [failing(n, k, f(0.9))]]

TIMES = [1200, 1500, 1500, 1800, 2000, 2400, 900, 600]


def chi2(c, df):
    return mp.findroot(lambda x: mp.gammainc(mp.mpf(df) / 2, 0, x / 2, regularized=True) - c, (df * mp.mpf("0.5") + 0.1, df * 2 + 6), solver="anderson")


out["known_shape"] = {"times": TIMES, "rows": [
    {"shape": b, "failures": r, "confidence": c, "scale": near(eta), "b10": near(eta * (-mp.log(f(0.9))) ** (1 / f(b)))}
    for b in (1.5, 2, 3) for r in (0, 1, 2) for c in (0.632, 0.9, 0.95)
    for eta in [(2 * mp.fsum(f(t) ** f(b) for t in TIMES) / chi2(f(c), 2 * r + 2)) ** (1 / f(b))]]}

out["wrong_shape"] = {"seals": 3, "assumed": 3, "shape": 1.5, "ratio": 2, "reliability": 0.9,
                      "confidence": near(1 - mp.e ** (3 * f(2) ** f(1.5) * mp.log(f(0.9))))}


def information(end):
    """E of the squared scores of the standard smallest extreme value law, watched until z = end."""
    density = lambda z: mp.e ** (z - mp.e ** z)
    sound = mp.e ** (-mp.e ** end)
    place = lambda z, d: mp.e ** z - d
    scale = lambda z, d: (mp.e ** z - d) * z - d
    cuts = [z for z in (-60, -20, -8, -4, -2, -1, 0, 1, 2, 3) if z < end] + [end]
    mean = lambda g: mp.quad(lambda z: g(z, 1) * density(z), cuts) + g(end, 0) * sound
    return [mean(lambda z, d: place(z, d) ** 2), mean(lambda z, d: place(z, d) * scale(z, d)), mean(lambda z, d: scale(z, d) ** 2)]


def variance(ratio, shape, time):
    first = shape * mp.log(time)
    a, b = information(first), information(first - shape * mp.log(ratio))
    m = mp.matrix([[a[0], 0, a[1]], [0, b[0], b[1]], [a[1], b[1], a[2] + b[2]]])
    inverse = m ** -1
    return (inverse[0, 0] + inverse[1, 1] - 2 * inverse[0, 1]) / shape ** 2


out["ln_ratio_variance"] = [
    {"ratio": r, "shape": b, "time": t, "variance": near(variance(f(r), f(b), f(t)))}
    for r in (0.6, 1.5, 3) for b in (1, 2.5) for t in (0.4, 1, 2.5)]

with open("tests/published/expected/trial-plans.json", "w") as file:
    text = json.dumps(out)
    text = text.replace('": [{', '": [\n    {')
    text = text.replace("}, {", "},\n    {").replace('], "', '],\n  "').replace('}, "', '},\n  "')
    file.write(text.replace('{"source"', '{\n  "source"', 1) + "\n")
