// Undo and redo over the journal: taking back is a change of its own, and can be taken back.
//
//   const {undo, redo, undone} = standing(changes)   of /api/changes, newest first
import { ask, tell } from "./door.js";

// Which changes are taken back now, what undo would take back and what redo would do again.
export function standing(changes) {
  const off = new Set(); // uuids whose effect is gone
  for (const c of changes) if (c.undoes && !off.has(c.uuid)) off.add(c.undoes); // newest first: a later one decides
  const live = changes.filter((c) => !off.has(c.uuid));
  const undo = live.find((c) => !c.undo), newest = live[0];
  return { undo, redo: newest && newest.undo ? newest : null, undone: off };
}

export async function step(which) {
  const now = standing(await ask("changes")), target = now[which];
  if (!target) return null;
  await tell("undo", { change: target.id });
  return target;
}
