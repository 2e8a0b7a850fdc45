"""Runs the commands that a document shows, in their order, in one folder, as typed.

A command is a line indented by four blanks that begins with a word of `KNOWN` (a here-document is taken
with its lines). Each must end well. Usage: run.py DOCUMENT FOLDER; the program is on the PATH as relict.
"""
import os
import re
import subprocess
import sys
from pathlib import Path

document, room = Path(sys.argv[1]), sys.argv[2]
KNOWN = re.compile(r"(relict|build/relict|\./run|echo|cat|sudo|dpkg-buildpackage|doc/|tests/|bench/|npm|curl) ?")
# what another script of the check runs, or is: never here, as it would build and check all over again
ELSEWHERE = {"./run demo": "the demo of ./run check", "./run check": "this run", "./run bench": "by hand: it prints tables and judges nothing",
             "dpkg-buildpackage -us -uc -b": "run by tests/package"}


# what looks like a command and is none of the known ones would be shown and never run
UNKNOWN = re.compile(r"(sudo|python3?|node|bash|sh|apt\S*|make|ninja|meson|git|cd|ls|cp|mv|rm|mkdir|unzip|tar|wget|xdg-open|chromium|\./\S+) ")


def commands(text):
    """(number of line, command): indented ones, and lines of ```-blocks that begin with a known word."""
    lines, i, fenced = text.splitlines(), 0, False
    while i < len(lines):
        line = lines[i]
        if line.startswith("```"):
            fenced = not fenced
        body = line[4:] if line.startswith("    ") and not fenced else line if fenced else None
        if body is not None and KNOWN.match(body):
            at, whole = i + 1, body
            end = re.search(r"<<'?(\w+)'?", body)
            while end and i + 1 < len(lines):
                i += 1
                part = lines[i][4:] if not fenced else lines[i]
                whole += "\n" + part
                if part == end.group(1):
                    break
            yield at, whole
        elif body is not None and UNKNOWN.match(body):
            yield i + 1, None
        i += 1


ran = bad = 0
for at, command in commands(document.read_text(encoding="utf-8")):
    if command is None:
        bad += 1
        print(f"FAULT: {document.name}:{at} shows a command that nothing runs")
        continue
    words = command.split("#")[0].strip()
    if words in ELSEWHERE:
        print(f"  {document.name}:{at}: {words}: {ELSEWHERE[words]}")
        continue
    shown = re.sub(r"\s{3,}\S.*$", "", command) if "\n" not in command else command  # a remark beside it
    if re.match(r"(\./run serve|relict serve|build/relict serve)", shown):
        # it serves until it is stopped: wait for the address, then stop it
        shown = re.sub(r"^\./run serve", f"relict serve {os.environ.get('SERVED', 'demo/tray.relict')}", shown)
        quiet = "" if "--quiet" in shown else " --quiet"
        shown = f"timeout -s INT 5 {shown}{quiet} >served.txt 2>&1; grep -q 'http://' served.txt"
    done = subprocess.run(["bash", "-c", shown], cwd=room, capture_output=True, text=True, timeout=400)
    ran += 1
    # `relict check` says by its status that something is missing: an answer, no fault
    answer = shown.startswith("relict check ") and done.returncode == 1
    if done.returncode and not answer:
        bad += 1
        print(f"FAULT: {document.name}:{at}: {command}\n  {(done.stderr or done.stdout)[-400:]}")
print(f"  {document.name}: {ran} commands, {bad} faults")
sys.exit(bad > 0)
