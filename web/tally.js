// The tally: a stick split lengthwise, left half the found, right half the made. One notch a step;
// the notch is the state, and the word stands beside it. On a phone the stick lies down: the upper
// half is the found, the lower the made.
//
//   tally(steps, here)    steps of the project; `here` is the open step or null
//   openWords(n)          "nothing open", "1 question open", ...
import { el, svg } from "./dom.js";
import { say, knows } from "./words.js";

const W = 52, H = 44, MID = W / 2;

// not begun: a nick; can start: through the left half; holds: through both; in doubt: through both,
// but the right half no longer meets. [along the cut, across the stick, long]
const CUTS = {
  "not begun": [[0, 0, 8]],
  "can start": [[0, 0, MID - 1]],
  "holds": [[0, 0, MID], [MID, 0, MID]],
  "in doubt": [[0, 0, MID - 1], [MID + 1, 12, MID - 1]],
};

function standing(state) {
  return svg("svg", { class: "notch upright", viewBox: `0 0 ${W} ${H}`, "aria-hidden": "true" },
    svg("rect", { class: "stick", x: 0, y: 0, width: MID - 1, height: H }), svg("rect", { class: "stick", x: MID + 1, y: 0, width: MID - 1, height: H }),
    svg("path", { class: "stick-side", d: `M0.5 0V${H}M${MID - 1} 0V${H}M${MID + 1} 0V${H}M${W - 0.5} 0V${H}` }),
    (CUTS[state] || []).map(([x, drop, long]) => svg("rect", { class: "cut", x, y: 17 + drop, width: long, height: 10 })));
}

// The same lying down, 40 px a step.
function lying(state) {
  return svg("svg", { class: "notch lying", viewBox: `0 0 40 ${W}`, preserveAspectRatio: "none", "aria-hidden": "true" },
    svg("rect", { class: "stick", x: 0, y: 0, width: 40, height: MID - 1 }), svg("rect", { class: "stick", x: 0, y: MID + 1, width: 40, height: MID - 1 }),
    svg("path", { class: "stick-side", d: `M0 0.5H40M0 ${MID - 1}H40M0 ${MID + 1}H40M0 ${W - 0.5}H40` }),
    (CUTS[state] || []).map(([y, drop, long]) => svg("rect", { class: "cut", x: 12 + drop, y, width: 10, height: long })));
}

// Open questions: one peg each, from six on a peg and its figure.
function pegs(open) {
  if (!open) return null;
  const n = open >= 6 ? 1 : open;
  const s = svg("svg", { class: "pegs", viewBox: `0 0 ${n * 6 - 3} 12`, width: n * 6 - 3, height: 12, "aria-hidden": "true" });
  for (let i = 0; i < n; i++) s.append(svg("rect", { class: "peg", x: i * 6, y: 0, width: 3, height: 12 }));
  return el("span", { class: "open" }, s, open >= 6 ? el("span", { class: "figure" }, String(open)) : null);
}

export function openWords(n) {
  return n === 0 ? say("open.none") : n === 1 ? say("open.one") : say("open.many", { n });
}

export function tally(steps, here) {
  const told = steps.find((s) => s.step === here) || steps.find((s) => s.state === "in doubt") || steps.find((s) => s.state === "can start") || steps[steps.length - 1];
  return el("nav", { class: "tally-nav", "aria-label": say("tally.name") }, el("ol", { class: "tally" }, steps.map((s) => {
    const short = knows(`short.${s.step}`) ? say(`short.${s.step}`) : say(`step.${s.step}`);
    return el("li", { class: s.step === here ? "here" : null, "data-step": s.step },
      el("a", { href: `/#${s.step}`, "aria-current": s.step === here ? "step" : null },
        el("span", { class: "name" }, short), standing(s.state), lying(s.state),
        el("span", { class: "state" }, say(`state.${s.state}`), el("span", { class: "hidden" }, `, ${openWords(s.open)}`), pegs(s.open))));
  })), told ? el("p", { class: "tally-words" }, el("a", { href: `/#${told.step}` }, say(`step.${told.step}`)), `, ${say(`state.${told.state}`)}, ${openWords(told.open)}`) : null);
}
