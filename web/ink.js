// Drawing in the look: hatches, the whipped band, edges, the stick, the grain sign. Places come in
// mm, x right and y up; lines and hatch cells keep their size on the screen at any zoom.
import { el, svg, empty } from "./dom.js";
import { say } from "./words.js";

let boards = 0;

// A board for one drawing. `bounds(width px)` is [x1, y1, x2, y2] mm; `draw(pen)` is called with every new
// width of the page. A board that is played with says so by `name`; one that is only looked at is
// one picture with its sentence.
export function board({ bounds, words, name, tallest = 620, border = 24 }, draw) {
  const root = svg("svg", { class: "ink", ...(name ? { role: "group", "aria-label": name } : { role: "img", "aria-label": words || "" }) });
  const figure = el("figure", { class: "board" }, root, words ? el("figcaption", {}, words) : null);
  const id = `board${++boards}`;
  let at = 0;
  const redraw = () => {
    const width = Math.round(figure.clientWidth);
    if (!width) return;
    at = width;
    const [x1, y1, x2, y2] = bounds(width);
    const k = Math.min((width - 2 * border) / (x2 - x1), (tallest - 2 * border) / (y2 - y1));
    const height = Math.ceil((y2 - y1) * k + 2 * border), left = (width - (x2 - x1) * k) / 2;
    empty(root);
    root.setAttribute("viewBox", `0 0 ${width} ${height}`);
    root.setAttribute("width", width);
    root.setAttribute("height", height);
    const defs = svg("defs");
    root.append(defs);
    draw({
      root, defs, id, k, width, height, patterns: new Map(),
      at: (x, y) => [left + (x - x1) * k, border + (y2 - y) * k],
      from: (X, Y) => [x1 + (X - left) / k, y2 - (Y - border) / k],
    });
  };
  new ResizeObserver(() => { if (Math.round(figure.clientWidth) !== at) redraw(); }).observe(figure);
  figure.redraw = redraw;
  figure.retell = (text) => {
    const caption = figure.querySelector("figcaption");
    if (caption) caption.textContent = text;
    if (!name) root.setAttribute("aria-label", text);
  };
  return figure;
}

const round = (v) => Math.round(v * 100) / 100;
export const path = (pen, points, closed) =>
  points.length ? "M" + points.map(([x, y]) => pen.at(x, y).map(round).join(" ")).join("L") + (closed ? "Z" : "") : "";
export function put(pen, name, attributes, into = pen.root) {
  const node = svg(name, attributes);
  into.append(node);
  return node;
}
export const line = (pen, points, kind, closed = false, into = pen.root) =>
  put(pen, "path", { class: kind, d: path(pen, points, closed) }, into);
export function text(pen, x, y, words, { anchor = "start", kind = "label", dx = 0, dy = 0, into = pen.root } = {}) {
  const [X, Y] = pen.at(x, y), node = put(pen, "text", { x: round(X + dx), y: round(Y + dy), class: kind, "text-anchor": anchor }, into);
  node.textContent = words;
  return node;
}

// ---- hatches: cells in mm of paper, 4 px each at any zoom; x runs along the grain ----

