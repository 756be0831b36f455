"""Validates and executes a report's notebook, and compares what it prints and shows with what it holds.

    python tests/notebook/check.py REPORT_FOLDER   # needs nbformat, nbclient, ipykernel, pandas; pyarrow where there is one
"""
import math
import pathlib
import re
import sys

import nbformat
import pandas as pd
from nbclient import NotebookClient


def outputs(cell):
    """What a cell gives, its stream texts joined: the kernel may cut them anywhere."""
    text = "".join(o["text"] for o in cell["outputs"] if o["output_type"] == "stream")
    rich = [o["data"] for o in cell["outputs"] if o["output_type"] in ("display_data", "execute_result")]
    # Versions of IPython differ in the line feeds of an image's base64.
    shown = [{kind: data.replace("\n", "") for kind, data in one.items()} for one in rich]
    errors = [o["evalue"] for o in cell["outputs"] if o["output_type"] == "error"]
    return text, shown, errors


def harmless(cell):
    """Markdown of ours holds no tag, no link, no formula."""
    source = cell["source"]
    assert not re.search(r"<[a-zA-Z/!]|\]\(|://|\$|\\|`(?!`)[^`]*<", source.replace("`tables/*.parquet`", "")), source[:300]


def parquet(folder):
    try:
        import pyarrow  # noqa: F401
    except ImportError:
        return 0
    count = 0
    for path in sorted((folder / "tables").glob("*.csv")):
        text = pd.read_csv(path, dtype=str, keep_default_na=False)
        typed = pd.read_parquet(path.with_suffix(".parquet"))
        assert list(typed.columns) == [plain(c) for c in text.columns], path
        assert len(typed) == len(text), path
        for column, own in zip(text.columns, typed.columns):
            for a, b in zip(text[column], typed[own]):
                if isinstance(b, str):
                    assert plain(a) == b, (path, column, a, b)
                else:
                    assert (a == "" and math.isnan(b)) or float(a) == b, (path, column, a, b)
        count += 1
    return count


def plain(text):
    return text[1:] if re.match("'+[=+\\-@\t\r\n＝＋－＠]", text) else text


def main(folder):
    folder = pathlib.Path(folder)
    kept = nbformat.read(folder / "notebook.ipynb", as_version=4)
    nbformat.validate(kept)
    assert (kept["nbformat"], kept["nbformat_minor"]) == (4, 5)
    ids = [cell["id"] for cell in kept["cells"]]
    assert len(set(ids)) == len(ids)
    for cell in kept["cells"]:
        if cell["cell_type"] == "markdown":
            harmless(cell)
    run = nbformat.read(folder / "notebook.ipynb", as_version=4)
    for cell in run["cells"]:
        cell["outputs"] = [] if cell["cell_type"] == "code" else cell.get("outputs")
        if cell["cell_type"] != "code":
            cell.pop("outputs", None)
    NotebookClient(run, timeout=300, kernel_name="python3", resources={"metadata": {"path": str(folder)}}).execute()
    figures, printed = 0, 0
    for before, after in zip(kept["cells"], run["cells"]):
        if before["cell_type"] != "code":
            continue
        was, now = outputs(before), outputs(after)
        assert not now[2], f"{before['id']}: {now[2]}"
        assert was[0] == now[0], f"{before['id']} prints\n{now[0]}\nwhere the notebook holds\n{was[0]}"
        assert was[1] == now[1], f"{before['id']} shows something else than the notebook holds"
        figures += len(now[1])
        printed += bool(now[0])
    assert figures and printed
    tables = parquet(folder)
    print(f"{len(ids)} cells; {figures} figures and {printed} printed outputs are as kept; {tables} tables alike in Parquet")


main(sys.argv[1])
