// Long work: a cut that grows along a stick, what it is doing, and "stop".
import { el, empty } from "./dom.js";
import { listen, tell } from "./door.js";
import { say } from "./words.js";
import { told } from "./told.js";

export function working() {
  const cut = el("span", { style: "width:0" }), what = el("p", { class: "second" });
  const stick = el("div", { class: "growing", role: "progressbar", "aria-valuemin": 0, "aria-valuemax": 100, "aria-label": say("do.compute") }, cut);
  const box = el("div", { class: "working", hidden: true }, what, stick, el("button", { onclick: () => tell("stop") }, say("do.stop")));
  const place = el("div", { "aria-live": "polite" }, box);
  listen("progress", ({ step, what: doing, share }) => {
    box.hidden = false;
    what.textContent = say("working", { step: say(`step.${step}`), what: doing });
    const percent = Math.round(100 * (share ?? 0));
    cut.style.width = `${percent}%`;
    stick.setAttribute("aria-valuenow", percent);
  });
  listen("end", ({ done, message, remedy }) => {
    box.hidden = true;
    place.querySelectorAll(".told").forEach((t) => t.remove());
    if (!done) place.append(told("not", `${message} ${remedy}`));
  });
  return place;
}
