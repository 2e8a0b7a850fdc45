// The journal: every change with who, when and why, newest first; each opens to what it changed and
// can be taken back or done again.
import { el, empty } from "./dom.js";
import { ask, tell, mayWrite } from "./door.js";
import { say, knows } from "./words.js";
import { refused } from "./told.js";
import { standing } from "./history.js";

const AT_ONCE = 40;
const plain = (v) => v === undefined ? "" : Array.isArray(v) ? (v.length > 6 ? `${v.length}` : v.map(plain).join(" ")) : v === true ? say("answer.yes") : v === false ? say("answer.no") : typeof v === "object" ? JSON.stringify(v) : String(v);

function difference(e) {
  const out = [], was = e.before || {}, now = e.gone ? {} : e.body;
  if (e.gone) return [say("journal.gone")];
  for (const k of new Set([...Object.keys(was), ...Object.keys(now)])) {
    if (k === "id" || JSON.stringify(was[k]) === JSON.stringify(now[k])) continue;
    const field = k.replaceAll("_", " ");
    out.push(was[k] === undefined ? say("journal.set", { field, to: plain(now[k]) }) : now[k] === undefined ? say("journal.unset", { field, from: plain(was[k]) }) : say("journal.from_to", { field, from: plain(was[k]), to: plain(now[k]) }));
  }
  return out;
}

function change(c, undone) {
  const place = el("div"), error = el("div");
  const button = el("button", { class: "plain", "aria-expanded": "false", onclick: async () => {
    if (place.firstChild) { empty(place); button.setAttribute("aria-expanded", "false"); return; }
    button.setAttribute("aria-expanded", "true");
    const list = await ask("change", { id: c.id });
    place.append(el("ul", {}, list.slice(0, 30).map((e) => el("li", {}, knows(`kind.${e.kind}`) ? say(`kind.${e.kind}`) : e.kind, " ", e.id, `${e.before ? "" : `, ${say("journal.new")}`}: `, difference(e).join("; ")))),
      list.length > 30 ? el("p", { class: "second" }, say("why.more", { n: list.length - 30 })) : "");
  } }, say("journal.open"));
  const back = mayWrite() ? el("button", { class: "plain", onclick: async () => {
    empty(error);
    try { await tell("undo", { change: c.id }); } catch (e) { error.append(refused(e)); }
  } }, say(c.undo ? "journal.do_again" : "journal.take_back")) : null;
  const gone = undone.has(c.uuid);
  return el("li", { class: "unroll" }, el("p", {}, el("small", {}, `${say("journal.line", { when: c.when.replace("T", " ").replace(/:\d\dZ$/, ""), who: c.who })} `), el("br"),
    c.undo ? say("journal.is_undo") : c.why || say("journal.no_reason"), `, ${c.entries === 1 ? say("journal.entry") : say("journal.entries", { n: c.entries })}`, gone ? `, ${say("journal.undone")}` : "", " ", button, " ", gone ? null : back), error, place);
}

export async function screen() {
  const changes = await ask("changes"), { undone } = standing(changes), list = el("ol", { class: "journal", reversed: true }, changes.slice(0, AT_ONCE).map((c) => change(c, undone)));
  const more = changes.length > AT_ONCE ? el("button", { onclick: () => { list.append(...changes.slice(AT_ONCE).map((c) => change(c, undone))); more.remove(); } }, say("do.more", { n: changes.length })) : null;
  return el("div", { class: "alone" }, el("section", { class: "leaf" }, el("h2", {}, say("journal.title")), el("p", {}, say("journal.how")),
    changes.length ? list : el("p", {}, say("journal.none")), more));
}
