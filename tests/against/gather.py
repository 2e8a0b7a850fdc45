#!/usr/bin/env python3
"""Makes tests/against/README.md from the lines that the tests write (tests/check.h, check_from).

  gather.py BUILD            run the suite "against" of a build folder, compare README.md with what it says;
                             where RELICT_SAID names what it wrote a moment ago (./run check), that is read
  gather.py BUILD --write    the same, and write README.md

Two texts are the same when the same values from the same sources stand in them with the same limits
and the program's numbers differ by less than a tenth of what the limits allow (simulated values
differ in their last digits from machine to machine) or are printed alike.
"""
import collections
import math
import os
import re
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
README = os.path.join(HERE, "README.md")

STEPS = ["Under all steps: statistics and geometry", "Sizes", "Outline and curve", "Making",
         "Shape and strength", "Material and season", "Trials", "Report"]
# test program (without test_ and .c) or room -> step
STEP_OF = {
    "gum": 0, "combine": 0, "nist": 0, "bayes": 0, "experiments": 6, "random": 0, "censoring": 1,
    "plane": 0, "num": 0, "base": 0, "statement": 0, "handbook": 1, "diffusion": 4, "stuff": 1,
    "curve_calibration": 2, "strength_calibration": 4,
    "remains": 1, "shape": 2, "making": 3, "body": 4, "gather": 5, "trial": 6, "record": 1,
    "show": 7, "tell": 7, "job": 0, "serve": 7,
}


def room_of():
    rooms = {}
    for folder, _, files in os.walk(HERE):
        for name in files:
            rooms[name] = os.path.basename(folder)
    return rooms


def digits(v, around):
    """v with as many digits as tell it apart at the scale of `around`."""
    if not math.isfinite(v):
        return "∞" if v > 0 else "-∞" if v < 0 else "not a number"
    if v == 0:
        return "0"
    n = 6
    if around > 0:
        n = max(3, min(12, math.ceil(math.log10(abs(v) / around)) + 3)) if abs(v) > around else 3
    return f"{v:.{n}g}"


def wanted(r):
    low, high, want = r["low"], r["high"], r["want"]
    if math.isnan(want):
        scale = max(abs(x) for x in (low, high) if math.isfinite(x)) / 1000
        if math.isinf(high):
            return "at least " + digits(low, scale), ""
        if math.isinf(low):
            return "at most " + digits(high, scale), ""
        return f"{digits(low, scale)} to {digits(high, scale)}", ""
    tolerance = high - want
    return digits(want, tolerance), "0" if tolerance == 0 else f"{tolerance:.2g}"


def strain(r):
    """How much of the allowance is used: 1 is the limit. For the worst of many."""
    if math.isnan(r["want"]):
        if math.isinf(r["low"]) or math.isinf(r["high"]):
            edge = r["high"] if math.isinf(r["low"]) else r["low"]
            return -abs(r["got"] - edge)
        middle, half = (r["low"] + r["high"]) / 2, (r["high"] - r["low"]) / 2
        return abs(r["got"] - middle) / half if half else 1
    tolerance = r["high"] - r["want"]
    return abs(r["got"] - r["want"]) / tolerance if tolerance else abs(r["got"] - r["want"])


def read(path):
    rows, experience, nameless = [], [], set()
    with open(path, encoding="utf-8") as f:
        for line in f:
            c = line.rstrip("\n").split("\t")
            if c[0] == "experience":
                experience.append(c[1:])
                continue
            file, test, known, source, subject, expression = c[:6]
            low, high, want, got = map(float, c[6:])
            if not source:
                nameless.add(f"{file}: {test}")
            expression = re.sub(r"\s+", " ", expression)
            if expression.startswith("(") and expression.endswith(")"):
                expression = expression[1:-1]
            rows.append(dict(file=file, test=test, known=known, source=source, subject=subject,
                             expression=expression, low=low, high=high, want=want, got=got))
    return rows, experience, nameless


def cell(text):
    return text.replace("|", "\\|")


def table(rows):
    """One line for each expression; several values of one stand in one line with the worst."""
    groups = collections.OrderedDict()
    for r in rows:
        groups.setdefault((r["subject"], r["expression"]), []).append(r)
    lines = ["| what | wanted | ± | the program |", "| --- | --- | --- | --- |"]
    for (subject, expression), all_of in groups.items():
        worst = max(all_of, key=strain)
        want, tolerance = wanted(worst)
        allowance = worst["high"] - worst["want"] if not math.isnan(worst["want"]) else abs(worst["got"]) / 1e4
        name = f"{subject}: `{expression}`" if subject else f"`{expression}`"
        if len(all_of) > 1:
            name += f" ({len(all_of)} values, the furthest off)"
        lines.append(f"| {cell(name)} | {want} | {tolerance} | {digits(worst['got'], allowance)} |")
    return lines


