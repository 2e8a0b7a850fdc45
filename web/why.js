// Why: unrolls where the number stands. Step one lists everything it rests on; each of those opens
// in turn, one step in, tied by a thread on the left, down to the piece, the source or the guess.
//
//   whyButton("lath.width.fresh")     {button, place}: put the button by the number, the place below
//   whyLink("sizes", "lath.width.fresh")   an address that opens that screen with this why unrolled
import { el, empty } from "./dom.js";
import { ask } from "./door.js";
import { say, knows } from "./words.js";
import { withGlyph } from "./glyph.js";
import { refused } from "./told.js";

const AT_FIRST = 8;
export const whyLink = (step, id) => `#${step || "found"}/why/${encodeURIComponent(id)}`;

const word = (kind) => knows(`kind.${kind}`) ? say(`kind.${kind}`) : kind;
const pieceOf = (l) => (l.entry && l.entry.body && l.entry.body.piece) || (l.kind === "piece" ? l.id : null);

// One thing something rests on.
function rest(l) {
  const line = el("p", {}, el("span", { class: "kind" }, l.role && l.role !== l.kind && l.role !== word(l.kind) ? `${word(l.kind)}, ${l.role}` : word(l.kind)), " ");
  const item = el("li", {}, line);
  if (l.kind === "statement") {
    const s = l.statement;
    if (s) line.append(s.sentence, s.state ? ` ${say("why.state", { state: s.state })}` : "", s.number ? el("b", {}, ` ${s.number}`) : "", " ", s.footing ? withGlyph(s.footing, say(`footing.${s.footing}`)) : "", " ");
    else return line.append(l.id, `, ${say("why.not_found")}`), item;
    const w = whyButton(l.id, s);
    line.append(w.button);
    item.append(w.place);
  } else if (l.entry) {
    const b = l.entry.body || {}, piece = pieceOf(l);
    line.append(l.kind === "choice" ? `${b.value || ""}${b.reason ? `: ${b.reason}` : ""}` : l.kind === "source" ? `${b.title || l.id}${b.text ? `: ${b.text}` : ""}` : `${l.id}: ${l.words || ""}`, " ");
    if (piece) line.append(el("a", { href: `/#found/${encodeURIComponent(piece)}` }, say("why.open_piece")));
    else if (l.kind === "source" && b.kind === "photo" && b.file) line.append(el("a", { href: `/#trace/${encodeURIComponent(l.id)}` }, say("why.open_source")));
    item.append(el("p", { class: "second" }, say("why.entered", { who: l.entry.who, when: (l.entry.when || "").slice(0, 10) })));
    if (l.kind === "choice" && b.rival) item.append(el("p", { class: "second" }, say("why.rival", { text: b.rival })));
  } else line.append(l.words || (l.kind === "fact" ? say("why.fact", { id: l.id }) : l.kind === "choice" ? say("why.unset") : `${l.id}, ${say("why.not_found")}`));
  return item;
}

function opened(s) {
  const box = el("div", { class: "why" });
  if (s.footing === "guessed") box.append(el("p", {}, withGlyph("guessed", say("why.guess"))));
  for (const key of ["rule", "source", "rival", "raw"])
    if (s[key]) box.append(el("p", { class: "second" }, say(`why.${key}`, { text: s[key] })));
  const seen = new Set(), links = (s.rests_on || []).filter((l) => { const k = `${l.kind} ${l.id}`; return seen.has(k) ? false : seen.add(k); });
  if (!links.length) {
    box.append(el("p", { class: "second" }, say("why.nothing")));
    return box;
  }
  const list = el("ul", { class: "rests" }, links.slice(0, AT_FIRST).map(rest));
  box.append(el("p", { class: "second" }, say("why.rests")), list);
  if (links.length > AT_FIRST) {
    const more = el("button", { class: "plain", type: "button", onclick: () => {
      const first = rest(links[AT_FIRST]);
      list.append(first, ...links.slice(AT_FIRST + 1).map(rest));
      more.remove();
      first.querySelector("button, a")?.focus();
    } }, say("why.more", { n: links.length - AT_FIRST }));
    box.append(more);
  }
  return box;
}

export function whyButton(id, known = null) {
  const place = el("div");
  const button = el("button", { class: "plain why-button", type: "button", "data-why": id, "aria-expanded": "false", onclick: async () => {
    if (place.firstChild) {
      empty(place);
      button.setAttribute("aria-expanded", "false");
      return;
    }
    button.setAttribute("aria-expanded", "true");
    try {
      place.append(opened(known && known.rests_on ? known : await ask("why", { id })));
    } catch (e) {
      place.append(refused(e));
    }
  } }, say("do.why"));
  return { button, place };
}
