// The form in space: matte, on paper, one soft light, a 100 mm stick and the grain sign. It is
// fetched only when it is shown. Where three is absent the drawn sections beside it stand alone and
// a sentence says so. It moves only when somebody turns it: by drag, by the arrow keys, by number.
import { el } from "./dom.js";
import { say } from "./words.js";
import { inplace } from "./inplace.js";
import { cells } from "./ink.js";

let loading = null, kept = null;
const view = { turn: -28, tilt: 34, times: 1 };

function load() {
  loading ??= import("./three.js").catch(() => ({ missing: say("form.unreachable") }));
  return loading;
}

let able = null;
// Whether this browser draws in space at all: asked once, of a canvas that is let go at once.
function draws() {
  if (able === null) {
    const context = document.createElement("canvas").getContext("webgl2");
    able = context !== null;
    context?.getExtension("WEBGL_lose_context")?.loseContext();
  }
  return able;
}

// form: {points: [[x, y, z]] mm (z to the viewer), triangles, flat: [[x, y]] where each point lies in
// the plan, thickness, parts: [{line: [[x, y, z]], width, thickness, side, closed, footing}], grain
// (rad), footing, words}.
export function form3d(form) {
  const place = el("div", { class: "form3d" }), told = el("p", { class: "second" }, say("form.loading"));
  const figure = el("figure", { class: "board" }, place, told);
  if (!draws()) {
    told.textContent = say("form.missing", { why: say("form.no_canvas") });
    return figure;
  }
  load().then((three) => {
    if (three.missing) {
      told.textContent = say("form.missing", { why: three.missing });
      return;
    }
    try {
      show(three, form, place, told);
    } catch {
      told.textContent = say("form.missing", { why: say("form.no_canvas") });
    }
  });
  return figure;
}

// One canvas for all: a browser keeps only a few alive.
function renderer(three) {
  if (!kept) kept = new three.WebGLRenderer({ antialias: true, alpha: true, preserveDrawingBuffer: true });
  return kept;
}

// The colour as it is shown: it may be named by a word of the system's own palette.
function colour(name) {
  const probe = document.documentElement.appendChild(document.createElement("i"));
  probe.style.color = `var(--${name})`;
  const shown = getComputedStyle(probe).color;
  probe.remove();
  return shown;
}

