// An answer against one thing (a day, a thickness): a whipped band with a knot wherever it was worked
// out. Ticks only.
import { board, band, likelyEdge, put, text } from "./ink.js";
import { ticks } from "./spreads.js";
import { rangeOf } from "./section.js";

export const short = (v, places) => (places === undefined ? String(+v.toPrecision(3)) : String(+v.toFixed(places))).replace("-", "−");

// points: [[x, [p05, p50, p95]]]. words: called with a way of writing answers that has as many places as
// the widest of them needs for two figures of its range; unit: of x.
export function knots(points, { high, unit, words }) {
  const [x1, x2] = rangeOf(points.map((p) => p[0])), [y1, y2] = rangeOf(points.flatMap((p) => [p[1][0], p[1][2]]).concat(0));
  const places = Math.min(6, Math.max(0, 1 - Math.floor(Math.log10(y2 - y1 || 1)))), figure = (v) => short(v, places);
  return board({ words: words(figure), bounds: () => [0, 0, 1, 1], tallest: 1e6 }, (pen) => {
    const side = 64;
    pen.height = high;
    pen.k = (high - 60) / (y2 - y1 || 1);
    pen.at = (x, y) => [side + (x - x1) * (pen.width - 2 * side) / (x2 - x1 || 1), 16 + (y2 - y) * pen.k];
    pen.root.setAttribute("viewBox", `0 0 ${pen.width} ${high}`);
    pen.root.setAttribute("height", high);
    const edge = (k) => points.map(([x, q]) => [x, q[k]]);
    band(pen, { low: edge(0), likely: edge(1), high: edge(2), closed: false });
    likelyEdge(pen, edge(1), { closed: false });
    for (const [x, q] of points) { const [X, Y] = pen.at(x, q[1]); put(pen, "circle", { class: "dot", cx: X.toFixed(1), cy: Y.toFixed(1), r: 3 }); }
    ticks(pen, x1, x2, high - 40, unit);
    // nought is named where its figure finds room between the ends
    for (const y of y1 < 0 && y2 > 0 ? [y1, 0, y2].filter((v) => v || Math.min(-y1, y2) * pen.k > 16) : [y1, y2]) {
      const [X, Y] = pen.at(x1, y);
      put(pen, "path", { class: "tick", d: `M${X - 10} ${Y.toFixed(1)}h6` });
      text(pen, x1, y, figure(y), { anchor: "end", dx: -14, dy: 5, kind: "label second" });
    }
  });
}
