// Scans of trials and of the find: how each lies on another, a map of where they differ, and bends.
import { el } from "./dom.js";
import { mayWrite, again } from "./door.js";
import { say } from "./words.js";
import { table } from "./tables.js";
import { unroll } from "./frame.js";
import { told } from "./told.js";
import { adder, line, freeName, today } from "./adder.js";
import { importer } from "./importer.js";
import { board, path, put, stick, text } from "./ink.js";

const short = (v) => v === undefined || v === null ? "?" : Number(v.toPrecision(3));

// Differences in cells: a figure where they are beyond what the laying can be off, else bare.
function map(a) {
  const xs = a.cells.map((c) => c.x), ys = a.cells.map((c) => c.y);
  const steps = [...new Set(xs)].sort((p, q) => p - q), side = steps.length > 1 ? Math.min(...steps.slice(1).map((x, i) => x - steps[i])) : 10;
  const edges = [Math.min(...xs) - side / 2, Math.min(...ys) - side / 2, Math.max(...xs) + side / 2, Math.max(...ys) + side / 2];
  const ring = (c) => [[c.x - side / 2, c.y - side / 2], [c.x + side / 2, c.y - side / 2], [c.x + side / 2, c.y + side / 2], [c.x - side / 2, c.y + side / 2]];
  return board({ bounds: () => edges, words: say("scans.map", { id: a.id, against: a.against }), tallest: 420 }, (pen) => {
    for (const c of a.cells) {
      put(pen, "path", { class: "cut-face", d: path(pen, ring(c), true) });
      if (c.beyond) text(pen, c.x, c.y, `${c.off > 0 ? "+" : "\u2212"}${Math.abs(c.off).toFixed(1)}`, { anchor: "middle", dy: 5 });
    }
    stick(pen, 12, pen.height - 4);
  });
}

export const bends = (a) => (a.bends || []).map((b, i) => el("p", {}, say("scans.bend", { k: short(1000 * b.k1), half: short(1645 * b.sd), n: i + 1, radius: short(b.radius) })));

export function answer(a) {
  return el("div", {},
    el("p", {}, a.laid ? say("scans.laid", { id: a.id, of: a.of, against: a.against, median: short(a.median), low: short(a.p05), high: short(a.p95) }) : say("scans.alone", { id: a.id, of: a.of, points: a.points })),
    a.say ? told("care", a.say) : null, bends(a), (a.cells || []).length ? map(a) : null);
}

export function scanned(kinds, names, entries, result) {
  const answers = result.scans || [], tables = result.tables || {};
  return el("section", {},
    answers.length ? answers.map(answer) : el("p", {}, say("scans.none")),
    tables.scans ? unroll(tables.scans.title, () => table(tables.scans)) : null,
    tables.bends && tables.bends.rows.length ? unroll(tables.bends.title, () => table(tables.bends)) : null,
    entries.length ? el("ul", {}, entries.map((s) => line({ kinds, kind: "scan", names, entry: s, text: s.id }))) : null,
    adder({ kinds, kind: "scan", names, what: say("scans.add"), fresh: () => ({ id: freeName("SC", entries), date: today() }) }),
    mayWrite() ? unroll(say("scans.bring"), () => importer(() => setTimeout(again, 600))) : null);
}
