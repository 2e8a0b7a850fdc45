"""A project made again from what `relict tell` handed over, on nothing but that folder.

Compares, cell by cell, what people entered (the open tables of the first project and of the rebuilt
one, without the journal's columns), and, number by number, what the steps stored. What the README of the
folder lists as kept back or coarse may differ; nothing else. Usage:
rebuild.py RELICT PROJECT DEPOSIT FOLDER STEP; steps up to STEP are computed again and compared.
"""
import csv
import json
import re
import subprocess
import sys
from pathlib import Path

relict, project, deposit, room, until = sys.argv[1], sys.argv[2], Path(sys.argv[3]), Path(sys.argv[4]), sys.argv[5]
STEPS = "found sizes outline curve making strength material trials report".split()
JOURNAL = {"revision", "who", "when", "why"}
csv.field_size_limit(10**9)


def run(*args):
    done = subprocess.run([relict, *map(str, args)], capture_output=True, text=True)
    if done.returncode:
        sys.exit(f"FAULT: relict {' '.join(map(str, args))}: {done.stderr}{done.stdout}")


def rows(path):
    if not path.exists():
        return {}
    with open(path, newline="", encoding="utf-8") as f:
        head = csv.DictReader(f)
        return {r["id"]: {k: v for k, v in r.items() if k not in JOURNAL} for r in head}


readme = (deposit / "README.txt").read_text(encoding="utf-8")
moment = re.search(r"--when (\S+)", readme).group(1)
# "- stem L1: owner ..." or a word for the whole: what is listed may differ
listed = [line for line in readme.splitlines() if line.startswith("- ")]
again = room / "again.relict"
run("export", deposit, again, "--when", moment)
run("export", project, room / "one")
run("export", again, room / "two")
differ, told, things = 0, 0, 0
for name in sorted({p.name for d in ("one", "two") for p in (room / d / "tables").glob("*.csv")}):
    a, b = rows(room / "one" / "tables" / name), rows(room / "two" / "tables" / name)
    kind = name[:-4]
    things += len(a)
    for id_ in sorted(set(a) | set(b)):
        x, y = a.get(id_, {}), b.get(id_, {})
        if kind == "file":  # what the import took it for is not part of the file
            x, y = dict(x), dict(y)
            x.pop("role", 0), y.pop("role", 0)
        if x == y:
            continue
        if any(re.match(rf"- {kind} {re.escape(id_)}\b", line) or (kind == "file" and x.get("name", "?") in line) for line in listed):
            told += 1
            continue
        differ += 1
        print(f"FAULT: {kind} {id_}: {x} is now {y}")
same = 0
run("compute", again, until, "--progress", "none")  # as the README says it, in one go
told_again = room / "told"
run("tell", again, told_again)
for step in STEPS[: STEPS.index(until) + 1]:
    a = json.loads((deposit / "results" / f"step-{step}.json").read_text())
    b = json.loads((told_again / "results" / f"step-{step}.json").read_text())
    for stored in (a, b):
        stored.pop("revision", None)  # how many changes the journal had by then
    if a == b:
        same += 1
    else:
        differ += 1
        print(f"FAULT: the stored result of {step} differs")
print(f"made again        {things} things entered, {differ} differ, {told} that the README lists as kept back; "
      f"{same} of {STEPS.index(until) + 1} stored results the same")
sys.exit(differ > 0)