def text_of(rows, experience):
    rooms = room_of()
    by_step = collections.defaultdict(lambda: collections.OrderedDict())
    for r in sorted(rows, key=lambda r: (rooms.get(r["file"], ""), r["file"])):
        name = r["file"].removeprefix("test_").rsplit(".", 1)[0]
        step = STEP_OF.get(name, STEP_OF.get(rooms.get(r["file"], ""), 0))
        by_step[step].setdefault(
            (r["known"], r["source"], rooms.get(r["file"], "") + "/" + r["file"], r["test"]), []).append(r)
    known = collections.Counter(r["known"] for r in rows)
    sources = len({r["source"] for r in rows})
    out = ["# What the program is checked against", "",
           "Made by `tests/against/gather.py` from what the tests of this folder write; not edited by hand.",
           "`./run check` fails when it is not what the tests say. *Wanted* and ± are in the unit of the",
           "expression; where one expression meets many values the one furthest off stands here.", "",
           f"{len(rows)} values from {sources} sources: " +
           ", ".join(f"{known[k]} {k}" for k in sorted(known, key=lambda k: -known[k])) + ".", "",
           "| word | meaning |", "| --- | --- |",
           "| published | read in the publication or standard named |",
           "| from memory | the publication is named, the number was remembered and not seen again |",
           "| data | recomputed from a published data set |",
           "| exact | a closed form or an identity |",
           "| second method | another method, or an independent program |",
           "| common practice | a rule of the trade, no source |",
           "| asked | what the project set itself: user stories, bounds, keys of the invented demos |"]
    for step, title in enumerate(STEPS):
        if step not in by_step:
            continue
        out += ["", f"## {title}"]
        for (how, source, file, test), some in by_step[step].items():
            out += ["", f"**{cell(source)}** · {how} · `{file}`, {test}", ""] + table(some)
    if experience:
        out += ["", "## Makers' experience beside the computation", "",
                "Common practice, no source. Each row is a sweep of the program; nothing is tuned to it.", "",
                "| what makers say | what the program computes | |", "| --- | --- | --- |"]
        out += ["| " + " | ".join(cell(c) for c in e) + " |" for e in experience]
    return "\n".join(out) + "\n"


NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?")


def same(old, new):
    """The lines that differ by more than simulated last digits."""
    a, b = old.splitlines(), new.splitlines()
    if len(a) != len(b):
        return [f"{len(a)} lines in README.md, {len(b)} made now"] + [
            "- " + x for x in a if x not in b][:10] + ["+ " + x for x in b if x not in a][:10]
    found = []
    for x, y in zip(a, b):
        if x == y:
            continue
        cx, cy = x.split(" | "), y.split(" | ")
        if len(cx) == len(cy) == 4 and cx[:3] == cy[:3]:
            try:
                vx, vy = float(cx[3].rstrip(" |")), float(cy[3].rstrip(" |"))
                room = float(cx[2]) if cx[2] else 0.02 * abs(vx)
                if abs(vx - vy) <= max(room / 2, 1e-6 * abs(vx)):
                    continue
            except ValueError:
                pass
        if len(cx) == len(cy) == 3 and cx[0] == cy[0] and cx[2] == cy[2]:  # experience: numbers may wander
            if NUMBER.sub("#", cx[1]) == NUMBER.sub("#", cy[1]):
                continue
        found += ["- " + x, "+ " + y]
    return found


def main():
    build, write = sys.argv[1], "--write" in sys.argv
    said = os.environ.get("RELICT_SAID")
    with tempfile.TemporaryDirectory(prefix="relict-values-") as folder:
        path = said or os.path.join(folder, "values")
        run = said or subprocess.run(["meson", "test", "-C", build, "--suite", "against", "--no-rebuild", "-q"],
                                     env=dict(os.environ, RELICT_VALUES=path), stdout=subprocess.PIPE, text=True)
        if not said and run.returncode:
            print(run.stdout)
            if not write:
                return 1
        rows, experience, nameless = read(path)
    new = text_of(rows, experience)
    for name in sorted(nameless):
        print(f"compares before check_from names a source: {name}")
    if write:
        with open(README, "w", encoding="utf-8") as f:
            f.write(new)
    old = open(README, encoding="utf-8").read() if os.path.exists(README) else ""
    found = same(old, new)
    for line in found[:40]:
        print(line)
    if found:
        print("tests/against/README.md is out of date: tests/against/gather.py BUILD --write")
    print(f"{len(rows)} values, {len(experience)} rows of makers' experience, {len(nameless)} without a source")
    return 1 if found or nameless else 0


sys.exit(main())
