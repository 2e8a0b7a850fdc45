// One piece in words: what it is taken for, whether it may be touched, its outline and marks, and
// each reading as a sentence whose numbers, state and ends can be changed where they stand. A change
// is one revision with its reason.
import { el, empty } from "./dom.js";
import { ask, send, mayWrite } from "./door.js";
import { say } from "./words.js";
import { unroll } from "./frame.js";
import { form } from "./form.js";
import { inplace, sentenceWith } from "./inplace.js";
import { glyph } from "./glyph.js";
import { told, refused } from "./told.js";
import { keep } from "./keep.js";
import { adder, fieldsOf, today } from "./adder.js";
import { again } from "./found.js";
import { handlingOf } from "./found_rivals.js";

export const PIECE_FIELDS = ["id", "part", "material", "taxon", "substance", "confidence", "zone", "belongs", "joins", "same_as", "face_up", "note"];
const READING_FIELDS = ["id", "piece", "quantity", "value", "tolerance", "bound", "state", "direction", "ends", "end_kinds", "observer", "date", "method", "note"];
const ENDS = ["whole", "broken", "torn", "worn"];
const unitOf = (quantity) => /angle/.test(quantity) ? say("unit.degrees") : ["holes", "rounds", "stitches in 10 mm"].includes(quantity) ? "" : quantity === "mass" ? "g" : quantity === "moisture" ? "%" : "mm";
const decimals = (v) => { const s = String(v ?? 0); return Math.min(3, Math.max(1, (s.split(".")[1] || "").length)); };

const chooser = (id, label, choices, value, change) => el("span", { class: "rule in-talk" }, el("select", { id, "aria-label": label, disabled: !mayWrite(), onchange: (e) => change(e.target.value) },
  choices.map(([v, t]) => el("option", { value: v, selected: v === value }, t))));

function reading(entry, kinds) {
  const b = entry.body, changed = {}, keepPlace = el("div"), error = el("div"), more = el("div"), unit = unitOf(b.quantity);
  const node = el("div", { class: "reading", id: `reading-${entry.id}` });
  const note = (field, value) => { if (JSON.stringify(value) === JSON.stringify(b[field])) delete changed[field]; else changed[field] = value; offer(); };
  const number = (field, label, min) => inplace({ id: `read-${entry.id}-${field}`, label: `${entry.id}: ${label}`, value: b[field] ?? 0, unit: "", step: 0.1, places: decimals(b[field]), min, max: 1e5, disabled: !mayWrite(),
    change: (v) => note(field, Math.abs(v - (b[field] ?? 0)) < 1e-9 ? b[field] : v) });
  const states = kinds.measure.fields.find((f) => f.name === "state").choices;
  const state = chooser(`read-${entry.id}-state`, `${entry.id}: ${say("found.state_of")}`, [["", say("sizes.no_state")], ...states.map((s) => [s, s])], b.state || "", (v) => note("state", v || undefined));
  // The end stops are the ends themselves: each is set there.
  const end = (i) => {
    const sign = el("span", { class: "end-sign" }, glyph(ENDS[b.end_kinds[i]]));
    return el("span", { class: "end" }, sign, chooser(`read-${entry.id}-end${i}`, `${entry.id}: ${say("found.end", { n: i + 1 })}`, ENDS.map((w, k) => [String(k), say(`end.${w}`)]), String(b.end_kinds[i]), (v) => {
      const kindsNow = [...(changed.end_kinds || b.end_kinds)];
      kindsNow[i] = Number(v);
      empty(sign).append(glyph(ENDS[v]));
      note("end_kinds", kindsNow);
    }));
  };
  const ends = b.end_kinds && b.end_kinds.length === 2 ? [`, ${say("found.from")} `, end(0), ` ${say("to")} `, end(1)] : b.ends && b.ends.length ? [`, ${b.ends.join(" / ")}`] : [];
  const bound = b.bound && b.bound !== "value" ? `${say(`found.bound.${b.bound}`)} ` : "";
  const line = sentenceWith(`${b.quantity} ${bound}{value} ± {tolerance} ${unit}, ${say("found.state")} {state}{ends}${b.method ? `; ${b.method}` : ""}${b.observer ? `, ${say("found.observer", { who: b.observer })}` : ""}`,
    { value: number("value", say("found.value"), 0), tolerance: number("tolerance", "±", 0), state, ends: el("span", {}, ends) });
  function offer() {
    empty(keepPlace);
    node.classList.toggle("unsaved", Object.keys(changed).length > 0);
    if (!Object.keys(changed).length) return;
    const why = el("input", { id: `why-${entry.id}`, autocomplete: "off" });
    keepPlace.append(el("form", { onsubmit: async (e) => {
      e.preventDefault();
      const body = { ...b, ...changed };
      for (const k of Object.keys(body)) if (body[k] === undefined) delete body[k];
      if (await keep({ kind: "measure", id: entry.id, body, expected: entry.revision, why: why.value }, error)) { node.classList.remove("unsaved"); again(); }
    } }, el("div", { class: "field" }, el("label", { for: `why-${entry.id}` }, say("found.why")), el("span", { class: "rule" }, why)),
      el("p", { class: "choose" }, el("button", { class: "main" }, say("do.save")), el("button", { type: "button", onclick: again }, say("do.cancel")))));
  }
  const fields = fieldsOf(kinds, "measure", READING_FIELDS.slice(1).concat(["direction", "rival_of", "flag", "source"].filter((n) => !READING_FIELDS.includes(n))));
  const open = (words, make) => { const button = el("button", { class: "plain", type: "button", "aria-expanded": "false", onclick: async () => {
    const shown = button.getAttribute("aria-expanded") === "true";
    more.querySelectorAll("form").forEach((f) => f.remove());
    empty(more);
    node.querySelectorAll("[aria-expanded]").forEach((n) => n.setAttribute("aria-expanded", "false"));
    if (!shown) { more.append(await make()); button.setAttribute("aria-expanded", "true"); }
  } }, words); return button; };
  node.append(line, b.flag ? told("care", b.flag) : "", b.note ? el("p", { class: "second" }, b.note) : "", keepPlace, error,
    el("p", { class: "links" }, mayWrite() ? open(say("found.edit"), () => form({ name: "measure" }, fields, entry, again)) : null, open(say("found.history"), () => past(entry))), more);
  return node;
}

