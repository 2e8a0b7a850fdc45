// A number that can be changed where it stands in its sentence: typed, or with the arrow keys.
import { el } from "./dom.js";
import { say } from "./words.js";

export const figures = (v, places = 1) => (Math.abs(v) < 0.5 * 10 ** -places ? 0 : v).toFixed(places).replace("-", "−");
export const parse = (text) => Number(text.trim().replace(",", ".").replace("−", "-"));

// change(value, settled): settled when the field is left or Enter pressed. A value that cannot be
// is told beside the field and not taken.
export function inplace({ id, label, value, unit = "mm", step = 1, places = 1, min = -Infinity, max = Infinity, disabled = false, change }) {
  const tell = el("span", { class: "second", role: "alert" });
  let last = value;
  const input = el("input", { id, "aria-label": unit ? `${label}, ${unit}` : label, inputmode: "decimal", autocomplete: "off", value: figures(value, places), disabled,
    onfocus: () => input.select(),
    onkeydown: (e) => {
      if (e.key === "Enter") { take(true); return; }
      const by = { ArrowUp: 1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[e.key];
      if (!by) return;
      e.preventDefault();
      input.value = figures(Math.min(max, Math.max(min, last + by * step * (e.altKey ? 0.1 : 1))), places);
      take(false);
    },
    onchange: () => take(true) });
  function take(settled) {
    const v = parse(input.value);
    tell.textContent = "";
    if (!Number.isFinite(v) || input.value.trim() === "") tell.textContent = say("told.not", { message: say("inplace.number", { text: input.value }) });
    else if (v < min || v > max) tell.textContent = say("told.not", { message: say("inplace.range", { low: figures(min, places), high: figures(max, places), unit }) });
    else if (v !== last || settled) { last = v; change(v, settled); }
    input.setAttribute("aria-invalid", tell.textContent ? "true" : "false");
  }
  const node = el("span", { class: "inplace" }, el("span", { class: "rule" }, input), unit ? el("span", { class: "unit" }, unit) : null, tell);
  // Set from outside, by a drag; not while it is being written in.
  node.set = (v) => { last = v; if (document.activeElement !== input) input.value = figures(v, places); };
  return node;
}

// A sentence with fields in it: text with {names}, each replaced by a node.
export function sentenceWith(text, nodes) {
  const p = el("p", { class: "talk" });
  for (const bit of text.split(/(\{\w+\})/)) {
    const name = /^\{(\w+)\}$/.exec(bit);
    p.append(name && nodes[name[1]] ? nodes[name[1]] : document.createTextNode(bit));
  }
  return p;
}
