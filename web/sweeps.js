// One thing changed and all else as proposed: each answer of the strength step against it, as a
// whipped band with the values that were worked out as knots. Ticks only.
import { el, empty } from "./dom.js";
import { say } from "./words.js";
import { board, band, likelyEdge, put, text } from "./ink.js";
import { ticks } from "./spreads.js";
import { rangeOf } from "./section.js";
import { rod } from "./rod.js";

const held = { answer: 0, decides: 0 };

// sweeps: [{id, title, unit, values: [{value, outputs: {rise: [p05, p50, p95], ...}}]}]; heads name the
// answers with their units, in the order of the outputs.
export function sweeps(list, heads) {
  const known = (list || []).filter((s) => s.values.length > 1);
  if (!known.length) return [];
  const ids = Object.keys(known[0].values[0].outputs), place = el("div");
  held.answer = Math.min(held.answer, ids.length - 1);
  const pick = el("select", { id: "sweep-answer", onchange: () => { held.answer = Number(pick.value); draw(); } },
    ids.map((id, i) => el("option", { value: i, selected: i === held.answer }, heads[i] || id)));
  function draw() {
    empty(place).append(...known.map((s) => one(s, ids[held.answer], heads[held.answer] || ids[held.answer])));
  }
  draw();
  return [el("h3", {}, say("sweep.title")), el("div", { class: "field" }, el("label", { for: "sweep-answer" }, say("sweep.answer")), el("span", { class: "rule" }, pick)), place];
}

// As many places as the widest of the answers needs for two figures of its range.
const placesOf = (span) => Math.min(6, Math.max(0, 1 - Math.floor(Math.log10(span || 1))));
const short = (v, places) => (places === undefined ? String(+v.toPrecision(3)) : String(+v.toFixed(places))).replace("-", "−");

function one(s, id, head) {
  const points = s.values.map((v) => [v.value, v.outputs[id]]).filter(([, q]) => q && q.every(Number.isFinite));
  if (points.length < 2) return el("div");
  const [x1, x2] = rangeOf(points.map((p) => p[0])), [y1, y2] = rangeOf(points.flatMap((p) => [p[1][0], p[1][2]]).concat(0));
  const f = placesOf(y2 - y1), words = say("sweep.words", { title: s.title, answer: head, list: points.map(([x, q]) => `${short(x)}${s.unit ? ` ${s.unit}` : ""}: ${short(q[1], f)} (${short(q[0], f)} ${say("to")} ${short(q[2], f)})`).join("; ") });
  return board({ words, bounds: () => [0, 0, 1, 1], tallest: 1e6 }, (pen) => {
    const H = 190, left = 64, right = 64;
    pen.height = H;
    pen.k = (H - 60) / (y2 - y1 || 1);
    pen.at = (x, y) => [left + (x - x1) * (pen.width - left - right) / (x2 - x1 || 1), 16 + (y2 - y) * pen.k];
    pen.root.setAttribute("viewBox", `0 0 ${pen.width} ${H}`);
    pen.root.setAttribute("height", H);
    const line = (k) => points.map(([x, q]) => [x, q[k]]);
    band(pen, { low: line(0), likely: line(1), high: line(2), closed: false });
    likelyEdge(pen, line(1), { closed: false });
    for (const [x, q] of points) { const [X, Y] = pen.at(x, q[1]); put(pen, "circle", { class: "dot", cx: X.toFixed(1), cy: Y.toFixed(1), r: 3 }); }
    ticks(pen, x1, x2, H - 40, s.unit.replace("percent of as made", "%"));
    // nought is named where its figure finds room between the ends
    for (const y of y1 < 0 && y2 > 0 ? [y1, 0, y2].filter((v) => v || Math.min(-y1, y2) * pen.k > 16) : [y1, y2]) {
      const [X, Y] = pen.at(x1, y);
      put(pen, "path", { class: "tick", d: `M${X - 10} ${Y.toFixed(1)}h6` });
      text(pen, x1, y, short(y, f), { anchor: "end", dx: -14, dy: 5, kind: "label second" });
    }
  });
}

// table: [input, share for each answer ...]; one rod for the answer that is chosen.
export function decides(t) {
  const answers = t.columns.slice(1), place = el("div");
  held.decides = Math.min(held.decides, answers.length - 1);
  const pick = el("select", { id: "decides-answer", onchange: () => { held.decides = Number(pick.value); draw(); } },
    answers.map((a, i) => el("option", { value: i, selected: i === held.decides }, a)));
  function draw() {
    empty(place).append(rod(t.rows.map((r) => ({ name: r[0], share: r[1 + held.decides] || 0 }))));
  }
  draw();
  return [el("h3", {}, t.title), el("p", { class: "second" }, say("strength.controls_words")),
    answers.length > 1 ? el("div", { class: "field" }, el("label", { for: "decides-answer" }, say("sweep.answer")), el("span", { class: "rule" }, pick)) : null, place];
}
