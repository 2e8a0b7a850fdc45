// Making: the parts on the sheet, moved by drag, by arrow keys or by number; nothing snaps. A move
// is a try until it is kept as a copy, which carries no weight. What is held here between two
// drawings of the page: which making, which part, and the tries.
import { append, el, empty, keepingFocus, svg } from "./dom.js";
import { ask, tell, mayWrite } from "./door.js";
import { say } from "./words.js";
import { frame, unroll } from "./frame.js";
import { board, line, stick, grainSign, edgesOf } from "./ink.js";
import { inplace, sentenceWith, figures } from "./inplace.js";
import { drawPart, labelOf, inOrder, movable, outlineOf, sheetEdge } from "./partdraw.js";
import { readMakings, differences, making_differences, shortId, unitOf } from "./makings.js";
import { sentence, footingMark } from "./sentence.js";
import { refused } from "./told.js";
import { answers } from "./whatif.js";

const held = { making: null, part: null, tries: new Map(), taken: new Set() };
const key = (part) => `${part.making}/${part.id}`;
const tried = (part) => ({ ...part, ...held.tries.get(key(part)) });
const gone = (part) => held.taken.has(key(part));

// Numbers of a part that a sentence offers, by kind; the first line says where it lies.
const WHERE = ["x", "y", "angle"];
const SIZES = {
  "sheet": ["thickness", "grain"], "lath": ["length", "width", "thickness", "clearance"], "rim": ["width", "thickness"],
  "tie": ["pitch", "count", "hole", "edge_distance"], "grip": ["length", "width", "thickness", "chamfer"],
  "centre piece": ["diameter", "inner_diameter", "thickness", "pitch"], "paint": ["edge_distance", "width", "coats"],
  "seam": ["pitch", "count", "hole", "edge_distance"], "peg": ["diameter", "length"],
};
const MAY_BE_NEGATIVE = new Set(["x", "y", "angle", "grain"]);

export async function screen(project) {
  const [makings, statements] = await Promise.all([readMakings(), ask("statements")]);
  const picture = el("div"), reasons = el("div"), own = statements.filter((s) => s.step === "making");
  const again = () => {
    const make = makings.list.find((m) => m.id === held.making) || makings.leading, view = open(make);
    held.making = make.id;
    keepingFocus(() => {
      picture.replaceChildren(chooser(makings.list, make, again), ...view.picture);
      reasons.replaceChildren(...view.reasons, besides(makings, make, again), ...rest(own));
    });
  };
  if (makings.leading) again();
  else picture.append(el("p", {}, say("step.nothing")));
  return frame(project, "making", picture, reasons);
}

const rest = (own) => [el("h3", {}, say("making.rules")), ...own.map(sentence)];

function chooser(list, make, again) {
  if (list.length < 2) return el("p", { class: "second" }, make.title || make.id);
  const pick = el("select", { id: "which-making", onchange: () => { held.making = pick.value; held.part = null; again(); } },
    list.map((m) => el("option", { value: m.id, selected: m.id === make.id }, titleOf(m))));
  return el("div", { class: "field" }, el("label", { for: "which-making" }, say("making.which")), el("span", { class: "rule" }, pick));
}
export const titleOf = (m) => m.weight === undefined ? say("making.what_if", { title: m.title || m.id }) : m.title || m.id;

