// Sections through a form and its heights from above: the drawn views that say in flat what the
// view in space shows.
import { board, line, put, text, stick, contours, edgesOf, grainSign } from "./ink.js";
import { say } from "./words.js";
import { figures } from "./inplace.js";

// Where the plane across axis (0: x = at, 1: y = at) of the plan cuts the form: [along, height].
export function cut(form, axis, at) {
  const flat = form.flat || form.points, out = [];
  for (const t of form.triangles) for (let e = 0; e < 3; e++) {
    const a = t[e], b = t[(e + 1) % 3], u = flat[a][axis] - at, v = flat[b][axis] - at;
    if ((u < 0) === (v < 0)) continue;
    const s = u / (u - v), p = form.points[a], q = form.points[b];
    out.push([p[1 - axis] + s * (q[1 - axis] - p[1 - axis]), p[2] + s * (q[2] - p[2])]);
  }
  out.sort((a, b) => a[0] - b[0]);
  return out.filter((p, i) => i === 0 || p[0] - out[i - 1][0] > 0.05);
}

export const rangeOf = (values) => values.reduce(([lo, hi], v) => [Math.min(lo, v), Math.max(hi, v)], [Infinity, -Infinity]);
const places = (v) => v < 1 ? 2 : v < 20 ? 1 : 0;

// One section at true scale, heights drawn `times` as high where that is more than once.
export function section(form, axis, { thickness = 4, times = 1, marks = [], name, others = [] }) {
  const own = cut(form, axis, 0), low = Math.min(...own.map((p) => p[1]));
  const raise = (pts) => pts.map(([x, z]) => [x, (z - low) * times]);
  const top = raise(own), rest = others.map((o) => ({ ...o, points: raise(cut(o.form, axis, 0)) }));
  const [x1, , x2] = edgesOf(top), high = Math.max(...top.map((p) => p[1]), ...rest.flatMap((o) => o.points.map((p) => p[1])));
  const below = Math.max(0, ...marks.map((m) => m.side === "inner face" ? m.high : m.side === "outer face" ? 0 : (m.high - thickness) / 2));
  const lowest = Math.min(-below, ...rest.flatMap((o) => o.points.map((p) => p[1])));
  const [z1, z2] = rangeOf(own.map((p) => p[1]));
  const words = say(axis === 0 ? "section.across" : "section.along", { name, high: figures(z2 - z1, places(z2 - z1)), wide: figures(x2 - x1, 0), times: times > 1 ? say("section.times", { n: times }) : "" });
  return board({ words, bounds: () => [x1 - 10, lowest - thickness - 14, x2 + 10, high + 14], tallest: 220 }, (pen) => {
    const ground = pen.at(x1 - 6, lowest - thickness);
    put(pen, "path", { class: "hair", d: `M${ground[0]} ${ground[1] + 4}H${pen.at(x2 + 6, 0)[0]}` });
    for (const o of rest) {
      line(pen, o.points, o.kind || "dry", false);
      const end = o.points[o.points.length - 1];
      if (end) text(pen, end[0], end[1], o.name, { anchor: "end", dy: -6, kind: "label second" });
    }
    const under = [...top].reverse().map(([x, z]) => [x, z - thickness]);
    put(pen, "path", { class: "cut-face", d: "M" + [...top, ...under].map(([x, z]) => pen.at(x, z).map((v) => v.toFixed(1)).join(" ")).join("L") + "Z" });
    for (const m of marks) {
      const near = top.reduce((b, p) => Math.abs(p[0] - m.at) < Math.abs(b[0] - m.at) ? p : b, top[0]);
      if (!near) continue;
      const low = m.side === "outer face" ? near[1] : m.side === "inner face" ? near[1] - thickness - m.high : near[1] - thickness / 2 - m.high / 2;
      const [X, Y] = pen.at(m.at - m.wide / 2, low + m.high), [X2, Y2] = pen.at(m.at + m.wide / 2, low);
      put(pen, "rect", { class: "mark", x: X.toFixed(1), y: Y.toFixed(1), width: Math.max(2, X2 - X).toFixed(1), height: Math.max(2, Y2 - Y).toFixed(1) });
    }
    stick(pen, 12, pen.height - 4);
  });
}

// Heights over the lowest place of the edge, from above, as numbered contour lines.
export function heights(form, { name, grain = 0, value = (p) => p[2] }) {
  const flat = form.flat || form.points, raw = form.points.map(value), base = Math.min(...raw), v = raw.map((h) => h - base), high = Math.max(...v, 1e-6);
  const [x1, y1, x2, y2] = edgesOf(flat), p = high < 2 ? 2 : high < 20 ? 1 : 0;
  const words = say("heights.words", { name, high: figures(high, p), step: figures(high / 7, Math.max(p, high / 7 < 1 ? 2 : 1)) });
  return board({ words, bounds: () => [x1 - 8, y1 - 24, x2 + 8, y2 + 8] }, (pen) => {
    const edge = rings(form.triangles);
    contours(pen, flat, form.triangles, v, { low: 0, high, rim: edge.flat(), show: (h) => figures(h, Math.max(p, high / 7 < 1 ? 2 : 1)) });
    for (const ring of edge) line(pen, ring.map((i) => flat[i]), "fresh", true);
    grainSign(pen, (x1 + x2) / 2, y1 - 14, grain, 96);
    stick(pen);
  });
}

// All edges of a net as rings of vertices.
export function rings(triangles) {
  const count = new Map(), next = new Map(), key = (a, b) => a < b ? `${a} ${b}` : `${b} ${a}`;
  const sides = triangles.flatMap((t) => [[t[0], t[1]], [t[1], t[2]], [t[2], t[0]]]);
  for (const [a, b] of sides) count.set(key(a, b), (count.get(key(a, b)) || 0) + 1);
  for (const [a, b] of sides) if (count.get(key(a, b)) === 1) next.set(a, b);
  const out = [];
  while (next.size) {
    const ring = [], first = next.keys().next().value;
    for (let i = first; next.has(i);) { ring.push(i); const n = next.get(i); next.delete(i); i = n; }
    out.push(ring);
  }
  return out;
}
