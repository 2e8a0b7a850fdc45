// Report: the checklist with what is missing, the label, the papers with previews and downloads.
import { el, empty } from "./dom.js";
import { ask, tell, listen } from "./door.js";
import { say } from "./words.js";
import { frame, unroll } from "./frame.js";
import { table } from "./tables.js";
import { told, refused } from "./told.js";
import { adder, line } from "./adder.js";

const ABOUT = ["id", "number", "version", "date", "authors", "licence", "identifier", "claim", "purpose", "audience", "copy", "contact", "embargo", "deposit", "mark", "used_for", "failed", "unknown", "stock", "aids", "hours", "mass", "trees", "humidity_low", "humidity_high", "no_trials", "no_copy", "invented"];

function checklist({ points, draft }) {
  const groups = [...new Set(points.map((p) => p.of))], settled = points.filter((p) => p.done !== "no").length;
  const missing = (p) => el("li", {}, el("b", {}, p.point), el("br"), el("small", {}, p.missing));
  return el("div", {},
    el("p", { class: "number" }, say("report.count", { done: settled, all: points.length })),
    draft ? told("care", say("report.draft", { why: draft })) : null,
    groups.map((g) => {
      const own = points.filter((p) => p.of === g), open = own.filter((p) => p.done === "no"), done = own.filter((p) => p.done !== "no");
      return el("section", {}, el("h3", {}, g), open.length ? el("ul", {}, open.map(missing)) : null,
        done.length ? unroll(say("report.show.done", { n: done.length }), () => el("ul", {}, done.map((p) => el("li", {}, `${p.point}: ${say(p.done === "yes" ? "report.done" : "report.na")}`)))) : null);
    }));
}

let previewed = null; // the paper that is shown, when the list is drawn anew

const shown = (name) => /\.(html|svg|png)$/.test(name) && !name.startsWith("files/");
const address = (name, as) => `/api/paper?${new URLSearchParams(as ? { name, as } : { name })}`;

function paper(f, place) {
  const show = el("button", { class: "plain", "aria-label": `${say("report.show")} ${f.name}`, onclick: (e) => {
    previewed = f.name;
    const title = say("report.preview", { name: f.title || f.name });
    empty(place).append(f.name.endsWith(".html")
      ? el("iframe", { class: "preview", src: address(f.name, "show"), title, sandbox: "allow-scripts allow-downloads" })
      : el("img", { class: "preview", src: address(f.name, "show"), alt: title }),
    el("p", {}, el("button", { onclick: () => { previewed = null; empty(place); show.focus(); } }, say("report.hide"))));
    if (e.isTrusted) place.scrollIntoView({ block: "nearest" });
  } }, say("report.show"));
  if (f.name === previewed && shown(f.name)) setTimeout(() => show.click(), 0);
  return el("li", {}, f.title && f.title !== f.name ? `${f.title} ` : "", el("small", {}, f.name), " ",
    el("a", { class: "wide", href: address(f.name), download: f.name.split("/").pop(), "aria-label": `${say("report.save")} ${f.name}` }, say("report.save")), " ", shown(f.name) ? show : null);
}

function papers(state, place) {
  if (!state.written) return el("p", {}, say("report.none"));
  const preview = el("div", { "aria-live": "polite" }), top = state.list.filter((f) => !f.name.includes("/")), rest = state.list.filter((f) => f.name.includes("/"));
  const folders = [...new Set(rest.map((f) => f.name.split("/")[0]))];
  return el("div", {}, el("p", {}, say("report.written", { n: state.files })),
    state.revision !== state.now ? told("doubt", say("report.old")) : null,
    el("ul", {}, top.map((f) => paper(f, preview))),
    folders.map((d) => unroll(`${d} (${rest.filter((f) => f.name.startsWith(`${d}/`)).length})`, () => el("ul", {}, rest.filter((f) => f.name.startsWith(`${d}/`)).map((f) => paper(f, preview))))),
    state.not.length ? el("section", {}, el("h4", {}, say("report.left")), el("ul", {}, state.not.map((n) => el("li", {}, `${n.name}. ${n.why} ${n.remedy}`)))) : null,
    preview);
}

function writing() {
  const list = el("div"), place = el("div");
  const fill = async () => {
    const state = await ask("papers");
    empty(list).append(papers(state, place));
  };
  const button = el("button", { class: "main", onclick: async () => {
    empty(place).append(el("p", {}, say("report.writing")));
    try {
      await tell("write");
    } catch (e) { empty(place).append(refused(e)); }
  } }, say("report.write"));
  const stop = listen("end", ({ task, done, stopped, message, remedy }) => {
    if (task !== "write") return;
    empty(place);
    if (!list.isConnected) return stop();
    if (!done && !stopped) place.append(refused({ message, remedy }));
    else if (done) fill();
  });
  fill();
  return el("section", {}, el("h3", {}, say("report.papers")), el("p", {}, button), place, list);
}

export async function screen(project) {
  const [label, stored, kinds, about] = await Promise.all([ask("label"), ask("result", { step: "report" }), ask("kinds"), ask("entries", { kind: "handover" })]);
  const tables = Object.values((stored.result && stored.result.tables) || {}).filter((t) => t.rows.length);
  const left = el("div", {}, writing(),
    el("section", {}, el("h3", {}, say("report.label")), el("p", { class: "number" }, label.text), el("p", { class: "second" }, say("report.label.count", { words: label.words, longest: label.longest }))),
    tables.map(table));
  // the whole argument is gone through for it: it comes when it is ready
  const points = el("div", { "aria-busy": "true" }, el("p", { class: "second" }, say("report.checking")));
  ask("checklist").then((check) => points.replaceChildren(checklist(check)), (e) => points.replaceChildren(refused(e))).then(() => points.removeAttribute("aria-busy"));
  const right = [el("h2", {}, say("report.check")), points,
    el("section", {}, el("h3", {}, say("report.about")),
      about.length ? el("ul", {}, about.map((a) => line({ kinds, kind: "handover", names: ABOUT, entry: a, text: a.id })))
        : adder({ kinds, kind: "handover", names: ABOUT, what: say("report.about"), fresh: () => ({ id: "report" }) }))];
  return frame(project, "report", left, right);
}
