// The order of work day by day: one answer in time as a whipped band, each day a knot; its words
// beneath, since a knot cannot carry them.
import { el, empty } from "./dom.js";
import { say } from "./words.js";
import { unroll } from "./frame.js";
import { knots, short } from "./knots.js";
import { table } from "./tables.js";

const held = { answer: "moisture" };

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
  const first = points[0], last = points[points.length - 1];
  return knots(points, { high: 220, unit: say("days.unit"), words: (figure) => say("days.words", { answer: head, n: points.length, first: figure(first[1][1]), last: figure(last[1][1]), low: figure(last[1][0]), high: figure(last[1][2]), days: short(last[0]) }) });
}
