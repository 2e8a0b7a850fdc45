// Long work: a cut that grows along a stick, what it is doing, and "stop".
import { el, empty } from "./dom.js";
import { listen, tell } from "./door.js";
import { say } from "./words.js";
import { refused } from "./told.js";

const STEPS = ["found", "sizes", "outline", "curve", "making", "strength", "material", "trials", "report"];

export function working() {
  const cut = el("span", { style: "width:0" }), what = el("p", { class: "second" });
  const stick = el("div", { class: "growing", role: "progressbar", "aria-valuemin": 0, "aria-valuemax": 100, "aria-label": say("do.compute") }, cut);
  const box = el("div", { class: "working", hidden: true }, what, stick, el("button", { onclick: () => tell("stop") }, say("do.stop")));
  const place = el("div", { "aria-live": "polite" }, box);
  listen("progress", ({ step, what: doing, share, rough }) => {
    box.hidden = false;
    const name = say(`step.${step}`), order = STEPS.indexOf(step);
    what.textContent = rough ? say("working.rough", { step: name }) : say("working", { step: name, what: doing }).replace(`${name}: ${name}`, name);
    // the cut says how far the whole job is: a step that cannot tell its share still moves it
    const percent = Math.round(100 * (order < 0 ? share ?? 0 : (order + (share ?? 0)) / STEPS.length));
    cut.style.width = `${percent}%`;
    stick.setAttribute("aria-valuenow", percent);
  });
  // a stop was asked for: it is said plainly, and gone with the next screen
  const forget = () => place.querySelectorAll(".told").forEach((t) => t.remove());
  listen("end", ({ done, stopped, message, remedy }) => {
    box.hidden = true;
    forget();
    if (stopped) place.append(el("p", { class: "told", role: "status" }, `${message} ${remedy}`));
    else if (!done) place.append(refused({ message, remedy }));
  });
  addEventListener("hashchange", () => { if (place.querySelector(".told[role=status]")) forget(); });
  return place;
}
