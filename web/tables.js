// Tables of a step's result: {title, columns, rows}.
import { el } from "./dom.js";
import { say } from "./words.js";

export function table(t) {
  const cell = (v) => el("td", { class: typeof v === "number" ? "figure" : null },
    v === null || v === undefined ? "" : typeof v === "boolean" ? say(v ? "table.yes" : "table.no") : typeof v === "number" ? String(Math.round(v * 1000) / 1000) : v);
  return el("section", {}, el("h3", {}, t.title), el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": t.title }, el("table", {},
    el("thead", {}, el("tr", {}, t.columns.map((c) => el("th", { scope: "col" }, c)))),
    el("tbody", {}, t.rows.map((r) => el("tr", {}, r.map(cell)))))));
}
