"""Spares and care with spares: writes expected/base-stock.json, two-echelon.json, order-quantities.json,
marginal-analysis.json, joint-age-order.json.

Poisson base stock by 40-digit sums; depot and sites by direct sums over the depot's backorders; order quantities,
last buys and budgets by plain enumeration; order time with replacement age by Gauss-Legendre quadrature and a search
without derivatives. Sources stand in each file.

    python3 tests/published/generate/spares.py   # from the top folder; needs mpmath, numpy, scipy; two minutes
"""
import functools
import itertools
import json
import pathlib

import mpmath as mp
import numpy as np
from scipy import optimize
from scipy.stats import binom, nbinom, poisson

mp.mp.dps = 40
FOLDER = pathlib.Path(__file__).resolve().parents[1] / "expected"


def write(name, source, out):
    out = {"source": source, "generated": "generate/spares.py", **out}
    (FOLDER / f"{name}.json").write_text(json.dumps(out, indent=1) + "\n")


def digits(x, n=15):
    return float(mp.nstr(mp.mpf(x), n))


def base_stock():
    p = lambda k, m: mp.e ** (-m) * m ** k / mp.factorial(k)
    at_most = lambda k, m: mp.fsum(p(i, m) for i in range(k + 1))
    rows = []
    for text in ("0.1", "0.25", "0.5", "1", "2", "3", "5", "10"):
        m = mp.mpf(text)
        for s in range(16):
            waiting = mp.fsum((k - s) * p(k, m) for k in range(s + 1, s + 250))
            second = mp.fsum((k - s) ** 2 * p(k, m) for k in range(s + 1, s + 250))
            rows.append({"on_order": float(m), "stock": s, "fill_rate": digits(at_most(s - 1, m)) if s else 0.0,
                         "ready_rate": digits(at_most(s, m)), "backorders": digits(waiting),
                         "backorder_variance": digits(second - waiting ** 2),
                         "on_hand": digits(mp.fsum((s - k) * p(k, m) for k in range(s)))})
    need = []
    for text, target in itertools.product(("0.1", "0.5", "1", "2", "5", "10"), ("0.90", "0.95", "0.99")):
        m, t = mp.mpf(text), mp.mpf(target)
        s = next(s for s in itertools.count() if at_most(s, m) >= t)
        need.append({"on_order": float(m), "target": float(t), "for_ready_rate": s, "for_fill_rate": s + 1})
    write("base-stock", "Palm 1938 (that only the mean of independent lead times counts) and Sherbrooke 1968, both from memory",
          {"table": rows, "required": need})


def waiting(stock, m):
    k = np.arange(stock + 1, stock + 400)
    return ((k - stock) * poisson.pmf(k, m)).sum()


def waiting_of(stock, p):
    return (np.maximum(np.arange(len(p)) - stock, 0) * p).sum()


def chain(depot, stock, rates, transit, lead):
    total = sum(rates)
    m0 = total * lead
    mean = waiting(depot, m0)
    k = np.arange(depot + 1, depot + 400)
    variance = ((k - depot) ** 2 * poisson.pmf(k, m0)).sum() - mean ** 2
    size = 200
    behind = np.zeros(size)
    behind[0] = poisson.cdf(depot, m0)
    behind[1:] = poisson.pmf(np.arange(depot + 1, depot + size), m0)
    sites = []
    for rate, days, s in zip(rates, transit, stock):
        share = rate / total
        m = rate * days + share * mean
        v = rate * days + share * (1 - share) * mean + share ** 2 * variance
        k = np.arange(600)
        if v > m + 1e-12:
            q = m / v
            two = nbinom.pmf(k, m * q / (1 - q), q)
        else:
            two = poisson.pmf(k, m)
        mine = np.zeros(size)
        for b in range(size):
            if behind[b] > 1e-18:
                mine[:b + 1] += behind[b] * binom.pmf(np.arange(b + 1), b, share)
        full = np.convolve(mine, poisson.pmf(np.arange(300), rate * days))
        sites.append({"on_order": m, "variance": v, "backorders_mean": waiting(s, m),
                      "backorders_two_moments": waiting_of(s, two), "backorders_exact": waiting_of(s, full),
                      "fill_mean": float(poisson.cdf(s - 1, m)), "fill_exact": full[:s].sum()})
    return {"depot_stock": depot, "stock": list(stock), "rates": list(rates), "transit": list(transit), "lead": lead,
            "depot_backorders": mean, "depot_variance": variance, "depot_delay": mean / total, "sites": sites}


