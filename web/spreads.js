// One number's spread on an axis: twenty slivers, each 5 in 100, where their quantiles lie; what was
// measured as a knot with its ±. Ticks only, no frame, no grid.
import { put } from "./ink.js";

// Quantile at p by the seven stored ones, straight between them.
export function quantile(v, p) {
  const at = [[0.005, v.p005 ?? v.p05], [0.05, v.p05], [0.25, v.p25], [0.5, v.p50], [0.75, v.p75], [0.95, v.p95], [0.995, v.p995 ?? v.p95]];
  for (let i = 1; i < at.length; i++)
    if (p <= at[i][0]) { const [[a, x], [b, y]] = [at[i - 1], at[i]]; return x + (y - x) * Math.max(0, p - a) / (b - a); }
  return at[6][1];
}

export function slivers(pen, value, y) {
  const g = put(pen, "g", { class: "slivers" });
  for (let i = 0; i < 20; i++) {
    const [X] = pen.at(quantile(value, (i + 0.5) / 20), 0), middle = i >= 5 && i < 15, h = middle ? 34 : 18;
    put(pen, "rect", { class: middle ? "sliver middle" : "sliver", x: (X - 1.5).toFixed(1), y: y - h / 2, width: 3, height: h }, g);
  }
  return g;
}

export function knot(pen, value, plusMinus, y) {
  const [X] = pen.at(value, 0);
  if (plusMinus) {
    const [a] = pen.at(value - plusMinus, 0), [b] = pen.at(value + plusMinus, 0);
    put(pen, "path", { class: "knot-bar", d: `M${a.toFixed(1)} ${y}H${b.toFixed(1)}M${a.toFixed(1)} ${y - 4}v8M${b.toFixed(1)} ${y - 4}v8` });
  }
  put(pen, "circle", { class: "dot", cx: X.toFixed(1), cy: y, r: 5 });
}

// A range at its place: 5 % to 95 % a hairline, the middle half heavier, the middle a cut.
export function range(pen, v, y) {
  const x = (q) => pen.at(q, 0)[0].toFixed(1);
  put(pen, "path", { class: "range-hair", d: `M${x(v.p05)} ${y}H${x(v.p95)}` });
  put(pen, "path", { class: "range-half", d: `M${x(v.p25)} ${y}H${x(v.p75)}` });
  put(pen, "path", { class: "range-cut", d: `M${x(v.p50)} ${y - 6}v12` });
}

// Ticks at round places.
export function ticks(pen, low, high, y, unit) {
  const raw = (high - low) / 6, ten = 10 ** Math.floor(Math.log10(raw)), step = [1, 2, 5, 10].map((f) => f * ten).find((s) => s >= raw);
  let d = "";
  for (let v = Math.ceil(low / step) * step; v <= high + 1e-9; v += step) {
    const [X] = pen.at(v, 0);
    d += `M${X.toFixed(1)} ${y}v6`;
    const t = put(pen, "text", { class: "label second", x: X.toFixed(1), y: y + 22, "text-anchor": "middle" });
    t.textContent = `${step < 1 ? v.toFixed(Math.ceil(-Math.log10(step))) : Math.round(v)}`;
  }
  put(pen, "path", { class: "tick", d });
  const end = put(pen, "text", { class: "label second", x: pen.width - 4, y: y + 22, "text-anchor": "end" });
  end.textContent = unit;
}
