// One number against another as the strength step swept it: a line with its points, ticks only.
import { el } from "./dom.js";
import { say } from "./words.js";
import { board, put, line, text } from "./ink.js";
import { ticks } from "./spreads.js";
import { rangeOf } from "./section.js";

// result.sweeps: [{title, x: {name, unit}, y: {name, unit}, points: [[x, y], ...]}] where there are any.
export function curves(result) {
  return (result.sweeps || []).filter((s) => (s.points || []).length > 1).map(one);
}

function one(s) {
  const [x1, x2] = rangeOf(s.points.map((p) => p[0])), [y1, y2] = rangeOf([0, ...s.points.map((p) => p[1])]);
  const words = say("sweep.words", { title: s.title, x: s.x.name, y: s.y.name, list: s.points.map(([x, y]) => `${+x.toPrecision(3)} ${s.x.unit}: ${+y.toPrecision(3)} ${s.y.unit}`).join("; ") });
  return el("section", {}, el("h3", {}, s.title), board({ words, bounds: () => [x1, 0, x2, 1], tallest: 1e6, border: 40 }, (pen) => {
    const H = 200, left = 60, k = (pen.width - left - 40) / (x2 - x1 || 1), tall = (H - 50) / (y2 - y1 || 1);
    pen.at = (x, y) => [left + (x - x1) * k, H - 30 - (y - y1) * tall];
    pen.root.setAttribute("viewBox", `0 0 ${pen.width} ${H}`);
    pen.root.setAttribute("height", H);
    line(pen, s.points, "edge-likely");
    for (const p of s.points) { const [X, Y] = pen.at(...p); put(pen, "circle", { class: "dot", cx: X, cy: Y, r: 3 }); }
    ticks(pen, x1, x2, H - 28, s.x.unit);
    for (const y of [y1, y2]) { const [, Y] = pen.at(x1, y); put(pen, "path", { class: "tick", d: `M${left - 6} ${Y}h6` }); text(pen, x1, y, (+y.toPrecision(3)).toString(), { anchor: "end", dx: -10, dy: 5, kind: "label second" }); }
    text(pen, x1, y2, s.y.unit, { dx: 6, dy: -8, kind: "label second" });
  }));
}
