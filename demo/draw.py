#!/usr/bin/env python3
"""Draws the invented pieces of a demo: plan outlines (GeoJSON, mm) and "photos" (PNG).

Only the sizes in the finds list are used; where the list is silent (how a torn edge runs) the line
is made up from the piece's id, so that the same list always gives the same drawing. A torn edge in
these drawings is therefore no evidence of anything but its size.

    python3 demo/draw.py demo/tray demo/cradle
"""
import csv
import json
import math
import os
import random
import struct
import sys
import zlib

# ---- outlines -------------------------------------------------------------------------------


def number(row, key):
    return float(row[key]) if row.get(key) else None


def whole(end):
    return bool(end) and not any(w in end for w in ("broken", "torn", "worn"))


def dice(row):
    return random.Random(zlib.crc32(row["id"].encode()))


def end_points(x, width, kind, outward, rng):
    """Points of one end of a strip, from lower to upper edge; x is where the end lies."""
    if whole(kind):
        return [(x, -width / 2), (x, width / 2)]
    n = max(3, int(width / 4))
    points = []
    for i in range(n + 1):
        y = -width / 2 + width * i / n
        points.append((x - outward * rng.uniform(0, min(4.0, 0.25 * width)), y))
    k = rng.randrange(n + 1)
    points[k] = (x, points[k][1])  # one splinter reaches the full length
    return points


def strip(row):
    """A lath, rod, grip or strap lying along x: sides survive, broken ends do not."""
    length, width = number(row, "length_mm"), number(row, "width_mm")
    rng = dice(row)
    right = end_points(length / 2, width, row["end_2"], 1, rng)
    left = end_points(-length / 2, width, row["end_1"], -1, rng)[::-1]
    points = right + left
    survive = [int(whole(row["end_2"]))] * (len(right) - 1) + [1]
    survive += [int(whole(row["end_1"]))] * (len(left) - 1) + [1]
    return points, survive


def arc_band(row):
    """A bent rod or a piece of coiled work: chord and rise give the outer edge."""
    chord, rise = number(row, "chord_mm"), number(row, "sagitta_mm")
    width = number(row, "width_mm")
    radius = chord * chord / (8 * rise) + rise / 2
    half = math.asin(min(1.0, chord / (2 * radius)))
    n = 24
    angles = [half * (1 - 2 * i / n) for i in range(n + 1)]
    outer = [(radius * math.sin(a), radius * math.cos(a) - radius) for a in angles]
    inside = max(radius - width, 1.0)
    inner = [(inside * math.sin(a), inside * math.cos(a) - radius) for a in reversed(angles)]
    points = outer + inner
    points.reverse()
    survive = [1] * n + [0] + [1] * n + [0]
    return points, survive[::-1]


def torn_sheet(row):
    """A torn sheet that just fills length by width."""
    length, width = number(row, "length_mm"), number(row, "width_mm")
    rng = dice(row)
    n = max(14, int((length + width) / 9))
    points = []
    for i in range(n):
        a = 2 * math.pi * (i + rng.uniform(-0.25, 0.25)) / n
        square = 8 if number(row, "holes_n") else 3  # a row of holes needs a straight side
        r = rng.uniform(0.93 if square == 8 else 0.86, 1.0)
        c, s = math.cos(a), math.sin(a)
        k = r / (abs(c) ** square + abs(s) ** square) ** (1 / square)
        points.append([k * c, k * s])
    for axis, size in ((0, length), (1, width)):
        low, high = min(p[axis] for p in points), max(p[axis] for p in points)
        for p in points:
            p[axis] = (p[axis] - low) / (high - low) * size - size / 2
    return [tuple(p) for p in points], [0] * n


def ellipse(row):
    length, width = number(row, "length_mm"), number(row, "width_mm")
    n = 24
    points = [(length / 2 * math.cos(2 * math.pi * i / n), width / 2 * math.sin(2 * math.pi * i / n))
              for i in range(n)]
    return points, [0] * n


