#!/usr/bin/env python3
"""Table and picture of how often stated ranges hold the truth, for doc/.

  plot.py LINES...        LINES: files written by the tests when RELICT_CALIBRATION names them, e.g.
      RELICT_CALIBRATION=lines BUILD/tests/against/against_calibration 400
      RELICT_CALIBRATION=lines BUILD/tests/against/shape/against_outline_recovery 200
      RELICT_CALIBRATION=lines BUILD/tests/against/shape/against_outline_recovery 20 2048 1 0.3 biased
      RELICT_CALIBRATION=lines BUILD/tests/against/job/long_curve_calibration 400
      RELICT_CALIBRATION=lines BUILD/tests/against/job/long_strength_calibration 25 16 1024 12 400
      RELICT_CALIBRATION=lines BUILD/tests/against/body/long_strip_calibration 400
      RELICT_CALIBRATION=lines BUILD/tests/against/gather/long_schedule_calibration 400
      RELICT_CALIBRATION=lines RELICT_OBJECTS=200 BUILD/tests/against/trial/long_closed_loop_long

Writes doc/pictures/calibration.svg and the table in doc/calibration.md between its two marks. Rows of which there
is no new line stay as they stand in the table.
"""
import math
import os
import re
import sys

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")


def read(paths):
    rows = {}
    for path in paths:
        for line in open(path, encoding="utf-8"):
            group, kind, *v = line.rstrip("\n").split("\t")
            rows[group, kind] = [float(x) for x in v]
    return rows


def percent(cell):
    m = re.fullmatch(r"(\d+) ± (\d+) %", cell)
    return (int(m[1]) / 100, int(m[2]) / 100) if m else (math.nan, 0)


def standing(text):
    """Rows of the present table, as told there: figures, and the whole row."""
    rows = {}
    for line in text.splitlines():
        cells = [c.strip() for c in line.strip("|").split("|")]
        if len(cells) == 6 and cells[2].isdigit():
            (half, se50), (most, se90) = percent(cells[3]), percent(cells[4])
            rows[cells[1], cells[0]] = [float(cells[2]), half, most, se50, se90, line]
    return rows


def row(group, kind, n, half, most, se50, se90, told=None):
    if told:
        return told
    # Where all or none are inside, their own spread says nothing: that of n honest ranges stands in.
    off50 = 0 if math.isnan(half) else (half - 0.5) / (se50 or 0.5 / math.sqrt(n))
    off90 = (most - 0.9) / (se90 or 0.3 / math.sqrt(n))
    word = "honest" if max(abs(off50), abs(off90)) <= 3 else "too narrow" if off90 < -3 or off50 < -3 else "too wide"
    first = "" if math.isnan(half) else f"{100 * half:.0f} ± {100 * se50:.0f} %"
    return f"| {kind} | {group} | {n:.0f} | {first} | {100 * most:.0f} ± {100 * se90:.0f} % | {word} |"


def table(rows):
    out = ["| what is stated | of | objects | in its 50 % range | in its 90 % range | |",
           "| --- | --- | --- | --- | --- | --- |"]
    return "\n".join(out + [row(*key, *v) for key, v in rows.items()])


def picture(rows):
    high, left, width = 18 * len(rows) + 70, 430, 420

    def x(p):
        return left + width * p

    s = [f'<svg xmlns="http://www.w3.org/2000/svg" width="{left + width + 30}" height="{high}" '
         f'viewBox="0 0 {left + width + 30} {high}" font-family="sans-serif" font-size="11" role="img" '
         'aria-label="How often stated ranges hold the truth: 50 and 90 per cent, with their errors">',
         f'<rect width="100%" height="100%" fill="white"/>']
    for p in (0.5, 0.9):
        s.append(f'<line x1="{x(p):.1f}" x2="{x(p):.1f}" y1="30" y2="{high - 25}" stroke="#888" stroke-dasharray="3 3"/>')
        s.append(f'<text x="{x(p):.1f}" y="24" text-anchor="middle">{100 * p:.0f} % is right</text>')
    for i, ((group, kind), (n, half, most, se50, se90, *_)) in enumerate(rows.items()):
        y = 45 + 18 * i
        s.append(f'<text x="{left - 12}" y="{y + 4}" text-anchor="end">{group}: {kind}</text>')
        for p, se, mark in ((half, se50, "o"), (most, se90, "s")):
            if math.isnan(p):
                continue
            s.append(f'<line x1="{x(max(0, p - 3 * se)):.1f}" x2="{x(min(1, p + 3 * se)):.1f}" y1="{y}" y2="{y}" stroke="black"/>')
            s.append(f'<circle cx="{x(p):.1f}" cy="{y}" r="3.5" fill="white" stroke="black"/>' if mark == "o" else
                     f'<rect x="{x(p) - 3:.1f}" y="{y - 3}" width="6" height="6" fill="black"/>')
    s.append(f'<text x="{left}" y="{high - 8}">ring: 50 % range; square: 90 % range; lines: three standard errors</text>')
    return "\n".join(s) + "\n</svg>\n"


def main():
    path = os.path.join(ROOT, "doc", "calibration.md")
    text = open(path, encoding="utf-8").read()
    begin, end = "<!-- table -->\n", "<!-- end -->"
    head, rest = text.split(begin)
    middle, tail = rest.split(end)
    rows = standing(middle)
    rows.update(read(sys.argv[1:]))
    groups = list(dict.fromkeys(group for group, _ in rows))
    rows = {key: rows[key] for key in sorted(rows, key=lambda key: groups.index(key[0]))}
    with open(os.path.join(ROOT, "doc", "pictures", "calibration.svg"), "w", encoding="utf-8") as f:
        f.write(picture(rows))
    with open(path, "w", encoding="utf-8") as f:
        f.write(head + begin + table(rows) + "\n" + end + tail)


main()
