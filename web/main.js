// The page: who is here, which screen, and what changed. Screens are functions that return one
// element; the address after the # says which: a step's name, then what stands open on it.
//
//   #found/A12        the piece A12 on Found
//   #trace/A12        tracing it on a photo
//   #sizes/why/ID     any step, with the why of one statement unrolled
//   #find, #journal, #share
import { el, empty } from "./dom.js";
import { ask, join, openStream, listen, mayWrite, owns } from "./door.js";
import { say, language } from "./words.js";
import { told, refused } from "./told.js";
import { working } from "./working.js";
import { readHome, trestle } from "./trestle.js";
import { step as moveInJournal } from "./history.js";

// Screens of single steps come when asked for, so that the first one is light; a step without one
// of its own has the plain one.
const screens = {
  found: () => import("./found.js"), trace: () => import("./trace.js"), find: () => import("./find.js"), journal: () => import("./journal.js"),
  sizes: () => import("./sizes.js"), outline: () => import("./outline.js"), curve: () => import("./curve.js"),
  making: () => import("./making.js"), strength: () => import("./strength.js"),
  material: () => import("./material.js"), trials: () => import("./trials.js"), report: () => import("./report.js"),
  share: () => import("./share.js"),
};

// The project's state, and beside it what the screen is made of, are fetched at once.
async function screenOf(name, rest) {
  const fetched = name === "" ? readHome() : screens[name] ? screens[name]() : import("./step.js");
  const [project, made] = await Promise.all([ask("project"), fetched]);
  if (name === "") return { project, screen: trestle(project, made) };
  return { project, screen: await (screens[name] ? made.screen(project, rest) : made.step(project, name)) };
}

const page = el("main", { id: "page", tabindex: "-1" });
const notice = el("div", { class: "notice", "aria-live": "polite" });
let head = el("header");

function themeChooser() {
  const pick = el("select", { id: "theme", "aria-label": say("theme.label"), onchange: () => {
    localStorage.setItem("theme", pick.value);
    document.documentElement.dataset.theme = pick.value;
  } }, ["day", "lamp", "sun"].map((t) => el("option", { value: t, selected: document.documentElement.dataset.theme === t }, say(`theme.${t}`))));
  return el("span", { class: "theme" }, pick);
}

function makeHead(project) {
  const open = project.steps.reduce((n, s) => n + s.open, 0), act = (which) => el("button", { class: "plain", id: `do-${which}`, onclick: () => move(which) }, say(`do.${which}`));
  return el("header", { class: "head" },
    el("h1", {}, el("a", { href: "/#" }, project.title || "relict")),
    el("small", { class: "head-open" }, mayWrite() ? (open === 0 ? say("head.open_none") : open === 1 ? say("head.open_one") : say("head.open", { n: open })) : say("told.read")),
    el("nav", { "aria-label": say("head.name") }, mayWrite() ? [act("undo"), act("redo")] : null, el("a", { href: "/#find" }, say("do.find")), el("a", { href: "/#journal" }, say("do.journal")),
      owns() && mayWrite() ? el("a", { href: "/#share" }, say("do.share")) : null), themeChooser());
}

async function move(which) {
  empty(notice);
  try {
    const done = await moveInJournal(which);
    notice.append(el("p", { class: "told" }, done ? say(which === "undo" ? "head.undone" : "head.redone", { why: done.why || say("head.change", { id: done.id }) }) : say(which === "undo" ? "head.nothing_to_undo" : "head.nothing_to_redo")));
  } catch (e) {
    notice.append(refused(e));
  }
}

// Opens the why of one statement on the screen that stands; says it first where the screen does not.
async function openWhy(id) {
  let node = document.getElementById(`said-${id}`);
  if (!node) {
    const [{ sentence }, all] = await Promise.all([import("./sentence.js"), ask("statements")]), s = all.find((x) => x.id === id);
    if (!s) return;
    node = sentence(s);
    const into = page.querySelector(".reasons") || page.querySelector(".leaf") || page, h = into.querySelector("h2");
    if (h) h.after(node);
    else into.prepend(node);
  }
  node.scrollIntoView({ block: "center" });
  const button = node.querySelector(".why-button");
  if (button && button.getAttribute("aria-expanded") === "false") button.click();
  button?.focus({ preventScroll: true });
}

