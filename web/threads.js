// Threads between a mark or a piece and what it became: at rest bast hairlines, touched alder cord
// with leaf on both sides, hanging. Each leaves a knot, goes through the notch of the step that made
// the link, and ends at its part in the footing's glyph. One layer lies over everything in `box`.
//
//   const threads = threadLayer(box);
//   threads.show([{from, through, to, touched, footing, number}])   elements of the page; to may be null
import { el, svg, empty } from "./dom.js";
import { glyph } from "./glyph.js";

const SAG = 0.08;

const middle = (node, box) => {
  const a = node.getBoundingClientRect(), b = box.getBoundingClientRect();
  return [a.left + a.width / 2 - b.left, a.top + a.height / 2 - b.top];
};
// Where a thread ends on its part: in its middle, or at the near edge of one that runs all round.
const endOn = (node, box, i) => {
  const a = node.getBoundingClientRect(), b = box.getBoundingClientRect(), whole = node.closest("svg").getBoundingClientRect().width;
  return a.width > 0.6 * whole ? [a.left + 14 - b.left, a.top + a.height / 2 + ((i % 7) - 3) * 26 - b.top] : middle(node, box);
};
const hang = ([x1, y1], [x2, y2]) => {
  const sag = 2 * SAG * Math.hypot(x2 - x1, y2 - y1);
  return `Q${((x1 + x2) / 2).toFixed(1)} ${((y1 + y2) / 2 + sag).toFixed(1)} ${x2.toFixed(1)} ${y2.toFixed(1)}`;
};

export function threadLayer(box) {
  const layer = svg("svg", { class: "threads", "aria-hidden": "true" });
  box.append(layer);
  let now = [];
  function draw() {
    empty(layer);
    const w = box.clientWidth, h = box.clientHeight;
    layer.setAttribute("viewBox", `0 0 ${w} ${h}`);
    layer.setAttribute("width", w);
    layer.setAttribute("height", h);
    for (const [i, t] of now.entries()) {
      const seen = (n) => n && n.isConnected && n.getClientRects().length > 0;
      if (!seen(t.from)) continue;
      const a = middle(t.from, box), c = seen(t.to) ? endOn(t.to, box, i) : null;
      let d = `M${a[0].toFixed(1)} ${a[1].toFixed(1)}`;
      if (seen(t.through) && c) { const b = middle(t.through, box); d += hang(a, b) + hang(b, c); }
      else d += hang(a, c || [w - 4, a[1]]);
      if (t.touched) layer.append(svg("path", { class: "thread-clear", d }));
      layer.append(svg("path", { class: t.touched ? "thread-touched" : "thread-rest", d }));
      if (t.touched) {
        layer.append(svg("circle", { class: "knot", cx: a[0], cy: a[1], r: 5 }));
        if (c) {
          layer.append(svg("rect", { class: "thread-ground", x: c[0] - 14, y: c[1] - 14, width: 28, height: 28 }));
          const g = glyph(t.footing);
          for (const [k, v] of Object.entries({ x: c[0] - 12, y: c[1] - 12, width: 24, height: 24 })) g.setAttribute(k, v);
          layer.append(g);
        } else if (t.number) layer.append(svg("text", { class: "thread-number", x: w - 8, y: a[1] - 8, "text-anchor": "end" }, t.number));
      }
    }
  }
  new ResizeObserver(draw).observe(box);
  return { show(list) { now = list; draw(); }, draw };
}
