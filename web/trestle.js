// Home: two leaves at one scale, the tally between, one next sentence below. Nothing else. A piece
// or a part that is touched shows the threads between them; an empty project asks for its finds list
// where the pieces will lie.
import { el, empty } from "./dom.js";
import { alive, ask } from "./door.js";
import { say } from "./words.js";
import { told } from "./told.js";
import { tally } from "./tally.js";
import { importer } from "./importer.js";
import { nextBar } from "./next.js";
import { board, stick, grainSign, edgesOf, path, put } from "./ink.js";
import { shapesOf, layOut, drawPieces, reach } from "./shapes.js";
import { drawPart, inOrder, outlineOf, sheetEdge } from "./partdraw.js";
import { readMakings } from "./makings.js";
import { threadLayer } from "./threads.js";

const BORDER = 18, GAP = 14; // px
const AT_REST = 7, LISTED = 8;
const held = { turned: false }; // which leaf a phone shows, also when news draws home anew

// px a mm for both leaves: the object fills its leaf, unless the pieces would then run far down.
function scaleOf(shapes, object) {
  const known = new Map();
  return (width) => {
    if (known.has(width)) return known.get(width);
    const inner = width - 2 * BORDER, high = innerWidth < 600 ? innerHeight * 1.2 : Math.max(400, innerHeight - 350);
    const widest = Math.max(...shapes.map((s) => s.box[2] - s.box[0]), object ? object[2] - object[0] : 0, 1);
    let k = inner / widest, laid;
    const least = k * 0.4;
    for (let turn = 0; turn < 14; turn++) {
      laid = layOut(shapes, inner / k, GAP / k, 18 / k, 14 / k);
      if (laid.height * k <= high || k <= least) break;
      k = Math.max(least, k * Math.max(0.8, Math.sqrt(high / (laid.height * k))));
    }
    known.set(width, { k, laid, inner });
    return known.get(width);
  };
}

function foundLeaf(shapes, count, scale, name) {
  let at = null;
  const words = (count === 1 ? say("home.pieces_one") : say("home.pieces", { n: count })) + (count > shapes.length ? ` ${say("home.not_drawn", { n: count - shapes.length })}` : "");
  const figure = board({ name: say("home.pieces_name"), words, tallest: 1e7, border: BORDER, bounds: (w) => {
    at = scale(w);
    return [0, -at.laid.height - 32 / at.k, at.inner / at.k, 0];
  } }, (pen) => {
    drawPieces(pen, at.laid.placed, { name });
    stick(pen, BORDER, pen.height - 8);
  });
  return figure;
}

function madeLeaf(making, scale) {
  const parts = making.parts, [x1, y1, x2, y2] = edgesOf(parts.flatMap(outlineOf)), cx = (x1 + x2) / 2, sheet = parts.find((p) => p.kind === "sheet");
  const figure = board({ name: say("home.parts_name"), words: say("home.proposed", { title: making.title || making.id, n: parts.length }), tallest: 1e7, border: BORDER, bounds: (w) => {
    const { k, inner } = scale(w);
    return [cx - inner / k / 2, y1 - 60 / k, cx + inner / k / 2, y2 + 4 / k];
  } }, (pen) => {
    pen.edgeLater = true;
    inOrder(parts).forEach((p, i) => {
      const g = drawPart(pen, p);
      for (const [k, v] of Object.entries({ role: "link", tabindex: i === 0 ? 0 : -1, "aria-label": p.name || p.id })) g.setAttribute(k, v);
    });
    sheetEdge(pen, parts);
    if (sheet) grainSign(pen, cx, y1 - 30 / pen.k, (sheet.grain || 0) * Math.PI / 180, 72);
    stick(pen, BORDER, pen.height - 8);
  });
  return figure;
}

// Which pieces each part is taken from. Parts alike (the laths) share theirs: one link a kind.
function linksOf(making) {
  const out = [];
  if (making) for (const p of making.parts) for (const piece of p.pieces || []) out.push({ piece, part: p });
  return out;
}
const listed = (names) => names.length > LISTED ? `${names.slice(0, LISTED).join(", ")} ${say("home.and_more", { n: names.length - LISTED })}` : names.join(", ");