def two_echelon():
    cases = [chain(*a) for a in (
        (2, (1, 1), (.1, .1), (2, 2), 14), (3, (1, 1), (.1, .1), (2, 2), 14), (5, (1,) * 5, (.23,) * 5, (2,) * 5, 4.3),
        (4, (2, 1, 0), (1.0, .3, .1), (1, 2, 4), 5), (0, (3, 3), (.5, .5), (1, 1), 4))]
    rates, transit, lead = (.5, .3, .2), (1, 1, 2), 6
    rows = []
    for n in range(11):
        best = None
        for split in itertools.product(range(n + 1), repeat=4):
            if sum(split) == n:
                value = sum(x["backorders_exact"] for x in chain(split[0], split[1:], rates, transit, lead)["sites"])
                if best is None or value < best[0] - 1e-13:
                    best = (value, split)
        rows.append({"total": n, "split": list(best[1]), "backorders": best[0]})
    write("two-echelon", "Sherbrooke 1968 (mean only) and Graves 1985 (mean and variance), from memory; exact by thinning the "
          "depot's backorders, derived here; inputs invented, the first two those of a documentation page of a general "
          "optimiser (its printed results were not there)",
          {"cases": cases, "best_split": {"rates": rates, "transit": transit, "lead": lead, "rows": rows}})


def order_quantities():
    economic = [{"demand": d, "order_cost": k, "holding": h, "quantity": digits(mp.sqrt(2 * mp.mpf(d) * k / h)),
                 "cost": digits(mp.sqrt(2 * mp.mpf(d) * k * h))} for d, k, h in ((1200, 50, 6), (24, 80, 4), (365, 15, 2.5))]

    def one(y, m):
        return m - y if y <= 0 else m - y + (np.arange(y, 0, -1) * poisson.pmf(np.arange(y), m)).sum()

    one = functools.cache(one)

    def given(r, q, rate, lead, k, h, b):
        m = rate * lead
        late = np.mean([one(r + i, m) for i in range(1, q + 1)])
        held = r + (q + 1) / 2 - m + late
        fill = poisson.cdf(np.arange(r, r + q), m).mean()
        return rate * k / q + h * held + b * late, late, held, float(fill)

    rows = []
    for rate, lead, k, h, b in ((2.0, 3.0, 20, 1.0, 25), (0.5, 4, 30, 2, 60), (10, 1, 50, 1, 9), (0.1, 6, 5, 3, 200)):
        best = min((*given(r, q, rate, lead, k, h, b), r, q) for q in range(1, 60) for r in range(-6, 40))
        rows.append({"rate": rate, "lead": lead, "order_cost": k, "holding": h, "shortage": b, "reorder_point": best[4],
                     "quantity": best[5], "cost": best[0], "backorders": best[1], "on_hand": best[2], "fill_rate": best[3],
                     "economic": float(np.sqrt(2 * rate * k / h)),
                     "economic_with_waiting": float(np.sqrt(2 * rate * k * (h + b) / (h * b)))})
    buys = []
    for mean, short, left in ((20, 180, 12), (7.5, 900, 40), (40, 60, 25)):
        k = np.arange(400)
        cost = lambda q: ((short * np.maximum(k - q, 0) + left * np.maximum(q - k, 0)) * poisson.pmf(k, mean)).sum()
        costs = [cost(q) for q in range(150)]
        size = 1 / .4 ** 2
        buys.append({"mean": mean, "short": short, "left": left, "quantity": int(np.argmin(costs)), "cost": min(costs),
                     "quantity_cv_0_4": int(nbinom.ppf(short / (short + left), size, size / (size + mean)))})
    write("order-quantities", "Harris 1913 (economic quantity), Hadley & Whitin 1963 (reorder point and quantity), the newsvendor's "
          "rule, all from memory; by enumeration", {"economic": economic, "reorder": rows, "last_buy": buys})


