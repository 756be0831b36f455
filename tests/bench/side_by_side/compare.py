"""The same fits by sealspan, scipy and R on the same invented data: answers compared, processor times set against each
other. Each is timed inside its own running program, on data already read, for the estimates alone.
"""

import json
import os
import subprocess
import sys
import time

import numpy as np
import scipy
from scipy import optimize, stats

FITS, R_SCRIPT, FOLDER = sys.argv[1:]
SIZES = (2000, 100_000)
REFITS = 10_000
ROWS = []


def lives(size):
    draw = np.random.default_rng(size)
    site = draw.integers(0, 4, size)
    life = 1000 * np.exp(0.1 * site) * draw.weibull(1.8, size)
    censored = 2000 * draw.random(size)
    return np.maximum(np.round(np.minimum(life, censored), 2), 0.01), life <= censored, site


def inspected(size):
    draw = np.random.default_rng(7)
    life = 1000 * draw.weibull(1.8, size)
    every = draw.choice([60, 75, 90], size)
    last = draw.choice([600, 1200, 1800], size)
    lower = np.floor(life / every) * every
    return [(int(min(a, b)), "" if a >= b else int(a + e)) for a, b, e in zip(lower, last, every)]


def write(name, head, rows):
    with open(f"{FOLDER}/{name}.csv", "w") as file:
        file.write(head + "\n")
        file.writelines(",".join(map(str, row)) + "\n" for row in rows)


def timed(task, least=0.3):
    """Best of three, each repeated until it can be timed."""
    answer, best = task(), np.inf
    for _ in range(3):
        start, times = time.process_time(), 0
        while time.process_time() - start < least:
            answer, times = task(), times + 1
        best = min(best, (time.process_time() - start) / times)
    return best, answer


def ran(*command):
    run = subprocess.run(command, capture_output=True, text=True)
    if run.returncode:
        sys.exit(f"{command}: {run.stderr}")
    return {row["name"]: row for row in map(json.loads, run.stdout.splitlines())}


def set_against(what, by, ours, seconds, other, tolerance):
    """One row of the table; stops where the answers differ."""
    answer, other = np.asarray(ours["answer"], float)[: len(other)], np.asarray(other, float)
    apart = np.max(np.abs(answer - other) / np.maximum(np.abs(answer), 0.1))
    assert apart < tolerance, f"{what}, {by}: {answer} against {other}"
    ROWS.append((what, by, ours["seconds"], seconds, seconds / ours["seconds"], f"{apart:.0e}"))


def scipy_laws(size, ours):
    t, failed, _ = lives(size)
    data = stats.CensoredData(uncensored=t[failed], right=t[~failed])
    laws = {
        "weibull": (stats.weibull_min, lambda shape, scale: [shape, scale]),
        "lognormal": (stats.lognorm, lambda shape, scale: [np.log(scale), shape]),
        "gamma": (stats.gamma, lambda shape, scale: [shape, scale]),
    }
    for law, (theirs, ordered) in laws.items():
        seconds, (shape, _, scale) = timed(lambda: theirs.fit(data, floc=0))
        # scipy's own search, a simplex, stops at changes of 1e-4.
        set_against(f"{law}, {size:,} lives", "scipy.stats", ours[f"{law} {size}"], seconds, ordered(shape, scale), 1e-5)


def scipy_regression(size, ours):
    t, failed, site = lives(size)
    design = np.stack([np.ones(size), *(site == k for k in (1, 2, 3))], axis=1).astype(float)
    log = np.log(t)

    def loss(x):
        """Minus the log-likelihood of a Weibull regression on ln t, and its gradient."""
        z = (log - design @ x[:-1]) / np.exp(x[-1])
        hazard = np.exp(z)
        over = failed - hazard
        value = np.sum(hazard) - np.sum((z - x[-1] - log)[failed])
        return value / size, np.append(design.T @ over / np.exp(x[-1]), np.sum(failed) + np.sum(over * z)) / size

    start = np.array([log.mean(), 0, 0, 0, 0])
    seconds, found = timed(lambda: optimize.minimize(loss, start, jac=True, method="BFGS", options={"gtol": 1e-7}))
    answer = [*found.x[1:4], np.exp(found.x[4]), -found.fun * size]
    set_against(f"Weibull regression on 4 sites, {size:,} lives", "scipy.optimize, likelihood in numpy",
                ours[f"regression {size}"], seconds, answer, 1e-5)


def scipy_refits(ours, count=20):
    """Refits of a 200-row sample: few, multiplied."""
    t, failed, _ = lives(2000)
    data = stats.CensoredData(uncensored=t[:200][failed[:200]], right=t[:200][~failed[:200]])
    shape, _, scale = stats.weibull_min.fit(data, floc=0)
    draw = np.random.default_rng(1)
    start = time.process_time()
    for _ in range(count):
        life, censored = scale * draw.weibull(shape, 200), 2000 * draw.random(200)
        seen, ended = np.minimum(life, censored), life <= censored
        stats.weibull_min.fit(stats.CensoredData(uncensored=seen[ended], right=seen[~ended]), floc=0)
    multiplied("scipy.stats", ours, (time.process_time() - start) / count)


def multiplied(by, ours, seconds_each):
    seconds = seconds_each * REFITS
    ROWS.append((f"{REFITS:,} refits of 200 lives", by, ours["seconds"], seconds, seconds / ours["seconds"], "drawn anew"))


def main():
    for size in SIZES:
        t, failed, site = lives(size)
        rows = list(zip(t, np.where(failed, "failed", "running"), (f"S{k}" for k in site)))
        write(f"lives-{size}", "time,status,site", rows)
        if size == SIZES[0]:
            write("lives-200", "time,status,site", rows[:200])
    write("looks-2000", "lower,upper", inspected(2000))
    ours, r = ran(FITS, FOLDER), ran("Rscript", R_SCRIPT, FOLDER)
    for size in SIZES:
        scipy_laws(size, ours)
        for name, what in [(f"weibull {size}", "weibull"), (f"lognormal {size}", "lognormal"),
                           (f"regression {size}", "Weibull regression on 4 sites")]:
            set_against(f"{what}, {size:,} lives", "R survreg", ours[name], r[name]["seconds"], r[name]["answer"], 1e-6)
        scipy_regression(size, ours)
    scipy_refits(ours["refits of 200"])
    multiplied("R survreg", ours["refits of 200"], r["refits of 200"]["seconds"] / r["refits of 200"]["answer"][0])
    curve = r["interval curve 2000"]
    set_against("interval curve of 2,000 lives between looks", "R survfit", ours["interval curve 2000"],
                curve["seconds"], curve["answer"], 2e-3)
    print(f"numpy {np.__version__}, scipy {scipy.__version__}, {subprocess.getoutput('R --version').splitlines()[0]}; "
          f"load {os.getloadavg()[0]:.1f}; seconds of processor, one thread\n")
    print("| task | by | sealspan | the other | ratio | answers apart |\n|---|---|---|---|---|---|")
    for what, by, own, theirs, ratio, apart in ROWS:
        print(f"| {what} | {by} | {own:.2g} | {theirs:.2g} | {ratio:.3g} | {apart} |")


main()