function bind(box, found, made, links, shapes, steps) {
  const layer = threadLayer(box), shown = new Set(shapes.map((s) => s.id)), part = new Map(shapes.map((s) => [s.id, s.part]));
  const pieceNode = (id) => found.querySelector(`[data-piece="${CSS.escape(id)}"]`), partNode = (id) => made && made.querySelector(`[data-part="${CSS.escape(id)}"]`);
  const notch = () => [...box.querySelectorAll('[data-step="making"] .notch')].find((n) => n.getClientRects().length);
  const known = links.filter((l) => shown.has(l.piece)), kinds = new Map();
  for (const l of known) kinds.set(l.part.kind, [...(kinds.get(l.part.kind) || []), l]);
  // at rest one thread a kind of part, from the piece that lies nearest the tally
  const right = (l) => pieceNode(l.piece)?.getBoundingClientRect().right ?? 0;
  const resting = () => [...kinds.values()].slice(0, AT_REST).map((all) => all.reduce((a, b) => (right(b) > right(a) ? b : a)));
  const thread = (l, touched) => ({ from: pieceNode(l.piece), through: notch(), to: partNode(l.part.id), touched, footing: l.part.footing, number: l.part.name || l.part.id });
  const words = { found: found.querySelector("figcaption"), made: made && made.querySelector("figcaption") }, said = { found: words.found?.textContent, made: words.made?.textContent };
  const more = known.length - Math.min(AT_REST, kinds.size);
  if (words.found && more > 0) said.found += ` ${say("home.threads", { n: more })}`;
  const mark = (ids, parts) => {
    box.querySelectorAll(".touched").forEach((n) => n.classList.remove("touched"));
    for (const id of ids) pieceNode(id)?.classList.add("touched");
    for (const id of parts) partNode(id)?.classList.add("touched");
  };
  let now = null; // what is shown, to show it again when the leaf has a new size
  const still = () => {
    now = still;
    mark([], []);
    if (words.found) words.found.textContent = said.found;
    if (words.made) words.made.textContent = said.made;
    layer.show(resting().map((l) => thread(l, false)));
  };
  const touchPiece = (id) => {
    now = () => touchPiece(id);
    const own = known.filter((l) => l.piece === id), first = own.filter((l, i) => own.findIndex((o) => o.part.kind === l.part.kind) === i);
    mark([id], own.map((l) => l.part.id));
    words.found.textContent = own.length ? say("home.became", { id, part: part.get(id), list: listed(own.map((l) => l.part.name || l.part.id)) }) : say("home.nowhere", { id, part: part.get(id) });
    layer.show(first.map((l) => thread(l, true)));
  };
  const touchPart = (id) => {
    now = () => touchPart(id);
    const own = known.filter((l) => l.part.id === id), p = links.find((l) => l.part.id === id)?.part;
    mark(own.map((l) => l.piece), [id]);
    if (p && words.made) words.made.textContent = own.length ? say("home.rests", { name: p.name || p.id, footing: say(`footing.${p.footing}`), list: listed(own.map((l) => l.piece)) }) : say("home.rests_none", { name: p.name || p.id, footing: say(`footing.${p.footing}`) });
    layer.show(own.slice(0, AT_REST).map((l) => thread(l, true)));
  };
  reach(found, "data-piece", { enter: touchPiece, leave: still, choose: (id) => { location.hash = `found/${encodeURIComponent(id)}`; } });
  if (made) reach(made, "data-part", { enter: touchPart, leave: still, choose: () => { location.hash = "making"; } });
  // The boards draw themselves when they have a width; the threads follow.
  new ResizeObserver(() => requestAnimationFrame(now || still)).observe(found);
}


// What home shows besides the project's own state; both are fetched at once.
export const readHome = () => Promise.all([ask("entries", { kind: "piece" }), ask("entries", { kind: "outline" }), ask("entries", { kind: "measure" }),
  readMakings({ lean: true }), ask("result", { step: "sizes", part: "tables" }).catch(() => null), ask("aside").catch(() => null)]);

export function trestle(project, [pieces, outlines, measures, makings, sizes, aside]) {
  const own = alive(pieces).filter((p) => !p.body.same_as), shapes = shapesOf(own, alive(outlines), alive(measures));
  const making = makings.leading && makings.leading.parts.length ? makings.leading : null;
  const object = making ? edgesOf(making.parts.flatMap(outlineOf)) : null, scale = scaleOf(shapes, object);
  const box = el("div", { class: held.turned ? "trestle turned" : "trestle" });
  const turn = () => el("button", { class: "turn", onclick: () => { held.turned = box.classList.toggle("turned"); } }, say("home.turn"));
  const name = (s) => say("home.piece", { id: s.id, part: s.part });
  const drop = own.length ? null : importer({ big: true });
  const found = own.length ? (shapes.length ? foundLeaf(shapes, own.length, scale, name) : el("p", {}, say("home.no_shape"))) : drop;
  const rough = project.steps.find((s) => s.step === "making")?.rough;
  const made = making ? madeLeaf(making, scale) : el("p", { class: "second" }, say(project.running === true ? "home.coming" : "home.waits"));
  box.append(
    el("section", { class: "leaf found" }, el("h2", {}, say("home.found"), turn()), found),
    tally(project.steps, null),
    el("section", { class: "leaf made" }, el("h2", {}, say("home.made"), turn()), making && rough ? told("doubt", say("home.rough", { n: rough })) : null, made));
  if (shapes.length) bind(box, found, making ? made : null, linksOf(making), shapes, project.steps);
  const tables = (sizes && sizes.result && sizes.result.tables) || {};
  return el("div", { class: "home" }, box, nextBar(project, { empty: own.length === 0, aside: aside ? aside.held : 0,
    handling: (tables.handling && tables.handling.rows) || [], importer: drop ? el("button", { class: "main", disabled: drop.locked, onclick: () => drop.open() }, say("do.choose_file")) : null }));
}
