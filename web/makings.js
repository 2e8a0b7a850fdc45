// Ways of making as the screens hold them: those a person entered and the proposal, each with its
// parts and steps; what differs between two.
import { alive, ask } from "./door.js";
import { say } from "./words.js";
import { figures } from "./inplace.js";


// lean: without what only the screen of makings shows (`dry`, statements, tables), for home, which must come quickly.
export async function readMakings({ lean = false } = {}) {
  const [stored, makings, parts, steps] = await Promise.all([ask("result", lean ? { step: "making", part: "proposal" } : { step: "making" }).catch(() => null),
    ask("entries", { kind: "making" }), ask("entries", { kind: "part" }), ask("entries", { kind: "step" })]);
  const proposal = (stored && stored.result && stored.result.proposal) || { makings: [], parts: [], steps: [] };
  const all = [...alive(makings).map((e) => ({ ...e.body, revision: e.revision, entered: true })), ...proposal.makings];
  const allParts = [...alive(parts).map((e) => ({ ...e.body, revision: e.revision })), ...proposal.parts];
  const allSteps = [...alive(steps).map((e) => e.body), ...proposal.steps];
  const list = all.map((m) => ({ ...m,
    parts: allParts.filter((p) => p.making === m.id),
    steps: allSteps.filter((s) => s.making === m.id).sort((a, b) => (a.number ?? 0) - (b.number ?? 0)) }));
  const weigh = (m) => m.weight ?? -1;
  const leading = list.reduce((best, m) => (best && weigh(best) >= weigh(m) ? best : m), null);
  return { list, leading, dry: stored && stored.result && stored.result.dry, stored };
}

// A part's own name inside its making: "lath.3", without the copy's name before it.
export const shortId = (part) => part.id.startsWith(`${part.making}.`) ? part.id.slice(part.making.length + 1) : part.id;

export const MOVES = ["x", "y", "angle"];
const COMPARED = ["x", "y", "angle", "length", "width", "thickness", "diameter", "inner_diameter", "pitch", "count", "hole", "edge_distance", "grain", "chamfer", "clearance", "coats"];
export const unitOf = (field) => ["angle", "grain", "chamfer"].includes(field) ? say("unit.degrees") : ["count", "coats"].includes(field) ? "" : "mm";

// In words, what is different in `changed` (same part) from `part`.
export function differences(part, changed) {
  const out = [];
  for (const f of COMPARED) {
    const a = part[f], b = changed[f];
    if (b === undefined || a === b || (a !== undefined && Math.abs(a - b) < 1e-6)) continue;
    const name = say(`part.${f}`);
    out.push(a === undefined ? say("making.set", { name, to: figures(b), unit: unitOf(f) })
      : MOVES.includes(f) ? say("making.moved", { name, by: (b > a ? "+" : "") + figures(b - a), unit: unitOf(f) })
      : say("making.changed", { name, from: figures(a), to: figures(b), unit: unitOf(f) }));
  }
  return out;
}

// What sets one making apart from another, part by part.
export function making_differences(one, other) {
  const out = [], by = new Map(one.parts.map((p) => [shortId(p), p]));
  for (const p of other.parts) {
    const q = by.get(shortId(p));
    by.delete(shortId(p));
    if (!q) out.push(say("making.added", { part: p.name || p.id }));
    else for (const d of differences(q, p)) out.push(`${p.name || p.id}: ${d}`);
  }
  for (const p of by.values()) out.push(say("making.without", { part: p.name || p.id }));
  return out;
}
