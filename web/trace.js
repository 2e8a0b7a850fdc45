// Tracing a piece on a photo or a film: first the scale, by a bar of known length or by four points
// whose places are known (which undoes the slant of the photo and the stretch of a film), then the
// edge, point by point: by mouse, by finger, or by typed coordinates. The program's own open methods
// (similarity, homography) turn pixels into millimetres. Kept as the outline of the piece.
//
//   #trace/A12      tracing the piece A12
//   #trace/photo-A12   only looking at a photo: its piece is asked for
import { el, empty, keepingFocus, svg } from "./dom.js";
import { alive, ask, tell, mayWrite } from "./door.js";
import { say } from "./words.js";
import { told, refused } from "./told.js";
import { inplace, parse, figures } from "./inplace.js";
import { photoAdder } from "./found_piece.js";
import { keep } from "./keep.js";

const held = new Map(); // what was put on each photo, so that leaving the screen loses nothing
const POINTING = 1; // px: how exactly a point is put

const fresh = () => ({ mode: "bar", by: "bar", bar: [], length: null, four: [], places: [[0, 0], [100, 0], [100, 100], [0, 100]], edge: [], survives: [], state: "", chosen: null });

export async function screen(project, [wanted = ""]) {
  const [kinds, pieces, outlines, sources, files] = await Promise.all([ask("kinds"), ...["piece", "outline", "source", "file"].map((kind) => ask("entries", { kind }))]);
  // a source names its file; the file is fetched by its id
  const kept = new Map(alive(files).flatMap((f) => [[f.id, f], [f.body.name, f]]).filter(([, f]) => /^image\/(jpeg|png|webp)$/.test(f.body.media)));
  const photos = alive(sources).filter((s) => s.body.file && kept.has(s.body.file)).map((s) => ({ ...s, image: kept.get(s.body.file).id })), own = alive(pieces);
  const asPhoto = photos.find((s) => s.id === wanted);
  const piece = own.find((p) => p.id === wanted) || (asPhoto && own.find((p) => (asPhoto.body.about || []).includes(p.id))) || own[0];
  const fits = (s) => (s.body.about || []).includes(piece && piece.id);
  const photo = asPhoto || photos.find(fits) || photos[0];
  const pick = (id, label, list, now, name, change) => el("div", { class: "field" }, el("label", { for: id }, label), el("span", { class: "rule" }, el("select", { id, onchange: (e) => change(e.target.value) }, list.map((x) => el("option", { value: x.id, selected: x === now }, name(x))))));
  const box = el("div", { class: "trace" }), left = el("section", { class: "leaf" }), right = el("section", { class: "leaf reasons" });
  box.append(left, right);
  if (!piece || !photo) {
    left.append(el("h2", {}, say("trace.title", { piece: piece ? piece.id : "" })), el("p", {}, say("trace.none")), photoAdder({}));
    right.append(el("p", {}, el("a", { href: "/#found" }, say("step.found"))));
    return box;
  }
  const open = (p, ph) => {
    empty(left);
    empty(right);
    left.append(el("h2", {}, say("trace.title", { piece: p.id })),
      pick("trace-piece", say("found.piece"), own, p, (x) => `${x.id}${x.body.part ? `, ${x.body.part}` : ""}`, (id) => { location.hash = `trace/${encodeURIComponent(id)}`; }),
      pick("trace-photo", say("trace.photo"), photos, ph, (x) => (x.body.bar_length ? say("found.photo_open", { title: x.body.title || x.id, bar: x.body.bar_length }) : x.body.title || x.id), (id) => keepingFocus(() => open(p, photos.find((x) => x.id === id)))));
    bench(left, right, { piece: p, photo: ph, kinds, outline: alive(outlines).find((o) => o.body.piece === p.id) });
  };
  open(piece, photo);
  return box;
}

