// Found: the pieces as they lie, and beside them whatever is known of the one that is chosen: its
// readings, which can be mended where they stand, its outline, what was seen on it, whether it may
// be touched. Rows set aside, contradicting readings and the handling list each have their place.
// Which piece is open stands in the address: #found/A12.
import { el, empty } from "./dom.js";
import { alive, ask, mayWrite } from "./door.js";
import { say } from "./words.js";
import { frame, unroll } from "./frame.js";
import { board, stick } from "./ink.js";
import { shapesOf, layOut, drawPieces, reach } from "./shapes.js";
import { importer } from "./importer.js";
import { sentence } from "./sentence.js";
import { table } from "./tables.js";
import { adder } from "./adder.js";
import { pieceTalk, photoAdder, PIECE_FIELDS } from "./found_piece.js";
import { asideTalk } from "./found_aside.js";
import { rivalTalk, handlingTalk } from "./found_rivals.js";

const BORDER = 12, GAP = 14, MOST_ROWS = 80;
let last = null; // the piece that was open when the screen was left
export const again = () => { dispatchEvent(new CustomEvent("again")); };

export async function screen(project, rest = []) {
  const kindNames = ["piece", "measure", "mark", "outline", "handling", "source"];
  const [kinds, aside, statements, stored, ...lists] = await Promise.all([ask("kinds"), ask("aside").catch(() => ({ held: 0, aside: [] })), ask("statements"),
    ask("result", { step: "found", part: "tables" }).catch(() => null), ...kindNames.map((kind) => ask("entries", { kind }))]);
  const all = Object.fromEntries(kindNames.map((k, i) => [k, alive(lists[i])])), pieces = all.piece;
  if (!pieces.length && !(aside.aside || []).length) return frame(project, "found", el("div", {}, el("p", {}, say("found.no_pieces")), importer({ big: true })), adders(kinds, all));
  const picture = el("div"), talk = el("div", { class: "piece-talk", "aria-live": "polite" }), shapes = shapesOf(pieces, all.outline, all.measure);
  let chosen = null;
  const pick = el("select", { id: "which-piece", onchange: () => choose(pick.value) }, el("option", { value: "" }, say("found.stays")),
    pieces.map((p) => el("option", { value: p.id }, say("home.piece", { id: p.id, part: p.body.part || "" }))));
  const mark = () => picture.querySelectorAll("[data-piece]").forEach((n) => n.classList.toggle("chosen", n.getAttribute("data-piece") === chosen));
  function choose(id, jump) {
    const p = pieces.find((x) => x.id === id);
    chosen = p ? id : null;
    last = chosen;
    pick.value = chosen || "";
    history.replaceState(null, "", chosen ? `#found/${encodeURIComponent(chosen)}` : "#found");
    mark();
    empty(talk).append(p ? pieceTalk(p, all, kinds) : el("p", { class: "second" }, say("found.choose")));
    if (jump && matchMedia("(max-width: 1099px)").matches) talk.scrollIntoView({ block: "start" });
  }
  if (shapes.length) {
    let laid = null, at = 1;
    const widest = Math.max(...shapes.map((s) => s.box[2] - s.box[0]));
    const figure = board({ name: say("home.pieces_name"), words: say("found.picture", { n: shapes.length }), tallest: 1e7, border: BORDER, bounds: (w) => {
      const inner = w - 2 * BORDER;
      for (let k = inner / widest, turn = 0; turn < 14; turn++, k *= 0.85) {
        at = k;
        laid = layOut(shapes, inner / k, GAP / k, 18 / k, 14 / k);
        if (laid.height * k < Math.max(420, innerHeight - 240) || k < inner / widest * 0.35) break;
      }
      return [0, -laid.height - 32 / at, inner / at, 0];
    } }, (pen) => {
      drawPieces(pen, laid.placed, { name: (s) => say("home.piece", { id: s.id, part: s.part }) });
      stick(pen, BORDER, pen.height - 8);
      mark();
    });
    reach(figure, "data-piece", { enter: () => {}, leave: () => {}, choose: (id) => choose(id, true) });
    picture.append(figure);
  }
  const own = statements.filter((s) => s.step === "found"), tables = Object.values((stored && stored.result && stored.result.tables) || {});
  picture.append(el("h3", {}, say("found.said")), ...own.slice(0, 6).map(sentence));
  if (own.length > 6) picture.append(unroll(say("why.more", { n: own.length - 6 }), () => el("div", {}, own.slice(6).map(sentence))));
  if (tables.length) picture.append(unroll(say("found.stock"), () => el("div", {}, tables.map(table))));
  const reasons = el("div", {}, asideTalk(aside, rest[0] === "aside"),
    el("div", { class: "field" }, el("label", { for: "which-piece" }, say("found.piece")), el("span", { class: "rule" }, pick)), talk,
    rivalTalk(all), handlingTalk(all, kinds), unroll(say("found.all", { n: pieces.length }), () => list(pieces, all, choose)), adders(kinds, all));
  const before = last, asked = rest[0] && rest[0] !== "aside" && rest[0] !== "why" ? rest[0] : null;
  choose(asked);
  // on a narrow page the words lie far below the picture: an address that names a piece opens there
  if (asked && asked !== before && matchMedia("(max-width: 1099px)").matches) setTimeout(() => talk.scrollIntoView({ block: "start" }), 0);
  if (rest[0] === "aside") history.replaceState(null, "", "#found/aside");
  return frame(project, "found", picture, reasons);
}

function adders(kinds, all) {
  if (!mayWrite()) return null;
  return el("div", { class: "adders" }, el("h3", {}, say("do.add")), importer({ done: null }),
    adder({ kinds, kind: "piece", names: PIECE_FIELDS, what: say("found.a_piece"), fresh: () => ({ id: "", belongs: 0.99 }), done: again }), photoAdder(all));
}

// All of them as a table; a long list shows its first rows until asked.
function list(pieces, all, choose) {
  const count = new Map();
  for (const m of all.measure) count.set(m.body.piece, (count.get(m.body.piece) || 0) + 1);
  const row = (p) => el("tr", {}, el("td", {}, el("button", { class: "plain", onclick: () => { choose(p.id); document.getElementById("which-piece").scrollIntoView({ block: "start" }); } }, p.id)),
    el("td", {}, p.body.part || ""), el("td", {}, p.body.material || ""), el("td", {}, p.body.zone || ""), el("td", { class: "figure" }, String(count.get(p.id) || 0)));
  const body = el("tbody", {}, pieces.slice(0, MOST_ROWS).map(row));
  const more = pieces.length > MOST_ROWS ? el("button", { onclick: () => { body.append(...pieces.slice(MOST_ROWS).map(row)); more.remove(); } }, say("do.more", { n: pieces.length })) : null;
  return el("div", {}, el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": say("found.pieces") }, el("table", {}, el("thead", {}, el("tr", {}, ["piece", "part", "material", "zone", "readings"].map((c) => el("th", { scope: "col" }, say(`found.${c}`))))), body)), more);
}
