// Rows of a finds list that were set aside: each says why, with the cell to mend and a suggestion.
// Mended ones are taken in one by one.
import { el, empty } from "./dom.js";
import { tell, mayWrite } from "./door.js";
import { say } from "./words.js";
import { told, refused } from "./told.js";
import { again } from "./found.js";

function row(r) {
  const error = el("div"), fields = new Map(), columns = [...new Set(r.problems.map((p) => p.column))];
  const cell = (heading) => { const i = r.headings.indexOf(heading); return i < 0 ? "" : r.cells[i]; };
  const line = (column) => {
    const id = `aside-${r.id}-${column}`, input = el("input", { id, value: cell(column), autocomplete: "off", disabled: !mayWrite() }), own = r.problems.filter((p) => p.column === column);
    fields.set(column, input);
    return el("div", { class: "aside-cell" },
      el("div", { class: "field" }, el("label", { for: id }, column), el("span", { class: "rule" }, input),
        own.filter((p) => p.suggestion && /^[\d.,-]+$/.test(p.suggestion)).map((p) => el("button", { type: "button", class: "plain", onclick: () => { input.value = p.suggestion; input.focus(); } }, say("found.take_suggestion", { text: p.suggestion })))),
      own.map((p) => told(p.doubt ? "care" : "not", `${p.reason}${p.suggestion ? ` ${say("found.perhaps", { text: p.suggestion })}.` : ""}`)));
  };
  async function release(as_it_is) {
    empty(error);
    const cells = {};
    for (const [column, input] of fields) if (input.value !== cell(column)) cells[column] = input.value;
    try {
      const report = await tell("release", { id: r.id, cells, as_it_is, why: "" });
      const still = (report.aside || []).find((a) => a.id === r.id);
      if (still) error.append(told("not", still.sentence));
      else again();
    } catch (e) {
      error.append(refused(e));
    }
  }
  const doubtful = r.problems.every((p) => p.doubt);
  return el("form", { class: "aside-row", id: `aside-${r.id}`, onsubmit: (e) => { e.preventDefault(); release(false); } },
    el("h3", {}, `${say("found.row", { row: r.row })}${r.cells[0] ? `, ${r.cells[0]}` : ""}`),
    el("p", { class: "second" }, r.headings.map((h, i) => (r.cells[i] && !columns.includes(h) ? `${h} ${r.cells[i]}` : "")).filter(Boolean).join(", ")),
    columns.map(line), error,
    mayWrite() ? el("p", { class: "choose" }, el("button", { class: "main" }, say("found.release")), doubtful ? el("button", { type: "button", onclick: () => release(true) }, say("found.as_it_is")) : null) : null);
}

export function asideTalk(report, wanted) {
  const rows = report.aside || [];
  if (!rows.length) return wanted ? el("p", {}, say("found.none_aside")) : null;
  const box = el("section", { class: "aside", id: "aside" }, el("h2", {}, say("found.aside")), el("p", {}, say("found.aside_n", { n: rows.length, rows: report.rows })), rows.slice(0, 12).map(row),
    rows.length > 12 ? el("p", { class: "second" }, say("why.more", { n: rows.length - 12 })) : null);
  if (wanted) requestAnimationFrame(() => box.scrollIntoView({ block: "start" }));
  return box;
}
