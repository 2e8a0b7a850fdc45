// The order of work day by day: one answer in time as a whipped band, each day a knot; its words
// beneath, since a knot cannot carry them.
import { el, empty } from "./dom.js";
import { say } from "./words.js";
import { unroll } from "./frame.js";
import { board, band, likelyEdge, put, text } from "./ink.js";
import { ticks } from "./spreads.js";
import { rangeOf } from "./section.js";
import { table } from "./tables.js";

const held = { answer: "moisture" };
// As many places as the widest of the answers needs for two figures of its range.
const placesOf = (span) => Math.min(6, Math.max(0, 1 - Math.floor(Math.log10(span || 1))));
const short = (v, places) => (places === undefined ? String(+v.toPrecision(3)) : String(+v.toFixed(places))).replace("-", "−");

// days: [{day, after, moisture: [p05, p50, p95], rise: [...], ...}]; t is the same as a table, whose
// columns after the second name the answers with their units.
export function byDay(days, t, note) {
  if (!days || days.length < 2) return [];
  const answers = Object.keys(days[0]).filter((k) => Array.isArray(days[0][k])), heads = t ? t.columns.slice(2) : answers, place = el("div");
  if (!answers.includes(held.answer)) held.answer = answers[0];
  const pick = el("select", { id: "day-answer", onchange: () => { held.answer = pick.value; draw(); } }, answers.map((a, i) => el("option", { value: a, selected: a === held.answer }, heads[i] || a)));
  function draw() {
    const head = heads[answers.indexOf(held.answer)] || held.answer;
    empty(place).append(one(days.map((d) => [d.day, d[held.answer]]).filter(([, q]) => q && q.every(Number.isFinite)), head));
  }
  draw();
  return [el("h3", {}, t ? t.title : say("strength.days")), el("div", { class: "field" }, el("label", { for: "day-answer" }, say("sweep.answer")), el("span", { class: "rule" }, pick)), place,
    note ? el("p", { class: "second" }, note) : null, t ? unroll(say("days.table", { n: days.length }), () => table(t)) : null].filter(Boolean);
}

function one(points, head) {
  const [x1, x2] = rangeOf(points.map((p) => p[0])), [y1, y2] = rangeOf(points.flatMap((p) => [p[1][0], p[1][2]]).concat(0)), last = points[points.length - 1];
  const f = placesOf(y2 - y1), words = say("days.words", { answer: head, n: points.length, first: short(points[0][1][1], f), last: short(last[1][1], f), low: short(last[1][0], f), high: short(last[1][2], f), days: short(last[0]) });
  return board({ words, bounds: () => [0, 0, 1, 1], tallest: 1e6 }, (pen) => {
    const H = 220, left = 64, right = 64;
    pen.height = H;
    pen.k = (H - 60) / (y2 - y1 || 1);
    pen.at = (x, y) => [left + (x - x1) * (pen.width - left - right) / (x2 - x1 || 1), 16 + (y2 - y) * pen.k];
    pen.root.setAttribute("viewBox", `0 0 ${pen.width} ${H}`);
    pen.root.setAttribute("height", H);
    const at = (k) => points.map(([x, q]) => [x, q[k]]);
    band(pen, { low: at(0), likely: at(1), high: at(2), closed: false });
    likelyEdge(pen, at(1), { closed: false });
    for (const [x, q] of points) { const [X, Y] = pen.at(x, q[1]); put(pen, "circle", { class: "dot", cx: X.toFixed(1), cy: Y.toFixed(1), r: 3 }); }
    ticks(pen, x1, x2, H - 40, say("days.unit"));
    // nought is named where its figure finds room between the ends
    for (const y of y1 < 0 && y2 > 0 ? [y1, 0, y2].filter((v) => v || Math.min(-y1, y2) * pen.k > 16) : [y1, y2]) {
      const [X, Y] = pen.at(x1, y);
      put(pen, "path", { class: "tick", d: `M${X - 10} ${Y.toFixed(1)}h6` });
      text(pen, x1, y, short(y, f), { anchor: "end", dx: -14, dy: 5, kind: "label second" });
    }
  });
}