def marginal_analysis():
    parts = [{"on_order": .8, "price": 120, "positions": 1}, {"on_order": .3, "price": 60, "positions": 2},
             {"on_order": 2.5, "price": 15, "positions": 4}, {"on_order": 1.2, "price": 35, "positions": 2}]
    p = lambda k, m: mp.e ** -m * m ** k / mp.factorial(k)
    late = lambda s, i: mp.mpf(str(i["on_order"])) - s + mp.fsum(
        (s - k) * p(k, mp.mpf(str(i["on_order"]))) for k in range(s))
    table = [[late(s, i) for s in range(15)] for i in parts]
    up = lambda s: digits(mp.fprod((1 - t[n] / (10 * i["positions"])) ** i["positions"] for t, n, i in zip(table, s, parts)))
    s, path = [0] * 4, []
    for _ in range(23):
        path.append({"stock": list(s), "spent": sum(n * i["price"] for n, i in zip(s, parts)),
                     "backorders": digits(mp.fsum(t[n] for t, n in zip(table, s))), "availability": up(s)})
        s[int(np.argmax([float((t[n] - t[n + 1]) / i["price"]) for t, n, i in zip(table, s, parts)]))] += 1
    plain = [[float(x) for x in t] for t in table]
    every = [(sum(n * i["price"] for n, i in zip(x, parts)), sum(plain[j][x[j]] for j in range(4)), x)
             for x in itertools.product(range(14), repeat=4)]
    budgets = []
    for b in (100, 200, 300, 400, 500, 600, 700):
        late, spent, x = min((e, c, x) for c, e, x in every if c <= b)
        last = [q for q in path if q["spent"] <= b][-1]
        budgets.append({"budget": b, "stock": list(x), "backorders": late, "spent": spent, "efficient": last["stock"]})
    write("marginal-analysis", "Fox 1966 (marginal analysis) and Sherbrooke (availability), from memory; budgets by enumeration "
          "of 14^4 mixes; parts invented", {"parts": parts, "machines": 10, "path": path, "budgets": budgets})


def joint():
    x, w80 = np.polynomial.legendre.leggauss(80)

    def area(f, a, b):
        return (b - a) / 2 * (w80 * f((b - a) / 2 * x + (a + b) / 2)).sum()

    def rate(w, age, shape, scale, lead, planned, failed, holding, waiting):
        r, f = lambda t: np.exp(-(t / scale) ** shape), lambda t: -np.expm1(-(t / scale) ** shape)
        held = area(r, w + lead, age)
        up = area(r, 0, w) + area(r, w, w + lead) + held
        down = area(f, w, w + lead)
        return (planned * r(age) + failed * f(age) + holding * held + waiting * down) / (up + down)

    rows = []
    for c in (dict(shape=2., scale=20., lead=3., planned=10., failed=60., holding=.5, waiting=25.),
              dict(shape=3., scale=36., lead=6., planned=15., failed=120., holding=1., waiting=40.),
              dict(shape=2.5, scale=24., lead=2., planned=5., failed=20., holding=2., waiting=10.)):
        best = None
        f = lambda v: rate(abs(v[0]), abs(v[0]) + c["lead"] + abs(v[1]), **c)
        for w, d in itertools.product(np.linspace(0, 1.2, 9), (.02, .2, .6)):
            o = optimize.minimize(f, [w * c["scale"], d * c["scale"]], method="Nelder-Mead",
                                  options=dict(xatol=1e-10 * c["scale"], fatol=1e-15, maxiter=6000, maxfev=6000))
            if best is None or o.fun < best.fun - 1e-14:
                best = o
        w, age = abs(best.x[0]), abs(best.x[0]) + c["lead"] + abs(best.x[1])
        r = lambda t: np.exp(-(t / c["scale"]) ** c["shape"])
        alone = optimize.minimize_scalar(lambda t: (c["planned"] * r(t) + c["failed"] * (1 - r(t))) / area(r, 0, t),
                                         bounds=(.05 * c["scale"], 3 * c["scale"]), method="bounded", options=dict(xatol=1e-9)).x
        then = optimize.minimize_scalar(lambda w: rate(w, max(alone, w + c["lead"]), **c), bounds=(0, max(alone - c["lead"], 1e-9)),
                                        method="bounded", options=dict(xatol=1e-10))
        rows.append({**c, "order_at": float(w) if w > 1e-9 else 0.0, "replace_at": float(age), "cost": float(best.fun),
                     "on_arrival": bool(age - w - c["lead"] < 1e-5 * c["scale"]), "apart_replace_at": float(alone),
                     "apart_cost": float(then.fun), "saving": float(1 - best.fun / then.fun)})
    steady = []
    for hazard, lead, failed, holding, waiting in ((1 / 24., 2., 20., 2., 30.), (1 / 24., 2., 20., 2., 3.)):
        e = np.exp(-hazard * lead)
        late = lead - (1 - e) / hazard
        stocked = (failed + holding * e / hazard + waiting * late) / (1 / hazard + late)
        steady.append({"hazard": hazard, "lead": lead, "failed": failed, "holding": holding, "waiting": waiting,
                       "stocked": stocked, "on_failure": (failed + waiting * lead) / (1 / hazard + lead)})
    write("joint-age-order", "Armstrong & Atkins 1996, IIE Transactions (model from memory; paper not read); searched by "
          "Nelder-Mead; exponential lives in closed form", {"cases": rows, "exponential": steady})


base_stock()
two_echelon()
order_quantities()
marginal_analysis()
joint()
