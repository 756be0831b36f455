"""Invented records of the made-up Harrow Lane tanks, written to hit every way a seal's time can end."""

import csv
import datetime as dt
import random

FROM, LAST = dt.date(2018, 6, 1), dt.date(2025, 6, 30)
# A name that has to be quoted wherever it stands.
ODD = 'Line "A"; --'
SEALS = ["seal", "asset", "position", "material", ODD, "fitted", "removed", "outcome", "mechanism", "last_known_good"]
LOOKS = ["seal", "asset", "position", "date", "finding"]
LIVES = ["lower", "upper", "entry", "count", "mode", "site"]


def days(n):
    return dt.timedelta(days=n)


def ending(draw, fitted, end):
    """Outcome, mechanism and day last known good of a seal that came off on a day."""
    kind = draw.choices(["failed", "Failed ", "worn", "preventive", "opportunity", "unknown", ""], [40, 5, 20, 15, 5, 5, 5])[0]
    mechanism = draw.choice(["cut", "extruded", "", "Compression Set"]) if kind.strip().lower() == "failed" else ""
    good = ""
    if kind.strip().lower() in ("failed", "worn") and draw.random() < 0.2:
        good = fitted + days(draw.randint(0, (end - fitted).days))
    return kind, mechanism, good


def looks_of(draw, name, home, fitted, end, outcome):
    """Looks while the seal was in place, and at its removal; some name the seal, some the place."""
    rows = []

    def look(day, finding):
        named = draw.random() < 0.5
        rows.append([name if named else "", *(("", "") if named and draw.random() < 0.5 else home), day, finding])

    day = fitted + days(draw.randint(0, 90))
    while day < end:
        worn = draw.random() < 0.15
        look(day, draw.choice(["worn", "Worn"]) if worn else draw.choice(["sound", "sound", ""]))
        if draw.random() < 0.02:
            look(day, "failed")
        day += days(draw.choice([30, 60, 61, 90]))
    kind = outcome.strip().lower()
    if kind in ("failed", "worn") and draw.random() < 0.5:
        look(end, draw.choice(["failed", "worn"]) if kind == "failed" else "worn")
        if draw.random() < 0.2:
            look(end, "sound")
    return rows


def fleet(draw):
    seals, looks = [], []
    for asset in range(70):
        for position in (["manway", "drain"] if asset % 3 else [""]):
            home = (f"HL-T{asset:02}", position)
            day = dt.date(2016, 1, 1) + days(draw.randint(0, 1500))
            while day < LAST:
                name = f"S{len(seals):05}"
                material = draw.choice(["EPDM", "NBR", "FKM", ""])
                scale = {"EPDM": 500, "NBR": 350, "FKM": 800, "": 400}[material]
                end = day + days(int(draw.weibullvariate(scale, 1.8)) if draw.random() > 0.02 else 0)
                row = [name, *home, material, draw.choice(["wet end", "dry, end", ""])]
                if end > LAST:
                    seals.append([*row, day, "", draw.choice(["", "in_service", "In service", "unknown"]), "", ""])
                    looks += looks_of(draw, name, home, day, LAST, "")
                    break
                kind, mechanism, good = ending(draw, day, end)
                seals.append([*row, day, end, kind, mechanism, good])
                looks += looks_of(draw, name, home, day, end, kind)
                day = end + days(draw.choice([0, 0, 1, 20]))
    return seals, looks


def faults(seals, looks):
    """Rows that are set aside, each on an asset of its own."""
    day = dt.date(2022, 3, 1)
    bad = [
        ("", "", ""), (day, day - days(9), "failed"), (day, "", "failed"), (day, day + days(9), "in_service"),
        (day, day + days(9), "gone"), (LAST + days(3), "", ""), (day, LAST + days(3), "worn"),
        (dt.date(2015, 1, 1), dt.date(2015, 9, 1), "failed"),
    ]
    for n, (fitted, removed, outcome) in enumerate(bad):
        seals.append([f"F{n}", f"HL-F{n}", "", "EPDM", "wet end", fitted, removed, outcome, "", ""])
    seals.append(["F8", "HL-F8", "", "EPDM", "wet end", day, day + days(50), "failed", "", day + days(60)])
    looks += [["", "HL-T01", "manway", "", "sound"], ["", "HL-T01", "manway", day, "odd"], ["", "HL-Z", "", day, "failed"]]


def lives(draw):
    rows = []
    for _ in range(3000):
        age, entry = round(draw.weibullvariate(900, 1.6), 1) + 0.1, draw.choice(["", 0, 0, 25.5])
        last = age + 30
        mode = draw.choice(["leak", "cut"])
        rows.append(draw.choice([
            [last, "", entry, "", "", "Beck"], ["", last, entry, 2, mode, "Dene"],
            [last, last, entry, 1, mode, ""], [last, last + 14, entry, 3, mode, "Beck"],
        ]))
    return rows * 2


def write(path, names, rows):
    with open(path, "w", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([names, *rows])


def make(folder):
    draw = random.Random(20250630)
    seals, looks = fleet(draw)
    faults(seals, looks)
    write(folder / "seals.csv", SEALS, seals)
    write(folder / "inspections.csv", LOOKS, looks)
    write(folder / "lives.csv", LIVES, lives(draw))
    for name, dates in [("study", f'cut_off = "{LAST}"\nrecords_from = "{FROM}"\n'), ("open", "")]:
        (folder / f"{name}.toml").write_text(
            f'title = "Invented tanks"\n{dates}\n[files]\nseals = "seals.csv"\ninspections = "inspections.csv"\n'
        )
