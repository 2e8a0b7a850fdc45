// Sizes: each part's size fresh and new and dry, from its readings; the readings can be mended where
// they stand, and what to measure next says whether it means touching the piece.
import { el, empty, keepingFocus } from "./dom.js";
import { ask, tell, mayWrite } from "./door.js";
import { say } from "./words.js";
import { frame, unroll } from "./frame.js";
import { board, put } from "./ink.js";
import { slivers, knot, range, ticks } from "./spreads.js";
import { inplace, sentenceWith, figures } from "./inplace.js";
import { sentence } from "./sentence.js";
import { told, refused } from "./told.js";

const held = { size: null };
const known = (s) => s && s.value && s.value.p50 !== undefined;
const places = (v) => v >= 100 ? 0 : v >= 10 ? 1 : 2;
export const numberOf = (v, unit) => `${figures(v.p50, places(v.p95))} ${unit} (${figures(v.p05, places(v.p95))} ${say("to")} ${figures(v.p95, places(v.p95))})`;

// Sizes of parts: a fresh statement each, with the dry one and the readings it rests on.
function sizesOf(statements, measures) {
  const by = new Map(statements.map((s) => [s.id, s])), read = new Map(measures.map((m) => [m.id, m]));
  return statements.filter((s) => (s.about || "").startsWith("part ") && s.unit === "mm" && known(s) && !/\.(dry|mean)$/.test(s.id)).map((s) => {
    const name = s.id.replace(/\.fresh$/, "");
    const readings = (s.rests_on || []).filter((l) => l.kind === "measure" && read.has(l.id)).map((l) => ({ entry: read.get(l.id), fresh: by.get(`${l.id}.fresh`), role: l.role }));
    const changes = (s.rests_on || []).filter((l) => l.kind === "statement" && by.has(l.id)).map((l) => by.get(l.id)).filter((x) => x.id.startsWith("alter.") || x.id.startsWith("squash."));
    return { id: name, fresh: s, dry: by.get(`${name}.dry`), readings, changes };
  });
}

export async function screen(project) {
  const [statements, measures, stored] = await Promise.all([ask("statements"), ask("entries", { kind: "measure" }), ask("result", { step: "sizes" }).catch(() => null)]);
  const own = statements.filter((s) => s.step === "sizes"), alive = measures.filter((m) => !m.gone), sizes = sizesOf(own, alive);
  const tables = (stored && stored.result && stored.result.tables) || {};
  if (!sizes.length) return frame(project, "sizes", el("p", {}, say("step.nothing")), own.slice(0, 12).map(sentence));
  const picture = el("div"), reasons = el("div");
  const again = () => {
    const size = sizes.find((s) => s.id === held.size) || sizes[0];
    held.size = size.id;
    keepingFocus(() => {
      picture.replaceChildren(chooser(sizes, size, again), ladder(size), overview(sizes, size, again));
      reasons.replaceChildren(...speak(size, own, tables));
    });
  };
  again();
  return frame(project, "sizes", picture, reasons);
}

// A size is named part.quantity, and of a part of which there are several: of any one, or the least it can be.
function nameOf(s) {
  const [, ...rest] = s.id.split("."), last = rest[rest.length - 1], which = rest.length > 1 && ["one", "least"].includes(last) ? rest.pop() : "";
  const name = `${s.fresh.about.replace(/^part /, "")}: ${rest.join(", ").replaceAll("_", " ")}`;
  return which ? say(`sizes.which.${which}`, { name }) : name;
}

function chooser(sizes, size, again) {
  const pick = el("select", { id: "which-size", onchange: () => { held.size = pick.value; again(); } }, sizes.map((s) => el("option", { value: s.id, selected: s.id === size.id }, nameOf(s))));
  return el("div", { class: "field" }, el("label", { for: "which-size" }, say("sizes.which")), el("span", { class: "rule" }, pick));
}

const ROW = 30;
// Each reading a knot with its ±, and what it says fresh; the part's own size beneath, in slivers.
function ladder(size) {
  const rows = size.readings.filter((r) => r.fresh && known(r.fresh)).slice(0, 24), all = [size.fresh.value];
  if (known(size.dry)) all.push(size.dry.value);
  let low = Infinity, high = -Infinity;
  for (const v of all) { low = Math.min(low, v.p005 ?? v.p05); high = Math.max(high, v.p995 ?? v.p95); }
  for (const r of rows) {
    low = Math.min(low, r.fresh.value.p05, r.entry.body.value - (r.entry.body.tolerance || 0));
    high = Math.max(high, r.fresh.value.p95, r.entry.body.value + (r.entry.body.tolerance || 0));
  }
  const margin = 0.04 * (high - low) || 1;
  low -= margin;
  high += margin;
  const height = ROW * rows.length + 2 * 66 + 40, words = say("sizes.words", { name: nameOf(size), n: rows.length, fresh: numberOf(size.fresh.value, "mm"), dry: known(size.dry) ? numberOf(size.dry.value, "mm") : say("field.unknown") });
  const figure = board({ words, bounds: () => [low, 0, high, 1], tallest: 1e6, border: 8 }, (pen) => {
    // the vertical is rows here, not mm
    const left = pen.width > 480 ? 150 : 96, k = (pen.width - left - 16) / (high - low);
    pen.at = (x) => [left + (x - low) * k, 0];
    pen.height = height;
    pen.root.setAttribute("viewBox", `0 0 ${pen.width} ${height}`);
    pen.root.setAttribute("height", height);
    rows.forEach((r, i) => {
      const y = 18 + ROW * i, t = put(pen, "text", { class: "label", x: 0, y: y + 5 });
      t.textContent = r.entry.id;
      range(pen, r.fresh.value, y + 7);
      knot(pen, r.entry.body.value, r.entry.body.tolerance, y - 3);
    });
    let y = ROW * rows.length + 34;
    for (const [s, word] of [[size.fresh, say("sizes.fresh")], [size.dry, say("sizes.dry")]]) {
      if (!known(s)) continue;
      const t = put(pen, "text", { class: "label", x: 0, y: y + 5 });
      t.textContent = word;
      slivers(pen, s.value, y);
      y += 58;
    }
    ticks(pen, low, high, y - 22, "mm");
  });
  return figure;
}