// The board and the sentences of one making, which follow each other.
function open(make) {
  if (!make.parts.some((p) => p.id === held.part)) held.part = (make.parts.find((p) => p.kind === "lath") || make.parts[0] || {}).id;
  const sheet = make.parts.find((p) => p.kind === "sheet"), groups = new Map();
  let pen = null, fields = {}, waiting = 0;
  const talk = el("div"), doing = answers(make.id);
  const now = () => make.parts.filter((p) => !gone(p)).map(tried);
  const part = () => make.parts.find((p) => p.id === held.part);
  const changed = () => make.parts.filter((p) => held.tries.has(key(p)) || gone(p));

  const bounds = () => {
    const all = make.parts.flatMap((p) => outlineOf(p));
    const [x1, y1, x2, y2] = edgesOf(all.length ? all : [[-100, -100], [100, 100]]);
    return [x1 - 12, y1 - 18, x2 + 12, y2 + 14];
  };
  const figure = board({ name: say("making.board"), words: say("making.words", { n: make.parts.length, title: make.title || make.id }), bounds }, (p) => {
    pen = p;
    groups.clear();
    pen.edgeLater = true;
    for (const q of inOrder(make.parts)) drawOne(q);
    sheetEdge(pen, make.parts);
    if (sheet) {
      const [x1, y1, x2] = edgesOf(outlineOf(sheet));
      grainSign(pen, (x1 + x2) / 2, y1 - 12, (sheet.grain || 0) * Math.PI / 180, 96);
    }
    stick(pen);
    mark();
  });

  // A thing that may move is a group at its place: a drag only sets its transform.
  function drawOne(q) {
    const t = tried(q), g = drawPart(pen, t);
    if (gone(q)) g.classList.add("away");
    groups.set(q.id, { g, at: t });
    g.addEventListener("pointerdown", (e) => grasp(e, q));
    if (movable(q)) {
      labelOf(pen, t, g, false);
      g.classList.add("thing");
      g.setAttribute("tabindex", "0");
      g.setAttribute("role", "button");
      g.setAttribute("aria-label", say("making.thing", { name: q.name || q.id }));
      const [x1, y1, x2, y2] = edgesOf(outlineOf(t)), [X1, Y1] = pen.at(x1, y2), [X2, Y2] = pen.at(x2, y1);
      g.append(svg("rect", { class: "focus-line", x: X1 - 4, y: Y1 - 4, width: X2 - X1 + 8, height: Y2 - Y1 + 8 }));
      g.addEventListener("focus", () => choose(q));
      g.addEventListener("keydown", (e) => nudge(e, q));
    }
    return g;
  }
  function redrawOne(q) {
    const old = groups.get(q.id);
    if (!old || !pen) return;
    const focused = document.activeElement === old.g, g = drawOne(q);
    pen.root.insertBefore(g, old.g);
    old.g.remove();
    if (focused) g.focus({ preventScroll: true });
    mark();
  }
  // Moves what is drawn without drawing it anew.
  function shift(q) {
    const { g, at } = groups.get(q.id), t = tried(q), [X0, Y0] = pen.at(at.x || 0, at.y || 0), [X, Y] = pen.at(t.x || 0, t.y || 0);
    g.setAttribute("transform", `translate(${X - X0} ${Y - Y0})`);
  }
  function mark() {
    for (const [id, { g }] of groups) g.classList.toggle("chosen", id === held.part);
  }

  function grasp(e, q) {
    if (e.button) return;
    choose(q);
    if (!movable(q) || gone(q)) return;
    e.preventDefault();
    const { g } = groups.get(q.id), start = tried(q), box = pen.root.getBoundingClientRect(), scale = box.width / pen.width, x0 = e.clientX, y0 = e.clientY;
    g.focus({ preventScroll: true });
    g.setPointerCapture(e.pointerId);
    g.classList.add("held");
    const move = (m) => put(q, { x: (start.x || 0) + (m.clientX - x0) / scale / pen.k, y: (start.y || 0) - (m.clientY - y0) / scale / pen.k }, false);
    const drop = () => {
      g.removeEventListener("pointermove", move);
      g.classList.remove("held");
      settle();
    };
    g.addEventListener("pointermove", move);
    g.addEventListener("pointerup", drop, { once: true });
    g.addEventListener("pointercancel", drop, { once: true });
  }
  function nudge(e, q) {
    const step = e.altKey ? 0.1 : e.shiftKey ? 10 : 1, t = tried(q);
    const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] }[e.key];
    if (!by || gone(q)) return;
    e.preventDefault();
    put(q, { x: (t.x || 0) + by[0], y: (t.y || 0) + by[1] }, false);
    settle();
  }

  // A try: where the part lies or how big it is; drawn at once, answered as soon as may be.
  function put(q, values, anew) {
    const t = { ...held.tries.get(key(q)) };
    for (const [f, v] of Object.entries(values)) {
      const r = Math.round(v * 1000) / 1000;
      if (q[f] !== undefined && Math.abs(r - q[f]) < 5e-4) delete t[f];
      else t[f] = r;
    }
    if (Object.keys(t).length) held.tries.set(key(q), t);
    else held.tries.delete(key(q));
    if (pen) {
      if (anew) redrawOne(q);
      else shift(q);
    }
    if (q.id === held.part) for (const f of Object.keys(values)) fields[f]?.set(tried(q)[f]);
    if (!waiting) waiting = requestAnimationFrame(() => { waiting = 0; doing.quick(now(), changed().length); });
  }
  function settle() {
    const q = part();
    if (pen && q && movable(q)) redrawOne(q);
    keep();
    doing.full(now(), changed().length);
  }
  function choose(q) {
    if (held.part === q.id && talk.firstChild) return;
    held.part = q.id;
    mark();
    keepingFocus(speak);
  }

  const keeping = el("div");
  function speak() {
    const q = part();
    empty(talk);
    fields = {};
    if (!q) return;
    const t = tried(q), field = (f) => fields[f] = inplace({ id: `making-${f}`, label: `${q.name || q.id}: ${say(`part.${f}`)}`, value: t[f] ?? 0, unit: unitOf(f), step: f === "thickness" || f === "hole" || f === "clearance" ? 0.1 : 1,
      places: f === "count" || f === "coats" ? 0 : f === "thickness" || f === "hole" || f === "clearance" ? 2 : 1, min: MAY_BE_NEGATIVE.has(f) ? -2000 : 0.01, max: 20000, disabled: gone(q),
      change: (v, settled) => { put(q, { [f]: v }, true); if (settled) settle(); } });
    const pick = el("select", { id: "making-part", "aria-label": say("making.part"), onchange: () => choose(make.parts.find((p) => p.id === pick.value)) },
      make.parts.map((p) => el("option", { value: p.id, selected: p.id === q.id }, p.name || p.id)));
    talk.append(el("div", { class: "field" }, el("label", { for: "making-part" }, say("making.part")), el("span", { class: "rule" }, pick)));
    if (movable(q)) {
      const nodes = {};
      for (const f of WHERE) nodes[f] = field(f);
      talk.append(sentenceWith(say("making.lies"), nodes));
    }
    const sizes = (SIZES[q.kind] || []).filter((f) => q[f] !== undefined), line = el("p", { class: "talk" });
    sizes.forEach((f, i) => line.append(i ? ", " : "", say(`part.${f}`), " ", field(f)));
    if (sizes.length) talk.append(el("p", { class: "second" }, say("making.sizes", { state: q.state || "" })), line);
    append(talk, [el("p", {}, footingMark(q.footing), q.rule ? ` ${q.rule}` : ""), q.rival ? el("p", { class: "second" }, say("why.rival", { text: q.rival })) : null,
      q.pieces && q.pieces.length ? el("p", { class: "second" }, say("making.pieces", { list: q.pieces.join(", ") })) : null]);
    const buttons = el("p", { class: "choose" });
    if (q.kind !== "sheet") buttons.append(el("button", { onclick: () => {
      if (gone(q)) held.taken.delete(key(q));
      else held.taken.add(key(q));
      redrawOne(q);
      speak();
      settle();
    } }, say(gone(q) ? "making.back" : "making.away")));
    if (held.tries.has(key(q))) buttons.append(el("button", { onclick: () => { held.tries.delete(key(q)); redrawOne(q); speak(); settle(); } }, say("making.as_before")));
    talk.append(buttons);
  }

  // What is tried so far, and keeping it as a copy.
  function keep() {
    empty(keeping);
    const list = changed();
    if (!list.length) {
      keeping.append(el("p", { class: "second" }, say("making.how")));
      return;
    }
    const what = list.flatMap((p) => gone(p) ? [say("making.without", { part: p.name || p.id })] : differences(p, tried(p)).map((d) => `${p.name || p.id}: ${d}`));
    const name = el("input", { id: "copy-title", autocomplete: "off", value: say("making.copy_title", { n: what.length, first: what[0] }) }), place = el("div");
    keeping.append(el("h3", {}, say("making.tried")), el("ul", {}, what.map((w) => el("li", {}, w))),
      el("div", { class: "field" }, el("label", { for: "copy-title" }, say("making.copy_name")), el("span", { class: "rule" }, name)),
      el("p", { class: "choose" },
        el("button", { class: "main", disabled: !mayWrite(), onclick: async () => {
          try {
            const { making } = await tell("copy", { of: make.id, title: name.value, difference: what.join("; "), without: list.filter(gone).map((p) => p.id),
              changes: Object.fromEntries(list.filter((p) => !gone(p)).map((p) => [p.id, held.tries.get(key(p))])) });
            for (const p of make.parts) { held.tries.delete(key(p)); held.taken.delete(key(p)); }
            held.making = making;
            dispatchEvent(new HashChangeEvent("hashchange"));
          } catch (e) {
            empty(place).append(refused(e));
          }
        } }, say("making.keep")),
        el("button", { onclick: () => {
          for (const p of make.parts) { held.tries.delete(key(p)); held.taken.delete(key(p)); }
          if (pen) for (const p of make.parts) redrawOne(p);
          speak();
          settle();
        } }, say("making.all_back"))), place);
  }

  speak();
  keep();
  doing.full(now(), changed().length);
  return {
    picture: [figure, doing.node],
    reasons: [el("h3", {}, say("making.one")), talk, keeping, order(make)],
  };
}

