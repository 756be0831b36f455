"""Runs the printed SQL on three databases and compares their counts, and the fits of them, with the records' own."""

import csv
import json
import os
import pathlib
import subprocess
import sys

import duckdb

import records

SEALSPAN, PSQL, SERVER, OUT = sys.argv[1], sys.argv[2], sys.argv[3], pathlib.Path(sys.argv[4])
SPARK = os.environ["SPARK"] == "on"

DATES = {"fitted", "removed", "last_known_good", "date"}
NUMBERS = {"lower", "upper", "entry"}
TABLES = {"seals": records.SEALS, "inspections": records.LOOKS, "lives": records.LIVES}


def kind(column, text, number, date, whole):
    if column in DATES:
        return date
    return number if column in NUMBERS else whole if column == "count" else text


def quoted(name):
    return '"' + name.replace('"', '""') + '"'


def columns(names, *kinds):
    return ", ".join(f"{quoted(n)} {kind(n, *kinds)}" for n in names)


class Duck:
    name = "DuckDB"

    def __init__(self):
        self.db = duckdb.connect()
        for table, names in TABLES.items():
            self.db.execute(f"CREATE TABLE {table} ({columns(names, 'VARCHAR', 'DOUBLE', 'DATE', 'BIGINT')})")
            self.db.execute(f"COPY {table} FROM '{OUT / table}.csv' (FORMAT csv, HEADER, NULLSTR '')")

    def run(self, sql):
        done = self.db.execute(sql)
        return [d[0] for d in done.description], done.fetchall()


class Postgres:
    name = "PostgreSQL"

    def psql(self, *args):
        command = [PSQL, "-X", "-q", "-v", "ON_ERROR_STOP=1", "-h", SERVER, "-U", "postgres", *args]
        return subprocess.run(command, check=True, capture_output=True, text=True).stdout

    def __init__(self):
        for table, names in TABLES.items():
            made = columns(names, "text", "double precision", "date", "bigint")
            self.psql("-c", f"CREATE TABLE {table} ({made})")
            self.psql("-c", f"\\copy {table} FROM '{OUT / table}.csv' WITH (FORMAT csv, HEADER true)")

    def run(self, sql):
        path = OUT / "printed.sql"
        path.write_text(sql)
        head, *rows = csv.reader(self.psql("--csv", "-f", str(path)).splitlines())
        return head, [[None if cell == "" else cell for cell in row] for row in rows]


class Spark:
    name = "Spark"

    def __init__(self):
        from pyspark.sql import SparkSession

        made = SparkSession.builder.master("local[2]").appName("reduction")
        for key, value in {
            "spark.ui.enabled": "false",
            "spark.ui.showConsoleProgress": "false",
            "spark.sql.shuffle.partitions": "2",
            "spark.sql.ansi.enabled": "true",
            "spark.sql.ansi.doubleQuotedIdentifiers": "true",
            "spark.sql.warehouse.dir": str(OUT / "spark"),
        }.items():
            made = made.config(key, value)
        self.session = made.getOrCreate()
        self.session.sparkContext.setLogLevel("ERROR")
        for table, names in TABLES.items():
            # Columns of text, each cast to its type: the reader's schema is written by position.
            read = self.session.read.csv(str(OUT / f"{table}.csv"), header=True, quote='"', escape='"', nullValue="")
            read = read.toDF(*names)
            for at, name in enumerate(names):
                to = kind(name, "string", "double", "date", "bigint")
                read = read.withColumns({name: read[read.columns.index(name)].cast(to)}) if to != "string" else read
            read.createOrReplaceTempView(table)

    def run(self, sql):
        done = self.session.sql(sql.rstrip())
        return done.columns, [list(row) for row in done.collect()]


def sealspan(*args):
    run = subprocess.run([SEALSPAN, *map(str, args)], capture_output=True, text=True)
    if run.returncode:
        sys.exit(f"sealspan {' '.join(map(str, args))}: {run.stdout}{run.stderr}")
    return run.stdout


def fitted(path, *args):
    return sealspan("fit", path, "--format", "json", "--at", "365", *args)


def alike(head, rows):
    """Rows that can be compared whatever the order and the writing of numbers."""
    numbers = {"lower", "upper", "entry", "count"}
    value = lambda name, cell: "" if cell is None else float(cell) if name in numbers else str(cell)
    return sorted([tuple(value(n, c) for n, c in zip(head, row)) for row in rows], key=repr)


CASES = [
    ("seals, by material", ["--seals", "seals", "--inspections", "inspections", "--by", "material",
                            "--cut-off", str(records.LAST), "--records-from", str(records.FROM),
                            "--columns", "seal,asset,position,fitted,removed,outcome,last_known_good"],
     "study.toml", ["--by", "material"]),
    ("seals without a last day, by a column of an odd name", ["--seals", "seals", "--inspections", "inspections",
                                                            "--by", records.ODD, "--columns",
                                                            "seal,asset,position,fitted,removed,outcome,last_known_good"],
     "open.toml", ["--by", records.ODD]),
    ("failures by a cut", ["--seals", "seals", "--inspections", "inspections", "--modes", "--cut-off", str(records.LAST),
                          "--records-from", str(records.FROM), "--columns",
                          "seal,asset,position,fitted,removed,outcome,last_known_good,mechanism"],
     "study.toml", ["--mode", "cut"]),
    ("lives, by site", ["--lives", "lives", "--columns", "lower,upper,entry,count,mode", "--by", "site"],
     "lives.csv", ["--by", "site", "--family", "weibull,lognormal"]),
]


def main():
    records.make(OUT)
    databases = [Duck(), Postgres(), *([Spark()] if SPARK else [])]
    for number, (what, asked, source, question) in enumerate(CASES):
        sql = sealspan("reduction", *asked)
        own = json.loads(fitted(OUT / source, *question))
        seen, fits = {}, {}
        for database in databases:
            head, rows = database.run(sql)
            path = OUT / f"counts-{number}-{database.name}.csv"
            records.write(path, head, [["" if c is None else c for c in row] for row in rows])
            seen[database.name] = alike(head, rows)
            fits[database.name] = fitted(path, *question)
        first = databases[0].name
        for name in seen:
            assert seen[name] == seen[first], f"{what}: the counts of {name} are not those of {first}"
            assert fits[name] == fits[first], f"{what}: the fit of {name}'s counts is not that of {first}'s"
        groups = json.loads(fits[first])["groups"]
        assert groups == own["groups"], f"{what}: the fit of the counts is not that of the records"
        total = sum(g["counts"]["total"] for g in groups)
        print(f"{what}: {len(seen[first])} counts of {total:.0f} lives, the same fit from {', '.join(seen)}")
        able_to_fail(what, OUT / f"counts-{number}-{first}.csv", question, own["groups"])


def able_to_fail(what, path, question, groups):
    """One seal more in one count must show."""
    head, *rows = csv.reader(path.read_text().splitlines())
    at = head.index("count")
    rows[0][at] = str(int(rows[0][at]) + 1)
    spoilt = path.with_name("spoilt.csv")
    records.write(spoilt, head, rows)
    assert json.loads(fitted(spoilt, *question))["groups"] != groups, f"{what}: a seal too many goes unseen"


main()
