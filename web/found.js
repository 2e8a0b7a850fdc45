// Found: the pieces and their readings, each with unit, ±, state and ends; adding and changing them.
import { el, empty } from "./dom.js";
import { ask, mayWrite } from "./door.js";
import { say } from "./words.js";
import { tally } from "./tally.js";
import { picture } from "./picture.js";
import { form } from "./form.js";
import { importer } from "./importer.js";
import { table } from "./tables.js";

const AT_ONCE = 60;
const READING = ["id", "piece", "quantity", "value", "tolerance", "state", "direction", "ends", "observer", "date", "method", "note"];

function line(m) {
  const b = m.body, parts = [`${b.quantity} ${b.value}`];
  if (b.tolerance !== undefined) parts.push(`± ${b.tolerance}`);
  if (b.bound && b.bound !== "value") parts.unshift(b.bound);
  return `${parts.join(" ")}${b.state ? `, ${b.state}` : ""}${b.ends ? `, ${b.ends.join(" / ")}` : ""}`;
}

function pieceRow(piece, readings, kinds, place) {
  const own = readings.filter((m) => m.body.piece === piece.id);
  const open = () => {
    empty(place).append(
      el("h3", {}, `${piece.id} ${piece.body.part || ""}`),
      el("p", { class: "second" }, piece.body.note || ""),
      el("ul", {}, own.map((m) => el("li", {}, line(m), " ", mayWrite() ? el("button", { class: "plain", onclick: () => edit(m) }, say("do.enter")) : null))),
      mayWrite() ? el("button", { onclick: () => edit(null) }, say("found.add")) : null);
    place.scrollIntoView({ block: "nearest" });
  };
  const edit = (m) => {
    const fields = kinds.measure.fields.filter((f) => READING.includes(f.name));
    const fresh = { id: `${piece.id}.`, body: { piece: piece.id }, revision: 0 };
    place.append(form({ name: "measure" }, fields, m || fresh, () => location.reload()));
  };
  return el("tr", {}, el("td", {}, el("button", { class: "plain", onclick: open }, piece.id)),
    el("td", {}, piece.body.part || ""), el("td", {}, piece.body.material || ""), el("td", {}, piece.body.zone || ""),
    el("td", {}, String(own.length)));
}

export async function found(project) {
  const [drawing, kinds, pieces, readings, stored] = await Promise.all([picture("found"), ask("kinds"),
    ask("entries", { kind: "piece" }), ask("entries", { kind: "measure" }), ask("result", { step: "found" }).catch(() => null)]);
  const place = el("div"), rows = pieces.map((p) => [p, null]);
  const body = el("tbody");
  const show = (n) => { for (const [p] of rows.slice(body.childElementCount, n)) body.append(pieceRow(p, readings, kinds, place)); };
  show(AT_ONCE);
  const more = rows.length > AT_ONCE ? el("button", { onclick: () => { show(rows.length); more.remove(); } }, say("do.more", { n: rows.length })) : null;
  const tables = Object.values((stored && stored.result && stored.result.tables) || {});
  return el("div", { class: "step" }, tally(project.steps, "found"),
    el("section", { class: "leaf" }, el("h2", {}, say("step.found")), drawing, tables.map(table)),
    el("section", { class: "leaf reasons" }, el("h2", {}, say("found.pieces")), importer(() => location.reload()),
      place,
      el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": say("found.pieces") },
        el("table", {}, el("thead", {}, el("tr", {}, ["piece", "part", "material", "zone", "readings"].map((c) => say(`found.${c}`)).map((t) => el("th", { scope: "col" }, t)))), body)), more));
}
