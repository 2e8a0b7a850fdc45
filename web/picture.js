// A drawing the program made, with its sentence beneath.
import { el } from "./dom.js";
import { drawn } from "./dom.js";
import { ask } from "./door.js";
import { say } from "./words.js";

export async function picture(name) {
  const box = el("figure", { class: "picture" });
  try {
    const live = drawn(await ask("picture", { name }));
    const told = live.querySelector("desc") || live.querySelector("title");
    live.setAttribute("role", "img");
    if (told) live.setAttribute("aria-label", told.textContent);
    box.append(live);
    if (told) box.append(el("figcaption", {}, told.textContent));
  } catch (e) {
    box.append(el("p", { class: "second" }, e.status === 404 ? `${e.message} ${e.remedy}` : say("picture.none")));
  }
  return box;
}
