// Material and season: what has to be got, the stems, the bark unrolled, the plan back from the
// opening, what is in hand, and the page to take to the wood.
import { el, empty } from "./dom.js";
import { ask, tell, mayWrite, again } from "./door.js";
import { say } from "./words.js";
import { frame, unroll } from "./frame.js";
import { pictureLater } from "./picture.js";
import { importer } from "./importer.js";
import { table } from "./tables.js";
import { told, refused } from "./told.js";
import { adder, line, freeName, today } from "./adder.js";
import { board, path, put, text, edgesOf } from "./ink.js";

const STEM = ["id", "species", "kind", "girth", "girth_height", "clear_from", "clear_length", "taper", "bark_thickness", "health", "owner", "consent", "place", "approval", "nests_checked", "note"];
const FAULT = ["id", "stem", "kind", "around", "height", "width", "length"];
const PEEL = ["id", "stem", "date", "slips", "bends", "drought", "note"];
const VISIT = ["id", "stem", "date", "wound_width", "callus_left", "callus_right", "callus_foot", "crown", "note"];
const STOCK = ["id", "what", "species", "stem", "taken", "around", "along", "thickness", "number", "dry_mass", "start_moisture", "rest_moisture", "flatten_least", "place", "use", "note"];
const WEIGHING = ["id", "item", "date", "hour", "mass", "humidity", "temperature", "note"];

// One stem's bark, laid flat: faults struck out, parts where they are cut.
function unrolled(l) {
  const words = say("material.layout.words", { stem: l.stem, share: Math.round(100 * l.share), used: Math.round(100 * l.used) });
  return board({ bounds: () => edgesOf(l.ring), words, tallest: 420 }, (pen) => {
    put(pen, "path", { class: "cut-face", d: path(pen, l.ring, true) });
    for (const f of l.faults) {
      put(pen, "path", { class: "hole", d: path(pen, f, true) });
      const [x1, y1, x2, y2] = edgesOf(f);
      put(pen, "path", { class: "cross", d: path(pen, [[x1, y1], [x2, y2]], false) + path(pen, [[x1, y2], [x2, y1]], false) });
    }
    for (const p of l.parts) {
      put(pen, "path", { class: "under", d: path(pen, p.ring, true) });
      put(pen, "path", { class: "part-line", d: path(pen, p.ring, true) });
      const [x1, y1, x2, y2] = edgesOf(p.ring);
      text(pen, (x1 + x2) / 2, (y1 + y2) / 2, p.part, { anchor: "middle" });
    }
  });
}

// "The copy is to be shown from ____": a choice about the opening, one entry.
function openingDay(choices, opening) {
  const entry = choices.find((c) => c.body.about === "opening"), place = el("div");
  const input = el("input", { id: "opening-day", value: (entry && entry.body.value) || opening || "", autocomplete: "off", disabled: !mayWrite(), "aria-describedby": "opening-how" });
  const save = async (event) => {
    event.preventDefault();
    empty(place);
    const day = input.value.trim();
    if (!/^\d{4}-\d{2}-\d{2}$/.test(day)) {
      place.append(told("not", say("material.opening.bad", { text: day })));
      return input.focus();
    }
    const id = entry ? entry.id : "opening";
    try {
      await tell("enter", { kind: "choice", id, expected: entry ? entry.revision : 0, body: { ...(entry ? entry.body : { id, about: "opening" }), value: day } });
      again();
    } catch (e) { place.append(refused(e)); }
  };
  return el("form", { onsubmit: save, novalidate: true },
    el("div", { class: "field" }, el("label", { for: "opening-day" }, say("material.opening")), el("span", { class: "rule" }, input),
      el("button", { disabled: !mayWrite() }, say("do.enter")), el("small", { id: "opening-how" }, say("material.opening.how")), place));
}

const size = (b) => [b.species, b.kind, b.girth ? `${b.girth} mm` : "", b.consent ? say("material.stem.consent", { consent: b.consent }) : "", b.place].filter(Boolean).join(", ");

