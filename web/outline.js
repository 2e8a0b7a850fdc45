// Outline: the whipped band, the possible originals turned over one by one, the shapes a reading
// excludes, and what to measure next.
import { el, empty } from "./dom.js";
import { ask } from "./door.js";
import { say, knows } from "./words.js";
import { frame, unroll } from "./frame.js";
import { board, band, likelyEdge, line, excluded, stick, grainSign, hatch, path, put, edgesOf } from "./ink.js";
import { figures } from "./inplace.js";
import { sentence, footingMark } from "./sentence.js";

// A family of shapes by its plain name, where it has one.
const named = (family) => (knows(`family.${family}`) ? say(`family.${family}`) : family);
const held = { one: -1, excluded: new Set(), shown: true };

// Radii from the middle, one a direction, as points in the making's frame.
const ringOf = (list, which, turn) => list.map((b, i) => {
  const a = 2 * Math.PI * i / list.length - turn;
  return [b[which] * Math.cos(a), b[which] * Math.sin(a)];
});

// 25 % and 75 % in each direction, from the originals themselves.
function middleHalf(originals, n, turn) {
  if (!originals || originals.length < 20) return [null, null];
  const radii = originals.map((o) => {
    const polar = o.points.map(([x, y]) => [Math.atan2(y, x), Math.hypot(x, y)]).sort((a, b) => a[0] - b[0]);
    return (a) => {
      const t = Math.atan2(Math.sin(a), Math.cos(a));
      let i = polar.findIndex((p) => p[0] > t);
      if (i < 0) i = 0;
      const p = polar[(i + polar.length - 1) % polar.length], q = polar[i], span = ((q[0] - p[0]) + 2 * Math.PI) % (2 * Math.PI) || 1;
      const f = (((t - p[0]) + 2 * Math.PI) % (2 * Math.PI)) / span;
      return p[1] + (q[1] - p[1]) * f;
    };
  });
  const at = (p) => Array.from({ length: n }, (_, i) => {
    const a = 2 * Math.PI * i / n - turn, r = radii.map((f) => f(a)).sort((x, y) => x - y), k = p * (r.length - 1), j = Math.floor(k);
    const v = r[j] + (r[Math.min(j + 1, r.length - 1)] - r[j]) * (k - j);
    return [v * Math.cos(a), v * Math.sin(a)];
  });
  return [at(0.25), at(0.75)];
}