function show(three, form, place, told) {
  const r = renderer(three), scene = new three.Scene(), camera = new three.PerspectiveCamera(26, 1.6, 10, 20000);
  const canvas = r.domElement;
  canvas.setAttribute("role", "img");
  canvas.setAttribute("tabindex", "0");
  canvas.setAttribute("aria-label", `${form.words} ${say("form.keys")}`);
  const box = new Box(form.points), size = Math.hypot(box.w, box.h), group = new three.Group();
  scene.add(group);
  const soft = new three.DirectionalLight(0xffffff, 2.4), all = new three.AmbientLight(0xffffff, 1.3);
  scene.add(soft, all);
  let width = 0;

  function build() {
    for (const c of [...group.children]) { group.remove(c); c.geometry?.dispose(); }
    const k = Math.max(0.2, (width || 600) / (1.1 * size));
    group.add(sheet(three, form, box, k), ...parts(three, form, box, k), stickAndGrain(three, form, box));
    group.scale.set(1, 1, view.times);
  }
  function paint() {
    const t = view.turn * Math.PI / 180, h = view.tilt * Math.PI / 180, far = size * 1.62;
    const at = [far * Math.cos(h) * Math.sin(t), -far * Math.cos(h) * Math.cos(t), far * Math.sin(h)];
    camera.up.set(0, 0, 1);
    if (h > 1.55) camera.up.set(-Math.sin(t), Math.cos(t), 0);
    const y = box.y - 0.09 * box.h; // room for the stick in front
    camera.position.set(box.x + at[0], y + at[1], box.z + at[2]);
    camera.lookAt(new three.Vector3(box.x, y, box.z));
    soft.position.set(box.x - size, box.y + size * 0.6, box.z + size * 1.6); // from the upper left, as over a bench
    r.setClearAlpha(0);
    r.render(scene, camera);
    turn.set(view.turn);
    tilt.set(view.tilt);
  }
  function fit() {
    const w = place.clientWidth;
    if (!w || !canvas.isConnected) return;
    if (w !== width) {
      width = w;
      const h = Math.round(Math.min(w * 0.56, 460));
      r.setPixelRatio(Math.min(2, devicePixelRatio || 1));
      r.setSize(w, h);
      camera.aspect = w / h;
      camera.updateProjectionMatrix();
      build();
    }
    paint();
  }
  const turned = (by) => { view.turn = ((view.turn + by + 540) % 360) - 180; paint(); };
  const tilted = (by) => { view.tilt = Math.min(90, Math.max(-90, view.tilt + by)); paint(); };
  canvas.onkeydown = (e) => {
    const f = { ArrowLeft: () => turned(-5), ArrowRight: () => turned(5), ArrowUp: () => tilted(5), ArrowDown: () => tilted(-5) }[e.key];
    if (!f) return;
    e.preventDefault();
    f();
  };
  canvas.onpointerdown = (e) => {
    canvas.setPointerCapture(e.pointerId);
    let x = e.clientX, y = e.clientY;
    canvas.onpointermove = (m) => {
      view.turn = ((view.turn - (m.clientX - x) * 0.4 + 540) % 360) - 180;
      view.tilt = Math.min(90, Math.max(-90, view.tilt + (m.clientY - y) * 0.4));
      x = m.clientX;
      y = m.clientY;
      paint();
    };
    canvas.onpointerup = canvas.onpointercancel = () => { canvas.onpointermove = null; };
  };
  const turn = inplace({ id: "form-turn", label: say("form.turn"), value: view.turn, unit: say("unit.degrees"), places: 0, step: 5, min: -180, max: 180, change: (v) => { view.turn = v; paint(); } });
  const tilt = inplace({ id: "form-tilt", label: say("form.tilt"), value: view.tilt, unit: say("unit.degrees"), places: 0, step: 5, min: -90, max: 90, change: (v) => { view.tilt = v; paint(); } });
  const times = inplace({ id: "form-times", label: say("form.times"), value: view.times, unit: "", places: 0, step: 1, min: 1, max: 50, change: (v) => { view.times = v; build(); paint(); } });
  place.replaceChildren(canvas, el("p", { class: "talk" }, say("form.turned"), " ", turn, ", ", say("form.tilted"), " ", tilt, ", ", say("form.heights"), " ", times, " ", say("form.fold")));
  told.textContent = form.words;
  new ResizeObserver(fit).observe(place);
  new MutationObserver(() => { if (canvas.isConnected) { build(); paint(); } }).observe(document.documentElement, { attributeFilter: ["data-theme"] });
  fit();
}

class Box {
  constructor(points) {
    const lo = [Infinity, Infinity, Infinity], hi = [-Infinity, -Infinity, -Infinity];
    for (const p of points) for (let k = 0; k < 3; k++) { lo[k] = Math.min(lo[k], p[k]); hi[k] = Math.max(hi[k], p[k]); }
    Object.assign(this, { lo, hi, w: hi[0] - lo[0], h: hi[1] - lo[1], x: (lo[0] + hi[0]) / 2, y: (lo[1] + hi[1]) / 2, z: (lo[2] + hi[2]) / 2 });
  }
}

// The hatch of a footing as a texture: the same cell, 4 px a millimetre of paper.
function hatched(three, footing, k) {
  const cell = cells[footing] || { w: 4, h: 4, d: "" }, px = 8, c = document.createElement("canvas");
  c.width = cell.w * px;
  c.height = cell.h * px;
  const g = c.getContext("2d");
  g.fillStyle = colour(cell.tint ? "birch" : "leaf");
  g.fillRect(0, 0, c.width, c.height);
  g.scale(px, px);
  g.strokeStyle = g.fillStyle = colour("bark");
  g.lineWidth = cell.heavy ? 0.4 : 0.25;
  const p = new Path2D(cell.d);
  cell.filled ? g.fill(p) : g.stroke(p);
  const t = new three.CanvasTexture(c);
  t.wrapS = t.wrapT = three.RepeatWrapping;
  t.colorSpace = three.SRGBColorSpace;
  t.anisotropy = 8;
  t.repeat.set(k / (cell.w * 4), k / (cell.h * 4)); // k px for one mm of the object
  return t;
}
const matte = (three, footing, k) => new three.MeshLambertMaterial({ map: hatched(three, footing, k), side: three.DoubleSide });
const plain = (three, name) => new three.MeshBasicMaterial({ color: new three.Color(colour(name)), side: three.DoubleSide });