def outline(row):
    if not number(row, "length_mm") or not number(row, "width_mm"):
        return None
    text = (row["part"] + " " + row["material"]).lower()
    if "whole object" in text or "spacing" in text:
        return None
    if number(row, "chord_mm") and number(row, "sagitta_mm"):
        return arc_band(row)
    if "pigment" in text:
        return ellipse(row)
    if "bark" in text or "coil" in text:
        return torn_sheet(row)
    return strip(row)


def inside(point, polygon):
    x, y = point
    odd = False
    for (x1, y1), (x2, y2) in zip(polygon, polygon[1:] + polygon[:1]):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) * (x2 - x1) / (y2 - y1):
            odd = not odd
    return odd


def holes(row):
    """Rings of the stitch holes of a sheet, in a row along one long edge."""
    if "bark" not in row["part"] or not number(row, "hole_d_mm") or not number(row, "pitch_mm"):
        return []
    n, pitch, d = int(number(row, "holes_n")), number(row, "pitch_mm"), number(row, "hole_d_mm")
    rows = 2 if "double row: rows" in row["note"] else 1
    per_row = n // rows
    edge, _ = torn_sheet(row)
    top = number(row, "width_mm") / 2 - 2 * d
    while not all(inside(((i - (per_row - 1) / 2) * pitch + u * d, top + v * d), edge)
                  for i in range(per_row) for u in (-1, 1) for v in (0, 1)):
        top -= 1
        if top < -number(row, "width_mm") / 2:
            return []
    rings = []
    for k in range(rows):
        y = top - 9.0 * k
        for i in range(per_row):
            x = (i - (per_row - 1) / 2) * pitch
            rings.append([(x + d / 2 * math.cos(-2 * math.pi * j / 8),
                           y + d / 2 * math.sin(-2 * math.pi * j / 8)) for j in range(8)])
    return rings


def turned(points):
    """Counter-clockwise, as GeoJSON wants its outer rings."""
    area = sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in zip(points, points[1:] + points[:1]))
    return area > 0


def feature(row):
    made = outline(row)
    if not made:
        return None
    points, survive = made
    if not turned(points):
        # side i runs from point i to i + 1: reversed, the sides come in another order
        points = points[::-1]
        survive = survive[::-1][1:] + survive[::-1][:1]
    rings = [[[round(x, 2), round(y, 2)] for x, y in points + points[:1]]]
    for ring in holes(row):
        rings.append([[round(x, 2), round(y, 2)] for x, y in ring + ring[:1]])
    return {"type": "Feature", "id": row["id"],
            "properties": {"piece": row["id"], "frame": "own", "state": our_state(row["state"]),
                           "surviving": survive},
            "geometry": {"type": "Polygon", "coordinates": rings}}


def our_state(text):
    return "after treatment" if text.startswith("after ") else text


# ---- photos ---------------------------------------------------------------------------------

GLYPHS = {  # five by seven
    "0": "0E11131519110E", "1": "040C040404040E", "2": "0E11010204081F", "3": "1F02040201110E",
    "4": "02060A121F0202", "5": "1F101E0101110E", "6": "0608101E11110E", "7": "1F010204080808",
    "8": "0E11110E11110E", "9": "0E11110F01020C", "A": "0E11111F111111", "B": "1E11111E11111E",
    "T": "1F040404040404", "m": "00001A15151515", ".": "00000000000C0C", " ": "00000000000000"}


