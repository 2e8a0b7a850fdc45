// A step: the picture and, beside it, the reasoning as sentences with `why?`.
import { el } from "./dom.js";
import { ask, tell, mayWrite } from "./door.js";
import { say } from "./words.js";
import { tally, openWords } from "./tally.js";
import { sentence } from "./sentence.js";
import { told } from "./told.js";
import { picture } from "./picture.js";
import { table } from "./tables.js";

const AT_FIRST = 12;

// Statements about the object and its parts come before those about single pieces.
function order(statements) {
  const single = (s) => (s.about || "").startsWith("piece") ? 1 : 0;
  return statements.map((s, i) => [single(s), i, s]).sort((a, b) => a[0] - b[0] || a[1] - b[1]).map((x) => x[2]);
}

function reasons(statements) {
  const sorted = order(statements), box = el("div");
  for (const s of sorted.slice(0, AT_FIRST)) box.append(sentence(s));
  if (sorted.length > AT_FIRST) {
    const more = el("button", { onclick: () => {
      for (const s of sorted.slice(AT_FIRST)) box.append(sentence(s));
      more.remove();
    } }, say("do.more", { n: sorted.length }));
    box.append(more);
  }
  return box;
}

export async function step(project, name) {
  const state = project.steps.find((s) => s.step === name);
  if (!state) return el("div", { class: "leaf" }, told("not", say("step.nothing")));
  const [drawing, statements, stored] = await Promise.all([
    picture(name), ask("statements"), ask("result", { step: name }).catch(() => null)]);
  const own = statements.filter((s) => s.step === name);
  const tables = Object.values((stored && stored.result && stored.result.tables) || {});
  return el("div", { class: "step" },
    tally(project.steps, name),
    el("section", { class: "leaf" }, el("h2", {}, say(`step.${name}`)),
      el("p", { class: "second" }, `${say(`state.${state.state}`)}, ${openWords(state.open)}`),
      state.blocked ? told("care", `${state.blocked.message} ${state.blocked.remedy}`) : null,
      state.state === "in doubt" ? el("p", {}, el("button", { class: "main", disabled: !mayWrite(), onclick: () => tell("compute", { step: name }) }, say("do.compute"))) : null,
      drawing, tables.map(table)),
    el("section", { class: "leaf reasons" }, el("h2", {}, say("step.statements")),
      own.length ? reasons(own) : el("p", {}, say("step.nothing"))));
}