const lens = (x, y, w, h) => `M${x} ${y - h}C${x + w * 4 / 3} ${y - h / 3} ${x + w * 4 / 3} ${y + h / 3} ${x} ${y + h}C${x - w * 4 / 3} ${y + h / 3} ${x - w * 4 / 3} ${y - h / 3} ${x} ${y - h}Z`;
const pair = (x, y, along) => along ? `M${x - 0.75} ${y - 0.375}h1.5M${x - 0.75} ${y + 0.375}h1.5` : `M${x - 0.375} ${y - 0.75}v1.5M${x + 0.375} ${y - 0.75}v1.5`;
const ring = (x, y) => `M${x - 0.7} ${y}a0.7 0.7 0 1 0 1.4 0a0.7 0.7 0 1 0 -1.4 0`;
const loop = (x, y) => `M${x} ${y + 0.4}C${x + 3.9} ${y + 0.3} ${x + 3.7} ${y + 3} ${x + 2} ${y + 3}C${x + 0.3} ${y + 3} ${x + 0.1} ${y + 0.3} ${x + 4} ${y + 0.4}`;
export const cells = {
  "seen": { w: 3, h: 5, filled: true, tint: true, d: lens(0.75, 1.25, 0.375, 1.25) + lens(2.25, 3.75, 0.375, 1.25) },
  "worked out": { w: 4, h: 4, d: pair(1, 1, true) + pair(3, 1, false) + pair(1, 3, false) + pair(3, 3, true) },
  "from a parallel": { w: 4, h: 7, d: loop(0, 0) + loop(-2, 3.5) + loop(2, 3.5) },
  "guessed": { w: 6, h: 5, d: ring(1.5, 1.25) + ring(4.5, 3.75) },
  "modern need": { w: 5, h: 5, heavy: true, upright: true, d: "M1.5 1.75v1.5h2v-1.5" },
};

// The fill of a footing, turned with the grain (radians from x).
export function hatch(pen, footing, grain = 0) {
  const cell = cells[footing];
  if (!cell) return "none";
  const turn = cell.upright ? 0 : -Math.round((grain || 0) * 180 / Math.PI), key = `${footing} ${turn}`;
  if (!pen.patterns.has(key)) {
    const id = `${pen.id}-${pen.patterns.size}`;
    const p = put(pen, "pattern", { id, width: cell.w * 4, height: cell.h * 4, patternUnits: "userSpaceOnUse", patternTransform: `rotate(${turn})` }, pen.defs);
    if (cell.tint) p.append(svg("rect", { class: "tint", width: cell.w * 4, height: cell.h * 4 }));
    p.append(svg("path", { d: cell.d, transform: "scale(4)", class: cell.filled ? "cell filled" : cell.heavy ? "cell heavy" : "cell" }));
    pen.patterns.set(key, id);
  }
  return `url(#${pen.patterns.get(key)})`;
}

// A thing with its hatch: areas under 20 px carry the glyph beside the word instead.
export function filled(pen, points, footing, grain, into = pen.root) {
  return put(pen, "path", { d: path(pen, points, true), fill: hatch(pen, footing, grain), class: "fill" }, into);
}

// ---- edges ----

export function likelyEdge(pen, points, { closed = true, rival = false, into = pen.root } = {}) {
  line(pen, points, "edge-clear", closed, into);
  return line(pen, points, rival ? "edge-likely rival" : "edge-likely", closed, into);
}
export const survivingEdge = (pen, points, into = pen.root) => line(pen, points, "edge-seen", false, into);

// Open lozenges every 25 mm of paper (100 px) mark the second of two rivals.
export function lozenges(pen, points, into = pen.root) {
  walk(points.map(([x, y]) => pen.at(x, y)), false, 100, 50, (x, y, a) =>
    put(pen, "path", { class: "lozenge", d: "M-7 0L0 4L7 0L0 -4Z", transform: `translate(${round(x)} ${round(y)}) rotate(${round(a * 180 / Math.PI)})` }, into));
}

// Steps along a line in px: visit(x, y, angle, index of side, fraction of it).
function walk(points, closed, step, first, visit) {
  let left = first;
  const n = points.length, sides = closed ? n : n - 1;
  for (let i = 0; i < sides; i++) {
    const a = points[i], b = points[(i + 1) % n], l = Math.hypot(b[0] - a[0], b[1] - a[1]);
    for (; left <= l; left += step) visit(a[0] + (b[0] - a[0]) * left / l, a[1] + (b[1] - a[1]) * left / l, Math.atan2(b[1] - a[1], b[0] - a[0]), i, left / l);
    left -= l;
  }
}

// ---- the whipped band ----

