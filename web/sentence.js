// A number is a sentence: what is said, figures and range, footing glyph and word, and `why?`,
// which unrolls where the number stands (why.js).
//
//   sentence(statement)        of /api/statements
//   footingMark("seen")        the glyph beside its word
//   spread(value)              twenty slivers, each 5 in 100, at their quantiles
import { el, svg } from "./dom.js";
import { say } from "./words.js";
import { glyph, withGlyph } from "./glyph.js";
import { told } from "./told.js";
import { whyButton } from "./why.js";

export { glyph };
export const footingMark = (footing) => withGlyph(footing, say(`footing.${footing}`));

// Quantile at p by the stored ones, straight between them.
function quantile(v, p) {
  const at = [[0.05, v.p05], [0.25, v.p25 ?? v.p05], [0.5, v.p50], [0.75, v.p75 ?? v.p95], [0.95, v.p95]], low = v.p005 ?? v.p05, high = v.p995 ?? v.p95;
  const all = [[0.005, low], ...at, [0.995, high]];
  for (let i = 1; i < all.length; i++)
    if (p <= all[i][0]) { const [a, x] = all[i - 1], [b, y] = all[i]; return x + (y - x) * Math.max(0, p - a) / (b - a); }
  return high;
}

// Twenty slivers, 3 px wide: the middle ten 34 high and ink, the rest 18 and bark. 200 px long.
export function spread(value) {
  if (!value || value.p05 === undefined || !(value.p95 > value.p05)) return null;
  const W = 200, low = quantile(value, 0.025), high = quantile(value, 0.975), g = svg("svg", { class: "spread", viewBox: `0 0 ${W} 34`, width: W, height: 34, "aria-hidden": "true" });
  for (let i = 0; i < 20; i++) {
    const middle = i >= 5 && i < 15, h = middle ? 34 : 18, x = (quantile(value, (i + 0.5) / 20) - low) / (high - low || 1) * (W - 3);
    g.append(svg("rect", { class: middle ? "sliver middle" : "sliver", x: Math.min(W - 3, Math.max(0, x)).toFixed(1), y: (34 - h) / 2, width: 3, height: h }));
  }
  return g;
}

export function sentence(s) {
  const why = whyButton(s.id), ends = s.state ? ` ${say("why.state", { state: s.state })}` : "";
  return el("div", { class: "sentence", id: `said-${s.id}` },
    el("p", {}, s.sentence, ends),
    el("p", {}, s.number ? el("span", { class: "number" }, s.number, " ") : null, s.footing ? footingMark(s.footing) : null, " ", why.button),
    s.caution ? told("care", s.caution) : null,
    s.doubt ? told("doubt", s.doubt) : null,
    why.place);
}
