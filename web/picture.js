// A drawing the program made, with its sentence beneath. A page need not wait for it: pictureLater.
import { append, drawn, el } from "./dom.js";
import { ask } from "./door.js";
import { say } from "./words.js";

export async function picture(name) {
  const box = el("figure", { class: "picture" });
  try {
    const answer = await ask("picture", { name });
    if (answer.missing) return append(box, [el("p", { class: "second" }, `${answer.missing} ${answer.remedy}`)]);
    const live = drawn(answer);
    const told = live.querySelector("desc") || live.querySelector("title");
    live.setAttribute("role", "img");
    if (told) live.setAttribute("aria-label", told.textContent);
    box.append(live);
    if (told) box.append(el("figcaption", {}, told.textContent));
  } catch {
    box.append(el("p", { class: "second" }, say("picture.none")));
  }
  return box;
}

// A place where the drawing will stand.
export function pictureLater(name) {
  const place = el("div", { "aria-busy": "true" }, el("p", { class: "second" }, say("picture.coming")));
  picture(name).then((figure) => {
    place.replaceChildren(figure);
    place.removeAttribute("aria-busy");
  });
  return place;
}
