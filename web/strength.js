// Shape and strength: the form dry and as it dries, with and without each part, its sections and
// heights, loads, rows of holes, and what controls it.
import { el, empty } from "./dom.js";
import { ask, tell } from "./door.js";
import { say } from "./words.js";
import { frame, unroll } from "./frame.js";
import { rod } from "./rod.js";
import { inplace, figures } from "./inplace.js";
import { section, heights } from "./section.js";
import { form3d } from "./form3d.js";
import { readMakings } from "./makings.js";
import { plain } from "./whatif.js";
import { sentence, told } from "./sentence.js";
import { table } from "./tables.js";

// What is shown, held between two drawings of the page.
const held = { without: new Set(), times: 1, view: "heights" };
const RAD = Math.PI / 180;

const lathsOf = (parts) => parts.filter((p) => p.kind === "lath" && p.length > 0).map((p) => {
  const a = (p.angle ?? 90) * RAD, h = p.length / 2, x = p.x || 0, y = p.y || 0;
  return { from: [x - h * Math.cos(a), y - h * Math.sin(a)], to: [x + h * Math.cos(a), y + h * Math.sin(a)], width: p.width, thickness: p.thickness, footing: p.footing, part: p };
});

// Kinds of part that shape answers to, one choice each.
const KINDS = ["lath", "rim", "tie"];

export async function screen(project) {
  const [makings, statements, stored] = await Promise.all([readMakings(), ask("statements"), ask("result", { step: "strength" }).catch(() => null)]);
  const own = statements.filter((s) => s.step === "strength"), make = makings.leading, result = (stored && stored.result) || {}, tables = result.tables || {};
  const picture = el("div"), reasons = el("div");
  if (!make) return frame(project, "strength", el("p", {}, say("step.nothing")), own.map(sentence));
  const sheet = make.parts.find((p) => p.kind === "sheet") || {}, views = el("div"), chooseBox = el("div", { class: "choose", role: "group", "aria-label": say("strength.with") });
  for (const kind of KINDS.filter((k) => make.parts.some((p) => p.kind === k))) {
    const id = `with-${kind}`;
    chooseBox.append(el("label", { for: id }, el("input", { id, type: "checkbox", checked: !held.without.has(kind), onchange: (e) => {
      if (e.target.checked) held.without.delete(kind);
      else held.without.add(kind);
      redraw();
    } }), say(`strength.kind.${kind}`)));
  }
  picture.append(el("p", { class: "second" }, say("strength.with")), chooseBox, views);

  let turn = 0;
  async function redraw() {
    const mine = ++turn, parts = make.parts.filter((p) => !held.without.has(p.kind));
    try {
      const a = await tell("what_if", { making: make.id, by: "shell", nodes: true, parts: parts.map(plain) });
      if (mine !== turn) return;
      draw(a, parts);
    } catch (e) {
      empty(views).append(told("care", `${e.message} ${e.remedy || ""}`));
    }
  }
  function draw(a, parts) {
    const form = a.form, laths = lathsOf(parts), rim = parts.find((p) => p.kind === "rim"), name = nameOf();
    const [lo, hi] = form.points.reduce(([l, h], p) => [Math.min(l, p[2]), Math.max(h, p[2])], [Infinity, -Infinity]);
    const thick = sheet.thickness || 4, marksAcross = [], marksAlong = laths.map((l) => ({ at: (l.from[0] + l.to[0]) / 2, wide: Math.abs(l.to[0] - l.from[0]) > 1 ? 2 : l.width, high: l.thickness }));
    const times = inplace({ id: "strength-times", label: say("form.times"), value: held.times, unit: "", places: 0, step: 1, min: 1, max: 50, change: (v, settled) => { if (settled && v !== held.times) { held.times = v; draw(a, parts); } } });
    empty(views).append(
      form3d({ ...form, laths, rim: rim ? { width: rim.width, footing: rim.footing } : null, grain: (sheet.grain || 0) * RAD, footing: sheet.footing,
        words: say("form.words", { name, high: figures(hi - lo, hi - lo < 10 ? 1 : 0) }) }),
      el("h3", {}, say("strength.sections")),
      el("p", { class: "talk" }, say("form.heights"), " ", times, " ", say("form.fold")),
      section(form, 0, { thickness: thick, times: held.times, name, marks: marksAcross }),
      section(form, 1, { thickness: thick, times: held.times, name, marks: marksAlong }),
      el("h3", {}, say("strength.heights")),
      heights(form, { name, grain: (sheet.grain || 0) * RAD }),
      el("div", {}, a.numbers.map((n) => el("p", {}, `${n.sentence} `, el("span", { class: "number" }, `${figures(n.p50, Math.abs(n.p50) < 10 ? 2 : 0)} ${n.unit}`)))),
      el("p", { class: "second" }, say("whatif.note.shell", { ms: figures(a.ms, 0) })));
  }
  const nameOf = () => held.without.size ? say("strength.without", { list: [...held.without].map((k) => say(`strength.kind.${k}`)).join(", ") }) : say("strength.as_proposed");

  const shares = ((tables.shares && tables.shares.rows) || []).map(([name, share]) => ({ name, share }));
  reasons.append(el("h3", {}, say("step.statements")), ...own.map(sentence));
  if (shares.length) reasons.append(el("h3", {}, say("strength.controls")), el("p", { class: "second" }, say("strength.controls_words")), rod(shares));
  if (tables.variants) reasons.append(table(tables.variants));
  const rest = Object.entries(tables).filter(([k]) => !["shares", "variants"].includes(k));
  if (rest.length) reasons.append(unroll(say("strength.more"), () => el("div", {}, rest.map(([, t]) => table(t)))));
  redraw();
  return frame(project, "strength", picture, reasons);
}