// The order of work, a step one item: what, how long, what to measure, what is right, what if not.
function order(make) {
  if (!make.steps.length) return el("div");
  return unroll(say("making.order", { n: make.steps.length }), () => el("ol", { class: "order" }, make.steps.map((s) => el("li", {},
    s.what, " ",
    el("span", { class: "second" }, [s.hours ? say("making.hours", { n: figures(s.hours, s.hours % 1 ? 1 : 0) }) : null, s.days ? say("making.days", { n: figures(s.days, s.days % 1 ? 1 : 0) }) : null,
      s.moisture_min !== undefined ? say("making.moist", { n: figures(s.moisture_min, 0) }) : null].filter(Boolean).join(", ")),
    s.measure ? el("div", { class: "second" }, say("making.measure", { what: s.measure, right: s.right || "" }), s.if_not ? ` ${say("making.if_not", { what: s.if_not })}` : "") : null,
    el("div", {}, footingMark(s.footing)),
    (s.cautions || []).length ? el("div", { class: "told" }, say("told.care", { message: s.cautions.map((c) => c.replaceAll("_", " ")).join(", ") })) : null))));
}

// Makings beside each other, one scale, with what sets each apart.
function besides(makings, make, again) {
  if (makings.list.length < 2) return el("p", { class: "second" }, say("making.alone"));
  return unroll(say("making.beside", { n: makings.list.length }), () => {
    const all = makings.list.flatMap((m) => m.parts.flatMap(outlineOf)), [x1, y1, x2, y2] = edgesOf(all);
    return el("div", { class: "beside" }, makings.list.map((m) => {
      const apart = m.id === make.id ? [] : making_differences(make, m);
      const small = board({ words: say("making.words", { n: m.parts.length, title: titleOf(m) }), bounds: () => [x1 - 8, y1 - 8, x2 + 8, y2 + 8], border: 6, tallest: 240 }, (pen) => {
        for (const p of inOrder(m.parts)) drawPart(pen, p);
        sheetEdge(pen, m.parts);
      });
      return el("section", {}, el("h3", {}, titleOf(m)), small,
        m.id === make.id ? el("p", { class: "second" }, say("making.this")) : el("ul", {}, (apart.length ? apart : [say("making.same")]).slice(0, 12).map((a) => el("li", { class: "second" }, a))),
        el("p", { class: "second" }, m.weight === undefined ? say("making.no_weight") : say("making.weight", { n: figures(100 * m.weight, 0) })),
        m.id === make.id ? null : el("button", { onclick: () => { held.making = m.id; held.part = null; again(); } }, say("making.open")));
    }));
  });
}
