// The glyphs of LOOK, 24 px box, 2 px lines, square ends. Each stands beside its word.
//
//   glyph("worked out")      footings: seen, worked out, from a parallel, guessed, modern need
//   glyph("outer")           faces: outer, inner, between layers; cork side, bast side
//   glyph("broken")          ends: whole, broken, torn, worn
//   glyph("supports")        verdicts: supports, does not support, cannot tell yet
//   withGlyph("guessed", "guessed")   the glyph and its word, kept on one line
import { el, svg } from "./dom.js";

const arc = (y) => `M-1 ${y}A25 25 0 0 1 25 ${y}`; // 26 wide, 7 high, bulging up
const bar = (y) => ({ d: `M6 ${y}h12`, "stroke-width": 3.5 });
const PATHS = {
  "seen": [{ d: "M3 12C6 6.7 18 6.7 21 12C18 17.3 6 17.3 3 12Z", fill: "currentColor", stroke: "none" }],
  // two strokes over two, plaited: each passes over the one and under the other, with a gap there
  "worked out": [{ d: "M2 8.5h10M17 8.5h5M2 15.5h3M10 15.5h12M8.5 2v4M8.5 11v11M15.5 2v11M15.5 18v4" }],
  "from a parallel": [{ d: "M2 18C2 18 13 19 13 10.5A4.5 5.5 0 0 0 4 10.5C4 12.5 5 14.4 6.6 16M9.4 17.6C13 18.4 20 18 22 18M10.6 14.4A4.5 5.5 0 0 1 20 10.5C20 15.5 16.4 16.6 14 17" }],
  "guessed": [{ d: "M6 12a6 6 0 1 0 12 0a6 6 0 1 0 -12 0" }],
  "modern need": [{ d: "M6 17.5V6.5h12v11", "stroke-width": 3 }],
  "outer": [{ d: arc(18) }, bar(6)],
  "inner": [{ d: arc(13) }, bar(19)],
  "between layers": [{ d: arc(12) }, bar(12.5), { d: arc(22) }],
  "cork side": [4.5, 12, 19.5].map((x) => ({ d: `M${x - 3} 12q3 -4 6 0q-3 4 -6 0z`, fill: "currentColor", stroke: "none" })),
  "bast side": [6, 12, 18].map((y) => ({ d: `M2 ${y}q2.5 -4 5 0t5 0t5 0t5 0` })),
  "whole": [{ d: "M2 12h14M16 5v14" }],
  "broken": [{ d: "M2 12h8M16 4l-6 2.7l6 2.6l-6 2.7l6 2.7l-6 2.6l6 2.7" }],
  "torn": [{ d: "M2 12h6M8 5h11M8 9.7h6M8 14.3h13M8 19h8M8 4v16" }],
  "worn": [{ d: "M2 12h8M10 5a7 7 0 0 1 0 14z" }],
  "supports": [{ d: "M8 3v18M16 3v18", "stroke-width": 3 }, { d: "M4 12a8 4 0 1 0 16 0a8 4 0 1 0 -16 0" }],
  "does not support": [{ d: "M7 3v18M14 3v8M19 13v8", "stroke-width": 3 }],
  "cannot tell yet": [{ d: "M7 3v18", "stroke-width": 3 }, { d: "M14 6V3h3M19 3h2v3M14 18v3h3M19 21h2v-3" }],
};

export function glyph(name) {
  const g = svg("svg", { class: "glyph", viewBox: "0 0 24 24", "aria-hidden": "true", fill: "none", stroke: "currentColor", "stroke-width": 2 });
  for (const p of PATHS[name] || []) g.append(svg("path", p));
  return g;
}
export const withGlyph = (name, word) => el("span", { class: "footing" }, glyph(name), " ", word);