// low, high: 5 % and 95 %; quarter, threequarter: the middle half (NULL: by the normal's share);
// likely on top; lowAll, highAll: the whole curve at once in 9 of 10. All run alike, in mm.
export function band(pen, { low, high, quarter, threequarter, likely, lowAll, highAll, closed = true }) {
  const g = put(pen, "g", { class: "whipped" }), n = likely.length;
  const even = (p) => p.map(([x, y]) => pen.at(x, y));
  const L = even(low), H = even(high), M = even(likely), q = quarter && even(quarter), t = threequarter && even(threequarter),
    LL = lowAll && even(lowAll), HH = highAll && even(highAll);
  const d = (p, c) => "M" + p.map((v) => v.map(round).join(" ")).join("L") + (c ? "Z" : "");
  put(pen, "path", { class: "cleared", "fill-rule": "evenodd", d: closed ? d(L, true) + d(H, true) : d([...L, ...[...H].reverse()], true) }, g);
  put(pen, "path", { class: "hair", d: d(L, closed) }, g);
  put(pen, "path", { class: "hair", d: d(H, closed) }, g);
  const place = (p, i, f) => { const a = p[i], b = p[(i + 1) % n]; return [a[0] + (b[0] - a[0]) * f, a[1] + (b[1] - a[1]) * f]; };
  // where a stroke that leans by 60 degrees meets the other side: further along by width / tan 60
  const ahead = (i, f, by) => {
    for (let l, s = f; ; i = (i + 1) % n, s = 0) {
      if (!closed && i + 1 >= n) return null;
      const a = M[i], b = M[(i + 1) % n];
      l = Math.hypot(b[0] - a[0], b[1] - a[1]);
      if (by <= l * (1 - s) || l === 0 && by <= 0) return [i, s + (l ? by / l : 0)];
      by -= l * (1 - s);
    }
  };
  let number = 0, strokes = "", reach = "", lastTie = -1000;
  const stroke = (a, b) => { strokes += `M${round(a[0])} ${round(a[1])}L${round(b[0])} ${round(b[1])}`; };
  walk(M, closed, 4, 0, (x, y, angle, i, f) => {
    const a = place(L, i, f), straight = place(H, i, f), width = Math.hypot(straight[0] - a[0], straight[1] - a[1]), k = number++;
    if (width < 6) { // narrower than 1.5 mm of paper: a tie mark each 20 mm with the figure
      if (k - lastTie < 20) return;
      lastTie = k;
      const ux = (straight[0] - a[0]) / (width || 1), uy = (straight[1] - a[1]) / (width || 1);
      put(pen, "path", { class: "tie", d: `M${round(x - 5 * ux)} ${round(y - 5 * uy)}L${round(x + 5 * ux)} ${round(y + 5 * uy)}` }, g);
      const node = put(pen, "text", { x: round(x + 14 * ux), y: round(y + 14 * uy + 4), class: "label small", "text-anchor": "middle" }, g);
      node.textContent = `± ${(width / pen.k / 2).toFixed(width / pen.k < 20 ? 1 : 0)}`;
      return;
    }
    const far = ahead(i, f, width / Math.tan(Math.PI / 3));
    if (!far) return;
    const b = place(H, far[0], far[1]);
    if (k % 3 === 0) stroke(a, b);
    else if (q && t) stroke(place(q, i, f), mix(place(t, i, f), place(t, far[0], far[1]), fraction(t, i, f, a, straight)));
    else stroke(mix(a, b, 0.295), mix(a, b, 0.705)); // 0.674 / 1.645 of the half width either side of the middle
    if (k % 30 === 0 && LL && HH) {
      reach += bar(a, place(LL, i, f)) + bar(b, place(HH, far[0], far[1]));
    }
  });
  function fraction(p, i, f, a, b) { const v = place(p, i, f), w = Math.hypot(b[0] - a[0], b[1] - a[1]); return w ? Math.hypot(v[0] - a[0], v[1] - a[1]) / w : 0.5; }
  put(pen, "path", { class: "strokes", d: strokes }, g);
  if (reach) put(pen, "path", { class: "strokes", d: reach }, g);
  return g;
}
const mix = (a, b, t) => [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
function bar(near, far) {
  const dx = far[0] - near[0], dy = far[1] - near[1], l = Math.hypot(dx, dy);
  if (l < 1) return "";
  const nx = -dy / l * 3, ny = dx / l * 3;
  return `M${near.map(round).join(" ")}L${far.map(round).join(" ")}M${round(far[0] - nx)} ${round(far[1] - ny)}L${round(far[0] + nx)} ${round(far[1] + ny)}`;
}

// An excluded shape: a hairline struck by a cross where a reading excludes it, with its number.
export function excluded(pen, points, where, reading, into = pen.root) {
  const g = put(pen, "g", { class: "excluded" }, into), [x, y] = pen.at(...where).map(round);
  line(pen, points, "hair ink", true, g);
  put(pen, "path", { class: "cross", d: `M${x - 5} ${y - 5}l10 10M${x - 5} ${y + 5}l10 -10` }, g);
  const right = x > pen.width * 0.6;
  text(pen, ...where, reading, { anchor: right ? "end" : "start", dx: right ? -9 : 9, dy: -6, into: g });
  return g;
}

// ---- signs ----

// The stick of 100 mm (shorter things: of 10): deep cuts at 0, 50 and 100, nicks each 10.
export function stick(pen, x = 12, y = pen.height - 10) {
  const unit = pen.k * 100 > pen.width * 0.6 ? 10 : 100, l = unit * pen.k;
  let d = `M${x} ${y}h${round(l)}`;
  for (let i = 0; i <= 10; i++) d += `M${round(x + l * i / 10)} ${y}v${i % 5 ? -5 : -11}`;
  put(pen, "path", { class: "stick-line", d });
  const node = put(pen, "text", { x: round(x + l + 8), y: y + 1, class: "label" });
  node.textContent = say("ink.mm", { n: unit });
}

// Grain: a line in its direction whose butt end parts into three short roots.
export function grainSign(pen, x, y, grain = 0, length = 90) {
  const [X, Y] = pen.at(x, y);
  put(pen, "path", { class: "grain", transform: `translate(${round(X)} ${round(Y)}) rotate(${round(-grain * 180 / Math.PI)})`,
    d: `M${-length / 2} 0h${length}M${-length / 2} 0l-12 -7M${-length / 2} 0h-12M${-length / 2} 0l-12 7` });
}

// A line of a part by its side of the sheet: one line outside, two inside, two with rungs within.
export function sided(pen, outline, side, into = pen.root) {
  const px = outline.map(([x, y]) => pen.at(x, y)), d = (p) => "M" + p.map((v) => v.map(round).join(" ")).join("L") + "Z";
  if (side !== "inner face" && side !== "within the thickness") return put(pen, "path", { class: "part-line", d: d(px) }, into);
  const g = put(pen, "g", {}, into), inner = inset(px, 4);
  put(pen, "path", { class: "part-thin", d: d(px) + d(inner) }, g);
  if (side === "within the thickness") {
    let rungs = "";
    walk(px, true, 12, 6, (x, y, a) => { rungs += `M${round(x)} ${round(y)}l${round(Math.sin(a) * 4 * turnOf(px))} ${round(-Math.cos(a) * 4 * turnOf(px))}`; });
    put(pen, "path", { class: "part-thin", d: rungs }, g);
  }
  return g;
}
// Which way an outline of px runs round: -1 where its area is positive.
export function turnOf(p) {
  let s = 0;
  for (let i = 0; i < p.length; i++) { const a = p[i], b = p[(i + 1) % p.length]; s += a[0] * b[1] - b[0] * a[1]; }
  return s > 0 ? -1 : 1;
}
function inset(p, by) {
  const s = turnOf(p), n = p.length;
  return p.map((b, i) => {
    const a = p[(i + n - 1) % n], c = p[(i + 1) % n], u = unit(a, b), v = unit(b, c);
    const nx = (u[1] + v[1]) * s, ny = -(u[0] + v[0]) * s, q = nx * nx + ny * ny || 1;
    return [b[0] + 2 * by * nx / q, b[1] + 2 * by * ny / q];
  });
}
function unit(a, b) { const l = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1; return [(b[0] - a[0]) / l, (b[1] - a[1]) / l]; }

// ---- a quantity over a surface: seven steps from leaf to bark, contour lines with numbers ----

export const rampStep = (t) => `ramp-${Math.min(6, Math.max(0, Math.floor(t * 7)))}`;

// points [[x, y], ...] mm, triangles [[a, b, c], ...], values [...]; levels between low and high; rim: vertices of the
// surface's edge, from which the numbers keep away where they can.
export function contours(pen, points, triangles, values, { low, high, rim = [], show = (v) => v.toFixed(0), into = pen.root }) {
  const g = put(pen, "g", { class: "surface" }, into), span = high - low || 1, bands = Array.from({ length: 7 }, () => ""), cuts = Array.from({ length: 6 }, () => []);
  const P = points.map(([x, y]) => pen.at(x, y));
  for (const tri of triangles) {
    for (let s = 0; s < 7; s++) {
      const poly = clip(tri.map((i) => [P[i][0], P[i][1], values[i]]), low + span * s / 7, low + span * (s + 1) / 7, s === 0, s === 6);
      if (poly.length > 2) bands[s] += "M" + poly.map((v) => `${round(v[0])} ${round(v[1])}`).join("L") + "Z";
    }
    for (let s = 1; s < 7; s++) {
      const level = low + span * s / 7, ends = [];
      for (let e = 0; e < 3; e++) {
        const i = tri[e], j = tri[(e + 1) % 3], a = values[i], b = values[j];
        if ((a < level) !== (b < level)) ends.push(mix(P[i], P[j], (level - a) / (b - a)));
      }
      if (ends.length === 2) cuts[s - 1].push(ends);
    }
  }
  bands.forEach((d, s) => d && put(pen, "path", { class: `ramp-${s}`, d }, g));
  cuts.forEach((ends, s) => {
    if (!ends.length) return;
    put(pen, "path", { class: "contour", d: ends.map(([a, b]) => `M${a.map(round).join(" ")}L${b.map(round).join(" ")}`).join("") }, g);
  });
  // Numbers last, where no other number stands already and they lie inside; the step is told in words too.
  const taken = [], room = (a, others) => others.reduce((least, p) => Math.min(least, Math.hypot(p[0] - a[0], p[1] - a[1])), Infinity);
  cuts.forEach((ends, s) => {
    let at = null, inside = -1;
    for (const [a] of ends) {
      if (a[0] < 20 || a[0] > pen.width - 20 || room(a, taken) <= 44) continue;
      const r = Math.min(24, room(a, rim.map((i) => P[i])));
      if (r > inside) [at, inside] = [a, r];
    }
    if (!at || inside < 9) return;
    taken.push(at);
    const node = put(pen, "text", { class: "label on", x: round(at[0]), y: round(at[1] + 5), "text-anchor": "middle" }, g);
    node.textContent = show(low + span * (s + 1) / 7);
  });
  return g;
}
// The part of a polygon [x, y, value] whose value lies between low and high.
function clip(poly, low, high, open, shut) {
  const cut = (p, keep, level) => {
    const out = [];
    for (let i = 0; i < p.length; i++) {
      const a = p[i], b = p[(i + 1) % p.length], A = keep(a[2]), B = keep(b[2]);
      if (A) out.push(a);
      if (A !== B) { const t = (level - a[2]) / (b[2] - a[2]); out.push([a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t, level]); }
    }
    return out;
  };
  let p = poly;
  if (!open) p = cut(p, (v) => v >= low, low);
  if (!shut && p.length) p = cut(p, (v) => v <= high, high);
  return p;
}

// ---- extent of points: [x1, y1, x2, y2] ----

export function edgesOf(points) {
  let x1 = Infinity, y1 = Infinity, x2 = -Infinity, y2 = -Infinity;
  for (const [x, y] of points) { x1 = Math.min(x1, x); x2 = Math.max(x2, x); y1 = Math.min(y1, y); y2 = Math.max(y2, y); }
  return [x1, y1, x2, y2];
}