export async function screen(project) {
  const [statements, stored] = await Promise.all([ask("statements"), ask("result", { step: "outline" }).catch(() => null)]);
  const own = statements.filter((s) => s.step === "outline"), result = (stored && stored.result) || {};
  if (!result.band || !result.band.length) return frame(project, "outline", el("p", {}, say("step.nothing")), own.map(sentence));
  const turn = result.turn || 0, originals = result.originals || [], struck = result.excluded || [];
  const rings = [0, 1, 2, 3, 4].map((k) => ringOf(result.band, k, turn)), [quarter, threequarter] = middleHalf(originals, result.band.length, turn);
  const footing = (own.find((s) => s.id === "outline.length") || {}).footing || "worked out";
  const length = own.find((s) => s.id === "outline.length"), width = own.find((s) => s.id === "outline.width");
  const words = say("outline.words", { length: length ? length.number : "", width: width ? width.number : "" });

  let pen = null, top = null;
  const figure = board({ words, bounds: () => {
    const [x1, y1, x2, y2] = edgesOf([...rings[4], ...struck.flatMap((s) => s.points)]);
    return [x1 - 6, y1 - 22, x2 + 6, y2 + 6];
  } }, (p) => {
    pen = p;
    put(pen, "path", { class: "fill", d: path(pen, rings[0], true), fill: hatch(pen, footing, 0) });
    band(pen, { low: rings[0], likely: rings[1], high: rings[2], lowAll: rings[3], highAll: rings[4], quarter, threequarter });
    likelyEdge(pen, rings[1]);
    top = put(pen, "g", {});
    grainless(pen, rings[4]);
    stick(pen);
    overlay();
  });
  function grainless(pen, ring) {
    const [x1, y1, x2] = edgesOf(ring);
    if (result.grain !== undefined) grainSign(pen, (x1 + x2) / 2, y1 - 14, result.grain, 96);
  }
  // What is laid over the band: excluded shapes that are asked for, and the one original turned up.
  function overlay() {
    if (!top) return;
    top.replaceChildren();
    for (const s of struck) if (held.excluded.has(s.family)) excluded(pen, s.points, s.at, `${s.by}: ${say("outline.no", { family: named(s.family) })}`, top);
    const one = originals[held.one];
    if (one) line(pen, one.points, "one", true, top);
  }

  const told = el("p", { "aria-live": "polite" });
  const slide = el("div", { class: "choose", role: "group", "aria-label": say("outline.turn_over"), tabindex: "0", onkeydown: (e) => {
    const by = { ArrowRight: 1, ArrowLeft: -1, Home: -1e6, End: 1e6 }[e.key];
    if (!by || e.target !== slide) return;
    e.preventDefault();
    show(by === -1e6 ? 0 : by === 1e6 ? originals.length - 1 : held.one + by);
  } }, el("button", { onclick: () => show(held.one - 1) }, say("outline.before")), el("button", { class: "main", onclick: () => show(held.one + 1) }, say("outline.next")),
  el("button", { onclick: () => show(-1) }, say("outline.lay_down")));
  function show(i) {
    const n = originals.length;
    held.one = i === -1 && held.one !== 0 ? -1 : i < 0 ? (held.one === 0 ? n - 1 : -1) : i % n;
    if (i >= n) held.one = i > 1e5 ? n - 1 : 0;
    overlay();
    speak();
  }
  function speak() {
    const one = originals[held.one];
    empty(told).append(one ? say("outline.one", { i: held.one + 1, n: originals.length, family: named(one.family), length: figures(one.length, 0), width: figures(one.width, 0) }) : say("outline.none", { n: originals.length }));
  }
  speak();

  const families = ((result.tables || {}).families || {}).rows || [], next = ((result.tables || {}).next || {}).rows || [];
  const shapes = el("ul", { class: "bare" }, families.map(([family, p, l, w, by]) => {
    const s = struck.find((x) => x.family === family), id = `struck-${family.replaceAll(" ", "-")}`;
    if (!s) return el("li", {}, say("outline.fits", { family: named(family), p: p < 0.01 ? say("outline.under") : Math.round(100 * p), length: l, width: w }));
    return el("li", {}, el("label", { for: id, class: "tick" }, el("input", { id, type: "checkbox", checked: held.excluded.has(family), onchange: (e) => {
      if (e.target.checked) held.excluded.add(family);
      else held.excluded.delete(family);
      overlay();
    } }), say("outline.not", { family: named(family), by })));
  }));
  const sizes = own.filter((s) => !s.id.startsWith("outline.excluded") && s.id !== "outline.next" && s.id !== "outline.family");
  const family = own.find((s) => s.id === "outline.family");
  return frame(project, "outline", [figure,
    originals.length ? el("section", {}, el("h3", {}, say("outline.originals")), slide, told) : null],
  [el("h3", {}, say("step.statements")), sizes.map(sentence),
    el("h3", {}, say("outline.shapes")), family ? sentence(family) : null, el("p", { class: "second" }, say("outline.shapes_words")), shapes,
    el("h3", {}, say("next.measure")), next.length ? el("ul", {}, next.map(([what, narrows, touches]) => el("li", {}, el("p", {}, say("outline.narrows", { what, n: figures(narrows, 0) }), " ",
      el("b", {}, say("next.touching", { word: say(touches ? "next.must" : "next.need_not") })))))) : el("p", { class: "second" }, say("sizes.enough")),
    unroll(say("outline.how"), () => el("div", {}, own.filter((s) => s.id.startsWith("outline.excluded") || s.id === "outline.next").map(sentence), el("p", { class: "second" }, footingMark(footing))))]);
}
