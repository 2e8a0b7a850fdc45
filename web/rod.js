// Shares: one rod cut into lengths, each named. The cuts are exact; names that would lie on each
// other are moved apart and tied to their length by a hairline.
import { el, svg } from "./dom.js";
import { say } from "./words.js";

export function rod(shares, { rest = true } = {}) {
  const list = [...shares].filter((s) => s.share >= 0.5).sort((a, b) => b.share - a.share), sum = list.reduce((s, x) => s + x.share, 0);
  if (rest && sum < 99) list.push({ name: say("rod.rest"), share: 100 - sum, open: true });
  const total = Math.max(100, sum), H = Math.max(260, list.length * 30), W = 400, words = say("rod.words", { list: list.map((s) => `${s.name} ${Math.round(s.share)} %`).join(", ") });
  const root = svg("svg", { class: "ink", viewBox: `0 0 ${W} ${H + 12}`, role: "img", "aria-label": words, width: W, height: H + 12, style: "width:100%;max-width:480px;height:auto" });
  let y = 6;
  const places = list.map((s) => { const h = H * s.share / total, p = { ...s, y, h, at: y + h / 2 }; y += h; return p; });
  for (let i = 1; i < places.length; i++) places[i].at = Math.max(places[i].at, places[i - 1].at + 26);
  const over = places.length ? places[places.length - 1].at - (H - 6) : 0;
  if (over > 0) for (let i = places.length - 1, limit = H - 4; i >= 0; i--, limit -= 26) places[i].at = Math.min(places[i].at, limit);
  places.forEach((p) => {
    root.append(svg("path", { class: p.open ? "rod-open" : "rod-cut", d: `M6 ${p.y}H36V${p.y + p.h}H6Z` }));
    root.append(svg("path", { class: "hair", d: `M36 ${p.y + p.h / 2}L52 ${p.at}H58` }));
    const t = svg("text", { class: "label", x: 62, y: p.at + 5 });
    t.textContent = `${Math.round(p.share)} %  ${p.name}`;
    root.append(t);
  });
  return el("figure", { class: "board" }, root);
}
