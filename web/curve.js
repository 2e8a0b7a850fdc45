// Curve: how bent the object was: rivals side by side, each kept, and what would decide.
import { el } from "./dom.js";
import { ask } from "./door.js";
import { say } from "./words.js";
import { frame, unroll } from "./frame.js";
import { board, line, likelyEdge, lozenges, text, stick, put } from "./ink.js";
import { figures } from "./inplace.js";
import { sentence } from "./sentence.js";
import { range, ticks } from "./spreads.js";
import { table } from "./tables.js";
import { answer } from "./scanned.js";

const value = (own, id) => { const s = own.find((x) => x.id === id); return s && s.value && s.value.p50 !== undefined ? s.value : null; };

export async function screen(project) {
  const [statements, stored, trials] = await Promise.all([ask("statements"), ask("result", { step: "curve" }).catch(() => null), ask("result", { step: "trials" }).catch(() => null)]);
  const own = statements.filter((s) => s.step === "curve"), tables = (stored && stored.result && stored.result.tables) || {};
  if (!own.length && !Object.keys(tables).length) return frame(project, "curve", el("p", {}, say("step.nothing")), []);
  const scans = ((trials && trials.result && trials.result.scans) || []).filter((a) => (a.bends || []).length || a.laid);
  const pictures = [coil(own), bends(tables.bends, own), worn(tables.worn), grip(own), rows(tables.seams)].filter(Boolean);
  const subject = (s) => s.id.split(".").slice(0, 2).join(".");
  const single = (s) => /^seam\.(?!shrink)/.test(s.id), alone = own.filter(single), main = own.filter((s) => !single(s)), groups = [...new Set(main.map(subject))];
  const rest = Object.values(tables).filter((t) => t !== tables.worn);
  return frame(project, "curve", pictures.length ? pictures : el("p", {}, say("picture.none")),
    [el("h3", {}, say("step.statements")), groups.map((g) => main.filter((s) => subject(s) === g).map(sentence)),
      alone.length ? unroll(say("curve.rows_all", { n: alone.length }), () => el("div", {}, alone.map((s) => el("div", {}, el("p", { class: "second" }, (s.about || s.id.split(".")[1])), sentence(s))))) : null,
      scans.length ? el("section", {}, el("h3", {}, say("scans.curve")), scans.map(answer)) : null,
      rest.length ? unroll(say("step.tables"), () => el("div", {}, rest.map(table))) : null]);
}

// The coiled part cut through: a flat ring and a cone at one scale, neither averaged with the other.
function coil(own) {
  const R = value(own, "coil.ring.radius"), r = value(own, "coil.ring.inner"), edge = value(own, "coil.cone.edge"), h = value(own, "coil.cone.height");
  if (!R) return null;
  const name = say(edge && h ? "curve.coil_words" : "curve.ring_words", { radius: figures(R.p50, 0), hole: r ? figures(r.p50, 0) : "", edge: edge ? figures(edge.p50, 0) : "", height: h ? figures(h.p50, 0) : "" });
  const wide = Math.max(R.p95, edge ? edge.p95 : 0), high = h ? Math.max(h.p50, 1) : 8;
  return el("section", {}, el("h3", {}, say("curve.coil")), board({ words: name, bounds: () => [-wide - 8, -16, wide + 8, high + 14], tallest: 320 }, (pen) => {
    const t = 2.9;
    for (const s of [-1, 1]) {
      put(pen, "path", { class: "cut-face", d: "M" + [[s * (r ? r.p50 : 0), 0], [s * R.p50, 0], [s * R.p50, t], [s * (r ? r.p50 : 0), t]].map(([x, y]) => pen.at(x, y).map((v) => v.toFixed(1)).join(" ")).join("L") + "Z" });
      put(pen, "path", { class: "hair", d: `M${pen.at(s * R.p05, t + 2).join(" ")}L${pen.at(s * R.p95, t + 2).join(" ")}` });
    }
    text(pen, -R.p50, 0, say("curve.ring"), { dy: 22, kind: "label" });
    if (edge && h) {
      const cone = [[-edge.p50, 0], [0, h.p50], [edge.p50, 0]];
      likelyEdge(pen, cone, { closed: false, rival: true });
      lozenges(pen, cone);
      text(pen, edge.p50, 0, say("curve.cone"), { anchor: "end", dy: -14 - h.p50 * pen.k * 0.4, kind: "label" });
    }
    stick(pen, 12, pen.height - 4);
  }));
}

