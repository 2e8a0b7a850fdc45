// Letting others in: keys for the network, each with its sign to scan; listed and revoked.
import { el, svg, empty } from "./dom.js";
import { ask, tell, owns } from "./door.js";
import { say } from "./words.js";
import { told } from "./told.js";

// The sign a phone reads, dark on light in every light of the screen.
function sign(rows, address) {
  const n = rows.length, quiet = 4;
  let d = "";
  rows.forEach((row, y) => [...row].forEach((c, x) => { if (c === "1") d += `M${x + quiet} ${y + quiet}h1v1h-1z`; }));
  return svg("svg", { class: "sign", viewBox: `0 0 ${n + 2 * quiet} ${n + 2 * quiet}`, role: "img", "aria-label": say("share.sign", { address }) },
    svg("rect", { width: n + 2 * quiet, height: n + 2 * quiet, fill: "#fff" }), svg("path", { d, fill: "#000" }));
}

const DAY = 86400; // s

export async function screen() {
  if (!owns()) return el("div", { class: "leaf" }, el("h2", {}, say("share.title")), el("p", {}, say("share.not")));
  const place = el("div", { "aria-live": "polite" }), list = el("ul");
  const fill = async () => {
    const keys = await ask("keys");
    empty(list).append(...keys.map((k) => el("li", {}, say(k.ends > 2 * DAY ? "share.key_days" : "share.key", { right: say(`share.right.${k.right}`), hours: Math.round(k.ends / 360) / 10, days: Math.round(k.ends / DAY), pages: k.pages }), " ",
      k.right === "own" ? null : el("button", { class: "plain", "aria-label": `${say("share.revoke")} ${k.id}`, onclick: async () => { await tell("revoke", { key: k.id }); fill(); } }, say("share.revoke")))));
  };
  const hand = async (write) => {
    const k = await tell("share", { write });
    empty(place).append(k.missing ? told("not", `${k.missing} ${k.remedy}`)
      : el("div", {}, el("p", {}, say("share.address")), el("p", {}, el("code", {}, k.address)), sign(k.sign, k.address)));
    fill();
  };
  await fill();
  return el("div", { class: "leaf" }, el("h2", {}, say("share.title")),
    el("p", {}, el("button", { onclick: () => hand(false) }, say("share.read")), " ", el("button", { onclick: () => hand(true) }, say("share.write"))),
    place, el("h3", {}, say("share.keys")), list);
}
