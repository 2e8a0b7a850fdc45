// A number is a sentence: figures, range, footing glyph and word, and `why?`, which unrolls where
// the number stands: sentence, rule, source, then what it rests on, each one step in.
import { el, svg, empty } from "./dom.js";
import { ask } from "./door.js";
import { say } from "./words.js";

// One cell of each footing's hatch, 24 px box.
export function glyph(footing) {
  const g = svg("svg", { viewBox: "0 0 24 24", "aria-hidden": "true", fill: "none", stroke: "currentColor", "stroke-width": 2 });
  const path = (d, more = {}) => g.append(svg("path", { d, ...more }));
  switch (footing) {
    case "seen": path("M3 12c4-5 14-5 18 0c-4 5-14 5-18 0z", { fill: "currentColor", stroke: "none" }); break;
    case "worked out": path("M3 9h3m4 0h4m4 0h3M3 15h11m4 0h3M9 3v11m0 4v3M15 3v3m0 4v11"); break;
    case "from a parallel": path("M13 6a5 6 0 1 0 0 12M11 18a5 6 0 1 0 0-12"); break;
    case "guessed": g.append(svg("circle", { cx: 12, cy: 12, r: 6 })); break;
    case "modern need": path("M6 18V7h12v11", { "stroke-width": 3 }); break;
  }
  return g;
}

export const footingMark = (footing) => el("span", { class: "footing" }, glyph(footing), " ", say(`footing.${footing}`));

// Twenty slivers, each 5 in 100; the middle ten tall.
export function spread(value) {
  if (!value || value.p05 === undefined) return null;
  const box = el("span", { class: "spread", "aria-hidden": "true" });
  for (let i = 0; i < 20; i++) box.append(el("i", { class: i >= 5 && i < 15 ? "middle" : null }));
  return box;
}

function entryLine(entry) {
  const parts = Object.entries(entry.body).filter(([k, v]) => k !== "id" && typeof v !== "object")
    .map(([k, v]) => `${k.replaceAll("_", " ")} ${v}`);
  return el("p", { class: "second" }, parts.join(", "), " (", say("why.entered", { who: entry.who, when: entry.when.slice(0, 10) }), ")");
}

function opened(s) {
  const box = el("div", { class: "why" });
  for (const key of ["rule", "source", "rival"])
    if (s[key]) box.append(el("p", { class: "second" }, say(`why.${key}`, { text: s[key] })));
  if (s.rests_on && s.rests_on.length) {
    box.append(el("p", { class: "second" }, say("why.rests")));
    const list = el("ul");
    for (const l of s.rests_on) {
      const item = el("li", {}, el("span", {}, `${l.kind} ${l.id}${l.role ? `: ${l.role}` : ""}`));
      if (l.entry) item.append(entryLine(l.entry));
      if (l.statement) item.append(el("div", {}, el("p", {}, l.statement.sentence, " ", l.statement.number || "", " ", footingMark(l.statement.footing)), opened(l.statement)));
      list.append(item);
    }
    box.append(list);
  }
  return box;
}

export function sentence(s) {
  const place = el("div");
  const button = el("button", { class: "plain", "aria-expanded": "false", onclick: async () => {
    if (place.firstChild) {
      empty(place);
      button.setAttribute("aria-expanded", "false");
      return;
    }
    button.setAttribute("aria-expanded", "true");
    try {
      place.append(opened(await ask("why", { id: s.id })));
    } catch (e) {
      place.append(told("not", `${e.message} ${e.remedy || ""}`));
    }
  } }, say("do.why"));
  return el("div", { class: "sentence", id: `said-${s.id}` },
    el("p", {}, s.sentence, s.state ? ` (${s.state})` : ""),
    el("p", {}, s.number ? el("span", { class: "number" }, s.number, " ") : null, s.footing ? footingMark(s.footing) : null, " ", button),
    s.caution ? told("care", s.caution) : null,
    s.doubt ? told("doubt", s.doubt) : null,
    place);
}

export const told = (kind, message) => el("p", { class: "told", role: kind === "not" ? "alert" : null }, say(`told.${kind}`, { message }));