// What speaks of the bend, one reading under the other on one axis from flat to tight, and last what they say together.
function bends(t, own) {
  const list = ((t && t.rows) || []).map(([reading, taken, kind, bend, wide]) => ({ reading, taken, kind, bend, wide: wide || 0 })).filter((r) => typeof r.bend === "number");
  if (!list.length) return null;
  const all = value(own, "curve.bend"), most = Math.max(0.1, ...list.map((r) => r.bend + r.wide), all ? all.p95 : 0);
  const one = (r) => (r.bend === 0 && !r.wide ? say("curve.bends_flat", r) : say("curve.bends_one", { reading: r.reading, taken: r.taken, kind: r.kind === "is" ? "" : `${r.kind} `, bend: figures(r.bend, 1), wide: figures(r.wide, 1) }));
  const together = all ? say("curve.bends_all", { bend: figures(all.p50, 1), low: figures(all.p05, 1), high: figures(all.p95, 1) }) : own.some((s) => s.id === "curve.bend.clash") ? say("curve.bends_clash") : "";
  return el("section", {}, el("h3", {}, say("curve.bends")), board({ words: say("curve.bends_words", { list: list.map(one).join("; "), together }), bounds: () => [0, 0, 1.25 * most, 1], tallest: 1e6, border: 12 }, (pen) => {
    const H = 44 * (list.length + (together ? 1 : 0)) + 42, name = (words, y) => { put(pen, "text", { class: "label", x: 12, y: y - 12 }).textContent = words; };
    pen.height = H;
    pen.root.setAttribute("viewBox", `0 0 ${pen.width} ${H}`);
    pen.root.setAttribute("height", H);
    const x = (v) => pen.at(v, 0)[0].toFixed(1);
    list.forEach((r, i) => {
      const y = 32 + 44 * i, low = r.kind === "at most" ? 0 : Math.max(0, r.bend - r.wide), high = r.kind === "at least" ? 1.2 * most : r.bend + r.wide;
      name(r.reading === "grip" ? say("curve.bends_row", r) : r.reading, y); // the others take one thing for granted, told below
      put(pen, "path", { class: "range-hair", d: `M${x(low)} ${y}H${x(high)}` });
      put(pen, "circle", { class: "dot", cx: x(r.bend), cy: y, r: 4 });
    });
    if (together) name(say("curve.bends_together"), 32 + 44 * list.length);
    if (all) range(pen, all, 32 + 44 * list.length);
    ticks(pen, 0, most, H - 30, "1/m");
  }));
}

// A bent sheet stands narrower than it lies: sections at some radii, one over the other.
function worn(t) {
  if (!t || !t.rows.length) return null;
  const flat = t.rows[0][1];
  const arc = (radius, chord) => { const half = Math.asin(Math.min(1, chord / 2 / radius)); return Array.from({ length: 41 }, (_, i) => { const a = -half + 2 * half * i / 40; return [radius * Math.sin(a), radius * (Math.cos(a) - Math.cos(half))]; }); };
  const high = Math.max(...t.rows.map((r) => r[2])), wide = Math.max(flat, ...t.rows.map((r) => r[1]));
  return el("section", {}, el("h3", {}, say("curve.worn")), board({ words: say("curve.worn_words", { list: t.rows.map(([radius, chord, rise]) => say("curve.worn_one", { radius: figures(radius, 0), chord: figures(chord, 0), rise: figures(rise, 0) })).join("; ") }), bounds: () => [-wide / 2 - 10, -16, wide / 2 + 10, high + 10], tallest: 320 }, (pen) => {
    t.rows.forEach(([radius, chord], i) => {
      const pts = arc(radius, chord), at = pts[Math.round(5 + 15 * i / Math.max(1, t.rows.length - 1))];
      line(pen, pts, "dry", false);
      // the flat ones lie close: their names stand in turn left and right, on a phone the figures alone
      text(pen, i % 2 ? -at[0] : at[0], at[1], pen.width < 480 ? figures(radius, 0) : say("curve.radius", { n: figures(radius, 0) }), { anchor: "middle", dy: -4, kind: "label second" });
    });
    stick(pen, 12, pen.height - 4);
  }));
}

