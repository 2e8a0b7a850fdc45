// Bringing in a file: by choosing or dropping. Of a finds list the program proposes what each
// heading means; a person corrects it and brings it in. Then the first answers are worked out.
//
//   importer({big, done})   an element; `open()` chooses a file. importer(done) stands too.
import { el, empty } from "./dom.js";
import { send, tell, mayWrite } from "./door.js";
import { say, knows } from "./words.js";
import { told, refused } from "./told.js";

const AS = ["id", "part", "material", "taxon", "confidence", "zone", "state", "treatment", "day", "size", "tolerance", "end", "edge", "method", "observer", "date", "face", "direction", "ring angle", "source", "same as", "joins", "note", "ignore"];
const QUANTITIES = ["length", "width", "thickness", "chord", "rise", "holes", "pitch", "hole diameter", "rounds", "round pitch", "chamfer length", "chamfer angle", "scarf length", "tongue length", "edge distance", "row distance", "stitches in 10 mm", "peg hole diameter", "height", "mass", "moisture", "gap"];
const isList = (name, bytes) => /\.(csv|tsv|txt|xlsx)$/i.test(name) && !/^(sources?|handling|alteration|choice|stem|stock|trial|weighing|plan|candidate|making|part|step|mark|measure)/i.test(name) && bytes.byteLength > 0;

const asWord = (as) => knows(`as.${as}`) ? say(`as.${as}`, { quantity: "" }).replace(/: $/, "") : as;

// The first rows, only to show beside the headings; the program itself reads the file.
function firstRows(bytes, separator) {
  const text = new TextDecoder().decode(bytes.slice(0, 4096));
  if (text.startsWith("PK")) return [];
  return text.split(/\r?\n/).slice(1, 4).filter(Boolean).map((l) => l.split(separator));
}

export function importer(options = {}) {
  const { big = false, done = null } = typeof options === "function" ? { done: options } : options;
  const place = el("div"), locked = !mayWrite();
  const input = el("input", { type: "file", class: "hidden", tabindex: "-1", "aria-hidden": "true", disabled: locked, onchange: () => { bring(input.files[0]); input.value = ""; } });
  const button = el("button", { type: "button", class: big ? null : "plain-lath", disabled: locked, onclick: () => input.click() }, say(big ? "do.choose_file" : "do.import"));

  async function bring(file) {
    if (!file) return;
    empty(place);
    try {
      const bytes = await file.arrayBuffer();
      if (isList(file.name, bytes)) await propose(file.name, bytes, {});
      else await take(file.name, bytes, {});
    } catch (e) {
      place.append(refused(e));
    }
  }

  async function propose(name, bytes, how) {
    place.append(el("p", { class: "second" }, say("map.reading")));
    let map;
    try {
      map = await send("propose", { name, ...how }, bytes);
    } finally {
      empty(place);
    }
    place.append(mapping(name, bytes, map));
    place.querySelector("select")?.focus({ preventScroll: true });
  }

  function mapping(name, bytes, map) {
    const rows = firstRows(bytes, map.separator || ","), error = el("div");
    const again = (how) => { empty(place); propose(name, bytes, { separator: map.separator, comma: map.decimal_comma ? "yes" : "no", ...how }).catch((e) => place.append(refused(e))); };
    const lines = map.columns.map((c, i) => {
      const pick = el("select", { "aria-label": `${c.heading}: ${say("map.as")}`, onchange: () => {
        const [as, quantity] = pick.value.split("/");
        c.as = as;
        if (quantity) { c.quantity = quantity; c.unit ??= "mm"; } else if (as !== "tolerance") { delete c.quantity; delete c.unit; }
      } }, AS.filter((a) => a !== "size").map((a) => el("option", { value: a, selected: a === c.as }, asWord(a))),
        QUANTITIES.map((q) => el("option", { value: `size/${q}`, selected: c.as === "size" && c.quantity === q }, say("as.size", { quantity: q }))));
      return el("tr", {}, el("th", { scope: "row" }, c.heading), el("td", {}, el("span", { class: "rule" }, pick), c.unit ? el("small", {}, ` ${say("map.unit", { unit: c.unit })}`) : null),
        el("td", { class: "second" }, rows.map((r) => r[i]).filter(Boolean).join(", ")));
    });
    const two = (label, options, now, change) => el("span", { class: "two" }, `${label} `, el("span", { class: "rule" }, el("select", { "aria-label": label, onchange: (e) => change(e.target.value) }, options.map(([v, t]) => el("option", { value: v, selected: v === now }, t)))));
    return el("form", { class: "mapping", novalidate: true, onsubmit: async (e) => {
      e.preventDefault();
      empty(error);
      try {
        await take(name, bytes, { map: JSON.stringify(map), separator: map.separator, comma: map.decimal_comma ? "yes" : "no" });
      } catch (x) {
        error.append(refused(x));
      }
    } }, el("h3", {}, say("map.title")), el("p", { class: "second" }, say("map.file", { name, n: map.columns.length })), el("p", {}, say("map.how")),
      el("p", { class: "talk" }, two(say("map.between"), [[",", say("map.comma")], [";", say("map.semicolon")]], map.separator, (v) => again({ separator: v })), " ",
        two(say("map.decimal"), [["no", say("map.point")], ["yes", say("map.comma")]], map.decimal_comma ? "yes" : "no", (v) => again({ comma: v }))),
      el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": say("map.title") }, el("table", {}, el("thead", {}, el("tr", {}, ["map.heading", "map.as", "map.first"].map((k) => el("th", { scope: "col" }, say(k))))), el("tbody", {}, lines))),
      error, el("p", { class: "choose" }, el("button", { class: "main" }, say("map.bring")), el("button", { type: "button", onclick: () => empty(place) }, say("do.cancel"))));
  }

  async function take(name, bytes, how) {
    const report = await send("import", { name, ...how }, bytes);
    empty(place).append(el("p", {}, report.sentence || say("told.saved")));
    for (const row of report.aside || []) place.append(told("not", row.sentence));
    if (done) done(report);
    // a finds list gives its first rough answers at once
    if (report.kind === "finds") tell("compute").catch(() => {});
  }

  const box = el("div", { class: big ? "importer big" : "importer" },
    big ? el("p", { class: "number" }, say("home.drop")) : null, big ? el("p", {}, say("home.drop_how")) : null, input, button, place);
  box.open = () => input.click();
  box.locked = locked;
  box.addEventListener("dragover", (e) => { e.preventDefault(); box.classList.add("over"); });
  box.addEventListener("dragleave", () => box.classList.remove("over"));
  box.addEventListener("drop", (e) => { e.preventDefault(); box.classList.remove("over"); if (!locked) bring(e.dataTransfer.files[0]); });
  return box;
}
