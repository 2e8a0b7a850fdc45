// What a changed making would do: at once from the stand-in, then from the shell itself. The newest
// question wins; an answer that comes late is dropped.
import { el, empty } from "./dom.js";
import { tell } from "./door.js";
import { say } from "./words.js";
import { figures } from "./inplace.js";
import { told, refused } from "./told.js";

const places = (v) => Math.abs(v) >= 100 ? 0 : Math.abs(v) >= 10 ? 1 : 2;
// A range too narrow to be told apart at these figures says one number.
const range = (n) => {
  const at = (v) => figures(v, places(n.p95 ?? n.p50));
  return n.p05 === undefined || at(n.p05) === at(n.p95) ? `${at(n.p50)} ${n.unit}` : `${at(n.p50)} ${n.unit} (${at(n.p05)} ${say("to")} ${at(n.p95)})`;
};

// Questions nobody waits for any more are let go: a browser has few connections to one place, and
// the next screen needs them.
const live = new Set(); // {node, leave}, of those whose place has been shown
function letGo(all) {
  for (const one of live)
    if (all || !one.node.isConnected) {
      one.leave.abort();
      live.delete(one);
    }
}
addEventListener("hashchange", () => letGo(true));

export function answers(making) {
  const leave = new AbortController(), { signal } = leave;
  const quickly = el("div"), slowly = el("div"), node = el("section", { class: "doing", "aria-live": "polite" }, quickly, slowly);
  const self = { node, leave };
  let asked = 0, busy = false, next = null, later = 0, again = 0;
  async function ask(parts, by, place) {
    const turn = ++asked;
    letGo(false);
    live.add(self);
    try {
      const a = await tell("what_if", { making, by, parts: parts.map(plain) }, signal);
      if (turn !== asked && by === "shell") return;
      if (a.missing) empty(place).append(el("p", { class: "second" }, `${a.missing} ${a.remedy}`));
      else if (a.learning) {
        empty(place).append(el("p", { class: "second" }, say("whatif.learning")));
        clearTimeout(again);
        again = setTimeout(() => { if (node.isConnected) quick(parts); }, 1500);
      } else show(place, a);
    } catch (e) {
      if (signal.aborted) return;
      empty(place).append(e.status === 404 || e.status === 409 ? el("p", { class: "second" }, `${e.message} ${e.remedy || ""}`) : refused(e));
    }
  }
  // One question at a time; of those that come meanwhile only the newest.
  async function quick(parts) {
    next = parts;
    if (busy) return;
    busy = true;
    while (next && !signal.aborted) {
      const p = next;
      next = null;
      const began = performance.now();
      await ask(p, "stand-in", quickly);
      node.dataset.took = String(Math.round(performance.now() - began));
    }
    busy = false;
  }
  // A screen that another one has overtaken is never shown, and asks nothing.
  function full(parts) {
    setTimeout(() => { if (node.isConnected) quick(parts); }, 0);
    clearTimeout(later);
    later = setTimeout(async () => {
      if (!node.isConnected) return;
      const began = performance.now();
      await ask(parts, "shell", slowly);
      node.dataset.shell = String(Math.round(performance.now() - began));
    }, 120);
  }
  return { node, quick, full };
}

// What the mechanics have no use for stays here.
const UNSENT = new Set(["revision", "pieces", "statements", "rule", "rival", "name", "footing", "colour"]);
export const plain = (p) => Object.fromEntries(Object.entries(p).filter(([f, v]) => !UNSENT.has(f) && v !== undefined && v !== null));

function show(place, a) {
  empty(place);
  place.append(el("h3", {}, say(`whatif.${a.by}`)));
  for (const n of a.numbers) place.append(el("p", {}, `${n.sentence} `, el("span", { class: "number" }, range(n)),
    n.before === undefined ? null : el("span", { class: "second" }, ` ${say("whatif.before", { n: `${figures(n.before, places(n.before))} ${n.unit}` })}`)));
  if (a.outside) place.append(told("care", say("whatif.outside")));
  place.append(el("p", { class: "second" }, say(`whatif.note.${a.by}`, { ms: figures(a.ms, a.ms < 10 ? 1 : 0), runs: a.runs ?? "" })));
}