// The grip seen from the side: bent to its chamfer, and straight on its seats as the rival.
function grip(own) {
  const rise = value(own, "curve.grip.rise"), length = value(own, "grip.length.fresh");
  if (!rise) return null;
  const l = length ? length.p50 : 180, bent = Array.from({ length: 41 }, (_, i) => { const u = i / 20 - 1; return [u * l / 2, rise.p50 * (1 - u * u)]; });
  return el("section", {}, el("h3", {}, say("curve.grip")), board({ words: say("curve.grip_words", { rise: figures(rise.p50, 0), low: figures(rise.p05, 0), high: figures(rise.p95, 0) }), bounds: () => [-l / 2 - 8, -14, l / 2 + 8, rise.p50 + 16], tallest: 260 }, (pen) => {
    line(pen, [[-l / 2 - 6, 0], [l / 2 + 6, 0]], "hair", false);
    likelyEdge(pen, bent, { closed: false });
    const straight = [[-l / 2, 3], [l / 2, 3]];
    likelyEdge(pen, straight, { closed: false, rival: true });
    lozenges(pen, straight);
    text(pen, 0, rise.p50, say("curve.bent"), { anchor: "middle", dy: -8 });
    text(pen, l / 2, 3, say("curve.straight"), { anchor: "end", dy: 20 });
    stick(pen, 12, pen.height - 2);
  }));
}

// Rows of holes and dents one under the other at one scale: holes at their pitch.
function rows(t) {
  const list = ((t && t.rows) || []).map((r) => ({ piece: r[0], kind: r[3], n: Math.max(2, Math.min(12, r[4] || 2)), pitch: parseFloat(String(r[5])), words: r[5] })).filter((r) => r.pitch > 0);
  if (!list.length) return null;
  const wide = Math.max(...list.map((r) => (r.n - 1) * r.pitch)), words = say("curve.rows_words", { list: list.map((r) => say("curve.row_one", { piece: r.piece, pitch: r.words })).join("; ") });
  return el("section", {}, el("h3", {}, say("curve.rows")), board({ words, bounds: () => [-0.28 * wide, 0, 1.04 * wide, 1], tallest: 1e6, border: 12 }, (pen) => {
    const H = 30 * list.length + 46, x0 = pen.at(0, 0)[0];
    pen.height = H;
    pen.root.setAttribute("viewBox", `0 0 ${pen.width} ${H}`);
    pen.root.setAttribute("height", H);
    list.forEach((r, i) => {
      const y = 18 + 30 * i, label = put(pen, "text", { class: "label", x: 0, y: y + 5 });
      label.textContent = `${r.piece}, ${r.kind}`;
      put(pen, "path", { class: "hair", d: `M${x0.toFixed(1)} ${y}h${((r.n - 1) * r.pitch * pen.k).toFixed(1)}` });
      for (let k = 0; k < r.n; k++) put(pen, "circle", { class: r.kind === "sheet" ? "hole" : "dot", cx: (x0 + k * r.pitch * pen.k).toFixed(1), cy: y, r: Math.max(2, Math.min(5, 1.4 * pen.k)).toFixed(1) });
    });
    stick(pen, Math.max(12, x0), H - 8);
  }));
}
