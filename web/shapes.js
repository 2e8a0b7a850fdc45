// Shapes of the pieces as found and their places on a leaf, at one scale.
//
//   const shapes = shapesOf(pieces, outlines, measures)   [{id, part, points, surviving, grain, box}]
//   const laid = layOut(shapes, widthMm, gapMm, smallMm, roomMm)     {placed: [{...shape, x, y}], height}
//   drawPieces(pen, laid.placed, {labels, chosen})        groups with data-piece
//   reach(root, {enter, leave, choose})                   mouse, touch and arrow keys for all of them
//
// A piece with an outline is drawn by it. One without is a bar of its length and width, whose ends
// say how they are: whole a square stop, broken saw teeth, torn strands, worn a half round. A piece
// whose size nobody knows is not drawn.
import { put, text, filled, survivingEdge, line, edgesOf, turnOf } from "./ink.js";

const ENDS = ["whole", "broken", "torn", "worn"];
const NO_BODY = new Set(["mixed", "trace", "colour"]); // these lie on other pieces

// Points down one end of a bar, from (x, -h) to (x, h); `out` is 1 at the right, -1 at the left, and
// teeth go `deep` mm into it.
function endOf(kind, x, h, out, deep) {
  const at = (d, y) => [x - d * deep * out, y * h];
  if (kind === "broken") return [at(0, -1), at(1, -2 / 3), at(0, -1 / 3), at(1, 0), at(0, 1 / 3), at(1, 2 / 3), at(0, 1)];
  if (kind === "torn") return [at(0, -1), at(2, -0.6), at(0.4, -0.45), at(2.6, -0.1), at(0, 0.1), at(1.7, 0.45), at(0.6, 0.6), at(2.3, 1)];
  if (kind === "worn") return Array.from({ length: 9 }, (_, i) => at(1.6 * (1 - Math.cos((i - 4) * Math.PI / 8)), Math.sin((i - 4) * Math.PI / 8)));
  return [at(0, -1), at(0, 1)];
}
function bar(length, width, ends) {
  const [a, b] = ends.length ? ends : ["broken", "broken"], deep = Math.min(0.15 * width, 0.04 * length, 4);
  const right = endOf(b || "broken", length / 2, width / 2, 1, deep), left = endOf(a, -length / 2, width / 2, -1, deep).reverse();
  const points = [...right, ...left], surviving = points.map(() => 0);
  if (b === "whole") surviving[0] = 1;
  if (a === "whole") surviving[right.length] = 1;
  return { points, surviving };
}

export function shapesOf(pieces, outlines, measures) {
  const drawn = new Map(outlines.filter((o) => !o.gone).map((o) => [o.body.piece, o.body])), sizes = new Map();
  for (const m of measures) {
    if (m.gone || m.body.mark || m.body.rival_of || !["length", "width"].includes(m.body.quantity)) continue;
    if (!sizes.has(m.body.piece)) sizes.set(m.body.piece, {});
    sizes.get(m.body.piece)[m.body.quantity] ??= m.body;
  }
  const out = [];
  for (const p of pieces) {
    if (p.gone || p.body.same_as) continue;
    const o = drawn.get(p.id), s = sizes.get(p.id) || {};
    let shape = null;
    if (o && o.points && o.points.length > 2) shape = { points: o.points, surviving: o.surviving || [] };
    else if (s.length && s.width && !NO_BODY.has(p.body.substance)) shape = bar(s.length.value, s.width.value, (s.length.end_kinds || []).map((k) => ENDS[k]));
    if (shape) out.push({ id: p.id, part: p.body.part || "", belongs: p.body.belongs ?? 1, grain: 0, ...shape, box: edgesOf(shape.points) });
  }
  return out;
}

