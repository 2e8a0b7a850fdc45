// Readings that contradict each other, side by side, to choose or keep both; and the handling list:
// the conservator's yes or no, with reasons.
import { el, empty } from "./dom.js";
import { tell, mayWrite } from "./door.js";
import { say } from "./words.js";
import { unroll } from "./frame.js";
import { refused } from "./told.js";
import { adder, line, freeName, today } from "./adder.js";
import { again } from "./found.js";

const HANDLING = ["piece", "allowed", "reason", "what", "who", "date"];

// One of two is reckoned with: the other is withdrawn (it stays in the journal), and the choice
// stands beside it with its reason. One change, which can be taken back.
function pair(second, first) {
  const error = el("div"), why = el("input", { id: `rival-why-${second.id}`, autocomplete: "off" });
  const words = (m) => `${m.body.value}${m.body.tolerance !== undefined ? ` ± ${m.body.tolerance}` : ""}${m.body.state ? `, ${m.body.state}` : ""}${m.body.method ? `; ${m.body.method}` : ""}${m.body.observer ? `, ${say("found.observer", { who: m.body.observer })}` : ""}${m.body.date ? `, ${m.body.date}` : ""}`;
  async function enter(entries) {
    empty(error);
    try {
      await tell("enter_all", { entries, why: why.value });
      again();
    } catch (e) {
      error.append(refused(e));
    }
  }
  const choice = (value, rival) => ({ kind: "choice", id: `rival.${second.id}`, expected: -1, body: { id: `rival.${second.id}`, about: first.id, value, rival, reason: why.value || undefined, date: today(), footing: "seen" } });
  const take = (one, other) => {
    const body = { ...one.body };
    delete body.rival_of;
    enter([{ kind: "measure", id: one.id, body, expected: one.revision }, { kind: "measure", id: other.id, expected: other.revision }, choice(words(one), words(other))]);
  };
  const side = (one, other, rival) => el("div", { class: rival ? "side rival" : "side" }, el("p", {}, el("b", {}, one.id)), el("p", {}, words(one)), one.body.note ? el("p", { class: "second" }, one.body.note) : null,
    mayWrite() ? el("button", { type: "button", onclick: () => take(one, other) }, say("found.take_this")) : null);
  return el("form", { class: "rivals", onsubmit: (e) => e.preventDefault() }, el("h3", {}, say("found.rival_pair", { piece: first.body.piece, quantity: first.body.quantity })),
    el("div", { class: "sides" }, side(first, second, false), side(second, first, true)),
    mayWrite() ? [el("div", { class: "field" }, el("label", { for: `rival-why-${second.id}` }, say("found.why_choice")), el("span", { class: "rule" }, why)),
      el("p", {}, el("button", { type: "button", class: "plain", onclick: () => enter([choice(say("found.keep_both"), "")].map((e) => ({ ...e, body: { ...e.body, rival: undefined } }))) }, say("found.keep_both")))] : null, error);
}

export function rivalTalk(all) {
  const by = new Map(all.measure.map((m) => [m.id, m])), pairs = all.measure.filter((m) => m.body.rival_of && by.has(m.body.rival_of));
  if (!pairs.length) return null;
  return el("section", {}, el("h2", {}, say("found.rivals")), el("p", {}, say("found.rival_how")), pairs.slice(0, 8).map((m) => pair(m, by.get(m.body.rival_of))), pairs.length > 8 ? unroll(say("why.more", { n: pairs.length - 8 }), () => el("div", {}, pairs.slice(8).map((m) => pair(m, by.get(m.body.rival_of))))) : null);
}

const answer = (h) => say(h.body.allowed === true ? "answer.yes" : h.body.allowed === false ? "answer.no" : "answer.unasked");
const because = (h) => [h.body.reason ? say("found.because", { reason: h.body.reason }) : null, h.body.what, [h.body.who, h.body.date].filter(Boolean).join(", ")].filter(Boolean).join("; ");

export function handlingOf(piece, handling) {
  const own = handling.filter((h) => h.body.piece === piece);
  return el("p", {}, el("b", {}, `${say("found.handling_of")} `), own.length ? own.map((h) => `${answer(h)}, ${because(h)}. `) : `${say("answer.unasked")}.`);
}

export function handlingTalk(all, kinds) {
  return unroll(say("found.handling_n", { n: all.handling.length }), () => el("div", {}, el("p", { class: "second" }, say("found.handling_how")),
    el("ul", {}, all.handling.map((h) => line({ kinds, kind: "handling", names: HANDLING, entry: h, done: again, text: el("span", {}, el("a", { href: `/#found/${encodeURIComponent(h.body.piece)}` }, h.body.piece), `: ${answer(h)}, ${because(h)}`) }))),
    adder({ kinds, kind: "handling", names: ["id", ...HANDLING], what: say("found.a_handling"), fresh: () => ({ id: freeName("h", all.handling), piece: "", date: today() }), done: again })));
}
