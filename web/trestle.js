// Home: two leaves at one scale, the tally between, one next sentence below. Nothing else.
import { el } from "./dom.js";
import { tell, mayWrite } from "./door.js";
import { say } from "./words.js";
import { tally } from "./tally.js";
import { picture } from "./picture.js";
import { importer } from "./importer.js";

// The one next thing, from the states of the steps.
export function next(steps) {
  const first = steps[0];
  if (!first || first.state === "not begun") return { text: say("next.import"), action: "import" };
  const stale = steps.find((s) => s.state === "in doubt" || (s.state === "can start" && !s.blocked));
  if (stale) return { text: say("next.compute"), action: "compute" };
  const blocked = steps.find((s) => s.blocked);
  if (blocked) return { text: say("next.blocked", { step: say(`step.${blocked.step}`), message: `${blocked.blocked.message} ${blocked.blocked.remedy}` }), action: blocked.step };
  return { text: say("next.done"), action: "report" };
}

export function nextBar(steps) {
  const n = next(steps);
  const doing = n.action === "import" ? importer()
    : n.action === "compute" ? el("button", { class: "main", disabled: !mayWrite(), onclick: () => tell("compute") }, say("do.compute"))
    : el("a", { href: `/#${n.action}` }, say(`step.${n.action}`));
  return el("div", { class: "next" }, el("p", {}, n.text), doing);
}

export async function trestle(project) {
  const [asFound, asMade] = await Promise.all([picture("found"), picture("proposed")]);
  const box = el("div", { class: "trestle" });
  const turn = () => el("button", { class: "turn", onclick: () => box.classList.toggle("turned") }, say("home.turn"));
  box.append(
    el("section", { class: "leaf found" }, el("h2", {}, say("home.found")), asFound, turn()),
    tally(project.steps, null),
    el("section", { class: "leaf made" }, el("h2", {}, say("home.made")), asMade, turn()));
  return el("div", {}, box, nextBar(project.steps));
}
