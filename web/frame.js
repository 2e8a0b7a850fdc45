// The frame of a step: tally at the left, picture seven twelfths, reasoning five, what to do when
// the step is in doubt, and every statement of the step at the end.
import { el } from "./dom.js";
import { tell, mayWrite } from "./door.js";
import { say } from "./words.js";
import { tally, openWords } from "./tally.js";
import { told } from "./told.js";

// Where nothing has been brought in yet: what to do first, and the way there.
function first(project, name) {
  const found = project.steps.find((s) => s.step === "found");
  if (name === "found" || !found || found.state !== "not begun") return project.running === true ? el("p", {}, say("frame.coming")) : null;
  return el("p", {}, say("frame.first"), " ", el("a", { href: "/#found" }, say("next.open", { step: say("step.found") })));
}

export function frame(project, name, picture, reasons) {
  const state = project.steps.find((s) => s.step === name);
  return el("div", { class: "step" },
    tally(project.steps, name),
    el("section", { class: "leaf" }, el("h2", {}, say(`step.${name}`)),
      el("p", { class: "second" }, `${say(`state.${state.state}`)}, ${openWords(state.open)}`),
      state.state === "holds" ? null : first(project, name),
      state.rough ? told("doubt", say("frame.rough", { n: state.rough })) : null,
      state.blocked ? told("care", `${state.blocked.message} ${state.blocked.remedy}`) : null,
      (state.state === "in doubt" || state.state === "can start") && project.running !== true ? el("p", {}, el("button", { class: "main", disabled: !mayWrite(), onclick: () => tell("compute", { step: name }) }, say("do.compute"))) : null,
      picture),
    Array.isArray(reasons) && !reasons.length ? null : el("section", { class: "leaf reasons" }, reasons));
}

// A piece of the reasoning that is unrolled where it stands.
export function unroll(words, make) {
  const place = el("div"), button = el("button", { class: "plain", "aria-expanded": "false", onclick: () => {
    if (place.firstChild) place.replaceChildren();
    else place.append(make());
    button.setAttribute("aria-expanded", place.firstChild ? "true" : "false");
  } }, words);
  return el("div", { class: "unroll" }, el("p", {}, button), place);
}
