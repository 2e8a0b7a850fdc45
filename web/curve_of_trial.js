// One trial in time: what was foretold as a whipped band, what was measured as knots with their range.
import { say } from "./words.js";
import { board, band, put, text } from "./ink.js";

const round = (v) => Number(v.toPrecision(3));

export function trialCurve(a) {
  const days = a.series.map((s) => s.day), last = Math.max(1, ...days);
  const low = a.predicted === undefined ? NaN : a.predicted - (a.half || 0), high = a.predicted === undefined ? NaN : a.predicted + (a.half || 0);
  const values = a.series.flatMap((s) => [s.mean, s.low ?? s.mean, s.high ?? s.mean]).concat([low, high].filter(Number.isFinite), [0]);
  const top = Math.max(...values), foot = Math.min(...values), span = top - foot || 1;
  // The board has one scale for both ways: days are stretched to three fifths as high as wide.
  const wide = (d) => (d / last) * 100, tall = (v) => ((v - foot) / span) * 60;
  const words = say("trials.curve.words", { trial: a.id, low: Number.isFinite(low) ? round(low) : "?", high: Number.isFinite(high) ? round(high) : "?", unit: a.unit ? ` ${a.unit}` : "" });
  return board({ bounds: () => [-12, -8, 106, 64], words, tallest: 420 }, (pen) => {
    if (Number.isFinite(low) && high > low) {
      const at = (v) => [0, 25, 50, 75, 100].map((x) => [x, tall(v)]);
      band(pen, { low: at(low), high: at(high), likely: at(a.predicted), closed: false });
    }
    for (let i = 0; i <= 4; i++) {
      const d = Math.round((last * i) / 4), [x, y] = pen.at(wide(d), 0);
      put(pen, "path", { class: "tick", d: `M${x} ${y}v6` });
      text(pen, wide(d), 0, i === 4 ? `${d} ${say("trials.days")}` : String(d), { anchor: "middle", dy: 22 });
    }
    for (const v of [foot, (foot + top) / 2, top]) {
      const [x, y] = pen.at(0, tall(v));
      put(pen, "path", { class: "tick", d: `M${x} ${y}h-6` });
      text(pen, 0, tall(v), `${round(v)}`, { anchor: "end", dx: -10, dy: 5 });
    }
    for (const s of a.series) {
      const [x, y] = pen.at(wide(s.day), tall(s.mean));
      if (s.low !== undefined && s.high !== undefined) {
        const [, y1] = pen.at(0, tall(s.low)), [, y2] = pen.at(0, tall(s.high));
        put(pen, "path", { class: "knot-bar", d: `M${x} ${y1}V${y2}M${x - 5} ${y1}h10M${x - 5} ${y2}h10` });
      }
      put(pen, "circle", { class: "dot", cx: x, cy: y, r: 5 });
    }
  });
}