// All sizes with their figures, to choose from.
function overview(sizes, size, again) {
  return unroll(say("sizes.all", { n: sizes.length }), () => el("ul", {}, sizes.map((s) => el("li", {},
    s.id === size.id ? nameOf(s) : el("button", { class: "plain", onclick: () => { held.size = s.id; again(); } }, nameOf(s)),
    ` ${numberOf(s.fresh.value, "mm")}, ${say("sizes.fresh")}`, known(s.dry) ? `; ${numberOf(s.dry.value, "mm")}, ${say("sizes.dry")}` : ""))));
}

function speak(size, own, tables) {
  const out = [el("h3", {}, nameOf(size)), sentence(size.fresh), size.dry ? sentence(size.dry) : null];
  if (size.readings.length) out.push(el("h3", {}, say("sizes.readings")), el("p", { class: "second" }, say("sizes.mend")), ...size.readings.slice(0, 3).map(reading),
    size.readings.length > 3 ? unroll(say("sizes.readings_all", { n: size.readings.length - 3 }), () => el("div", {}, size.readings.slice(3).map(reading))) : null);
  if (size.changes.length) out.push(el("h3", {}, say("sizes.time")), ...size.changes.map(sentence));
  const rows = (tables.handling && tables.handling.rows) || [], mine = rows.filter((r) => r[1] === size.fresh.id || size.readings.some((x) => x.entry.id === r[1]));
  out.push(el("h3", {}, say("next.measure")), mine.length ? el("ul", {}, mine.map(nextItem)) : el("p", { class: "second" }, say("sizes.enough")));
  if (rows.length > mine.length) out.push(unroll(say("sizes.next_all", { n: rows.length }), () => el("ul", {}, rows.map(nextItem))));
  const odd = own.filter((s) => s.id.startsWith("ruler.") || s.caution || s.doubt);
  if (odd.length) out.push(unroll(say("sizes.more", { n: odd.length }), () => el("div", {}, odd.map(sentence))));
  return out.filter(Boolean);
}

// [piece, for, trouble, measure instead, touching, how]
const nextItem = ([piece, about, trouble, instead, touch, how]) => el("li", {}, el("p", {}, `${piece}, ${about}: ${instead}. `, el("b", {}, say("next.touching", { word: touch })), ` (${how})`, el("span", { class: "second" }, ` ${say("next.trouble", { trouble })}`)));

// One reading as a sentence whose numbers can be changed; each change is one revision.
function reading({ entry, fresh, role }) {
  const b = entry.body, changed = {}, place = el("div"), keep = el("div");
  const field = (name, label, min) => inplace({ id: `read-${entry.id}-${name}`, label: `${entry.id}: ${label}`, value: b[name] ?? 0, unit: "mm", step: 0.1, places: 2, min, max: 1e5, disabled: !mayWrite(),
    change: (v) => { if (Math.abs(v - (b[name] ?? 0)) > 1e-9) changed[name] = v; else delete changed[name]; offer(); } });
  const said = sentenceWith(say(b.bound && b.bound !== "value" ? "sizes.read_bound" : "sizes.read", { id: entry.id, bound: b.bound || "", state: b.state || say("sizes.no_state"), ends: b.ends ? `, ${b.ends.join(" / ")}` : "" }),
    { value: field("value", say("sizes.value"), 1e-6), tolerance: field("tolerance", "±", 0) });
  function offer() {
    empty(keep);
    if (!Object.keys(changed).length) return;
    const why = el("input", { id: `why-${entry.id}`, autocomplete: "off" });
    keep.append(el("div", { class: "field" }, el("label", { for: `why-${entry.id}` }, say("sizes.why")), el("span", { class: "rule" }, why)),
      el("p", {}, el("button", { class: "main", onclick: async () => {
        empty(place);
        try {
          await tell("enter", { kind: "measure", id: entry.id, body: { ...b, ...changed }, expected: entry.revision, why: why.value });
        } catch (e) {
          place.append(refused(e));
        }
      } }, say("do.save"))), place);
  }
  return el("div", { class: "reading" }, said, fresh && known(fresh) ? el("p", { class: "second" }, say("sizes.was", { number: numberOf(fresh.value, "mm") }), role && role !== "reading" ? `, ${role}` : "") : null, fresh && fresh.caution ? told("care", fresh.caution) : null, keep);
}
