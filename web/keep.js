// Entering one thing, and what happens when somebody else was faster: both values stand side by
// side and a person chooses; nothing is lost.
//
//   await keep({kind, id, body, expected, why}, place, describe)   true when it was entered
//   pairOf(present, yours, take)   theirs beside yours
import { el, empty } from "./dom.js";
import { tell, again } from "./door.js";
import { say } from "./words.js";
import { told, refused } from "./told.js";

const brief = (body) => Object.entries(body || {}).filter(([k, v]) => k !== "id" && typeof v !== "object").map(([k, v]) => `${k.replaceAll("_", " ")} ${v}`).join(", ");

export function pairOf(present, yours, take, describe = brief) {
  const mine = Object.fromEntries(Object.entries(yours).filter(([k, v]) => JSON.stringify(present.body[k]) !== JSON.stringify(v)));
  const other = Object.fromEntries(Object.keys({ ...mine }).map((k) => [k, present.body[k]]));
  const box = el("div", { class: "conflict", role: "alert" }, told("care", say("conflict.title")),
    el("p", {}, say("conflict.theirs", { who: present.who, words: describe(other) || "…" })),
    el("p", {}, say("conflict.yours", { words: describe(mine) || "…" })),
    el("p", { class: "choose" }, el("button", { type: "button", onclick: again }, say("conflict.take_theirs")),
      el("button", { type: "button", class: "main", onclick: () => { box.remove(); take(present.revision); } }, say("conflict.take_yours"))));
  return box;
}

export async function keep(entry, place, describe = brief) {
  if (place) empty(place);
  try {
    await tell("enter", entry);
    return true;
  } catch (e) {
    if (place && e.present) place.append(pairOf(e.present, entry.body, (revision) => keep({ ...entry, expected: revision }, place, describe), describe));
    else if (place) place.append(refused(e));
    else throw e;
    return false;
  }
}
