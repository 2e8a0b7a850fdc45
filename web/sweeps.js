// One thing changed and all else as proposed: each answer of the strength step against it, as a
// whipped band with the values that were worked out as knots. Ticks only.
import { el, empty } from "./dom.js";
import { say } from "./words.js";
import { knots, short } from "./knots.js";
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

function one(s, id, head) {
  const points = s.values.map((v) => [v.value, v.outputs[id]]).filter(([, q]) => q && q.every(Number.isFinite));
  if (points.length < 2) return el("div");
  const each = (figure) => points.map(([x, q]) => `${short(x)}${s.unit ? ` ${s.unit}` : ""}: ${figure(q[1])} (${figure(q[0])} ${say("to")} ${figure(q[2])})`).join("; ");
  return knots(points, { high: 190, unit: s.unit.replace("percent of as made", "%"), words: (figure) => say("sweep.words", { title: s.title, answer: head, list: each(figure) }) });
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
