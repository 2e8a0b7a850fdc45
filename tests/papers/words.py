"""Words that are hard to print: quotes, angle brackets, scripts read from right to left, a sign no font has.

Everything is written by the program itself. Looked for: markup in no page, the words whole in the text of the
PDF as another program reads it (poppler), and a missing sign told with the sign, not printed as a silent
box. Usage: words.py RELICT FOLDER
"""
import csv
import html
import json
import re
import subprocess
import sys
from pathlib import Path

relict, room = sys.argv[1], Path(sys.argv[2])
EVIL = '<script>alert(1)</script> "quoted" & \'single\' <b>bold</b>'
HEBREW, ARABIC, POLISH, GREEK = "שלום עולם", "السلام", "żółć", "ξύλον"
WORDS = f"{EVIL} {POLISH} {GREEK}"
bad = 0


def run(*args):
    done = subprocess.run([relict, *map(str, args)], capture_output=True, text=True)
    if done.returncode:
        sys.exit(f"FAULT: relict {' '.join(map(str, args))}: {done.stderr}{done.stdout}")
    return done.stdout


def fault(text):
    global bad
    bad += 1
    print("FAULT:", text)


def project(name, note):
    path = room / f"{name}.relict"
    run("new", path, f"Object {EVIL}")
    with open(room / "piece.csv", "w", newline="", encoding="utf-8") as f:
        w = csv.writer(f)
        w.writerow(["Id", "Taken for", "Material as written", "Note"])
        w.writerow(["P1", "cross lath", WORDS, note])
        w.writerow(["P2", HEBREW, ARABIC, EVIL])
    run("import", path, room / "piece.csv", "--as", "piece")
    run("tell", path, room / name)
    return room / name


told = project("hard", HEBREW)
for page in told.rglob("*.html"):
    text = page.read_text(encoding="utf-8")
    own = re.sub(r"<script>.*?</script>", "", text, count=1, flags=re.S) if page.name == "wood.html" else text
    if "<script>alert" in own or "<b>bold" in own:
        fault(f"{page.name} holds a user's markup")
for page in list(told.rglob("*.svg")) + [told / "argument.jsonld"]:
    if page.exists() and "<script>alert" in page.read_text(encoding="utf-8") and page.suffix == ".svg":
        fault(f"{page.name} holds a user's markup")
argument = html.unescape((told / "argument.html").read_text(encoding="utf-8"))
for word in (EVIL, HEBREW, ARABIC, POLISH, GREEK):
    if word not in argument:
        fault(f"argument.html lacks {word}")
marks = re.compile("[\u200e\u200f\u202a-\u202e\u2066-\u2069]")  # direction marks that a reader adds
readers = {"poppler": ["pdftotext", "-layout", told / "argument.pdf", "-"],
           "mupdf": ["mutool", "draw", "-q", "-F", "text", told / "argument.pdf"]}
for reader, command in readers.items():
    text = subprocess.run(command, capture_output=True, text=True).stdout
    flat = re.sub(r"\s+", " ", marks.sub("", text))
    for word in ("<b>bold</b>", POLISH, GREEK, HEBREW):
        if word not in flat:
            fault(f"argument.pdf lacks {word} as {reader} reads it")
json.loads((told / "argument.jsonld").read_text(encoding="utf-8"))
# U+E123 is private use: no font of Debian has a shape for it
lost = project("lost", "a sign \ue123 nobody has")
readme = (lost / "README.txt").read_text(encoding="utf-8")
if "\ue123" not in readme or "argument.pdf" not in readme:
    fault("the README does not tell the missing sign: " + readme[-400:])
if (lost / "argument.pdf").exists():
    fault("argument.pdf was written with a silent box")
if not (lost / "argument.html").exists():
    fault("argument.html was left out as well")
print(f"hard words        markup in 0 of {len(list(told.rglob('*.html')))} pages, right-to-left and accents whole in the PDF, a missing sign told; {bad} faults")
sys.exit(bad > 0)