// Shelves: pieces taken for the same part stand together, tallest first, so that rows are even.
// `small` is the height (mm) under which a piece has its name beneath it, which needs `room` mm.
export function layOut(shapes, width, gap, small = 0, room = 0) {
  const groups = new Map();
  for (const s of shapes) {
    const key = s.part.replace(/\s*\(.*/, "");
    if (!groups.has(key)) groups.set(key, []);
    groups.get(key).push(s);
  }
  const placed = [];
  let x = 0, y = 0, row = 0;
  for (const group of groups.values()) {
    const high = (s) => s.box[3] - s.box[1];
    for (const s of [...group].sort((a, b) => high(b) - high(a) || (a.id < b.id ? -1 : 1))) {
      const wide = s.box[2] - s.box[0], h = high(s), under = h < small || wide < 2 * small, w = under ? Math.max(wide, 2 * small) : wide;
      if (x > 0 && x + w > width) { x = 0; y += row + gap; row = 0; }
      placed.push({ ...s, x: x + (w - wide) / 2 - s.box[0], y: -(y + h) - s.box[1] });
      x += w + gap;
      row = Math.max(row, h + (under ? room : 0));
    }
  }
  return { placed, height: y + row };
}

// Runs of sides that survive, as open lines.
function runs(points, surviving) {
  const out = [], n = points.length, on = (i) => surviving[(i + n) % n] === 1;
  for (let i = 0; i < n; i++) {
    if (!on(i) || (on(i - 1) && i !== 0)) continue;
    if (i === 0 && on(-1) && !surviving.slice(0, n).every((v) => v === 1)) continue; // its run begins further back
    const run = [points[i]];
    for (let j = i; on(j) && run.length <= n; j++) run.push(points[(j + 1) % n]);
    out.push(run);
  }
  return out;
}
// The same line `by` mm to the inner side of an outline that runs the way `turn` says.
function within(run, by, turn) {
  return run.map((p, i) => {
    const a = run[Math.max(0, i - 1)], b = run[Math.min(run.length - 1, i + 1)], l = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
    return [p[0] - turn * by * (b[1] - a[1]) / l, p[1] + turn * by * (b[0] - a[0]) / l];
  });
}
const MOST_LABELS = 160;

export function drawPieces(pen, placed, { labels = placed.length <= MOST_LABELS, name = (s) => s.id } = {}) {
  const all = put(pen, "g", { class: "pieces" }), over = labels ? put(pen, "g", { class: "labels", "aria-hidden": "true" }) : null;
  placed.forEach((s, i) => {
    const points = s.points.map(([x, y]) => [x + s.x, y + s.y]), w = (s.box[2] - s.box[0]) * pen.k, h = (s.box[3] - s.box[1]) * pen.k;
    const g = put(pen, "g", { class: "piece", "data-piece": s.id, role: "link", tabindex: i === 0 ? 0 : -1, "aria-label": name(s) }, all);
    if (s.belongs < 0.5) line(pen, points, "under", true, g);
    else if (Math.min(w, h) < 20) line(pen, points, "tint", true, g);
    else filled(pen, points, "seen", s.grain, g);
    line(pen, points, "piece-edge", true, g);
    // too small for its hatch: one lens of it
    if (s.belongs >= 0.5 && Math.min(w, h) < 20 && Math.min(w, h) >= 7) {
      const [cx, cy] = pen.at((s.box[0] + s.box[2]) / 2 + s.x, (s.box[1] + s.box[3]) / 2 + s.y);
      put(pen, "path", { class: "cell filled", d: `M${(cx - 5).toFixed(1)} ${cy.toFixed(1)}q5 -4 10 0q-5 4 -10 0z` }, g);
    }
    const turn = -turnOf(s.points); // y runs up here
    for (const run of runs(points, s.surviving)) {
      survivingEdge(pen, run, g).classList.toggle("slight", Math.min(w, h) < 14);
      if (Math.min(w, h) >= 20) line(pen, within(run, 5 / pen.k, turn), "piece-inner", false, g);
    }
    if (over) {
      const inside = w >= 36 && h >= 18, [cx, cy] = [(s.box[0] + s.box[2]) / 2 + s.x, inside ? (s.box[1] + s.box[3]) / 2 + s.y : s.box[1] + s.y];
      text(pen, cx, cy, s.id, { anchor: "middle", dy: inside ? 5 : 13, into: over }).setAttribute("data-label", s.id);
    }
  });
  return all;
}

// Touching: pointer over, tap, focus; the arrow keys go from piece to piece, Enter opens.
export function reach(root, attribute, { enter, leave, choose }) {
  const of = (e) => e.target.closest && e.target.closest(`[${attribute}]`), id = (n) => n.getAttribute(attribute);
  root.addEventListener("pointerover", (e) => { const n = of(e); if (n) enter(id(n), n); });
  root.addEventListener("pointerleave", () => leave());
  root.addEventListener("focusin", (e) => { const n = of(e); if (n) enter(id(n), n); });
  root.addEventListener("focusout", () => leave());
  root.addEventListener("click", (e) => { const n = of(e); if (n) choose(id(n), n); });
  root.addEventListener("keydown", (e) => {
    const n = of(e);
    if (!n) return;
    if (e.key === "Enter" || e.key === " ") { e.preventDefault(); choose(id(n), n); return; }
    const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[e.key];
    if (!by) return;
    e.preventDefault();
    const all = [...root.querySelectorAll(`[${attribute}]`)], next = all[(all.indexOf(n) + by + all.length) % all.length];
    n.setAttribute("tabindex", -1);
    next.setAttribute("tabindex", 0);
    next.focus();
  });
}