// Every revision of a reading, who wrote it and why.
async function past(entry) {
  const list = await ask("history", { kind: "measure", id: entry.id });
  const line = (e) => e.gone ? say("journal.gone") : `${e.body.quantity} ${e.body.value}${e.body.tolerance !== undefined ? ` ± ${e.body.tolerance}` : ""}${e.body.state ? `, ${e.body.state}` : ""}`;
  return el("ul", { class: "past" }, list.map((e) => el("li", {}, say("found.was", { when: e.when.replace("T", " ").slice(0, 16), who: e.who, words: line(e), why: e.why ? `: ${e.why}` : "" }))));
}

function freeReading(piece, readings) {
  for (let n = 1; ; n++) if (!readings.some((m) => m.id === `${piece}.r${n}`)) return `${piece}.r${n}`;
}

const tallyOf = (words) => [...new Set(words)].map((w) => { const n = words.filter((x) => x === w).length; return n > 1 ? `${n} × ${w}` : w; }).join("; ");

export function pieceTalk(p, all, kinds) {
  const b = p.body, readings = all.measure.filter((m) => m.body.piece === p.id), outline = all.outline.find((o) => o.body.piece === p.id), marks = all.mark.filter((m) => m.body.piece === p.id);
  const facts = [b.material, b.confidence, b.zone ? say("found.zone_of", { zone: b.zone }) : null].filter(Boolean).join(", ");
  const fields = fieldsOf(kinds, "piece", PIECE_FIELDS.slice(1));
  return el("div", {},
    el("h3", {}, `${p.id}${b.part ? `, ${b.part}` : ""}`),
    facts ? el("p", {}, `${facts}.`) : null, b.note ? el("p", { class: "second" }, b.note) : null,
    b.shape_only ? told("care", say("found.no_scale")) : null,
    b.belongs < 0.9 ? told("care", say("found.doubt_belongs", { n: Math.round(b.belongs * 100) })) : null,
    handlingOf(p.id, all.handling),
    marks.length ? el("p", {}, el("b", {}, `${say("found.marks")}: `), tallyOf(marks.map((m) => (m.body.what && m.body.what !== "drawn in the outline" ? m.body.what : m.body.kind))), ".") : null,
    el("h3", {}, say("found.readings_of")), mayWrite() && readings.length ? el("p", { class: "second" }, say("found.in_place")) : null,
    readings.length ? readings.map((m) => reading(m, kinds)) : el("p", {}, say("found.no_readings")),
    mayWrite() ? [adder({ kinds, kind: "measure", names: READING_FIELDS, what: say("found.a_reading"), done: again,
      fresh: () => ({ id: freeReading(p.id, all.measure), piece: p.id, state: readings[0] && readings[0].body.state, date: today() }) }),
      el("p", {}, el("a", { class: "lath", href: `/#trace/${encodeURIComponent(p.id)}` }, el("span", {}, say(outline ? "found.retrace" : "found.trace")))),
      unroll(say("found.edit_piece"), () => form({ name: "piece" }, fields, p, again))] : null);
}

// A photo or a film: kept byte for byte; the length of its bar, if there is one, goes with it.
export function photoAdder(all, done = again) {
  const place = el("div"), error = el("div");
  if (!mayWrite()) return place;
  const button = el("button", { type: "button", "aria-expanded": "false", onclick: () => {
    const shown = place.firstChild;
    empty(place);
    button.setAttribute("aria-expanded", shown ? "false" : "true");
    if (shown) return;
    const file = el("input", { type: "file", id: "photo-file", accept: "image/jpeg,image/png,image/webp", required: true }), title = el("input", { id: "photo-title", autocomplete: "off" }), bar = el("input", { id: "photo-bar", inputmode: "decimal", autocomplete: "off" });
    const row = (id, label, input, unit) => el("div", { class: "field" }, el("label", { for: id }, label), el("span", { class: "rule" }, input), unit ? el("span", { class: "unit" }, unit) : null);
    place.append(el("form", { novalidate: true, onsubmit: async (e) => {
      e.preventDefault();
      empty(error);
      try {
        if (!file.files[0]) throw new Error(say("trace.none"));
        const length = Number(bar.value.trim().replace(",", "."));
        if (bar.value.trim() && !(length > 0)) throw new Error(say("inplace.number", { text: bar.value }));
        await send("import", { name: file.files[0].name, as: "photo", ...(title.value ? { label: title.value } : {}), ...(bar.value.trim() ? { bar: length } : {}) }, await file.files[0].arrayBuffer());
        empty(place);
        done();
      } catch (x) {
        error.append(refused(x));
      }
    } }, row("photo-file", say("trace.photo"), file), row("photo-title", say("photo.title"), title), row("photo-bar", say("trace.upload_bar"), bar, "mm"), error, el("button", { class: "main" }, say("do.add"))));
  } }, say("found.add_photo"));
  return el("div", { class: "unroll" }, el("p", {}, button), place);
}