function surface(three, points, triangles, uv, material) {
  const g = new three.BufferGeometry();
  g.setAttribute("position", new three.BufferAttribute(new Float32Array(points.flat()), 3));
  if (uv) g.setAttribute("uv", new three.BufferAttribute(new Float32Array(uv.flat()), 2));
  g.setIndex(triangles.flat());
  g.computeVertexNormals();
  return new three.Mesh(g, material);
}

function turnedBack([x, y], a) { return [x * Math.cos(a) + y * Math.sin(a), -x * Math.sin(a) + y * Math.cos(a)]; }

function sheet(three, form, box, k) {
  const uv = form.points.map((p, i) => turnedBack(form.flat ? form.flat[i] : p, form.grain || 0));
  return surface(three, form.points, form.triangles, uv, matte(three, form.footing, k));
}

// Points all round the edge, in order: sides that belong to one triangle only.
export function edgeOf(triangles) {
  const next = new Map(), count = new Map(), key = (a, b) => a < b ? `${a} ${b}` : `${b} ${a}`;
  for (const t of triangles) for (let e = 0; e < 3; e++) count.set(key(t[e], t[(e + 1) % 3]), (count.get(key(t[e], t[(e + 1) % 3])) || 0) + 1);
  for (const t of triangles) for (let e = 0; e < 3; e++) if (count.get(key(t[e], t[(e + 1) % 3])) === 1) next.set(t[e], t[(e + 1) % 3]);
  const first = next.keys().next().value, out = [];
  for (let i = first, n = 0; i !== undefined && n <= next.size; i = next.get(i), n++) {
    out.push(i);
    if (next.get(i) === first) break;
  }
  return out;
}

// A rod along points: a ring of sides at each.
function rod(three, points, radius, closed, material, flat = 1) {
  const sides = 8, out = [], uv = [], tri = [], n = points.length;
  let along = 0;
  for (let i = 0; i < n; i++) {
    if (i) along += Math.hypot(points[i][0] - points[i - 1][0], points[i][1] - points[i - 1][1]);
    const a = points[closed ? (i + n - 1) % n : Math.max(0, i - 1)], b = points[closed ? (i + 1) % n : Math.min(n - 1, i + 1)];
    const d = [b[0] - a[0], b[1] - a[1]], l = Math.hypot(...d) || 1, side = [d[1] / l, -d[0] / l];
    for (let s = 0; s < sides; s++) {
      const t = 2 * Math.PI * s / sides, c = radius * Math.cos(t), h = radius * flat * Math.sin(t);
      uv.push([along, t * radius]);
      out.push([points[i][0] + c * side[0], points[i][1] + c * side[1], points[i][2] + h]);
    }
  }
  for (let i = 0; i < (closed ? n : n - 1); i++) for (let s = 0; s < sides; s++) {
    const a = i * sides + s, b = i * sides + (s + 1) % sides, c = ((i + 1) % n) * sides + s, d = ((i + 1) % n) * sides + (s + 1) % sides;
    tri.push([a, c, b], [b, c, d]);
  }
  return surface(three, out, tri, uv, material);
}

