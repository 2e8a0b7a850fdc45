// Parts of a making on its sheet, drawn as LOOK says: hatch for why, line for where.
import { put, text, filled, sided, hatch, line } from "./ink.js";

const RAD = Math.PI / 180;
export const movable = (part) => ["lath", "grip", "centre piece", "peg"].includes(part.kind);

// A part's outline about its own middle and unturned, mm; null when it runs along a path.
function figure(part) {
  if (part.kind === "centre piece" || part.kind === "peg") {
    const r = (part.diameter || part.width || 8) / 2;
    return Array.from({ length: 48 }, (_, i) => [r * Math.cos(i * Math.PI / 24), r * Math.sin(i * Math.PI / 24)]);
  }
  if ((part.points && part.points.length) || !movable(part) || !part.length || !part.width) return null;
  const a = part.length / 2, b = part.width / 2;
  return [[-a, -b], [a, -b], [a, b], [-a, b]];
}

export function outlineOf(part) {
  const f = figure(part);
  if (!f) return part.points || [];
  const c = Math.cos((part.angle || 0) * RAD), s = Math.sin((part.angle || 0) * RAD);
  return f.map(([x, y]) => [(part.x || 0) + c * x - s * y, (part.y || 0) + s * x + c * y]);
}

// Grain of what lies on the sheet runs along it; of the sheet as it says.
const grainOf = (part) => part.kind === "sheet" ? (part.grain || 0) * RAD : (part.angle || 0) * RAD;

function alongPath(points, step, visit) {
  let left = 0;
  for (let i = 0; i < points.length; i++) {
    const a = points[i], b = points[(i + 1) % points.length], l = Math.hypot(b[0] - a[0], b[1] - a[1]);
    for (; left < l; left += step) visit(a[0] + (b[0] - a[0]) * left / l, a[1] + (b[1] - a[1]) * left / l);
    left -= l;
  }
}

function offset(points, by) {
  const n = points.length, u = (a, b) => { const l = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1; return [(b[0] - a[0]) / l, (b[1] - a[1]) / l]; };
  return points.map((b, i) => {
    const v = u(points[(i + n - 1) % n], b), w = u(b, points[(i + 1) % n]), nx = v[1] + w[1], ny = -(v[0] + w[0]), q = nx * nx + ny * ny || 1;
    return [b[0] + 2 * by * nx / q, b[1] + 2 * by * ny / q];
  });
}

// Draws one part into a group of its own and returns the group.
export function drawPart(pen, part, into = pen.root) {
  const g = put(pen, "g", { class: "part", "data-part": part.id }, into), outline = outlineOf(part);
  if (outline.length < 2) return g;
  if (part.kind === "sheet") {
    filled(pen, outline, part.footing, grainOf(part), g);
    if (!pen.edgeLater) line(pen, outline, "fresh", true, g);
  } else if (part.kind === "rim") {
    const w = (part.width || 8) / 2;
    for (const by of [-w, w]) line(pen, offset(outline, by), "part-thin", true, g);
  } else if (part.kind === "tie") {
    const r = Math.max(1.2, (part.hole || 2) / 2 * pen.k);
    if (part.pitch > 0.5) alongPath(outline, part.pitch, (x, y) => {
      const [X, Y] = pen.at(x, y);
      put(pen, "circle", { class: "hole", cx: X.toFixed(1), cy: Y.toFixed(1), r: r.toFixed(2) }, g);
    });
  } else if (part.kind === "paint") {
    for (const by of [-(part.width || 0) / 2, (part.width || 0) / 2])
      for (const apart of [-0.2, 0.2]) line(pen, offset(outline, by + apart * 4 / pen.k), "part-thin paint", true, g);
  } else {
    line(pen, outline, "clear-round", true, g);
    if (part.inner_diameter > 0) {
      const hole = outlineOf({ ...part, diameter: part.inner_diameter });
      put(pen, "path", { class: "fill", "fill-rule": "evenodd", fill: hatch(pen, part.footing, grainOf(part)),
        d: [outline, hole].map((p) => "M" + p.map(([x, y]) => pen.at(x, y).map((v) => v.toFixed(1)).join(" ")).join("L") + "Z").join("") }, g);
      line(pen, hole, "part-thin", true, g);
    } else filled(pen, outline, part.footing, grainOf(part), g);
    sided(pen, outline, part.side, g);
  }
  return g;
}

export function labelOf(pen, part, into, chosen) {
  if (!movable(part)) return null;
  const turned = Math.abs(Math.sin((part.angle || 0) * RAD)) > 0.5, half = part.kind === "centre piece" ? (part.diameter || 0) / 2 : turned ? (part.length || 0) / 2 : (part.width || 0) / 2;
  const number = /(\d+)$/.exec(part.id);
  return text(pen, part.x || 0, (part.y || 0) - half, number && part.kind === "lath" ? number[1] : part.name || part.kind, { anchor: "middle", dy: part.kind === "lath" ? -10 : 16, kind: chosen ? "label chosen" : "label", into });
}

const ORDER = ["sheet", "lath", "paint", "tie", "rim", "seam", "centre piece", "grip", "peg"];
export const inOrder = (parts) => [...parts].sort((a, b) => ORDER.indexOf(a.kind) - ORDER.indexOf(b.kind));

// The sheet's edge once more, over what lies across it.
export const sheetEdge = (pen, parts) => parts.filter((p) => p.kind === "sheet").forEach((p) => line(pen, outlineOf(p), "fresh untouchable", true));
