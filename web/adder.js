// Entering a thing where it is needed: a button that unrolls the form of its kind, made from the
// field descriptors, with some fields first and the rest on demand.
import { el, empty } from "./dom.js";
import { mayWrite, again } from "./door.js";
import { say } from "./words.js";
import { form } from "./form.js";

// A free name: the prefix and the next number.
export function freeName(prefix, entries) {
  const used = new Set(entries.map((e) => e.id));
  for (let n = entries.length + 1; ; n++) if (!used.has(`${prefix}${n}`)) return `${prefix}${n}`;
}

export const today = () => {
  const d = new Date(), two = (n) => String(n).padStart(2, "0");
  return `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}`;
};

// kinds: of /api/kinds; names: fields to show, in order; entry: {id, revision, body}.
export function fieldsOf(kinds, kind, names) {
  return names.map((n) => kinds[kind].fields.find((f) => f.name === n)).filter(Boolean);
}

// A button "Add ..." under which the form stands. `fresh()` makes the body of a new one.
export function adder({ kinds, kind, names, what, fresh, label = say("add.open", { what }), done = again }) {
  const place = el("div");
  if (!mayWrite()) return place;
  const button = el("button", { "aria-expanded": "false", onclick: () => {
    if (place.firstChild) empty(place);
    else {
      const body = fresh();
      place.append(form({ name: kind }, fieldsOf(kinds, kind, names), { id: body.id, revision: 0, body }, done));
      place.querySelector("input, select")?.focus();
    }
    button.setAttribute("aria-expanded", place.firstChild ? "true" : "false");
  } }, label);
  return el("div", { class: "unroll" }, el("p", {}, button), place);
}

// One entry as a line with a way to change it.
export function line({ kinds, kind, names, entry, text, done = again }) {
  const place = el("div");
  if (!mayWrite()) return el("li", {}, text);
  const button = el("button", { class: "plain", "aria-expanded": "false", "aria-label": `${say("entry.change")} ${entry.id}`, onclick: () => {
    if (place.firstChild) empty(place);
    else place.append(form({ name: kind }, fieldsOf(kinds, kind, names), entry, done));
    button.setAttribute("aria-expanded", place.firstChild ? "true" : "false");
  } }, say("entry.change"));
  return el("li", { class: "unroll" }, text, " ", button, place);
}
