// Forms made from the field descriptors of a kind. Errors stand beside their field.
import { el, empty } from "./dom.js";
import { tell, mayWrite, Refused } from "./door.js";
import { say } from "./words.js";
import { told, refused } from "./told.js";
import { pairOf } from "./keep.js";

const number = (text) => Number(text.trim().replace(",", "."));

let forms = 0; // several may stand open on one screen

function control(f, value, own) {
  const attributes = { id: `field-${own}-${f.name}`, name: f.name, "aria-describedby": f.help ? `help-${own}-${f.name}` : null };
  if (f.type === "choice") {
    const box = el("select", attributes, el("option", { value: "" }, say("field.unknown")));
    for (const c of f.choices) box.append(el("option", { value: c, selected: c === value }, c));
    return box;
  }
  if (f.type === "flag") return el("select", attributes, el("option", { value: "" }, say("field.unknown")),
    el("option", { value: "yes", selected: value === true }, say("answer.yes")), el("option", { value: "no", selected: value === false }, say("answer.no")));
  const plain = value === undefined ? "" : typeof value === "object" ? JSON.stringify(value) : String(value);
  return el("input", { ...attributes, type: f.type === "date" ? "text" : "text", value: plain, required: f.required,
    inputmode: f.type === "number" || f.type === "integer" ? "decimal" : null, autocomplete: "off" });
}

function read(f, text) {
  if (text === "") return undefined;
  if (f.type === "number" || f.type === "integer") return number(text);
  if (f.type === "flag") return text === "yes";
  if (["numbers", "integers", "texts", "rows", "record", "records", "free"].includes(f.type)) return JSON.parse(text);
  return text;
}

// kind: {name, fields}; entry: {id, revision, body} or null for a new one; done: called when taken.
export function form(kind, fields, entry, done) {
  const place = el("div"), body = entry ? entry.body : {}, own = `${kind.name}-${++forms}`;
  const rows = fields.map((f) => {
    const error = el("div", { "data-error": f.name });
    return el("div", { class: "field" },
      el("label", { for: `field-${own}-${f.name}` }, f.label, f.required ? el("small", {}, ` (${say("field.needed")})`) : null),
      el("span", { class: "rule" }, control(f, body[f.name], own)),
      f.unit ? el("span", { class: "unit" }, f.unit) : null,
      f.help ? el("small", { id: `help-${own}-${f.name}`, style: "flex-basis:100%" }, f.help) : null, error);
  });
  const why = el("input", { id: `field-${own}-why`, autocomplete: "off" });
  const node = el("form", { onsubmit: submit, novalidate: true }, rows,
    el("div", { class: "field" }, el("label", { for: `field-${own}-why` }, say("entry.why")), el("span", { class: "rule" }, why)),
    el("button", { class: "main", disabled: !mayWrite() }, say("do.save")), place);

  async function submit(event) {
    event.preventDefault();
    empty(place);
    node.querySelectorAll("[data-error]").forEach(empty);
    const out = { ...body };
    for (const f of fields) {
      const input = node.elements[f.name];
      try {
        const v = read(f, input.value);
        if (v === undefined) delete out[f.name];
        else if (typeof v === "number" && Number.isNaN(v)) throw new Error(say("inplace.number", { text: input.value }));
        else out[f.name] = v;
      } catch (e) {
        node.querySelector(`[data-error="${f.name}"]`).append(told("not", e.message));
        input.focus();
        return;
      }
    }
    try {
      const { revision } = await tell("enter", { kind: kind.name, id: out.id, body: out, expected: entry ? entry.revision : 0, why: why.value });
      done({ id: out.id, revision, body: out });
    } catch (e) {
      if (e.present) {
        place.append(pairOf(e.present, out, (revision) => { entry = { ...entry, revision }; submit(event); }));
        return;
      }
      const beside = e instanceof Refused && e.column && node.querySelector(`[data-error="${e.column}"]`);
      (beside || place).append(refused(e));
      if (beside) node.elements[e.column].focus();
    }
  }
  return node;
}
