// Shape and strength: the form as made and as it dries, with and without each part, its sections and
// heights, what it bears, and what controls it.
import { el } from "./dom.js";
import { ask } from "./door.js";
import { say } from "./words.js";
import { frame, unroll } from "./frame.js";
import { inplace, figures } from "./inplace.js";
import { section, heights, rangeOf } from "./section.js";
import { form3d } from "./form3d.js";
import { stateOf, marksOf } from "./spaceform.js";
import { sentence } from "./sentence.js";
import { byDay } from "./days.js";
import { table } from "./tables.js";
import { sweeps, decides } from "./sweeps.js";

// What is shown, held between two drawings of the page.
const held = { state: null, other: "", times: 1 };

export async function screen(project) {
  const [statements, stored] = await Promise.all([ask("statements"), ask("result", { step: "strength" }).catch(() => null)]);
  const own = statements.filter((s) => s.step === "strength"), result = (stored && stored.result) || {}, tables = result.tables || {}, form = result.form;
  const sheet = own.find((s) => s.id === "shape.made.rise");
  const picture = form && form.states.length ? views(form, sheet ? sheet.footing : "worked out") : el("p", {}, say("step.nothing"));
  return frame(project, "strength", [picture, charts(tables, result)], reasons(own, tables));
}

// The states in the order of the work: off the stem, day by day, dry, then without each part.
const dayOf = (s) => s.id === "off_stem" ? -1 : s.day !== undefined ? s.day : null;

function views(form, footing) {
  const box = el("div"), place = el("div"), days = form.states.filter((s) => dayOf(s) !== null).sort((a, b) => dayOf(a) - dayOf(b));
  const first = form.states.find((s) => s.id === "made") || form.states[0];
  if (!form.states.some((s) => s.id === held.state)) held.state = first.id;
  if (held.other && !form.states.some((s) => s.id === held.other)) held.other = "";
  const options = (none) => [none ? el("option", { value: "" }, say("strength.nothing_else")) : null, ...form.states.map((s) => el("option", { value: s.id }, s.title))];
  const pick = el("select", { id: "strength-state", onchange: () => { held.state = pick.value; draw(); } }, options(false));
  const beside = el("select", { id: "strength-other", onchange: () => { held.other = beside.value; draw(); } }, options(true));
  pick.value = held.state;
  beside.value = held.other;
  box.append(el("div", { class: "field" }, el("label", { for: "strength-state" }, say("strength.shown")), el("span", { class: "rule" }, pick)),
    el("div", { class: "field" }, el("label", { for: "strength-other" }, say("strength.beside")), el("span", { class: "rule" }, beside)));
  if (days.length > 1) {
    const step = (by) => { const i = days.findIndex((s) => s.id === held.state); held.state = days[Math.min(days.length - 1, Math.max(0, (i < 0 ? 0 : i) + by))].id; pick.value = held.state; draw(); };
    box.append(el("p", { class: "choose", role: "group", "aria-label": say("strength.days") }, el("button", { onclick: () => step(-1) }, say("strength.day_before")), el("button", { onclick: () => step(1) }, say("strength.day_after"))));
  }
  box.append(place);
  function draw() {
    const s = stateOf(form, held.state), o = held.other && held.other !== held.state ? stateOf(form, held.other) : null;
    const [lo, hi] = rangeOf(s.points.map((p) => p[2])), high = hi - lo, common = { thickness: form.thickness, times: held.times, name: s.title, others: o ? [{ form: o, name: o.title, kind: "edge-likely rival" }] : [] };
    const times = inplace({ id: "strength-times", label: say("form.times"), value: held.times, unit: "", places: 0, step: 1, min: 1, max: 50, change: (v, settled) => { if (settled && v !== held.times) { held.times = v; draw(); } } });
    place.replaceChildren(
      form3d({ ...s, grain: 0, footing, words: say("form.words", { name: s.title, high: figures(high, high < 10 ? 1 : 0) }) }),
      el("h3", {}, say("strength.sections")), el("p", { class: "talk" }, say("strength.heights_drawn"), " ", times, " ", say("form.fold")),
      section(s, 0, { ...common, marks: marksOf(s, 0) }), section(s, 1, { ...common, marks: marksOf(s, 1) }),
      el("h3", {}, say("strength.heights")), heights(s, { name: s.title }),
      form.note ? el("p", { class: "second" }, form.note) : null);
  }
  draw();
  return box;
}

// In time and against one changed thing: pictures too, beneath the form.
const charts = (tables, result) => [byDay(result.days, tables.days, result.days_note),
  sweeps(result.sweeps, tables.sweeps ? tables.sweeps.columns.slice(2) : [])];

// Everything the step says and its tables, each once: shares as a rod, loads as sentences.
function reasons(own, tables) {
  const out = [el("h3", {}, say("step.statements")), ...own.map(sentence)];
  if (tables.shares) out.push(...decides(tables.shares));
  if (tables.variants) out.push(table(tables.variants));
  out.push(...bears(tables));
  const hidden = ["shares", "variants", "fit", "days", "rows", "groups", "sweeps"];
  for (const [, t] of Object.entries(tables).filter(([k]) => !hidden.includes(k))) out.push(table(titled(t)));
  if (tables.sweeps) out.push(unroll(say("sweep.table"), () => table(tables.sweeps)));
  if (tables.fit) out.push(unroll(say("strength.more"), () => table(tables.fit)));
  return out;
}

// A thing that has a title is not named beside it.
const titled = (t) => t.columns[1] === "title" ? { ...t, columns: t.columns.slice(1), rows: t.rows.map((r) => r.slice(1)) } : t;

// What rows of holes, ties and pegs bear, a sentence each; groups of stitches as a table.
function bears(tables) {
  const rows = (tables.rows && tables.rows.rows) || [];
  if (!rows.length) return [];
  return [el("h3", {}, tables.rows.title), ...rows.map(([what, load, unit, fails, standing, mind]) => el("div", { class: "sentence" },
    el("p", {}, `${what}: `, el("span", { class: "number" }, load), ` ${unit}`),
    fails ? el("p", { class: "second" }, say("strength.fails", { how: fails }), standing ? ` ${say("strength.standing", { standing })}` : "") : null,
    mind ? el("p", { class: "second" }, mind) : null)),
  el("p", { class: "told" }, say("told.care", { message: say("strength.loads_care") })),
  tables.groups ? unroll(tables.groups.title, () => table(tables.groups)) : null].filter(Boolean);
}
