"""The sheets' figures against the run's own: the parts of the saving add up, and duties that need less have a row.

Usage: python3 tests/sheets/figures.py REPORT_FOLDER     # needs pdftotext; exits with 1 and the reason
"""

import json
import re
import subprocess
import sys
from pathlib import Path

FOLDER = Path(sys.argv[1])


def text(name: str) -> str:
    out = subprocess.run(["pdftotext", "-layout", FOLDER / name, "-"], capture_output=True, text=True, check=True)
    return re.sub(r"[\s ]+", " ", out.stdout)


def refuse(why: str) -> None:
    print(why)
    sys.exit(1)


results = json.loads((FOLDER / "results.json").read_text())
decision, intervals = text("decision.pdf"), text("intervals.pdf")

# "(EUR 222,000 less), ... (EUR 118,000 more), ... (EUR 153,000 less, ...): EUR 257,000 less."
parts = re.search(r"failures go from .*?\): EUR [\d,]+ (?:less|more)", decision)
if not parts:
    refuse("the decision sheet does not say what the saving is made of")
moved = re.findall(r"EUR ([\d,]+) (less|more)", parts.group())
if len(moved) != 4:
    refuse(f"four amounts were looked for: {parts.group()}")
*each, whole = [int(x.replace(",", "")) * (1 if way == "less" else -1) for x, way in moved]
years = [(p["today"], p["plan"]) for p in results["money"]["parts"]]
for told, name in zip([*each, whole], ["failures_money", "planned_money", "handled_money", "cost"]):
    want = sum(today[name] - plan[name] for today, plan in years)
    if abs(told - want) > 0.01 * abs(whole):
        refuse(f"{name}: the sheet says {told}, the run {want:.0f}")

rows = 0
groups = {g["group"]["material"]: g for g in results["intervals"]["groups"]}
for duty in results["intervals_by_duty"]["groups"]:
    own, group = duty["clocks"][0], groups[duty["group"]["material"]]["clocks"][0]
    if not own["state"] or own["state"]["age"] >= group["state"]["age"]:
        continue
    name = f"{duty['group']['material']} {duty['group']['product']} ("
    if name not in intervals:
        refuse(f"{name} needs a shorter interval than its group's and has no row")
    rows += 1
if rows == 0:
    refuse("no duty with a shorter interval was found to look for")
print(f"the saving's parts agree, {rows} duties have their row")
