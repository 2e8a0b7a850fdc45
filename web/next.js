// The one next thing, from the states of the steps: a sentence, what does it, and why it comes first.
//
//   nextBar(project, {aside, handling, importer})   stays at the foot of the window
import { el, empty } from "./dom.js";
import { tell, mayWrite } from "./door.js";
import { say } from "./words.js";

const pieceOf = (row) => row[0];

export function nextOf(project, { empty: nothing = false, aside = 0, handling = [] } = {}) {
  const steps = project.steps, first = steps[0];
  if (!first || nothing) return { text: say("next.drop"), action: "import" };
  if (aside > 0) return { text: aside === 1 ? say("next.aside_one") : say("next.aside", { n: aside }), label: say("next.mend"), action: "found/aside" };
  if (project.running === true) return { text: say("next.running"), action: "none" };
  const stale = steps.find((s) => s.state === "in doubt" || (s.state === "can start" && !s.blocked));
  if (stale) return { text: say("next.work"), action: "compute" };
  const blocked = steps.find((s) => s.blocked);
  if (blocked) return { text: say("next.blocked", { step: say(`step.${blocked.step}`), message: `${blocked.blocked.message} ${blocked.blocked.remedy}` }), label: say("next.open", { step: say(`step.${blocked.step}`) }), action: blocked.step };
  // Sizes say what to measure next; those that need no touching, or may be touched, come first.
  const row = handling.find((r) => r[4] !== "no") || null;
  if (row) return { text: say("next.measure_one", { what: row[3], piece: pieceOf(row) }), label: say("next.enter"), action: "sizes",
    why: say("next.because", { about: row[1], trouble: row[2], touch: row[4], how: row[5] }) };
  return { text: say("next.is_done"), label: say("next.report"), action: "report" };
}

export function nextBar(project, known = {}) {
  const n = nextOf(project, known), place = el("p", { class: "next-why" });
  const doing = n.action === "import" ? known.importer || null
    : n.action === "none" ? null
    : n.action === "compute" ? el("button", { class: "main", id: "next-do", disabled: !mayWrite(), onclick: () => tell("compute") }, say("do.compute"))
    : el("a", { class: "lath main", id: "next-do", href: `/#${n.action}` }, el("span", {}, n.label));
  const why = n.why ? el("button", { class: "plain", "aria-expanded": "false", onclick: () => {
    const shown = place.firstChild;
    empty(place);
    if (!shown) place.append(n.why);
    why.setAttribute("aria-expanded", shown ? "false" : "true");
  } }, say("next.why")) : null;
  return el("aside", { class: "next", "aria-label": say("next.label") }, el("p", {}, el("b", {}, say("next.label")), " ", n.text), doing, why, place);
}
