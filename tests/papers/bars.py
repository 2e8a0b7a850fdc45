"""The 100 mm sticks on every sheet of the plan, measured in the rendered PDF by two renderers.

On A4, A3, Letter and a roll; poppler (pdftoppm) and MuPDF (mutool), at 300 dots an inch, by the
centres of darkness of the first and last deep cut. Within 0.1 mm (issue: what must hold; PDF's unit is
1/72 inch, ISO 32000-1, 8.3.2.3). Also: a roll too narrow is refused with what to do. Usage:
bars.py RELICT PROJECT FOLDER
"""
import subprocess
import sys
from pathlib import Path

relict, project, room = sys.argv[1], sys.argv[2], Path(sys.argv[3])
DPI, MARGIN, WITHIN = 300, 15.0, 0.1


def pgm(path):
    data = path.read_bytes()
    head, at = [], 0
    while len(head) < 4:
        end = at
        while data[end:end + 1] not in (b" ", b"\n"):
            end += 1
        head.append(data[at:end])
        at = end + 1
    return int(head[1]), int(head[2]), data[at:]


def length(values):
    """Distance between the centres of the first and the last dark run, mm."""
    runs, total, weight = [], 0.0, 0.0
    for i, v in enumerate(values):
        dark = 255 - v
        if dark > 8:
            total += dark * i
            weight += dark
        elif weight:
            runs.append(total / weight)
            total = weight = 0.0
    return ((runs[-1] - runs[0]) * 25.4 / DPI, len(runs)) if runs else (float("nan"), 0)


def px(mm):
    return round(mm * DPI / 25.4)


def sticks(path):
    w, h, gray = pgm(path)
    y = h - px(6.5 + 3)  # 3 mm off the line only the deep cuts are met
    x = px(MARGIN - 1.5 - 3)
    along = length(gray[y * w + px(MARGIN - 2): y * w + px(MARGIN + 104)])
    from_y = h - px(MARGIN + 3 - 2)
    up = length([gray[(from_y - i) * w + x] for i in range(px(106))])
    return along, up


papers = [("A4", ["--paper", "a4"]), ("A3", ["--paper", "a3"]), ("Letter", ["--paper", "letter"]), ("roll 610", ["--roll", "610"])]
bad = 0
print("measured bars, mm; asked: 100 within 0.1")
for name, options in papers:
    folder = room / name.replace(" ", "-")
    subprocess.run([relict, "tell", project, str(folder), *options], check=True, capture_output=True)
    pdf = next((folder / "plan").glob("*.pdf"))
    for renderer in ("poppler", "mupdf"):
        out = folder / renderer
        out.mkdir()
        command = (["pdftoppm", "-r", str(DPI), "-gray", str(pdf), str(out / "p")] if renderer == "poppler" else
                   ["mutool", "draw", "-q", "-r", str(DPI), "-c", "gray", "-F", "pgm", "-o", str(out / "p%d.pgm"), str(pdf)])
        subprocess.run(command, check=True, capture_output=True)
        pages = sorted(out.glob("*.pgm"))
        measured = [sticks(p) for p in pages]
        for page in pages:
            page.unlink()
        for axis in (0, 1):
            values = [m[axis][0] for m in measured]
            whole = all(m[axis][1] == 3 for m in measured) and all(abs(v - 100) <= WITHIN for v in values)
            bad += not whole
            print(f"  {name:9s} {renderer:8s} {'along' if axis == 0 else 'up':6s} {len(pages):2d} sheets  "
                  f"{min(values):8.3f} to {max(values):8.3f}{'' if whole else '   FAULT'}")
refused = subprocess.run([relict, "tell", project, str(room / "narrow"), "--roll", "90"], capture_output=True, text=True)
told = refused.stderr + refused.stdout
if "roll" not in told.lower() or "plan" not in told.lower():
    bad += 1
    print(f"FAULT: a roll of 90 mm is not refused: {told}")
else:
    print("  a roll of 90 mm:", " ".join(told.split())[:200])
sys.exit(bad > 0)