function bench(left, right, { piece, photo, kinds, outline }) {
  const key = `${photo.id} ${piece.id}`;
  if (!held.has(key)) held.set(key, { ...fresh(), length: photo.body.bar_length || null, state: (outline && outline.body.state) || "" });
  const t = held.get(key), image = el("img", { src: `/api/file?id=${encodeURIComponent(photo.image)}`, alt: photo.body.title || photo.id }), over = svg("svg", { role: "group" }), top = el("div", { class: "table-top" }, image, over);
  const told_ = el("p", { class: "second", "aria-live": "polite" });
  left.append(told_, top);
  let unit = 1, made = null; // px of the photo to one of the screen; the outline in mm
  image.onload = () => {
    over.setAttribute("viewBox", `0 0 ${image.naturalWidth} ${image.naturalHeight}`);
    over.setAttribute("aria-label", say("trace.picture", { w: image.naturalWidth, h: image.naturalHeight }));
    new ResizeObserver(draw).observe(image);
    draw();
    talk();
    work();
  };
  image.onerror = () => left.append(told("not", say("trace.none")));

  const list = () => t.mode === "bar" ? t.bar : t.mode === "four" ? t.four : t.edge;
  const most = () => t.mode === "bar" ? 2 : t.mode === "four" ? 4 : 2000;
  const name = (mode, i) => say(mode === "bar" ? "trace.bar_end" : mode === "four" ? "trace.control" : "trace.point", { n: i + 1 });
  const inside = ([x, y]) => [Math.min(image.naturalWidth, Math.max(0, x)), Math.min(image.naturalHeight, Math.max(0, y))];
  function add(p) {
    if (list().length >= most()) { if (t.mode === "edge") return; list().pop(); }
    list().push(inside(p));
    if (t.mode === "edge") t.survives.push(0);
    // the scale is set: what is put next belongs to the edge
    if (t.mode === "bar" && t.bar.length === 2 && t.length > 0 || t.mode === "four" && t.four.length === 4) t.mode = "edge";
    changed();
  }
  function changed() { draw(); talk(); work(); }
  over.addEventListener("click", (e) => {
    if (e.target.closest(".point") || !mayWrite()) return;
    const r = over.getBoundingClientRect();
    add([(e.clientX - r.left) * image.naturalWidth / r.width, (e.clientY - r.top) * image.naturalHeight / r.height]);
  });

  function draw() {
    if (!image.naturalWidth || !image.clientWidth) return;
    unit = image.naturalWidth / image.clientWidth;
    const focused = document.activeElement && document.activeElement.getAttribute && document.activeElement.getAttribute("data-point");
    empty(over);
    const d = (p, shut) => "M" + p.map((v) => v.map((n) => n.toFixed(2)).join(" ")).join("L") + (shut ? "Z" : "");
    const draws = (p, kind, shut) => { if (p.length > 1) over.append(svg("path", { class: "clear", d: d(p, shut) }), svg("path", { class: kind, d: d(p, shut) })); };
    if (t.by === "bar") draws(t.bar, "bar", false);
    else draws(t.four, "bar", t.four.length > 2);
    draws(t.edge, "edge", t.edge.length > 2);
    t.edge.forEach((p, i) => { if (t.survives[i]) over.append(svg("path", { class: "edge kept", d: d([p, t.edge[(i + 1) % t.edge.length]], false) })); });
    (t.by === "bar" ? t.bar : t.four).forEach((p, i) => over.append(point(t.by, p, i)));
    t.edge.forEach((p, i) => over.append(point("edge", p, i)));
    if (focused) over.querySelector(`[data-point="${focused}"]`)?.focus({ preventScroll: true });
  }
  function point(mode, p, i) {
    const g = svg("g", { class: mode === "edge" ? "point" : "point control", tabindex: 0, role: "button", "data-point": `${mode}-${i}`, "aria-label": `${name(mode, i)}: ${p.map((v) => Math.round(v)).join(", ")} px`, transform: `translate(${p[0]} ${p[1]})`, style: "touch-action:none" },
      svg("circle", { class: "halo", r: Math.min(22, mode === "edge" && t.edge.length > 24 ? 10 : 22) * unit }), svg("circle", { class: "dot", r: 5 * unit }));
    const label = svg("text", { x: 9 * unit, y: -9 * unit, "font-size": 14 * unit, style: `stroke-width:${4 * unit}px` }, mode === "edge" ? (i % 5 === 0 ? String(i + 1) : "") : String(i + 1));
    g.append(label);
    const target = () => mode === "bar" ? t.bar : mode === "four" ? t.four : t.edge;
    const move = (to) => { target()[i] = inside(to); g.setAttribute("transform", `translate(${target()[i][0]} ${target()[i][1]})`); };
    g.addEventListener("pointerdown", (e) => {
      if (!mayWrite()) return;
      e.preventDefault();
      g.focus({ preventScroll: true });
      g.setPointerCapture(e.pointerId);
      const r = over.getBoundingClientRect();
      g.onpointermove = (m) => move([(m.clientX - r.left) * image.naturalWidth / r.width, (m.clientY - r.top) * image.naturalHeight / r.height]);
      g.onpointerup = g.onpointercancel = () => { g.onpointermove = null; changed(); };
    });
    g.addEventListener("keydown", (e) => {
      const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key], times = e.shiftKey ? 10 : 1;
      if (by) { e.preventDefault(); move([target()[i][0] + by[0] * times, target()[i][1] + by[1] * times]); changed(); }
      else if (e.key === "Delete" || e.key === "Backspace") { e.preventDefault(); target().splice(i, 1); if (mode === "edge") t.survives.splice(i, 1); changed(); }
    });
    return g;
  }

  // ---- millimetres, by the program's own methods ----
  let asked = 0;
  const result = el("div", { "aria-live": "polite" });
  async function work() {
    const turn = ++asked;
    made = null;
    try {
      const scale = await millimetres();
      if (turn !== asked) return;
      empty(result);
      if (scale.words) result.append(el("p", {}, scale.words));
      if (scale.points && scale.points.length > 2) {
        const [x1, x2, y1, y2] = [Math.min(...scale.points.map((p) => p[0])), Math.max(...scale.points.map((p) => p[0])), Math.min(...scale.points.map((p) => p[1])), Math.max(...scale.points.map((p) => p[1]))];
        made = scale.points.map(([x, y]) => [Math.round((x - (x1 + x2) / 2) * 100) / 100, Math.round((y - (y1 + y2) / 2) * 100) / 100]);
        result.append(el("p", {}, el("span", { class: "number" }, say("trace.result", { w: figures(x2 - x1), h: figures(y2 - y1), n: made.length })), scale.u ? ` ${say("trace.misfit", { u: figures(scale.u, scale.u < 1 ? 2 : 1) })}` : ""));
        if (scale.outside && scale.outside.length) result.append(told("care", say("trace.outside", { list: scale.outside.join(", ") })));
      } else result.append(el("p", { class: "second" }, say(scale.ready ? "trace.needs_points" : "trace.needs_scale")));
    } catch (e) {
      if (turn === asked) empty(result).append(refused(e));
    }
  }
  async function millimetres() {
    if (t.by === "bar") {
      if (t.bar.length < 2 || !(t.length > 0)) return { ready: false };
      const { scale } = await tell("calc", { method: "similarity", in: { from: t.bar.map(([x, y]) => [x, -y]), to: [[0, 0], [t.length, 0]] } });
      const px = Math.hypot(t.bar[1][0] - t.bar[0][0], t.bar[1][1] - t.bar[0][1]), far = Math.max(0, ...t.edge.map((p) => Math.hypot(p[0] - t.edge[0][0], p[1] - t.edge[0][1])));
      // both ends of the bar and both ends of the length pointed at, 5 to 95 %
      const u = 1.645 * scale * Math.SQRT2 * POINTING * Math.hypot(1, far / px);
      return { ready: true, words: say("trace.one_px", { mm: scale.toPrecision(4) }), points: t.edge.map(([x, y]) => [x * scale, -y * scale]), u: t.edge.length > 2 ? u : 0 };
    }
    if (t.four.length < 4) return { ready: false };
    const out = await tell("calc", { method: "homography", in: { plane: t.places, image: t.four, pointing: POINTING, ...(t.edge.length ? { measure: t.edge } : {}) } });
    return { ready: true, points: out.measured || [], u: out.measured_u && out.measured_u.length ? 1.645 * Math.max(...out.measured_u) : 0, outside: out.outside };
  }

  // ---- the words beside it, in three steps ----
  function xy(id, label, p, set) {
    const one = (k, word) => inplace({ id: `${id}-${k}`, label: `${label}, ${word}`, value: p[k], unit: "", step: 1, places: 1, min: -1e5, max: 1e5, disabled: !mayWrite(), change: (v, settled) => { p[k] = v; set(settled); } });
    return [say("trace.x"), " ", one(0, say("trace.x")), " ", say("trace.y_down"), " ", one(1, say("trace.y_down"))];
  }
  const modeButton = (mode, words) => el("button", { type: "button", id: `mode-${mode}`, class: t.mode === mode ? "main" : null, "aria-pressed": t.mode === mode, disabled: !mayWrite(), onclick: () => { t.mode = mode; if (mode !== "edge") t.by = mode; changed(); } }, words);
  function talk() {
    const focused = document.activeElement && right.contains(document.activeElement) ? document.activeElement.id : null;
    told_.textContent = say(t.mode === "bar" ? "trace.now_bar" : t.mode === "four" ? "trace.now_four" : "trace.now_edge");
    empty(right);
    const first = el("section", {}, el("h3", {}, say("trace.step_scale")), el("p", { class: "choose" }, modeButton("bar", say("trace.by_bar")), modeButton("four", say("trace.by_four"))));
    if (t.by === "bar") first.append(el("p", { class: "number" }, say("trace.how_long")), el("p", {}, say("trace.bar_how")),
      el("p", { class: "talk" }, say("trace.bar_length"), " ", inplace({ id: "bar-length", label: say("trace.bar_length"), value: t.length || 0, unit: "mm", step: 1, places: 1, min: 0.1, max: 1e4, disabled: !mayWrite(), change: (v) => { t.length = v; if (t.bar.length === 2) t.mode = "edge"; work(); } })),
      el("ul", { class: "coordinates" }, t.bar.map((p, i) => el("li", {}, `${name("bar", i)}: `, xy(`bar-${i}`, name("bar", i), p, () => { draw(); work(); })))));
    else first.append(el("p", {}, say("trace.four_how")), el("ul", { class: "coordinates" }, t.places.map((place, i) => {
      const mm = (k, word) => inplace({ id: `place-${i}-${k}`, label: `${name("four", i)}, ${word}`, value: place[k], unit: "mm", step: 1, places: 1, min: -1e5, max: 1e5, disabled: !mayWrite(), change: (v) => { place[k] = v; work(); } });
      return el("li", {}, `${name("four", i)}: ${say("trace.mm_right")} `, mm(0, say("trace.mm_right")), ` ${say("trace.mm_up")} `, mm(1, say("trace.mm_up")), t.four[i] ? el("small", {}, ` ${t.four[i].map((v) => Math.round(v)).join(", ")} px`) : null);
    })));
    const typed = typing();
    const second = el("section", { class: "trace-step" }, el("h3", {}, say("trace.step_edge")), el("p", { class: "choose" }, modeButton("edge", say("trace.do_edge"))), el("p", {}, say("trace.put")), typed,
      t.edge.length ? el("p", { class: "choose" }, el("button", { type: "button", onclick: () => { t.edge.pop(); t.survives.pop(); changed(); } }, say("trace.drop_last")), el("button", { type: "button", class: "plain", onclick: () => { t.edge.length = t.survives.length = 0; changed(); } }, say("trace.start_again"))) : null,
      t.edge.length ? el("ul", { class: "coordinates", tabindex: "0", "aria-label": say("trace.points") }, t.edge.map((p, i) => el("li", {}, `${i + 1}: `, xy(`edge-${i}`, name("edge", i), p, () => { draw(); work(); }),
        el("label", { class: "survives" }, el("input", { type: "checkbox", id: `survives-${i}`, checked: t.survives[i] === 1, onchange: (e) => { t.survives[i] = e.target.checked ? 1 : 0; draw(); } }), say("trace.survives")),
        el("button", { type: "button", class: "plain", "aria-label": `${say("trace.remove")}: ${i + 1}`, onclick: () => { t.edge.splice(i, 1); t.survives.splice(i, 1); changed(); } }, say("trace.remove"))))) : null);
    const states = kinds.outline.fields.find((f) => f.name === "state").choices, error = el("div"), why = el("input", { id: "trace-why", autocomplete: "off" });
    const third = el("section", { class: "trace-step" }, el("h3", {}, say("trace.step_keep")), result,
      mayWrite() ? [el("div", { class: "field" }, el("label", { for: "trace-state" }, say("trace.state")), el("span", { class: "rule" }, el("select", { id: "trace-state", onchange: (e) => { t.state = e.target.value; } }, el("option", { value: "" }, say("field.unknown")), states.map((s) => el("option", { value: s, selected: s === t.state }, s))))),
        el("div", { class: "field" }, el("label", { for: "trace-why" }, say("found.why")), el("span", { class: "rule" }, why)), error,
        el("button", { type: "button", class: "main", id: "trace-keep", onclick: async () => {
          empty(error);
          if (!made) { error.append(told("not", say(t.edge.length < 3 ? "trace.needs_points" : "trace.needs_scale"))); return; }
          const body = { id: outline ? outline.id : `${piece.id}.outline`, piece: piece.id, frame: "own", points: made, surviving: t.survives.slice(0, made.length), source: photo.id, corrected: t.by === "four" };
          if (t.state) body.state = t.state;
          if (await keep({ kind: "outline", id: body.id, body, expected: outline ? outline.revision : 0, why: why.value }, error)) { held.delete(key); location.hash = `found/${encodeURIComponent(piece.id)}`; }
        } }, say("trace.save"))] : null);
    right.append(first, second, third, el("p", {}, el("a", { href: `/#found/${encodeURIComponent(piece.id)}` }, say("why.open_piece"))));
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  }
  // A point typed in pixels of the photo, for whichever is being put.
  function typing() {
    if (!mayWrite()) return null;
    const x = el("input", { id: "typed-x", inputmode: "decimal", autocomplete: "off" }), y = el("input", { id: "typed-y", inputmode: "decimal", autocomplete: "off" }), error = el("div");
    return el("form", { class: "typed", novalidate: true, onsubmit: (e) => {
      e.preventDefault();
      const p = [parse(x.value), parse(y.value)], bad = [x, y].find((n, i) => !Number.isFinite(p[i]) || n.value.trim() === "");
      empty(error);
      if (bad) { error.append(told("not", say("inplace.number", { text: bad.value }))); bad.focus(); return; }
      add(p);
      document.getElementById("typed-x")?.focus();
    } }, el("p", { class: "talk" }, say("trace.typed"), ": ", el("label", { for: "typed-x" }, say("trace.x")), " ", el("span", { class: "inplace" }, el("span", { class: "rule" }, x)), " ", el("label", { for: "typed-y" }, say("trace.y_down")), " ", el("span", { class: "inplace" }, el("span", { class: "rule" }, y)), ` ${say("trace.px")} `, el("button", {}, say("trace.add_typed"))), error);
  }
}
