"""plan.xlsx recalculated: changes one input at a time in the workbook, lets LibreOffice recalculate it headless, and
compares every formula with the workbook that sealspan writes for a study with that input changed.

    python3 tests/spreadsheet/check.py SEALSPAN STUDY FOLDER   # needs soffice
"""
import pathlib
import re
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
import zipfile

NS = {"m": "http://schemas.openxmlformats.org/spreadsheetml/2006/main"}
SHEETS = {"Summary": 1, "Inputs": 2, "Budget": 3, "Stock": 4, "Places": 6}
# Key in the study, new value, cell of the sheet of inputs.
CHANGES = [
    ("seal_price", 61.0, "B2"), ("fitting_labour", 20.0, "B3"), ("planned_hours", 2.25, "B4"), ("failure_hours", 6.5, "B5"),
    ("contribution_margin_per_hour", 350.0, "B7"), ("scrap_and_restart", 900.0, "B10"), ("discount_rate_per_year", 0.11, "B12"),
    ("lead_time_days", 14.0, "B14"), ("urgent_price", 150.0, "B16"), ("inspection_hours", 0.75, "B18"),
    ("inspection_labour", 31.0, "B19"), ("turn_labour", 17.0, "B20"),
]


def formulas(path):
    """Value of every formula cell, and the numbers of the stock sheet, by sheet and cell."""
    out = {}
    with zipfile.ZipFile(path) as z:
        for name, at in SHEETS.items():
            for cell in ET.fromstring(z.read(f"xl/worksheets/sheet{at}.xml")).iter(f"{{{NS['m']}}}c"):
                value = cell.find("m:v", NS)
                live = cell.find("m:f", NS) is not None
                if value is not None and cell.get("t") in (None, "n") and (live or name == "Stock"):
                    out[name, cell.get("r")] = (float(value.text), live)
    return out


def changed(base, cell, value, to):
    with zipfile.ZipFile(base) as old, zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED) as new:
        for item in old.infolist():
            data = old.read(item)
            if item.filename == "xl/worksheets/sheet2.xml":
                text, n = re.subn(rf'(<c r="{cell}"[^>]*><v>)[^<]*(</v>)', rf"\g<1>{value}\g<2>", data.decode())
                assert n == 1, f"{cell}: {n} cells"
                data = text.encode()
            new.writestr(item, data)


def study_with(text, key, value):
    text, n = re.subn(rf"(?m)^{key} = .*$", f"{key} = {value}", text)
    assert n == 1, f"{key}: {n} lines"
    return text


def main(program, study, folder):
    folder = pathlib.Path(folder)
    shutil.copytree(pathlib.Path(study).parent, folder / "study", dirs_exist_ok=True)
    text = re.sub(r'(?m)^lab = .*\n', "", pathlib.Path(study).read_text())
    profile = folder / "profile" / "user"
    profile.mkdir(parents=True, exist_ok=True)
    # Always recalculate when a file is loaded.
    (profile / "registrymodifications.xcu").write_text(
        '<?xml version="1.0"?><oor:items xmlns:oor="http://openoffice.org/2001/registry">'
        '<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse">'
        "<value>0</value></prop></item></oor:items>")

    def workbook(name, text):
        file = folder / "study" / "changed.toml"
        file.write_text(text)
        out = folder / f"{name}.xlsx"
        subprocess.run([program, "money", file, "--inspect-every", "121.75", "--turn-every", "243.5",
                        "--replace-at", "243.5", "--months", "24", "--spreadsheet", out],
                       check=True, stdout=subprocess.DEVNULL)
        return out

    base = workbook("base", text)
    total, worst = 0, 0.0
    (folder / "edited").mkdir(exist_ok=True)
    for key, value, cell in CHANGES:
        changed(base, cell, value, folder / "edited" / f"{key}.xlsx")
    subprocess.run(["soffice", f"-env:UserInstallation=file://{folder}/profile", "--headless", "--convert-to", "xlsx",
                    "--outdir", folder / "recalculated", *sorted((folder / "edited").glob("*.xlsx"))],
                   check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    before = formulas(base)
    for key, value, cell in CHANGES:
        ours = formulas(workbook(key, study_with(text, key, value)))
        theirs = formulas(folder / "recalculated" / f"{key}.xlsx")
        levels = [place for place in ours if place[0] == "Stock" and place[1][0] in "CDE"]
        moved = 0
        for at, (want, live) in ours.items():
            if not live:
                continue
            row = at[1].lstrip("ABCDEFGHIJKLMNOPQRS")
            if at[0] == "Stock" and any(before[place][0] != ours[place][0] for place in levels
                                        if place[1][1:] == row or ("Stock", "D" + row) not in ours):
                continue  # the program takes another demand or stock there, or at one of the places summed: nothing to compare
            got = theirs[at][0]
            off = abs(got - want) / max(1.0, abs(want))
            worst = max(worst, off)
            total += 1
            moved += abs(before[at][0] - want) > 1e-9
            assert off < 1e-9, f"{key}={value}: {at} is {got}, the program says {want}"
        assert moved > 0, f"{key}: nothing moved"
        print(f"{key} = {value}: agrees; {moved} cells moved")
    print(f"{total} formulas compared, worst difference {worst:.1e}")


main(*sys.argv[1:])