// A bar of flat section along a line: four corners at each point, capped at its ends; its top and
// bottom borders as dark lines.
function bar(three, p, thick, k, materials) {
  const out = [], uv = [], tri = [], n = p.line.length, borders = [[], [], [], []];
  const t = p.side === "within the thickness" || p.side === "both faces" ? Math.max(p.thickness, thick) + 0.8 : Math.max(p.thickness, 0.6);
  const up = p.side === "outer face" ? (thick + t) / 2 : p.side === "inner face" ? -(thick + t) / 2 : 0;
  let along = 0;
  for (let i = 0; i < n; i++) {
    const a = p.line[p.closed ? (i + n - 1) % n : Math.max(0, i - 1)], b = p.line[p.closed ? (i + 1) % n : Math.min(n - 1, i + 1)], c = p.line[i];
    const l = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1, side = [(b[1] - a[1]) / l * p.width / 2, -(b[0] - a[0]) / l * p.width / 2];
    if (i) along += Math.hypot(c[0] - p.line[i - 1][0], c[1] - p.line[i - 1][1]);
    [[1, 1], [-1, 1], [-1, -1], [1, -1]].forEach(([s, h], q) => {
      const v = [c[0] + s * side[0], c[1] + s * side[1], c[2] + up + h * t / 2];
      out.push(v);
      borders[q].push(v);
      uv.push([along, s * p.width / 2]);
    });
  }
  for (let i = 0; i < (p.closed ? n : n - 1); i++) for (let q = 0; q < 4; q++) {
    const a = 4 * i + q, b = 4 * i + (q + 1) % 4, c = 4 * ((i + 1) % n) + q, d = 4 * ((i + 1) % n) + (q + 1) % 4;
    tri.push([a, b, c], [b, d, c]);
  }
  if (!p.closed) tri.push([0, 2, 1], [0, 3, 2], [4 * n - 4, 4 * n - 3, 4 * n - 2], [4 * n - 4, 4 * n - 2, 4 * n - 1]);
  const made = [surface(three, out, tri, uv, materials(p.footing))];
  for (const q of borders) made.push(rod(three, q, Math.max(0.35, 0.55 / k), p.closed, materials.dark));
  if (!p.closed) for (const i of [0, n - 1]) made.push(rod(three, borders.map((q) => q[i]), Math.max(0.35, 0.55 / k), true, materials.dark));
  return made;
}

function parts(three, form, box, k) {
  const edge = edgeOf(form.triangles).map((i) => form.points[i]), kept = new Map(), dark = plain(three, "ink");
  const materials = (footing) => { if (!kept.has(footing)) kept.set(footing, matte(three, footing, k)); return kept.get(footing); };
  materials.dark = dark;
  const out = edge.length > 2 ? [rod(three, edge, Math.max(0.8, 1.2 / k), true, dark)] : [];
  for (const p of form.parts || []) if (p.line.length > 1) out.push(...bar(three, p, form.thickness || 4, k, materials));
  return out;
}

// The stick lies in front of the thing, the sign of the grain beside it.
function stickAndGrain(three, form, box) {
  const g = new three.Group(), dark = plain(three, "ink"), y = box.lo[1] - 0.14 * box.h - 12, z = box.lo[2], x = box.lo[0];
  const stroke = (a, b, r) => rod(three, [a, b], r, false, dark);
  g.add(stroke([x, y, z], [x + 100, y, z], 0.9));
  for (let i = 0; i <= 10; i++) g.add(rod(three, [[x + 10 * i - 0.01, y, z], [x + 10 * i, y + (i % 5 ? 5 : 11), z]], 0.7, false, dark));
  const c = document.createElement("canvas"), t = c.getContext("2d");
  c.width = 256;
  c.height = 64;
  t.font = `44px ${getComputedStyle(document.body).fontFamily}`;
  t.fillStyle = colour("ink");
  t.fillText(say("ink.mm", { n: 100 }), 4, 48);
  const map = new three.CanvasTexture(c);
  map.colorSpace = three.SRGBColorSpace;
  const label = new three.Sprite(new three.SpriteMaterial({ map, transparent: true }));
  label.scale.set(0.13 * box.w, 0.13 * box.w / 4, 1);
  label.position.set(x + 100 + 0.09 * box.w, y, z);
  g.add(label);
  const a = form.grain || 0, long = 0.22 * box.w, cx = box.x + 0.12 * box.w, at = (u, v) => [cx + u * Math.cos(a) - v * Math.sin(a), y + u * Math.sin(a) + v * Math.cos(a), z];
  for (const [p, q] of [[[0, 0], [long, 0]], [[0, 0], [-0.09 * long, 0.07 * long]], [[0, 0], [-0.11 * long, 0]], [[0, 0], [-0.09 * long, -0.07 * long]]]) g.add(stroke(at(...p), at(...q), 0.9));
  return g;
}