class Picture:
    """Grey picture of one piece on a board, 4 pixels a mm at most."""

    def __init__(self, width, height):
        self.w, self.h = width, height
        self.rows = [bytearray([214]) * width for _ in range(height)]

    def put(self, x, y, grey):
        if 0 <= x < self.w and 0 <= y < self.h:
            self.rows[y][x] = grey

    def box(self, x0, y0, x1, y1, grey):
        for y in range(int(y0), int(y1)):
            for x in range(int(x0), int(x1)):
                self.put(x, y, grey)

    def text(self, x, y, words, scale, grey=20):
        for c in words:
            bits = bytes.fromhex(GLYPHS.get(c, GLYPHS[" "]))
            for j, line in enumerate(bits):
                for i in range(5):
                    if line >> (4 - i) & 1:
                        self.box(x + i * scale, y + j * scale, x + (i + 1) * scale,
                                 y + (j + 1) * scale, grey)
            x += 6 * scale

    def polygon(self, points, grey, rng):
        for y in range(self.h):
            cuts = []
            for (x1, y1), (x2, y2) in zip(points, points[1:] + points[:1]):
                if (y1 <= y) != (y2 <= y):
                    cuts.append(x1 + (y - y1) * (x2 - x1) / (y2 - y1))
            cuts.sort()
            for a, b in zip(cuts[::2], cuts[1::2]):
                grain = grey + (y // 3 * 7919 % 23) - 11
                for x in range(max(0, math.ceil(a)), min(self.w, int(b) + 1)):
                    self.rows[y][x] = max(0, min(255, grain + rng.randrange(-4, 5) // 4 * 4))

    def save(self, path):
        raw = b"".join(b"\0" + bytes(r) for r in self.rows)
        chunk = lambda kind, data: (struct.pack(">I", len(data)) + kind + data +
                                    struct.pack(">I", zlib.crc32(kind + data)))
        head = struct.pack(">IIBBBBB", self.w, self.h, 8, 0, 0, 0, 0)
        with open(path, "wb") as out:
            out.write(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) +
                      chunk(b"IDAT", zlib.compress(raw, 9)) + chunk(b"IEND", b""))


def photo(row, bar, path):
    """bar: length in mm and its label; a label of "" is a bar whose unit is not marked."""
    points, _ = outline(row)
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    scale = min(420 / (max(xs) - min(xs)), 230 / (max(ys) - min(ys)), 3.0)
    picture = Picture(480, 320)
    place = lambda p: (240 + scale * (p[0] - (max(xs) + min(xs)) / 2),
                       140 - scale * (p[1] - (max(ys) + min(ys)) / 2))
    rng = dice(row)
    picture.polygon([place(p) for p in points], 96 if "bark" in row["part"] else 120, rng)
    for ring in holes(row):
        picture.polygon([place(p) for p in ring], 30, rng)
    picture.text(14, 296, row["id"], 2)
    if bar:
        length, label = bar
        x = 240 - scale * length / 2
        for i in range(5):
            picture.box(x + i * scale * length / 5, 290, x + (i + 1) * scale * length / 5, 298,
                        20 if i % 2 == 0 else 250)
        picture.text(int(x + scale * length + 10), 288, label, 2)
    picture.save(path)


def trial_shape(row):
    """A trial piece from above; one whose bow was read from its end; a cracked one in two."""
    if number(row, "chord") and number(row, "rise"):
        chord, rise, thick = number(row, "chord"), number(row, "rise"), number(row, "through")
        n, bow = 24, lambda x: rise * (1 - (2 * x / chord) ** 2)
        xs = [chord * (i / n - 0.5) for i in range(n + 1)]
        return [[(x, bow(x)) for x in xs] + [(x, bow(x) - thick) for x in reversed(xs)]]
    long, wide = number(row, "along"), number(row, "around")
    if long < wide:
        long, wide = wide, long
    if row["failed"] != "true":
        return [[(0, 0), (long, 0), (long, wide), (0, wide)]]
    rng = dice(row)
    crack = [(long * rng.uniform(0.45, 0.5), wide * i / 6) for i in range(7)]
    return [[(0, 0)] + crack + [(0, wide)],
            [(long + 4, 0), (long + 4, wide)] + [(x + 4, y) for x, y in reversed(crack)]]


def group(rows, bar, path):
    """Several pieces laid out by number, row after row, at one scale."""
    made = []
    for row in rows:
        if "trial" in row:
            shapes = trial_shape(row)
        else:
            points = outline(row)
            if not points and number(row, "length_mm") and number(row, "width_mm"):
                points = torn_sheet(row)
            shapes = points and [points[0]]
        if shapes:
            xs, ys = [p[0] for s in shapes for p in s], [p[1] for s in shapes for p in s]
            made.append((row, shapes, max(xs) - min(xs), max(ys) - min(ys), min(xs), max(ys)))
    scale = 3.0
    while True:  # the largest scale at which all lie on the board
        x, y, high, places = 12, 12, 0, []
        for row, shapes, width, height, left, top in made:
            if x > 12 and x + scale * width > 468:
                x, y, high = 12, y + high + 26, 0
            places.append((x, y))
            x, high = x + scale * width + 14, max(high, scale * height)
        if y + high < 256 and all(12 + scale * m[2] < 468 for m in made):
            break
        scale *= 0.97
    picture = Picture(480, 320)
    for (row, shapes, width, height, left, top), (x, y) in zip(made, places):
        for points in shapes:
            picture.polygon([(x + scale * (px - left), y + scale * (top - py)) for px, py in points],
                            96 if "bark" in row.get("part", "bark") else 120, dice(row))
        picture.text(int(x), int(y + scale * height + 4), row["id"], 2)
    length, label = bar
    for i in range(5):
        picture.box(240 + (i - 2.5) * scale * length / 5, 290, 240 + (i - 1.5) * scale * length / 5,
                    298, 20 if i % 2 == 0 else 250)
    picture.text(int(240 + scale * length / 2 + 10), 288, label, 2)
    picture.save(path)


# ---- one demo -------------------------------------------------------------------------------


def draw(folder):
    with open(os.path.join(folder, "finds.csv"), newline="", encoding="utf-8") as f:
        rows = {r["id"]: r for r in csv.DictReader(f)}
    features = [f for f in (feature(r) for r in rows.values()) if f]
    with open(os.path.join(folder, "outlines.geojson"), "w", encoding="utf-8") as out:
        out.write('{"type": "FeatureCollection",\n "relict:frame": {"unit": "mm", "x": "right", '
                  '"y": "up"},\n "features": [\n')
        out.write(",\n".join(json.dumps(f, separators=(",", ":")) for f in features))
        out.write("\n]}\n")
    with open(os.path.join(folder, "source.csv"), newline="", encoding="utf-8") as f:
        photos = [r for r in csv.DictReader(f) if r["kind"] == "photo"]
    tried = []
    if os.path.exists(os.path.join(folder, "trial_piece.csv")):
        with open(os.path.join(folder, "trial_piece.csv"), newline="", encoding="utf-8") as f:
            tried = list(csv.DictReader(f))
    os.makedirs(os.path.join(folder, "files"), exist_ok=True)
    for p in photos:
        about = json.loads(p["about"])
        if not about:  # of a trial: named after it
            group([r for r in tried if r["trial"] + ".png" == p["file"]],
                  (float(p["bar_length_mm"]), p["bar_length_mm"] + " mm"),
                  os.path.join(folder, "files", p["file"]))
            continue
        if p["file"] != about[0] + ".png":
            group([rows[i] for i in about], (float(p["bar_length_mm"]), p["bar_length_mm"] + " mm"),
                  os.path.join(folder, "files", p["file"]))
            continue
        row = rows[about[0]]
        bar = None
        if p["bar_length_mm"]:
            bar = (float(p["bar_length_mm"]), p["bar_length_mm"] + " mm")
        elif "not marked" in row["note"]:
            bar = (50.0, "")
        if number(row, "width_mm") is None:
            row = dict(row, width_mm="34")  # an edge whose width nobody measured
        photo(row, bar, os.path.join(folder, "files", p["file"]))


for name in sys.argv[1:]:
    draw(name)
