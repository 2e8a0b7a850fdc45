"""The blank recording forms, as printed, filled and imported back: nothing may be lost.

Reads the words off the printed page (poppler's pdftotext), so that what is tested is what a person
sees; fills a table for each card with texts that are hard to keep and with every choice in turn;
imports it; exports the project; compares cell by cell. Usage: forms.py RELICT FORMS.pdf FOLDER
"""
import csv
import json
import subprocess
import sys
from pathlib import Path

relict, form, room = sys.argv[1], sys.argv[2], Path(sys.argv[3])
HARD = 'A "quoted", <b>word</b> & שלום, żółw \'; -- 1,5'
CARDS = {"A piece": "piece", "A reading": "measure", "A mark on a piece": "mark", "Handling": "handling"}


def run(*args, ok=True):
    done = subprocess.run([relict, *map(str, args)], capture_output=True, text=True)
    if ok and done.returncode:
        sys.exit(f"FAULT: relict {' '.join(map(str, args))}: {done.stderr}{done.stdout}")
    return done


def printed_fields():
    """{kind: [(heading, choices)]}, in the order of the page."""
    text = subprocess.run(["pdftotext", "-raw", form, "-"], capture_output=True, text=True, check=True).stdout
    out, kind, open_line, words = {}, None, "", False
    for line in text.replace("\f", "").splitlines():
        if line in CARDS:
            kind = CARDS[line]
            out[kind] = []
            words = True  # what the card says before its first line to write on
            continue
        if kind is None or not line or ". Recording forms" in line or ", page" in line or " page " in line:
            continue
        words = words and line != "Id"
        if words:
            continue
        open_line = f"{open_line} {line}".strip()
        if open_line.count("(") != open_line.count(")"):
            continue
        line, open_line = open_line, ""
        heading, _, choices = line.partition(" (")
        out[kind].append((heading, choices.rstrip(")").split(", ") if choices else []))
    return out


def types():
    """{kind: {label as printed: (name, type, column)}} from the dictionary that lies beside the forms."""
    out = {}
    with open(Path(form).parent.parent / "dictionary.csv", newline="", encoding="utf-8") as f:
        for row in csv.DictReader(f):
            kind = Path(row["file"]).stem
            label = row["label"] + (", " + row["unit"] if row["unit"] else "")
            out.setdefault(kind, {})[label] = (row["type"], row["column"])
    return out


def value(kind, heading, choices, type_, row):
    if heading == "Id":
        return f"{kind}-{row}"
    if heading in ("Piece",):
        return "piece-0"
    if choices:
        return choices[row % len(choices)]
    if heading == "Date":
        return f"2023-0{row % 9 + 1}-1{row % 10}"
    if type_.startswith("flag"):
        return ("yes", "no")[row % 2]
    if type_ == "number":
        return f"{12.5 + row * 0.25:g}"
    if type_ == "texts":
        return "piece-0; piece-1"
    return f"{HARD} {row}"


fields, kinds = printed_fields(), types()
project = room / "forms.relict"
run("new", project, "Forms")
written, cells = {}, 0
for kind, list_ in fields.items():
    known = kinds.get(kind, {})
    rows = max([2] + [len(c) for _, c in list_])
    table = []
    for r in range(rows):
        table.append([value(kind, h, c, known.get(h, ("text", ""))[0], r) for h, c in list_])
    path = room / f"{kind}.csv"
    with open(path, "w", newline="", encoding="utf-8") as f:
        w = csv.writer(f)
        w.writerow([h for h, _ in list_])
        w.writerows(table)
    written[kind] = table
    run("import", project, path, "--as", kind)
run("export", project, room / "open")
lost = 0
for kind, list_ in fields.items():
    with open(room / "open" / "tables" / f"{kind}.csv", newline="", encoding="utf-8") as f:
        back = {row["id"]: row for row in csv.DictReader(f)}
    for row in written[kind]:
        got = back.get(row[0])
        if got is None:
            print(f"FAULT: {kind} {row[0]} did not come back")
            lost += len(row)
            continue
        for (heading, _), text in zip(list_, row):
            column = kinds[kind][heading][1] if heading in kinds.get(kind, {}) else None
            cells += 1
            if column is None:
                print(f"FAULT: {kind}: the dictionary has no \"{heading}\"")
                lost += 1
                continue
            have = got[column]
            if have.startswith("["):
                have = "; ".join(json.loads(have))
            if have != text:
                print(f"FAULT: {kind} {row[0]}, {heading}: wrote {text!r}, came back {got[column]!r}")
                lost += 1
blank = run("import", project, room / "piece.csv", "--as", "piece", ok=False)
print(f"recording forms   {len(fields)} cards, {sum(map(len, fields.values()))} printed fields, {cells} cells filled and imported, {lost} lost")
sys.exit(lost > 0 or cells < 100)
