// The tally: a stick split lengthwise, left half the found, right half the made. One notch a step;
// the notch is the state, and the word stands beside it.
import { el, svg } from "./dom.js";
import { say, knows } from "./words.js";

const W = 52, H = 44, MID = W / 2;

// not begun: a nick; can start: through the left half; holds: through both; in doubt: through both,
// but the right half no longer meets.
function notch(state) {
  const stick = [
    svg("rect", { class: "stick", x: 0, y: 0, width: MID - 1, height: H }),
    svg("rect", { class: "stick", x: MID + 1, y: 0, width: MID - 1, height: H }),
  ];
  const y = 17, cuts = {
    "not begun": [[0, y, 8]],
    "can start": [[0, y, MID - 1]],
    "holds": [[0, y, W]],
    "in doubt": [[0, y, MID - 1], [MID + 1, y + 12, MID - 1]],
  }[state] || [];
  return svg("svg", { viewBox: `0 0 ${W} ${H}`, "aria-hidden": "true" }, stick,
    cuts.map(([x, top, width]) => svg("rect", { class: "cut", x, y: top, width, height: 10 })));
}

// Open questions: one peg each, from six on a figure.
function pegs(open) {
  if (!open) return null;
  if (open >= 6) return el("span", { class: "figure" }, ` ${open}`);
  const s = svg("svg", { viewBox: `0 0 ${open * 6} 12`, width: open * 6, height: 12, "aria-hidden": "true", style: `width:${open * 6}px;height:12px;display:inline` });
  for (let i = 0; i < open; i++) s.append(svg("rect", { class: "peg", x: i * 6, y: 0, width: 3, height: 12 }));
  return s;
}

export function openWords(n) {
  return n === 0 ? say("open.none") : n === 1 ? say("open.one") : say("open.many", { n });
}

export function tally(steps, here) {
  return el("nav", { "aria-label": "steps" }, el("ol", { class: "tally" }, steps.map((s) => {
    const short = knows(`short.${s.step}`) ? say(`short.${s.step}`) : say(`step.${s.step}`);
    return el("li", { class: s.step === here ? "here" : null },
      el("a", { href: `/#${s.step}`, "aria-current": s.step === here ? "step" : null,
        title: `${say(`step.${s.step}`)}: ${say(`state.${s.state}`)}, ${openWords(s.open)}` },
        el("span", {}, short), notch(s.state),
        el("span", {}, say(`state.${s.state}`), pegs(s.open))));
  })));
}
