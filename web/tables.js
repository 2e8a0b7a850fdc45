// Tables of a step's result: {title, columns, rows}. Where its place is too narrow for all columns, each
// row stands as a small list under its first cell (parts.css), every figure beside its heading.
import { el } from "./dom.js";
import { say } from "./words.js";

const FEW = 4, BROAD = 4; // columns that fit a narrow place; from so many on, sentences get less room

export function table(t) {
  // a column of sentences is given room, so that its rows do not grow tall
  const long = t.columns.map((_, i) => t.rows.some((r) => typeof r[i] === "string" && r[i].length > 40)), wide = t.columns.length > FEW || long.some(Boolean);
  const cell = (v, i) => el(i ? "td" : "th", { scope: i ? null : "row", class: typeof v === "number" ? "figure" : long[i] ? "long" : /^\d{4}-\d\d(-\d\d)?$/.test(v) ? "day" : null },
    wide && i ? el("span", { class: "head-of" }, t.columns[i], " ") : null,
    v === null || v === undefined ? "" : typeof v === "boolean" ? say(v ? "table.yes" : "table.no") : typeof v === "number" ? String(Math.round(v * 1000) / 1000) : v);
  const row = (r) => el("tr", {}, r.map((v, i) => { const c = cell(v, i); if (v === null || v === undefined || v === "") c.classList.add("bare"); return c; }));
  return el("section", {}, el("h3", {}, t.title), el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": t.title }, el("table", { class: wide ? (t.columns.length >= BROAD ? "wide broad" : "wide") : null },
    el("thead", {}, el("tr", {}, t.columns.map((c) => el("th", { scope: "col" }, c)))),
    el("tbody", {}, t.rows.map(row)))));
}
