// Tables of a step's result: {title, columns, rows}.
import { el } from "./dom.js";
import { say } from "./words.js";

export function table(t) {
  // a column of sentences is given room, so that its rows do not grow tall
  const long = t.columns.map((_, i) => t.rows.some((r) => typeof r[i] === "string" && r[i].length > 40));
  const cell = (v, i) => el("td", { class: typeof v === "number" ? "figure" : long[i] ? "long" : /^\d{4}-\d\d(-\d\d)?$/.test(v) ? "day" : null },
    v === null || v === undefined ? "" : typeof v === "boolean" ? say(v ? "table.yes" : "table.no") : typeof v === "number" ? String(Math.round(v * 1000) / 1000) : v);
  return el("section", {}, el("h3", {}, t.title), el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": t.title }, el("table", {},
    el("thead", {}, el("tr", {}, t.columns.map((c) => el("th", { scope: "col" }, c)))),
    el("tbody", {}, t.rows.map((r) => el("tr", {}, r.map(cell)))))));
}
