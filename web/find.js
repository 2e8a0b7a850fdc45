// Find: pieces, readings, marks, sources, choices and everything that is said, by any word of it.
import { el, empty } from "./dom.js";
import { ask } from "./door.js";
import { say } from "./words.js";
import { footingMark } from "./sentence.js";
import { whyLink } from "./why.js";

const KINDS = ["piece", "measure", "mark", "source", "choice", "handling"], MOST = 30;
const held = { text: "" };
const flat = (body) => Object.entries(body).map(([k, v]) => (Array.isArray(v) ? (k === "points" ? "" : v.join(" ")) : typeof v === "object" ? "" : String(v))).join(" ");

function entryItem(kind, e) {
  const b = e.body, piece = kind === "piece" ? e.id : b.piece;
  const words = kind === "piece" ? `${e.id}: ${[b.part, b.material, b.note].filter(Boolean).join(", ")}`
    : kind === "measure" ? `${e.id}: ${b.quantity} ${b.value}${b.tolerance !== undefined ? ` ± ${b.tolerance}` : ""}${b.state ? `, ${b.state}` : ""}`
    : kind === "source" ? `${b.title || e.id}${b.text ? `: ${b.text}` : ""}`
    : kind === "choice" ? `${b.about}: ${b.value}${b.rival ? ` / ${b.rival}` : ""}` : `${e.id}: ${b.what || b.kind || b.reason || ""}`;
  return el("li", {}, el("small", {}, say(`kind.${kind}`), " "), piece ? el("a", { href: `/#found/${encodeURIComponent(piece)}` }, words) : words);
}
const saidItem = (s) => el("li", {}, el("a", { href: `/${whyLink(s.step, s.id)}` }, s.sentence), s.number ? ` ${s.number} ` : " ", s.footing ? footingMark(s.footing) : null, el("small", {}, ` ${say(`step.${s.step}`)}`));

export async function screen() {
  const [statements, ...lists] = await Promise.all([ask("statements"), ...KINDS.map((kind) => ask("entries", { kind }))]);
  const all = lists.flatMap((list, i) => list.filter((e) => !e.gone).map((e) => ({ kind: KINDS[i], e, text: `${e.id} ${flat(e.body)}`.toLowerCase() })));
  const said = statements.map((s) => ({ s, text: `${s.id} ${s.sentence} ${s.number || ""} ${s.rule || ""} ${s.source || ""} ${s.rival || ""}`.toLowerCase() }));
  const place = el("div", { "aria-live": "polite" });
  const input = el("input", { id: "find-what", type: "search", autocomplete: "off", value: held.text, oninput: look });
  function part(title, hits, item) {
    if (!hits.length) return null;
    return el("section", {}, el("h3", {}, title), el("ul", { class: "hits" }, hits.slice(0, MOST).map(item)), hits.length > MOST ? el("p", { class: "second" }, say("find.many", { n: MOST, all: hits.length })) : null);
  }
  function look() {
    held.text = input.value;
    const words = input.value.toLowerCase().split(/\s+/).filter(Boolean), fits = (x) => words.every((w) => x.text.includes(w));
    empty(place);
    if (!words.length) { place.append(el("p", { class: "second" }, say("find.how"))); return; }
    const near = ["piece", "measure", "mark"], a = all.filter((x) => near.includes(x.kind) && fits(x)), b = said.filter(fits), c = all.filter((x) => !near.includes(x.kind) && fits(x));
    const parts = [part(say("find.pieces"), a, (x) => entryItem(x.kind, x.e)), part(say("find.said"), b, (x) => saidItem(x.s)), part(say("find.entered"), c, (x) => entryItem(x.kind, x.e))].filter(Boolean);
    place.append(...(parts.length ? parts : [el("p", {}, say("find.none"))]));
  }
  look();
  setTimeout(() => input.focus(), 0);
  return el("div", { class: "alone" }, el("section", { class: "leaf" }, el("h2", {}, say("find.title")),
    el("div", { class: "field" }, el("label", { for: "find-what" }, say("find.what")), el("span", { class: "rule" }, input)), place));
}