function stems(kinds, all, faults, tables) {
  const answers = (tables.stems || { rows: [] }).rows;
  const one = (s) => {
    const a = answers.find((r) => r[0] === s.id), own = faults.filter((f) => f.body.stem === s.id);
    return line({ kinds, kind: "stem", names: STEM, entry: s, text: el("span", {}, el("b", {}, s.id), ` ${[size(s.body), own.length === 1 ? say("material.stem.fault") : own.length ? say("material.stem.faults", { n: own.length }) : ""].filter(Boolean).join(", ")}`,
      a ? el("small", {}, ` ${[a[2] === "yes" ? say("material.stem.yields") : a[2] === "no" ? say("material.stem.yields_not") : a[2], say("material.stem.share", { share: a[3] }), a[5], a[6], a[7]].filter(Boolean).join(". ")}`) : null) });
  };
  return el("section", {}, el("h3", {}, say("material.stems")),
    all.length ? el("ul", {}, all.map(one)) : el("p", {}, say("entry.none")),
    adder({ kinds, kind: "stem", names: STEM, what: say("material.stem.add"), fresh: () => ({ id: freeName("S", all) }) }),
    all.length ? [
      adder({ kinds, kind: "stem_fault", names: FAULT, what: say("material.fault.add"), fresh: () => ({ id: freeName("F", faults), stem: all[0].id }) }),
      adder({ kinds, kind: "test_peel", names: PEEL, what: say("material.peel.add"), fresh: () => ({ id: `peel-${today()}`, stem: all[0].id, date: today() }) }),
      adder({ kinds, kind: "stem_visit", names: VISIT, what: say("material.visit.add"), fresh: () => ({ id: `visit-${today()}`, stem: all[0].id, date: today() }) })] : null);
}

function wood() {
  return el("section", {}, el("h3", {}, say("material.wood")), el("p", {}, say("material.wood.say")),
    el("p", {}, el("a", { class: "wide", href: "/api/wood", target: "_blank", rel: "noopener" }, say("material.wood.open")), " ",
      el("a", { class: "wide", href: "/api/wood?save=yes", download: "wood.html" }, say("material.wood.save"))),
    mayWrite() ? el("div", {}, el("p", { class: "second" }, say("material.wood.bring")), importer(() => setTimeout(again, 600))) : null);
}

const weighed = (n) => n === 1 ? say("material.weighed_once") : say("material.weighed", { n });

function stock(kinds, items, weighings) {
  return el("section", {}, el("h3", {}, say("material.stock")),
    items.length ? el("ul", {}, items.map((s) => line({ kinds, kind: "stock_item", names: STOCK, entry: s,
      text: `${s.id}: ${[s.body.what, s.body.species, s.body.taken].filter(Boolean).join(", ")}; ${weighed(weighings.filter((w) => w.body.item === s.id).length)}` }))) : el("p", {}, say("entry.none")),
    adder({ kinds, kind: "stock_item", names: STOCK, what: say("material.stock.add"), fresh: () => ({ id: freeName("K", items) }) }),
    items.length ? adder({ kinds, kind: "weighing", names: WEIGHING, what: say("material.weighing"), fresh: () => ({ id: freeName("W", weighings), item: items[0].id, date: today() }) }) : null);
}

export async function screen(project) {
  const list = (kind) => ask("entries", { kind });
  const [tried, stored, kinds, choices, all, faults, items, weighings] = await Promise.all([ask("result", { step: "trials", part: "tables" }).catch(() => null),
    ask("result", { step: "material" }), ask("kinds"), list("choice"), list("stem"), list("stem_fault"), list("stock_item"), list("weighing")]);
  const r = stored.result || {}, tables = r.tables || {}, late = (tried && tried.result && tried.result.tables) || {}, after = late.needs;
  const left = el("div", {},
    el("h3", {}, say("material.season")), openingDay(choices, r.opening),
    r.season ? told("care", r.season) : null,
    tables.season ? pictureLater("season") : el("p", {}, say("material.season.none")),
    tables.season ? table(tables.season) : null,
    (r.layouts || []).length ? el("section", {}, el("h3", {}, say("material.layout")), r.layout ? el("p", {}, r.layout) : null, el("div", { class: "beside" }, r.layouts.map(unrolled))) : null,
    tables.windows ? unroll(say("material.windows"), () => table(tables.windows)) : null,
    tables.tasks ? unroll(say("material.tasks"), () => table(tables.tasks)) : null);
  const right = [
    el("h2", {}, say("material.needs")),
    r.say ? told("care", r.say) : null,
    tables.needs ? table(tables.needs) : el("p", {}, say("material.first")),
    after ? unroll(after.title, () => el("div", {}, table(after), late.stems ? [el("h4", {}, late.stems.title), table(late.stems)] : null)) : null,
    r.never_safe ? told("care", r.never_safe) : null,
    wood(), stems(kinds, all, faults, tables), tables.ways ? unroll(say("material.ways"), () => table(tables.ways)) : null, stock(kinds, items, weighings)];
  return frame(project, "material", left, right);
}