// What stood unrolled, to stand so again when news draws the screen anew: each button by its words, and
// as the how-manieth of those.
function unrolled() {
  const seen = new Map(), name = (b) => b.dataset.why || b.getAttribute("aria-label") || b.textContent;
  return [...page.querySelectorAll("[aria-expanded]")].map((button) => {
    const n = (seen.get(name(button)) || 0) + 1;
    seen.set(name(button), n);
    return { button, key: `${n} ${name(button)}`, open: button.getAttribute("aria-expanded") === "true" };
  });
}
function unrollAgain(keys) {
  if (!keys.size) return;
  const { scrollX, scrollY } = window;
  for (const { button, key, open: stands } of unrolled()) if (!stands && keys.has(key)) button.click();
  document.activeElement?.blur();
  window.scrollTo(scrollX, scrollY);
}

let drawing = 0;
async function draw(keepPlace, yields, stood) {
  const turn = ++drawing, at = location.hash.slice(1), [name, ...rest] = at.split("/").map(decodeURIComponent);
  try {
    const { project, screen } = await screenOf(name, rest);
    if (turn !== drawing) return; // a later one is under way
    if ((yields && (writing() || open())) || (stood && begun(stood))) { // somebody began to write while this was fetched
      waiting = true;
      return;
    }
    const focused = keepPlace && document.activeElement && document.activeElement.id;
    const unrolledBefore = new Set(yields && page.dataset.screen === name ? unrolled().filter((b) => b.open).map((b) => b.key) : []);
    const fresh = makeHead(project);
    head.replaceWith(fresh);
    head = fresh;
    // the page must not shrink in between, or the place that is read would slip away
    if (keepPlace) page.style.minHeight = `${page.offsetHeight}px`;
    empty(page).append(screen);
    unrollAgain(unrolledBefore);
    setTimeout(() => { if (turn === drawing) page.style.minHeight = ""; }, 400);
    page.dataset.screen = name; // which screen stands here, for those who wait for it
    document.title = name ? `${say(`step.${name}`)}: ${project.title}` : project.title || "relict";
    if (!keepPlace) {
      page.focus({ preventScroll: true });
      if (rest[0] === "why" && rest[1]) await openWhy(rest[1]);
      else if (!rest.length) window.scrollTo(0, 0);
    } else if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
    else if (rest[0] === "why" && rest[1]) await openWhy(rest[1]);
  } catch (e) {
    empty(page).append(el("div", { class: "leaf" }, refused(e)));
    page.dataset.screen = name;
  }
}

// News redraws the screen, but not under somebody's pen: then it waits until the form is left.
let waiting = false;
const writing = () => { const a = document.activeElement; return a && page.contains(a) ? a.closest("form, .inplace, .unsaved") : null; };
const open = () => page.querySelector(".unsaved, .mapping") !== null;
// What stood to be written in when something was entered, and whether another has been begun since.
const standing = () => ({ forms: new Set(page.querySelectorAll("form, .inplace")), unsaved: new Set(page.querySelectorAll(".unsaved")) });
function begun({ forms, unsaved }) {
  const a = writing();
  return (a && !forms.has(a) && !unsaved.has(a)) || [...page.querySelectorAll(".unsaved, .mapping")].some((n) => !unsaved.has(n) && !(n.matches(".mapping") && forms.has(n)));
}
function news() {
  if (writing() || open()) waiting = true;
  else { waiting = false; draw(true, true); }
}

async function begin() {
  document.documentElement.dataset.theme = localStorage.getItem("theme") || "day";
  document.documentElement.lang = language;
  document.body.append(el("a", { class: "skip", href: "#page", onclick: (e) => { e.preventDefault(); page.focus(); } }, say("head.skip")), head, notice, working(), page);
  try {
    await join();
  } catch (e) {
    notice.append(told("not", e.message));
  }
  await draw(true);
  openStream();
  listen("changed", news);
  listen("end", news);
  // While much is worked out at once, each finished step shows itself on home and on its own screen.
  let last = null;
  listen("progress", ({ step }) => {
    const here = location.hash.slice(1).split("/")[0];
    if (last === null ? here === "" : step !== last && (here === "" || here === last)) news();
    last = step;
  });
  listen("end", () => { last = null; });
  listen("lost", () => { if (!notice.querySelector(".lost")) notice.append(el("p", { class: "told lost" }, say("told.lost"))); });
  listen("back", () => { notice.querySelector(".lost")?.remove(); });
  addEventListener("again", () => { waiting = false; draw(true, false, standing()); }); // a screen has entered something itself
  addEventListener("input", (e) => e.target.closest?.("main form")?.classList.add("unsaved"));
  addEventListener("focusout", () => { if (waiting) setTimeout(() => { if (waiting && !writing() && !open()) news(); }, 200); });
  addEventListener("hashchange", () => {
    waiting = false;
    for (const n of [...notice.children]) if (!n.matches(".lost")) n.remove(); // it spoke of the screen that was left
    draw(false);
  });
}

begin();
